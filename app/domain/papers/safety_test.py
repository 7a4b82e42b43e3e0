"""The written safety test of a sign-off in two forms, drawn from a bank of items.

Every item has one right answer, which rests on a practice of the shop, and three wrong ones,
each of which names the practice that it breaks: the practice says why. No form shares an item
with the other, so that a re-test asks what the first try has not shown. The test counts at
100 % only: common practice in school shops, no source.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import (
    Answer,
    Block,
    Document,
    Figure,
    Heading,
    Paper,
    Paragraph,
    QuestionBlock,
    Table,
    Title,
)
from app.domain.papers.drawing import on_paper
from app.domain.papers.facts import Head
from app.domain.papers.safety_pictures import picture
from app.domain.papers.worksheets.questions import LETTERS
from app.domain.papers.worksheets.sheet import caution_blocks

Form = Literal["A", "B"]
FORMS: tuple[Form, ...] = ("A", "B")
ASKED = 8
PICTURE_WIDTH_MM = 125.0
PICTURE_HEIGHT_MM = 62.0


@dataclass(frozen=True, slots=True)
class Practice:
    """What holds in the shop, why, against which hazard, and where it is published."""

    key: str
    rule: str
    because: str
    hazard: str
    source: str


@dataclass(frozen=True, slots=True)
class WrongAnswer:
    """An answer that is wrong because it breaks a practice."""

    text: str
    breaks: Practice


@dataclass(frozen=True, slots=True)
class SafetyItem:
    """A question with its right answer, the practice it rests on and the wrong answers.

    `bands` says who is asked; `picture` is the key of a drawing, or nothing.
    """

    key: str
    bands: tuple[str, ...]
    asks: str
    right: str
    practice: Practice
    wrong: tuple[WrongAnswer, ...]
    picture: str = ""


@dataclass(frozen=True, slots=True)
class SafetyStation:
    """A sign-off, the hazardous steps it opens, and the items that test it."""

    permit: str
    title: str
    hazards: tuple[StepHazard, ...]
    items: tuple[SafetyItem, ...] = ()


@dataclass(frozen=True, slots=True)
class Option:
    """One answer to choose, whether it is right, and why or why not."""

    text: str
    right: bool
    reason: str


@dataclass(frozen=True, slots=True)
class AskedItem:
    """An item as a form prints it: its options in their printed order."""

    item: SafetyItem
    options: tuple[Option, ...]

    @property
    def letter(self) -> str:
        """The letter of the right answer."""
        return LETTERS[next(n for n, option in enumerate(self.options) if option.right)]


def form_named(name: str) -> Form:
    """The form of that name.

    Raises ValueError where there is none.
    """
    for form in FORMS:
        if form == name:
            return form
    raise ValueError(f"form {name}; there are {' and '.join(FORMS)}")


def asked_items(station: SafetyStation, band: str, form: Form) -> tuple[AskedItem, ...]:
    """The items of one form for a grade band; the same form is always the same.

    Raises ValueError where the bank holds too few items for two forms that share none.
    """
    pool = [item for item in station.items if band in item.bands]
    if len(pool) < ASKED * len(FORMS):
        raise ValueError(
            f"{station.title} has {len(pool)} test questions for this grade band and needs "
            f"{ASKED * len(FORMS)}: load a bank of questions for it (kind “safety-bank”)."
        )
    # Pictures first, so that a form that can show one does; then as the draw has it.
    drawn = random.Random(f"{station.permit}|{band}")  # noqa: S311 - not a secret
    drawn.shuffle(pool)
    pool.sort(key=lambda item: not item.picture)
    chosen = pool[FORMS.index(form) :: len(FORMS)][:ASKED]
    order = random.Random(f"{station.permit}|{band}|{form}")  # noqa: S311 - not a secret
    order.shuffle(chosen)
    chosen.sort(key=lambda item: not item.picture)  # the largest first: no page is left half empty
    return tuple(_in_order(item, order) for item in chosen)


def _in_order(item: SafetyItem, order: random.Random) -> AskedItem:
    options = [
        Option(item.right, right=True, reason=item.practice.because),
        *(
            Option(wrong.text, right=False, reason=f"{wrong.breaks.rule} {wrong.breaks.because}")
            for wrong in item.wrong
        ),
    ]
    order.shuffle(options)
    return AskedItem(item, tuple(options))


def safety_test(
    head: Head,
    station: SafetyStation,
    band: str,
    form: Form,
    *,
    read_aloud: bool = False,
    paper: Paper = "letter",
) -> Document:
    """One form of the test for a grade band, its answers beside it.

    Raises ValueError where the bank holds too few items (see `asked_items`).
    """
    items = asked_items(station, band, form)
    kind = f"form {form}, read aloud" if read_aloud else f"form {form}"
    blocks: list[Block] = [
        Title(
            f"Safety test: {station.title}, {kind}",
            head.section,
            head.date,
            head.build,
            head.holder,
            True,
        ),
        Paragraph(_how(read_aloud=read_aloud)),
        *caution_blocks(_general(station)),
        Heading("Ring the letter of the one right answer"),
        *(_question(asked, number) for number, asked in enumerate(items, 1)),
        Table(
            ("All answers right: yes or no", "Date", "Initials of the adult"),
            ((None, None, None),),
        ),
    ]
    return Document(
        f"Safety test, {station.title}, {kind}",
        tuple(blocks),
        paper=paper,
        foot=f"{head.section} · {station.permit} {kind}",
        answers=tuple(_answer(asked, number) for number, asked in enumerate(items, 1)),
    )


def _how(*, read_aloud: bool) -> str:
    plain = (
        "Every answer must be right. If one is not, the station is taught again and you write "
        "the other form. Passing this test is one of three parts: lesson, test, and a check-out "
        "that an adult observes."
    )
    if not read_aloud:
        return plain
    return (
        "For the adult: read each question and each choice twice, slowly, without a hint of voice "
        "or face. The student says or points to the letter; you ring it. Do not explain. " + plain
    )


def _general(station: SafetyStation) -> Sequence[StepHazard]:
    """What the test may show of the station without giving its answers away."""
    steps = ", ".join(dict.fromkeys(hazard.step for hazard in station.hazards))
    opens = f" ({steps})" if steps else ""
    text = f"This test does not replace the lesson at the station; the work can hurt you{opens}"
    return [StepHazard("", station.title, (text,), (), "", ())]


def _question(asked: AskedItem, number: int) -> QuestionBlock:
    return QuestionBlock(
        number,
        asked.item.asks,
        choices=tuple(option.text for option in asked.options),
        space_lines=0,
        figure=_figure(asked.item.picture) if asked.item.picture else None,
    )


def _figure(key: str) -> Figure:
    drawing = picture(key)
    sheet = on_paper(drawing, width_mm=PICTURE_WIDTH_MM, height_mm=PICTURE_HEIGHT_MM)
    return Figure(sheet, drawing.description)


def _answer(asked: AskedItem, number: int) -> Answer:
    item = asked.item
    return Answer(
        number=number,
        concept="",
        text=item.right,
        prompt=item.asks,
        letter=asked.letter,
        note=f"{item.practice.rule} {item.practice.because} Source: {item.practice.source}.",
        # Most wrong answers break the practice that stands above them already.
        reveals=tuple(
            (wrong.text, f"{wrong.breaks.rule} {wrong.breaks.because}")
            for wrong in item.wrong
            if wrong.breaks != item.practice
        ),
        question_key=item.key,
    )
