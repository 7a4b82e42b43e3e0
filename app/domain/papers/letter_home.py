"""The letter home: what the class builds, when, what is learnt, what keeps it safe."""

import datetime as dt
from dataclasses import dataclass

from app.domain.dates import long_date
from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import (
    Block,
    Document,
    Heading,
    Items,
    Paper,
    Paragraph,
    Table,
    Title,
)
from app.domain.papers.facts import Head
from app.domain.papers.sign_off_log import brief_caution

CONCEPTS = 8


@dataclass(frozen=True, slots=True)
class CourseFacts:
    """What a letter says of the course."""

    summary: str
    teacher: str
    first: dt.date | None
    showcase: dt.date | None
    meetings: int
    concepts: tuple[str, ...]
    hazards: tuple[StepHazard, ...]
    finishes: bool = False


def letter_home(head: Head, course: CourseFacts, paper: Paper = "letter") -> Document:
    """One page to the families, with a slip to bring back."""
    blocks: list[Block] = [
        Title("A letter home", head.section, head.date, head.build),
        Paragraph("Dear families,"),
        Paragraph(
            f"This term the class builds a real instrument: {_lower(head.build)}. "
            f"{course.summary.rstrip('.')}. {_when(course)}"
        ),
        Heading("What the building teaches"),
        Items(course.concepts[:CONCEPTS]),
        Heading("How it is kept safe"),
        Paragraph(
            "Nobody works at a machine or with an edge tool before the lesson, a written safety "
            "test with every answer right, and a check-out that an adult observes. All three are "
            "on record with date and person. Some work is done by an adult."
        ),
        *brief_caution(course.hazards, "Some steps use edge tools, machines, heat or finishes"),
        Heading("What to bring and to tell us"),
        Items(_asked(course)),
        Paragraph(f"With kind regards, {course.teacher}"),
        Table(
            ("Please bring this part back", ""),
            (
                ("We have read this letter; student’s code or name", None),
                ("Something the school should know (allergy, hearing, breathing)", None),
                ("Date and signature", None),
            ),
            row_headers=True,
            widths=(5, 6),
        ),
    ]
    return Document("A letter home", tuple(blocks), paper=paper, foot=head.section)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _when(course: CourseFacts) -> str:
    parts = []
    if course.first is not None and course.meetings:
        parts.append(f"We meet {course.meetings} times, first on {long_date(course.first)}.")
    if course.showcase is not None:
        parts.append(f"You are invited to hear the instruments on {long_date(course.showcase)}.")
    return " ".join(parts)


def _asked(course: CourseFacts) -> tuple[str, ...]:
    items = [
        "Closed shoes, long hair tied back, no loose sleeves, cords or jewellery on building days.",
        "Tell us about allergies to wood dust, adhesives or finishes, and about hearing or breathing.",
    ]
    if course.finishes:
        items.append(
            "Finishes are used with ventilation; the label of the product in use is shown on request."
        )
    return tuple(items)
