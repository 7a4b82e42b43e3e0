"""`stringcourse week` and `stringcourse worksheet`: papers to PDF."""

from dataclasses import replace
from pathlib import Path

import click

from app.cli.database import opened
from app.domain import worksheets as sheet
from app.domain.bands import BANDS
from app.domain.class_plan import week_document
from app.domain.document import Paper, Version
from app.print.compile import print_documents
from app.store import papers, plans, sections
from app.store import worksheets as store

section_option = click.option("--section", "key", required=True, help="Key of the section.")
paper_option = click.option(
    "--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True
)
output_option = click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The PDF to write.",
)


def write(output: Path, content: bytes) -> None:
    """Write a paper and say so."""
    output.write_bytes(content)
    click.echo(f"{output}: {len(content) // 1024 + 1} kB")


@click.command("week")
@section_option
@click.option("--week", "number", required=True, type=click.IntRange(1, 60))
@paper_option
@output_option
def print_week(key: str, number: int, paper: Paper, output: Path) -> None:
    """Print a section's week plan."""
    with opened() as session:
        section = sections.find_section(session, key)
        plan = plans.current_plan(session, section)
        if plan is None:
            raise click.ClickException(
                f"{key} has no plan; run `stringcourse plan --section {key}`."
            )
        facts = papers.week_plan(session, section, plan, number)
        if not facts.meetings:
            raise click.ClickException(f"the term of {key} has no week {number}.")
    write(output, print_documents([week_document(facts)], paper=paper).pdf)


@click.command("worksheet")
@section_option
@click.option("--phase", required=True, help="Key of the phase.")
@click.option(
    "--band", type=click.Choice(list(BANDS)), help="Grade band; the section's own if left out."
)
@click.option("--class-set", "class_set", is_flag=True, help="One sheet per team.")
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
    phase: str,
    band: str | None,
    *,
    class_set: bool,
    as_key: bool,
    version: Version,
    minutes: int,
    seed: str,
    paper: Paper,
    output: Path,
) -> None:
    """Print a phase's worksheet with values computed for the section's instruments."""
    with opened() as session:
        section = sections.find_section(session, key)
        request = store.phase_request(
            session, section, phase, seed=seed, band=band, minutes=minutes, version=version
        )
        holders = [
            (team.code, store.team_values(team, section.build))
            for team in sections.load_teams(session, section)
        ]
    if class_set:
        documents = sheet.class_set(request, holders)
        if as_key:
            documents = [sheet.class_set_key(documents)]
    else:
        if holders:
            request = replace(request, quantities=holders[0][1])
        document = sheet.generate(request)
        documents = [sheet.answer_key(document) if as_key else document]
    write(output, print_documents(documents, paper=paper).pdf)


COMMANDS = (print_week, print_worksheet)
