"""Builds, concepts and treatments of the library, shipped and a school's own."""

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from app.models import (
    Alignment,
    Build,
    Concept,
    Exposure,
    Phase,
    Question,
    Standard,
    Step,
    Treatment,
)
from app.store.missing import Missing


def _visible(school_id: int | None) -> sa.ColumnElement[bool]:
    return sa.or_(Build.school_id.is_(None), Build.school_id == school_id)


def list_builds(session: Session, school_id: int | None) -> list[Build]:
    """Shipped builds and the school's own, newest version of each last."""
    query = sa.select(Build).where(_visible(school_id)).order_by(Build.title, Build.id)
    return list(session.scalars(query.options(selectinload(Build.phases))))


def load_build(session: Session, school_id: int | None, build_id: int) -> Build:
    """A build by id.

    Raises Missing.
    """
    build = session.scalar(sa.select(Build).where(Build.id == build_id, _visible(school_id)))
    if build is None:
        raise Missing(f"build {build_id}")
    return build


def find_build(session: Session, school_id: int | None, key: str) -> Build:
    """The newest version of a build by key, with phases, steps and exposures.

    Raises Missing.
    """
    build = session.scalar(
        sa.select(Build)
        .where(Build.key == key, _visible(school_id))
        .order_by(Build.school_id.is_(None), Build.id.desc())
        .limit(1)
        .options(
            selectinload(Build.phases)
            .selectinload(Phase.steps)
            .selectinload(Step.exposures)
            .joinedload(Exposure.concept)
        )
    )
    if build is None:
        raise Missing(f"build {key}")
    return build


def list_concepts(session: Session) -> list[Concept]:
    """All concepts with their treatments."""
    query = sa.select(Concept).order_by(Concept.subject, Concept.title)
    return list(session.scalars(query.options(selectinload(Concept.treatments))))


def find_concept(session: Session, key: str) -> Concept:
    """A concept with treatments, questions and alignments.

    Raises Missing.
    """
    treatments = selectinload(Concept.treatments)
    concept = session.scalar(
        sa.select(Concept)
        .where(Concept.key == key)
        .options(
            treatments.selectinload(Treatment.questions),
            treatments.selectinload(Treatment.alignments)
            .joinedload(Alignment.standard)
            .joinedload(Standard.framework),
        )
    )
    if concept is None:
        raise Missing(f"concept {key}")
    return concept


def list_exposures(session: Session, concept_id: int) -> list[Exposure]:
    """Where builds show a concept, in build and step order."""
    query = (
        sa.select(Exposure)
        .join(Step)
        .join(Phase)
        .join(Build)
        .where(Exposure.concept_id == concept_id)
        .order_by(Build.title, Phase.position, Step.position)
        .options(joinedload(Exposure.step).joinedload(Step.phase).joinedload(Phase.build))
    )
    return list(session.scalars(query))


def list_treatments(session: Session, band: str) -> list[Treatment]:
    """All treatments at a grade band, with concept, questions and alignments."""
    query = (
        sa.select(Treatment)
        .where(Treatment.band == band)
        .order_by(Treatment.id)
        .options(
            joinedload(Treatment.concept),
            selectinload(Treatment.questions),
            selectinload(Treatment.alignments)
            .joinedload(Alignment.standard)
            .joinedload(Standard.framework),
        )
    )
    return list(session.scalars(query))


def counts(session: Session) -> dict[str, int]:
    """How much the library holds, by kind."""
    tables = {
        "builds": Build,
        "phases": Phase,
        "steps": Step,
        "concepts": Concept,
        "exposures": Exposure,
        "treatments": Treatment,
        "questions": Question,
        "alignments": Alignment,
    }
    return {
        name: session.scalar(sa.select(sa.func.count()).select_from(table)) or 0
        for name, table in tables.items()
    }
