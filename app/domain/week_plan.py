"""A week of a plan on paper: for each meeting who is where, what is taught, what to set out."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.document import (
    Block,
    Document,
    Goal,
    Heading,
    Items,
    Paragraph,
    Table,
    Title,
    long_date,
)
from app.domain.worksheets import StepCaution, caution_blocks


@dataclass(frozen=True, slots=True)
class TeamAtWork:
    """One team's work in a meeting: minutes count from the first bell."""

    team: str
    step: str
    station: str
    minutes: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class TaughtConcept:
    """What the bench shows of a concept, and the standard codes its treatment is aligned to."""

    step: str
    concept: str
    codes: tuple[str, ...] = ()
    shows: str = ""


@dataclass(frozen=True, slots=True)
class WeekMeeting:
    """One class meeting as the plan has it; `closed` says why there is none."""

    date: dt.date
    time: str = ""
    closed: str = ""
    lesson: str = ""
    goal: str = ""
    goal_codes: tuple[str, ...] = ()
    teams: tuple[TeamAtWork, ...] = ()
    concepts: tuple[TaughtConcept, ...] = ()
    materials: tuple[str, ...] = ()
    hold_points: tuple[str, ...] = ()
    cautions: tuple[StepCaution, ...] = ()
    note: str = ""


def week_plan(
    meetings: Sequence[WeekMeeting],
    *,
    title: str,
    section: str = "",
    place: str = "",
    language: str = "en",
) -> Document:
    """The week as a document, its meetings in order."""
    blocks: list[Block] = [Title(title, section=section, place=place)]
    if not meetings:
        blocks.append(Paragraph("This week has no meeting."))
    for meeting in meetings:
        blocks += meeting_blocks(meeting)
    return Document(title=title, blocks=tuple(blocks), language=language, foot=section)


def meeting_blocks(meeting: WeekMeeting) -> list[Block]:
    """One meeting: date, lesson and goal, who is where, concepts, what to set out, caution."""
    day = long_date(meeting.date)
    blocks: list[Block] = [Heading(f"{day}, {meeting.time}" if meeting.time else day)]
    if meeting.closed:
        return [*blocks, Paragraph(meeting.closed, label="No meeting")]
    if meeting.note:
        blocks.append(Paragraph(meeting.note, label="Note"))
    if meeting.lesson:
        blocks.append(Paragraph(meeting.lesson, label="Lesson"))
    if meeting.goal:
        blocks.append(Goal(meeting.goal, meeting.goal_codes))
    if meeting.teams:
        blocks.append(_who_is_where(meeting.teams))
    if meeting.concepts:
        blocks.append(_concepts(meeting.concepts))
    if meeting.hold_points:
        blocks.append(Items(meeting.hold_points, label="Hold points to initial"))
    if meeting.materials:
        blocks.append(Paragraph(", ".join(meeting.materials) + ".", label="Set out"))
    return [*blocks, *caution_blocks(meeting.cautions)]


def _who_is_where(teams: Sequence[TeamAtWork]) -> Table:
    header = ("Team", "Station", "Work", "Minutes", "Note")
    columns = [(t.team, t.station, t.step, t.minutes, t.note) for t in teams]
    # A column nobody has anything in is left out.
    used = [any(row[index] for row in columns) for index in range(len(header))]
    shown = tuple(
        tuple(cell for cell, keep in zip(row, used, strict=True) if keep) for row in columns
    )
    return Table(
        tuple(word for word, keep in zip(header, used, strict=True) if keep),
        shown,
        caption="Who is where",
        row_headers=True,
    )


def _concepts(concepts: Sequence[TaughtConcept]) -> Table:
    rows = tuple((c.step, c.concept, c.shows, ", ".join(c.codes)) for c in concepts)
    return Table(
        ("Step", "Concept", "What the bench shows", "Standards"),
        rows,
        caption="From the bench to the standards",
        row_headers=True,
    )
