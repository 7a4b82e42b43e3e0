"""The questions of worksheets with their answers, as CSV for a spreadsheet or another system."""

from collections.abc import Sequence

from app.domain.papers.document import Document, QuestionBlock, Title
from app.interchange.tables import Cell, csv_text

HEADER = (
    "sheet",
    "seed",
    "number",
    "concept",
    "question",
    "choices",
    "answer",
    "letter",
    "unit",
    "lowest right",
    "highest right",
    "tolerance",
    "standards",
    "note",
)


def items_csv(documents: Sequence[Document]) -> str:
    """A row per question. Text that a spreadsheet would run as a formula is made text."""
    rows: list[tuple[Cell, ...]] = []
    for document in documents:
        asked = {
            block.number: block for block in document.blocks if isinstance(block, QuestionBlock)
        }
        head = next((block for block in document.blocks if isinstance(block, Title)), None)
        for answer in document.answers:
            question = asked.get(answer.number)
            rows.append(
                (
                    head.holder if head else "",
                    document.seed,
                    answer.number,
                    answer.concept,
                    question.text if question else answer.prompt,
                    " | ".join(question.choices) if question else "",
                    answer.text,
                    answer.letter,
                    answer.unit,
                    answer.low,
                    answer.high,
                    answer.tolerance,
                    ", ".join(question.codes) if question else "",
                    answer.note,
                )
            )
    return csv_text(HEADER, rows)
