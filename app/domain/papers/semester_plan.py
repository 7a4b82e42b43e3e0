"""The semester at a glance on one or two pages of paper."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.domain.calculators.engine.pictures import Label, Line, Outline
from app.domain.papers.document import Block, Document, Figure, Items, Paragraph, Table, Title
from app.domain.papers.drawing import PRINTABLE_WIDTH_MM, Inked, Sheet
from app.domain.papers.plan_pictures import TimelineRow, runs

LEFT_MM = 9.0
TOP_MM = 9.0
ROW_MM = 4.6
BAR_MM = 3.4
TEXT_MM = 2.3


@dataclass(frozen=True, slots=True)
class PlannedWeek:
    """A week in words. `phases` are numbers as in the picture."""

    number: int
    dates: str
    phases: tuple[int, ...]
    lessons: tuple[str, ...]
    codes: tuple[str, ...]
    milestones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeekColumn:
    """A meeting in the picture: its week and date, and what is special about it."""

    week: int
    date: str
    lesson: bool = False
    lost: bool = False
    showcase: bool = False


@dataclass(frozen=True, slots=True)
class SemesterPlan:
    """What the paper shows."""

    section: str
    build: str
    term: str
    verdict: str
    weeks: tuple[PlannedWeek, ...]
    columns: tuple[WeekColumn, ...]
    teams: tuple[TimelineRow, ...]
    phases: tuple[str, ...]
    uncovered: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()


def semester_document(plan: SemesterPlan) -> Document:
    """The semester on paper: verdict, picture, weeks, and what is left uncovered."""
    return Document(
        title=f"Semester plan, {plan.section}",
        blocks=tuple(_blocks(plan)),
        foot=f"{plan.section} · {plan.term}",
        notices=plan.notices,
    )


def _blocks(plan: SemesterPlan) -> Iterator[Block]:
    yield Title(text=f"Semester plan: {plan.term}", section=plan.section, place=plan.build)
    yield Paragraph(plan.verdict)
    if plan.teams and plan.columns:
        legend = "; ".join(f"{n} {title}" for n, title in enumerate(plan.phases, 1))
        yield Figure(
            timeline(plan.columns, plan.teams),
            alternative=(
                f"A row for each of the {len(plan.teams)} teams, a column for each of the "
                f"{len(plan.columns)} meetings. The number in a bar is the phase the team works on."
            ),
            caption=f"Phases: {legend}. Heavy bars are taught; marks above are lesson days; "
            "a cross is a lost day; the heavy line is the showcase",
        )
    yield Table(
        ("Week", "Phases", "Lessons", "Standards", "Milestones"),
        tuple(
            (
                f"{week.number}: {week.dates}",
                ", ".join(map(str, week.phases)) or "–",
                "; ".join(week.lessons) or "–",
                ", ".join(week.codes) or "–",
                "; ".join(week.milestones) or "–",
            )
            for week in plan.weeks
        ),
        caption="Week by week",
        row_headers=True,
    )
    if plan.uncovered:
        yield Items(plan.uncovered, label="Left uncovered, and why")
    for notice in plan.notices:
        yield Paragraph(notice, small=True)


def timeline(columns: Sequence[WeekColumn], teams: Sequence[TimelineRow]) -> Sheet:
    """Teams down, meetings across; it reads in black and white."""
    width = (PRINTABLE_WIDTH_MM - LEFT_MM - 1) / len(columns)
    bottom = TOP_MM + ROW_MM * len(teams)
    shapes: list[Inked] = [*_scale(columns, width, bottom)]
    for row, team in enumerate(teams):
        top = TOP_MM + row * ROW_MM + (ROW_MM - BAR_MM) / 2
        shapes.append(Label((0.5, top + BAR_MM / 2), team.team, "start", TEXT_MM))
        for first, length, phase, taught in runs(team.cells):
            shapes += _bar(LEFT_MM + first * width, top, length * width, phase, taught=taught)
    return Sheet(PRINTABLE_WIDTH_MM, bottom + 1, tuple(shapes))


def _scale(columns: Sequence[WeekColumn], width: float, bottom: float) -> Iterator[Inked]:
    week = None
    for index, column in enumerate(columns):
        left = LEFT_MM + index * width
        if column.week != week:
            week = column.week
            yield Line((left, TOP_MM - 2), (left, bottom))
            yield Label((left + 0.4, 1.6), str(week), "start", TEXT_MM)
            yield Label((left + 0.4, 4.4), column.date, "start", 1.9)
        if column.lesson:
            yield Line((left + 0.3, TOP_MM - 1), (left + width - 0.3, TOP_MM - 1), "thick")
        if column.lost:
            yield Line((left, TOP_MM), (left + width, bottom), "dashed")
            yield Line((left + width, TOP_MM), (left, bottom), "dashed")
        if column.showcase:
            yield Line((left + width, TOP_MM - 2), (left + width, bottom), "thick")


def _bar(left: float, top: float, length: float, phase: int, *, taught: bool) -> Iterator[Inked]:
    right, low = left + length - 0.15, top + BAR_MM
    yield Outline(
        ((left + 0.15, top), (right, top), (right, low), (left + 0.15, low)),
        closed=True,
        line="thick" if taught else "thin",
    )
    if length >= 1.1 * TEXT_MM * len(str(phase)) / 2:
        yield Label((left + length / 2, (top + low) / 2), str(phase), "middle", TEXT_MM - 0.2)
