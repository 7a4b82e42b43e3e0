"""The command line's database: which one, is it up to date, one session per command."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import sqlalchemy as sa
from sqlalchemy.orm import Session

from app import db
from app.settings import data_folder, embedded_url


def address() -> str:
    """STRINGCOURSE_DATABASE, or the embedded database: the school's own if it exists, else the demo's."""
    named = os.environ.get("STRINGCOURSE_DATABASE")
    if named:
        return named
    own, demo = data_folder() / "school.db", data_folder() / "demo.db"
    return embedded_url(demo if demo.exists() and not own.exists() else own)


@contextmanager
def opened(url: str | None = None) -> Iterator[Session]:
    """A session; what it changed is committed at the end, or nothing is.

    Raises click.ClickException with a sentence if there is no database or it is an old one.
    """
    url = url or address()
    engine = db.make_engine(url)
    try:
        require_current(engine, url)
        with db.session_factory(engine)() as session:
            yield session
            session.commit()
    except sa.exc.OperationalError as error:
        raise click.ClickException(_in_words(url, error)) from error
    finally:
        engine.dispose()


def require_current(engine: sa.Engine, url: str) -> None:
    """Refuse a missing, older or newer database with what to do about it."""
    if engine.dialect.name == "sqlite" and not Path(engine.url.database or "").exists():
        raise click.ClickException(
            "there is no database yet; run `stringcourse demo` for the sample school or "
            "`stringcourse serve` for your own."
        )
    stands, wanted = db.current_revision(engine), db.newest_revision(url)
    if stands != wanted:
        raise click.ClickException(
            f"the database is at version {stands or 'none'}, this program needs {wanted}; run "
            "`stringcourse upgrade` (a copy of an embedded database is kept beside it)."
        )


def _in_words(url: str, error: sa.exc.OperationalError) -> str:
    if "readonly" in str(error.orig) or "unable to open" in str(error.orig):
        return f"the database {url} cannot be written; check its folder, its disk and its owner."
    if "locked" in str(error.orig):
        return "the database is busy; try again in a moment."
    return f"the database does not answer: {error.orig}."
