"""A plan read for a few of its days: columns where a page needs columns, not whole rows.

A page of one meeting is asked for many times a day by people who wait for it. What it needs of
the whole term (which days there are, what is still drying, what nobody recorded) comes as narrow
rows; only the steps of its own meetings are loaded with all that hangs on them. The queries are
built once, not at every request.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased, joinedload, selectinload

from app.models import (
    Activity,
    Concept,
    Exposure,
    Lesson,
    Material,
    Meeting,
    MeetingState,
    Phase,
    Plan,
    Progress,
    Section,
    Step,
    StepMaterial,
    Team,
    Treatment,
)


class PlanDay(NamedTuple):
    """A meeting's place in the term and what became of it."""

    id: int
    number: int
    date: dt.date
    starts_at: dt.time
    minutes: int
    state: MeetingState

    @property
    def start(self) -> dt.datetime:
        """When the bell rings, in the school's own time."""
        return dt.datetime.combine(self.date, self.starts_at)


class StepRow(NamedTuple):
    """What the rest of a build must know of a step: whether it ends at a hold point, and dries."""

    id: int
    key: str
    title: str
    hold_point: bool
    outside_class: bool
    hazard_class: str
    drying: dict[str, Any] | None
    holds: list[dict[str, Any]]


class Placed(NamedTuple):
    """A part of a team's work where the plan places it: minutes from the bell."""

    team_id: int
    team: str
    step_id: int
    meeting_id: int
    date: dt.date
    starts_at: dt.time
    first_minute: int
    minutes: int
    part: int
    parts: int

    @property
    def start(self) -> dt.datetime:
        """When the bell of its meeting rings, in the school's own time."""
        return dt.datetime.combine(self.date, self.starts_at)


class End(NamedTuple):
    """Where the plan puts the end of a team's work on a step: minutes from the bell."""

    team_id: int
    team: str
    step_id: int
    meeting_id: int
    minutes: int


class ShownConcept(NamedTuple):
    """What a step shows of a concept, and the reading it yields."""

    concept_id: int
    concept: str
    shows: str
    reading: str


class Used(NamedTuple):
    """A material that a step uses."""

    material: str
    unit: str
    quantity: float


_DAYS = (
    sa.select(Meeting.id, Meeting.number, Meeting.date, Meeting.starts_at)
    .add_columns(Meeting.minutes, Meeting.state)
    .where(Meeting.section_id == sa.bindparam("section"))
    .order_by(Meeting.date, Meeting.starts_at)
)


def list_days(session: Session, section: Section) -> list[PlanDay]:
    """All meetings of a section by date and time."""
    return [PlanDay._make(row) for row in session.execute(_DAYS, {"section": section.id})]


def load_day(session: Session, day: PlanDay) -> Meeting:
    """The whole meeting of a day."""
    return session.get_one(Meeting, day.id)


def find_team(session: Session, section: Section, team_id: int) -> Team | None:
    """A team of the section, with its students."""
    query = sa.select(Team).where(Team.id == team_id, Team.section_id == section.id)
    return session.scalar(query.options(selectinload(Team.students)))


def find_step(session: Session, section: Section, step_id: int) -> Step | None:
    """A step of the section's build."""
    query = sa.select(Step).join(Phase)
    return session.scalar(query.where(Step.id == step_id, Phase.build_id == section.build_id))


_STEP_ROWS = (
    sa.select(Step.id, Step.key, Step.title, Step.hold_point, Step.outside_class)
    .add_columns(Step.hazard_class, Step.drying, Step.holds)
    .join(Phase)
    .where(Phase.build_id == sa.bindparam("build"))
    .order_by(Phase.position, Step.position)
)


def list_step_rows(
    session: Session, section: Section, *, keys: Iterable[str] | None = None
) -> dict[int, StepRow]:
    """The steps of the section's build, or those with these keys, in the order of the build."""
    query = _STEP_ROWS if keys is None else _STEP_ROWS.where(Step.key.in_(list(keys)))
    rows = session.execute(query, {"build": section.build_id})
    return {row[0]: StepRow._make(row) for row in rows}


