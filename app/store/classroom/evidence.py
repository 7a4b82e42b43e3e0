"""What happened in a meeting: who was away, the air of the room, the products in use."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.models import (
    Absence,
    Measurement,
    Meeting,
    MeetingState,
    ProductLabel,
    Progress,
    RoomAir,
    Section,
    Student,
    Team,
)
from app.store.missing import Missing

DOUBLE_TAP = dt.timedelta(seconds=30)


@dataclass(frozen=True)
class By:
    """Who records, and when."""

    name: str
    now: dt.datetime


def record_meeting(session: Session, meeting: Meeting, state: MeetingState, note: str = "") -> None:
    """Record a meeting as taught, lost or open again."""
    meeting.state = state
    meeting.note = note.strip()[:200]
    session.flush()


def record_absences(
    session: Session,
    meeting: Meeting,
    codes: set[str],
    section: Section,
    *,
    before: set[str] | None = None,
) -> None:
    """Make the absences of a meeting these student codes.

    With `before`, what the form showed when it was opened, only what the form changed is changed:
    what somebody else recorded meanwhile stays.
    """
    held = {
        row.student_id: row
        for row in session.scalars(sa.select(Absence).where(Absence.meeting_id == meeting.id))
    }
    ids = {student.code: student.id for student in section.students}
    now = {ids[code] for code in codes if code in ids}
    shown = set(held) if before is None else {ids[code] for code in before if code in ids}
    for student_id in (shown - now) & set(held):
        session.delete(held[student_id])
    for student_id in now - shown - set(held):
        session.add(Absence(meeting_id=meeting.id, student_id=student_id))
    session.flush()


def absent_codes(session: Session, meeting: Meeting) -> set[str]:
    """Codes of the students away from a meeting."""
    query = sa.select(Student.code).join(Absence).where(Absence.meeting_id == meeting.id)
    return set(session.scalars(query))


_ABSENCES = (
    sa.select(Absence.meeting_id, Student.code)
    .join(Student)
    .where(Absence.meeting_id.in_(sa.bindparam("meetings", expanding=True)))
)


def absences(session: Session, meeting_ids: Collection[int]) -> dict[int, set[str]]:
    """Meeting → codes of the students away from it, for some meetings at once."""
    found: dict[int, set[str]] = defaultdict(set)
    for meeting_id, code in session.execute(_ABSENCES, {"meetings": list(meeting_ids)}):
        found[meeting_id].add(code)
    return found


Recorded = TypeVar("Recorded", Progress, Measurement)


def load_recorded(
    session: Session, section: Section, table: type[Recorded], row_id: int
) -> Recorded:
    """A record or a reading of the section, with its team and step.

    Raises Missing.
    """
    query = sa.select(table).join(Team, table.team_id == Team.id)
    query = query.where(table.id == row_id, Team.section_id == section.id)
    row = session.scalar(query.options(joinedload(table.team), joinedload(table.step)))
    if row is None:
        raise Missing(f"{table.__tablename__} {row_id}")
    return row


class AsksFirst(ValueError):
    """Something that is recorded once somebody ticks that it is meant; `tick` names the box."""

    tick = ""


_AIR = (
    sa.select(RoomAir)
    .where(RoomAir.meeting_id == sa.bindparam("meeting"))
    .order_by(RoomAir.id.desc())
    .limit(1)
)


def record_air(
    session: Session, meeting: Meeting, *, degrees: float, percent: float, by: By
) -> None:
    """Record the temperature and the relative humidity of the room; earlier readings stay."""
    session.add(
        RoomAir(
            meeting_id=meeting.id,
            temperature_c=degrees,
            humidity_percent=percent,
            recorded_at=by.now,
            recorded_by=by.name,
        )
    )
    session.flush()


def air_of(session: Session, meeting: Meeting) -> RoomAir | None:
    """The latest reading of the room's air in a meeting."""
    return session.scalar(_AIR, {"meeting": meeting.id})


_LABELS = sa.select(ProductLabel).where(ProductLabel.section_id == sa.bindparam("section"))


def labels_of(session: Session, section: Section) -> dict[str, ProductLabel]:
    """What the labels of the products in use say, by station."""
    return {row.station: row for row in session.scalars(_LABELS, {"section": section.id})}


def save_label(
    session: Session,
    section: Section,
    station: str,
    product: str,
    limits: Mapping[str, float | None],
) -> None:
    """Keep what the label of the product used at a station says, by column of ProductLabel."""
    row = labels_of(session, section).get(station)
    if row is None:
        row = ProductLabel(section_id=section.id, station=station)
        session.add(row)
    for column, value in limits.items():
        setattr(row, column, value)
    row.product = product.strip()[:120]
    session.flush()
