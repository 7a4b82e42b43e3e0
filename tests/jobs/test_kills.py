"""A process killed at any moment leaves nothing half-written and loses nothing acknowledged."""

import multiprocessing
import random
import shutil
import sqlite3
import sys
from collections import Counter
from contextlib import closing

import pytest

from app import db
from app.domain.scheduling.check import check
from app.settings import embedded_url
from app.store.plan import plans, recorded_events
from tests.jobs.school_at_work import STUDENTS_AT_ONCE, section_of, work

KINDS = ("imports", "plans", "class_sets", "sign_offs")
SEED = 20270301
LONGEST_WAIT_SECONDS = {"imports": 0.1, "plans": 1.5, "class_sets": 1.5, "sign_offs": 0.1}


@pytest.fixture(scope="module")
def context():
    """Processes that come from one which has loaded the program, so that each begins at once."""
    made = multiprocessing.get_context("forkserver")
    made.set_forkserver_preload(["tests.jobs.school_at_work"])
    return made


@pytest.fixture
def school(sample_file, tmp_path):
    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    engine = db.make_engine(embedded_url(path))
    db.use_wal(engine)
    engine.dispose()
    return path


def kill_at_work(context, school, kind, number, chance):
    """Let a teacher work and kill the process at a moment of chance: what it said it did."""
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=work, args=(school, kind, number, theirs))
    process.start()
    theirs.close()
    said = [ours.recv()]
    wait = chance.uniform(0, LONGEST_WAIT_SECONDS[kind])
    process.join(wait)
    assert process.exitcode is None, "it ended by itself"
    process.kill()
    process.join()
    while True:
        try:
            said.append(ours.recv())
        except EOFError:
            break
    ours.close()
    return [item for item in said if item[0] == "done"], said[-1]


def is_whole(school):
    """Integrity, references, and the plan judged anew by the rules."""
    with closing(sqlite3.connect(school)) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert opened.execute("PRAGMA foreign_key_check").fetchall() == []
        jobs = opened.execute(
            "SELECT max(n) FROM (SELECT count(*) AS n FROM job WHERE state IN ('waiting', "
            "'running') GROUP BY section_id, kind)"
        ).fetchone()
        assert jobs[0] in (None, 1)
    engine = db.make_engine(embedded_url(school)).execution_options(reading=True)
    with db.session_factory(engine)() as session:
        section = section_of(session)
        standing = recorded_events.standing_of(session, section)
        plan = plans.current_plan(session, section)
        # Work outside class takes no time of it and so has no row that could be read back.
        found = [
            item.sentence
            for item in check(standing.problem, standing.schedule)
            if item.rule != "missing" or standing.problem.steps[item.keys[0]].ticks
        ]
        assert found == plan.broken_rules
        assert plan.activities
        for event in section.events:
            assert event.plan_after_id is not None, "an event without its plan"
    engine.dispose()


def names_in(school, query):
    with closing(sqlite3.connect(school)) as opened:
        return Counter(row[0] for row in opened.execute(query))


def all_or_nothing(school):
    """Lists of five come whole or not at all; a class set has its sheets and its key."""
    students = names_in(
        school,
        "SELECT substr(code, 1, length(code) - 2) FROM student WHERE code LIKE 'K%'",
    )
    lessons = names_in(school, "SELECT note FROM sign_off WHERE note LIKE 'K%'")
    assert set(students.values()) | set(lessons.values()) <= {STUDENTS_AT_ONCE}
    with closing(sqlite3.connect(school)) as opened:
        files = opened.execute("SELECT made_at, count(*) FROM class_set_file GROUP BY 1").fetchall()
        printed = opened.execute(
            "SELECT count(*) FROM job WHERE kind = 'class-set' AND state = 'done'"
        ).fetchone()
    assert [count for _, count in files] == ([2] if printed[0] else [])
    return {"imports": set(students), "sign_offs": set(lessons)}


@pytest.mark.parametrize("kills", [16, pytest.param(320, marks=pytest.mark.long)])
def test_whatever_moment_a_process_is_killed_at(context, school, kills):
    if sys.platform == "win32":
        pytest.skip("no fork server")
    chance = random.Random(SEED)
    acknowledged = {kind: set() for kind in KINDS}
    within = Counter()
    for number in range(kills):
        kind = KINDS[number % len(KINDS)]
        done, last = kill_at_work(context, school, kind, number, chance)
        acknowledged[kind] |= {name for _, _, name in done}
        within[kind] += last[0] == "begun"
        is_whole(school)
        there = all_or_nothing(school)
        for listed, names in there.items():
            assert acknowledged[listed] <= names

    assert sum(within.values()) >= kills / 2, "most kills must meet a thing in hand"
    print(f"{kills} kills, {dict(within)} within a thing in hand")
    print({kind: len(names) for kind, names in acknowledged.items()}, "things acknowledged")
