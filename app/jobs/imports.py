"""Standards from a file: what it is, what would change, and doing it; for page and command line."""

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.interchange.standard import file as case_file
from app.interchange.standard import importing as case_import
from app.interchange.standard.case import read_case
from app.interchange.standard.draft import Draft
from app.interchange.standard.importing import Preview, slug
from app.interchange.standard.table import read_table
from app.models import Framework, FrameworkUpload


@dataclass(frozen=True)
class GivenFile:
    """What a person says about a file: needed where it does not say so itself."""

    title: str = ""
    key: str = ""
    publisher: str = ""


def read_draft(raw: bytes, name: str, given: GivenFile, today: dt.date) -> Draft:
    """The framework of a file's content, packed or not.

    Raises BadFile.
    """
    content, inner = case_file.unpack(raw, name)
    if inner.lower().endswith(".json") or content.lstrip()[:1] in (b"{", b"["):
        return read_case(content, inner, today)
    title = given.title or Path(inner).stem.replace("_", " ")
    return read_table(
        content, inner, key=given.key or slug(title), title=title, publisher=given.publisher
    )


def preview_file(
    session: Session, school_id: int, raw: bytes, name: str, given: GivenFile, today: dt.date
) -> Preview:
    """What importing a file would do. Changes nothing.

    Raises BadFile.
    """
    draft = read_draft(raw, name, given, today)
    known = session.scalar(
        sa.select(Framework.key).where(
            Framework.school_id == school_id, Framework.identifier == draft.identifier
        )
    )
    return case_import.preview(session, school_id, draft, known or given.key or None)


def keep_upload(
    session: Session, user_id: int, raw: bytes, name: str, given: GivenFile, now: dt.datetime
) -> FrameworkUpload:
    """Keep a file until its person imports or discards it, in place of an earlier one."""
    row = upload_of(session, user_id)
    if row is None:
        row = FrameworkUpload(user_id=user_id)
        session.add(row)
    row.name, row.content, row.uploaded_at = name, case_file.pack(raw), now
    row.given = {"title": given.title, "key": given.key, "publisher": given.publisher}
    return row


def upload_of(session: Session, user_id: int) -> FrameworkUpload | None:
    """The file a person is looking at, if there is one."""
    return session.scalar(sa.select(FrameworkUpload).where(FrameworkUpload.user_id == user_id))


def preview_upload(
    session: Session, school_id: int, row: FrameworkUpload, today: dt.date
) -> Preview:
    """What importing a kept file would do now.

    Raises BadFile, for a key that has been taken since.
    """
    return preview_file(session, school_id, row.content, row.name, GivenFile(**row.given), today)
