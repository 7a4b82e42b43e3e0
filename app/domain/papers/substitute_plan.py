"""A class day in a substitute's hands, as a paper: machines off, hand work and paper only."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.dates import long_date
from app.domain.papers.class_plan import StepHazard, merged_caution
from app.domain.papers.document import (
    Block,
    Caution,
    Document,
    Goal,
    Heading,
    Items,
    Paragraph,
    Table,
    Title,
)

POWER_OFF = (
    "Machine power is off today: switch the room’s machines off at the supply and keep them off. "
    "No student uses a powered machine, a heat tool or a finish, signed off or not."
)
WHO_MAY_NOT = (
    "Who may not do what: health matters stand in the nurse’s plan in the school office, not on "
    "this paper. Ask there before the class begins. If a student says that a task is not for them, "
    "give them the worksheet."
)


@dataclass(frozen=True, slots=True)
class ReadAloud:
    """A lesson in words that need no training: what to say and what to ask."""

    title: str
    minutes: int
    goal: str
    explanation: str
    words: tuple[tuple[str, str], ...] = ()
    misconception: str = ""
    response: str = ""


@dataclass(frozen=True, slots=True)
class TeamTask:
    """What a team does: a step that needs no machine, or the worksheet of its phase."""

    team: str
    students: tuple[str, ...]
    task: str
    where: str
    phase: str = ""  # key of the phase whose worksheet it is


@dataclass(frozen=True, slots=True)
class SubstitutePlan:
    """Everything a substitute needs for one meeting."""

    section: str
    build: str
    room: str
    date: dt.date
    starts_at: dt.time
    opening_minutes: int
    lesson_minutes: int
    work_minutes: int
    closing_minutes: int
    lessons: tuple[ReadAloud, ...]
    teams: tuple[TeamTask, ...]
    tools: tuple[str, ...]
    leave_alone: tuple[str, ...]
    hazards: tuple[StepHazard, ...]
    put_off: tuple[str, ...]

    @property
    def hours(self) -> tuple[tuple[str, str], ...]:
        """The class by the clock: (from–to, what), parts of no minutes left out."""
        at = dt.datetime.combine(self.date, self.starts_at)
        rows = []
        for what, minutes in (
            ("Attendance; seats by code, see the table", self.opening_minutes),
            ("Lesson, to be read aloud, or the worksheet", self.lesson_minutes),
            ("Work in teams", self.work_minutes),
            ("Clean-up, tool count, benches inspected", self.closing_minutes),
        ):
            end = at + dt.timedelta(minutes=minutes)
            if minutes:
                rows.append((f"{at:%H:%M}–{end:%H:%M}", what))
            at = end
        return tuple(rows)


def substitute_document(plan: SubstitutePlan) -> Document:
    """The substitute's day on paper; it carries no answer key and no student's name."""
    day = long_date(plan.date)
    return Document(
        title=f"Substitute plan, {day}, {plan.section}",
        blocks=(
            Title(text=f"Substitute plan: {day}", section=plan.section, place=plan.room),
            *_blocks(plan),
        ),
        foot=f"{plan.section} · substitute plan",
    )


def _blocks(plan: SubstitutePlan) -> Iterator[Block]:
    yield Caution(hazards=(POWER_OFF,), supervision="an adult in the room for the whole class")
    yield Table(("When", "What"), plan.hours, caption="The class by the clock")
    yield Table(
        ("Team", "Seats", "Task", "Where"),
        tuple((item.team, ", ".join(item.students), item.task, item.where) for item in plan.teams),
        caption="Who sits where and does what",
        row_headers=True,
    )
    if plan.put_off:
        yield Paragraph(f"{', '.join(plan.put_off)}.", label="Not today")
    yield Paragraph(WHO_MAY_NOT)
    if plan.tools:
        yield Items(plan.tools, label="Set out")
    if plan.leave_alone:
        yield Items(plan.leave_alone, label="Leave in the clamps or on the rack")
    if plan.hazards:
        yield merged_caution(plan.hazards)
    for lesson in plan.lessons:
        yield from _lesson(lesson)


def _lesson(lesson: ReadAloud) -> Iterator[Block]:
    yield Heading(f"Lesson, {lesson.minutes} min, to be read aloud: {lesson.title}")
    yield Goal(lesson.goal)
    yield Paragraph(lesson.explanation)
    if lesson.words:
        yield Items(tuple(f"{word}: {meaning}" for word, meaning in lesson.words), label="Words")
    if lesson.misconception:
        yield Paragraph(lesson.misconception, label="You may hear")
        yield Paragraph(lesson.response, label="Then say")
