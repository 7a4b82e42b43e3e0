"""Asked work is carried out once, survives whoever dies, and leaves no process behind."""

import datetime as dt
import os
import shutil
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import sqlalchemy as sa

from app import db
from app.jobs import worker
from app.models import Job, Plan, Section
from app.settings import embedded_url
from tests.conftest import missing

NOW = dt.datetime(2027, 3, 1, 7, 40, tzinfo=dt.UTC)
PATIENCE_SECONDS = 120  # what must happen at last; nothing here depends on how soon
SERVER = """
import sys, time
from app.jobs import worker
if __name__ == "__main__":
    worker.make_ready(sys.argv[1])
    print("ready", flush=True)
    time.sleep(3600)
"""


@pytest.fixture
def url(sample_file, tmp_path):
    """A copy of the sample school, in the way a server has it."""
    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    engine = db.make_engine(embedded_url(path))
    db.use_wal(engine)
    engine.dispose()
    return embedded_url(path)


@pytest.fixture
def serve(url, tmp_path):
    """Begin a server's process; whatever a test leaves running is ended."""
    script = tmp_path / "server.py"
    script.write_text(SERVER)
    begun = []

    def begin():
        process = subprocess.Popen(
            [sys.executable, script, url],
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
            stdout=subprocess.PIPE,
            text=True,
        )
        begun.append(process)
        assert process.stdout.readline() == "ready\n"
        return process

    yield begin
    for process in begun:
        process.kill()
        process.wait()
        process.stdout.close()


def children(pid):
    """Process numbers of a process' children, as the system lists them."""
    listed = Path(f"/proc/{pid}/task")
    if not listed.exists():
        missing("no /proc: the processes cannot be listed")
    return {
        int(child) for task in listed.iterdir() for child in (task / "children").read_text().split()
    }


def is_there(pid):
    try:
        return "Z" not in Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1][:3]
    except FileNotFoundError:
        return False


def has_engine(pid):
    """Whether a process has the engine's file open: the one that works, not the one that waits."""
    opened = [str(link.readlink()) for link in Path(f"/proc/{pid}/fd").iterdir()]
    return any(name.endswith(".jobs") for name in opened)


def wait_until(what):
    end = time.monotonic() + PATIENCE_SECONDS
    while not (found := what()):
        assert time.monotonic() < end, "it never happened"
        time.sleep(0.1)
    return found


def ask(url, kind="plan", *, key="period-3", start=True, **details):
    engine = db.make_engine(url)
    with db.session_factory(engine)() as session:
        section = session.scalars(sa.select(Section).where(Section.key == key)).one()
        job = worker.ask(session, section, kind, by="A. Teacher", now=NOW, **details)
        session.commit()
        if start:
            worker.engine.keep(url, worker._name(job), worker._queue(job), job.id)
    engine.dispose()
    return job.id


def read(url, query):
    engine = db.make_engine(url).execution_options(reading=True)
    with engine.connect() as connection:
        found = connection.execute(query).all()
    engine.dispose()
    return found


def state(url, job_id):
    ((found, error),) = read(url, sa.select(Job.state, Job.error).where(Job.id == job_id))
    return found if found != "failed" else f"failed: {error}"


def plans(url):
    return read(url, sa.select(sa.func.count()).select_from(Plan))[0][0]


def test_a_killed_server_takes_its_worker_along_and_the_other_one_ends_the_work(url, serve):
    """Two servers over one database; the first is killed in the middle of a search."""
    one, two = serve(), serve()
    before = plans(url)
    job = ask(url, seconds=4)
    wait_until(lambda: state(url, job) == "running")
    assert children(one.pid)
    assert children(two.pid)
    (working,) = [server for server in (one, two) if any(map(has_engine, children(server.pid)))]

    gone = children(working.pid)
    working.send_signal(signal.SIGKILL)
    working.wait()

    wait_until(lambda: not any(is_there(pid) for pid in gone))
    wait_until(lambda: state(url, job) not in ("waiting", "running"))
    assert state(url, job) == "done"
    assert plans(url) == before + 1


def test_what_was_asked_while_no_server_ran_is_done_when_one_starts(url, serve):
    job = ask(url, seconds=1, start=False)

    server = serve()

    wait_until(lambda: state(url, job) not in ("waiting", "running"))
    assert state(url, job) == "done"
    workers = children(server.pid)
    server.terminate()
    wait_until(lambda: not any(is_there(pid) for pid in workers))


def test_a_killed_worker_process_is_begun_anew_and_ends_the_work(url, serve):
    server = serve()
    job = ask(url, seconds=3)
    wait_until(lambda: state(url, job) == "running")

    killed = children(server.pid)
    for pid in killed:
        os.kill(pid, signal.SIGKILL)

    wait_until(lambda: state(url, job) not in ("waiting", "running"))
    assert state(url, job) == "done"
    assert not killed & children(server.pid)


def test_six_asks_at_the_same_moment_are_one_job(url):
    with ThreadPoolExecutor(6) as pool:
        asked = set(pool.map(lambda _: ask(url, start=False), range(6)))

    assert len(asked) == 1


def test_the_database_refuses_a_second_open_job_of_a_kind(url):
    ask(url, start=False)
    engine = db.make_engine(url)
    with engine.begin() as connection, pytest.raises(sa.exc.IntegrityError):
        connection.execute(
            sa.text(
                "INSERT INTO job (section_id, kind, state, progress, error, stop_asked, "
                "created_at, created_by) SELECT section_id, kind, 'running', '{}', '', 0, "
                "created_at, created_by FROM job WHERE state = 'waiting'"
            )
        )
    engine.dispose()


def test_a_job_that_went_with_its_section_or_is_over_is_left_alone(url):
    job = ask(url, start=False)
    engine = db.make_engine(url)
    with engine.begin() as connection:
        connection.execute(sa.update(Job).values(state="failed", error="Given up."))
    worker.run(url, job)
    assert state(url, job) == "failed: Given up."
    with engine.begin() as connection:
        connection.execute(sa.delete(Job))
    before = plans(url)

    worker.run(url, job)

    assert plans(url) == before
    engine.dispose()
