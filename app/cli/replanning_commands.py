"""`stringcourse fit` and `stringcourse replan`."""

import datetime as dt
import json
from pathlib import Path

import click

from app.cli.database_commands import opened
from app.store import sections


@click.command("fit")
@click.option("--section", "key", required=True, help="Key of the section.")
@click.option("--terms", default=200, show_default=True, type=click.IntRange(1, 100_000))
@click.option("--seed", default=0, show_default=True, help="Another seed, other chances.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes; default: one per core.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def check_fit(key: str, *, terms: int, seed: int, workers: int | None, as_json: bool) -> None:
    """Play a section's plan through many chance terms: how many teams finish in time?"""
    from app.jobs.fit import check_section

    with opened() as session:
        found = check_section(
            session, sections.find_section(session, key), terms=terms, seed=seed, workers=workers
        )
    if as_json:
        click.echo(json.dumps(found, indent=2, ensure_ascii=False))
        return
    low, high = found["interval"]
    click.echo(
        f"{found['share_finished']:.1%} of the teams finish in time (95 % interval {low:.1%} to "
        f"{high:.1%}) in {found['terms']} terms; all finish in {found['all_finish']:.1%}"
    )
    for limit in found["limits"]:
        click.echo(
            f"week of {limit['week']}: free teams wait most for {limit['resource']} "
            f"({limit['minutes']:.0f} team minutes)"
        )


@click.command("replan")
@click.option("--section", "key", required=True, help="Key of the section.")
@click.option(
    "--event",
    "file",
    required=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="JSON file: an event, or a list of them.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def replan_section(key: str, file: Path, *, as_json: bool) -> None:
    """Say which ways on there are after something happened. Records nothing."""
    from app.jobs import options
    from app.store.plan import plans, recorded_events

    try:
        given = json.loads(file.read_text(encoding="utf-8"))
    except ValueError as error:
        raise ValueError(f"{file} is not JSON: {error}.") from error
    asked = [options.event_from_facts(f) for f in (given if isinstance(given, list) else [given])]
    with opened() as session:
        section = sections.find_section(session, key)
        known = plans.current_plan(session, section)
        if known is None:
            raise ValueError("There is no plan yet; run `stringcourse plan` first.")
        now = dt.datetime.now(dt.UTC)
        for new in asked:
            recorded_events.record(session, section, new, by="command line", now=now)
        found = [option.facts for option in options.options(session, section, against=known)]
        session.rollback()
    if as_json:
        click.echo(json.dumps({"options": found}, indent=2, ensure_ascii=False))
        return
    for option in found:
        finish = option["finish_date"] or "not all in the term"
        click.echo(
            f"{option['name']}: {option['teams_complete']} of {option['teams']} teams, {finish}, "
            f"{option['changes']} activities move, cost {option['cost']:g}, "
            f"{option['adult_minutes']:g} adult minutes, "
            f"standards lost: {len(option['standards_lost'])}"
        )


COMMANDS = (check_fit, replan_section)
