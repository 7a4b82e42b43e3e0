"""Class-day pages against their bare template, and list imports against a bare insert; as ratios."""

import datetime as dt
import gc
import time
from statistics import median

import pytest
import sqlalchemy as sa
from flask import g, render_template
from sqlalchemy.orm import Session

from app import db
from app.classroom import day_pages
from app.domain.classroom.roster_changes import RosterEntry
from app.models import (
    Absence,
    Activity,
    Meeting,
    Plan,
    Progress,
    Section,
    SignOff,
    Step,
    Student,
)
from app.store import accounts, sections
from app.store.classroom import roster
from tests.conftest import signed_in

pytestmark = pytest.mark.benchmark

KEY = "/sections/period-3"
STUDENTS = 2000


def median_time(action, times=15, between=None):
    """Median seconds of processor time of an action: a busy machine does not change the ratio.

    `between` two of them something may be put right untimed.
    """
    action()
    taken = []
    for _ in range(times):
        if between:
            between()
        start = time.process_time()
        action()
        taken.append(time.process_time() - start)
    return median(taken)


class Statements:
    """What is asked of the database while it is watched, so that it can be asked again alone."""

    def __init__(self, engine):
        self.engine, self.asked = engine, []

    def _keep(self, _connection, _cursor, statement, parameters, _context, _many):
        self.asked.append((statement, parameters))

    def __enter__(self):
        sa.event.listen(self.engine, "before_cursor_execute", self._keep)
        return self

    def __exit__(self, *_):
        sa.event.remove(self.engine, "before_cursor_execute", self._keep)

    @property
    def queries(self):
        """The statements that read."""
        return [item for item in self.asked if item[0].lstrip().startswith("SELECT")]

    def ask_again(self, connection):
        """The same queries through the bare driver, every row fetched."""
        for statement, parameters in self.queries:
            connection.exec_driver_sql(statement, parameters).fetchall()


def queries_of(app, action):
    """The queries of an action, and the median seconds that the driver alone takes for them."""
    engine = app.extensions["engine"]
    with Statements(engine) as seen:
        action()
    with engine.execution_options(reading=True).connect() as connection:
        return len(seen.queries), median_time(lambda: seen.ask_again(connection))


def rest_of(monkeypatch, action, times=40):
    """Median seconds of an action beside what the session needs to run and load its queries."""
    run, spent = Session.execute, [0.0]

    def execute(self, *given, **how):
        start = time.process_time()
        result = run(self, *given, **how).freeze()()
        spent[0] += time.process_time() - start
        return result

    taken = []
    with monkeypatch.context() as patched:
        patched.setattr(Session, "execute", execute)
        patched.setattr(Session, "scalars", lambda s, *a, **k: s.execute(*a, **k).scalars())
        patched.setattr(Session, "scalar", lambda s, *a, **k: s.execute(*a, **k).scalar())
        for _ in range(times):
            spent[0], start = 0.0, time.process_time()
            action()
            taken.append(time.process_time() - start - spent[0])
    return median(taken)


def without_queries(app, monkeypatch, client):
    """Make the page of today answer from what it showed last: the template and nothing else."""
    seen = {}

    def keep(template, **values):
        seen.update(template=template, values=values, user=g.user)
        return render_template(template, **values)

    with monkeypatch.context() as patched:
        patched.setattr(day_pages, "render_template", keep)
        client.get(f"{KEY}/today")
    monkeypatch.setattr(accounts, "load_user", lambda *_: seen["user"])
    view = app.view_functions["classroom.today"]
    return {
        "bare": lambda **_: render_template(seen["template"], **seen["values"]),
        "real": view,
    }


def double_the_roster(app):
    """As many students again in every team, with sign-offs of their own, some of them away."""
    with db.session_factory(app.extensions["engine"])() as session:
        section = session.scalar(sa.select(Section).where(Section.key == "period-3"))
        meetings = [m for m in section.meetings if m.date >= dt.date(2027, 2, 26)][:2]
        for student in list(section.students):
            twin = Student(
                section_id=section.id,
                team_id=student.team_id,
                code=f"{student.code}b",
                grade=student.grade,
            )
            session.add(twin)
            session.flush()
            permits = session.scalars(sa.select(SignOff).where(SignOff.student_id == student.id))
            session.add_all(
                SignOff(
                    student_id=twin.id,
                    permit=row.permit,
                    part=row.part,
                    date=row.date,
                    person=row.person,
                )
                for row in list(permits)
            )
            if twin.id % 5 == 0:
                session.add_all(Absence(meeting_id=m.id, student_id=twin.id) for m in meetings)
        session.commit()


