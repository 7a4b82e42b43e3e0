"""Library files into the database, and out of it again. Loading twice changes nothing."""

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from pydantic import BaseModel
from sqlalchemy.orm import Session

from app import models
from app.db import Base
from app.interchange import library as schema
from app.interchange.files import BadFile, Mistake, parts


@dataclass(frozen=True)
class Change:
    """What loading did, or would do, to one part of the library."""

    kind: str
    key: str
    what: str
    """'added', 'changed' or 'unchanged'."""


def load(
    session: Session, content: schema.LibraryFile, *, name: str, school_id: int | None = None
) -> list[Change]:
    """Add or change the library by a checked file; the caller commits.

    Raises BadFile, with every unknown key, before anything is changed.
    """
    mistakes = [
        Mistake(name, place, sentence) for place, sentence in _unknown_keys(session, content)
    ]
    if mistakes:
        raise BadFile(mistakes)
    changes: list[Change] = []
    for part in parts(content):
        if isinstance(part, schema.Workshop):
            changes += _load_workshop(session, part)
        elif isinstance(part, schema.Framework):
            changes.append(_load_framework(session, part, school_id))
        elif isinstance(part, schema.Concept):
            changes.append(_load_concept(session, part))
        else:
            changes.append(_load_build(session, part, school_id, name))
        session.flush()
    return changes


def _keys(session: Session, column: Any) -> set[str]:
    return set(session.scalars(sa.select(column)))


def _unknown_keys(session: Session, content: schema.LibraryFile) -> list[tuple[str, str]]:
    """References to stations, permits, materials, fixtures and concepts nobody has defined."""
    given = parts(content)
    workshops = [part for part in given if isinstance(part, schema.Workshop)]
    known = {
        "station": _keys(session, models.StationType.key)
        | {item.key for shop in workshops for item in shop.stations},
        "permit": _keys(session, models.PermitType.key)
        | {item.key for shop in workshops for item in shop.permits},
        "fixture": _keys(session, models.FixtureType.key)
        | {item.key for shop in workshops for item in shop.fixtures},
        "material": _keys(session, models.Material.key)
        | {item.key for shop in workshops for item in shop.materials},
        "concept": _keys(session, models.Concept.key)
        | {part.key for part in given if isinstance(part, schema.Concept)},
    }
    found = []
    for build in (part for part in given if isinstance(part, schema.Build)):
        for step in build.steps:
            found += [
                (f"step {step.key}", f"names the {kind} {key}, which the library does not have")
                for kind, key in _references(step)
                if key not in known[kind]
            ]
    for concept in (part for part in given if isinstance(part, schema.Concept)):
        found += _unknown_codes(session, concept, given)
    return found


def _references(step: schema.Step) -> list[tuple[str, str]]:
    return [
        ("station", step.station),
        *([("permit", step.permit)] if step.permit else []),
        *(("permit", key) for key in step.grants),
        *(("fixture", hold.fixture) for hold in step.holds),
        *(("material", item.material) for item in step.materials),
        *(("concept", item.concept) for item in step.exposures),
    ]


def _unknown_codes(
    session: Session, concept: schema.Concept, given: list[Any]
) -> list[tuple[str, str]]:
    found = []
    for treatment in concept.treatments:
        for item in treatment.alignments:
            in_file = any(
                isinstance(part, schema.Framework)
                and part.key == item.framework
                and any(standard.code == item.code for standard in part.standards)
                for part in given
            )
            if not in_file and _standard(session, item.framework, item.code) is None:
                found.append(
                    (
                        f"treatment {treatment.band}",
                        (
                            f"{item.framework} has no code {item.code}; load the framework first "
                            "or correct the code"
                        ),
                    )
                )
    return found


def _standard(session: Session, framework: str, code: str) -> models.Standard | None:
    return session.scalar(
        sa.select(models.Standard)
        .join(models.Framework)
        .where(models.Framework.key == framework, models.Standard.code == code)
    )


def _fill(row: Base, values: dict[str, Any]) -> bool:
    """Set the columns that differ; say whether any did."""
    changed = False
    for name, value in values.items():
        if getattr(row, name) != value:
            setattr(row, name, value)
            changed = True
    return changed


