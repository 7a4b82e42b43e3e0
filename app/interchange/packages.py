"""Build packages: one file that hands a build, with all it needs, to teachers elsewhere."""

import json
from collections.abc import Iterable
from typing import Any, Literal

import sqlalchemy as sa
import tomli_w
from sqlalchemy.orm import Session

from app import models
from app.db import HoldingSession
from app.interchange import library_file as schema
from app.interchange.loading import (
    LoadedChange,
    build_file,
    concept_file,
    kind_file,
    load,
    partial_framework_file,
)
from app.store import library

FileKind = Literal["json", "toml"]


def package_of(session: Session, build: models.Build, school_id: int | None) -> schema.Package:
    """A build with the kinds, concepts, treatments and codes it refers to, as the school sees them.

    Of frameworks only the codes in use, and never a statement: those are not ours to hand on.
    """
    content = build_file(build)
    concepts = _concepts(session, content, school_id)
    return schema.Package(
        kind="package",
        schema_version=1,
        title=f"{build.title}, version {build.version}",
        workshop=_workshop(session, content, school_id),
        builds=[content],
        concepts=concepts,
        frameworks=_frameworks(session, concepts, school_id),
    )


def _workshop(session: Session, build: schema.BuildEntry, school_id: int | None) -> schema.Workshop:
    steps = build.steps
    stations = library.kinds(session, models.StationType, school_id)
    named = [station for key, station in stations.items() if key in {s.station for s in steps}]
    permits = {key for s in steps for key in [*s.grants, *([s.permit] if s.permit else [])]}
    permits |= {station.permit for station in named if station.permit}
    wanted: list[tuple[type[Any], set[str]]] = [
        (models.FixtureType, {hold.fixture for s in steps for hold in s.holds}),
        (models.PermitType, permits),
        (models.Material, {item.material for s in steps for item in s.materials}),
    ]
    fixtures, permit_rows, materials = (
        [
            kind_file(row)
            for key, row in library.kinds(session, table, school_id).items()
            if key in keys
        ]
        for table, keys in wanted
    )
    return schema.Workshop.model_validate(
        {
            "kind": "workshop",
            "schema_version": schema.SCHEMA_VERSION,
            "key": f"for-{build.key}",
            "title": f"What the {build.title} needs",
            "stations": [kind_file(row) for row in named],
            "fixtures": fixtures,
            "permits": permit_rows,
            "materials": materials,
        }
    )


def _concepts(
    session: Session, build: schema.BuildEntry, school_id: int | None
) -> list[schema.ConceptEntry]:
    """The concepts the build shows, and those their treatments come after."""
    known = library.kinds(session, models.Concept, school_id)
    waiting = [item.concept for step in build.steps for item in step.exposures]
    found: dict[str, schema.ConceptEntry] = {}
    while waiting:
        key = waiting.pop()
        if key in found or key not in known:
            continue
        found[key] = concept_file(known[key], school_id)
        waiting += [name for item in found[key].treatments for name in item.prerequisites]
    return [found[key] for key in sorted(found)]


def _frameworks(
    session: Session, concepts: Iterable[schema.ConceptEntry], school_id: int | None
) -> list[schema.FrameworkEntry]:
    used: dict[str, set[str]] = {}
    for concept in concepts:
        for treatment in concept.treatments:
            for item in treatment.alignments:
                used.setdefault(item.framework, set()).add(item.code)
    rows = session.scalars(
        sa.select(models.Framework)
        .where(
            models.Framework.key.in_(used),
            library.shared_or_own(models.Framework.school_id, school_id),
        )
        .order_by(models.Framework.school_id.is_not(None), models.Framework.key)
    )
    named = {row.key: row for row in rows}
    return [partial_framework_file(row, used[key]) for key, row in sorted(named.items())]


def write(content: schema.LibraryFile, kind: FileKind, *, compact: bool = False) -> str:
    """The file as text. Only what differs from the schema's defaults is written."""
    data = content.model_dump(mode="json", exclude_defaults=True)
    if kind == "json" and compact:
        return json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    if kind == "json":
        return json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    return tomli_w.dumps(data)


def preview(
    session: Session, content: schema.LibraryFile, *, name: str, school_id: int | None
) -> list[LoadedChange]:
    """What loading would do, done and taken back.

    Raises BadFile.
    """
    session.flush()
    # A session of its own: rows that never were must not stay in the caller's memory of rows.
    with HoldingSession(session.connection(), join_transaction_mode="create_savepoint") as trial:
        return load(trial, content, name=name, school_id=school_id)
