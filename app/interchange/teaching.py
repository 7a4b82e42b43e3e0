"""What the schema cannot say about lessons: they fit a meeting, their codes fit the band, and
their questions can be computed wherever their parameters may lie.
"""

import itertools
import math
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app import models
from app.domain.bands import BANDS, GRADES, grade_number
from app.domain.calculators import InvalidInput
from app.domain.papers.worksheets import Computed, QuantityFacts, QuestionParameter
from app.domain.papers.worksheets.values import Drawn, NotComputable, compute, draw, filled
from app.interchange import library_file as schema
from app.interchange.files import BadFile, Mistake, parts
from app.store import library

CORNERS = 64
"""Combinations of extreme values that are tried in full; of more, as many drawn ones are tried."""


def require_teachable(
    session: Session, content: schema.LibraryFile, *, name: str, school_id: int | None
) -> None:
    """Check codes and questions of a file's treatments.

    Raises BadFile with every mistake.
    """
    given = parts(content)
    quantities = _quantities(session, given, school_id)
    grades = _grades(session, given, school_id)
    mistakes = [
        Mistake(name, f"{concept}, {BANDS[treatment.band]}", sentence)
        for concept, treatment in _treatments(given)
        for sentence in treatment_mistakes(treatment, quantities, grades)
    ]
    if mistakes:
        raise BadFile(mistakes)


def long_lessons(session: Session, content: schema.LibraryFile, school_id: int) -> list[str]:
    """A sentence for each lesson that is longer than every meeting of its grade band.

    In a package that is no mistake, because other schools have longer meetings.
    """
    longest = library.longest_meetings(session, school_id)
    return [
        f"{concept}: {sentence}"
        for concept, treatment in _treatments(parts(content))
        if (sentence := length_mistake(treatment, longest))
    ]


def own_treatment_mistakes(
    session: Session, treatment: schema.TreatmentEntry, school_id: int
) -> list[str]:
    """What keeps a school's own treatment from being taught there."""
    quantities = _quantities(session, (), school_id)
    grades = _grades(session, (), school_id)
    long = length_mistake(treatment, library.longest_meetings(session, school_id))
    return [*([long] if long else []), *treatment_mistakes(treatment, quantities, grades)]


def _treatments(given: Iterable[object]) -> Iterator[tuple[str, schema.TreatmentEntry]]:
    for part in given:
        if isinstance(part, schema.ConceptEntry):
            for treatment in part.treatments:
                yield part.key, treatment


def length_mistake(treatment: schema.TreatmentEntry, longest: Mapping[str, int]) -> str:
    """A sentence if the lesson is longer than every meeting of its band, otherwise nothing."""
    minutes = longest.get(treatment.band)
    if minutes is None or treatment.minutes <= minutes:
        return ""
    return (
        f"the lesson takes {treatment.minutes} minutes, but no meeting of {BANDS[treatment.band]} "
        f"has more than {minutes} between opening and clean-up; shorten it or split it"
    )


def treatment_mistakes(
    treatment: schema.TreatmentEntry,
    quantities: Mapping[str, Sequence[str]],
    grades: Mapping[tuple[str, str], tuple[str, str]],
) -> Iterator[str]:
    """A sentence for each mistake.

    `quantities` has the nominal values of each instrument quantity, `grades` the lowest and
    highest grade of each (framework, code).
    """
    for item in treatment.alignments:
        known = grades.get((item.framework, item.code))
        if known is not None and not item.practice and not _overlap(known, treatment.band):
            yield (
                f"{item.code} belongs to grades {known[0]} to {known[1]}, not to "
                f"{BANDS[treatment.band]}; align another code or another grade band"
            )
    for question in treatment.questions:
        yield from (
            f"question {question.key}: {sentence}"
            for sentence in question_mistakes(question, quantities)
        )


def _overlap(grades: tuple[str, str], band: str) -> bool:
    low, high = GRADES[band]
    return grade_number(grades[0]) <= high and low <= grade_number(grades[1])


