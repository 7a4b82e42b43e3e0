"""From a question pattern to a question and, beside it, its answer."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.domain.calculators import InvalidInput
from app.domain.calculators.engine.calculator import WorkingStep
from app.domain.papers.document import Answer, Formula, QuestionBlock, Table, Version, WorkedStep
from app.domain.papers.worksheets.request import (
    ExposureFacts,
    Pattern,
    QuantityFacts,
    TreatmentFacts,
    WrongOption,
)
from app.domain.papers.worksheets.spoken import spoken
from app.domain.papers.worksheets.values import (
    Drawn,
    NotComputable,
    Outcome,
    compute,
    draw,
    filled,
    mistakes_in_words,
)

REDRAWS = 25
LETTERS = "ABCDEFGH"
READINGS = 3
# Minutes a student needs by depth of knowledge, with time to write: author's judgement.
MINUTES_BY_DEPTH = {1: 2.5, 2: 4.0, 3: 7.0, 4: 10.0}

STARTERS = {
    "computed": "First I write down",
    "written": "I think so because",
    "readings": "My reading shows that",
}


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """A question with its answer and what the teacher should look at."""

    question: QuestionBlock
    answer: Answer
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Asking:
    """For whom questions are filled in: the instrument, the seed, the version."""

    quantities: Mapping[str, QuantityFacts]
    seed: str
    holder: str
    version: Version

    def source(self, key: str) -> random.Random:
        """The same values for the same seed, holder and question, on every machine."""
        return random.Random(f"{self.seed}|{self.holder}|{key}")  # noqa: S311 - not a secret


def minutes_of(pattern: Pattern) -> float:
    return MINUTES_BY_DEPTH[pattern.depth_of_knowledge]


def ask(pattern: Pattern, treatment: TreatmentFacts, number: int, asking: Asking) -> AskedQuestion:
    """Fill in the pattern. Raises NotComputable where it cannot be answered.

    Drawn values that a calculator refuses are drawn again. A recorded value it refuses
    is flagged and the nominal takes its place, so that the sheet is kept.
    """
    source = asking.source(pattern.key)
    values, outcome, notices = _values(pattern, asking, source)
    prompt = filled(pattern.prompt, values, shown=True)
    wrong = _wrong_options(pattern.wrong, values, outcome)
    choices, letter = _choices(pattern, outcome, wrong, source)
    readings = _readings(pattern, values)
    question = QuestionBlock(
        number=number,
        text=prompt,
        choices=choices,
        unit=outcome.unit if outcome and not choices and not readings else "",
        space_lines=_space_lines(pattern, choices, asking.version),
        readings=readings,
        starter=_starter(pattern, asking.version),
        codes=treatment.codes[:2],
    )
    own = pattern.measure_then_compare
    answer = Answer(
        number=number,
        concept=treatment.title,
        text=outcome.text if outcome else filled(pattern.written, values, shown=True),
        prompt=prompt,
        tolerance=outcome.tolerance if outcome else "",
        letter=letter,
        steps=worked_steps(outcome.calculation.steps) if outcome else (),
        reveals=tuple((text, option.misconception) for option, text in wrong),
        value=outcome.value if outcome else None,
        unit=outcome.unit if outcome else "",
        low=outcome.low if outcome and not own else None,
        high=outcome.high if outcome and not own else None,
        note=_note(pattern, outcome, values),
        question_key=pattern.key,
    )
    return AskedQuestion(question, answer, notices)


def _values(
    pattern: Pattern, asking: Asking, source: random.Random
) -> tuple[dict[str, Drawn], Outcome | None, tuple[str, ...]]:
    values = draw(pattern.parameters, asking.quantities, source)
    if pattern.computed is None:
        return values, None, ()
    refusal: InvalidInput | None = None
    for _ in range(REDRAWS):
        try:
            return values, compute(pattern.computed, values), ()
        except InvalidInput as mistake:
            refusal = mistake
            values = draw(pattern.parameters, asking.quantities, source)
    recorded = [
        value.quantity for value in values.values() if value.quantity and value.quantity.measured
    ]
    if not recorded or refusal is None:
        raise NotComputable(mistakes_in_words(refusal) if refusal else "no value fits")
    values = draw(pattern.parameters, asking.quantities, source, nominal=True)
    try:
        outcome = compute(pattern.computed, values)
    except InvalidInput as mistake:
        raise NotComputable(mistakes_in_words(mistake)) from None
    who = f"{asking.holder}: " if asking.holder else ""
    flags = tuple(
        f"{who}check the reading “{own.measured}” of {own.title}. {refusal} "
        f"The sheet uses the nominal {own.nominal}."
        for own in recorded
    )
    return values, outcome, flags


def _wrong_options(
    options: Sequence[WrongOption], values: Mapping[str, Drawn], outcome: Outcome | None
) -> list[tuple[WrongOption, str]]:
    """The wrong answers as people would write them, less those that are not wrong here."""
    seen = {outcome.text} if outcome else set()
    found = []
    for option in options:
        try:
            text = (
                filled(option.text, values, shown=True)
                if option.computed is None
                else compute(option.computed, values).text
            )
        except (InvalidInput, NotComputable):
            continue  # a wrong option that cannot be computed is merely not offered
        if text not in seen:
            seen.add(text)
            found.append((option, text))
    return found


def _choices(
    pattern: Pattern,
    outcome: Outcome | None,
    wrong: Sequence[tuple[WrongOption, str]],
    source: random.Random,
) -> tuple[tuple[str, ...], str]:
    """The lettered choices and the right letter; none unless two wrong ones can be offered."""
    enough = 2
    if outcome is None or pattern.measure_then_compare or len(wrong) < enough:
        return (), ""
    choices = [outcome.text, *(text for _, text in wrong)][: len(LETTERS)]
    source.shuffle(choices)
    return tuple(choices), LETTERS[choices.index(outcome.text)]


def _readings(pattern: Pattern, values: Mapping[str, Drawn]) -> Table | None:
    """The table of raw readings a measure-then-compare question asks for."""
    if not pattern.measure_then_compare:
        return None
    own = [value.quantity for value in values.values() if value.quantity]
    if not own:
        header = ("Reading", *(str(index + 1) for index in range(READINGS)))
        return Table(header, (("Value with its unit", *(None,) * READINGS),), row_headers=True)
    rows = tuple((quantity.title, quantity.nominal, None) for quantity in own)
    return Table(("What", "Nominal", "My reading"), rows, row_headers=True)


def _space_lines(pattern: Pattern, choices: tuple[str, ...], version: Version) -> int:
    """A letter is ringed; only the version with sentence starters asks for the reason."""
    if choices:
        return 1 if version == "pictured" else 0
    return pattern.space_lines


def _starter(pattern: Pattern, version: Version) -> str:
    if version != "pictured":
        return ""
    if pattern.measure_then_compare:
        return STARTERS["readings"]
    return STARTERS["computed" if pattern.computed else "written"]


def _note(pattern: Pattern, outcome: Outcome | None, values: Mapping[str, Drawn]) -> str:
    notes = []
    if pattern.measure_then_compare:
        basis = (
            "recorded"
            if any(v.quantity and v.quantity.measured for v in values.values())
            else ("nominal")
        )
        notes.append(
            f"Mark against the student's own readings: the value here is from the {basis} ones."
        )
    if outcome and pattern.written:
        notes.append(filled(pattern.written, values, shown=True))
    return " ".join(notes)


def worked_steps(steps: Sequence[WorkingStep]) -> tuple[WorkedStep, ...]:
    """Formula, numbers in it, result: each a formula with its words."""
    lines: list[WorkedStep] = []
    for step in steps:
        for line, text in (
            (step.formula, "Found by trial from" if step.numeric else ""),
            (step.substitution, ""),
            (step.result, ""),
        ):
            if line and (not lines or lines[-1].formula is None or lines[-1].formula.typst != line):
                lines.append(WorkedStep(text, Formula(line, spoken(line) or line)))
    return tuple(lines)


def exposure_question(
    exposure: ExposureFacts, treatment: TreatmentFacts, number: int, asking: Asking
) -> AskedQuestion:
    """A question for a concept without patterns: what the bench step shows, and the reading."""
    reading = exposure.reading or "one reading or observation from the bench"
    prompt = (
        f"{exposure.step_title}: {exposure.shows.rstrip('.')}. "
        f"Write down {reading.rstrip('.')}, with its unit, and say in one sentence what it shows."
    )
    question = QuestionBlock(
        number=number,
        text=prompt,
        space_lines=3,
        starter=STARTERS["readings"] if asking.version == "pictured" else "",
        codes=treatment.codes[:2],
    )
    answer = Answer(
        number=number,
        concept=treatment.title,
        text="The student's own reading with its unit, and a sentence that uses it.",
        prompt=prompt,
        note=f"It should show: {exposure.shows}",
        question_key=f"bench-{exposure.step}",
    )
    return AskedQuestion(question, answer)
