"""Few fixtures: a school in a file, an application over a copy of it, and clients."""

import datetime as dt
import os
import shutil
from pathlib import Path

import hypothesis
import pytest

from app import create_app, db
from app.jobs import worker
from app.settings import Settings, embedded_url
from app.web import limits

TODAY = dt.date(2027, 3, 1)
PASSWORD = "spruce and maple"

# No test is about time, and a run finds the same examples everywhere.
hypothesis.settings.register_profile("calm", deadline=None, derandomize=True)
hypothesis.settings.load_profile("calm")


def missing(reason):
    """Skip with a plain reason, or fail where nothing may be skipped (the CI script says so)."""
    if os.environ.get("STRINGCOURSE_NO_SKIPS") == "1":
        pytest.fail(f"this must not be skipped here: {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def sample_file(tmp_path_factory):
    """The sample school, made once by the migrations and the demo's own code."""
    from app.cli.demo_commands import create

    path = tmp_path_factory.mktemp("sample") / "demo.db"
    create(embedded_url(path), new=True)
    _checkpoint(path)
    return path


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory):
    """A migrated database with the shipped library and nobody in it."""
    from app.cli.server_commands import prepare

    path = tmp_path_factory.mktemp("empty") / "school.db"
    prepare(embedded_url(path))
    _checkpoint(path)
    return path


def _checkpoint(path: Path) -> None:
    import sqlite3

    connection = sqlite3.connect(path)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


def make_app(path):
    """An application over a database file."""
    return create_app(
        Settings(
            database_url=embedded_url(path),
            secret_key="for tests only, long enough to be accepted",
            secure_cookies=False,
            demo=True,
            loopback=True,
            today=TODAY,
        )
    )


@pytest.fixture
def app(sample_file, tmp_path, monkeypatch):
    """The application over its own copy of the sample school."""
    path = tmp_path / "demo.db"
    shutil.copy(sample_file, path)
    app = make_app(path)
    app.config.update(TESTING=True, WTF_CSRF_ENABLED=False)
    monkeypatch.setattr(limits.limiter, "enabled", False)
    # Long jobs are carried out where a test says so, not by a process that outlives it.
    monkeypatch.setattr(worker, "start", lambda *_: None)
    yield app
    app.extensions["engine"].dispose()


@pytest.fixture
def session(app):
    """A writing session on the application's own database."""
    with db.session_factory(app.extensions["engine"])() as session:
        yield session


@pytest.fixture
def client(app):
    """A browser that is not signed in."""
    return app.test_client()


def signed_in(app, who):
    """A browser signed in as one of the sample people: teacher, head, workshop, admin."""
    client = app.test_client()
    answer = client.post("/sign-in", data={"email": f"{who}@demo.example", "password": PASSWORD})
    assert answer.status_code == 303, answer.text
    return client


@pytest.fixture
def teacher(app):
    """A browser signed in as the sample teacher."""
    return signed_in(app, "teacher")
