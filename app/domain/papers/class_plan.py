"""What happens in class meetings, as papers: the week plan and the day plan.

The facts are plain values; the same facts make the page and the print.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from app.domain.dates import long_date
from app.domain.papers.document import (
    Block,
    Caution,
    Document,
    Goal,
    Heading,
    Paragraph,
    Table,
    Title,
)


@dataclass(frozen=True, slots=True)
class PlannedLesson:
    """A lesson: its goal in the student's words, and how to meet those ahead and behind."""

    title: str
    minutes: int
    concept: str
    goal: str
    codes: tuple[str, ...] = ()
    demonstration: str = ""
    support: str = ""
    extension: str = ""


@dataclass(frozen=True, slots=True)
class Work:
    """Teams at one step in one meeting; `starts` is the time of day."""

    step: str
    title: str
    station: str
    teams: tuple[str, ...]
    minutes: str
    state: str = ""
    starts: dt.time | None = None


@dataclass(frozen=True, slots=True)
class ShownPlan:
    """What a step shows of a concept, the reading it yields, and the codes it is aligned to."""

    step: str
    concept: str
    shows: str
    reading: str = ""
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StepHazard:
    """A hazardous step's cautions, protection and supervision."""

    step: str
    title: str
    hazards: tuple[str, ...]
    protection: tuple[str, ...]
    supervision: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MeetingPlan:
    """Everything a teacher needs for one meeting."""

    number: int
    date: dt.date
    starts_at: dt.time
    minutes: int
    work_minutes: int
    kind: str
    label: str
    lost: bool
    power: bool
    lessons: tuple[PlannedLesson, ...]
    briefings: tuple[str, ...]
    work: tuple[Work, ...]
    shown: tuple[ShownPlan, ...]
    materials: tuple[str, ...]
    tools: tuple[str, ...]
    checks: tuple[str, ...]
    hazards: tuple[StepHazard, ...]
    coming_out: tuple[str, ...] = ()
    test_minutes: int = 0


@dataclass(frozen=True, slots=True)
class WeekPlan:
    """A plan's week."""

    section: str
    week: int
    build: str
    notices: tuple[str, ...]
    meetings: tuple[MeetingPlan, ...]


def week_document(week: WeekPlan) -> Document:
    """The week plan on paper: per meeting who is where, lesson, what it shows, cautions."""
    dates = [meeting.date for meeting in week.meetings]
    span = f"{long_date(dates[0])} to {long_date(dates[-1])}" if dates else ""
    blocks: list[Block] = [
        Title(text=f"Week {week.week}", section=week.section, date=span, place=week.build)
    ]
    for meeting in week.meetings:
        blocks += meeting_blocks(meeting, brief=True)
    hazards = [hazard for meeting in week.meetings for hazard in meeting.hazards]
    if hazards:
        blocks += [Heading("Cautions of this week’s steps"), merged_caution(hazards)]
    return Document(
        title=f"Week plan, week {week.week}, {week.section}",
        blocks=tuple(blocks),
        foot=f"{week.section} · week {week.week}",
        notices=codes_notices(week.notices),
    )


def codes_notices(notices: Iterable[str]) -> tuple[str, ...]:
    """Owners' notices of the frameworks whose codes are shown, once each."""
    return tuple(dict.fromkeys(notice for notice in notices if notice))


def day_document(week: WeekPlan, meeting: MeetingPlan) -> Document:
    """One meeting, team by team in the order of the day."""
    title = Title(
        text=f"Who is where: {long_date(meeting.date)}", section=week.section, place=week.build
    )
    return Document(
        title=f"Day plan, {long_date(meeting.date)}, {week.section}",
        blocks=(title, *meeting_blocks(meeting)),
        foot=week.section,
        notices=codes_notices(week.notices),
    )


def meeting_blocks(meeting: MeetingPlan, *, brief: bool = False) -> Iterator[Block]:
    """The blocks of one meeting, in the order of the class.

    A week plan is `brief`: concepts without their sentences, and one caution box at its end.
    """
    yield Heading(f"{long_date(meeting.date)}, {meeting.starts_at:%H:%M}")
    if meeting.lost:
        yield Paragraph(f"No class: {meeting.label or 'lost'}.")
        return
    kind = "" if meeting.kind == "regular" else f" ({meeting.kind.replace('_', ' ')})"
    label = f" {meeting.label}." if meeting.label else ""
    yield Paragraph(
        f"Meeting {meeting.number}{kind}: {meeting.minutes} minutes bell to bell, "
        f"{meeting.work_minutes} at the bench.{label}"
        + (f" Unit test, {meeting.test_minutes} minutes." if meeting.test_minutes else "")
        + ("" if meeting.power else " Machine power is off.")
    )
    for lesson in meeting.lessons:
        yield from _lesson_blocks(lesson)
    for briefing in meeting.briefings:
        yield Paragraph(briefing, label="Safety briefing")
    if meeting.work:
        yield _by_step(meeting.work) if brief else _by_team(meeting.work)
    if meeting.shown:
        yield _brief_concepts(meeting.shown) if brief else _concepts(meeting.shown)
    yield from _lists(meeting)
    if meeting.hazards and brief:
        steps = ", ".join(dict.fromkeys(hazard.step for hazard in meeting.hazards))
        yield Paragraph(f"{steps}: see the box at the end of this week plan.", label="Cautions")
    elif meeting.hazards:
        yield merged_caution(meeting.hazards)


