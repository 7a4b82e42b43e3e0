"""`stringcourse sections` and `stringcourse plan`."""

import datetime as dt
import json
from typing import Any

import click
import sqlalchemy as sa

from app.cli.database_commands import opened
from app.models import Plan, Section
from app.store import sections
from app.store.plan import plans


@click.command("sections")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def list_sections(*, as_json: bool) -> None:
    """List the sections with their build and its phases."""
    with opened() as session:
        found = [
            {
                "key": section.key,
                "title": section.title,
                "build": section.build.key,
                "phases": [phase.key for phase in section.build.phases],
            }
            for section in session.scalars(sa.select(Section).order_by(Section.key))
        ]
    if as_json:
        click.echo(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        for item in found:
            click.echo(f"{item['key']}\t{item['title']}\t{item['build']}")


@click.command("plan")
@click.option("--section", "key", required=True, help="Key of the section.")
@click.option("--again", is_flag=True, help="Plan again even if there is a plan.")
@click.option("--seconds", type=click.FloatRange(min=0.1), help="Stop searching after this long.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def show_plan(key: str, *, again: bool, seconds: float | None, as_json: bool) -> None:
    """Show the stored plan of a section; plan if there is none."""
    from app.jobs.planning import plan_section

    with opened() as session:
        section = sections.find_section(session, key)
        plan = plans.current_plan(session, section)
        if plan is None or again:
            plan = plan_section(
                session,
                section,
                by="command line",
                now=dt.datetime.now(dt.UTC),
                reason="Planned again" if again else "Planned",
                seconds=seconds,
            )
        facts = plan_facts(plan)
    if as_json:
        click.echo(json.dumps(facts, indent=2, ensure_ascii=False))
        return
    click.echo(f"{section.title}: {facts['teams_complete']} of {facts['teams']} teams finish")
    click.echo(
        f"status {facts['status']}, finish {facts['finish_date']}, bound {facts['bound_date']}"
    )
    for sentence in facts["broken_rules"]:
        click.echo(f"  {sentence}")


def plan_facts(plan: Plan) -> dict[str, Any]:
    """The plan in figures, as the JSON output has them."""
    return {
        "status": plan.status,
        "finish_date": plan.finish_date.isoformat() if plan.finish_date else None,
        "bound_date": plan.bound_date.isoformat() if plan.bound_date else None,
        "gap_meetings": plan.gap_meetings,
        "teams_complete": plan.teams_complete,
        "teams": plan.teams,
        "limiting": plan.limiting,
        "broken_rules": plan.broken_rules,
    }


COMMANDS = (list_sections, show_plan)
