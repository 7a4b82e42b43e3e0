"""Frameworks and standards: every spelling of a code, and which ones treatments are aligned to."""

import datetime as dt
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.bands import grade_number
from app.domain.standard import alignment
from app.models import (
    Alignment,
    Concept,
    Course,
    Framework,
    RequiredStandard,
    Standard,
    StandardLink,
    Treatment,
)
from app.store import library
from app.store.missing import Missing

INDEXES_KEPT = 4
PAGE = 200


def _visible(school_id: int | None) -> sa.ColumnElement[bool]:
    return library.shared_or_own(Framework.school_id, school_id)


def list_frameworks(session: Session, school_id: int | None) -> list[Framework]:
    """Shipped frameworks and those the school imported."""
    query = sa.select(Framework).where(_visible(school_id)).order_by(Framework.title)
    return list(session.scalars(query))


def load_framework(session: Session, school_id: int | None, framework_id: int) -> Framework:
    """A framework visible to the school.

    Raises Missing.
    """
    row = session.scalar(
        sa.select(Framework).where(Framework.id == framework_id, _visible(school_id))
    )
    if row is None:
        raise Missing(f"framework {framework_id}")
    return row


def find_framework(session: Session, school_id: int | None, key: str) -> Framework:
    """A framework by its key, the school's own first.

    Raises ValueError with the keys there are.
    """
    query = sa.select(Framework).where(_visible(school_id))
    rows = list(session.scalars(query.order_by(Framework.school_id.is_(None), Framework.key)))
    for row in rows:
        if row.key == key:
            return row
    raise ValueError(f"there is no framework {key}; known: {', '.join(row.key for row in rows)}.")


def count_standards(session: Session, frameworks: Sequence[Framework]) -> dict[int, int]:
    """How many standards each framework has in force."""
    query = (
        sa.select(Standard.framework_id, sa.func.count())
        .where(
            Standard.framework_id.in_([row.id for row in frameworks]), Standard.retired.is_(False)
        )
        .group_by(Standard.framework_id)
    )
    return {row[0]: row[1] for row in session.execute(query)}


def page_of(session: Session, framework: Framework, first: int) -> list[Standard]:
    """At most `PAGE` standards of a framework in its own order, and one more if there is one."""
    query = (
        sa.select(Standard)
        .where(Standard.framework_id == framework.id)
        .order_by(Standard.retired, Standard.position, Standard.id)
        .offset(max(0, first))
        .limit(PAGE + 1)
    )
    return list(session.scalars(query))


# --- spellings and words -------------------------------------------------------------------------

_indexes: OrderedDict[tuple[str, tuple[tuple[int, str], ...]], alignment.CodeIndex] = OrderedDict()


def index_of(session: Session, school_id: int | None) -> alignment.CodeIndex:
    """The index of all codes visible to a school, rebuilt only when standards have changed."""
    query = sa.select(Framework.id, Framework.revision).where(_visible(school_id))
    revisions = tuple((row[0], row[1]) for row in session.execute(query.order_by(Framework.id)))
    key = (str(session.connection().engine.url), revisions)
    index = _indexes.get(key)
    if index is None:
        index = _indexes[key] = _read_index(session, school_id)
        while len(_indexes) > INDEXES_KEPT:
            _indexes.popitem(last=False)
    return index


def _read_index(session: Session, school_id: int | None) -> alignment.CodeIndex:
    rows = session.execute(
        sa.select(
            Standard.id,
            Framework.key,
            Standard.code,
            Standard.aliases,
            Standard.grade_low,
            Standard.grade_high,
            Standard.domain,
            Standard.note,
            Standard.statement,
            Standard.retired,
        )
        .join(Framework)
        .where(_visible(school_id))
        .order_by(Standard.id)
    )
    return alignment.build_index(
        alignment.StandardEntry(
            key=str(row.id),
            framework=row.key,
            code=row.code,
            aliases=tuple(row.aliases),
            grade_low=grade_number(row.grade_low),
            grade_high=grade_number(row.grade_high),
            text=f"{row.domain} {row.note} {row.statement}",
            retired=row.retired,
        )
        for row in rows
    )


def resolve(
    session: Session, school_id: int | None, spelling: str, framework: str | None = None
) -> Standard:
    """The one standard a spelling means.

    Raises ValueError with a sentence that names the candidates or the nearest codes.
    """
    found = alignment.resolve(spelling, index_of(session, school_id), framework)
    if found.entry is None:
        raise ValueError(found.sentence)
    standard = session.get(Standard, int(found.entry.key))
    if standard is None:
        raise Missing(spelling)
    return standard


def load_standards(session: Session, ids: Sequence[int]) -> dict[int, Standard]:
    """Standards by id, with their frameworks."""
    query = sa.select(Standard).where(Standard.id.in_(ids)).options(joinedload(Standard.framework))
    return {standard.id: standard for standard in session.scalars(query)}