def _plain(entry: BaseModel, *without: str) -> dict[str, Any]:
    return entry.model_dump(mode="json", exclude=set(without))


def _what(*, new: bool, changed: bool) -> str:
    return "added" if new else "changed" if changed else "unchanged"


def _load_workshop(session: Session, workshop: schema.Workshop) -> list[Change]:
    changes = []
    kinds: list[tuple[str, type[Any], list[Any]]] = [
        ("station", models.StationType, list(workshop.stations)),
        ("fixture", models.FixtureType, list(workshop.fixtures)),
        ("permit", models.PermitType, list(workshop.permits)),
        ("material", models.Material, list(workshop.materials)),
    ]
    for kind, table, entries in kinds:
        rows = {row.key: row for row in session.scalars(sa.select(table))}
        for entry in entries:
            row = rows.get(entry.key)
            if row is None:
                session.add(table(**_plain(entry)))
            what = _what(new=row is None, changed=row is not None and _fill(row, _plain(entry)))
            changes.append(Change(kind, entry.key, what))
    return changes


def _load_framework(session: Session, framework: schema.Framework, school_id: int | None) -> Change:
    row = session.scalar(
        sa.select(models.Framework).where(
            models.Framework.key == framework.key,
            models.Framework.school_id.is_(school_id)
            if school_id is None
            else models.Framework.school_id == school_id,
        )
    )
    new = row is None
    if row is None:
        row = models.Framework(school_id=school_id, **_plain(framework, *_FILE_ONLY, "standards"))
        session.add(row)
    changed = _fill(row, _plain(framework, *_FILE_ONLY, "standards"))
    known = {standard.code: standard for standard in row.standards}
    for position, standard in enumerate(framework.standards):
        values = {**_plain(standard), "position": position}
        if standard.code in known:
            changed |= _fill(known[standard.code], values)
        else:
            row.standards.append(models.Standard(**values))
            changed = True
    return Change("framework", framework.key, _what(new=new, changed=changed))


_FILE_ONLY = ("kind", "schema_version")


def _load_concept(session: Session, concept: schema.Concept) -> Change:
    row = session.scalar(sa.select(models.Concept).where(models.Concept.key == concept.key))
    new = row is None
    if row is None:
        row = models.Concept(**_plain(concept, *_FILE_ONLY, "treatments"))
        session.add(row)
    elif concept_file(row) == concept:
        return Change("concept", concept.key, "unchanged")
    _fill(row, _plain(concept, *_FILE_ONLY, "treatments"))
    kept = {treatment.band: treatment for treatment in row.treatments}
    bands = {treatment.band for treatment in concept.treatments}
    for band, treatment_row in kept.items():
        if band not in bands:
            row.treatments.remove(treatment_row)
    for position, treatment in enumerate(concept.treatments):
        values = {**_plain(treatment, "questions", "alignments"), "position": position}
        target = kept.get(treatment.band)
        if target is None:
            target = models.Treatment(**values)
            row.treatments.append(target)
        _fill(target, values)
        _load_questions(session, target, treatment)
    return Change("concept", concept.key, _what(new=new, changed=True))


def _load_questions(session: Session, row: models.Treatment, treatment: schema.Treatment) -> None:
    row.questions.clear()
    row.alignments.clear()
    session.flush()
    for position, question in enumerate(treatment.questions):
        row.questions.append(models.Question(position=position, **_plain(question)))
    for item in treatment.alignments:
        standard = _standard(session, item.framework, item.code)
        assert standard is not None  # noqa: S101 - _unknown_codes has made sure
        row.alignments.append(
            models.Alignment(
                standard_id=standard.id,
                decided_by="library",
                decided_on="",
                **_plain(item, "framework", "code"),
            )
        )


