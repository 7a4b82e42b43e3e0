"""A plan read for a few of its days: columns where a page needs columns, not whole rows.

A page of one meeting is asked for many times a day by people who wait for it. What it needs of
the whole term (which days there are, what is still drying, what nobody recorded) comes as narrow
rows; only the steps of its own meetings are loaded with all that hangs on them.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, contains_eager, joinedload, selectinload

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


@dataclass(frozen=True, slots=True)
class Day:
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


@dataclass(frozen=True, slots=True)
class StepRow:
    """What the rest of a build must know of a step: whether it ends at a hold point, and dries."""

    id: int
    key: str
    title: str
    hold_point: bool
    outside_class: bool
    hazard_class: str
    drying: dict[str, Any] | None
    holds: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class End:
    """Where the plan puts the end of a team's work on a step: minutes from the bell."""

    team_id: int
    team: str
    step_id: int
    meeting_id: int
    minutes: int


@dataclass(frozen=True, slots=True)
class ShownConcept:
    """What a step shows of a concept, and the reading it yields."""

    concept_id: int
    concept: str
    shows: str
    reading: str


@dataclass(frozen=True, slots=True)
class Used:
    """A material that a step uses."""

    material: str
    unit: str
    quantity: float


def list_days(session: Session, section: Section) -> list[Day]:
    """All meetings of a section by date and time."""
    columns = (Meeting.id, Meeting.number, Meeting.date, Meeting.starts_at)
    query = (
        sa.select(*columns, Meeting.minutes, Meeting.state)
        .where(Meeting.section_id == section.id)
        .order_by(Meeting.date, Meeting.starts_at)
    )
    return [Day(*row) for row in session.execute(query)]


def load_day(session: Session, day: Day) -> Meeting:
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


def list_step_rows(
    session: Session, section: Section, *, keys: Iterable[str] | None = None
) -> dict[int, StepRow]:
    """The steps of the section's build, or those with these keys, in the order of the build."""
    columns = (Step.id, Step.key, Step.title, Step.hold_point, Step.outside_class)
    query = (
        sa.select(*columns, Step.hazard_class, Step.drying, Step.holds)
        .join(Phase)
        .where(Phase.build_id == section.build_id)
        .order_by(Phase.position, Step.position)
    )
    if keys is not None:
        query = query.where(Step.key.in_(list(keys)))
    return {row.id: StepRow(*row) for row in session.execute(query)}


def list_work(session: Session, plan: Plan, meeting_ids: Iterable[int]) -> list[Activity]:
    """The activities of these meetings by date, minute and team, with team and step."""
    query = (
        sa.select(Activity)
        .join(Activity.team)
        .join(Activity.meeting)
        .where(Activity.plan_id == plan.id, Activity.meeting_id.in_(list(meeting_ids)))
        .order_by(Meeting.date, Activity.first_minute, Team.code)
        .options(contains_eager(Activity.team), selectinload(Activity.step))
    )
    return list(session.scalars(query))


def list_shown(session: Session, step_ids: Iterable[int]) -> dict[int, list[ShownConcept]]:
    """What each of these steps shows, by step."""
    columns = (Exposure.step_id, Exposure.concept_id, Concept.title, Exposure.shows)
    query = (
        sa.select(*columns, Exposure.reading)
        .join(Exposure.concept)
        .where(Exposure.step_id.in_(list(step_ids)))
        .order_by(Exposure.position)
    )
    found: dict[int, list[ShownConcept]] = defaultdict(list)
    for row in session.execute(query):
        found[row.step_id].append(ShownConcept(*row[1:]))
    return found


def list_used(session: Session, step_ids: Iterable[int]) -> dict[int, list[Used]]:
    """What each of these steps uses, by step."""
    query = (
        sa.select(StepMaterial.step_id, Material.title, Material.unit, StepMaterial.quantity)
        .join(StepMaterial.material)
        .where(StepMaterial.step_id.in_(list(step_ids)))
        .order_by(StepMaterial.id)
    )
    found: dict[int, list[Used]] = defaultdict(list)
    for row in session.execute(query):
        found[row.step_id].append(Used(*row[1:]))
    return found


def list_taught(session: Session, plan: Plan, meeting_ids: Iterable[int]) -> list[Lesson]:
    """The lessons and briefings of these meetings, with treatment and concept."""
    query = (
        sa.select(Lesson)
        .where(Lesson.plan_id == plan.id, Lesson.meeting_id.in_(list(meeting_ids)))
        .order_by(Lesson.id)
        .options(joinedload(Lesson.treatment).joinedload(Treatment.concept))
    )
    return list(session.scalars(query))


def done_in(session: Session, section: Section) -> dict[tuple[int, int], int]:
    """(team, step) of what is recorded as done, with the meeting it was done in."""
    query = (
        sa.select(Progress.team_id, Progress.step_id, Progress.meeting_id)
        .join(Team)
        .where(Team.section_id == section.id, Progress.event == "done")
    )
    return {(team, step): meeting for team, step, meeting in session.execute(query)}


def list_ends(session: Session, plan: Plan, step_ids: Iterable[int]) -> list[End]:
    """Where the plan ends each team's work on these steps, by date and minute."""
    end = Activity.first_minute + Activity.minutes
    query = (
        sa.select(Activity.team_id, Team.code, Activity.step_id, Activity.meeting_id, end)
        .join(Activity.team)
        .join(Activity.meeting)
        .where(
            Activity.plan_id == plan.id,
            Activity.part == Activity.parts,
            Activity.step_id.in_(list(step_ids)),
        )
        .order_by(Meeting.date, Activity.first_minute, Activity.id)
    )
    return [End(*row) for row in session.execute(query)]


def list_unrecorded(session: Session, plan: Plan, before: dt.date) -> list[Activity]:
    """Last parts of steps in meetings taught or lost before a day that nobody recorded as done."""
    # Written out, not bound: only then does SQLite see that its index of what is done will do.
    done = Progress.event == sa.literal("done", literal_execute=True)
    recorded = sa.exists().where(
        Progress.team_id == Activity.team_id, Progress.step_id == Activity.step_id, done
    )
    query = (
        sa.select(Activity)
        .join(Activity.team)
        .join(Activity.meeting)
        .where(
            Activity.plan_id == plan.id,
            Activity.part == Activity.parts,
            Meeting.date < before,
            Meeting.state != MeetingState.PLANNED,
            ~recorded,
        )
        .order_by(Meeting.date, Activity.first_minute, Activity.id)
        .options(
            contains_eager(Activity.team),
            contains_eager(Activity.meeting),
            selectinload(Activity.step),
        )
    )
    return list(session.scalars(query))


def held(days: Sequence[Day]) -> list[Day]:
    """The days on which the class met or will meet."""
    return [day for day in days if day.state is not MeetingState.LOST]


def drying_steps(steps: Mapping[int, StepRow]) -> list[int]:
    """The steps whose work must dry."""
    return [step.id for step in steps.values() if step.drying]
