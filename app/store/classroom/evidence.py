"""What happened in class: attendance, progress, measurements, the room's air and product labels."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session, joinedload

from app.domain.classroom import class_data
from app.models import (
    Absence,
    Measurement,
    Meeting,
    MeetingState,
    ProductLabel,
    Progress,
    RoomAir,
    Section,
    Step,
    Student,
    Team,
)
from app.store import sections
from app.store.missing import Missing

DOUBLE_TAP = dt.timedelta(seconds=30)
FRET_POSITION = "measured_fret_"


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


class AsksFirst(ValueError):
    """Something that is recorded once somebody ticks that it is meant; `tick` names the box."""

    tick = ""


class NotSignedOff(AsksFirst):
    """Nobody present in the team is signed off for the step's station."""

    tick = "by-adult"


class DoubtfulReading(AsksFirst):
    """A reading that should be looked at again; it is kept once somebody confirms it."""

    tick = "confirmed"


class HoldPointStands(AsksFirst):
    """A hold point without a reading within its limits: work does not go on by itself."""

    tick = "go-on"


class NotYet(AsksFirst):
    """A meeting that has not come yet by this machine's clock."""

    tick = "early"


def record_step(
    session: Session,
    *,
    team: Team,
    step: Step,
    meeting: Meeting,
    event: str,
    by: By,
    initials: str = "",
    note: str = "",
    student_id: int | None = None,
    refusal: str = "",
    by_adult: bool = False,
    go_on: bool = False,
) -> Progress:
    """Record a step as done, spoiled or helped; done twice is recorded once.

    What a second adult adds to a step already done is kept beside it, as checked again. `refusal`
    says why the team may not work at the station; then the step is recorded as done only if an
    adult did it, and as help. A hold point wants a reading within its limits unless work is to
    `go_on`. Raises NotSignedOff, HoldPointStands, or ValueError with a sentence if the initials of
    a hold point are missing.
    """
    row = Progress(
        team_id=team.id,
        step_id=step.id,
        meeting_id=meeting.id,
        student_id=student_id,
        event=event,
        initials=initials.strip()[:8],
        note=" ".join(note.split())[:500],
        recorded_at=by.now,
        recorded_by=by.name,
    )
    if event != "done":
        return _sent_twice(session, row) or _added(session, row)
    found = _done(session, row)
    if found is not None:
        return _checked_again(session, found, row)
    if step.hold_point and not row.initials:
        raise ValueError(f"{step.title} ends at a hold point: enter the initials of who checked.")
    if step.hold_point and step.check:
        row.note = f"{row.note} {_went_on(session, team, step, go_on=go_on)}".strip()
    if refusal and not by_adult:
        raise NotSignedOff(
            f"{refusal} If an adult did the work, tick “Done by an adult”; it is recorded as help."
        )
    if refusal:
        helped = {"event": "helped", "note": "Done by an adult: nobody present was signed off."}
        columns = ("team_id", "step_id", "meeting_id", "initials", "recorded_at", "recorded_by")
        session.add(Progress(**{name: getattr(row, name) for name in columns}, **helped))
    return _added(session, row)


def _went_on(session: Session, team: Team, step: Step, *, go_on: bool) -> str:
    """What to note where work goes on past a hold point whose reading is missing or out.

    Raises HoldPointStands unless it is to go on.
    """
    check, last = step.check or {}, last_reading(session, team, step)
    if last is None:
        says, note = f"enter the reading ({check['what']})", "Went on without a reading."
        says = f"{step.title} ends at a hold point: {says}"
    elif last.within is False:
        says = f"the reading {last.written} is kept and is out of its limits: {check['if_out']}"
        says, note = f"{says}, then enter a new one", f"Went on with {last.written}, out of limits."
    else:
        return ""
    if not go_on:
        raise HoldPointStands(f"{says}. If work goes on all the same, tick “Go on all the same”.")
    return note


def _checked_again(session: Session, done: Progress, row: Progress) -> Progress:
    """Keep what somebody adds to a step that is done already; the same once more adds nothing."""
    if (row.initials, row.note) in {("", ""), (done.initials, ""), (done.initials, done.note)}:
        return done
    row.event = "checked"
    return _sent_twice(session, row) or _added(session, row)


def _done(session: Session, row: Progress) -> Progress | None:
    return session.scalar(
        sa.select(Progress).where(
            Progress.team_id == row.team_id,
            Progress.step_id == row.step_id,
            Progress.event == "done",
        )
    )


