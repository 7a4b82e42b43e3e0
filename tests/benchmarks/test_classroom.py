"""Class-day pages against their bare template, and list imports against a bare insert; as ratios."""

import datetime as dt
import time
from statistics import median

import pytest
import sqlalchemy as sa
from flask import g, render_template

from app import db
from app.classroom import day as day_pages
from app.domain.roster import Entry
from app.models import Section, Student
from app.store import roster, sections
from tests.conftest import signed_in

pytestmark = pytest.mark.benchmark

KEY = "/sections/period-3"
STUDENTS = 2000


def median_time(action, times=15):
    """Median seconds of an action."""
    action()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        action()
        taken.append(time.perf_counter() - start)
    return median(taken)


def test_today_against_its_template_without_queries(app, monkeypatch, capsys):
    client = signed_in(app, "teacher")
    seen = {}

    def keep(template, **values):
        seen.update(template=template, values=values, user=g.user)
        return render_template(template, **values)

    monkeypatch.setattr(day_pages, "render_template", keep)
    with_queries = median_time(lambda: client.get(f"{KEY}/today"))
    engine = app.extensions["engine"]
    counted = []
    sa.event.listen(engine, "before_cursor_execute", lambda *_: counted.append(1))
    client.get(f"{KEY}/today")
    queries = len(counted)
    with engine.connect() as connection:
        one = median_time(lambda: connection.execute(sa.text("select 1")).scalar(), 50)

    with app.test_request_context(f"{KEY}/today"):
        g.user = seen["user"]
        bare = median_time(lambda: render_template(seen["template"], **seen["values"]))
    with capsys.disabled():
        print(
            f"\ntoday: {1000 * with_queries:.1f} ms, template alone {1000 * bare:.1f} ms, "
            f"ratio {with_queries / bare:.2f}, {queries} queries of at least {1e6 * one:.0f} µs"
        )
    assert queries < 60
    assert with_queries > bare


def test_importing_2000_students_against_a_bare_insert(app, capsys):
    factory = db.session_factory(app.extensions["engine"])
    entries = [Entry(code=f"B{n:04d}", grade="9") for n in range(STUDENTS)]

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
