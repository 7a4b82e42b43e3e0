"""Between the library and a worksheet: a phase, step, concept or standard as a request."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Literal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.bands import BANDS, bands_apart
from app.domain.cautions import HAZARDOUS
from app.domain.papers import worksheets as sheet
from app.domain.papers.document import Version
from app.models import Alignment, Build, Concept, Phase, Question, Section, Step, Team, Treatment
from app.store import library, sections
from app.store.missing import Missing
from app.store.paper.papers import hazard_of
from app.store.paper.saved_papers import pattern_value
from app.store.standard import standards


@dataclass(frozen=True)
class Wanted:
    """What a worksheet is asked for: a phase, step, concept or standard, and how.

    `band` is the section's own where it is empty; `address` is the public address under
    which calculators open with the sheet's values.
    """

    scope: sheet.Scope
    name: str
    seed: str = "1"
    band: str = ""
    minutes: int = 25
    version: Version = "standard"
    date: dt.date | None = None
    address: str = ""


@dataclass(frozen=True)
class _Subject:
    """Title, steps and the concepts asked about; empty concepts means all the steps show."""

    title: str
    steps: Sequence[Step]
    concept_ids: tuple[int, ...] = ()


def worksheet_request(session: Session, section: Section, wanted: Wanted) -> sheet.WorksheetRequest:
    """The worksheet asked for, not yet for one team.

    Raises Missing for a phase, step, concept or standard that does not exist.
    """
    band = wanted.band or section.band
    school_id = section.course.department.school_id
    subject = _SUBJECTS[wanted.scope](session, section, wanted.name, band)
    shown = list(
        dict.fromkeys(
            (
                *subject.concept_ids,
                *(
                    exposure.concept_id
                    for step in subject.steps
                    for exposure in step.exposures
                    if not subject.concept_ids
                ),
            )
        )
    )
    treatments = {
        item.concept_id: item
        for item in library.list_treatments(session, band, school_id)
        if item.concept_id in shown
    }
    return sheet.WorksheetRequest(
        title=subject.title,
        seed=wanted.seed,
        treatments=tuple(treatment_value(treatments[c]) for c in shown if c in treatments),
        exposures=tuple(
            sheet.ExposureFacts(
                step=step.key,
                step_title=step.title,
                concept=exposure.concept.key,
                shows=exposure.shows,
                reading=exposure.reading,
            )
            for step in subject.steps
            for exposure in step.exposures
            if exposure.concept_id in treatments
        ),
        cautions=tuple(hazard_of(s) for s in subject.steps if s.hazard_class in HAZARDOUS),
        quantities=nominal_values(section.build),
        steps=tuple(step.key for step in subject.steps),
        section=section.title,
        place=section.build.title,
        date=wanted.date,
        band=BANDS[band],
        minutes=wanted.minutes,
        version=wanted.version,
        other_bands=nearest_bands(session, shown, band, school_id),
        address=f"{wanted.address}/go/{section.id}" if wanted.address else "",
    )


def _of_phase(session: Session, section: Section, key: str, _band: str) -> _Subject:
    phase = find_phase(section.build, key)
    steps = sections.load_steps(session, section.build_id)
    return _Subject(phase.title, [step for step in steps if step.phase_id == phase.id])


def _of_step(session: Session, section: Section, key: str, _band: str) -> _Subject:
    for step in sections.load_steps(session, section.build_id):
        if step.key == key:
            return _Subject(f"{step.key} {step.title}", [step])
    raise Missing(f"step {key} of {section.build.title}")


def _of_concept(session: Session, section: Section, key: str, _band: str) -> _Subject:
    concept = library.find_concept(session, key, section.course.department.school_id)
    return _Subject(concept.title, concept_steps(session, section, concept), (concept.id,))


def _of_standard(session: Session, section: Section, code: str, band: str) -> _Subject:
    """The treatments aligned to a standard, at the band first, and the steps that show them."""
    school_id = section.course.department.school_id
    try:
        standard = standards.resolve(session, school_id, code)
    except ValueError as error:
        raise Missing(f"standard {code}: {error}") from error
    query = (
        sa.select(Treatment.concept_id, Treatment.band)
        .join(Alignment, Alignment.treatment_id == Treatment.id)
        .where(
            Alignment.standard_id == standard.id,
            library.holding(school_id),
            library.shared_or_own(Treatment.school_id, school_id),
            Treatment.id.not_in(library.in_place_of(session, school_id)),
        )
        .distinct()
    )
    rows = session.execute(query).all()
    here = [concept_id for concept_id, at in rows if at == band]
    ids = tuple(here or [concept_id for concept_id, _ in rows])
    steps = [
        step
        for step in sections.load_steps(session, section.build_id)
        if any(exposure.concept_id in ids for exposure in step.exposures)
    ]
    if not ids:
        raise Missing(f"standard {standard.code}: no lesson of the library is aligned to it")
    return _Subject(standard.code, steps, ids)


_SUBJECTS = {
    "phase": _of_phase,
    "step": _of_step,
    "concept": _of_concept,
    "standard": _of_standard,
}


def nearest_bands(
    session: Session, concept_ids: Sequence[int], band: str, school_id: int
) -> tuple[str, ...]:
    """The other grade bands at which these concepts have a lesson, nearest first."""
    query = (
        sa.select(Treatment.band)
        .where(
            Treatment.concept_id.in_(concept_ids),
            Treatment.band != band,
            library.shared_or_own(Treatment.school_id, school_id),
        )
        .distinct()
    )
    return tuple(sorted(session.scalars(query), key=lambda key: (bands_apart(key, band), key)))


def team_holders(session: Session, section: Section) -> list[sheet.Holder]:
    """Each team with its instrument."""
    return [
        sheet.Holder(team.code, team_values(team, section.build), team.id)
        for team in sections.load_teams(session, section)
    ]


def holders(
    session: Session, section: Section, per: Literal["team", "student"], *, on: dt.date
) -> list[sheet.Holder]:
    """For whom a class set is: each team, or each student enrolled, with the team's instrument."""
    teams = team_holders(session, section)
    if per == "team":
        return teams
    values = {holder.number: holder.quantities for holder in teams}
    plain = nominal_values(section.build)
    return [
        sheet.Holder(student.code, values.get(student.team_id or 0, plain), student.team_id or 0)
        for student in section.students
        if student.enrolled(on)
    ]


