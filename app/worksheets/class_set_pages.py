"""A class set too large for a request: asked for, watched, stopped, fetched."""

from flask import (
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)
from flask.typing import ResponseReturnValue

from app.domain.papers import worksheets as sheet
from app.jobs import worker
from app.jobs.class_set_making import KIND, MOST_IN_A_FILE, STOPPED, ask_for
from app.jobs.sheets import Worksheet
from app.models import Job, Section
from app.store import Missing, jobs, sections
from app.store.paper import class_sets
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.downloads import send
from app.web.request_session import db
from app.worksheets.blueprint import bp

SHEET = "/sections/<key>/papers/worksheet/class-set"


def _address() -> str:
    address: str = current_app.config["STRINGCOURSE"].public_address
    return address


@bp.get(SHEET)
def show_class_set(key: str) -> ResponseReturnValue:
    """The files of a large class set, or the way to make them."""
    session = db()
    section = sections.load_section(session, me(), key)
    return _page(Worksheet(session, section, request.args, _address(), on=today_here()))


def _page(made: Worksheet, trouble: str = "") -> str:
    session, section = made.session, made.section
    files = class_sets.list_files(session, section, now_here())
    last = jobs.last_job(session, section, KIND)
    mine_too = last is not None and last.progress.get("query") == made.set_query
    return render_template(
        "worksheets/class_set.html",
        section=section,
        made=made,
        query=made.set_query,
        files=[row for row in files if row.query == made.set_query],
        under_way=jobs.open_job(session, section, KIND),
        failed=last.error if last is not None and mine_too and last.state == "failed" else "",
        trouble=trouble,
        kept_days=class_sets.KEPT_DAYS,
        most_in_a_file=MOST_IN_A_FILE,
        mine=sections.may_change(me(), section),
    )


@bp.post(SHEET)
def make_class_set(key: str) -> ResponseReturnValue:
    """Let the worker make a large class set; one at a time for a section."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    made = Worksheet(session, section, request.args, _address(), on=today_here())
    try:
        details = ask_for(made, _address())
    except sheet.WorksheetError as error:
        return _page(made, str(error)), 422
    if not made.is_large:
        return redirect(url_for("worksheets.class_set_pdf", key=key, **made.set_query), 303)
    job = worker.ask(session, section, KIND, by=me().name, now=now_here(), **details)
    session.commit()
    if job.progress["query"] == details["query"]:
        _start(job)
    else:
        flash("This class set is still being made. Stop it, or ask for the other one after it.")
    return redirect(url_for("worksheets.watch_class_set", key=key, job_id=job.id), 303)


def _start(job: Job) -> None:
    if job.state == "waiting":
        worker.start(current_app.config["STRINGCOURSE"].database_url, job)


def _job(section: Section, job_id: int) -> Job:
    job = jobs.load_job(db(), section, job_id)
    if job.kind != KIND:
        raise Missing(f"class set {job_id}")
    return job


@bp.get(f"{SHEET}/<int:job_id>")
def watch_class_set(key: str, job_id: int) -> ResponseReturnValue:
    """How many of the sheets are made; the files as soon as they are there."""
    section = sections.load_section(db(), me(), key)
    job = _job(section, job_id)
    if job.state == "done":
        return redirect(url_for("worksheets.show_class_set", key=key, **job.progress["query"]), 303)
    return render_template(
        "worksheets/class_set_wait.html",
        section=section,
        job=job,
        query=job.progress["query"],
        mine=sections.may_change(me(), section),
    )


@bp.post(f"{SHEET}/<int:job_id>/stop")
def stop_class_set(key: str, job_id: int) -> ResponseReturnValue:
    """Stop making a class set. Asked twice, it counts as stopped: the worker may be gone."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    job = _job(section, job_id)
    if job.state == "waiting" or (job.state == "running" and job.stop_asked):
        job.state, job.error = "failed", STOPPED
    job.stop_asked = True
    session.commit()
    return redirect(url_for("worksheets.watch_class_set", key=key, job_id=job_id), 303)


@bp.get("/sections/<key>/papers/class-set-file/<int:file_id>.pdf")
def class_set_file(key: str, file_id: int) -> ResponseReturnValue:
    """A file of the section's last large class set."""
    section = sections.load_section(db(), me(), key)
    row = class_sets.load_file(db(), section, file_id, now_here())
    return send(row.content, f"{row.name}.pdf")
