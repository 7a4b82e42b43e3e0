"""Question patterns of a treatment, each filled in once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.domain.papers import worksheets as sheet
from app.domain.papers.worksheets.questions import Asking, ask
from app.models import Build, Exposure, Question, Treatment
from app.store.paper import worksheets


@dataclass(frozen=True, slots=True)
class Example:
    """A question pattern filled in once; `trouble` says why it could not be."""

    question: Question
    text: str
    choices: tuple[str, ...]
    answer: str
    source: str
    trouble: str


def by_build(exposures: Iterable[Exposure]) -> dict[str, list[Exposure]]:
    """Exposures by build key; of several versions only the last (the school's newest)."""
    found: dict[str, dict[int, list[Exposure]]] = {}
    for item in exposures:
        build = item.step.phase.build
        found.setdefault(build.key, {}).setdefault(build.id, []).append(item)
    return {key: versions[max(versions)] for key, versions in found.items()}


def examples(row: Treatment, places: dict[str, list[Exposure]]) -> list[Example]:
    """Each pattern with one instance, from the first build whose quantities it can use."""
    builds = [items[0].step.phase.build for items in places.values()]
    treatment = worksheets.treatment_value(row)
    return [
        _example(pattern, treatment, question, builds)
        for pattern, question in zip(treatment.patterns, row.questions, strict=True)
    ]


def _example(
    pattern: sheet.Pattern,
    treatment: sheet.TreatmentFacts,
    question: Question,
    builds: Sequence[Build],
) -> Example:
    trouble = ""
    sources: list[Build | None] = [*builds] or [None]
    for build in sources:
        quantities = worksheets.nominal_values(build) if build is not None else ()
        try:
            asked = ask(pattern, treatment, 1, _asking(quantities))
        except ValueError as error:
            trouble = str(error)
            continue
        return Example(
            question,
            asked.question.text,
            asked.question.choices,
            asked.answer.text,
            build.title if build is not None else "",
            "",
        )
    return Example(question, "", (), "", "", trouble)


def _asking(quantities: Sequence[sheet.QuantityFacts]) -> Asking:
    return Asking({item.key: item for item in quantities}, "1", "", "standard")
