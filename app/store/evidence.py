"""What happened in class: attendance, progress, measurements, marks and sign-offs."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.quantities import UnreadableValue, parse
from app.models import (
    Absence,
    Mark,
    Measurement,
    Meeting,
    MeetingState,
    PermitType,
    Progress,
    Section,
    SignOff,
    Step,
    Student,
    Team,
)
from app.store import sections

PARTS = ("lesson", "test", "check-out")


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


def record_absences(session: Session, meeting: Meeting, codes: set[str], section: Section) -> None:
    """Make the absences of a meeting exactly these student codes."""
    held = {
        row.student_id: row
        for row in session.scalars(sa.select(Absence).where(Absence.meeting_id == meeting.id))
    }
    away = {student.id for student in section.students if student.code in codes}
    for student_id, row in held.items():
        if student_id not in away:
            session.delete(row)
    for student_id in away - set(held):
        session.add(Absence(meeting_id=meeting.id, student_id=student_id))
    session.flush()


def absent_codes(session: Session, meeting: Meeting) -> set[str]:
    """Codes of the students away from a meeting."""
    query = sa.select(Student.code).join(Absence).where(Absence.meeting_id == meeting.id)
    return set(session.scalars(query))


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
) -> Progress:
    """Record a step as done, spoiled or helped; done twice is recorded once.

    Raises ValueError with a sentence if a hold point before it is open, or initials are missing.
    """
    if event == "done":
        found = session.scalar(
            sa.select(Progress).where(
                Progress.team_id == team.id, Progress.step_id == step.id, Progress.event == "done"
            )
        )
        if found is not None:
            return found
        if step.hold_point and not initials.strip():
            raise ValueError(
                f"{step.title} ends at a hold point: enter the initials of who checked."
            )
    row = Progress(
        team_id=team.id,
        step_id=step.id,
        meeting_id=meeting.id,
        event=event,
        initials=initials.strip()[:8],
        note=note.strip()[:500],
        recorded_at=by.now,
        recorded_by=by.name,
    )
    session.add(row)
    session.flush()
    return row


def undo_step(session: Session, progress: Progress) -> None:
    """Take a progress record back."""
    session.delete(progress)
    session.flush()


def record_measurement(
    session: Session, *, team: Team, step: Step, meeting: Meeting, written: str, by: By
) -> Measurement:
    """Record the reading of a step's quality check; it becomes the team's instrument.

    Raises ValueError with a sentence if it is no number with a unit of its kind.
    """
    check = step.check or {}
    value = _number(written, check.get("unit", ""), check.get("what", step.title))
    row = Measurement(
        team_id=team.id,
        step_id=step.id,
        meeting_id=meeting.id,
        quantity=check.get("quantity") or step.key,
        written=written.strip(),
        value=value,
        unit=check.get("unit", ""),
        within=within_limits(check, value),
        instrument_used=check.get("measure_with", ""),
        recorded_at=by.now,
        recorded_by=by.name,
    )
    session.add(row)
    known = {item.key for item in team.instrument.quantities}
    if check.get("quantity") in known:
        unit = check.get("unit", "")
        text = written.strip()
        written_unit = any(character.isalpha() or character in '%°"' for character in text)
        sections.set_quantity(
            session,
            team,
            check["quantity"],
            text if written_unit else f"{text} {unit}".strip(),
            measured=True,
        )
    session.flush()
    return row


def _number(written: str, unit: str, what: str) -> float:
    """The reading in the check's own unit."""
    text = written.strip().removesuffix(unit).strip() if unit else written.strip()
    try:
        return float(text.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        pass
    if unit == "mm":
        try:
            return 1000 * parse(written, "length")
        except UnreadableValue as error:
            raise ValueError(f"{what}: {error}") from error
    raise ValueError(
        f"{what}: “{written}” is no reading; enter a number in {unit or 'plain figures'}."
    )


def within_limits(check: dict[str, object], value: float) -> bool | None:
    """Whether a reading meets the check's machine-readable limit; None where there is none."""
    low, high, spread = (check.get(name) for name in ("minimum", "maximum", "maximum_absolute"))
    if isinstance(spread, int | float):
        return abs(value) <= spread
    if isinstance(low, int | float) or isinstance(high, int | float):
        above = not isinstance(low, int | float) or value >= low
        below = not isinstance(high, int | float) or value <= high
        return above and below
    return None


def progress_of(session: Session, section: Section) -> dict[tuple[int, int], list[Progress]]:
    """Progress records by (team, step)."""
    found: dict[tuple[int, int], list[Progress]] = defaultdict(list)
    query = (
        sa.select(Progress)
        .join(Team, Progress.team_id == Team.id)
        .where(Team.section_id == section.id)
        .order_by(Progress.id)
        .options(joinedload(Progress.meeting))
    )
    for row in session.scalars(query):
        found[row.team_id, row.step_id].append(row)
    return found


def measurements_of(session: Session, section: Section) -> list[Measurement]:
    """All readings of a section, in the order of recording."""
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


def marks_of(session: Session, section: Section) -> list[Mark]:
    """All marks of a section."""
    query = (
        sa.select(Mark)
        .join(Student)
        .where(Student.section_id == section.id)
        .options(joinedload(Mark.student), joinedload(Mark.treatment))
    )
    return list(session.scalars(query))


# --- sign-offs ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class SignOffState:
    """How far a student is with one permit; `parts` has the date of each part that is done."""

    parts: dict[str, dt.date]
    suspended: bool

    @property
    def signed_off(self) -> bool:
        """Lesson, test and check-out are on record and nothing suspends them."""
        return not self.suspended and all(part in self.parts for part in PARTS)


def permit_titles(session: Session) -> dict[str, str]:
    """Permits by key."""
    return dict(session.execute(sa.select(PermitType.key, PermitType.title)).all())


def sign_off_states(session: Session, section: Section) -> dict[str, dict[str, SignOffState]]:
    """Student code → permit → state."""
    query = (
        sa.select(SignOff, Student.code)
        .join(Student)
        .where(Student.section_id == section.id)
        .order_by(SignOff.id)
    )
    parts: dict[tuple[str, str], dict[str, dt.date]] = defaultdict(dict)
    suspended: dict[tuple[str, str], bool] = {}
    for row, code in session.execute(query):
        key = (code, row.permit)
        if row.part == "suspension":
            suspended[key] = True
        elif row.part == "reinstatement":
            suspended[key] = False
        else:
            parts[key][row.part] = row.date
    states: dict[str, dict[str, SignOffState]] = defaultdict(dict)
    for key in {*parts, *suspended}:
        states[key[0]][key[1]] = SignOffState(parts[key], suspended.get(key, False))
    return states


def record_sign_off(
    session: Session,
    student: Student,
    permit: str,
    part: str,
    *,
    date: dt.date,
    person: str,
    test_version: str = "",
    score: float | None = None,
    note: str = "",
) -> SignOff:
    """Record one part of a permit.

    Raises ValueError with a sentence if the order is broken or the test is not all right.
    """
    done = {
        row.part
        for row in session.scalars(
            sa.select(SignOff).where(SignOff.student_id == student.id, SignOff.permit == permit)
        )
    }
    if part == "test" and score != 100:
        raise ValueError("The written test is passed at 100 % only; teach the missed items again.")
    if part == "test" and "lesson" not in done:
        raise ValueError(f"{student.code} has not had the lesson yet; record it before the test.")
    if part == "check-out" and "test" not in done:
        raise ValueError(
            f"{student.code} has not passed the test yet; record it before the check-out."
        )
    row = SignOff(
        student_id=student.id,
        permit=permit,
        part=part,
        date=date,
        person=person,
        test_version=test_version,
        score=score,
        note=note.strip()[:500],
    )
    session.add(row)
    session.flush()
    return row


def sign_off_log(session: Session, section: Section) -> list[SignOff]:
    """The whole log, oldest first."""
    query = (
        sa.select(SignOff)
        .join(Student)
        .where(Student.section_id == section.id)
        .order_by(SignOff.date, SignOff.id)
        .options(joinedload(SignOff.student))
    )
    return list(session.scalars(query))
