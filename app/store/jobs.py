"""Long operations of a section on record: under way, finished, given up."""

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.models import Job, Section
from app.store.missing import Missing


def open_job(session: Session, section: Section, kind: str) -> Job | None:
    """The running or waiting job of a kind for a section."""
    return session.scalar(
        sa.select(Job)
        .where(
            Job.section_id == section.id, Job.kind == kind, Job.state.in_(("waiting", "running"))
        )
        .order_by(Job.id.desc())
        .limit(1)
    )


def give_up_jobs(session: Session) -> None:
    """Mark what was under way as failed: the worker that carried it out is gone."""
    session.execute(
        sa.update(Job)
        .where(Job.state.in_(("waiting", "running")))
        .values(state="failed", error="The server was started anew meanwhile; ask for it again.")
    )


def load_job(session: Session, section: Section, job_id: int) -> Job:
    """A job of the section by id.

    Raises Missing.
    """
    query = sa.select(Job).where(Job.id == job_id, Job.section_id == section.id)
    job = session.scalar(query)
    if job is None:
        raise Missing(f"job {job_id}")
    return job


def last_job(session: Session, section: Section, kind: str, *, done: bool = False) -> Job | None:
    """The newest job of a kind, whatever became of it; with `done`, the newest that ended well."""
    query = sa.select(Job).where(Job.section_id == section.id, Job.kind == kind)
    if done:
        query = query.where(Job.state == "done")
    return session.scalar(query.order_by(Job.id.desc()).limit(1))
