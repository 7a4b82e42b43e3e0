"""`stringcourse week`, `semester` and `substitute`: papers to PDF."""

import datetime as dt
from pathlib import Path

import click
from sqlalchemy.orm import Session

from app.cli.database_commands import opened
from app.domain.papers.class_plan import week_document
from app.domain.papers.document import Paper
from app.domain.papers.semester_plan import semester_document
from app.models import Plan, Section
from app.print.compile import print_documents
from app.store import sections
from app.store.paper import papers
from app.store.plan import plans
from app.store.plan.semester import semester_plan
from app.store.plan.substitute import find_meeting, substitute_papers

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


def _planned(session: Session, key: str) -> tuple[Section, Plan]:
    section = sections.find_section(session, key)
    plan = plans.current_plan(session, section)
    if plan is None:
        raise click.ClickException(f"{key} has no plan; run `stringcourse plan --section {key}`.")
    return section, plan


@click.command("week")
@section_option
@click.option("--week", "number", required=True, type=click.IntRange(1, 60))
@paper_option
@output_option
def print_week(key: str, number: int, paper: Paper, output: Path) -> None:
    """Print a section's week plan."""
    with opened() as session:
        section, plan = _planned(session, key)
        facts = papers.week_plan(session, section, plan, number)
        if not facts.meetings:
            raise click.ClickException(f"the term of {key} has no week {number}.")
    write(output, print_documents([week_document(facts)], paper=paper).pdf)


@click.command("semester")
@section_option
@paper_option
@output_option
def print_semester(key: str, paper: Paper, output: Path) -> None:
    """Print the semester at a glance: phases, lessons, standards and milestones by week."""
    with opened() as session:
        facts = semester_plan(session, *_planned(session, key))
    write(output, print_documents([semester_document(facts)], paper=paper).pdf)


@click.command("substitute")
@section_option
@click.option("--date", "written", required=True, help="Date of the meeting, year-month-day.")
@paper_option
@output_option
def print_substitute(key: str, written: str, paper: Paper, output: Path) -> None:
    """Print a substitute's day: machine power off, hand work and paper only."""
    try:
        date = dt.date.fromisoformat(written)
    except ValueError as error:
        raise click.ClickException(
            f"“{written}” is no date; write year-month-day, such as 2027-03-02."
        ) from error
    with opened() as session:
        section, plan = _planned(session, key)
        meeting = find_meeting(session, section, date)
        documents = substitute_papers(session, section, plan, meeting)
    write(output, print_documents(documents, paper=paper).pdf)


COMMANDS = (print_week, print_semester, print_substitute)
