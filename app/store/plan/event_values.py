"""Recorded events as the planner's values; `details` of a row hold what its kind needs.

| kind | details |
|---|---|
| closure, make-up | label |
| bells | schedule, label |
| station, more-places | resource, places or extra |
| adult, second-adult | count |
| humid | minutes by step |
| parts, suspended | steps, team, permit |
| withdrawn, enrolled | student, team, last_of_team |
| pace | team, step, minutes |
| away | teams |
| extra-meeting | dates, starts_at, minutes |
| supplied | step, by |
| showcase | date, before |
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from app.domain.scheduling import events
from app.models import Event

OUTSIDE_THE_PROBLEM = frozenset({"extra-meeting", "supplied", "showcase", "enrolled"})


def standing_events(rows: Iterable[Event]) -> tuple[events.TermEvent, ...]:
    """The events that hold, in the order recorded; undone ones do not."""
    found = (value_of(row) for row in rows if row.undone_at is None)
    return tuple(value for value in found if value is not None)


def value_of(row: Event) -> events.TermEvent | None:
    """An event as the planner's value.

    None for those that are a change of the section itself: an extra meeting, a supplied step, a
    later showcase, a newcomer in a team.
    """
    if row.kind in OUTSIDE_THE_PROBLEM:
        return None
    return value(row.kind, row.first_day, row.last_day, row.details)


def value(
    kind: str, first: dt.date, last: dt.date, details: Mapping[str, Any]
) -> events.TermEvent | None:
    """The same for an event not yet recorded. Raises ValueError for an unknown kind."""
    if kind in OUTSIDE_THE_PROBLEM:
        return None
    make = _MAKERS.get(kind)
    if make is None:
        raise ValueError(f"There is no kind of event “{kind}”: choose one of {', '.join(KINDS)}.")
    return make(first, last, details)


def _withdrawn(
    first: dt.date, last: dt.date, details: Mapping[str, Any]
) -> events.TermEvent | None:
    if not details.get("last_of_team"):
        return None
    return events.TeamGone(first=first, last=last, team=str(details["team"]))


_MAKERS: dict[
    str, Callable[[dt.date, dt.date, Mapping[str, Any]], events.TermEvent | None]
] = {
    "closure": lambda first, last, d: events.Closure(
        first=first, last=last, label=str(d.get("label") or "Closed")
    ),
    "bells": lambda first, last, d: events.NewBells(
        first=first, last=last, schedule=str(d["schedule"]), label=str(d.get("label") or "")
    ),
    "make-up": lambda first, last, d: events.MakeUpDay(
        first=first, last=last, label=str(d.get("label") or "Make-up day")
    ),
    "station": lambda first, last, d: events.Out(
        first=first, last=last, resource=str(d["resource"]), places=int(d.get("places", 0))
    ),
    "more-places": lambda first, last, d: events.MorePlaces(
        first=first, last=last, resource=str(d["resource"]), extra=int(d.get("extra", 1))
    ),
    "adult": lambda first, last, d: events.Adults(
        first=first, last=last, change=-int(d.get("count", 1))
    ),
    "second-adult": lambda first, last, d: events.Adults(
        first=first, last=last, change=int(d.get("count", 1))
    ),
    "substitute": lambda first, last, _: events.Substitute(first=first, last=last),
    "humid": lambda first, last, d: events.Humid(
        first=first, last=last, minutes={str(k): int(v) for k, v in d["minutes"].items()}
    ),
    "parts": lambda first, last, d: events.PartsLate(
        first=first, last=last, steps=tuple(d["steps"])
    ),
    "withdrawn": _withdrawn,
    "suspended": lambda first, last, d: events.Suspended(
        first=first, last=last, team=str(d["team"]), steps=tuple(d["steps"])
    ),
    "pace": lambda first, last, d: events.Pace(
        first=first,
        last=last,
        team=str(d["team"]),
        step=str(d["step"]),
        minutes=int(d["minutes"]),
    ),
    "away": lambda first, last, d: events.Away(first=first, last=last, teams=tuple(d["teams"])),
}  # fmt: skip
KINDS = (*_MAKERS, *sorted(OUTSIDE_THE_PROBLEM))
