"""Two plans side by side: what moves, in words and as rows of a picture."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from app.domain.papers.plan_pictures import GridCell, TimelineRow
from app.models import Meeting, MeetingState, Plan, Section, Step
from app.store import sections
from app.store.plan import plans
from app.store.plan.section_problem import TICK_MINUTES

# Every five minutes of work of a team on a step, by the clock.
Placed = Mapping[tuple[str, str], frozenset[dt.datetime]]


@dataclass(frozen=True)
class Move:
    """An activity that another plan puts elsewhere, with the days of both."""

    team: str
    step: str
    title: str
    before: tuple[dt.date, ...]
    after: tuple[dt.date, ...]


@dataclass(frozen=True)
class TeamEnd:
    """A team's last day of work in two plans; None where a plan leaves something undone."""

    team: str
    before: dt.date | None
    after: dt.date | None


@dataclass(frozen=True)
class PlanDifference:
    """What changes from one plan to the other."""

    moves: tuple[Move, ...]
    ends: tuple[TeamEnd, ...]
    lessons: tuple[tuple[str, dt.date | None, dt.date | None], ...]
    uncovered: tuple[str, ...]
    meetings: tuple[Meeting, ...]
    rows: tuple[tuple[TimelineRow, TimelineRow], ...]
    phase_titles: tuple[str, ...]


def placed_by_plan(session: Session, plan: Plan) -> Placed:
    """Where a stored plan puts each task."""
    found: dict[tuple[str, str], set[dt.datetime]] = defaultdict(set)
    for row in plans.list_sittings(session, plan):
        if row.state is not MeetingState.LOST:
            found[row.team, row.step] |= _ticks(row.start, row.minutes // TICK_MINUTES)
    return {key: frozenset(ticks) for key, ticks in found.items()}


def placed_by_rows(rows: Sequence[Sequence[Any]]) -> Placed:
    """The same for a plan that is not stored, as `events.schedule_rows` gives it."""
    return {
        (str(team), str(step)): frozenset(
            tick
            for text, ticks in runs
            for tick in _ticks(dt.datetime.fromisoformat(text), int(ticks))
        )
        for team, step, runs in rows
        if any(ticks for _, ticks in runs)
    }


def _ticks(start: dt.datetime, count: int) -> set[dt.datetime]:
    return {start + dt.timedelta(minutes=TICK_MINUTES * n) for n in range(count)}


def difference(session: Session, section: Section, before: Placed, after: Placed) -> PlanDifference:
    """What moves from one plan to the other, from the first meeting still to come."""
    steps = {step.key: step for step in sections.load_steps(session, section.build_id)}
    meetings = sections.list_meetings(session, section)
    coming = [m.date for m in meetings if m.state is MeetingState.PLANNED]
    since = dt.datetime.combine(coming[0] if coming else dt.date.max, dt.time())
    teams = sorted({team.code for team in section.teams})
    return PlanDifference(
        moves=tuple(_moves(steps, before, after, since)),
        ends=tuple(
            TeamEnd(team, _end(steps, section, before, team), _end(steps, section, after, team))
            for team in teams
        ),
        lessons=(),
        uncovered=(),
        meetings=tuple(meetings),
        rows=tuple(
            (_row(steps, meetings, before, team), _row(steps, meetings, after, team))
            for team in teams
        ),
        phase_titles=tuple(phase.title for phase in section.build.phases),
    )


def _moves(
    steps: Mapping[str, Step], before: Placed, after: Placed, since: dt.datetime
) -> list[Move]:
    found = []
    for team, step in sorted({*before, *after}):
        old = {t for t in before.get((team, step), ()) if t >= since}
        new = {t for t in after.get((team, step), ()) if t >= since}
        if old != new:
            title = steps[step].title if step in steps else step
            found.append(Move(team, step, title, _days(old), _days(new)))
    return sorted(found, key=lambda move: (move.before or move.after, move.team, move.step))


def _days(ticks: set[dt.datetime]) -> tuple[dt.date, ...]:
    return tuple(sorted({tick.date() for tick in ticks}))


def _end(steps: Mapping[str, Step], section: Section, placed: Placed, team: str) -> dt.date | None:
    """The last day of a team, if every step of the class has a place."""
    days = []
    for key, step in steps.items():
        ticks = placed.get((team, key))
        if ticks:
            days.append(max(ticks).date())
        elif not step.outside_class and key not in section.ready_made:
            return None
    return max(days, default=None)


def _row(
    steps: Mapping[str, Step], meetings: Sequence[Meeting], placed: Placed, team: str
) -> TimelineRow:
    columns = {meeting.date: column for column, meeting in enumerate(meetings)}
    taught = {meeting.date for meeting in meetings if meeting.state is MeetingState.TAUGHT}
    phases: dict[dt.date, int] = {}
    for (code, key), ticks in placed.items():
        if code == team and key in steps:
            for day in _days(set(ticks)):
                phases[day] = max(phases.get(day, 0), steps[key].phase.position + 1)
    return TimelineRow(
        team,
        tuple(
            GridCell(columns[day], phase, day in taught)
            for day, phase in sorted(phases.items())
            if day in columns
        ),
    )


def with_lessons(
    session: Session, found: PlanDifference, before: Plan, after: Plan
) -> PlanDifference:
    """The difference with lessons that move and standards that lose their cover."""
    old, new = _lesson_days(session, before), _lesson_days(session, after)
    moved = tuple(
        (title, old.get(title), new.get(title))
        for title in sorted({*old, *new})
        if old.get(title) != new.get(title)
    )
    known = {item["standard"] for item in before.uncovered}
    lost = tuple(item["sentence"] for item in after.uncovered if item["standard"] not in known)
    return PlanDifference(
        found.moves, found.ends, moved, lost, found.meetings, found.rows, found.phase_titles
    )


def _lesson_days(session: Session, plan: Plan) -> dict[str, dt.date]:
    days: dict[str, dt.date] = {}
    for lesson in plans.list_lessons(session, plan):
        if lesson.meeting.state is not MeetingState.LOST:
            days.setdefault(lesson.title, lesson.meeting.date)
    return days
