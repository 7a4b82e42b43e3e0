"""`stringcourse load` and `stringcourse library`: what can be built and taught."""

import json
from collections.abc import Iterator
from pathlib import Path

import click
from sqlalchemy.orm import Session

from app.cli.database_commands import opened
from app.domain.bands import BANDS
from app.interchange import packages
from app.interchange.files import BadFile, Mistake, read_file
from app.interchange.library_file import LibraryFile
from app.interchange.loading import LoadedChange, load
from app.settings import shipped_folder
from app.store import Missing, accounts
from app.store import library as store

SEED = shipped_folder("seed_data")


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
    contents: list[tuple[str, LibraryFile]] = []
    mistakes: list[Mistake] = []
    for path in files:
        try:
            contents.append((path.name, read_file(path)))
        except BadFile as error:
            mistakes += error.mistakes
    if mistakes:
        raise click.ClickException("\n".join(["nothing was loaded.", *map(str, mistakes)]))
    return contents


def load_all(session: Session, contents: list[tuple[str, LibraryFile]]) -> list[LoadedChange]:
    """Load checked files in an order in which each finds what it refers to."""
    order = ("workshop", "safety-bank", "framework", "concept", "build", "package")
    changes: list[LoadedChange] = []
    for name, content in sorted(contents, key=lambda item: order.index(item[1].kind)):
        try:
            changes += load(session, content, name=name)
        except BadFile as error:
            raise click.ClickException(f"nothing was loaded.\n{error}") from error
    return changes


def load_shipped(session: Session) -> list[LoadedChange]:
    """The library that comes with the program."""
    files = tuple(
        path
        for folder in ("builds", "safety", "frameworks", "concepts")
        for path in sorted((SEED / folder).glob("*.toml"))
    )
    return load_all(session, read_all(files))


@click.command("library")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option(
    "--table", is_flag=True, help="Print what each phase teaches at each band, as Markdown."
)
def show_library(*, as_json: bool, table: bool) -> None:
    """Count what the library holds."""
    with opened() as session:
        counts = store.counts(session)
        lines = list(teaching_table(session)) if table else []
    if table:
        click.echo("\n".join(lines))
    elif as_json:
        click.echo(json.dumps(counts, indent=2))
    else:
        for name, count in counts.items():
            click.echo(f"{count:6d} {name}")


def teaching_table(session: Session) -> Iterator[str]:
    """Treatments and, after the comma, questions that each phase's steps reach, by grade band."""
    for build in store.newest_builds(session, None):
        yield f"### {build.title}, version {build.version}"
        yield ""
        yield f"| Phase | {' | '.join(BANDS.values())} |"
        yield f"|---|{'---|' * len(BANDS)}"
        reasons = {(item["phase"], item["band"]): item["reason"] for item in build.no_treatment}
        for phase, cells in store.taught_by_phase(session, build, None, tuple(BANDS)):
            words = [
                f"{cells[band][0]}, {cells[band][1]}"
                if cells[band][0]
                else reasons.get((phase.key, band), "none")
                for band in BANDS
            ]
            yield f"| {phase.title} | {' | '.join(words)} |"
        yield ""


@click.group("package")
def package() -> None:
    """Hand builds on to teachers elsewhere, one file each. `stringcourse load` takes them in."""


@package.command("export")
@click.argument("build")
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), help="A .toml or .json file."
)
@click.option("--version", default=None, help="Which version; otherwise the newest.")
@click.option("--school", default=None, help="Name of the school whose own parts are included.")
def export(build: str, output: Path, version: str | None, school: str | None) -> None:
    """Write BUILD (its key) with all it needs into one file."""
    kinds: dict[str, packages.FileKind] = {".json": "json", ".toml": "toml"}
    kind = kinds.get(output.suffix.lower())
    if kind is None:
        raise click.ClickException(f"{output.name} must end in .toml or .json.")
    with opened() as session:
        school_id = accounts.find_school(session, school).id if school is not None else None
        try:
            row = store.find_build(session, school_id, build, version)
        except Missing as error:
            known = ", ".join(
                f"{item.key} {item.version}" for item in store.list_builds(session, school_id)
            )
            raise click.ClickException(f"there is no {error}; known: {known}.") from error
        text = packages.write(packages.package_of(session, row, school_id), kind)
    output.write_text(text, encoding="utf-8")
    click.echo(f"{output}: {build} version {row.version}, {len(text.encode()):,} bytes.")


COMMANDS = (load_files, show_library, package)
