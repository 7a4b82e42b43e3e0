"""The document: every paper is a list of these blocks, rendered as a page and as a PDF.

Blocks hold plain values. Text is text, never markup: both renderers print it as it
stands. Only `Formula.typst` is read as mathematics, and it comes from the calculators'
catalogue, never from a user. Answers stand beside the blocks, in `Document.answers`,
so that no renderer can print them on the student's copy.
"""

import re
from dataclasses import dataclass, field
from typing import ClassVar, Literal

from app.domain.papers.drawing import PRINTABLE_HEIGHT_MM, PRINTABLE_WIDTH_MM, Sheet

Version = Literal["standard", "pictured", "large"]
Paper = Literal["letter", "a4"]

DEFERRAL = (
    "Local codes, the school's own rules, the tool's own manual and qualified "
    "supervision come first."
)

# Mathematics mode reaches code only by a hash, or by naming the standard library.
_CODE_IN_FORMULA = re.compile(r"#|\bstd\b")


@dataclass(frozen=True, slots=True)
class Title:
    """The head of a paper. `place` is the phase or step; `holder` the team or student code."""

    kind: ClassVar[str] = "title"
    text: str
    section: str = ""
    date: str = ""
    place: str = ""
    holder: str = ""
    name_line: bool = False


@dataclass(frozen=True, slots=True)
class Heading:
    kind: ClassVar[str] = "heading"
    text: str
    level: Literal[2, 3] = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; `label` is set before it ("Show"), `small` is for sources and notes."""

    kind: ClassVar[str] = "paragraph"
    text: str
    label: str = ""
    small: bool = False


@dataclass(frozen=True, slots=True)
class Items:
    """A list; numbered where the order counts."""

    kind: ClassVar[str] = "items"
    items: tuple[str, ...]
    numbered: bool = False
    label: str = ""


@dataclass(frozen=True, slots=True)
class Terms:
    """Words and their meanings."""

    kind: ClassVar[str] = "terms"
    words: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Goal:
    """What the student will be able to do, in the student's words, with standard codes."""

    kind: ClassVar[str] = "goal"
    text: str
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """Hazards, protection and supervision in one box; the deferral line always ends it.

    Raises ValueError where no hazard is named.
    """

    kind: ClassVar[str] = "caution"
    hazards: tuple[str, ...]
    protection: tuple[str, ...] = ()
    supervision: str = ""
    sources: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not any(hazard.strip() for hazard in self.hazards):
            raise ValueError("a caution names its hazard")

    @property
    def deferral(self) -> str:
        return DEFERRAL


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula in Typst's notation for mathematics, and the same in words.

    Raises ValueError where the notation could reach beyond mathematics or the words
    are missing: a reader who cannot see the formula must hear it.
    """

    kind: ClassVar[str] = "formula"
    typst: str
    words: str
    label: str = ""

    def __post_init__(self) -> None:
        if _CODE_IN_FORMULA.search(self.typst):
            raise ValueError(f"a formula is mathematics only, without # or std: {self.typst!r}")
        if not self.words.strip():
            raise ValueError(f"the formula {self.typst!r} needs the same in words")


@dataclass(frozen=True, slots=True)
class WorkedStep:
    """A line of working: words, a formula, or both; `inline` sets both on one line."""

    text: str
    formula: Formula | None = None
    inline: bool = False


@dataclass(frozen=True, slots=True)
class WorkedExample:
    kind: ClassVar[str] = "worked_example"
    title: str
    steps: tuple[WorkedStep, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing at true size with the sentence that says what to see in it.

    Raises ValueError where the sentence is missing or the drawing does not fit both
    Letter and A4: a drawing to scale is never shrunk to fit.
    """

    kind: ClassVar[str] = "figure"
    drawing: Sheet
    alternative: str
    caption: str = ""
    described: bool = False

    def __post_init__(self) -> None:
        if not self.alternative.strip():
            raise ValueError("a figure needs a sentence that says what to see in it")
        if (
            self.drawing.width_mm > PRINTABLE_WIDTH_MM
            or self.drawing.height_mm > PRINTABLE_HEIGHT_MM
        ):
            raise ValueError(
                f"the drawing is {self.drawing.width_mm:g} by {self.drawing.height_mm:g} mm; "
                f"both papers hold {PRINTABLE_WIDTH_MM:g} by {PRINTABLE_HEIGHT_MM:g} mm: "
                "choose a smaller scale"
            )