def calculator_of_sheet(
    session: Session, section_id: int, team_id: int, treatment_id: int
) -> tuple[str, dict[str, str]]:
    """The calculator and its entries that a sheet's short address stands for.

    Raises Missing where the treatment has no calculator or the section is gone.
    """
    section, row = session.get(Section, section_id), session.get(Treatment, treatment_id)
    if section is None or row is None or row.calculator is None:
        raise Missing("this sheet’s calculator")
    if row.school_id not in (None, section.course.department.school_id):
        raise Missing("this sheet’s calculator")
    team = session.get(Team, team_id)
    own = team is not None and team.section_id == section.id
    values = team_values(team, section.build) if team and own else nominal_values(section.build)
    return row.calculator, sheet.example_values(treatment_value(row), values)


def find_phase(build: Build, key: str) -> Phase:
    """A phase of a build by key.

    Raises Missing.
    """
    for phase in build.phases:
        if phase.key == key:
            return phase
    raise Missing(f"phase {key}; known: {', '.join(phase.key for phase in build.phases)}")


def treatment_value(row: Treatment) -> sheet.TreatmentFacts:
    """A treatment with its question patterns as the generator's value."""
    return sheet.TreatmentFacts(
        concept=row.concept.key,
        title=row.title,
        goal=row.goal,
        explanation=row.explanation,
        vocabulary=tuple((word["term"], word["meaning"]) for word in row.vocabulary),
        calculator=row.calculator,
        patterns=tuple(_pattern(question) for question in row.questions),
        # Two frameworks may have the same code.
        codes=tuple(
            dict.fromkeys(
                item.standard.code if item.strength == "strong" else f"({item.standard.code})"
                for item in row.alignments
                if not item.practice
            )
        ),
        minutes=row.minutes,
        number=row.id,
    )


def _pattern(question: Question) -> sheet.Pattern:
    return pattern_value(
        {item.name: getattr(question, item.name) for item in fields(sheet.Pattern)}
    )


def nominal_values(build: Build) -> tuple[sheet.QuantityFacts, ...]:
    """The build's nominal quantities, for a sheet that belongs to no team."""
    return tuple(
        sheet.QuantityFacts(key=item["key"], title=item["title"], nominal=item["nominal"])
        for item in build.quantities
    )


def team_values(team: Team, build: Build) -> tuple[sheet.QuantityFacts, ...]:
    """A team's own quantities: nominal, and measured where they have been."""
    titles = {item["key"]: item["title"] for item in build.quantities}
    return tuple(
        sheet.QuantityFacts(
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
