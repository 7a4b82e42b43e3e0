"""How long a sheet becomes on paper, before it is printed.

A teacher who asks for 25 minutes means one sheet of paper, printed on both sides. The heights
are those of the standard print, read off printed pages of Letter; they are good to about a
tenth, which is enough to choose how much is explained.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from app.domain.papers.document import (
    Caution,
    ExitQuestion,
    Figure,
    Goal,
    Heading,
    Items,
    Link,
    Paragraph,
    QuestionBlock,
    Table,
    Terms,
    Title,
    WorkedExample,
)
from app.domain.papers.worksheets.request import RoomFacts

PAGE_MM = 245.0
LINE_MM = 4.9
ANSWER_LINE_MM = 7.5
ROW_MM = 8.2
LETTERS = 84  # on a line beside the margin
LETTERS_WIDE = 108  # on a line across the page, in the smaller print of a caution
LETTERS_HALF = 52
FORMULA_MM = 7.5
TALL_FORMULA_MM = 12.0
SCANNED_MM = 42.0  # a code to scan with its address, beside a worked example
MEASURED = 1.02  # what fits, printed, over the sum of these figures: on the safe side
MINUTES_OF_A_SHEET = 30  # what is asked for at most on one sheet of two pages
# From the fullest sheet to the leanest: what a reader misses least goes first.
ROOMS = (
    RoomFacts(),
    RoomFacts(lines=6),
    RoomFacts(lines=6, figure_mm=45),
    RoomFacts(lines=6, figure_mm=35, examples=1),
    RoomFacts(lines=5, figure_mm=35, examples=1),
    RoomFacts(lines=5, figure_mm=0, examples=1),
    RoomFacts(lines=5, figure_mm=35, examples=1, explained=1),
    RoomFacts(lines=5, figure_mm=0, examples=1, explained=1),
    RoomFacts(lines=4, figure_mm=0, examples=1, explained=1),
    RoomFacts(lines=5, figure_mm=0, examples=0, explained=1),
    RoomFacts(lines=4, figure_mm=0, examples=0, explained=1),
    RoomFacts(lines=3, figure_mm=0, examples=0, explained=1),
)


def pages_for(minutes: int) -> int:
    """Pages that a sheet of so many minutes should not exceed."""
    return 2 * max(1, math.ceil(minutes / MINUTES_OF_A_SHEET))


def page_count(blocks: Sequence[object]) -> int:
    """On how many pages the blocks will stand, as far as can be told before printing.

    A question and what else is never parted goes to the next page whole, with the heading
    before it.
    """
    pages, used, heading = 1, 0.0, 0.0
    for block, height in _set_heights(blocks):
        if isinstance(block, Heading):
            heading = height
            continue
        whole = heading + height
        if used + whole <= PAGE_MM:
            used += whole
        elif isinstance(block, Paragraph | Terms):
            pages, used = pages + 1, used + whole - PAGE_MM  # it runs on
        else:
            pages, used = pages + math.ceil(whole / PAGE_MM), whole % PAGE_MM
        heading = 0.0
    return pages


def _set_heights(blocks: Sequence[object]) -> Iterator[tuple[object, float]]:
    """Each block with its height; a text beside an address is as high as the address."""
    left = list(blocks)
    while left:
        block, *left = left
        height = height_mm(block)
        if isinstance(block, Paragraph) and left and isinstance(left[0], Link):
            _, *left = left
            if left and isinstance(left[0], Paragraph):
                height += height_mm(left[0])
                _, *left = left
            height = max(height, SCANNED_MM)
        yield block, height


def height_mm(block: object) -> float:
    """The height in mm that a block takes in the standard print."""
    known = _HEIGHTS.get(type(block))
    return known(block) * MEASURED if known else 0.0


def _lines(text: str, letters: int = LETTERS) -> int:
    return sum(max(1, math.ceil(len(part) / letters)) for part in text.split("\n"))


def _goal(block: Goal) -> float:
    codes = math.ceil(sum(len(code) + 2 for code in block.codes) / 26)
    return max(_lines(block.text, LETTERS - 6), codes) * LINE_MM + 1.5


def _caution(block: Caution) -> float:
    count = len(block.hazards)
    if count > 5:
        half = math.ceil(count / 2)
        columns = (block.hazards[:half], block.hazards[half:])
        hazards = max(sum(_lines(text, LETTERS_HALF) for text in column) for column in columns)
    else:
        hazards = sum(_lines(text, LETTERS_WIDE) for text in block.hazards)
    others = _lines(", ".join(block.protection), LETTERS_WIDE) if block.protection else 0
    others += _lines(block.supervision, LETTERS_WIDE) if block.supervision else 0
    sources = _lines("; ".join(block.sources), 140) * 3.6 if block.sources else 0.0
    return 22 + (hazards + others) * 4.5 + sources


def _worked(block: WorkedExample) -> float:
    given = sum(len(step.text) + 14 for step in block.steps if step.inline)
    height = 7 + _lines("x" * given) * LINE_MM if given else 7.0
    for step in block.steps:
        if not step.inline and step.formula is not None:
            tall = "/" in step.formula.typst or "frac" in step.formula.typst
            height += TALL_FORMULA_MM if tall else FORMULA_MM
        if not step.inline and step.text:
            height += LINE_MM
    return height + 5


def _table(block: Table) -> float:
    return (len(block.rows) + 1) * ROW_MM + (6 if block.caption else 0) + 5


def _question(block: QuestionBlock) -> float:
    height = _lines(block.text, LETTERS - 4) * LINE_MM + 8
    if block.choices:
        one_row = sum(len(choice) + 6 for choice in block.choices) < 76
        height += 6 if one_row else 6 * len(block.choices)
    if block.readings:
        height += _table(block.readings)
    return height + block.space_lines * ANSWER_LINE_MM


_HEIGHTS: dict[type, Callable[[Any], float]] = {
    Title: lambda _: 32.0,
    Goal: _goal,
    Caution: _caution,
    Heading: lambda _: 10.0,
    Paragraph: lambda block: _lines(block.text + block.label) * LINE_MM + 2.5,
    Items: lambda block: sum(_lines(text) for text in block.items) * LINE_MM + 4,
    Terms: lambda block: sum(_lines(f"{a} {b}") for a, b in block.words) * LINE_MM + 4,
    WorkedExample: _worked,
    Link: lambda _: 0.0,
    Figure: lambda block: block.drawing.height_mm + 14,
    Table: _table,
    QuestionBlock: _question,
    ExitQuestion: lambda block: _lines(block.text) * LINE_MM + block.space_lines * 7.5 + 10,
}
