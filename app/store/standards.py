"""Frameworks and standards: every spelling of a code, and which ones treatments are aligned to."""

import datetime as dt
from functools import lru_cache

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain import alignment
from app.models import Alignment, Framework, Standard, Treatment
from app.store.missing import Missing


def _visible(school_id: int | None) -> sa.ColumnElement[bool]:
    return sa.or_(Framework.school_id.is_(None), Framework.school_id == school_id)


def list_frameworks(session: Session, school_id: int | None) -> list[Framework]:
    """Shipped frameworks and those the school imported."""
    query = sa.select(Framework).where(_visible(school_id)).order_by(Framework.title)
    return list(session.scalars(query))


def index_of(session: Session, school_id: int | None) -> alignment.CodeIndex:
    """The index of all codes visible to a school, rebuilt only when standards were added."""
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
    ).all()
    return _index(
        tuple(
            alignment.StandardEntry(
                key=str(row.id),
                framework=row.key,
                code=row.code,
                aliases=tuple(row.aliases),
                grade_low=alignment.grade_number(row.grade_low),
                grade_high=alignment.grade_number(row.grade_high),
                text=f"{row.domain} {row.note} {row.statement}",
                retired=row.retired,
            )
            for row in rows
        )
    )


@lru_cache(maxsize=8)
def _index(entries: tuple[alignment.StandardEntry, ...]) -> alignment.CodeIndex:
    return alignment.build_index(entries)


def resolve(session: Session, school_id: int | None, spelling: str) -> Standard:
    """The one standard a spelling means.

    Raises ValueError with a sentence that names the candidates or the nearest codes.
    """
    found = alignment.resolve(spelling, index_of(session, school_id))
    if found.entry is None:
        raise ValueError(found.sentence)
    standard = session.get(Standard, int(found.entry.key))
    if standard is None:
        raise Missing(spelling)
    return standard


def load_standards(session: Session, ids: list[int]) -> dict[int, Standard]:
    """Standards by id, with their frameworks."""
    query = sa.select(Standard).where(Standard.id.in_(ids)).options(joinedload(Standard.framework))
    return {standard.id: standard for standard in session.scalars(query)}


def offered(session: Session, band: str) -> list[Standard]:
    """The standards that the library's treatments at a grade band are aligned to."""
    query = (
        sa.select(Standard)
        .join(Alignment)
        .join(Treatment)
        .where(Treatment.band == band, Alignment.practice.is_(False))
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