def a_step_to_record(app):
    """Address of a step that a team has not done, without a hold point, and the ids in it."""
    with db.session_factory(app.extensions["engine"])() as session:
        done = sa.select(Progress.step_id).where(
            Progress.team_id == Activity.team_id, Progress.event == "done"
        )
        row = session.scalars(
            sa.select(Activity)
            .join(Activity.plan)
            .join(Activity.meeting)
            .join(Activity.step)
            .join(Section, Section.id == Meeting.section_id)
            .where(
                Section.key == "period-3",
                Plan.current,
                Meeting.date >= dt.date(2027, 3, 1),
                Step.hold_point.is_(False),
                Step.permit.is_not(None),
                Activity.step_id.not_in(done),
            )
            .order_by(Meeting.date, Activity.id)
        ).first()
        address = f"{KEY}/meetings/{row.meeting.number}/steps/{row.team_id}/{row.step_id}"
        return address, row.team_id, row.step_id


def said(capsys, name, taken, bare, queries, driver):
    with capsys.disabled():
        print(
            f"\n{name}: {1000 * taken:.1f} ms, the template's page alone {1000 * bare:.1f} ms, "
            f"ratio {taken / bare:.1f}; {queries} queries, {1000 * driver:.1f} ms in the driver; "
            f"ratio without them {(taken - driver) / bare:.1f}"
        )


def test_today_and_a_progress_entry_against_the_page_without_queries(app, monkeypatch, capsys):
    gc.collect()
    gc.freeze()  # as `stringcourse serve` does
    client = signed_in(app, "teacher")
    address, team_id, step_id = a_step_to_record(app)
    given = {"event": "done", "by-adult": "1"}

    def take_back():
        with app.extensions["engine"].begin() as connection:
            pair = (Progress.team_id == team_id, Progress.step_id == step_id)
            connection.execute(sa.delete(Progress).where(*pair))

    def today():
        assert client.get(f"{KEY}/today").status_code == 200

    def entry():
        assert client.post(address, data=given).status_code == 303

    with_queries = median_time(today)
    recorded = median_time(entry, between=take_back)
    rest = rest_of(monkeypatch, today)
    today_queries = queries_of(app, today)
    take_back()
    entry_queries = queries_of(app, entry)
    take_back()

    double_the_roster(app)
    assert queries_of(app, today)[0] == today_queries[0]
    assert queries_of(app, entry)[0] == entry_queries[0]

    views = without_queries(app, monkeypatch, client)
    app.view_functions["classroom.today"] = views["bare"]
    bare = median_time(today)
    app.view_functions["classroom.today"] = views["real"]
    said(capsys, "today", with_queries, bare, *today_queries)
    with capsys.disabled():
        print(f"today beside its queries: {1000 * rest:.1f} ms, ratio {rest / bare:.1f}")
    said(capsys, "a progress entry", recorded, bare, *entry_queries)
    assert today_queries[0] < 25
    assert entry_queries[0] < 16
    assert rest < 2.5 * bare
    # Twice the page and what its fixed number of queries cost: for each, a sixth of the page.
    assert with_queries < (2 + today_queries[0] / 6) * bare
    assert recorded < (2 + entry_queries[0] / 6) * bare


def test_importing_2000_students_against_a_bare_insert(app, capsys):
    factory = db.session_factory(app.extensions["engine"])
    entries = [RosterEntry(code=f"B{n:04d}", grade="9") for n in range(STUDENTS)]

    def section_of(session):
        return session.scalar(sa.select(Section).where(Section.key == "period-3"))

    def imported():
        with factory() as session:
            section = section_of(session)
            sections.load_teams(session, section)
            start = time.perf_counter()
            roster.import_list(session, section, entries, today=dt.date(2027, 3, 1))
            session.flush()
            taken = time.perf_counter() - start
            session.rollback()
            return taken

    def inserted():
        with factory() as session:
            section = section_of(session)
            start = time.perf_counter()
            session.add_all(
                Student(section_id=section.id, code=e.code, grade=e.grade) for e in entries
            )
            session.flush()
            taken = time.perf_counter() - start
            session.rollback()
            return taken

    imported(), inserted()
    ours = median(imported() for _ in range(5))
    bare = median(inserted() for _ in range(5))
    with capsys.disabled():
        print(
            f"\nimport of {STUDENTS}: {1000 * ours:.0f} ms, bare insert {1000 * bare:.0f} ms, "
            f"ratio {ours / bare:.2f}"
        )
    assert ours < 3 * bare
