"""Library files into the database, and out of it again. Loading twice changes nothing."""

import itertools
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from pydantic import BaseModel
from sqlalchemy.orm import Session

from app import models
from app.db import Base
from app.domain.builds.build_changes import BuildChanges, compare
from app.interchange import library_file as schema
from app.interchange.files import BadFile, Mistake, parts
from app.store import library


@dataclass(frozen=True)
class LoadedChange:
    """What loading did, or would do, to one part of the library."""

    kind: str
    key: str
    what: str
    """'added', 'changed' or 'unchanged'."""
    notes: tuple[str, ...] = ()
    """Sentences on what differs."""


def load(
    session: Session, content: schema.LibraryFile, *, name: str, school_id: int | None = None
) -> list[LoadedChange]:
    """Add or change the library by a checked file; the caller commits.

    With `school_id` nothing shipped changes: what differs becomes the school's own beside it. A
    package adds codes to a framework that is there already and changes none. Raises BadFile, with
    every unknown key, before anything is changed.
    """
    require_known(session, content, name=name, school_id=school_id)
    changes: list[LoadedChange] = []
    for part in parts(content):
        if isinstance(part, schema.Workshop):
            changes += _load_workshop(session, part, school_id)
        elif isinstance(part, schema.SafetyBankEntry):
            changes.append(_load_kind(session, "safety bank", models.SafetyBank, part, school_id))
        elif isinstance(part, schema.FrameworkEntry):
            partial = isinstance(content, schema.Package)
            changes.append(_load_framework(session, part, school_id, partial=partial))
        elif isinstance(part, schema.ConceptEntry):
            changes.append(_load_concept(session, part, school_id))
        else:
            changes.append(_load_build(session, part, school_id, name))
        session.flush()
    return changes


def require_known(
    session: Session, content: schema.LibraryFile, *, name: str, school_id: int | None
) -> None:
    """Check that everything the file refers to exists or comes with it.

    Raises BadFile with all that does not.
    """
    mistakes = [
        Mistake(name, place, sentence)
        for place, sentence in _unknown_keys(session, content, school_id)
    ]
    if mistakes:
        raise BadFile(mistakes)


def _unknown_keys(
    session: Session, content: schema.LibraryFile, school_id: int | None
) -> list[tuple[str, str]]:
    """References to stations, permits, materials, fixtures and concepts nobody has defined."""
    given = parts(content)
    known: dict[str, set[str]] = {}
    for kind, table, entries in _KINDS:
        known[kind] = set(library.kinds(session, table, school_id))
        for part in given:
            if isinstance(part, schema.Workshop):
                known[kind] |= {item.key for item in getattr(part, entries)}
    known["concept"] = set(library.kinds(session, models.Concept, school_id)) | {
        part.key for part in given if isinstance(part, schema.ConceptEntry)
    }
    found = []
    for build in (part for part in given if isinstance(part, schema.BuildEntry)):
        for step in build.steps:
            found += [
                (f"step {step.key}", f"names the {kind} {key}, which the library does not have")
                for kind, key in _references(step)
                if key not in known[kind]
            ]
    for concept in (part for part in given if isinstance(part, schema.ConceptEntry)):
        found += _unknown_codes(session, concept, given, school_id)
    banks = [part for part in given if isinstance(part, schema.SafetyBankEntry)]
    return found + _unknown_practices(session, banks, school_id)


def _unknown_practices(
    session: Session, banks: list[schema.SafetyBankEntry], school_id: int | None
) -> list[tuple[str, str]]:
    """Answers of safety tests that rest on, or break, a practice nobody has written down."""
    if not banks:
        return []
    known = {
        practice["key"]
        for row in library.kinds(session, models.SafetyBank, school_id).values()
        for practice in row.practices
    } | {practice.key for bank in banks for practice in bank.practices}
    return [
        (f"item {item.key}", f"names the practice {key}, which no safety bank has")
        for bank in banks
        for item in bank.items
        for key in (item.practice, *(wrong.breaks for wrong in item.wrong))
        if key not in known
    ]


