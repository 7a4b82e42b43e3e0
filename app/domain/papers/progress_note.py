"""The progress note: where one student's team stands, what is on record, what comes next."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import Block, Document, Items, Paper, Paragraph, Table, Title
from app.domain.papers.facts import Head
from app.domain.papers.worksheets.sheet import caution_blocks


@dataclass(frozen=True, slots=True)
class NoteReading:
    """A recorded reading; `within` is None where no limit is set."""

    step: str
    what: str
    written: str
    target: str
    within: bool | None = None


@dataclass(frozen=True, slots=True)
class NoteStanding:
    """What is on record of a student and their team. Marks are of this student only."""

    team: str
    done: int
    steps: int
    phase: str
    next_steps: tuple[str, ...] = ()
    readings: tuple[NoteReading, ...] = ()
    signed_off: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    marks: tuple[tuple[str, str, str], ...] = ()
    hazards: tuple[StepHazard, ...] = ()


def progress_note(head: Head, standing: NoteStanding, paper: Paper = "letter") -> Document:
    """One page for one student; it says what is there and what is missing, never why."""
    place = f"{head.build}, team {standing.team}" if standing.team else head.build
    blocks: list[Block] = [
        Title("Progress note", head.section, head.date, place, head.holder),
        Paragraph(
            f"The team has finished {standing.done} of {standing.steps} steps"
            + (f" and works on {standing.phase}." if standing.phase else "."),
            label="The instrument",
        ),
    ]
    if standing.next_steps:
        blocks.append(Items(standing.next_steps, label="Next at the bench"))
    if standing.readings:
        blocks.append(_readings(standing.readings))
    blocks.append(
        Paragraph(", ".join(standing.signed_off) or "nothing yet", label="Signed off for")
    )
    if standing.missing:
        blocks.append(Items(standing.missing, label="Still missing for a sign-off"))
    if standing.marks:
        blocks.append(
            Table(
                ("Marked work", "On", "Mark"),
                standing.marks,
                caption="Marked work",
                row_headers=True,
                widths=(4, 7, 2),
            )
        )
    else:
        blocks.append(Paragraph("No marked work is on record yet.", label="Marked work"))
    blocks += caution_blocks(standing.hazards)
    title = f"Progress note, {head.holder or standing.team}"
    return Document(title, tuple(blocks), paper=paper, foot=head.section)


def _readings(readings: Sequence[NoteReading]) -> Table:
    words = {True: "within", False: "out", None: "–"}
    return Table(
        ("Step", "What was measured", "Reading", "Asked for", ""),
        tuple(
            (item.step, item.what, item.written, item.target or "–", words[item.within])
            for item in readings
        ),
        caption="The team’s readings",
        row_headers=True,
        widths=(2, 6, 4, 5, 2),
    )
