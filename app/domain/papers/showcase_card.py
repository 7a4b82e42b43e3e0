"""The showcase card: an instrument shown to guests by the team that built it."""

from collections.abc import Sequence

from app.domain.papers.document import (
    Block,
    Document,
    Heading,
    Items,
    Paper,
    Paragraph,
    QuestionBlock,
    Table,
    Title,
)
from app.domain.papers.facts import Head
from app.domain.papers.worksheets.request import QuantityFacts

NUMBERS = 8
IDEAS = 5


def showcase_card(
    head: Head,
    quantities: Sequence[QuantityFacts],
    goals: Sequence[str],
    paper: Paper = "letter",
) -> Document:
    """One page beside the instrument: its own numbers, the ideas in it, the team's own words."""
    measured = [q for q in quantities if q.measured]
    shown = [*measured, *(q for q in quantities if not q.measured)][:NUMBERS]
    blocks: list[Block] = [
        Title(head.build, head.section, head.date, "", head.holder),
        Paragraph("Built by hand in class; every number below is this instrument’s own."),
    ]
    if shown:
        blocks.append(
            Table(
                ("This instrument", "Drawn", "Measured"),
                tuple((q.title, q.nominal, q.measured) for q in shown),
                row_headers=True,
                widths=(5, 3, 3),
            )
        )
    if goals:
        blocks += [Heading("What it took"), Items(tuple(goals[:IDEAS]))]
    blocks += [
        Heading("In our own words"),
        QuestionBlock(1, "What was hardest to get right, and how did you check it?", space_lines=3),
        QuestionBlock(2, "What should you listen for when we play?", space_lines=2),
    ]
    title = f"Showcase card, {head.holder}" if head.holder else "Showcase card"
    return Document(title, tuple(blocks), paper=paper, version="standard", foot=head.section)
