"""The sign-off log on paper: students down, sign-offs across, the dates of their parts."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import (
    Block,
    Caution,
    Document,
    Items,
    Paper,
    Paragraph,
    Table,
    Title,
)
from app.domain.papers.facts import Head

COLUMNS = 5


@dataclass(frozen=True, slots=True)
class SignedOff:
    """One student: per permit what is on record, "" where nothing is."""

    student: str
    records: tuple[str, ...]


def sign_off_log(
    head: Head,
    permits: Sequence[tuple[str, str]],
    students: Sequence[SignedOff],
    hazards: Sequence[StepHazard],
    paper: Paper = "letter",
) -> Document:
    """The log; open cells are filled in by hand. `permits` are pairs of key and title."""
    blocks: list[Block] = [
        Title("Sign-off log", head.section, head.date, head.build),
        Paragraph(
            "A student is signed off after three parts, each with date and person: lesson (L), "
            "written test at 100 % (T), observed check-out (C). An open cell means: not signed "
            "off. Empty lines are written by hand and entered afterwards."
        ),
    ]
    for start in range(0, len(permits), COLUMNS):
        part = permits[start : start + COLUMNS]
        blocks.append(
            Table(
                ("Student", *(key for key, _ in part)),
                tuple(
                    (row.student, *(text or None for text in row.records[start : start + COLUMNS]))
                    for row in students
                ),
                row_headers=True,
                widths=(3, *(4,) * len(part)),
            )
        )
    blocks.append(Items(tuple(f"{key}: {title}" for key, title in permits), label="Sign-offs"))
    blocks += brief_caution(hazards, "The steps behind these sign-offs can hurt")
    return Document("Sign-off log", tuple(blocks), paper=paper, foot=head.section)


def brief_caution(hazards: Sequence[StepHazard], text: str) -> list[Block]:
    """Steps, protection and supervision in one box, where the full cautions hang elsewhere."""
    if not hazards:
        return []
    steps = ", ".join(dict.fromkeys(hazard.step for hazard in hazards))
    levels = dict.fromkeys(hazard.supervision for hazard in hazards if hazard.supervision)
    return [
        Caution(
            hazards=(
                f"{text} ({steps})",
                "The full caution of each step hangs at its station and stands on its phase card",
            ),
            protection=tuple(dict.fromkeys(item for h in hazards for item in h.protection)),
            supervision="; ".join(levels) + ", as each step says",
        )
    ]
