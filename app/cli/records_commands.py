"""`stringcourse roster`, `signoffs` and `measurements`: class lists in, records out."""

import datetime as dt
import json
from pathlib import Path

import click

from app.cli.database_commands import opened
from app.cli.day_commands import day_of, today_option
from app.interchange.evidence_export import measurements_csv, sign_offs_csv
from app.interchange.roster_files import read_path
from app.store import sections
from app.store.classroom import roster

section_option = click.option("--section", "key", required=True, help="Key of the section.")
output_option = click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The CSV to write; the terminal if left out.",
)


@click.group("roster")
def roster_group() -> None:
    """Bring class lists in."""


@roster_group.command("import")
@click.argument("path", type=click.Path(path_type=Path))
@section_option
@click.option("--class", "wanted", default="", help="sourcedId or title, if there are several.")
@click.option("--names", is_flag=True, help="Keep names, apart from the codes.")
@click.option("--preview", is_flag=True, help="Only say what would change.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@today_option
def import_roster(
    path: Path,
    key: str,
    *,
    wanted: str,
    names: bool,
    preview: bool,
    as_json: bool,
    today: dt.datetime | None,
) -> None:
    """Read a OneRoster zip or folder, or a CSV with codes, into a section.

    Lines that cannot be used are named and left out; if none can, nothing is done. Who is no
    longer in the class leaves on the day of `--today`.
    """
    found = read_path(path, wanted=wanted, names=names)
    with opened() as session:
        section = sections.find_section(session, key)
        change = roster.import_list(
            session,
            section,
            found.entries,
            today=day_of(today),
            whole=found.whole,
            preview=preview,
        )
        problems = [*found.problems, *change.comparison.problems]
        compared = change.comparison
        used = compared.added or compared.changed or compared.gone or compared.same
        if problems and not used:
            raise click.ClickException(" ".join(problems))
    facts = {
        **change.facts,
        "problems": problems,
        "notes": list(found.notes),
        "format": found.format,
        "preview": preview,
    }
    if as_json:
        click.echo(json.dumps(facts, indent=2, ensure_ascii=False))
        return
    click.echo(
        f"{found.format}: {_counted(len(compared.added), preview=preview)} added, "
        f"{len(compared.changed) + len(compared.gone)} changed; {change.students} in the class."
    )
    if compared.new_teams:
        click.echo(f"  New teams: {', '.join(compared.new_teams)}.")
    for sentence in (*found.notes, *problems):
        click.echo(f"  {sentence}")


def _counted(count: int, *, preview: bool) -> str:
    noun, verb = ("student", "is") if count == 1 else ("students", "are")
    return f"{count} {noun} {'would be' if preview else verb}"


def _put(text: str, output: Path | None) -> None:
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        output.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        sentence = f"{output} cannot be written ({error.strerror}); name a folder that exists."
        raise click.ClickException(sentence) from error
    click.echo(f"{output}: {max(0, text.count(chr(10)) - 1)} rows")


@click.group("signoffs")
def sign_offs_group() -> None:
    """Work with the sign-off log."""


@sign_offs_group.command("export")
@section_option
@output_option
def export_sign_offs(key: str, output: Path | None) -> None:
    """Export a section's sign-off log as CSV."""
    with opened() as session:
        _put(sign_offs_csv(session, sections.find_section(session, key)), output)


@click.group("measurements")
def measurements_group() -> None:
    """Work with the readings of a class."""


@measurements_group.command("export")
@section_option
@output_option
def export_measurements(key: str, output: Path | None) -> None:
    """Export every reading of a section as CSV."""
    with opened() as session:
        _put(measurements_csv(session, sections.find_section(session, key)), output)


COMMANDS = (roster_group, sign_offs_group, measurements_group)
