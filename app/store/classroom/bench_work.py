"""A team's work on the steps: done, checked again, spoiled or helped, and what opens a hold point."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection
from typing import NamedTuple

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.models import (
    Meeting,
    Progress,
    Section,
    Step,
    Student,
    Team,
)
from app.store.classroom import readings
from app.store.classroom.evidence import DOUBLE_TAP, AsksFirst, By


class NotSignedOff(AsksFirst):
    """Nobody present in the team is signed off for the step's station."""

    tick = "by-adult"


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
    check, last = step.check or {}, readings.last_reading(session, team, step)
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


def undo_step(session: Session, progress: Progress) -> None:
    """Take a progress record back; readings stay on record."""
    session.delete(progress)
    session.flush()


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