def _by_step(work: Iterable[Work]) -> Table:
    return Table(
        header=("Step", "Where", "Teams and minutes"),
        rows=tuple(_work_rows(work)),
        caption="Who is where",
    )


def _by_team(work: Iterable[Work]) -> Table:
    """One row for each team and step, in the order of the day."""
    placed = sorted(
        ((team, item.starts or dt.time(), item) for item in work for team in item.teams),
        key=lambda entry: entry[:2],
    )
    return Table(
        header=("Team", "From", "Step", "Where", "Minutes"),
        rows=tuple(
            (
                team,
                f"{item.starts:%H:%M}" if item.starts else "–",
                f"{item.step} {item.title}",
                item.station,
                f"{item.minutes}{', ' if item.state else ''}{item.state}",
            )
            for team, _, item in placed
        ),
        caption="Who is where",
        row_headers=True,
        widths=(2, 2, 8, 7, 4),
    )


def _work_rows(work: Iterable[Work]) -> Iterator[tuple[str, str, str]]:
    """One row for each step: who is at it, for how long, and which part of it."""
    by_step: dict[tuple[str, str], list[str]] = {}
    for item in work:
        state = f", {item.state}" if item.state else ""
        who = f"{', '.join(item.teams)} ({item.minutes} min{state})"
        by_step.setdefault((f"{item.step} {item.title}", item.station), []).append(who)
    for (step, station), teams in by_step.items():
        yield step, station, "; ".join(teams)


def _concepts(shown: Iterable[ShownPlan]) -> Table:
    return Table(
        header=("Concept", "What the step shows", "Reading", "Codes"),
        rows=tuple(
            (
                item.concept,
                f"{item.step}: {item.shows}",
                item.reading or "–",
                ", ".join(item.codes) or "–",
            )
            for item in shown
        ),
        caption="What the work shows",
        widths=(4, 9, 5, 5),
    )


def _brief_concepts(shown: Sequence[ShownPlan]) -> Table:
    """One row for each concept: the steps that show it and the codes it is aligned to."""
    steps: dict[str, list[str]] = {}
    codes: dict[str, tuple[str, ...]] = {}
    for item in shown:
        steps.setdefault(item.concept, []).append(item.step)
        codes[item.concept] = item.codes
    return Table(
        header=("Steps", "Concept", "Codes"),
        rows=tuple(
            (", ".join(dict.fromkeys(keys)), concept, ", ".join(codes[concept]) or "–")
            for concept, keys in steps.items()
        ),
        caption="What the work shows",
    )


def merged_caution(hazards: Sequence[StepHazard]) -> Caution:
    """One box for a paper: each caution once with the keys of the steps it belongs to."""
    steps: dict[str, list[str]] = {}
    for hazard in hazards:
        for text in hazard.hazards:
            keys = steps.setdefault(text.strip().rstrip("."), [])
            if hazard.step not in keys:
                keys.append(hazard.step)
    by_level: dict[str, list[str]] = {}
    for hazard in hazards:
        keys = by_level.setdefault(hazard.supervision, [])
        if hazard.step not in keys:
            keys.append(hazard.step)
    return Caution(
        hazards=tuple(
            f"{text} ({', '.join(keys)})" if any(keys) else text for text, keys in steps.items()
        ),
        protection=tuple(dict.fromkeys(item for hazard in hazards for item in hazard.protection)),
        supervision="; ".join(
            f"{level}: {', '.join(keys)}" for level, keys in by_level.items() if level
        ),
        sources=tuple(dict.fromkeys(source for hazard in hazards for source in hazard.sources)),
    )


def _lesson_blocks(lesson: PlannedLesson) -> Iterator[Block]:
    yield Heading(f"Lesson, {lesson.minutes} min: {lesson.title}", level=3)
    yield Goal(lesson.goal, codes=lesson.codes)
    if lesson.demonstration:
        yield Paragraph(lesson.demonstration, label="Show")
    if lesson.support:
        yield Paragraph(lesson.support, label="Support")
    if lesson.extension:
        yield Paragraph(lesson.extension, label="Extension")


def _lists(meeting: MeetingPlan) -> Iterator[Block]:
    for label, items in (
        ("Set out", (*meeting.materials, *meeting.tools)),
        ("Comes out of clamps or off the rack", meeting.coming_out),
        ("Checks", meeting.checks),
    ):
        if items:
            yield Paragraph("; ".join(items) + ".", label=label)
