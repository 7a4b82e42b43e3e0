"""Re-checks: a team nobody of whom is signed off any more does not get the station before one.

A team that has not had its check-out yet waits for the step that grants it. This is about the
others: every sign-off they had is suspended, has ended or has lost a part. A re-check takes place at the earliest
in the next meeting, so the plan puts nothing behind that sign-off into it; from then on the plan
counts on the re-check and says by when.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from app.domain.dates import short_date
from app.domain.scheduling.problem import Problem, StepWork, TeamWork


@dataclass(frozen=True)
class Held:
    """A sign-off one student has or had: the day from which it no longer counts, if it has one.

    `broken`: it was complete once, and a part of it counts no more.
    """

    ends: date | None = None
    suspended: bool = False
    broken: bool = False


@dataclass(frozen=True)
class Lapse:
    """From `since` on nobody of a team is signed off for a permit any more."""

    team: str
    permit: str
    title: str
    since: date
    suspended: bool
    broken: bool = False

    @property
    def why(self) -> str:
        """Why, in a few words."""
        if self.broken:
            return "a part of it counts no more"
        return "suspended" if self.suspended else f"ended on {short_date(self.since)}"


@dataclass(frozen=True)
class Recheck:
    """A re-check that a plan counts on: `by` is the first day on which the team needs it."""

    lapse: Lapse
    by: date


def lapse_of(team: str, permit: str, title: str, held: Iterable[Held], on: date) -> Lapse | None:
    """When a team's sign-offs for a permit stop counting; None if it has none or one stays.

    `on` is the day for which suspensions are known: a suspended sign-off does not count from it.
    """
    held = list(held)
    counting = [item.ends for item in held if not item.suspended and not item.broken]
    if not held or None in counting:
        return None
    if not counting:
        suspended = any(item.suspended for item in held)
        return Lapse(team, permit, title, on, suspended, broken=not suspended)
    return Lapse(team, permit, title, max(day for day in counting if day), suspended=False)


def held_back(
    problem: Problem, section: str, lapses: Iterable[Lapse], permits: Mapping[str, str]
) -> Problem:
    """The problem with the steps behind a lapsed sign-off after the next meeting.

    `permits` gives the permit of each step that asks for one. Steps of zero ticks are done by
    adults outside class and need none.
    """
    starts = [
        first
        for meeting, (first, end) in zip(problem.axis.meetings, problem.axis.spans, strict=True)
        if meeting.section == section and end > first >= problem.now
    ]
    if not starts:
        return problem
    after = starts[1] if len(starts) > 1 else problem.axis.ticks
    today = problem.axis.clock(starts[0]).date()
    lapsed = {(item.team, item.permit): item for item in lapses if item.since <= today}

    def changed(team: TeamWork, step: StepWork) -> StepWork:
        lapse = lapsed.get((team.key, permits.get(step.key, "")))
        if lapse is None or team.section != section or not step.ticks:
            return step
        because = (
            f"nobody in {lapse.team} is signed off for {lapse.title} until a re-check ({lapse.why})"
        )
        return replace(step, earliest_tick=max(step.earliest_tick, after), earliest_because=because)

    if not lapsed:
        return problem
    teams = (
        replace(team, steps=tuple(changed(team, step) for step in team.steps))
        for team in problem.teams
    )
    return replace(problem, teams=tuple(teams))


def counted_on(
    lapses: Iterable[Lapse], planned: Iterable[tuple[str, str, date]]
) -> tuple[Recheck, ...]:
    """The re-checks that a plan counts on, by date and team.

    `planned` are the team, permit and day of what is still to come.
    """
    days: dict[tuple[str, str], list[date]] = {}
    for team, permit, day in planned:
        days.setdefault((team, permit), []).append(day)
    found = []
    for lapse in lapses:
        later = [day for day in days.get((lapse.team, lapse.permit), ()) if day >= lapse.since]
        if later:
            found.append(Recheck(lapse, min(later)))
    return tuple(sorted(found, key=lambda item: (item.by, item.lapse.title, item.lapse.team)))
