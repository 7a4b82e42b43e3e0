"""What standards cost at district size, as ratios measured by turns in one run.

The district is generated: 500 teachers, 5,000 sections of 90 meetings in ten departments. Time is
the processor's, of every thread of this process.
"""

import datetime as dt
import json
import random
import shutil
import time
import uuid
from statistics import median

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from app import db
from app.interchange.standard import importing as case_import
from app.interchange.standard.case import read_case
from app.models import (
    Activity,
    Build,
    Course,
    Department,
    Framework,
    Lesson,
    Mark,
    Meeting,
    MeetingState,
    Phase,
    Plan,
    RequiredStandard,
    Role,
    Room,
    School,
    Section,
    Standard,
    StandardLink,
    Step,
    Student,
    Team,
    Term,
    Treatment,
    User,
)
from app.settings import embedded_url
from app.store.standard import standards
from app.store.standard.department import department_coverage
from tests.conftest import make_app, signed_in
from tests.store.rows import FIRST, NOW, values_of

pytestmark = pytest.mark.benchmark
ROUNDS = 7
ITEMS, LINKS = 10_000, 30_000
TEACHERS, SECTIONS, MEETINGS, DEPARTMENTS = 500, 5_000, 90, 10
LESSONS, SITTINGS, STUDENTS, MARKS = 20, 40, 20, 40


def taken_s(call):
    start = time.process_time()
    call()
    return time.process_time() - start


def by_turns_s(*calls, rounds=ROUNDS):
    """The median of each call, measured in turn so that all meet the same machine."""
    times = [[] for _ in calls]
    for number in range(rounds + 1):
        for call, taken in zip(calls, times, strict=True):
            seconds = taken_s(call)
            if number:
                taken.append(seconds)
    return [median(taken) for taken in times]


@pytest.fixture
def engine(empty_file, tmp_path):
    path = tmp_path / "school.db"
    shutil.copy(empty_file, path)
    engine = db.make_engine(embedded_url(path))
    with db.session_factory(engine)() as session:
        session.add(School(name="Invented District"))
        session.commit()
    yield engine
    engine.dispose()


# --- import --------------------------------------------------------------------------------------

WORDS = [
    "measure",
    "compare",
    "string",
    "length",
    "area",
    "ratio",
    "sequence",
    "model",
    "wood",
    "pitch",
    "tension",
    "graph",
    "scale",
    "angle",
    "frequency",
    "wave",
    "design",
    "test",
    "record",
    "explain",
    "predict",
    "build",
    "material",
    "force",
    "energy",
    "table",
    "rule",
]


