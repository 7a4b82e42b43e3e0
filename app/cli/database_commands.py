"""The command line's database: which one, is it up to date, one session per command."""

import datetime as dt
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import sqlalchemy as sa
from sqlalchemy.orm import Session

from app import db
from app.settings import data_folder, embedded_url
from app.store.faults import clock_trouble, fault_of, version_trouble


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
        require_current(engine)
        warn_of_the_clock(engine)
        with db.session_factory(engine)() as session:
            yield session
            session.commit()
    except sa.exc.DBAPIError as error:
        raise click.ClickException(in_words(error, engine)) from error
    finally:
        engine.dispose()


def require_current(engine: sa.Engine) -> None:
    """Refuse a missing, older or newer database with what to do about it."""
    if engine.dialect.name == "sqlite" and not Path(engine.url.database or "").exists():
        raise click.ClickException(
            "there is no database yet; run `stringcourse demo` for the sample school or "
            "`stringcourse serve` for your own."
        )
    trouble = version_trouble(engine)
    if not trouble and db.current_revision(engine) is None:
        trouble = "the database is empty; run `stringcourse serve` once, or restore a backup."
    if trouble:
        raise click.ClickException(trouble)


def warn_of_the_clock(engine: sa.Engine) -> None:
    """Say so where this computer's clock was set back since the database was last written."""
    trouble = clock_trouble(engine, dt.datetime.now(dt.UTC))
    if trouble:
        click.echo(f"stringcourse: {trouble}", err=True)


def in_words(error: sa.exc.DBAPIError, engine: sa.Engine) -> str:
    """An error of the database as a sentence that says what to do."""
    fault = fault_of(error, engine)
    place = engine.url.render_as_string()
    if fault is None:
        return f"the database {place} refused: {error.orig}."
    return f"{fault.value.title} ({place}). {fault.value.advice}"
