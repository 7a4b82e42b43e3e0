"""What other sections' plans take of a room: places at the same hour, fixtures while glue dries."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from itertools import groupby

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.scheduling.axis import Axis
from app.domain.scheduling.problem import Outage
from app.models import MeetingState, Plan, Section, Step
from app.store import sections
from app.store.plan import plans

Interval = tuple[dt.datetime, dt.datetime, int]


def taken_elsewhere(
    session: Session, section: Section, axis: Axis
) -> tuple[dict[str, tuple[Outage, ...]], dict[str, tuple[Outage, ...]]]:
    """Outages of the room's stations and fixtures on `axis`, from the other sections' plans.

    Every outage says how many places are left. Sections that meet at different hours share no
    station, but a clamp or a mould stays taken between their classes.
    """
    stations: dict[str, list[Interval]] = defaultdict(list)
    fixtures: dict[str, list[Interval]] = defaultdict(list)
    query = (
        sa.select(Plan)
        .join(Section)
        .where(
            Section.room_id == section.room_id,
            Section.id != section.id,
            Plan.current.is_(True),
        )
    )
    for plan in session.scalars(query):
        steps = {step.key: step for step in sections.load_steps(session, plan.section.build_id)}
        _collect(plans.list_sittings(session, plan), steps, stations, fixtures)
    places = {row.key: row.places for row in section.room.stations}
    counts = {row.key: row.count for row in section.room.fixtures}
    return (
        {key: _outages(axis, taken, places.get(key, 0)) for key, taken in stations.items()},
        {key: _outages(axis, taken, counts.get(key, 0)) for key, taken in fixtures.items()},
    )


def _collect(
    rows: Iterable[plans.Sat],
    steps: dict[str, Step],
    stations: dict[str, list[Interval]],
    fixtures: dict[str, list[Interval]],
) -> None:
    """Add the clock intervals of one plan: sittings at stations, holds from first to last."""
    spans: dict[tuple[str, str], tuple[dt.datetime, dt.datetime]] = {}
    for row in rows:
        if row.state is MeetingState.LOST:
            continue
        step = steps[row.step]
        stations[step.station].append((row.start, row.end, step.places))
        first, last = spans.get((row.team, row.step), (row.start, row.end))
        spans[row.team, row.step] = (min(first, row.start), max(last, row.end))
    for (team, key), (start, end) in spans.items():
        for hold in steps[key].holds:
            until = spans.get((team, hold["until_step"] or ""), (start, end))[1]
            hours = dt.timedelta(hours=hold["hours"] or 0)
            fixtures[hold["fixture"]].append((start, max(until, end) + hours, hold["count"]))


def _outages(axis: Axis, taken: Iterable[Interval], count: int) -> tuple[Outage, ...]:
    """Runs of ticks in which fewer than `count` are left."""
    used = [0] * axis.ticks
    for start, end, number in taken:
        for tick in range(axis.tick_at(start), axis.tick_at(end)):
            used[tick] += number
    runs = groupby(range(axis.ticks), key=lambda tick: min(used[tick], count))
    found = [(number, list(ticks)) for number, ticks in runs]
    return tuple(
        Outage(ticks[0], ticks[-1] + 1, count - number) for number, ticks in found if number
    )
