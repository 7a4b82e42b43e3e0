"""Whole copies: complete under load, checked, put back only where nothing is."""

import datetime as dt
import shutil
import sqlite3
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from app import db
from app.cli import command
from app.jobs import whole_copies
from app.jobs.whole_copies import CopyError, back_up, restore
from app.models import ClassSetFile, School, Section
from app.settings import embedded_url
from app.store import sections
from tests.conftest import make_app, missing, signed_in
from tests.pages import get
from tests.store.test_migrations import postgresql_url


@pytest.fixture
def school(sample_file, tmp_path):
    """A copy of the sample school as a server has it."""
    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    engine = db.make_engine(embedded_url(path))
    db.use_wal(engine)
    engine.dispose()
    return path


def codes(path):
    with closing(sqlite3.connect(path)) as opened:
        return {row[0] for row in opened.execute("SELECT code FROM student")}


def say(*words, folder, **environment):
    """The command in this process: its exit code and all it says."""
    done = CliRunner().invoke(
        command, words, env={"STRINGCOURSE_DATA": str(folder), **environment}, standalone_mode=False
    )
    if done.exception is None:
        return 0, done.output
    return 2, str(getattr(done.exception, "message", done.exception))


def test_a_copy_taken_under_load_holds_every_write_acknowledged_before_it(school, tmp_path):
    """Drill: four writers add students without a pause; five copies are taken meanwhile."""
    acknowledged, ending = [], threading.Event()
    engine = db.make_engine(embedded_url(school))

    def write(writer):
        number = 0
        while not ending.is_set():
            with db.session_factory(engine)() as session:
                section = session.scalars(sa.select(Section).limit(1)).one()
                code = f"W{writer}-{number}"
                sections.add_students(session, section, [code])
                session.commit()
            acknowledged.append(code)
            number += 1

    with ThreadPoolExecutor(4) as pool:
        writing = [pool.submit(write, n) for n in range(4)]
        copies = []
        for n in range(5):
            while len(acknowledged) < 20 * (n + 1):
                ending.wait(0.01)
            before = set(acknowledged)
            back_up(embedded_url(school), tmp_path / f"{n}.db")
            copies.append((before, tmp_path / f"{n}.db"))
        ending.set()
        for item in writing:
            item.result()
    engine.dispose()

    for before, copy in copies:
        assert before <= codes(copy)
    assert codes(school) >= set(acknowledged)


def test_a_restored_backup_is_the_school_with_its_class_sets(school, tmp_path, monkeypatch):
    engine = db.make_engine(embedded_url(school))
    with db.session_factory(engine)() as session:
        section = session.scalars(sa.select(Section)).first()
        session.add(
            ClassSetFile(
                section_id=section.id, paper="Paper", title="All sheets", name="set", query={},
                made_at=dt.datetime(2027, 3, 1, tzinfo=dt.UTC), size=4, content=b"%PDF",
            )
        )  # fmt: skip
        session.commit()
    monkeypatch.setenv("STRINGCOURSE_DATA", str(tmp_path))
    code, said = say("backup", str(tmp_path / "kept.db"), folder=tmp_path)
    assert code == 0, said
    assert "checked" in said

    code, said = say("restore", str(tmp_path / "kept.db"), folder=tmp_path / "new")

    assert code == 0, said
    restored = tmp_path / "new" / "school.db"
    assert codes(restored) == codes(school)
    with closing(sqlite3.connect(restored)) as opened:
        assert opened.execute("SELECT content FROM class_set_file").fetchall() == [(b"%PDF",)]
    app = make_app(restored)
    app.config.update(WTF_CSRF_ENABLED=False)
    assert "Guitar Design and Build" in get(signed_in(app, "teacher"), "/sections/period-3/plan")
    app.extensions["engine"].dispose()
    engine.dispose()


def test_nothing_that_is_there_is_written_over(school, tmp_path):
    kept = tmp_path / "kept.db"
    back_up(embedded_url(school), kept)
    before = school.read_bytes()

    with pytest.raises(CopyError, match="is there already; name a new file"):
        back_up(embedded_url(school), kept)
    with pytest.raises(CopyError, match="empty folder"):
        restore(kept, embedded_url(school))

    assert school.read_bytes() == before


@pytest.mark.parametrize("share", [0.0, 0.001, 0.5, 0.999])
def test_a_half_written_backup_is_refused_and_restores_nothing(school, tmp_path, share):
    kept = tmp_path / "kept.db"
    back_up(embedded_url(school), kept)
    content = kept.read_bytes()
    kept.write_bytes(content[: int(len(content) * share)])

    with pytest.raises(CopyError, match=r"damaged|no backup|no database|unfinished"):
        restore(kept, embedded_url(tmp_path / "new" / "school.db"))

    assert not (tmp_path / "new" / "school.db").exists()


