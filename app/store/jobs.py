"""Long operations of a section on record: under way, finished, given up."""

from collections.abc import Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.models import Job, Section
from app.store.missing import Missing

OPEN = ("waiting", "running")


def open_job(session: Session, section: Section, kind: str) -> Job | None:
    """The running or waiting job of a kind for a section."""
    return session.scalar(
        sa.select(Job)
        .where(Job.section_id == section.id, Job.kind == kind, Job.state.in_(OPEN))
        .order_by(Job.id.desc())
        .limit(1)
    )


def open_jobs(session: Session) -> Sequence[Job]:
    """Whatever waits or is under way, the oldest first."""
    return session.scalars(sa.select(Job).where(Job.state.in_(OPEN)).order_by(Job.id)).all()


def put_on_record(session: Session, section: Section, job: Job) -> Job:
    """Save a new job, or give the one that was saved for the section at the same moment."""
    try:
        with session.begin_nested():
            session.add(job)
    except sa.exc.IntegrityError:
        under_way = open_job(session, section, job.kind)
        if under_way is None:
            raise
        return under_way
    return job


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