def question_mistakes(
    question: schema.QuestionEntry, quantities: Mapping[str, Sequence[str]]
) -> list[str]:
    """What is wrong with a pattern: names nothing stands for, or values with no answer."""
    unknown = sorted(
        {p.quantity for p in question.parameters.values() if p.quantity} - quantities.keys()
    )
    if unknown:
        return [f"no build has the instrument quantity {', '.join(unknown)}"]
    try:
        for values in _trials(question, quantities):
            filled(question.prompt, values, shown=True)
            if question.computed is not None:
                compute(Computed(**question.computed.model_dump()), values)
    except (InvalidInput, NotComputable) as refusal:
        return [f"it cannot be answered for every value: {str(refusal).rstrip('.')}"]
    return []


def _trials(
    question: schema.QuestionEntry, quantities: Mapping[str, Sequence[str]]
) -> Iterator[dict[str, Drawn]]:
    """Every combination of the parameters' extremes; of too many, a fixed draw of as many."""
    names = list(question.parameters)
    extremes = [list(_extremes(question.parameters[name], quantities)) for name in names]
    if math.prod(len(values) for values in extremes) <= CORNERS:
        for chosen in itertools.product(*extremes):
            yield dict(zip(names, chosen, strict=True))
        return
    source = random.Random(question.key)  # noqa: S311 - the same trials every time, no secret
    for _ in range(CORNERS):
        yield {name: source.choice(extremes[place]) for place, name in enumerate(names)}


def _extremes(
    parameter: schema.ParameterEntry, quantities: Mapping[str, Sequence[str]]
) -> Iterable[Drawn]:
    if parameter.quantity is not None:
        key = parameter.quantity
        return [
            Drawn(text, QuantityFacts(key, key, text)) for text in quantities[parameter.quantity]
        ]
    ends: list[str | float]
    if parameter.choose:
        ends = list(parameter.choose)
    else:
        assert parameter.low is not None  # noqa: S101 - the schema asks for both
        assert parameter.high is not None  # noqa: S101
        assert parameter.step is not None  # noqa: S101
        steps = math.floor((parameter.high - parameter.low) / parameter.step + 1e-9)
        ends = [parameter.low, parameter.low + steps * parameter.step]
    return [
        next(
            iter(
                draw(
                    {"it": QuestionParameter(choose=(end,), unit=parameter.unit)}, {}, _FIRST
                ).values()
            )
        )
        for end in dict.fromkeys(ends)
    ]


_FIRST = random.Random(0)  # noqa: S311 - one choice leaves nothing to chance


def _quantities(
    session: Session, given: Sequence[object], school_id: int | None
) -> dict[str, list[str]]:
    found: dict[str, dict[str, None]] = {}
    rows = [
        (item["key"], item["nominal"])
        for build in library.list_builds(session, school_id)
        for item in build.quantities
    ]
    rows += [
        (item.key, item.nominal)
        for part in given
        if isinstance(part, schema.BuildEntry)
        for item in part.quantities
    ]
    for key, nominal in rows:
        found.setdefault(key, {})[nominal] = None
    return {key: list(values) for key, values in found.items()}


def _grades(
    session: Session, given: Sequence[object], school_id: int | None
) -> dict[tuple[str, str], tuple[str, str]]:
    query = (
        sa.select(
            models.Framework.key,
            models.Standard.code,
            models.Standard.grade_low,
            models.Standard.grade_high,
        )
        .join(models.Framework)
        .where(library.shared_or_own(models.Framework.school_id, school_id))
    )
    found = {(row[0], row[1]): (row[2], row[3]) for row in session.execute(query)}
    for part in given:
        if isinstance(part, schema.FrameworkEntry):
            found.update(
                ((part.key, item.code), (item.grade_low, item.grade_high))
                for item in part.standards
            )
    return found
