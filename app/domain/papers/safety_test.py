"""The written safety test of a station in two forms, from its cautions and its sign-off.

Each question has one right answer that stands in the facts of the station: its own
cautions, the protection worn there, where the adult is, and the three parts of a sign-off.
The test counts at 100 % only: common practice in school shops, no source.
"""

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from app.domain.cautions import PROTECTION, SUPERVISION
from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import (
    Answer,
    Block,
    Document,
    Heading,
    Paper,
    Paragraph,
    QuestionBlock,
    Table,
    Title,
)
from app.domain.papers.facts import Head
from app.domain.papers.worksheets.questions import LETTERS
from app.domain.papers.worksheets.sheet import caution_blocks

Form = Literal["A", "B"]
CAUTIONS_ASKED = 4
CHOICES = 3


@dataclass(frozen=True, slots=True)
class SafetyStation:
    """A permit and the hazardous steps it opens; `other_cautions` belong to other permits."""

    permit: str
    title: str
    hazards: tuple[StepHazard, ...]
    other_cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Item:
    text: str
    right: str
    wrong: tuple[str, ...]


def safety_test(
    head: Head,
    station: SafetyStation,
    form: Form,
    *,
    read_aloud: bool = False,
    paper: Paper = "letter",
) -> Document:
    """One form of the test, its answers beside it; the same form is always the same.

    Raises ValueError where the permit opens no step with a caution.
    """
    own = _cautions(station.hazards)
    if not own:
        raise ValueError(
            f"no step under {station.title} carries a caution: there is nothing to ask"
        )
    source = random.Random(f"{station.permit}|{form}")  # noqa: S311 - not a secret
    items = [*_caution_items(station, own, form, source), *_fixed_items(station)]
    source.shuffle(items)
    asked = [_asked(item, number, source) for number, item in enumerate(items, 1)]
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
        *(question for question, _ in asked),
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
        answers=tuple(answer for _, answer in asked),
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


def _cautions(hazards: Iterable[StepHazard]) -> list[str]:
    return list(dict.fromkeys(text.strip().rstrip(".") for h in hazards for text in h.hazards))


def _general(station: SafetyStation) -> list[StepHazard]:
    """What the test may show of the station without giving its answers away."""
    steps = ", ".join(dict.fromkeys(hazard.step for hazard in station.hazards))
    first = station.hazards[0]
    text = f"This test does not replace the lesson at the station; the work can hurt you ({steps})"
    return [StepHazard("", station.title, (text,), (), "", first.sources[:0])]


def _caution_items(
    station: SafetyStation, own: Sequence[str], form: Form, source: random.Random
) -> list[_Item]:
    """Cautions to pick out from those of other stations; the forms ask different ones."""
    half = own[0::2] if form == "A" else own[1::2]
    rest = [text for text in own if text not in half]
    picked = [*source.sample(half, len(half)), *source.sample(rest, len(rest))][:CAUTIONS_ASKED]
    others = [text for text in dict.fromkeys(station.other_cautions) if text not in own]
    items = []
    for text in picked:
        if len(others) < CHOICES - 1:
            break
        wrong = source.sample(others, CHOICES - 1)
        items.append(
            _Item(
                f"{station.title}: one of these stands on its caution, the others belong to other "
                "work. Which one?",
                text,
                tuple(wrong),
            )
        )
    return items


def _fixed_items(station: SafetyStation) -> list[_Item]:
    """Protection, supervision, the parts of a sign-off, and what to do when in doubt."""
    worn = list(dict.fromkeys(item for h in station.hazards for item in h.protection))
    levels = list(dict.fromkeys(h.supervision for h in station.hazards if h.supervision))
    items = []
    missing = [text for text in PROTECTION.values() if text not in worn]
    if worn:
        right = "; ".join(worn)
        fewer = "; ".join(worn[1:]) or "nothing, if the cut is short"
        wrong = [fewer, "only what my partner wears"]
        if missing and len(worn) == 1:
            wrong[0] = missing[0]
        items.append(_Item(f"{station.title}: what is worn?", right, tuple(wrong)))
    if levels:
        strictest = max(levels, key=list(SUPERVISION.values()).index)
        items.append(
            _Item(
                f"{station.title}: where is the adult during the strictest step?",
                strictest,
                tuple(
                    text for text in ("anywhere in the building", "not needed after the first time")
                ),
            )
        )
    items.append(
        _Item(
            "What must be on record before you work here without being taught?",
            "the lesson, this test with every answer right, and a check-out an adult observed",
            ("this test only", "that a classmate showed me"),
        )
    )
    items.append(
        _Item(
            "Something sounds, smells or looks different from the lesson. What comes first?",
            "stop, step back, and call the adult",
            ("finish the cut, then ask", "try once more, more slowly"),
        )
    )
    return items


def _asked(item: _Item, number: int, source: random.Random) -> tuple[QuestionBlock, Answer]:
    choices = [item.right, *item.wrong]
    source.shuffle(choices)
    letter = LETTERS[choices.index(item.right)]
    question = QuestionBlock(number, item.text, choices=tuple(choices), space_lines=0)
    answer = Answer(
        number=number,
        concept="",
        text=item.right,
        prompt=item.text,
        letter=letter,
    )
    return question, answer
