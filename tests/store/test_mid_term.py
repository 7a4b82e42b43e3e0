"""A school in the middle of its term keeps everything through every change of the schema.

`mid_term.sql.xz` is the database of a sample school as the program of version 0003 left it: the
sample term played on by hand over its pages, with a day recorded as lost, a snow day and a drill
press out (each with its new plan), absences, a finish coat ahead of its day, sign-offs with a
suspension and an entry struck out, a school's rule, an own paper and marks on a sheet with the
seed A17, an own build, the air of the workshop, a calendar feed, and jobs under way. The two CSV
files are what that program printed for team T02.
"""

import lzma
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command

from app import db
from app.cli.server_commands import prepare
from app.settings import embedded_url
from tests.conftest import make_app, signed_in
from tests.pages import get

HERE = Path(__file__).parent
KEY = "/sections/period-3"
SHEET = f"{KEY}/papers/worksheet"
PAPERS = {
    "mid_term_saved.csv": f"{SHEET}/items.csv?saved=1&team=T02",
    "mid_term_seeded.csv": (
        f"{SHEET}/items.csv?phase=neck-and-fretboard&seed=A17&minutes=15&team=T02"
    ),
}
# What a migration changes on purpose, and what the program of the new version loads anew.
CHANGED = {"alembic_version": {"version_num"}, "job": {"state", "error"}}
OF_THE_SCHOOL = (
    *("absence", "activity", "event", "instrument", "instrument_quantity", "mark", "measurement"),
    *("meeting", "paper", "plan", "progress", "school_rule", "section", "sign_off", "student"),
    *("room_air", "stock", "stock_count", "team", "term", "term_day", "user"),
)


@pytest.fixture
def school(tmp_path):
    """The kept school, as it was."""
    path = tmp_path / "school.db"
    with closing(sqlite3.connect(path)) as made:
        made.executescript(lzma.decompress((HERE / "mid_term.sql.xz").read_bytes()).decode())
    return path


def rows_of(path):
    """Every row of every table by its columns' names, less what is changed on purpose."""
    with closing(sqlite3.connect(path)) as opened:
        opened.row_factory = sqlite3.Row
        tables = [
            name
            for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        return {
            table: [
                {k: row[k] for k in row.keys() if k not in CHANGED.get(table, ())}  # noqa: SIM118 - not a dict
                for row in opened.execute(f'SELECT * FROM "{table}" ORDER BY 1')
            ]
            for table in tables
        }


def assert_kept(before, after, tables):
    """Each row of the tables is there with each value it had; new columns may have come."""
    for table in tables:
        assert len(after[table]) == len(before[table]), table
        for old, new in zip(before[table], after[table], strict=True):
            assert old.items() <= new.items(), table


def test_every_row_and_value_is_kept(school):
    before = rows_of(school)
    assert len(before["sign_off"]) > 1000
    assert len(before["event"]) == 2

    db.upgrade(embedded_url(school))

    assert_kept(before, rows_of(school), before)


def test_every_row_and_value_is_kept_on_the_way_back_and_forth(school):
    before, config = rows_of(school), db.alembic_config(embedded_url(school))

    command.upgrade(config, "head")
    command.downgrade(config, "0003")
    assert_kept(before, rows_of(school), before)
    command.upgrade(config, "head")

    assert_kept(before, rows_of(school), before)


def test_of_jobs_asked_for_twice_the_newest_stays_open(school):
    """The older program could put two on record at the same moment."""
    with closing(sqlite3.connect(school)) as opened:
        opened.execute(
            "INSERT INTO job (section_id, kind, state, progress, error, stop_asked, created_at, "
            "created_by) SELECT section_id, kind, state, progress, error, stop_asked, created_at, "
            "created_by FROM job WHERE state = 'waiting'"
        )
        opened.commit()
    db.upgrade(embedded_url(school))

    with closing(sqlite3.connect(school)) as opened:
        jobs = opened.execute("SELECT id, state FROM job ORDER BY id").fetchall()
    assert jobs == [(1, "failed"), (2, "failed"), (3, "waiting")]


def test_a_printed_seed_gives_the_same_paper(school):
    """The schema is new, the library is the one it was printed from."""
    db.upgrade(embedded_url(school))
    app = make_app(school)
    app.config.update(WTF_CSRF_ENABLED=False)
    teacher = signed_in(app, "teacher")

    for name, address in PAPERS.items():
        assert teacher.get(address).data == (HERE / name).read_bytes(), name
    app.extensions["engine"].dispose()


def test_with_the_new_library_the_school_has_its_own_and_every_page_opens(school):
    before = rows_of(school)

    prepare(embedded_url(school))

    assert_kept(before, rows_of(school), OF_THE_SCHOOL)
    app = make_app(school)
    app.config.update(WTF_CSRF_ENABLED=False)
    teacher = signed_in(app, "teacher")
    for page in (
        *("/", f"{KEY}/today", f"{KEY}/plan", f"{KEY}/weeks/9", f"{KEY}/progress", f"{KEY}/marks"),
        *(
            f"{KEY}/measurements",
            f"{KEY}/sign-offs",
            f"{KEY}/roster",
            f"{KEY}/coverage",
            f"{KEY}/kit",
        ),
        *(f"{KEY}/papers", f"{KEY}/plan/events", f"{SHEET}?saved=1", "/own-builds/5", "/builds"),
    ):
        get(teacher, page)
    assert "Snow" in get(teacher, f"{KEY}/plan/events")
    (lost,) = [row["date"] for row in before["meeting"] if row["note"] == "flooded workshop"]
    assert "flooded workshop" in get(teacher, f"{KEY}/days/{lost}")
    assert "wrong student" in get(teacher, f"{KEY}/sign-offs")
    assert "Our own way of doing it" in get(teacher, "/own-builds/5/steps/U14")
    assert "My own choice" in get(teacher, f"{KEY}/papers")
    marks = get(teacher, f"{SHEET}/marks?phase=neck-and-fretboard&per=student&minutes=15&seed=A17")
    assert len(re.findall(r'<input name="m-[^"]+"[^>]* value="1"', marks)) == 30
    app.extensions["engine"].dispose()