def _load_build(session: Session, build: schema.Build, school_id: int | None, name: str) -> Change:
    mine = (
        models.Build.school_id.is_(None)
        if school_id is None
        else models.Build.school_id == school_id
    )
    row = session.scalar(
        sa.select(models.Build).where(
            models.Build.key == build.key, models.Build.version == build.version, mine
        )
    )
    new = row is None
    if row is not None:
        if build_file(row) == build:
            return Change("build", build.key, "unchanged")
        if session.scalar(sa.select(models.Section.id).where(models.Section.build_id == row.id)):
            sentence = (
                f"{build.key} version {build.version} is used by a section and stays as it is; "
                "give the changed build a new version"
            )
            raise BadFile([Mistake(name, "version", sentence)])
        session.delete(row)
        session.flush()
    session.add(_build_row(session, build, school_id))
    return Change("build", build.key, _what(new=new, changed=True))


def _build_row(session: Session, build: schema.Build, school_id: int | None) -> models.Build:
    materials = {row.key: row for row in session.scalars(sa.select(models.Material))}
    concepts = {row.key: row for row in session.scalars(sa.select(models.Concept))}
    row = models.Build(school_id=school_id, **_plain(build, *_FILE_ONLY, "phases"))
    for place, phase in enumerate(build.phases):
        phase_row = models.Phase(position=place, **_plain(phase, "steps"))
        row.phases.append(phase_row)
        for position, step in enumerate(phase.steps):
            step_row = models.Step(position=position, **_step_values(step))
            phase_row.steps.append(step_row)
            step_row.exposures = [
                models.Exposure(
                    position=number,
                    concept=concepts[item.concept],
                    **_plain(item, "concept"),
                )
                for number, item in enumerate(step.exposures)
            ]
            step_row.materials = [
                models.StepMaterial(material=materials[item.material], quantity=item.quantity)
                for item in step.materials
            ]
    return row


def _step_values(step: schema.Step) -> dict[str, Any]:
    values = _plain(step, "minutes", "exposures", "materials")
    for name in ("low", "typical", "high"):
        values[f"minutes_{name}"] = getattr(step.minutes, name)
    return values


def _columns(row: Base, *without: str) -> dict[str, Any]:
    """A row's own columns without keys to other rows, as a library file has them."""
    hidden = {"id", "position", "school_id", *without}
    return {
        column.key: getattr(row, column.key)
        for column in sa.inspect(type(row)).columns
        if column.key not in hidden and not column.foreign_keys
    }


def concept_file(row: models.Concept) -> schema.Concept:
    """A concept of the database as its library file has it."""
    return schema.Concept.model_validate(
        {
            "kind": "concept",
            "schema_version": schema.SCHEMA_VERSION,
            **_columns(row),
            "treatments": [
                {
                    **_columns(treatment),
                    "questions": [_columns(question) for question in treatment.questions],
                    "alignments": [
                        {
                            **_columns(item, "decided_by", "decided_on"),
                            "framework": item.standard.framework.key,
                            "code": item.standard.code,
                        }
                        for item in treatment.alignments
                    ],
                }
                for treatment in row.treatments
            ],
        }
    )


def build_file(row: models.Build) -> schema.Build:
    """A build of the database as its library file has it."""
    return schema.Build.model_validate(
        {
            "kind": "build",
            "schema_version": schema.SCHEMA_VERSION,
            **_columns(row),
            "phases": [
                {**_columns(phase), "steps": [_step_file(step) for step in phase.steps]}
                for phase in row.phases
            ],
        }
    )


def _step_file(step: models.Step) -> dict[str, Any]:
    values = _columns(step)
    values["minutes"] = {name: values.pop(f"minutes_{name}") for name in ("low", "typical", "high")}
    values["exposures"] = [
        {**_columns(item), "concept": item.concept.key} for item in step.exposures
    ]
    values["materials"] = [
        {"material": item.material.key, "quantity": item.quantity} for item in step.materials
    ]
    return values


def framework_file(row: models.Framework) -> schema.Framework:
    """A framework of the database as its library file has it, codes without statements."""
    return schema.Framework.model_validate(
        {
            "kind": "framework",
            "schema_version": schema.SCHEMA_VERSION,
            **_columns(row),
            "standards": [_columns(item, "statement", "retired") for item in row.standards],
        }
    )