_PLACED = (
    sa.select(Activity.team_id, Team.code, Activity.step_id, Activity.meeting_id)
    .add_columns(Meeting.date, Meeting.starts_at, Activity.first_minute, Activity.minutes)
    .add_columns(Activity.part, Activity.parts)
    .join(Activity.team)
    .join(Activity.meeting)
    .where(Activity.plan_id == sa.bindparam("plan"))
    .order_by(Meeting.date, Activity.first_minute, Team.code, Activity.id)
)
_OF_MEETINGS = Activity.meeting_id.in_(sa.bindparam("meetings", expanding=True))
_UNRECORDED = sa.and_(
    Activity.part == Activity.parts,
    Meeting.date < sa.bindparam("before"),
    Meeting.state != MeetingState.PLANNED,
    ~sa.exists().where(
        Progress.team_id == Activity.team_id,
        Progress.step_id == Activity.step_id,
        # Written out, not bound: only then does SQLite see that its index of what is done will do.
        Progress.event == sa.literal("done", literal_execute=True),
    ),
)
_WORK = _PLACED.where(_OF_MEETINGS)
_WORK_AND_UNRECORDED = _PLACED.where(sa.or_(_OF_MEETINGS, _UNRECORDED))


def list_work(
    session: Session,
    plan: Plan,
    meeting_ids: Iterable[int],
    open_before: dt.date | None = None,
) -> list[Placed]:
    """The work of these meetings by date, minute and team.

    With `open_before` also the last parts of steps in meetings taught or lost before that day that
    nobody recorded as done.
    """
    given: dict[str, Any] = {"plan": plan.id, "meetings": list(meeting_ids)}
    if open_before is None:
        rows = session.execute(_WORK, given)
    else:
        rows = session.execute(_WORK_AND_UNRECORDED, {**given, "before": open_before})
    return [Placed._make(row) for row in rows]


_WHOLE_STEPS = sa.select(Step).where(Step.id.in_(sa.bindparam("steps", expanding=True)))


def find_steps(session: Session, step_ids: Iterable[int]) -> dict[int, Step]:
    """These steps, whole."""
    rows = session.scalars(_WHOLE_STEPS, {"steps": list(step_ids)})
    return {step.id: step for step in rows}


_SHOWN = (
    sa.select(Exposure.step_id, Exposure.concept_id, Concept.title, Exposure.shows)
    .add_columns(Exposure.reading)
    .join(Exposure.concept)
    .where(Exposure.step_id.in_(sa.bindparam("steps", expanding=True)))
    .order_by(Exposure.position)
)


def list_shown(session: Session, step_ids: Iterable[int]) -> dict[int, list[ShownConcept]]:
    """What each of these steps shows, by step."""
    found: dict[int, list[ShownConcept]] = defaultdict(list)
    for step_id, *row in session.execute(_SHOWN, {"steps": list(step_ids)}):
        found[step_id].append(ShownConcept._make(row))
    return found


_USED = (
    sa.select(StepMaterial.step_id, Material.title, Material.unit, StepMaterial.quantity)
    .join(StepMaterial.material)
    .where(StepMaterial.step_id.in_(sa.bindparam("steps", expanding=True)))
    .order_by(StepMaterial.id)
)


def list_used(session: Session, step_ids: Iterable[int]) -> dict[int, list[Used]]:
    """What each of these steps uses, by step."""
    found: dict[int, list[Used]] = defaultdict(list)
    for step_id, *row in session.execute(_USED, {"steps": list(step_ids)}):
        found[step_id].append(Used._make(row))
    return found


_LESSONS = (
    sa.select(Lesson)
    .where(
        Lesson.plan_id == sa.bindparam("plan"),
        Lesson.meeting_id.in_(sa.bindparam("meetings", expanding=True)),
    )
    .order_by(Lesson.id)
    .options(joinedload(Lesson.treatment).joinedload(Treatment.concept))
)