Cell = str | None  # None is a cell for the student to fill


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a header; a cell that is None is left open to be filled by hand.

    `widths` are the columns' shares of the line; without them they are alike.
    """

    kind: ClassVar[str] = "table"
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: str = ""
    row_headers: bool = False
    widths: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.widths and len(self.widths) != len(self.header):
            raise ValueError(f"the table {self.caption!r} needs a width for each column")
        for row in self.rows:
            if len(row) != len(self.header):
                raise ValueError(
                    f"each row of the table {self.caption!r} needs {len(self.header)} cells, "
                    f"not {len(row)}"
                )


@dataclass(frozen=True, slots=True)
class QuestionBlock:
    """A question with its answer space: choices, a table for readings, or ruled lines.

    `unit` stands at the end of the answer line. `starter` begins the student's sentence.
    """

    kind: ClassVar[str] = "question"
    number: int
    text: str
    choices: tuple[str, ...] = ()
    unit: str = ""
    space_lines: int = 3
    readings: Table | None = None
    figure: Figure | None = None
    starter: str = ""
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ExitQuestion:
    """One question to be answered on the way out."""

    kind: ClassVar[str] = "exit_question"
    text: str
    space_lines: int = 2
    starter: str = ""


@dataclass(frozen=True, slots=True)
class Link:
    """An address to open with a telephone: printed in letters and as a QR code."""

    kind: ClassVar[str] = "link"
    text: str
    address: str


@dataclass(frozen=True, slots=True)
class PageBreak:
    kind: ClassVar[str] = "page_break"


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one question, carried beside it.

    `low` and `high` bound the readings that are marked right, in `unit`; both are None
    for a written answer and for one that is compared with the student's own readings.
    `reveals` says, for each wrong answer, what it shows about the student's thinking.
    """

    kind: ClassVar[str] = "answer"
    number: int
    concept: str
    text: str
    prompt: str = ""
    tolerance: str = ""
    letter: str = ""
    steps: tuple[WorkedStep, ...] = ()
    reveals: tuple[tuple[str, str], ...] = ()
    value: float | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    note: str = ""
    question_key: str = ""


Block = (
    Title
    | Heading
    | Paragraph
    | Items
    | Terms
    | Goal
    | Caution
    | Formula
    | WorkedExample
    | Figure
    | Table
    | QuestionBlock
    | ExitQuestion
    | Link
    | PageBreak
    | Answer
)


@dataclass(frozen=True, slots=True)
class Document:
    """A paper: its blocks, and beside them what only the teacher sees.

    `seed` reproduces the values and is printed at the foot. `notices` tell the teacher
    what to look at (a reading out of range); they are printed on the key, not here.
    """

    title: str
    blocks: tuple[Block, ...]
    language: str = "en"
    seed: str = ""
    paper: Paper = "letter"
    version: Version = "standard"
    foot: str = ""
    answers: tuple[Answer, ...] = ()
    notices: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        if not self.title.strip():
            raise ValueError("a document needs a title")


def answer_key(document: Document) -> Document:
    """The key to a document: each answer with its steps, tolerance and what errors reveal."""
    heads = [block for block in document.blocks if isinstance(block, Title)]
    head = heads[0] if heads else Title(document.title)
    blocks: list[Block] = [
        Title(f"Answer key: {head.text}", head.section, head.date, head.place, head.holder)
    ]
    if document.seed:
        blocks.append(
            Paragraph(f"For the sheet with seed {document.seed}. The same seed prints it again.")
        )
    if document.notices:
        blocks.append(Items(document.notices, label="Look at these first"))
    if document.answers:
        blocks.extend(document.answers)
    else:
        blocks.append(Paragraph("This paper asks no questions."))
    return Document(
        title=f"Answer key: {document.title}",
        blocks=tuple(blocks),
        language=document.language,
        seed=document.seed,
        paper=document.paper,
        foot=document.foot,
    )
