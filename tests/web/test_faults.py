"""Each fault of the database is said as what it is, on the page and on the command line."""

import datetime as dt
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from app import db
from app.cli import command
from app.settings import embedded_url
from app.store import faults
from app.store.faults import Fault, fault_of
from app.web import request_session
from tests.conftest import signed_in
from tests.store.test_migrations import postgresql_url

PAGE = "/sections/period-3/plan"


@pytest.fixture
def file(app):
    """The database file of the application; the application itself waits for no lock."""
    engine = app.extensions["engine"]

    @sa.event.listens_for(engine, "connect")
    def impatient(connection, _entry):
        connection.execute("PRAGMA busy_timeout = 50")

    engine.dispose()
    return engine.url.database


def spoil(path):
    """Damage as a failing disk leaves it: every page but the first is noise."""
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    size = Path(path).stat().st_size
    with Path(path).open("r+b") as opened:
        opened.seek(4096)
        opened.write(os.urandom(size - 4096))


def say(*words, folder):
    done = CliRunner().invoke(
        command, words, env={"STRINGCOURSE_DATA": str(folder)}, standalone_mode=False
    )
    return str(getattr(done.exception, "message", done.exception))


def send(client):
    return client.post("/sections/period-3/plan")


def test_a_writer_that_does_not_end_makes_the_database_busy_for_writers_only(teacher, file, app):
    use_wal(app)
    with closing(sqlite3.connect(file)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = send(teacher)
        assert answer.status_code == 503
        assert "The database is busy" in answer.text
        assert "what you typed is still there" in answer.text
        assert teacher.get(PAGE).status_code == 200
        other.rollback()


def test_a_program_that_holds_the_database_is_told_from_a_busy_one(teacher, file):
    with closing(sqlite3.connect(file)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        page, sent = teacher.get(PAGE), send(teacher)
        other.rollback()

    assert (page.status_code, sent.status_code) == (503, 503)
    for answer in (page, sent):
        assert "Another program holds the database" in answer.text
        assert "disk" not in answer.text


def use_wal(app):
    db.use_wal(app.extensions["engine"])


def test_a_damaged_database_says_restore_and_promises_nothing(app, teacher, file, tmp_path):
    app.extensions["engine"].dispose()
    spoil(file)
    shutil.copy(file, tmp_path / "school.db")

    answer = teacher.get(PAGE)
    said = say("sections", folder=tmp_path)

    assert answer.status_code == 503
    for words in (answer.text, said):
        assert "The database is damaged" in words
        assert "stringcourse restore" in words
        assert "Nothing you had saved is lost" not in words


def test_a_full_disk_is_said_and_nothing_is_half_written(app, teacher, file):
    """The file may not grow by a page, as on a full disk (SQLite's result code 13, FULL)."""
    engine = app.extensions["engine"]

    @sa.event.listens_for(engine, "connect")
    def small(connection, _entry):
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages}")

    engine.dispose()

    def save(key):
        request_session.db().execute(
            sa.text("UPDATE school SET name = :text"), {"text": key * 100_000}
        )
        request_session.db().commit()

    app.view_functions["planning.plan_term"] = save
    answer = send(teacher)

    assert answer.status_code == 503
    assert "The disk of the database is full" in answer.text
    assert "Nothing of this entry was saved" in answer.text
    assert teacher.get(PAGE).status_code == 200
    with closing(sqlite3.connect(file)) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_read_only_database_can_be_read_and_says_who_must_own_it(app, teacher, file):
    """A connection that may only read stands for a file or disk that does (result code 8)."""
    engine = app.extensions["engine"]

    @sa.event.listens_for(engine, "connect")
    def read_only(connection, _entry):
        connection.execute("PRAGMA query_only = ON")

    engine.dispose()
    answer = send(teacher)

    assert answer.status_code == 503
    assert "The database cannot be written" in answer.text
    assert teacher.get(PAGE).status_code == 200


def test_a_database_upgraded_under_a_running_server_is_said(app, teacher, file):
    with closing(sqlite3.connect(file)) as other:
        other.execute("UPDATE alembic_version SET version_num = '0001'")
        other.execute("ALTER TABLE plan RENAME TO plan_of_another_version")
        other.commit()

    answer = teacher.get(PAGE)

    assert answer.status_code == 503
    assert "different versions" in answer.text
    assert "stringcourse upgrade" in answer.text


@pytest.mark.parametrize(
    ("stands", "says"),
    [
        ("0001", "run `stringcourse upgrade`"),
        ("9999", "made by a newer program (version 9999"),
        (None, "no released version"),
    ],
)
def test_the_command_line_tells_an_older_a_newer_and_a_foreign_database_apart(
    sample_file, tmp_path, stands, says
):
    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    with closing(sqlite3.connect(path)) as opened:
        opened.execute(
            "DELETE FROM alembic_version"
            if stands is None
            else f"UPDATE alembic_version SET version_num = '{stands}'"
        )
        opened.commit()

    said = say("sections", folder=tmp_path)

    assert says in said
    assert "disk" not in said


def test_a_newer_database_is_not_upgraded(sample_file, tmp_path):
    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("UPDATE alembic_version SET version_num = '9999'")
        opened.commit()

    assert "newer program" in say("upgrade", folder=tmp_path)


def test_a_clock_that_was_set_back_is_noticed(sample_file, tmp_path):
    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    engine = db.make_engine(embedded_url(path))
    written = dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC)

    assert not faults.clock_trouble(engine, written + dt.timedelta(days=30))
    assert not faults.clock_trouble(engine, written - dt.timedelta(minutes=4))
    assert "Set the clock right" in faults.clock_trouble(engine, written - dt.timedelta(hours=1))
    engine.dispose()


def test_whoever_records_under_a_clock_that_was_set_back_is_told(teacher, file):
    ahead = dt.datetime.now(dt.UTC).timestamp() + 3600
    os.utime(file, (ahead, ahead))

    answer = teacher.post("/sections/period-3/plan", follow_redirects=True)

    assert answer.status_code == 200
    assert "Set the clock right" in answer.text


@pytest.mark.postgresql
def test_postgresql_names_its_faults_by_code():
    engine = db.make_engine(postgresql_url())
    with engine.connect() as one, engine.connect() as two:
        one.exec_driver_sql("CREATE TEMPORARY TABLE t (n int)")
        for statement, fault in (
            ("SELECT * FROM no_such_table", Fault.VERSION),
            ("SELECT 1/0", None),
        ):
            with pytest.raises(sa.exc.DBAPIError) as hit:
                two.exec_driver_sql(statement)
            two.rollback()
            assert fault_of(hit.value) is fault
        two.exec_driver_sql("SET TRANSACTION READ ONLY")
        with pytest.raises(sa.exc.DBAPIError) as hit:
            two.exec_driver_sql("CREATE TABLE t2 (n int)")
        two.rollback()
        assert fault_of(hit.value) is Fault.READ_ONLY
    engine.dispose()
    away = db.make_engine("postgresql+psycopg://postgres@127.0.0.1:1/none")
    with pytest.raises(sa.exc.OperationalError) as hit:
        away.connect()
    assert fault_of(hit.value, away) is Fault.AWAY
    away.dispose()


def test_the_page_of_a_fault_of_ours_keeps_its_promise(app):
    """A mistake in the program is rolled back, and only there the page says so."""
    client = signed_in(app, "teacher")
    app.view_functions["planning.semester"] = lambda **_: 1 / 0
    app.config["PROPAGATE_EXCEPTIONS"] = False

    answer = client.get(PAGE)

    assert answer.status_code == 500
    assert "Nothing you had saved is lost" in answer.text
