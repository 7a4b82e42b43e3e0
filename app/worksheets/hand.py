"""The teacher's hand: which questions, in which order, in which words, and their own."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from app.domain.papers import worksheets as sheet
from app.domain.papers.worksheets.questions import minutes_of
from app.domain.papers.worksheets.values import Drawn, NotComputable, filled
from app.domain.quantities import plain_number

MOST_QUESTIONS = 40
LONGEST_PROMPT = 2000
LONGEST_TITLE = 120
MOST_LINES = 20
SPARE = 3
OWN = "own"


@dataclass
class HandRow:
    """One question on offer, as the form shows it."""

    key: str
    concept: str
    pattern: sheet.Pattern
    used: bool
    place: str
    prompt: str
    lines: str
    answer: str = ""
    wrong: list[str] = field(default_factory=list)

    @property
    def own(self) -> bool:
        return not self.concept

    @property
    def minutes(self) -> float:
        return minutes_of(self.pattern)


@dataclass
class Hand:
    """The form: every question on offer, those of the sheet first."""

    title: str
    rows: list[HandRow]
    wrong: list[str] = field(default_factory=list)

    @property
    def mistakes(self) -> list[str]:
        return [*self.wrong, *(text for row in self.rows for text in row.wrong)]

    def items(self) -> tuple[sheet.Item, ...]:
        """The questions used, in order of their places; equal places keep the form's order."""
        used = [row for row in self.rows if row.used]
        used.sort(key=lambda row: _place(row.place))
        return tuple(sheet.Item(row.concept, _edited(row)) for row in used)


def _place(text: str) -> float:
    try:
        return plain_number(text)
    except ValueError:
        return float("inf")


def _edited(row: HandRow) -> sheet.Pattern:
    lines = int(row.lines) if row.lines.isascii() and row.lines.isdecimal() else 3
    pattern = replace(row.pattern, prompt=row.prompt, space_lines=lines)
    return replace(pattern, written=row.answer) if row.own else pattern


def offer(
    title: str, chosen: Sequence[sheet.Item], treatments: Sequence[sheet.TreatmentFacts]
) -> Hand:
    """The questions of the sheet in order, then the others at this grade band, then empty ones."""
    rows = [_row(_key(item, n), item, used=True, place=str(n)) for n, item in enumerate(chosen, 1)]
    there = {(item.concept, item.pattern.key) for item in chosen}
    for treatment in treatments:
        for pattern in treatment.patterns:
            if (treatment.concept, pattern.key) not in there:
                item = sheet.Item(treatment.concept, pattern)
                rows.append(_row(_key(item, 0), item, used=False, place=""))
    return Hand(title, rows + list(_spare(rows)))


def _key(item: sheet.Item, number: int) -> str:
    return f"{item.concept}/{item.pattern.key}" if item.concept else f"{OWN}/{number}"


def _row(key: str, item: sheet.Item, *, used: bool, place: str) -> HandRow:
    pattern = item.pattern
    return HandRow(
        key,
        item.concept,
        pattern,
        used,
        place,
        pattern.prompt,
        str(pattern.space_lines),
        "" if item.concept else pattern.written,
    )


def _spare(rows: Sequence[HandRow]) -> Iterator[HandRow]:
    taken = {row.key for row in rows}
    free = (f"{OWN}/{n}" for n in range(1, MOST_QUESTIONS * 3))
    for _, key in zip(range(SPARE), (key for key in free if key not in taken), strict=False):
        pattern = sheet.Pattern(key.replace("/", "-"), "")
        yield HandRow(key, "", pattern, used=False, place="", prompt="", lines="3")


def read(hand: Hand, form: Mapping[str, str]) -> Hand:
    """Take what was sent into the form and note what has to be changed."""
    hand.title = _plain(form.get("title", ""))
    hand.rows = _as_sent(hand.rows, form)
    for number, row in enumerate(hand.rows):
        row.used = bool(form.get(f"use-{number}"))
        row.place = form.get(f"place-{number}", "").strip()[:6]
        row.prompt = _plain(form.get(f"prompt-{number}", ""))
        row.lines = form.get(f"lines-{number}", "3").strip()[:4]
        row.answer = _plain(form.get(f"answer-{number}", ""))
        if row.own and row.prompt and not form.get(f"drop-{number}"):
            row.used = True  # a question somebody typed is meant to be asked
        if row.used:
            row.wrong = list(_wrong(row, number + 1))
    used = [row for row in hand.rows if row.used]
    if not hand.title:
        hand.wrong.append("Give the paper a title.")
    if len(hand.title) > LONGEST_TITLE:
        hand.wrong.append(f"The title may have at most {LONGEST_TITLE} letters.")
    if not used:
        hand.wrong.append("Choose at least one question, or write your own.")
    if len(used) > MOST_QUESTIONS:
        hand.wrong.append(f"A paper holds at most {MOST_QUESTIONS} questions: take some away.")
    return hand


def _as_sent(rows: list[HandRow], form: Mapping[str, str]) -> list[HandRow]:
    """The rows in the order of the form: what was recorded meanwhile may have moved them."""
    by_key = {row.key: row for row in rows}
    keys = [form[f"id-{n}"] for n in range(len(form)) if form.get(f"id-{n}") in by_key]
    sent = [by_key.pop(key) for key in dict.fromkeys(keys)]
    return [*sent, *by_key.values()]


def _plain(text: str) -> str:
    return text.replace("\x00", "").replace("\r\n", "\n").strip()


def _wrong(row: HandRow, number: int) -> Iterator[str]:
    if not row.prompt:
        yield f"Question {number}: write the question, or do not choose it."
    if len(row.prompt) > LONGEST_PROMPT or len(row.answer) > LONGEST_PROMPT:
        yield f"Question {number}: at most {LONGEST_PROMPT} letters; shorten it."
    if row.place and _place(row.place) == float("inf"):
        yield f"Question {number}: the place is a number, such as 2."
    if not (row.lines.isascii() and row.lines.isdecimal() and int(row.lines) <= MOST_LINES):
        yield f"Question {number}: the lines for the answer are a number from 0 to {MOST_LINES}."
    try:
        filled(row.prompt, {name: Drawn("1") for name in row.pattern.parameters}, shown=True)
    except NotComputable as mistake:
        known = ", ".join(f"{{{name}}}" for name in row.pattern.parameters)
        yield f"Question {number}: {mistake}; " + (
            f"this question knows {known}." if known else "it knows no value in brackets."
        )
