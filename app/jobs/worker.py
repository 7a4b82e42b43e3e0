"""Long operations outside the request, progress kept in the database."""

import datetime as dt
import importlib
import logging
import threading
import time
from typing import Any

from sqlalchemy.orm import Session, sessionmaker

from app import db
from app.jobs import engine
from app.jobs.class_set_making import KIND as CLASS_SET
from app.jobs.class_set_making import Stopped, carry_out_class_set
from app.jobs.fit import carry_out_fit
from app.jobs.note import Note
from app.jobs.options import carry_out_options
from app.jobs.planning import plan_section
from app.jobs.remedies import try_remedies
from app.models import Job, Plan, Section
from app.store import jobs
from app.store.plan import plans

log = logging.getLogger(__name__)

SECONDS_BETWEEN_NOTES = 0.5


def make_ready(url: str) -> None:
    """When a server starts: begin its worker process, which goes on with what was asked before.

    The solver is loaded there, and here for what is planned at once.
    """
    engine.have_worker(serve, url)
    threading.Thread(target=_load_solver, name="solver", daemon=True).start()


def serve(url: str) -> None:
    """The worker process of a server; never returns."""
    _load_solver()
    engine.serve_queues(url, run, sweep)


def sweep(url: str) -> None:
    """Hand what is asked and not yet ended to the engine; say so of what it gave up. Commits."""
    base = db.make_engine(url)
    with db.session_factory(base)() as session:
        for job in jobs.open_jobs(session):
            if engine.is_given_up(_name(job)):
                job.state, job.error = "failed", "The work broke off again and again."
            else:
                engine.keep(url, _name(job), _queue(job), job.id)
        session.commit()
    base.dispose()


def _load_solver() -> None:
    importlib.import_module("ortools.sat.python.cp_model")


def ask(
    session: Session, section: Section, kind: str, *, by: str, now: dt.datetime, **details: Any
) -> Job:
    """Put a job on record, or give the one that is already under way; the caller commits."""
    under_way = jobs.open_job(session, section, kind)
    if under_way is not None:
        return under_way
    job = Job(
        section_id=section.id,
        kind=kind,
        state="waiting",
        progress=details,
        created_at=now,
        created_by=by,
    )
    return jobs.put_on_record(session, section, job)


def start(url: str, job: Job) -> None:
    """Let the worker process carry out a job that is committed."""
    engine.keep(url, _name(job), _queue(job), job.id)
    engine.have_worker(serve, url)


def _name(job: Job) -> str:
    # A restored database may give a number anew; the moment tells the jobs apart.
    return f"job-{job.id}-{job.created_at.isoformat()}"


def _queue(job: Job) -> engine.Queue:
    return "print" if job.kind == CLASS_SET else "search"


def run(url: str, job_id: int) -> None:
    """Carry out a job: search, save, note the progress on the way. Commits.

    Nothing is done where the job is over, or went with its section.
    """
    base = db.make_engine(url)
    sessions = db.session_factory(base)
    note = _Note(sessions, job_id)
    try:
        with sessions() as session:
            job = session.get(Job, job_id)
            if job is None or job.state not in jobs.OPEN:
                return
            details, by = dict(job.progress), job.created_by
            section_id, kind = job.section_id, job.kind
            job.state = "running"
            session.commit()
        # Planning reads in one short transaction and writes in another: minutes of search must
        # not keep an embedded database locked.
        with sessions() as session:
            section = session.get_one(Section, section_id)
            plan = CARRY_OUT[kind](session, section, details, by, note)
            session.flush()
            done = session.get(Job, job_id, populate_existing=True)
            if done is None or done.state not in jobs.OPEN:
                return  # given up meanwhile: what was found goes with it
            done.state = "done"
            if plan is not None:
                done.progress = {**done.progress, "plan": plan.id}
            session.commit()
    except Stopped as wish:
        note.failed(wish)
    except Exception as error:
        log.exception("job %s failed", job_id)
        note.failed(error)
    finally:
        base.dispose()


def _plan(session: Session, section: Section, details: dict[str, Any], by: str, note: Note) -> Plan:
    return plan_section(
        session,
        section,
        by=by,
        now=dt.datetime.now(dt.UTC),
        reason=str(details.get("reason", "Planned")),
        seconds=details.get("seconds"),
        on_progress=note.progress,
        should_stop=note.stop_asked,
        before_search=session.rollback,
    )


def _remedies(
    session: Session, section: Section, _details: dict[str, Any], _by: str, note: Note
) -> Plan:
    """Try what would make the current plan fit; the findings stay with that plan."""
    found = try_remedies(
        session,
        section,
        should_stop=note.stop_asked,
        on_change=note.change,
        before_search=session.rollback,
    )
    plan = plans.current_plan(session, section)
    if plan is None:
        raise ValueError("The plan was taken away while changes were tried; plan the term again.")
    plan.facts = {**plan.facts, "remedies": found}
    return plan


CARRY_OUT = {
    "plan": _plan,
    "remedies": _remedies,
    "options": carry_out_options,
    "fit": carry_out_fit,
    CLASS_SET: carry_out_class_set,
}


class _Note:
    """Writes progress and reads the wish to stop, in sessions of its own."""

    def __init__(self, sessions: sessionmaker[Session], job_id: int) -> None:
        self.sessions = sessions
        self.job_id = job_id
        self.last = 0.0
        self.stop = False
        self.doing = ""

    def progress(self, best: int, bound: int) -> None:
        """Say how good the best plan is, at most twice a second."""
        if self._is_due():
            self._write(best=best, bound=bound)

    def count(self, done: int, of: int, doing: str) -> None:
        """Say how many of the sheets are made and what is being done; a new thing at once."""
        if doing != self.doing or self._is_due():
            self.doing = doing
            self._write(done=done, of=of, doing=doing)

    def change(self, name: str) -> None:
        """Say which change is being tried, at once."""
        self._write(trying=name)

    def stop_asked(self) -> bool:
        """Whether someone wants the work to end; looked up at most twice a second."""
        if not self.stop and self._is_due():
            self.last = time.monotonic()
            with self.sessions() as session:
                job = session.get(Job, self.job_id)
                self.stop = job is None or job.stop_asked
        return self.stop

    def failed(self, error: Exception) -> None:
        """Put on record that the work broke off, in a sentence where there is one."""
        with self.sessions() as session:
            job = session.get(Job, self.job_id)
            if job is None:
                return
            job.state = "failed"
            job.error = str(error) if isinstance(error, ValueError) else "The work broke off."
            session.commit()

    def _is_due(self) -> bool:
        return time.monotonic() - self.last >= SECONDS_BETWEEN_NOTES

    def _write(self, **facts: Any) -> None:
        self.last = time.monotonic()
        with self.sessions() as session:
            job = session.get(Job, self.job_id)
            if job is None:
                self.stop = True
                return
            job.progress = {**job.progress, **facts}
            self.stop = job.stop_asked
            session.commit()