_KINDS: tuple[tuple[str, type[Any], str], ...] = (
    ("station", models.StationType, "stations"),
    ("fixture", models.FixtureType, "fixtures"),
    ("permit", models.PermitType, "permits"),
    ("material", models.Material, "materials"),
)


def _references(step: schema.StepEntry) -> list[tuple[str, str]]:
    return [
        ("station", step.station),
        *([("permit", step.permit)] if step.permit else []),
        *(("permit", key) for key in step.grants),
        *(("fixture", hold.fixture) for hold in step.holds),
        *(("material", item.material) for item in step.materials),
        *(("concept", item.concept) for item in step.exposures),
    ]


def _unknown_codes(
    session: Session, concept: schema.ConceptEntry, given: list[Any], school_id: int | None
) -> list[tuple[str, str]]:
    found = []
    for treatment in concept.treatments:
        for item in treatment.alignments:
            in_file = any(
                isinstance(part, schema.FrameworkEntry)
                and part.key == item.framework
                and any(standard.code == item.code for standard in part.standards)
                for part in given
            )
            if (
                not in_file
                and library.find_standard(session, school_id, item.framework, item.code) is None
            ):
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


def _load_workshop(
    session: Session, workshop: schema.Workshop, school_id: int | None
) -> list[LoadedChange]:
    return [
        _load_kind(session, kind, table, entry, school_id)
        for kind, table, entries in _KINDS
        for entry in getattr(workshop, entries)
    ]


def _load_kind(
    session: Session, kind: str, table: type[Any], entry: Any, school_id: int | None
) -> LoadedChange:
    """A part of the library that is one row under its key."""
    row = library.kinds(session, table, school_id).get(entry.key)
    values = _plain(entry, *_FILE_ONLY)
    if row is not None and all(getattr(row, name) == values[name] for name in values):
        return LoadedChange(kind, entry.key, "unchanged")
    if row is None or row.school_id != school_id:
        session.add(table(school_id=school_id, **values))
        return LoadedChange(kind, entry.key, "added")
    _fill(row, values)
    return LoadedChange(kind, entry.key, "changed")


def _load_framework(
    session: Session, framework: schema.FrameworkEntry, school_id: int | None, *, partial: bool
) -> LoadedChange:
    """A whole framework, or with `partial` the codes that a package needs of it."""
    row = session.scalar(
        sa.select(models.Framework)
        .where(
            models.Framework.key == framework.key,
            library.shared_or_own(models.Framework.school_id, school_id)
            if partial
            else models.Framework.school_id.is_(school_id),
        )
        .order_by(models.Framework.school_id.is_(None))
        .limit(1)
    )
    new = row is None
    if row is None:
        row = models.Framework(school_id=school_id, **_plain(framework, *_FILE_ONLY, "standards"))
        session.add(row)
    changed = not partial and _fill(row, _plain(framework, *_FILE_ONLY, "standards"))
    known = {standard.code: standard for standard in row.standards}
    for position, standard in enumerate(framework.standards):
        if standard.code not in known:
            place = len(row.standards) if partial else position
            row.standards.append(models.Standard(position=place, **_plain(standard)))
            changed = True
        elif not partial:
            changed |= _fill(known[standard.code], {**_plain(standard), "position": position})
    return LoadedChange("framework", framework.key, _what(new=new, changed=changed))


_FILE_ONLY = ("kind", "schema_version")


def _load_concept(
    session: Session, concept: schema.ConceptEntry, school_id: int | None
) -> LoadedChange:
    row = library.kinds(session, models.Concept, school_id).get(concept.key)
    if row is not None and concept_file(row, school_id) == concept:
        return LoadedChange("concept", concept.key, "unchanged")
    new = row is None
    if row is None:
        row = models.Concept(school_id=school_id, **_plain(concept, *_FILE_ONLY, "treatments"))
        session.add(row)
    mine = row.school_id == school_id
    if mine:
        _fill(row, _plain(concept, *_FILE_ONLY, "treatments"))
        bands = {treatment.band for treatment in concept.treatments}
        for treatment_row in list(row.treatments):
            if treatment_row.school_id == school_id and treatment_row.band not in bands:
                row.treatments.remove(treatment_row)
    changed = mine
    for position, treatment in enumerate(concept.treatments):
        changed |= save_treatment(session, row, treatment, school_id, position=position)
    return LoadedChange("concept", concept.key, _what(new=new, changed=changed))


