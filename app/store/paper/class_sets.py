"""The files of large class sets: kept until a newer set of the section, or for some days."""

import datetime as dt
from collections.abc import Mapping, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.models import ClassSetFile, Section
from app.store.missing import Missing

KEPT_DAYS = 14


def keep_files(
    session: Session,
    section: Section,
    *,
    paper: str,
    query: Mapping[str, str],
    files: Sequence[tuple[str, str, bytes]],
    now: dt.datetime,
) -> None:
    """Keep the files of a set (title, file name, content); older ones of the section go.

    What is too old goes too, in every section.
    """
    too_old = ClassSetFile.made_at < now - dt.timedelta(days=KEPT_DAYS)
    session.execute(
        sa.delete(ClassSetFile).where(sa.or_(ClassSetFile.section_id == section.id, too_old))
    )
    session.add_all(
        ClassSetFile(
            section_id=section.id,
            paper=paper,
            title=title,
            name=name,
            query=dict(query),
            made_at=now,
            size=len(content),
            content=content,
        )
        for title, name, content in files
    )
    session.flush()


def list_files(session: Session, section: Section, now: dt.datetime) -> list[ClassSetFile]:
    """The files of the section's last large class set, without their content."""
    query = (
        sa.select(ClassSetFile)
        .where(
            ClassSetFile.section_id == section.id,
            ClassSetFile.made_at >= now - dt.timedelta(days=KEPT_DAYS),
        )
        .order_by(ClassSetFile.id)
    )
    return list(session.scalars(query))


def load_file(session: Session, section: Section, file_id: int, now: dt.datetime) -> ClassSetFile:
    """A file of the section's last large class set.

    Raises Missing.
    """
    for row in list_files(session, section, now):
        if row.id == file_id:
            return row
    raise Missing(f"file {file_id} of a class set; a newer set takes the place of an older one")
