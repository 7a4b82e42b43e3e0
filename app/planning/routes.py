"""Plan the term outside the request, and see the semester."""

from flask import current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.papers.class_plan import merged_caution
from app.domain.papers.plan_pictures import PictureGrid, runs
from app.jobs import worker
from app.models import Section
from app.planning.blueprint import bp
from app.planning.remedy_pages import REMEDIES, limiting_title
from app.store import NoPlan, jobs, sections
from app.store.plan import plans, sign_off_rechecks
from app.store.plan.semester import semester_of
from app.web.access import is_public, me
from app.web.clock import now_here, today_here
from app.web.errors import show_missing
from app.web.request_session import db

PLAN = "plan"

bp.app_template_global("merged_caution")(merged_caution)


@bp.get("/sections/<key>/plan")
def semester(key: str) -> ResponseReturnValue:
    """The semester at a glance, or the button that plans it."""
    session = db()
    section = sections.load_section(session, me(), key)
    plan = plans.current_plan(session, section)
    if plan is None:
        return _no_plan_page(section)
    glance = semester_of(session, section, plan)
    return render_template(
        "planning/semester.html",
        section=section,
        plan=plan,
        job=jobs.open_job(session, section, PLAN),
        mine=sections.may_change(me(), section),
        glance=glance,
        grid=PictureGrid(rows=len(glance.timeline), columns=len(glance.meetings)),
        load_grid=PictureGrid(
            rows=len(glance.loads),
            columns=len(glance.weeks),
            left=330,
            column_width=40,
            row_height=20,
        ),
        runs=runs,
        versions=plans.list_plans(session, section),
        rechecks=sign_off_rechecks.rechecks_of(session, section, plan),
        next_day=sign_off_rechecks.next_day(session, section),
        today=today_here(),
        limiting=limiting_title(section, plan.limiting),
        feed=_feed_address(section) if sections.may_change(me(), section) else "",
    )


def _no_plan_page(section: Section) -> str:
    return render_template(
        "planning/no_plan.html",
        section=section,
        job=jobs.open_job(db(), section, PLAN),
        mine=sections.may_change(me(), section),
        teams=sections.load_teams(db(), section),
    )


@bp.app_errorhandler(NoPlan)
def show_no_plan(error: NoPlan) -> ResponseReturnValue:
    """Whatever follows from a plan leads to planning where there is none yet."""
    if is_public(request.endpoint):
        return show_missing(error)
    return _no_plan_page(error.section), 404


def _feed_address(section: Section) -> str:
    if section.feed_token is None:
        return ""
    base = current_app.config["STRINGCOURSE"].public_address
    path = url_for("planning.calendar_feed", token=section.feed_token)
    return (
        f"{base}{path}"
        if base
        else url_for("planning.calendar_feed", token=section.feed_token, _external=True)
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
    worker.start(current_app.config["STRINGCOURSE"].database_url, job)
    return redirect(url_for("planning.show_job", key=key, job_id=job.id), 303)


@bp.get("/sections/<key>/plan/jobs/<int:job_id>")
def show_job(key: str, job_id: int) -> ResponseReturnValue:
    """How far the search is; goes on to the plan when it is done."""
    section = sections.load_section(db(), me(), key)
    job = jobs.load_job(db(), section, job_id)
    if job.state == "done":
        page = "planning.show_remedies" if job.kind == REMEDIES else "planning.semester"
        return redirect(url_for(page, key=key), 303)
    return render_template(
        "planning/job.html", section=section, job=job, mine=sections.may_change(me(), section)
    )


@bp.post("/sections/<key>/plan/jobs/<int:job_id>/stop")
def stop_job(key: str, job_id: int) -> ResponseReturnValue:
    """End the search and keep the best plan found so far."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    job = jobs.load_job(session, section, job_id)
    job.stop_asked = True
    session.commit()
    return redirect(url_for("planning.show_job", key=key, job_id=job_id), 303)