def save_treatment(
    session: Session,
    concept: models.Concept,
    treatment: schema.TreatmentEntry,
    school_id: int | None,
    *,
    position: int,
    decided: tuple[str, str] = ("library", ""),
) -> bool:
    """Add or change a concept's treatment at a band; say whether anything changed.

    A school's own never changes the shipped one: it stands beside it. `decided` says who decided
    on the alignments, and when. Standards must be known (see `load`).
    """
    seen = library.treatments_seen(concept.treatments, school_id)
    current = next((row for row in seen if row.band == treatment.band), None)
    if current is not None and treatment_file(current) == treatment:
        return False
    row = current
    if row is None or row.school_id != school_id:
        row = models.Treatment(school_id=school_id)
        concept.treatments.append(row)
    values = {**_plain(treatment, "questions", "alignments"), "position": position}
    for name, value in values.items():
        setattr(row, name, value)
    _load_questions(session, row, treatment, school_id, decided)
    if current is not None and current is not row and school_id is not None:
        library.keep_accepted(session, current, row, school_id)
    if school_id is not None:
        library.say_anew(session, row)
    return True


def _load_questions(
    session: Session,
    row: models.Treatment,
    treatment: schema.TreatmentEntry,
    school_id: int | None,
    decided: tuple[str, str],
) -> None:
    if row in session and row.id is not None:
        # Where a page has shown what a school accepted beside them: only the treatment's own.
        session.refresh(row, ["alignments"])
    who = {item.standard_id: (item.decided_by, item.decided_on) for item in row.alignments}
    row.questions.clear()
    row.alignments.clear()
    session.flush()
    for position, question in enumerate(treatment.questions):
        row.questions.append(models.Question(position=position, **_plain(question)))
    for item in treatment.alignments:
        standard = library.find_standard(session, school_id, item.framework, item.code)
        assert standard is not None  # noqa: S101 - _unknown_codes has made sure
        by, on = who.get(standard.id, decided)
        row.alignments.append(
            models.Alignment(
                standard_id=standard.id,
                decided_by=by,
                decided_on=on,
                **_plain(item, "framework", "code"),
            )
        )


def _load_build(
    session: Session, build: schema.BuildEntry, school_id: int | None, name: str
) -> LoadedChange:
    if school_id is not None:
        return _add_version(session, build, school_id)
    row = session.scalar(
        sa.select(models.Build).where(
            models.Build.key == build.key,
            models.Build.version == build.version,
            models.Build.school_id.is_(None),
        )
    )
    notes: tuple[str, ...] = ()
    if row is not None:
        before = build_file(row)
        if before == build:
            return LoadedChange("build", build.key, "unchanged")
        if library.is_used(session, row):
            sentence = (
                f"{build.key} version {build.version} is used by a section and stays as it is; "
                "give the changed build a new version"
            )
            raise BadFile([Mistake(name, "version", sentence)])
        notes = tuple(differences(before, build).sentences)
        save_build(session, row, build)
        return LoadedChange("build", build.key, "changed", notes)
    add_build(session, build, None)
    return LoadedChange("build", build.key, "added")


def _add_version(session: Session, build: schema.BuildEntry, school_id: int) -> LoadedChange:
    """A school's import never changes a build: what differs comes in beside it."""
    known = [row for row in library.list_builds(session, school_id) if row.key == build.key]
    files = [build_file(row) for row in known]
    if any(file == build for file in files):
        return LoadedChange("build", build.key, "unchanged")
    version = free_version(build.version, [row.version for row in known])
    notes = [] if version == build.version else [f"It comes in as version {version}."]
    if files:
        notes += differences(files[-1], build).sentences
    add_build(session, build.model_copy(update={"version": version}), school_id)
    what = "added" if not known else "added as a new version"
    return LoadedChange("build", build.key, what, tuple(notes))