def test_a_flipped_page_is_noticed(school, tmp_path):
    kept = tmp_path / "kept.db"
    back_up(embedded_url(school), kept)
    content = bytearray(kept.read_bytes())
    page = 4096 * 40
    content[page : page + 4096] = bytes(4096)
    kept.write_bytes(content)

    with pytest.raises(CopyError, match="damaged"):
        restore(kept, embedded_url(tmp_path / "new" / "school.db"))


def test_a_backup_of_a_newer_program_is_refused_and_an_older_one_is_upgraded(school, tmp_path):
    kept = tmp_path / "kept.db"
    back_up(embedded_url(school), kept)
    with closing(sqlite3.connect(kept)) as opened:
        opened.execute("UPDATE alembic_version SET version_num = '9999'")
        opened.commit()
    code, said = say("restore", str(kept), folder=tmp_path / "new")
    assert code == 2
    assert "newer program (version 9999" in said
    from alembic import command as alembic

    alembic.downgrade(db.alembic_config(embedded_url(school)), "0002")
    back_up(embedded_url(school), tmp_path / "old.db")

    code, said = say("restore", str(tmp_path / "old.db"), folder=tmp_path / "new")
    assert code == 0, said
    assert "run `stringcourse upgrade` next" in said
    code, said = say("upgrade", folder=tmp_path / "new")

    assert code == 0, said
    assert codes(tmp_path / "new" / "school.db") == codes(school)


def test_an_upgrade_copies_what_lies_in_the_log_too(school, tmp_path):
    """A running server's last writes lie in the log beside the file: the kept copy has them."""
    engine = db.make_engine(embedded_url(school))
    with db.session_factory(engine)() as session:
        section = session.scalars(sa.select(Section).limit(1)).one()
        sections.add_students(session, section, ["LAST-1", "LAST-2"])
        session.commit()
        assert school.with_name("school.db-wal").stat().st_size > 0
        code, said = say("upgrade", folder=tmp_path)

    assert code == 0, said
    (copy,) = tmp_path.glob("school.before-*.db")
    assert {"LAST-1", "LAST-2"} <= codes(copy)
    engine.dispose()


def test_two_upgrades_at_once_both_end_well_and_keep_a_copy_each(school, tmp_path):
    from alembic import command as alembic

    alembic.downgrade(db.alembic_config(embedded_url(school)), "0001")
    before = codes(school)
    words = [sys.executable, "-c", "from app.cli import main; main()", "upgrade"]
    environment = {"STRINGCOURSE_DATA": str(tmp_path), "PYTHONPATH": ":".join(sys.path)}
    both = [
        subprocess.Popen(words, env=environment, stdout=-1, stderr=-1, text=True) for _ in range(2)
    ]
    said = [process.communicate() for process in both]

    assert [process.returncode for process in both] == [0, 0], said
    assert len(list(tmp_path.glob("school.before-*.db"))) == 2
    assert codes(school) == before


@pytest.mark.postgresql
def test_a_postgresql_school_is_dumped_and_put_back(tmp_path):
    if shutil.which("pg_dump") is None:
        missing("pg_dump is not here")
    url = postgresql_url()
    empty = sa.make_url(url).set(database="backup_drill")
    server = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with server.connect() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
        connection.exec_driver_sql("DROP DATABASE IF EXISTS backup_drill")
        connection.exec_driver_sql("CREATE DATABASE backup_drill")
    db.upgrade(url)
    with db.session_factory(server)() as session:
        session.add(School(name="Dump"))
        session.commit()
    made = back_up(url, tmp_path / "school.dump")
    assert made.version == db.newest_revision(url)

    with pytest.raises(CopyError, match="not empty"):
        restore(made.file, url)
    restore(made.file, empty.render_as_string(hide_password=False))

    copy = sa.create_engine(empty, poolclass=sa.NullPool)
    with copy.connect() as connection:
        assert connection.scalar(sa.text("SELECT name FROM school")) == "Dump"
    half = tmp_path / "half.dump"
    half.write_bytes(made.file.read_bytes()[: made.file.stat().st_size // 2])
    with pytest.raises(CopyError):
        restore(half, empty.render_as_string(hide_password=False))
    with pytest.raises(CopyError, match="PostgreSQL server"):
        restore(made.file, embedded_url(tmp_path / "x.db"))
    with server.connect() as connection:
        connection.exec_driver_sql("DROP DATABASE backup_drill")


def test_a_missing_dump_program_is_said_in_words(monkeypatch, tmp_path):
    monkeypatch.setattr(whole_copies.shutil, "which", lambda _: None)

    with pytest.raises(
        CopyError, match="pg_dump, PostgreSQL's own program, is not on this machine"
    ):
        back_up("postgresql+psycopg://nobody@127.0.0.1/none", tmp_path / "x.dump")

    assert not list(tmp_path.iterdir())
