"""Readings at quality checks: taken, questioned, taken back; they become the team's instrument."""

from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.classroom import class_data
from app.models import (
    Measurement,
    Meeting,
    Section,
    Step,
    Team,
)
from app.store import sections
from app.store.classroom.evidence import DOUBLE_TAP, AsksFirst, By

FRET_POSITION = "measured_fret_"


class DoubtfulReading(AsksFirst):
    """A reading that should be looked at again; it is kept once somebody confirms it."""

    tick = "confirmed"


@dataclass(frozen=True)
class Taken:
    """How a reading was taken: with what, to what resolution, by whom, and whether it was checked."""

    instrument: str = ""
    resolution: str = ""
    note: str = ""
    student_id: int | None = None
    confirmed: bool = False


def record_measurement(
    session: Session,
    *,
    team: Team,
    step: Step,
    meeting: Meeting,
    written: str,
    by: By,
    taken: Taken | None = None,
) -> Measurement:
    """Record the reading of a step's quality check; it becomes the team's instrument.

    Raises DoubtfulReading with a question if it is likely a slip and not confirmed, ValueError
    with a sentence if it is no number with a unit of its kind.
    """
    taken = taken or Taken()
    check = step.check or {}
    reading = class_data.read_reading({"what": step.title, **check}, written)
    if reading.doubts and not taken.confirmed:
        raise DoubtfulReading(" ".join(reading.doubts))
    note = " ".join((taken.note, *(("Checked and kept.",) if reading.doubts else ()))).strip()
    row = _measurement(team, step, meeting, quantity=_checked(step), written=written, by=by)
    row.value, row.unit = reading.value, check.get("unit", "")
    row.within = class_data.within_limits(check, reading.value)
    row.instrument_used = (taken.instrument.strip() or check.get("measure_with", ""))[:80]
    row.resolution, row.note = taken.resolution.strip()[:40], note[:500]
    row.student_id = taken.student_id
    found = _read_twice(session, row)
    if found is not None:
        return found
    session.add(row)
    known = {item.key for item in team.instrument.quantities}
    if check.get("quantity") in known:
        text = _as_quantity(reading.value, row.unit)
        sections.set_quantity(session, team, check["quantity"], text, measured=True)
    session.flush()
    return row


def take_back_reading(session: Session, row: Measurement) -> None:
    """Take a reading back; the team's instrument has the one before it again, or its nominal."""
    team, quantity = row.team, row.quantity
    session.delete(row)
    session.flush()
    before = session.scalar(
        sa.select(Measurement)
        .where(Measurement.team_id == team.id, Measurement.quantity == quantity)
        .order_by(Measurement.id.desc())
        .limit(1)
    )
    if quantity not in {item.key for item in team.instrument.quantities}:
        return
    if before is None or before.value is None:
        sections.forget_measured(session, team, quantity)
    else:
        text = _as_quantity(before.value, before.unit)
        sections.set_quantity(session, team, quantity, text, measured=True)


def _as_quantity(value: float, unit: str) -> str:
    known = class_data.unit_kind(unit) or unit in ("%", "cents")
    return f"{value:.6g} {unit if known else ''}".strip()


def record_fret_positions(
    session: Session,
    *,
    team: Team,
    step: Step,
    meeting: Meeting,
    positions: dict[int, float],
    by: By,
    instrument: str = "",
) -> None:
    """Record measured distances from the nut in mm by fret; a fret read again keeps both."""
    for fret, distance_mm in sorted(positions.items()):
        row = _measurement(
            team,
            step,
            meeting,
            quantity=f"{FRET_POSITION}{fret}",
            written=f"{distance_mm:g} mm",
            by=by,
        )
        row.value, row.unit, row.instrument_used = distance_mm, "mm", instrument.strip()[:80]
        if _read_twice(session, row) is None:
            session.add(row)
    session.flush()


def _checked(step: Step) -> str:
    """What a step's check is kept under: the quantity it measures, else the step itself."""
    return str((step.check or {}).get("quantity") or step.key)


def _measurement(
    team: Team, step: Step, meeting: Meeting, *, quantity: str, written: str, by: By
) -> Measurement:
    return Measurement(
        team_id=team.id,
        step_id=step.id,
        meeting_id=meeting.id,
        quantity=quantity,
        written=written.strip(),
        recorded_at=by.now,
        recorded_by=by.name,
    )


def _read_twice(session: Session, row: Measurement) -> Measurement | None:
    return session.scalar(
        sa.select(Measurement).where(
            Measurement.team_id == row.team_id,
            Measurement.step_id == row.step_id,
            Measurement.quantity == row.quantity,
            Measurement.written == row.written,
            Measurement.recorded_by == row.recorded_by,
            Measurement.recorded_at > row.recorded_at - DOUBLE_TAP,
        )
    )


def measurements_of(session: Session, section: Section) -> list[Measurement]:
    """All readings of a section in the order of recording."""
    query = (
        sa.select(Measurement)
        .join(Team, Measurement.team_id == Team.id)
        .where(Team.section_id == section.id)
        .order_by(Measurement.id)
        .options(
            joinedload(Measurement.team),
            joinedload(Measurement.step),
            joinedload(Measurement.meeting),
        )
    )
    return list(session.scalars(query))


def out_of_limits(session: Session, section: Section) -> list[Measurement]:
    """The readings that are out of their limits and were not taken anew since."""
    rows = measurements_of(session, section)
    newest = {(row.team_id, row.step_id, row.quantity): row for row in rows}
    return [row for row in newest.values() if row.within is False]


def last_reading(session: Session, team: Team, step: Step) -> Measurement | None:
    """The newest reading of a team at a step's own check."""
    return session.scalar(
        sa.select(Measurement)
        .where(
            Measurement.team_id == team.id,
            Measurement.step_id == step.id,
            Measurement.quantity == _checked(step),
        )
        .order_by(Measurement.id.desc())
        .limit(1)
    )
