"""Recording under two adults at once, and erasing what one person left."""

import datetime as dt
import threading

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from app import db
from app.models import (
    Measurement,
    Meeting,
    Progress,
    Section,
    SignOff,
    Step,
    Student,
    StudentName,
    Team,
)
from app.store import sections
from app.store.classroom import bench_work, evidence, roster
from tests.conftest import signed_in

KEY = "/sections/period-3"


def open_work(session, *, hold):
    """A team and a step of the sample section that is not done yet."""
    section = session.scalar(sa.select(Section).where(Section.key == "period-3"))
    held = bench_work.progress_of(session, section)
    for step in sections.load_steps(session, section.build_id):
        for team in section.teams:
            free = step.permit is None or step.permit == "P-HAND"
            if step.hold_point == hold and step.check and free and not held.get((team.id, step.id)):
                return section, team, step
    raise AssertionError("nothing is open in the sample section")


def at_once(*actions):
    """Run actions on threads that start together; what they raised comes back."""
    gate = threading.Barrier(len(actions))
    raised = []

    def run(action):
        gate.wait()
        try:
            action()
        except Exception as error:  # noqa: BLE001 - handed to the test
            raised.append(error)

    threads = [threading.Thread(target=run, args=(action,)) for action in actions]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return raised


def test_two_adults_recording_the_same_team_at_once_lose_nothing(app, session):
    _, team, step = open_work(session, hold=True)
    address = f"{KEY}/meetings/38/steps/{team.id}/{step.id}"
    readings = {"teacher": step.check["nominal"], "admin": "0"}
    session.rollback()
    clients = {who: signed_in(app, who) for who in readings}
    statuses = []

    def record(who):
        answer = clients[who].post(
            address,
            data={
                "event": "done", "initials": who[:2], "reading": readings[who], "confirmed": "1",
                "by-adult": "1", "note": who,
            },
        )  # fmt: skip
        statuses.append(answer.status_code)

    raised = at_once(*(lambda who=who: record(who) for who in readings))

    assert raised == []
    assert statuses == [303, 303]
    mine = sa.select(sa.func.count())
    done = mine.select_from(Progress).where(
        Progress.team_id == team.id, Progress.step_id == step.id, Progress.event == "done"
    )
    assert session.scalar(done) == 1
    kept = mine.select_from(Measurement).where(
        Measurement.team_id == team.id, Measurement.step_id == step.id
    )
    assert session.scalar(kept) == 2


def test_many_taps_from_two_phones_leave_one_done_and_every_note(app, session):
    section, team, step = open_work(session, hold=False)
    team_id, step_id, meeting_id = team.id, step.id, section.meetings[0].id
    session.rollback()
    factory = db.session_factory(app.extensions["engine"])

    def tap(who, note):
        with factory() as mine:
            shared = {
                "team": mine.get(Team, team_id), "step": mine.get(Step, step_id),
                "meeting": mine.get(Meeting, meeting_id),
                "by": evidence.By(who, dt.datetime.now(dt.UTC)),
            }  # fmt: skip
            bench_work.record_step(mine, event="spoiled", note=note, **shared)
            bench_work.record_step(mine, event="done", **shared)
            mine.commit()

    raised = at_once(*(lambda n=n: tap(f"adult {n % 2}", f"part {n}") for n in range(8)))

    assert raised == []
    rows = list(
        session.scalars(
            sa.select(Progress).where(Progress.team_id == team_id, Progress.step_id == step_id)
        )
    )
    assert sorted(row.event for row in rows) == ["done", *["spoiled"] * 8]


def test_the_database_itself_keeps_a_step_from_being_done_twice(session):
    _, team, step = open_work(session, hold=False)
    meeting = team.section.meetings[0]

    def row():
        return Progress(
            team_id=team.id, step_id=step.id, meeting_id=meeting.id, event="done",
            recorded_at=dt.datetime.now(dt.UTC), recorded_by="A. Rowan",
        )  # fmt: skip

    session.add(row())
    session.flush()
    assert bench_work._added(session, row()).recorded_by == "A. Rowan"
    session.add(row())
    with pytest.raises(IntegrityError):
        session.flush()


def test_erasing_a_student_keeps_the_teams_work_and_frees_its_readings(session):
    student = session.scalar(
        sa.select(Student).join(Measurement, Measurement.student_id == Student.id).limit(1)
    )
    student_id, team = student.id, student.team
    session.add(StudentName(student_id=student_id, name="Somebody"))
    session.flush()
    work = session.scalar(
        sa.select(sa.func.count()).select_from(Progress).where(Progress.team_id == team.id)
    )
    readings = session.scalar(
        sa.select(sa.func.count()).select_from(Measurement).where(Measurement.team_id == team.id)
    )
    roster.erase_student(session, student)

    def count(table, rule):
        return session.scalar(sa.select(sa.func.count()).select_from(table).where(rule))

    assert count(Progress, Progress.team_id == team.id) == work
    assert count(Measurement, Measurement.team_id == team.id) == readings
    assert count(Measurement, Measurement.student_id == student_id) == 0
    assert count(SignOff, SignOff.student_id == student_id) == 0
    assert count(StudentName, StudentName.student_id == student_id) == 0


def test_names_stand_apart_and_go_by_one_act(session):
    section = session.scalar(sa.select(Section).where(Section.key == "period-3"))
    for student in section.students:
        roster.set_name(session, student, f"Name of {student.code}")

    assert roster.remove_names(session, section) == len(section.students)
    assert roster.names_of(session, section) == {}
    assert all("Name" not in str(vars(student)) for student in section.students)