def free_version(wanted: str, taken: Collection[str]) -> str:
    """`wanted` if no version is called so, otherwise with the first free number after it."""
    if wanted not in taken:
        return wanted
    stem = wanted.rpartition("-")[0] if wanted.rpartition("-")[2].isdecimal() else wanted
    stem = stem or wanted
    return next(name for n in itertools.count(2) if (name := f"{stem}-{n}") not in taken)


def differences(old: schema.BuildEntry, new: schema.BuildEntry) -> BuildChanges:
    """What changes between two builds, in sentences."""
    return compare(old.model_dump(mode="json"), new.model_dump(mode="json"))


def add_build(session: Session, build: schema.BuildEntry, school_id: int | None) -> models.Build:
    """A new build, or a new version of one. What it refers to must be known (see `load`)."""
    row = models.Build(school_id=school_id, **_plain(build, *_FILE_ONLY, "phases"))
    session.add(row)
    _fill_phases(session, row, build)
    session.flush()
    return row


def save_build(session: Session, row: models.Build, build: schema.BuildEntry) -> None:
    """Change a build in place. Only for a version that no section follows."""
    _fill(row, _plain(build, *_FILE_ONLY, "phases"))
    row.phases.clear()
    session.flush()
    _fill_phases(session, row, build)
    session.flush()


def _fill_phases(session: Session, row: models.Build, build: schema.BuildEntry) -> None:
    materials = library.kinds(session, models.Material, row.school_id)
    concepts = library.kinds(session, models.Concept, row.school_id)
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
                models.StepMaterial(
                    material=materials[item.material], quantity=item.quantity, per=item.per
                )
                for item in step.materials
            ]


def _step_values(step: schema.StepEntry) -> dict[str, Any]:
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


def concept_file(row: models.Concept, school_id: int | None = None) -> schema.ConceptEntry:
    """A concept of the database as its library file has it, with a school's own treatments."""
    return schema.ConceptEntry.model_validate(
        {
            "kind": "concept",
            "schema_version": schema.SCHEMA_VERSION,
            **_columns(row),
            "treatments": [
                treatment_file(treatment)
                for treatment in library.treatments_seen(row.treatments, school_id)
            ],
        }
    )


def treatment_file(row: models.Treatment) -> schema.TreatmentEntry:
    """A treatment of the database as a concept's file has it."""
    return schema.TreatmentEntry.model_validate(
        {
            **_columns(row),
            "questions": [_columns(question) for question in row.questions],
            "alignments": [
                {
                    **_columns(item, "decided_by", "decided_on"),
                    "framework": item.standard.framework.key,
                    "code": item.standard.code,
                }
                for item in row.alignments
            ],
        }
    )


def build_file(row: models.Build) -> schema.BuildEntry:
    """A build of the database as its library file has it."""
    return schema.BuildEntry.model_validate(
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
        {"material": item.material.key, "quantity": item.quantity, "per": item.per}
        for item in step.materials
    ]
    return values


def kind_file(row: Base) -> dict[str, Any]:
    """A station, fixture, permit or material as a workshop's file has it."""
    return _columns(row)


def partial_framework_file(row: models.Framework, codes: Collection[str]) -> schema.FrameworkEntry:
    """A framework with only some of its codes, for a package."""
    whole = framework_file(row)
    return whole.model_copy(
        update={"standards": [item for item in whole.standards if item.code in codes]}
    )


def framework_file(row: models.Framework) -> schema.FrameworkEntry:
    """A framework of the database as its library file has it, codes without statements."""
    return schema.FrameworkEntry.model_validate(
        {
            "kind": "framework",
            "schema_version": schema.SCHEMA_VERSION,
            **_columns(row, "identifier", "revision", "source", "imported_by", "imported_at"),
            "standards": [
                _columns(item, "statement", "retired", "identifier", "uri", "item_type", "source")
                for item in row.standards
            ],
        }
    )
