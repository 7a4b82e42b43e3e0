"""The hold-point data sheet: what is measured in a phase, with cells for every reading."""

import re
from collections.abc import Sequence

from app.domain.papers.document import (
    Block,
    Document,
    Paper,
    Paragraph,
    QuestionBlock,
    Table,
    Title,
)
from app.domain.papers.facts import Check, Head, StepFacts, hazards_of
from app.domain.papers.worksheets.sheet import caution_blocks

READINGS = 4
MOST_READINGS = 10
_COUNT = re.compile(r"\b(\d{1,2})\b")
_WORDS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8}


def hold_point_sheet(
    head: Head, phase: str, steps: Sequence[StepFacts], paper: Paper = "letter"
) -> Document:
    """A table of readings for each check of a phase.

    Raises ValueError where the phase checks nothing.
    """
    measured = tuple(step for step in steps if step.check is not None)
    if not measured:
        raise ValueError(f"{phase} ends no step with a check: choose another phase")
    blocks: list[Block] = [
        Title(f"Hold points: {phase}", head.section, head.date, head.build, head.holder, True),
        Paragraph(
            "Write raw readings with their unit, not rounded; cross a slip out once and write "
            "beside it. A hold point is closed by the initials of the adult who looked."
        ),
    ]
    blocks += [_check(number, step) for number, step in enumerate(measured, 1)]
    blocks += caution_blocks(hazards_of(measured))
    title = f"Hold points, {phase}" + (f", {head.holder}" if head.holder else "")
    return Document(title, tuple(blocks), paper=paper, foot=head.section)


def readings_of(check: Check) -> int:
    """How many readings the check asks for, by its own words; four where it does not say."""
    words = check.record_as.lower()
    if match := _COUNT.match(words):
        return max(1, min(int(match[1]), MOST_READINGS))
    first = words.partition(" ")[0]
    return _WORDS.get(first, READINGS)


def _check(number: int, step: StepFacts) -> QuestionBlock:
    """What to measure with its cells: as a question, so that they never part."""
    check = step.check
    assert check is not None  # noqa: S101 - the caller has looked
    hold = "HOLD POINT" if step.hold_point else "Check"
    facts = [f"{step.key} {check.what}", f"{hold}: {check.target}" if check.target else hold]
    if check.measure_with:
        facts.append(f"measure with: {check.measure_with}")
    if check.record_as:
        facts.append(f"record: {check.record_as}")
    if check.if_out:
        facts.append(f"if out: {check.if_out}")
    count = readings_of(check)
    cells = Table(
        ("Reading", *(str(n + 1) for n in range(count)), "Mean", "Within?", "Initials"),
        ((check.unit or "value", *(None,) * (count + 3)),),
        row_headers=True,
        widths=(4, *(3,) * count, 3, 4, 4),
    )
    text = ". ".join(_sentence(fact) for fact in facts) + "."
    return QuestionBlock(number, text, readings=cells, space_lines=0)


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return text[:1].upper() + text[1:]
