"""What limits the plan, what holds it up, and what would make it fit."""

import datetime as dt

from flask import current_app, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.jobs import worker
from app.models import Plan, Section
from app.planning.blueprint import bp
from app.store import jobs, sections
from app.store.plan import plans
from app.web.access import me
from app.web.clock import now_here
from app.web.request_session import db

REMEDIES = "remedies"

bp.app_template_global("iso_day")(dt.date.fromisoformat)
LEAST_FLOATS = 12


@bp.get("/sections/<key>/plan/remedies")
def show_remedies(key: str) -> ResponseReturnValue:
    """The findings of the planner, and what each change buys once it was tried."""
    section = sections.load_section(db(), me(), key)
    plan = plans.load_plan(db(), section)
    return render_template(
        "planning/remedies.html",
        section=section,
        plan=plan,
        job=jobs.open_job(db(), section, REMEDIES),
        mine=sections.may_change(me(), section),
        findings=_findings(section, plan),
        found=plan.facts.get("remedies"),
        limiting=limiting_title(section, plan.limiting),
    )


def _findings(section: Section, plan: Plan) -> dict[str, object]:
    """The critical chain by step with its teams, and the open steps with the least float."""
    steps = {step.key: step.title for step in sections.load_steps(db(), section.build_id)}
    chain: list[tuple[str, str, list[str]]] = []
    for team, step in plan.facts.get("chain", ()):
        if chain and chain[-1][0] == step:
            chain[-1][2].append(team)
        else:
            chain.append((step, steps.get(step, step), [team]))
    floats = sorted(plan.facts.get("float_minutes", {}).items(), key=lambda pair: pair[1])
    return {
        "chain": chain,
        "floats": [(k, steps.get(k, k), m) for k, m in floats[:LEAST_FLOATS]],
    }


def limiting_title(section: Section, limiting: str | None) -> str:
    """What limits a plan, in the words of the room."""
    if limiting is None or limiting == "adult":
        return "the adult who watches the machines" if limiting else ""
    titles = {row.key: row.title for row in section.room.stations}
    titles.update({row.key: row.title for row in section.room.fixtures})
    return titles.get(limiting, limiting)


@bp.post("/sections/<key>/plan/remedies")
def try_changes(key: str) -> ResponseReturnValue:
    """Ask for the changes to be tried, outside the request."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    plans.load_plan(db(), section)
    job = worker.ask(session, section, REMEDIES, by=me().name, now=now_here())
    session.commit()
    worker.start(current_app.config["STRINGCOURSE"].database_url, job)
    return redirect(url_for("planning.show_job", key=key, job_id=job.id), 303)
