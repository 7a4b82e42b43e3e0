"""`stringcourse backup` and `stringcourse restore`."""

import os
from pathlib import Path

import click

from app import db
from app.cli.database_commands import address
from app.settings import data_folder, embedded_url


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def backup(file: Path) -> None:
    """Copy the whole database into a new FILE while the server runs, and check the copy."""
    from app.jobs.whole_copies import back_up

    made = back_up(address(), file)
    click.echo(f"{file}: version {made.version}, {_size(file)}, {_content(made.rows)}; checked.")


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
def restore(file: Path) -> None:
    """Put the backup FILE into an empty place: a folder or database that holds nothing yet."""
    from app.jobs import whole_copies

    url = os.environ.get("STRINGCOURSE_DATABASE") or embedded_url(data_folder() / "school.db")
    made = whole_copies.restore(file, url)
    click.echo(f"Restored {file}: version {made.version}, {_content(made.rows)}.")
    if made.version != db.newest_revision(url):
        click.echo("This program is newer than the backup: run `stringcourse upgrade` next.")


def _size(file: Path) -> str:
    return f"{file.stat().st_size / 1e6:.1f} MB"


def _content(rows: int | None) -> str:
    return "contents listed" if rows is None else f"{rows:,} rows"


COMMANDS = (backup, restore)