def _sent_twice(session: Session, row: Progress) -> Progress | None:
    """The same event by the same person a moment ago: a double tap, not a second event."""
    return session.scalar(
        sa.select(Progress).where(
            Progress.team_id == row.team_id,
            Progress.step_id == row.step_id,
            Progress.event == row.event,
            Progress.recorded_by == row.recorded_by,
            Progress.note == row.note,
            Progress.initials == row.initials,
            Progress.recorded_at > row.recorded_at - DOUBLE_TAP,
        )
    )


def _added(session: Session, row: Progress) -> Progress:
    """Add a record; where another adult was quicker with the same step, theirs stands."""
    try:
        with session.begin_nested():
            session.add(row)
            session.flush()
    except IntegrityError:
        found = _done(session, row)
        if found is None:
            raise
        return _checked_again(session, found, row)
    return row


def load_record(session: Session, section: Section, record_id: int) -> Progress:
    """A progress record of the section.

    Raises Missing.
    """
    row = session.scalar(
        sa.select(Progress)
        .join(Team, Progress.team_id == Team.id)
        .where(Progress.id == record_id, Team.section_id == section.id)
        .options(joinedload(Progress.team), joinedload(Progress.step))
    )
    if row is None:
        raise Missing(f"record {record_id}")
    return row


def undo_step(session: Session, progress: Progress) -> None:
    """Take a progress record back; readings stay on record."""
    session.delete(progress)
    session.flush()


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
    row = _measurement(
        team, step, meeting, quantity=check.get("quantity") or step.key, written=written, by=by
    )
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


def load_reading(session: Session, section: Section, reading_id: int) -> Measurement:
    """A reading of the section.

    Raises Missing.
    """
    row = session.scalar(
        sa.select(Measurement)
        .join(Team, Measurement.team_id == Team.id)
        .where(Measurement.id == reading_id, Team.section_id == section.id)
        .options(joinedload(Measurement.team), joinedload(Measurement.step))
    )
    if row is None:
        raise Missing(f"reading {reading_id}")
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
        session.add(row)
    session.flush()


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
            Measurement.written == row.written,
            Measurement.recorded_by == row.recorded_by,
            Measurement.recorded_at > row.recorded_at - DOUBLE_TAP,
        )
    )


class Record(NamedTuple):
    """What is recorded of a team's work on a step, and by whom."""

    id: int
    event: str
    date: dt.date
    recorded_by: str
    initials: str
    note: str
    student: str | None


_PROGRESS = (
    sa.select(Progress.team_id, Progress.step_id, Progress.id, Progress.event, Meeting.date)
    .add_columns(Progress.recorded_by, Progress.initials, Progress.note, Student.code)
    .join(Progress.team)
    .join(Progress.meeting)
    .outerjoin(Student, Student.id == Progress.student_id)
    .where(Team.section_id == sa.bindparam("section"))
    .order_by(Progress.id)
)
_PAIR = sa.tuple_(Progress.team_id, Progress.step_id)
_PROGRESS_OF_PAIRS = _PROGRESS.where(_PAIR.in_(sa.bindparam("pairs", expanding=True)))


def progress_of(
    session: Session, section: Section, *, only: Collection[tuple[int, int]] | None = None
) -> dict[tuple[int, int], list[Record]]:
    """Records by (team, step) in their order, of all the section's work or only of some pairs."""
    found: dict[tuple[int, int], list[Record]] = defaultdict(list)
    if only is None:
        rows = session.execute(_PROGRESS, {"section": section.id})
    elif only:
        given = {"section": section.id, "pairs": list(only)}
        rows = session.execute(_PROGRESS_OF_PAIRS, given)
    else:
        return found
    for team_id, step_id, *row in rows:
        found[team_id, step_id].append(Record._make(row))
    return found


def recorded_in(session: Session, meeting: Meeting) -> list[tuple[int, int]]:
    """Team and step of everything recorded into a meeting, in the order of recording."""
    query = sa.select(Progress.team_id, Progress.step_id).where(Progress.meeting_id == meeting.id)
    return [(team, step) for team, step in session.execute(query.order_by(Progress.id))]


def measurements_of(
    session: Session, section: Section, *, out_only: bool = False
) -> list[Measurement]:
    """All readings of a section, or those out of their limits, in the order of recording."""
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
    if out_only:
        query = query.where(Measurement.within.is_(False))
    return list(session.scalars(query))


# --- the room's air and the product in use -----------------------------------------------------


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


def last_reading(session: Session, team: Team, step: Step) -> Measurement | None:
    """The newest reading of a team at a step."""
    return session.scalar(
        sa.select(Measurement)
        .where(Measurement.team_id == team.id, Measurement.step_id == step.id)
        .order_by(Measurement.id.desc())
        .limit(1)
    )
