"""Between the library and a worksheet: a phase, step, concept or standard as a request."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain import worksheets as sheet
from app.domain.bands import BANDS
from app.domain.cautions import HAZARDOUS, PROTECTION, SUPERVISION
from app.domain.document import Version
from app.models import Build, Concept, Phase, Section, Step, Team, Treatment
from app.store import library, sections
from app.store.missing import Missing


def phase_request(
    session: Session,
    section: Section,
    phase_key: str,
    *,
    seed: str,
    band: str | None = None,
    minutes: int = 25,
    version: Version = "standard",
    date: dt.date | None = None,
) -> sheet.WorksheetRequest:
    """The worksheet request of a phase at a grade band, not yet for one team.

    Raises Missing for an unknown phase.
    """
    phase = find_phase(section.build, phase_key)
    steps = [
        step for step in sections.load_steps(session, section.build_id) if step.phase_id == phase.id
    ]
    return step_request(
        session,
        section,
        steps,
        title=phase.title,
        seed=seed,
        band=band,
        minutes=minutes,
        version=version,
        date=date,
    )


def step_request(
    session: Session,
    section: Section,
    steps: Sequence[Step],
    *,
    title: str,
    seed: str,
    band: str | None = None,
    minutes: int = 25,
    version: Version = "standard",
    date: dt.date | None = None,
    concepts: Sequence[str] = (),
) -> sheet.WorksheetRequest:
    """A worksheet request over some steps, optionally only for some concepts (by key)."""
    band = band or section.band
    shown = list(
        dict.fromkeys(
            exposure.concept_id
            for step in steps
            for exposure in step.exposures
            if not concepts or exposure.concept.key in concepts
        )
    )
    treatments = {
        item.concept_id: item
        for item in library.list_treatments(session, band, section.course.department.school_id)
        if item.concept_id in shown
    }
    return sheet.WorksheetRequest(
        title=title,
        seed=seed,
        treatments=tuple(treatment_value(treatments[c]) for c in shown if c in treatments),
        exposures=tuple(
            sheet.Exposure(
                step=step.key,
                step_title=step.title,
                concept=exposure.concept.title,
                shows=exposure.shows,
                reading=exposure.reading,
            )
            for step in steps
            for exposure in step.exposures
            if exposure.concept_id in treatments
        ),
        cautions=tuple(caution_value(step) for step in steps if step.hazard_class in HAZARDOUS),
        quantities=nominal_values(section.build),
        steps=tuple(step.key for step in steps),
        section=section.title,
        place=section.build.title,
        date=date,
        band=BANDS[band],
        minutes=minutes,
        version=version,
        other_bands=_other_bands(session, shown, band),
    )


def find_phase(build: Build, key: str) -> Phase:
    """A phase of a build by key.

    Raises Missing.
    """
    for phase in build.phases:
        if phase.key == key:
            return phase
    raise Missing(f"phase {key}; known: {', '.join(phase.key for phase in build.phases)}")


def _other_bands(session: Session, concept_ids: Sequence[int], band: str) -> tuple[str, ...]:
    query = (
        sa.select(Treatment.band)
        .where(Treatment.concept_id.in_(concept_ids), Treatment.band != band)
        .distinct()
    )
    return tuple(BANDS[key] for key in BANDS if key in set(session.scalars(query)))


def treatment_value(row: Treatment) -> sheet.Treatment:
    """A treatment with its question patterns as the generator's value."""
    return sheet.Treatment(
        concept=row.concept.title,
        title=row.title,
        goal=row.goal,
        explanation=row.explanation,
        vocabulary=tuple((word["term"], word["meaning"]) for word in row.vocabulary),
        calculator=row.calculator,
        patterns=tuple(_pattern(question) for question in row.questions),
        codes=tuple(
            item.standard.code if item.strength == "strong" else f"({item.standard.code})"
            for item in row.alignments
            if not item.practice
        ),
        minutes=row.minutes,
    )


def _pattern(question: Any) -> sheet.Pattern:
    return sheet.Pattern(
        key=question.key,
        prompt=question.prompt,
        parameters={
            name: sheet.Parameter(**{**given, "choose": tuple(given.get("choose", ()))})
            for name, given in question.parameters.items()
        },
        computed=_computed(question.computed),
        written=question.written,
        wrong=tuple(
            sheet.WrongOption(
                misconception=item["misconception"],
                text=item["text"],
                computed=_computed(item["computed"]),
            )
            for item in question.wrong
        ),
        depth_of_knowledge=question.depth_of_knowledge,
        measure_then_compare=question.measure_then_compare,
        steps=tuple(question.steps),
        space_lines=question.space_lines,
    )


def _computed(given: dict[str, Any] | None) -> sheet.Computed | None:
    return sheet.Computed(**given) if given else None


def caution_value(step: Step) -> sheet.StepCaution:
    """A hazardous step's cautions as papers show them."""
    sources = [caution["source"] for caution in step.cautions]
    return sheet.StepCaution(
        step_title=step.title,
        hazards=tuple(caution["text"] for caution in step.cautions) or tuple(step.hazards),
        protection=tuple(PROTECTION[item] for item in step.protection),
        supervision=SUPERVISION[step.supervision],
        sources=tuple(dict.fromkeys(s for s in sources if not s.startswith("common practice"))),
    )


def nominal_values(build: Build) -> tuple[sheet.InstrumentQuantity, ...]:
    """The build's nominal quantities, for a sheet that belongs to no team."""
    return tuple(
        sheet.InstrumentQuantity(key=item["key"], title=item["title"], nominal=item["nominal"])
        for item in build.quantities
    )


def team_values(team: Team, build: Build) -> tuple[sheet.InstrumentQuantity, ...]:
    """A team's own quantities: nominal, and measured where they have been."""
    titles = {item["key"]: item["title"] for item in build.quantities}
    return tuple(
        sheet.InstrumentQuantity(
            key=row.key,
            title=titles.get(row.key, row.key.replace("_", " ").capitalize()),
            nominal=row.nominal,
            measured=row.measured,
        )
        for row in team.instrument.quantities
    )


def concept_steps(session: Session, section: Section, concept: Concept) -> list[Step]:
    """The steps of the section's build that show a concept."""
    return [
        step
        for step in sections.load_steps(session, section.build_id)
        if any(exposure.concept_id == concept.id for exposure in step.exposures)
    ]