def package(items=ITEMS, links=LINKS):
    """A package in our own words: strands of ten items, crosswalk links elsewhere."""
    chance = random.Random(7)
    names = [str(uuid.UUID(int=chance.getrandbits(128), version=4)) for _ in range(items)]
    node = lambda name: {"title": name[:8], "identifier": name, "uri": f"urn:x:{name}"}  # noqa: E731
    return {
        "CFDocument": {
            "identifier": "doc",
            "uri": "urn:x:doc",
            "title": "Generated",
            "creator": "x",
        },
        "CFItems": [
            {
                "identifier": name,
                "uri": f"urn:x:{name}",
                "humanCodingScheme": f"{n % 12 + 1}.GX.{n}",
                "fullStatement": " ".join(chance.choices(WORDS, k=25)),
                "educationLevel": [f"{n % 12 + 1:02d}"],
                "CFItemType": "Standard",
                "lastChangeDateTime": "2026-01-01T00:00:00+00:00",
            }
            for n, name in enumerate(names)
        ],
        "CFAssociations": [
            {
                "identifier": f"a-{n}",
                "uri": f"urn:x:a-{n}",
                "associationType": "isChildOf" if n < items else "isRelatedTo",
                "originNodeURI": node(names[n % items]),
                "destinationNodeURI": node(
                    names[n // 10]
                    if 0 < n // 10 < n < items
                    else ("doc" if n < items else f"elsewhere-{n}")
                ),
                "sequenceNumber": n,
                "lastChangeDateTime": "2026-01-01T00:00:00+00:00",
            }
            for n in range(links)
        ],
    }


def test_an_import_takes_at_most_three_times_parsing_and_a_bare_bulk_insert(engine):
    raw = json.dumps(package()).encode()
    sessions = db.session_factory(engine)
    rows = {}

    def whole():
        with sessions() as session:
            draft = read_case(raw, "generated.json", FIRST)
            found = case_import.preview(session, 1, draft)
            framework = case_import.apply(session, 1, found, "benchmark", NOW)
            if not rows:
                rows.update(stored(session, framework))
            session.rollback()

    def bare():
        json.loads(raw)
        with engine.begin() as connection:
            connection.execute(sa.insert(Framework), [rows["framework"]])
            connection.execute(sa.insert(Standard), rows["standards"])
            connection.execute(sa.insert(StandardLink), rows["links"])
            connection.rollback()

    whole()
    assert (len(rows["standards"]), len(rows["links"])) == (ITEMS, LINKS)
    imported, inserted = by_turns_s(whole, bare, rounds=5)
    print(f"import {imported:.2f} s, bare {inserted:.2f} s, ratio {imported / inserted:.2f}")
    assert imported < 3 * inserted


def stored(session, framework):
    """The rows an import stored, as plain values for a bare insert."""

    def plain(model, where):
        table = model.__table__
        return [dict(row._mapping) for row in session.execute(sa.select(table).where(where))]

    (one,) = plain(Framework, Framework.__table__.c.id == framework.id)
    return {
        "framework": one,
        "standards": plain(Standard, Standard.__table__.c.framework_id == framework.id),
        "links": plain(StandardLink, StandardLink.__table__.c.framework_id == framework.id),
    }


# --- department ----------------------------------------------------------------------------------


def district(engine):
    """500 teachers, 5,000 sections, 90 meetings each, their plans, students and marks."""
    chance = random.Random(9)
    with engine.begin() as connection:

        def fill(model, rows):
            template = values_of(model)
            # One statement for all rows, so all carry the same columns.
            connection.execute(sa.insert(model), [{**template, **row} for row in rows])

        build, band = connection.execute(
            sa.select(Build.id, Build.band).where(Build.key == "six-string-solid-body")
        ).first()
        steps = connection.scalars(
            sa.select(Step.id).join(Phase).where(Phase.build_id == build)
        ).all()
        band = "9-12"
        treatments = connection.scalars(sa.select(Treatment.id).where(Treatment.band == band)).all()
        codes = connection.scalars(sa.select(Standard.id).limit(20)).all()
        fill(
            Department,
            [
                {"id": d, "school_id": 1, "key": f"d{d}", "name": f"D{d}"}
                for d in range(1, DEPARTMENTS + 1)
            ],
        )
        fill(
            Course,
            [
                {"id": d, "department_id": d, "key": f"c{d}", "band": band}
                for d in range(1, DEPARTMENTS + 1)
            ],
        )
        fill(
            RequiredStandard,
            [
                {"course_id": d, "standard_id": code}
                for d in range(1, DEPARTMENTS + 1)
                for code in codes
            ],
        )
        fill(
            User,
            [
                {
                    "id": t,
                    "school_id": 1,
                    "department_id": t % DEPARTMENTS + 1,
                    "email": f"t{t}@x.example",
                    "name": f"T{t}",
                    "role": Role.DEPARTMENT_HEAD if t <= DEPARTMENTS else Role.TEACHER,
                }
                for t in range(1, TEACHERS + 1)
            ],
        )
        fill(Term, [{"id": 1, "school_id": 1}])
        fill(Room, [{"id": 1, "school_id": 1}])
        every = range(1, SECTIONS + 1)
        fill(
            Section,
            [
                {
                    "id": s,
                    "key": f"s{s}",
                    "title": f"S{s}",
                    "band": band,
                    "term_id": 1,
                    "room_id": 1,
                    "build_id": build,
                    "course_id": s % DEPARTMENTS + 1,
                    "teacher_id": s % TEACHERS + 1,
                }
                for s in every
            ],
        )
        fill(
            Meeting,
            [
                {
                    "id": s * MEETINGS + n,
                    "section_id": s,
                    "number": n + 1,
                    "week": n // 5,
                    "date": FIRST + dt.timedelta(days=n),
                    "state": MeetingState.TAUGHT if n < 40 else MeetingState.PLANNED,
                }
                for s in every
                for n in range(MEETINGS)
            ],
        )
        fill(Plan, [{"id": s, "section_id": s, "current": True} for s in every])
        fill(Team, [{"id": s, "section_id": s, "code": "T1"} for s in every])
        at = lambda s: s * MEETINGS + chance.randrange(MEETINGS)  # noqa: E731
        fill(
            Lesson,
            [
                {"plan_id": s, "meeting_id": at(s), "treatment_id": chance.choice(treatments)}
                for s in every
                for _ in range(LESSONS)
            ],
        )
        fill(
            Activity,
            [
                {"plan_id": s, "team_id": s, "meeting_id": at(s), "step_id": steps[n % len(steps)]}
                for s in every
                for n in range(SITTINGS)
            ],
        )
        fill(
            Student,
            [
                {"id": s * STUDENTS + n, "section_id": s, "team_id": s, "code": f"S{n}"}
                for s in every
                for n in range(STUDENTS)
            ],
        )
        fill(
            Mark,
            [
                {
                    "student_id": s * STUDENTS + n % STUDENTS,
                    "meeting_id": at(s),
                    "treatment_id": treatments[(s + n // STUDENTS) % len(treatments)],
                    "artifact": "sheet",
                }
                for s in every
                for n in range(MARKS)
            ],
        )
        connection.exec_driver_sql("ANALYZE")


BARE = """
WITH seen AS (SELECT section.id, section.band FROM section JOIN course ON course.id = course_id
              WHERE department_id = :department),
placed AS (
  SELECT plan.section_id AS s, treatment_id AS t, 'I' AS d, meeting.state = 'taught' AS taught,
         min(meeting.date) AS first
  FROM lesson JOIN plan ON plan.id = plan_id JOIN meeting ON meeting.id = meeting_id
  WHERE current AND plan.section_id IN (SELECT id FROM seen) AND state <> 'lost'
  GROUP BY 1, 2, 4
  UNION ALL
  SELECT plan.section_id, treatment.id, 'P', meeting.state = 'taught', min(meeting.date)
  FROM activity JOIN plan ON plan.id = plan_id JOIN meeting ON meeting.id = meeting_id
  JOIN seen ON seen.id = plan.section_id JOIN exposure ON exposure.step_id = activity.step_id
  JOIN treatment ON treatment.concept_id = exposure.concept_id AND treatment.band = seen.band
  WHERE current AND state <> 'lost'
    AND EXISTS (SELECT 1 FROM question WHERE treatment_id = treatment.id)
  GROUP BY 1, 2, 4
  UNION ALL
  SELECT student.section_id, treatment_id, 'A', 1, min(meeting.date)
  FROM mark JOIN student ON student.id = student_id JOIN meeting ON meeting.id = meeting_id
  WHERE student.section_id IN (SELECT id FROM seen) GROUP BY 1, 2)
SELECT s, standard_id, d, strength, max(taught), min(first)
FROM placed JOIN alignment ON alignment.treatment_id = placed.t GROUP BY 1, 2, 3, 4
"""
BARE_STUDENTS = """
SELECT student.section_id, standard_id, count(DISTINCT student_id)
FROM mark JOIN student ON student.id = student_id
JOIN alignment ON alignment.treatment_id = mark.treatment_id AND strength = 'strong'
JOIN section ON section.id = student.section_id JOIN course ON course.id = section.course_id
WHERE department_id = :department GROUP BY 1, 2
"""


def test_a_departments_coverage_takes_at_most_twice_the_bare_sql_and_a_fixed_number_of_queries(
    engine,
):
    district(engine)
    sessions = db.session_factory(engine)
    statements = []
    event.listen(engine, "before_cursor_execute", lambda *args: statements.append(args[2]))

    def ours():
        with sessions() as session:
            head = session.get(User, 1)
            statements.clear()
            found = department_coverage(session, head, head.department)
            assert len(found.heads) == SECTIONS // DEPARTMENTS

    def bare():
        with engine.connect() as connection:
            given = {"department": 2}
            rows = connection.execute(sa.text(BARE), given).all()
            connection.execute(sa.text(BARE_STUDENTS), given).all()
            assert len(rows) > SECTIONS // DEPARTMENTS

    coverage_s, bare_s = by_turns_s(ours, bare)
    selects = [s for s in statements if s.startswith(("SELECT", "WITH"))]
    print(
        f"department of {SECTIONS // DEPARTMENTS} sections: {coverage_s:.2f} s, bare {bare_s:.2f} s, "
        f"ratio {coverage_s / bare_s:.2f}, {len(selects)} queries"
    )
    assert coverage_s < 2 * bare_s
    assert len(selects) <= 14


# --- search --------------------------------------------------------------------------------------


def test_search_as_you_type_over_20_000_standards_takes_at_most_three_pages_without_a_query(
    sample_file, tmp_path
):
    path = tmp_path / "demo.db"
    shutil.copy(sample_file, path)
    app = make_app(path)
    app.config.update(TESTING=True, WTF_CSRF_ENABLED=False)
    with db.session_factory(app.extensions["engine"])() as session:
        school = session.scalars(sa.select(School.id)).one()
        draft = read_case(json.dumps(package(20_000, 20_000)).encode(), "g.json", FIRST)
        case_import.apply(session, school, case_import.preview(session, school, draft), "b", NOW)
        session.commit()
        assert len(standards.index_of(session, school).entries) > 20_000
    client = signed_in(app, "teacher")

    def typed(text):
        headers = {"X-Part": "found"}
        return lambda: client.get("/standards", query_string={"q": text}, headers=headers)

    letters = ["6", "6.", "6.G", "6.GX.1", "m", "me", "measure", "measure str", "ratio wave"]
    plain, *times = by_turns_s(lambda: client.get("/standards"), *map(typed, letters), rounds=15)
    for text, seconds in zip(letters, times, strict=True):
        print(
            f"{text!r}: {seconds * 1000:.1f} ms, {seconds / plain:.2f} times a page of {plain * 1000:.1f} ms"
        )
    app.extensions["engine"].dispose()
    assert max(times) < 3 * plain
