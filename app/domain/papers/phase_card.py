"""The phase card: a team's route through a phase, with hold points and initials."""

from collections.abc import Sequence

from app.domain.papers.document import Block, Document, Items, Paper, Paragraph, Table, Title
from app.domain.papers.facts import Head, StepFacts, hazards_of
from app.domain.papers.worksheets.sheet import caution_blocks


def phase_card(
    head: Head, phase: str, milestone: str, steps: Sequence[StepFacts], paper: Paper = "letter"
) -> Document:
    """Steps in order; at a hold point an adult initials before the next step starts."""
    steps = tuple(steps)
    blocks: list[Block] = [
        Title(f"Phase card: {phase}", head.section, head.date, head.build, head.holder, True)
    ]
    if milestone:
        blocks.append(Paragraph(f"{milestone.rstrip('.')}.", label="Done when"))
    blocks.append(
        Paragraph(
            "Work down the card. Write the date and your initials when a step is done. At a line "
            "that says HOLD, stop: an adult looks at the check, writes the reading and initials "
            "before the next step starts."
        )
    )
    blocks.append(
        Table(
            ("Step", "Work", "Where", "Check", "Date", "Initials"),
            tuple(_row(step) for step in steps),
            row_headers=True,
            widths=(3, 10, 7, 10, 4, 4),
        )
    )
    drying = tuple(f"{step.key}: {step.drying}" for step in steps if step.drying)
    if drying:
        blocks.append(Items(drying, label="Leave it alone to dry; the label overrides these times"))
    blocks += caution_blocks(hazards_of(steps))
    title = f"Phase card, {phase}" + (f", {head.holder}" if head.holder else "")
    return Document(title, tuple(blocks), paper=paper, foot=head.section)


def _row(step: StepFacts) -> tuple[str | None, ...]:
    check = f"{step.check.what}: {step.check.target}".rstrip(": ") if step.check else ""
    hold = f"HOLD. {check}" if step.hold_point else check or "–"
    where = f"{step.station} ({step.permit})" if step.permit else step.station
    return (step.key, f"{step.title}, {step.minutes} min", where, hold, None, None)
