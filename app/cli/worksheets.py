"""`stringcourse worksheet` and `stringcourse paper`: what is handed out, to PDF."""

import datetime as dt
from pathlib import Path
from typing import Literal

import click

from app.cli.database import opened
from app.cli.papers import output_option, paper_option, section_option, write
from app.domain import worksheets as sheet
from app.domain.bands import BANDS
from app.domain.document import Document, Paper, Version, answer_key
from app.jobs.class_sets import MOST_IN_A_FILE, ClassSet, print_set
from app.print.compile import print_documents
from app.settings import SettingsError, from_environment
from app.store import sections
from app.store.paper import worksheets as store
from app.worksheets.kinds import KINDS, Asked, documents_of


def public_address() -> str:
    """The address under which students reach the server, if the environment says it."""
    try:
        return from_environment().public_address
    except SettingsError:
        return ""


def _subject(**given: str | None) -> tuple[sheet.Scope, str]:
    """The one part of the build that was named."""
    named: list[tuple[sheet.Scope, str]] = []
    scopes: tuple[sheet.Scope, ...] = ("phase", "step", "concept", "standard")
    for scope in scopes:
        value = given[scope]
        if value:
            named.append((scope, value))
    if len(named) != 1:
        raise click.UsageError("name one of --phase, --step, --concept or --standard.")
    return named[0]


def _sheets(
    request: sheet.WorksheetRequest, holders: list[sheet.Holder], *, whole: bool, as_key: bool
) -> list[Document]:
    if not whole:
        document = sheet.generate(sheet.for_holder(request, holders[0]) if holders else request)
        return [answer_key(document) if as_key else document]
    if not holders:
        raise click.ClickException("a class set needs teams; add students and make teams first.")
    documents = sheet.class_set(request, holders)
    return [sheet.class_set_key(documents)] if as_key else documents


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
@click.option("--class-set", "class_set", is_flag=True, help="One sheet per team or student.")
@click.option("--per", type=click.Choice(["team", "student"]), default="team", show_default=True)
@click.option("--key", "as_key", is_flag=True, help="The answer key instead.")
@click.option(
    "--version",
    "version",
    type=click.Choice(["standard", "pictured", "large"]),
    default="standard",
    show_default=True,
)
@click.option("--minutes", default=25, show_default=True, type=click.IntRange(5, 120))
@click.option("--seed", default="1", show_default=True, help="The same seed makes the same paper.")
@paper_option
@output_option
def print_worksheet(
    key: str,
    phase: str | None,
    step: str | None,
    concept: str | None,
    standard: str | None,
    band: str | None,
    *,
    class_set: bool,
    per: Literal["team", "student"],
    as_key: bool,
    version: Version,
    minutes: int,
    seed: str,
    paper: Paper,
    output: Path,
) -> None:
    """Print a worksheet with values computed for the section's instruments.

    A class set of more than 200 comes in several files: FILE-1, FILE-2 and so on.
    """
    scope, name = _subject(phase=phase, step=step, concept=concept, standard=standard)
    with opened() as session:
        section = sections.find_section(session, key)
        wanted = store.Wanted(
            scope, name, seed, band or "", minutes, version, address=public_address()
        )
        request = store.worksheet_request(session, section, wanted)
        holders = store.holders(session, section, per)
    if class_set and not as_key and holders:
        _write_set(ClassSet(request, tuple(holders), paper, output.stem), output)
        return
    documents = _sheets(request, holders, whole=class_set, as_key=as_key)
    write(output, print_documents(documents, paper=paper).pdf)


@click.command("paper")
@click.argument("kind", type=click.Choice(list(KINDS)))
@section_option
@click.option("--phase", default="", help="Key of the phase, for a phase card or hold points.")
@click.option("--permit", default="", help="Key of the sign-off, for a safety test.")
@click.option("--form", type=click.Choice(["A", "B"]), default="A", show_default=True)
@click.option("--read-aloud", is_flag=True, help="The safety test to be read aloud.")
@click.option("--team", default="", help="Only this team.")
@click.option("--student", default="", help="Only this student code.")
@click.option("--key", "as_key", is_flag=True, help="The key of a safety test instead.")
@paper_option
@output_option
def print_paper(
    kind: str,
    key: str,
    phase: str,
    permit: str,
    form: str,
    team: str,
    student: str,
    *,
    read_aloud: bool,
    as_key: bool,
    paper: Paper,
    output: Path,
) -> None:
    """Print a paper that is no worksheet: route card, safety test, letter, statement."""
    asked = Asked(phase, permit, form, read_aloud, team, student)
    with opened() as session:
        section = sections.find_section(session, key)
        today = dt.datetime.now().astimezone().date()
        documents = documents_of(session, section, kind, asked, today)
    if as_key:
        documents = [answer_key(documents[0])]
    write(output, print_documents(documents, paper=paper).pdf)


COMMANDS = (print_worksheet, print_paper)