def list_lessons(session: Session, plan: Plan, meeting_ids: Iterable[int]) -> list[Lesson]:
    """The lessons and briefings of these meetings, with treatment and concept."""
    return list(session.scalars(_LESSONS, {"plan": plan.id, "meetings": list(meeting_ids)}))


_DONE = (
    sa.select(Progress.team_id, Progress.step_id, Progress.meeting_id)
    .join(Team)
    .where(Team.section_id == sa.bindparam("section"), Progress.event == "done")
)


_DONE_OF_STEPS = _DONE.where(Progress.step_id.in_(sa.bindparam("steps", expanding=True)))


def done_in(
    session: Session, section: Section, step_ids: Iterable[int] | None = None
) -> dict[tuple[int, int], int]:
    """(team, step) of what is recorded as done, with the meeting it was done in.

    With `step_ids` of these steps alone.
    """
    if step_ids is None:
        rows = session.execute(_DONE, {"section": section.id})
    else:
        given = {"section": section.id, "steps": list(step_ids)}
        rows = session.execute(_DONE_OF_STEPS, given)
    return {(team, step): meeting for team, step, meeting in rows}


_ENDS = (
    sa.select(Activity.team_id, Team.code, Activity.step_id, Activity.meeting_id)
    .add_columns(Activity.first_minute + Activity.minutes)
    .join(Activity.team)
    .join(Activity.meeting)
    .where(
        Activity.plan_id == sa.bindparam("plan"),
        Activity.part == Activity.parts,
        Activity.step_id.in_(sa.bindparam("steps", expanding=True)),
    )
    .order_by(Meeting.date, Activity.first_minute, Activity.id)
)


_RECORD, _RECORDED_IN = aliased(Progress), aliased(Meeting)
_ENDS_BETWEEN = (
    _ENDS.outerjoin(
        _RECORD,
        sa.and_(
            _RECORD.team_id == Activity.team_id,
            _RECORD.step_id == Activity.step_id,
            _RECORD.event == sa.literal("done", literal_execute=True),
        ),
    )
    .outerjoin(_RECORDED_IN, _RECORDED_IN.id == _RECORD.meeting_id)
    .where(
        sa.func.coalesce(_RECORDED_IN.date, Meeting.date).between(
            sa.bindparam("first"), sa.bindparam("last")
        )
    )
)


def list_ends(
    session: Session,
    plan: Plan,
    step_ids: Iterable[int],
    between: tuple[dt.date, dt.date] | None = None,
) -> list[End]:
    """Where the plan ends each team's work on these steps, by date and minute.

    With `between` only work that was done, or by the plan will be, from one day to another.
    """
    given: dict[str, Any] = {"plan": plan.id, "steps": list(step_ids)}
    if between is None:
        rows = session.execute(_ENDS, given)
    else:
        rows = session.execute(_ENDS_BETWEEN, {**given, "first": between[0], "last": between[1]})
    return [End._make(row) for row in rows]


def out_of_hand(
    ends: Iterable[End], days: Iterable[PlanDay], done: Mapping[tuple[int, int], int]
) -> Iterator[tuple[End, dt.datetime]]:
    """When each of these works was, or by the plan will be, out of hand.

    A record counts before the plan: work done in another meeting is out of hand when that ends. What
    the plan had in a meeting taught or lost, and nobody recorded, is not out of hand yet.
    """
    by_id = {day.id: day for day in days}
    for end in ends:
        day, minutes = by_id[end.meeting_id], end.minutes
        held = done.get((end.team_id, end.step_id))
        if held is None and day.state is not MeetingState.PLANNED:
            continue
        if held is not None and held != day.id:
            day = by_id[held]
            minutes = day.minutes
        yield end, day.start + dt.timedelta(minutes=minutes)


def held(days: Sequence[PlanDay]) -> list[PlanDay]:
    """The days on which the class met or will meet."""
    return [day for day in days if day.state is not MeetingState.LOST]


def drying_steps(steps: Mapping[int, StepRow]) -> list[int]:
    """The steps whose work must dry."""
    return [step.id for step in steps.values() if step.drying]
