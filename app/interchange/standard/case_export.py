"""Frameworks and a school's alignments as a CASE 1.1 package, which `read_case` takes in again.

An imported framework leaves as it came: its own fields, statements, associations, definitions and
rubrics. A shipped one has codes only, so its statements are its codes, marked as such. What CASE
has no field for stands under our own name in `extensions`.
"""

import datetime as dt
import uuid
from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.bands import KINDERGARTEN, grade_number
from app.interchange.standard.case import OURS, TREATMENT
from app.interchange.standard.importing import NAMESPACE
from app.models import Alignment, Framework, Standard, StandardLink, Treatment
from app.store import library

_ITEM_FIELDS = frozenset(
    {
        "identifier",
        "uri",
        "lastChangeDateTime",
        "alternativeLabel",
        "CFItemType",
        "CFItemTypeURI",
        "humanCodingScheme",
        "listEnumeration",
        "abbreviatedStatement",
        "conceptKeywords",
        "conceptKeywordsURI",
        "notes",
        "subject",
        "subjectURI",
        "language",
        "educationLevel",
        "licenseURI",
        "statusStartDate",
        "statusEndDate",
        "extensions",
    }
)
_LINK_FIELDS = frozenset(
    {
        "identifier",
        "associationType",
        "uri",
        "originNodeURI",
        "destinationNodeURI",
        "lastChangeDateTime",
        "sequenceNumber",
        "CFAssociationGroupingURI",
        "notes",
        "extensions",
    }
)
_DOCUMENT_FIELDS = frozenset(
    {
        "identifier",
        "uri",
        "creator",
        "title",
        "lastChangeDateTime",
        "frameworkType",
        "caseVersion",
        "officialSourceURL",
        "publisher",
        "description",
        "subject",
        "subjectURI",
        "language",
        "version",
        "adoptionStatus",
        "statusStartDate",
        "statusEndDate",
        "licenseURI",
        "notes",
        "extensions",
    }
)


def case_package(
    session: Session, framework: Framework, school_id: int | None, now: dt.datetime
) -> dict[str, Any]:
    """A framework with its associations and what the school's treatments are aligned to.

    `now` is the time of change where the imported file gave none.
    """
    moment = now.replace(microsecond=0).isoformat()
    items = [_item(row, framework, moment) for row in framework.standards]
    source = framework.source or {}
    return {
        "CFDocument": _document(framework, moment),
        "CFItems": items,
        "CFAssociations": [
            *_links(session, framework, moment),
            *_alignments(session, framework, school_id, moment),
        ],
        **{
            key: source[key]
            for key in ("CFDefinitions", "CFRubrics", "extensions")
            if key in source
        },
    }


def identifier_of(framework: Framework) -> str:
    """The framework's own identifier, or one made of its key."""
    return framework.identifier or str(uuid.uuid5(NAMESPACE, framework.key))


def standard_identifier(row: Standard, framework: Framework) -> str:
    """The standard's own identifier, or one made of framework and code."""
    return row.identifier or str(uuid.uuid5(NAMESPACE, f"{framework.key}\n{row.code}"))


def _document(framework: Framework, moment: str) -> dict[str, Any]:
    given = _kept((framework.source or {}).get("document", {}), _DOCUMENT_FIELDS)
    identifier = identifier_of(framework)
    return {
        "creator": framework.publisher or framework.title,
        "publisher": framework.publisher,
        "version": framework.version,
        **({"officialSourceURL": framework.uri} if framework.uri else {}),
        **({"notes": framework.notice} if framework.notice and not framework.source else {}),
        "uri": f"urn:uuid:{identifier}",
        "lastChangeDateTime": moment,
        **given,
        "identifier": identifier,
        "title": framework.title,
        "caseVersion": "1.1",
    }


def _kept(given: Any, fields: frozenset[str]) -> dict[str, Any]:
    """The fields CASE 1.1 knows; null stands for a field left out."""
    if not isinstance(given, dict):
        return {}
    return {key: value for key, value in given.items() if key in fields and value is not None}


def _item(row: Standard, framework: Framework, moment: str) -> dict[str, Any]:
    identifier = standard_identifier(row, framework)
    given = _kept(row.source or {}, _ITEM_FIELDS)
    if isinstance(given.get("educationLevel"), str):
        given["educationLevel"] = [given["educationLevel"]]
    if row.source is None:
        given["humanCodingScheme"] = row.code
        given["educationLevel"] = _levels(row)
        if row.aliases:
            given["alternativeLabel"] = row.aliases[0]
        if row.subject:
            given["subject"] = [row.subject]
    ours = _ours(row, alone=row.source is None or "table" in (framework.source or {}))
    if ours:
        extensions = given.get("extensions")
        given["extensions"] = {**(extensions if isinstance(extensions, dict) else {}), OURS: ours}
    return {
        "uri": row.uri or f"urn:uuid:{identifier}",
        "lastChangeDateTime": moment,
        **given,
        "identifier": identifier,
        "fullStatement": row.statement or row.code,
    }


