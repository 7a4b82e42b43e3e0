"""`stringcourse serve` and `stringcourse upgrade`."""

import gc
import itertools
import logging
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click
import sqlalchemy as sa

from app import db
from app.cli.database_commands import address, in_words, warn_of_the_clock
from app.cli.library_commands import load_shipped
from app.settings import data_folder, from_environment
from app.store.faults import version_trouble

if TYPE_CHECKING:
    from flask import Flask

log = logging.getLogger(__name__)


def prepare(url: str) -> None:
    """Create or upgrade the database and load the shipped library.

    Raises click.ClickException if it cannot be written.
    """
    with _alone(url):
        _bring_up_to_date(url)


@contextmanager
def _alone(url: str) -> Iterator[None]:
    """One process at a time makes or upgrades a database; its faults are said in words."""
    path = _file_of(url)
    engine = db.make_engine(url)
    try:
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
        with db.alone(url, "upgrade", seconds=db.SECONDS_FOR_AN_UPGRADE):
            yield
    except TimeoutError:
        raise click.ClickException(
            "another upgrade of this database is under way; wait until it ends, then try again."
        ) from None
    except sa.exc.DBAPIError as error:
        raise click.ClickException(in_words(error, engine)) from error
    except OSError as error:
        raise click.ClickException(
            f"{path or url} cannot be written ({error.strerror or error}); set STRINGCOURSE_DATA to "
            "a folder that can."
        ) from error
    finally:
        engine.dispose()


def _bring_up_to_date(url: str) -> None:
    engine = db.make_engine(url)
    db.upgrade(url)
    db.use_wal(engine)
    with db.session_factory(engine)() as session:
        load_shipped(session)
        session.commit()
    engine.dispose()


def _file_of(url: str) -> Path | None:
    return Path(url.removeprefix("sqlite:///")) if url.startswith("sqlite:///") else None


def require_free(host: str, port: int) -> None:
    """Refuse a taken port with what to do.

    Raises click.ClickException.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise click.ClickException(
                f"port {port} on {host} is taken or closed to you ({error.strerror}); "
                f"choose another with --port, such as --port {port + 1}."
            ) from error


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=5000, show_default=True, type=click.IntRange(1, 65535))
def serve(host: str, port: int) -> None:
    """Serve your school. Needs STRINGCOURSE_SECRET; an empty database starts with the first page."""
    from app import create_app
    from app.jobs import worker
    from app.web import logs

    settings = from_environment()
    require_free(host, port)
    logs.configure()
    require_same_version(settings.database_url)
    prepare(settings.database_url)
    engine = db.make_engine(settings.database_url)
    warn_of_the_clock(engine)
    engine.dispose()
    click.echo(f"Stringcourse is at http://{host}:{port}/ (Ctrl-C stops it)")
    worker.make_ready(settings.database_url)
    listen(create_app(settings), host, port)


def listen(app: "Flask", host: str, port: int) -> None:
    """Answer requests until the process is stopped."""
    from waitress import serve as run

    from app.web import limits

    # What stands in memory by now stays: the collector need not look through it at every page.
    gc.collect()
    gc.freeze()
    largest = limits.LARGEST_BODY_BYTES
    run(app, host=host, port=port, threads=8, ident=None, max_request_body_size=largest)


def require_same_version(url: str, or_else: str = "") -> None:
    """Offer the upgrade of an older database instead of doing it unasked; refuse a newer one."""
    path = _file_of(url)
    if path is not None and not path.exists():
        return
    engine = db.make_engine(url)
    try:
        trouble = version_trouble(engine)
    except sa.exc.DBAPIError as error:
        raise click.ClickException(in_words(error, engine)) from error
    finally:
        engine.dispose()
    if trouble:
        raise click.ClickException(f"{trouble} {or_else}".strip())


@click.command("upgrade")
@click.option(
    "--no-copy", is_flag=True, help="Keep no copy: you have a backup of your own of today."
)
def upgrade(*, no_copy: bool) -> None:
    """Bring the database to this program's version; it is copied first, and the copy checked."""
    url = address()
    with _alone(url):
        engine = db.make_engine(url)
        stands = db.current_revision(engine) if _is_there(url) else None
        if stands is not None and stands not in db.known_revisions(url):
            raise click.ClickException(version_trouble(engine))
        if stands is not None and not no_copy:
            click.echo(f"Kept a copy: {_copy(url, stands)}")
        engine.dispose()
        _bring_up_to_date(url)
    click.echo(f"The database is at version {db.newest_revision(url)}.")


def _is_there(url: str) -> bool:
    path = _file_of(url)
    return path is None or path.exists()


def _copy(url: str, stands: str) -> Path:
    """A checked copy beside an embedded database, or in the data folder; older copies stay.

    Raises click.ClickException with the way on where none can be taken.
    """
    from app.jobs.whole_copies import CopyError, back_up

    path = _file_of(url) or data_folder() / f"{sa.make_url(url).database}.dump"
    wanted = path.with_suffix(f".before-{stands}{path.suffix}")
    tries = itertools.count(2)
    while wanted.exists():
        wanted = path.with_suffix(f".before-{stands}-{next(tries)}{path.suffix}")
    wanted.parent.mkdir(parents=True, exist_ok=True)
    try:
        return back_up(url, wanted).file
    except CopyError as error:
        raise click.ClickException(
            f"nothing was upgraded, for no copy could be kept: {error} With a backup of your own "
            "of today, `stringcourse upgrade --no-copy` goes on."
        ) from error


COMMANDS = (serve, upgrade)
