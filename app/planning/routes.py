"""Plan the term, see it by semester, week and day, and print it."""

import datetime as dt

from flask import (
    Blueprint,
    Response,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)
from flask.typing import ResponseReturnValue

from app.domain.class_plan import day_document, merged_caution, week_document
from app.domain.document import Paper
from app.domain.pictures import Grid, runs
from app.jobs import worker
from app.models import Plan, Role, Section
from app.print.compile import compile_pdf
from app.store import Missing, papers, plans, sections
from app.store.semester import semester_of
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.database import db

bp = Blueprint("planning", __name__)

PLAN = "plan"

bp.app_template_global("merged_caution")(merged_caution)


def _mine(section: Section) -> bool:
    return section.teacher_id == me().id or me().role is Role.ADMINISTRATOR


def _plan_of(section: Section) -> Plan:
    """The current plan.

    Raises Missing.
    """
    plan = plans.current_plan(db(), section)
    if plan is None:
        raise Missing("plan")
    return plan


@bp.get("/sections/<key>/plan")
def semester(key: str) -> ResponseReturnValue:
    """The semester at a glance, or the button that plans it."""
    session = db()
    section = sections.load_section(session, me(), key)
    plan = plans.current_plan(session, section)
    job = plans.open_job(session, section, PLAN)
    if plan is None:
        teams = sections.load_teams(session, section)
        return render_template(
            "planning/no_plan.html", section=section, job=job, mine=_mine(section), teams=teams
        )
    glance = semester_of(session, section, plan)
    return render_template(
        "planning/semester.html",
        section=section,
        plan=plan,
        job=job,
        mine=_mine(section),
        glance=glance,
        grid=Grid(rows=len(glance.timeline), columns=len(glance.meetings)),
        load_grid=Grid(
            rows=len(glance.loads),
            columns=len(glance.weeks),
            left=330,
            column_width=40,
            row_height=20,
        ),
        runs=runs,
        versions=plans.list_plans(session, section),
        today=today_here(),
    )


@bp.post("/sections/<key>/plan")
def plan_term(key: str) -> ResponseReturnValue:
    """Ask for a plan; the search runs outside the request."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    if not sections.load_teams(session, section):
        flash("Add students and teams first; a plan needs to know who works.", "refused")
        return redirect(url_for("sections.show_teams", key=key), 303)
    job = worker.ask(
        session,
        section,
        PLAN,
        by=me().name,
        now=now_here(),
        reason="Planned again" if plans.current_plan(session, section) else "Planned",
    )
    session.commit()
    worker.start(current_app.config["STRINGCOURSE"].database_url, job.id)
    return redirect(url_for("planning.show_job", key=key, job_id=job.id), 303)


@bp.get("/sections/<key>/plan/jobs/<int:job_id>")
def show_job(key: str, job_id: int) -> ResponseReturnValue:
    """How far the search is; goes on to the plan when it is done."""
    section = sections.load_section(db(), me(), key)
    job = plans.load_job(db(), section, job_id)
    if job is None:
        raise Missing("job")
    if job.state == "done":
        return redirect(url_for("planning.semester", key=key), 303)
    return render_template("planning/job.html", section=section, job=job, mine=_mine(section))


@bp.post("/sections/<key>/plan/jobs/<int:job_id>/stop")
def stop_job(key: str, job_id: int) -> ResponseReturnValue:
    """End the search and keep the best plan found so far."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    job = plans.load_job(session, section, job_id)
    if job is None:
        raise Missing("job")
    job.stop_asked = True
    session.commit()
    return redirect(url_for("planning.show_job", key=key, job_id=job_id), 303)


@bp.get("/sections/<key>/weeks/<int:number>")
def week(key: str, number: int) -> ResponseReturnValue:
    """The week plan on screen."""
    section = sections.load_section(db(), me(), key)
    numbers = sorted({m.week for m in sections.list_meetings(db(), section)})
    if number not in numbers:
        raise Missing(f"week {number}")
    facts = papers.week_plan(db(), section, _plan_of(section), number)
    return render_template(
        "planning/week.html", section=section, week=facts, number=number, numbers=numbers
    )


@bp.get("/sections/<key>/weeks/<int:number>.pdf")
def week_pdf(key: str, number: int) -> ResponseReturnValue:
    """The week plan on paper."""
    section = sections.load_section(db(), me(), key)
    facts = papers.week_plan(db(), section, _plan_of(section), number)
    if not facts.meetings:
        raise Missing(f"week {number}")
    return _pdf(compile_pdf(week_document(facts), paper=_paper()), f"{key}-week-{number:02d}.pdf")


@bp.get("/sections/<key>/days/<date:date>")
def day(key: str, date: dt.date) -> ResponseReturnValue:
    """One meeting on screen."""
    section = sections.load_section(db(), me(), key)
    meeting = next((m for m in sections.list_meetings(db(), section) if m.date == date), None)
    if meeting is None:
        raise Missing(f"meeting on {date}")
    facts = papers.day_plan(db(), section, _plan_of(section), meeting)
    return render_template("planning/day.html", section=section, week=facts, meeting=meeting)


@bp.get("/sections/<key>/days/<date:date>.pdf")
def day_pdf(key: str, date: dt.date) -> ResponseReturnValue:
    """One meeting on paper."""
    section = sections.load_section(db(), me(), key)
    meeting = next((m for m in sections.list_meetings(db(), section) if m.date == date), None)
    if meeting is None:
        raise Missing(f"meeting on {date}")
    facts = papers.day_plan(db(), section, _plan_of(section), meeting)
    document = day_document(facts, facts.meetings[0])
    return _pdf(compile_pdf(document, paper=_paper()), f"{key}-{date.isoformat()}.pdf")


def _paper() -> Paper:
    return "a4" if request.args.get("paper") == "a4" else "letter"


def _pdf(content: bytes, name: str) -> Response:
    return Response(
        content,
        mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