def _ours(row: Standard, *, alone: bool) -> dict[str, Any]:
    """What the standard fields do not say. `alone`: no associations say what it lies under."""
    found = {
        "codeOnly": not row.statement,
        "retired": row.retired,
        "aliases": row.aliases,
        "domain": row.domain if alone else "",
        "parent": row.parent if alone else "",
    }
    return {key: value for key, value in found.items() if value}


def _levels(row: Standard) -> list[str]:
    """CEDS entry grade levels from the lowest to the highest grade."""
    low, high = grade_number(row.grade_low), grade_number(row.grade_high)
    return ["KG" if n == KINDERGARTEN else f"{n:02d}" for n in range(low, high + 1)]


def _node(identifier: str, title: str, uri: str, target: str = "CASE") -> dict[str, str]:
    return {"title": title, "identifier": identifier, "uri": uri, "targetType": target}


def _links(session: Session, framework: Framework, moment: str) -> Iterable[dict[str, Any]]:
    query = (
        sa.select(StandardLink.source, StandardLink.identifier)
        .where(StandardLink.framework_id == framework.id)
        .order_by(StandardLink.position)
    )
    for source, identifier in session.execute(query):
        yield {
            "identifier": identifier,
            "uri": f"urn:uuid:{identifier}",
            "lastChangeDateTime": moment,
            **_kept(source, _LINK_FIELDS),
        }
    if framework.source is None or "table" in framework.source:
        yield from _hierarchy(framework, moment)


def _hierarchy(framework: Framework, moment: str) -> Iterable[dict[str, Any]]:
    """Children and parents of a framework that came without associations."""
    root = _node(identifier_of(framework), framework.title, f"urn:uuid:{identifier_of(framework)}")
    nodes = {}
    for row in framework.standards:
        identifier = standard_identifier(row, framework)
        nodes[row.code] = _node(identifier, row.code, row.uri or f"urn:uuid:{identifier}")
    for number, row in enumerate(framework.standards, start=1):
        child = nodes[row.code]
        identifier = str(uuid.uuid5(NAMESPACE, f"child\n{child['identifier']}"))
        yield {
            "identifier": identifier,
            "associationType": "isChildOf",
            "uri": f"urn:uuid:{identifier}",
            "originNodeURI": child,
            "destinationNodeURI": nodes.get(row.parent, root),
            "sequenceNumber": number,
            "lastChangeDateTime": moment,
        }


def _alignments(
    session: Session, framework: Framework, school_id: int | None, moment: str
) -> Iterable[dict[str, Any]]:
    query = (
        sa.select(Alignment)
        .join(Alignment.standard)
        .join(Alignment.treatment)
        .where(
            Standard.framework_id == framework.id,
            library.holding(school_id),
            library.shared_or_own(Treatment.school_id, school_id),
            Treatment.id.not_in(library.in_place_of(session, school_id)),
        )
        .order_by(Alignment.id)
        .options(joinedload(Alignment.treatment).joinedload(Treatment.concept))
        .options(joinedload(Alignment.standard))
    )
    for row in session.scalars(query):
        place = f"urn:stringcourse:treatment:{row.treatment.concept.key}:{row.treatment.band}"
        standard = standard_identifier(row.standard, framework)
        identifier = str(uuid.uuid5(NAMESPACE, f"{place}\n{standard}"))
        yield {
            "identifier": identifier,
            "associationType": "isRelatedTo",
            "uri": f"urn:uuid:{identifier}",
            "originNodeURI": _node(
                str(uuid.uuid5(NAMESPACE, place)), row.treatment.title, place, TREATMENT
            ),
            "destinationNodeURI": _node(
                standard, row.standard.code, row.standard.uri or f"urn:uuid:{standard}"
            ),
            "notes": row.reason,
            "lastChangeDateTime": moment,
            "extensions": {
                OURS: {
                    "strength": row.strength,
                    "reason": row.reason,
                    "condition": row.condition,
                    "practice": row.practice,
                    "decidedBy": row.decided_by,
                    "decidedOn": row.decided_on,
                }
            },
        }
