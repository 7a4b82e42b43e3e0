"""`stringcourse worksheet` and `stringcourse paper`: what is handed out, to PDF."""

import json
from pathlib import Path
from typing import Any

import click

from app.cli.database_commands import opened
from app.cli.day_commands import day_of
from app.cli.papers_commands import output_option, paper_option, section_option, write
from app.domain.bands import BANDS
from app.domain.papers.document import Paper, answer_key
from app.domain.papers.safety_test import FORMS, AskedItem, asked_items, form_named
from app.jobs.class_set_making import MOST_IN_A_FILE, ClassSet, class_set_of, print_set
from app.jobs.sheets import LONGEST, SCOPES, SHORTEST, VERSIONS, Worksheet
from app.print.compile import print_documents
from app.settings import SettingsError, from_environment
from app.store import sections
from app.store.paper import handouts
from app.worksheets.paper_kinds import KINDS, PaperAsked, documents_of


def public_address() -> str:
    """The address under which students reach the server, if the environment says it."""
    try:
        return from_environment().public_address
    except SettingsError:
        return ""


def _write_set(wanted: ClassSet, output: Path) -> None:
    """A class set in one file, or in numbered ones beside it where one cannot hold it."""
    several = len(wanted.holders) > MOST_IN_A_FILE
    for number, item in enumerate(print_set(wanted, with_key=False), 1):
        write(output.with_stem(f"{output.stem}-{number}") if several else output, item.pdf)


@click.command("worksheet")
@section_option
@click.option("--phase", help="Key of the phase.")
@click.option("--step", help="Key of a step instead of a phase.")
@click.option("--concept", help="Key of a concept instead of a phase.")
@click.option("--standard", help="Code of a standard instead of a phase.")
@click.option(
    "--band", type=click.Choice(list(BANDS)), help="Grade band; the section's own if left out."
)
@click.option(
    "--team", help="Whose sheet: code of a team (--per student: a student); anyone's if left out."
)
@click.option("--class-set", "class_set", is_flag=True, help="One sheet per team or student.")
@click.option("--per", type=click.Choice(["team", "student"]), default="team", show_default=True)
@click.option("--key", "as_key", is_flag=True, help="The answer key instead.")
@click.option(
    "--version",
    "version",
    type=click.Choice(list(VERSIONS)),
    default="standard",
    show_default=True,
)
@click.option("--minutes", default=25, show_default=True, type=click.IntRange(SHORTEST, LONGEST))
@click.option("--seed", default="1", show_default=True, help="The same seed makes the same paper.")
@paper_option
@output_option
def print_worksheet(
    key: str, *, class_set: bool, as_key: bool, output: Path, **choice: str | int | None
) -> None:
    """Print a worksheet with values computed for the section's instruments.

    A class set of more than 200 comes in several files: FILE-1, FILE-2 and so on.
    """
    given = {name: str(value) for name, value in choice.items() if value}
    if sum(scope in given for scope in SCOPES) != 1:
        raise click.UsageError("name one of --phase, --step, --concept or --standard.")
    with opened() as session:
        section = sections.find_section(session, key)
        made = Worksheet(session, section, given, public_address(), on=day_of(None))
        team, codes = made.choice.team, [holder.code for holder in made.holders]
        if team and team not in codes:
            raise click.ClickException(f"there is no {team} in {key}; known: {', '.join(codes)}.")
        wanted = class_set_of(made) if class_set else None
    if wanted is not None and not as_key:
        _write_set(wanted, output)
        return
    if wanted is not None:
        document = made.class_set_key()
    else:
        document = answer_key(made.one()) if as_key else made.one()
    write(output, print_documents([document], paper=made.choice.paper).pdf)


@click.command("paper")
@click.argument("kind", type=click.Choice(list(KINDS)))
@section_option
@click.option("--phase", default="", help="Key of the phase, for a phase card or hold points.")
@click.option("--permit", default="", help="Key of the sign-off, for a safety test.")
@click.option("--form", type=click.Choice(list(FORMS)), default="A", show_default=True)
@click.option(
    "--band", type=click.Choice(list(BANDS)), help="Grade band; the section's own if left out."
)
@click.option("--json", "as_json", is_flag=True, help="Print a safety test's items as JSON.")
@click.option("--read-aloud", is_flag=True, help="The safety test to be read aloud.")
@click.option("--team", default="", help="Only this team.")
@click.option("--student", default="", help="Only this student code.")
@click.option("--key", "as_key", is_flag=True, help="The key of a safety test instead.")
@paper_option
@click.option(
    "-o", "--output", type=click.Path(path_type=Path, dir_okay=False), help="The PDF to write."
)
def print_paper(
    kind: str,
    key: str,
    *,
    as_key: bool,
    as_json: bool,
    paper: Paper,
    output: Path | None,
    **given: Any,
) -> None:
    """Print a paper that is no worksheet: route card, safety test, letter, statement."""
    if as_json and kind != "safety-test":
        raise click.UsageError("--json prints the items of a safety test.")
    if output is None and not as_json:
        raise click.UsageError("name the file to write with --output.")
    asked = PaperAsked(**{**given, "band": given["band"] or ""})
    with opened() as session:
        section = sections.find_section(session, key)
        if as_json:
            station = handouts.station_of(session, section, asked.permit)
            items = asked_items(station, asked.band or section.band, form_named(asked.form))
            click.echo(json.dumps([_item(item) for item in items], indent=2, ensure_ascii=False))
            return
        documents = documents_of(session, section, kind, asked, day_of(None))
    if as_key:
        documents = [answer_key(documents[0])]
    if output is not None:
        write(output, print_documents(documents, paper=paper).pdf)


def _item(asked: AskedItem) -> dict[str, object]:
    """An item of a safety test as its JSON has it."""
    practice = asked.item.practice
    return {
        "key": asked.item.key,
        "text": asked.item.asks,
        "picture": asked.item.picture,
        "options": [
            {"text": option.text, "right": option.right, "reason": option.reason}
            for option in asked.options
        ],
        "right": asked.letter,
        "practice": practice.key,
        "hazard": practice.hazard,
        "reason": practice.because,
        "source": practice.source,
    }


COMMANDS = (print_worksheet, print_paper)
