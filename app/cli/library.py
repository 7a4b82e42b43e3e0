"""`stringcourse load` and `stringcourse library`: what can be built and taught."""

import json
from pathlib import Path

import click
from sqlalchemy.orm import Session

from app.cli.database import opened
from app.interchange.files import BadFile, read_file
from app.interchange.library import LibraryFile
from app.interchange.loading import Change, load
from app.store import library as store

SEED = Path(__file__).resolve().parent.parent.parent / "seed_data"


@click.command("load")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
def load_files(files: tuple[Path, ...]) -> None:
    """Load library FILES (TOML or JSON). Loading twice changes nothing; a bad file changes nothing."""
    contents = read_all(files)
    with opened() as session:
        changes = load_all(session, contents)
    for change in changes:
        if change.what != "unchanged":
            click.echo(f"{change.kind} {change.key}: {change.what}")
    same = sum(change.what == "unchanged" for change in changes)
    click.echo(f"{len(changes) - same} parts added or changed, {same} unchanged.")


def read_all(files: tuple[Path, ...]) -> list[tuple[str, LibraryFile]]:
    """All files, checked; every mistake of every file at once.

    Raises click.ClickException.
    """
    contents, mistakes = [], []
    for path in files:
        try:
            contents.append((path.name, read_file(path)))
        except BadFile as error:
            mistakes += error.mistakes
    if mistakes:
        raise click.ClickException("\n".join(["nothing was loaded.", *map(str, mistakes)]))
    return contents


def load_all(session: Session, contents: list[tuple[str, LibraryFile]]) -> list[Change]:
    """Load checked files in an order in which each finds what it refers to."""
    order = {"workshop": 0, "framework": 1, "concept": 2, "build": 3, "package": 4}
    changes: list[Change] = []
    for name, content in sorted(contents, key=lambda item: order[item[1].kind]):
        try:
            changes += load(session, content, name=name)
        except BadFile as error:
            raise click.ClickException(f"nothing was loaded.\n{error}") from error
    return changes


def load_shipped(session: Session) -> list[Change]:
    """The library that comes with the program."""
    files = tuple(
        path
        for folder in ("builds", "frameworks", "concepts")
        for path in sorted((SEED / folder).glob("*.toml"))
    )
    return load_all(session, read_all(files))


@click.command("library")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def show_library(*, as_json: bool) -> None:
    """Count what the library holds."""
    with opened() as session:
        counts = store.counts(session)
    if as_json:
        click.echo(json.dumps(counts, indent=2))
    else:
        for name, count in counts.items():
            click.echo(f"{count:6d} {name}")


COMMANDS = (load_files, show_library)