# --- one standard --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Linked:
    """A standard at the other end of an association, or only its title where it is not here."""

    kind: str
    outward: bool
    title: str
    standard: Standard | None


def load_standard(session: Session, school_id: int | None, standard_id: int) -> Standard:
    """A standard visible to the school.

    Raises Missing.
    """
    row = session.scalar(
        sa.select(Standard)
        .join(Framework)
        .where(Standard.id == standard_id, _visible(school_id))
        .options(joinedload(Standard.framework))
    )
    if row is None:
        raise Missing(f"standard {standard_id}")
    return row


def linked(session: Session, school_id: int | None, standard: Standard) -> list[Linked]:
    """What a standard's associations lead to, hierarchy apart."""
    if not standard.identifier:
        return []
    query = (
        sa.select(StandardLink)
        .join(Framework, StandardLink.framework_id == Framework.id)
        .where(
            _visible(school_id),
            StandardLink.kind != "isChildOf",
            sa.or_(
                StandardLink.origin == standard.identifier,
                StandardLink.destination == standard.identifier,
            ),
        )
        .order_by(StandardLink.kind, StandardLink.id)
        .limit(PAGE)
    )
    links = list(session.scalars(query))
    ends = {end for link in links for end in (link.origin, link.destination)}
    there = {
        row.identifier: row
        for row in session.scalars(
            sa.select(Standard)
            .join(Framework)
            .where(Standard.identifier.in_(ends), _visible(school_id))
            .options(joinedload(Standard.framework))
        )
    }
    return [_linked(link, standard, there) for link in links]


def _linked(link: StandardLink, standard: Standard, there: dict[str, Standard]) -> Linked:
    outward = link.origin == standard.identifier
    other = link.destination if outward else link.origin
    node = link.source.get("destinationNodeURI" if outward else "originNodeURI")
    title = node.get("title") if isinstance(node, dict) else ""
    return Linked(
        link.kind, outward, title if isinstance(title, str) and title else other, there.get(other)
    )


def replacements(session: Session, school_id: int | None, standard: Standard) -> list[Standard]:
    """What takes the place of a retired standard: replacedBy in its file, or the code's new owner."""
    found = [
        item.standard
        for item in linked(session, school_id, standard)
        if item.kind == "replacedBy" and item.outward and item.standard is not None
    ]
    if not found and standard.retired:
        bare = standard.code.partition(" [")[0]
        query = sa.select(Standard).where(
            Standard.framework_id == standard.framework_id,
            Standard.code == bare,
            Standard.id != standard.id,
        )
        found = list(session.scalars(query))
    return found


def used_in(
    session: Session, school_id: int | None, standard: Standard
) -> tuple[list[Alignment], list[Course]]:
    """Alignments the school sees, and its courses that require the standard."""
    aligned = session.scalars(
        sa.select(Alignment)
        .join(Alignment.treatment)
        .join(Treatment.concept)
        .where(
            Alignment.standard_id == standard.id,
            library.holding(school_id),
            library.shared_or_own(Treatment.school_id, school_id),
            Treatment.id.not_in(library.in_place_of(session, school_id)),
        )
        .order_by(Concept.title, Treatment.position)
        .options(joinedload(Alignment.treatment).joinedload(Treatment.concept))
    )
    courses = session.scalars(
        sa.select(Course)
        .join(Course.required)
        .join(Course.department)
        .where(RequiredStandard.standard_id == standard.id)
        .order_by(Course.title)
        .options(joinedload(Course.department))
    )
    return list(aligned), [row for row in courses if row.department.school_id == school_id]


def offered(session: Session, band: str, school_id: int | None = None) -> list[Standard]:
    """The standards that the treatments at a grade band are aligned to."""
    query = (
        sa.select(Standard)
        .join(Alignment)
        .join(Treatment, Alignment.treatment_id == Treatment.id)
        .where(
            Treatment.band == band,
            Alignment.practice.is_(False),
            Standard.retired.is_(False),
            library.holding(school_id),
            library.shared_or_own(Treatment.school_id, school_id),
            Treatment.id.not_in(library.in_place_of(session, school_id, band)),
        )
        .distinct()
        .order_by(Standard.framework_id, Standard.code)
        .options(joinedload(Standard.framework))
    )
    return list(session.scalars(query))


def read_required(line: str) -> tuple[str, dt.date | None]:
    """A code and, after it, an optional required-by date.

    Raises ValueError with a sentence.
    """
    words = line.split()
    if len(words) > 1 and words[-1][:1].isdigit() and words[-1].count("-") == 2:
        try:
            return " ".join(words[:-1]), dt.date.fromisoformat(words[-1])
        except ValueError as error:
            raise ValueError(
                f"“{words[-1]}” is no date; write year-month-day, such as 2027-04-09."
            ) from error
    return line.strip(), None
