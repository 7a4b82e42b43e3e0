"""`stringcourse serve` and `stringcourse upgrade`."""

import gc
import logging
import shutil
import socket
from pathlib import Path
from typing import TYPE_CHECKING

import click
import sqlalchemy as sa

from app import db
from app.cli.database_commands import address
from app.cli.library_commands import load_shipped
from app.settings import from_environment

if TYPE_CHECKING:
    from flask import Flask

log = logging.getLogger(__name__)


def prepare(url: str) -> None:
    """Create or upgrade the database and load the shipped library.

    Raises click.ClickException if it cannot be written.
    """
    path = _file_of(url)
    try:
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
        db.upgrade(url)
        engine = db.make_engine(url)
        db.use_wal(engine)
        with db.session_factory(engine)() as session:
            load_shipped(session)
            session.commit()
        engine.dispose()
    except (OSError, sa.exc.OperationalError) as error:
        raise click.ClickException(
            f"{path or url} cannot be written ({_reason(error)}); set STRINGCOURSE_DATA to a folder "
            "that can, or free the disk."
        ) from error


def _reason(error: Exception) -> str:
    return str(getattr(error, "orig", None) or getattr(error, "strerror", None) or error)


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


def require_same_version(url: str) -> None:
    """Offer the upgrade of an older database instead of doing it unasked."""
    path = _file_of(url)
    if path is not None and not path.exists():
        return
    engine = db.make_engine(url)
    stands, wanted = db.current_revision(engine), db.newest_revision(url)
    engine.dispose()
    if stands is not None and stands != wanted:
        raise click.ClickException(
            f"the database is at version {stands}, this program needs {wanted}; run "
            "`stringcourse upgrade`. Nothing is lost: an embedded database is copied first."
        )


@click.command("upgrade")
def upgrade() -> None:
    """Bring the database to this program's version; an embedded one is copied first."""
    url = address()
    path = _file_of(url)
    engine = db.make_engine(url)
    stands = db.current_revision(engine) if path is None or path.exists() else None
    engine.dispose()
    if path is not None and path.exists():
        copy = path.with_suffix(f".before-{stands or 'empty'}.db")
        shutil.copy2(path, copy)
        click.echo(f"Kept a copy: {copy}")
    prepare(url)
    click.echo(f"The database is at version {db.newest_revision(url)}.")


COMMANDS = (serve, upgrade)
