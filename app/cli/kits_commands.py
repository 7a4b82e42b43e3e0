"""`stringcourse kit`, `cutlist` and `batch`: what to buy, to cut and to prepare."""

import datetime as dt
import json
from pathlib import Path

import click

from app.cli.database_commands import opened
from app.cli.day_commands import day_of, today_option
from app.domain.kit.board_cutting import CuttingError, cut_from_rack
from app.domain.kit.kit_quantities import KitError, KitList
from app.domain.papers import kit_papers
from app.domain.papers.document import Paper
from app.interchange import kit_files
from app.store import sections
from app.store.kit import batches, kits

share = click.FloatRange(0, 1, min_open=True, max_open=True)
assurance_option = click.option(
    "--assurance",
    type=share,
    default=0.95,
    show_default=True,
    help="Share of classes in which the spares suffice.",
)


@click.command("kit")
@click.option("--section", "key", required=True, help="Key of the section.")
@assurance_option
@click.option(
    "--approval-days",
    type=click.IntRange(0, 120),
    help="Open days from requisition to order; the school's own if left out.",
)
@today_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def show_kit(
    key: str,
    *,
    assurance: float,
    approval_days: int | None,
    today: dt.datetime | None,
    as_json: bool,
) -> None:
    """Show a section's kit list: needed, spares, on hand, short, order-by dates and cost."""
    with opened() as session:
        section = sections.find_section(session, key)
        try:
            found = kits.section_kit(
                session,
                section,
                today=day_of(today),
                assurance=assurance,
                approval_days=approval_days,
            )
        except KitError as error:
            raise click.ClickException(" ".join(error.sentences)) from error
        title = section.title
    if as_json:
        data = {
            "section": key,
            "assurance": assurance,
            "lines": kit_files.kit_data(found.lines),
            "costs": {name: {"low": a, "high": b} for name, (a, b) in found.costs.items()},
            "notes": list(found.sentences),
        }
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    _print_kit(title, found)


def _print_kit(title: str, found: KitList) -> None:
    click.echo(f"{title}: short of {sum(1 for line in found.lines if line.short)} materials")
    for line in found.lines:
        due = line.order_by.isoformat() if line.order_by else "-"
        click.echo(
            f"{due:10s}  {line.title[:48]:48s} needed {line.needed:g}, spares {line.spares:g}, "
            f"on hand {line.on_hand:g}, short {line.short:g} {line.unit}"
        )
    for sentence in found.sentences:
        click.echo(f"  {sentence}")


@click.command("cutlist")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print JSON, lengths in millimetres.")
def show_cut_list(file: Path, *, as_json: bool) -> None:
    """Cut the parts of FILE (TOML or JSON: parts, boards, kerf) from its boards.

    A bare number is in millimetres: length = 559, length = "22 in", kerf = "1/8 in".
    """
    task = kit_files.read_cut_list(file)
    try:
        found = cut_from_rack(task.blanks, task.boards, task.kerf_m, trim_m=task.trim_m)
    except CuttingError as error:
        raise click.ClickException(" ".join(error.sentences)) from error
    if as_json and (found.boards or not found.reasons):
        data = kit_files.cutting_data(found)
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    elif found.boards:
        click.echo(kit_papers.cutting_sentence(found))
        for grid in kit_papers.cut_grids(found):
            click.echo(f"\n{grid.title}: {', '.join(grid.header)}")
            for row in grid.rows:
                click.echo("  " + "  ".join("-" if cell is None else str(cell) for cell in row))
    if found.reasons:
        raise click.ClickException(" ".join(found.reasons))


@click.command("batch")
@click.argument("keys", metavar="SECTION...", nargs=-1, required=True)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The file to write: .pdf, .xlsx, .csv or .json.",
)
@assurance_option
@today_option
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
def write_batch(
    keys: tuple[str, ...],
    *,
    output: Path,
    assurance: float,
    today: dt.datetime | None,
    paper: Paper,
) -> None:
    """Prepare several sections in one run: totals, machining by set-up, who gets what when."""
    kind = output.suffix.lower()
    if kind not in (".pdf", ".xlsx", ".csv", ".json"):
        raise click.ClickException(f"{output}: end the name in .pdf, .xlsx, .csv or .json.")
    with opened() as session:
        chosen = [sections.find_section(session, key) for key in dict.fromkeys(keys)]
        try:
            found = batches.batch(session, chosen, today=day_of(today), assurance=assurance)
        except KitError as error:
            raise click.ClickException(" ".join(error.sentences)) from error
        place = chosen[0].room.school.name
    if kind == ".pdf":
        from app.print.compile import compile_pdf

        document = kit_papers.batch_document(found, place, day_of(today))
        content = compile_pdf(document, paper=paper)
    elif kind == ".xlsx":
        content = kit_files.xlsx_bytes(kit_papers.batch_grids(found))
    elif kind == ".csv":
        content = kit_files.grids_csv(kit_papers.batch_grids(found)).encode()
    else:
        content = json.dumps(kit_files.batch_data(found), indent=2, ensure_ascii=False).encode()
    output.write_bytes(content)
    click.echo(
        f"{output}: {len(found.classes)} classes, {found.instruments} instruments, "
        f"{found.adult_minutes:g} adult minutes"
    )


COMMANDS = (show_kit, show_cut_list, write_batch)
