"""Asked work is kept by DBOS beside the database and carried out by one process for each database.

The job in our own table says what is asked and how far it is; the engine says when it is begun,
and begins it again where its process died. Whatever is begun again is done whole: what a job
changes is saved together with its end, so that a second time finds it done.
"""

import atexit
import logging
import multiprocessing
import signal
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING, Literal

import sqlalchemy as sa

from app import db
from app.print.apart import end_with_parent

if TYPE_CHECKING:
    from dbos import DBOSClient

log = logging.getLogger(__name__)

Queue = Literal["search", "print"]
QUEUES: tuple[Queue, ...] = ("search", "print")  # a class set does not wait for a plan

SCHEMA = "dbos"  # where the engine keeps its tables on a database server
WORKFLOW = "carry_out"
# One process at a time works for a database, so its name and version never change: what an
# earlier one left under way is the next one's, after a restart as after an upgrade.
EXECUTOR = VERSION = "stringcourse"
SECONDS_BETWEEN_LOOKS = 0.5
SECONDS_BETWEEN_SWEEPS = 5.0
SECONDS_BEFORE_A_NEW_ONE = 1.0
MOST_BEGINNINGS = 3
DAYS_KEPT = 14
GIVEN_UP = ("ERROR", "CANCELLED", "MAX_RECOVERY_ATTEMPTS_EXCEEDED")


def engine_url(url: str) -> str:
    """Where the engine keeps its tables: a file beside an embedded database, else its own schema."""
    at = sa.make_url(url)
    if at.get_backend_name() == "sqlite":
        return f"sqlite:///{at.database}.jobs"
    return at.render_as_string(hide_password=False)


@lru_cache(maxsize=4)
def _client(url: str) -> "DBOSClient":
    from dbos import DBOSClient

    return DBOSClient(system_database_url=engine_url(url))


def keep(url: str, name: str, queue: Queue, job_id: int) -> None:
    """Put work on the queue. The same name twice is one piece of work.

    Where the engine cannot take it just now, its next sweep does.
    """
    try:
        _client(url).enqueue(
            {"queue_name": queue, "workflow_name": WORKFLOW, "workflow_id": name}, url, job_id
        )
    except (sa.exc.DatabaseError, OSError) as error:
        log.info("job %s waits for the next sweep: %s", job_id, type(error).__name__)


def serve_queues(
    url: str, carry_out: Callable[[str, int], None], sweep: Callable[[str], None]
) -> None:
    """Carry out what is on the queues until the parent process ends; never returns.

    Waits while another process works for this database, and takes over when it ends.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server; this ends with it
    end_with_parent()
    with db.alone(url, "worker", seconds=float("inf")):
        _launch(url, carry_out)
        while True:
            try:
                sweep(url)
            except sa.exc.DatabaseError as error:
                log.warning("the jobs could not be looked through: %s", error.orig)
            time.sleep(SECONDS_BETWEEN_SWEEPS)


def _launch(url: str, carry_out: Callable[[str, int], None]) -> None:
    from dbos import DBOS

    DBOS(
        config={
            "name": "stringcourse",
            "system_database_url": engine_url(url),
            "dbos_system_schema": SCHEMA,
            "executor_id": EXECUTOR,
            "application_version": VERSION,
            "enable_otlp": False,
            "log_level": "ERROR",
        }
    )
    DBOS.workflow(name=WORKFLOW, max_recovery_attempts=MOST_BEGINNINGS)(carry_out)
    DBOS.launch()
    for queue in QUEUES:
        DBOS.register_queue(queue, worker_concurrency=1, polling_interval_sec=SECONDS_BETWEEN_LOOKS)
    before = (datetime.now(UTC) - timedelta(days=DAYS_KEPT)).isoformat()
    done = DBOS.list_workflows(end_time=before, status=["SUCCESS", *GIVEN_UP])
    DBOS.delete_workflows([item.workflow_id for item in done])


def is_given_up(name: str) -> bool:
    """Whether the engine will not begin this work again. Asked within the worker process."""
    from dbos import DBOS

    found = DBOS.get_workflow_status(name)
    return found is not None and found.status in GIVEN_UP


class WorkerProcess:
    """The server's own worker process: begun once, begun anew if it dies, ended with the server."""

    def __init__(self, target: Callable[[str], None], url: str) -> None:
        self.target = target
        self.url = url
        self.process: BaseProcess | None = None
        self.ending = threading.Event()
        threading.Thread(target=self._watch, name="worker-watch", daemon=True).start()
        atexit.register(self.end)

    def _watch(self) -> None:
        # Spawned, not forked: a fork of a threaded server can inherit a held lock.
        context = multiprocessing.get_context("spawn")
        while not self.ending.is_set():
            self.process = context.Process(
                target=self.target, args=(self.url,), name="stringcourse-worker"
            )
            self.process.start()
            self.process.join()
            self.ending.wait(SECONDS_BEFORE_A_NEW_ONE)

    def end(self) -> None:
        """End the process, and what it began with it."""
        self.ending.set()
        if self.process is not None and self.process.pid is not None:
            self.process.terminate()


@lru_cache(maxsize=4)
def have_worker(target: Callable[[str], None], url: str) -> WorkerProcess:
    """The worker process of this server for a database; the first call begins it."""
    return WorkerProcess(target, url)
