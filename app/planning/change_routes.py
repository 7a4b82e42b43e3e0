"""What happened, the ways on, two plans side by side, by hand, the fit check, what goes."""

import datetime as dt
from typing import Any

from flask import current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.papers.plan_pictures import PictureGrid, runs
from app.jobs import options, replanning, worker
from app.models import Job, Meeting, MeetingState, Plan, Section
from app.planning.blueprint import bp
from app.planning.change_forms import FORMS, ByHandForm, EventForm, event_form
from app.store import Missing, jobs, sections
from app.store.plan import plan_changes, plans, recorded_events
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.request_session import db

OPTIONS, FIT = "options", "fit"
PAGES = {OPTIONS: "planning.show_options", FIT: "planning.show_fit"}


@bp.app_template_filter("as_date")
def as_date(text: str) -> dt.date:
    """A date as jobs keep it, as a date."""
    return dt.date.fromisoformat(text)


# --- what happened ------------------------------------------------------------------------------


@bp.get("/sections/<key>/plan/events")
def show_events(key: str) -> ResponseReturnValue:
    """What happened so far, and the form for the next thing."""
    section = sections.load_section(db(), me(), key)
    kind = request.args.get("kind", "")
    steps = sections.load_steps(db(), section.build_id)
    form = None
    if kind in FORMS and sections.may_change(me(), section):
        others = _others(section)
        form = event_form(kind, section, steps, others)
        form.first.data = today_here()
        if form.others:
            form.others.data = [other.key for other in others]
    return _events_page(section, form, kind)


def _others(section: Section) -> list[Section]:
    """The teacher's other classes of the same term."""
    return [
        other
        for other in sections.list_sections_of_term(db(), section.term)
        if other.teacher_id == section.teacher_id and other.id != section.id
    ]


def _events_page(
    section: Section, form: EventForm | None, kind: str, status: int = 200
) -> ResponseReturnValue:
    page = render_template(
        "planning/events.html",
        section=section,
        form=form,
        kind=kind,
        kinds={name: recorded_events.TITLES[name] for name in FORMS},
        rows=recorded_events.list_events(db(), section),
        words=recorded_events.in_words,
        plan=plans.current_plan(db(), section),
        mine=sections.may_change(me(), section),
    )
    return page, status


@bp.post("/sections/<key>/plan/events")
def record_event(key: str) -> ResponseReturnValue:
    """Record it and plan again at once; the ways on are worked out outside the request."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    kind = request.args.get("kind", "")
    if kind not in FORMS:
        raise Missing(f"kind of event {kind}")
    others = _others(section)
    form = event_form(kind, section, sections.load_steps(session, section.build_id), others)
    if not form.validate_on_submit():
        return _events_page(section, form, kind, 422)
    try:
        row = replanning.record_and_replan(
            session, section, form.event(kind), by=me().name, now=now_here()
        )
    except ValueError as error:
        form.refuse(str(error))
        session.rollback()
        return _events_page(section, form, kind, 422)
    said = [
        replanning.record_elsewhere(session, other, form.event(kind), by=me().name, now=now_here())
        for other in others
        if other.key in form.chosen()
    ]
    job = _ask_options(section, row.plan_before_id) if row.plan_before_id else None
    session.commit()
    flash(" ".join([f"Recorded. {recorded_events.in_words(row)}.", *said]))
    if job is None:
        return redirect(url_for("planning.show_events", key=key), 303)
    _start(job)
    return redirect(
        url_for("planning.compare", key=key, before=row.plan_before_id, after=row.plan_after_id),
        303,
    )


def _ask_options(section: Section, against: int | None) -> Job:
    # A search that began before this event would answer a question nobody asks any more.
    under_way = jobs.open_job(db(), section, OPTIONS)
    if under_way is not None:
        under_way.stop_asked = True
        under_way.state = "failed"
        under_way.error = "Something happened since; the ways on are worked out again."
        db().flush()
    return worker.ask(db(), section, OPTIONS, by=me().name, now=now_here(), against=against)


def _start(job: Job) -> None:
    worker.start(current_app.config["STRINGCOURSE"].database_url, job)


@bp.post("/sections/<key>/plan/events/<int:event_id>/undo")
def undo_event(key: str, event_id: int) -> ResponseReturnValue:
    """Take an event back; the old plan comes back if nothing happened since."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    row = recorded_events.load_event(session, section, event_id)
    try:
        plan = replanning.undo_event(session, section, row, by=me().name, now=now_here())
    except ValueError as error:
        session.rollback()
        flash(str(error), "refused")
        return redirect(url_for("planning.show_events", key=key), 303)
    same = plan.id == row.plan_before_id
    session.commit()
    flash("Undone. " + ("The plan before is back." if same else "Planned again without it."))
    return redirect(url_for("planning.show_events", key=key), 303)


# --- the ways on --------------------------------------------------------------------------------


@bp.get("/sections/<key>/plan/options")
def show_options(key: str) -> ResponseReturnValue:
    """The ways on with finish, changes, price and what they give up."""
    session = db()
    section = sections.load_section(session, me(), key)
    job = jobs.last_job(session, section, OPTIONS, done=True)
    plan = plans.current_plan(session, section)
    return render_template(
        "planning/options.html",
        section=section,
        plan=plan,
        job=job,
        open_job=jobs.open_job(session, section, OPTIONS),
        fresh=job is not None and plan is not None and job.progress.get("for") == plan.id,
        mine=sections.may_change(me(), section),
        currency=section.build.currency,
    )


@bp.post("/sections/<key>/plan/options")
def ask_options(key: str) -> ResponseReturnValue:
    """Work the ways on out, outside the request."""
    return _ask(key, OPTIONS)


def _ask(key: str, kind: str, **details: Any) -> ResponseReturnValue:
    session = db()
    section = sections.load_own_section(session, me(), key)
    plans.load_plan(db(), section)
    job = worker.ask(session, section, kind, by=me().name, now=now_here(), **details)
    session.commit()
    _start(job)
    return redirect(url_for("planning.wait", key=key, job_id=job.id), 303)


@bp.get("/sections/<key>/plan/waiting/<int:job_id>")
def wait(key: str, job_id: int) -> ResponseReturnValue:
    """How far it is; goes on to the page when it is done."""
    section = sections.load_section(db(), me(), key)
    job = jobs.load_job(db(), section, job_id)
    if job.kind not in PAGES:
        raise Missing("job")
    if job.state == "done":
        return redirect(url_for(PAGES[job.kind], key=key), 303)
    return render_template(
        "planning/options_wait.html",
        section=section,
        job=job,
        mine=sections.may_change(me(), section),
    )


def _chosen(section: Section, job_id: int, name: str, number: int) -> tuple[Job, dict[str, Any]]:
    """A job and one of the options or changes on it.

    Raises Missing.
    """
    job = jobs.load_job(db(), section, job_id)
    found = job.progress.get(name, [])
    if not 0 <= number < len(found):
        raise Missing("option")
    return job, found[number]


@bp.post("/sections/<key>/plan/adopt/<int:job_id>/<name>/<int:number>")
def adopt(key: str, job_id: int, name: str, number: int) -> ResponseReturnValue:
    """Make an option the plan, if the plan is still the one it was worked out for."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    if name not in {"options", "changes"}:
        raise Missing("option")
    job, option = _chosen(section, job_id, name, number)
    try:
        plan = options.adopt(
            session,
            section,
            option,
            seen=int(job.progress.get("for", 0)),
            by=me().name,
            now=now_here(),
        )
    except recorded_events.Stale as error:
        session.rollback()
        return _stale(section, int(job.progress.get("for", 0)), str(error))
    except ValueError as error:
        session.rollback()
        flash(str(error), "refused")
        return redirect(url_for(PAGES[job.kind], key=key), 303)
    session.commit()
    flash(f"Adopted: {option['name']}.")
    return redirect(url_for("planning.compare", key=key, before=plan.before_id, after=plan.id), 303)


def _stale(section: Section, seen: int, sentence: str) -> ResponseReturnValue:
    """Someone was quicker: what changed since, and nothing lost."""
    session = db()
    current = plans.current_plan(session, section)
    known = session.get(Plan, seen)
    found = None
    if current is not None and known is not None and known.section_id == section.id:
        found = plan_changes.difference(
            session,
            section,
            plan_changes.placed_by_plan(session, known),
            plan_changes.placed_by_plan(session, current),
        )
    page = render_template(
        "planning/options_stale.html",
        section=section,
        sentence=sentence,
        plan=current,
        known=known,
        found=found,
    )
    return page, 409


# --- side by side -------------------------------------------------------------------------------


@bp.get("/sections/<key>/plan/compare")
def compare(key: str) -> ResponseReturnValue:
    """Two plans of the section side by side, in words and as a picture."""
    section = sections.load_section(db(), me(), key)
    before = plans.load_plan_by_id(db(), section, request.args.get("before", type=int))
    after = plans.load_plan_by_id(db(), section, request.args.get("after", type=int))
    found = plan_changes.difference(
        db(),
        section,
        plan_changes.placed_by_plan(db(), before),
        plan_changes.placed_by_plan(db(), after),
    )
    found = plan_changes.with_lessons(db(), found, before, after)
    return _compare_page(section, found, before.reason, after.reason)


def _compare_page(
    section: Section, found: plan_changes.PlanDifference, before: str, after: str
) -> str:
    return render_template(
        "planning/compare.html",
        section=section,
        found=found,
        before=before,
        after=after,
        grid=PictureGrid(rows=2 * len(found.rows), columns=len(found.meetings), left=84),
        runs=runs,
        open_job=jobs.open_job(db(), section, OPTIONS),
        mine=sections.may_change(me(), section),
    )


@bp.get("/sections/<key>/plan/compare/<int:job_id>/<name>/<int:number>")
def compare_option(key: str, job_id: int, name: str, number: int) -> ResponseReturnValue:
    """The current plan beside an option that is not adopted yet."""
    section = sections.load_section(db(), me(), key)
    _, option = _chosen(section, job_id, name, number)
    plan = plans.load_plan(db(), section)
    found = plan_changes.difference(
        db(),
        section,
        plan_changes.placed_by_plan(db(), plan),
        plan_changes.placed_by_rows(option["schedule"]),
    )
    return _compare_page(section, found, plan.reason, option["name"])


# --- by hand ------------------------------------------------------------------------------------


@bp.get("/sections/<key>/plan/by-hand")
def show_by_hand(key: str) -> ResponseReturnValue:
    """Choose an activity; see where it is; move, split, pin or drop it."""
    section = sections.load_section(db(), me(), key)
    return _by_hand_page(section, _by_hand_form(section), [])


def _coming(section: Section) -> list[Meeting]:
    return [
        m
        for m in sections.list_meetings(db(), section)
        if m.state is MeetingState.PLANNED and m.work_minutes
    ]


def _by_hand_form(section: Section) -> ByHandForm:
    form = ByHandForm()
    pairs = [
        (m.id, f"{m.date:%a} {m.date.day} {m.date:%b}, {m.starts_at:%H:%M}")
        for m in _coming(section)
    ]
    form.meeting.choices = form.rest_meeting.choices = pairs
    return form


def _clock_at(meeting: Meeting, minute: int) -> str:
    """The time of day at a minute of a meeting."""
    start = meeting.start
    return f"{start + dt.timedelta(minutes=minute):%H:%M}"


def _by_hand_page(
    section: Section, form: ByHandForm, broken: list[str], status: int = 200
) -> ResponseReturnValue:
    plan = plans.load_plan(db(), section)
    team, step = request.values.get("team", ""), request.values.get("step", "")
    steps = [
        s
        for s in sections.load_steps(db(), section.build_id)
        if not s.outside_class and s.key not in section.ready_made
    ]
    rows = recorded_events.rows_of(db(), plan, team, step) if team and step else []
    if rows and request.method == "GET":
        last = next((r for r in rows if r.meeting.state is MeetingState.PLANNED), rows[-1])
        form.meeting.data = last.meeting_id
        start = last.meeting.start
        form.at.data = (start + dt.timedelta(minutes=last.first_minute)).time()
    page = render_template(
        "planning/by_hand.html",
        section=section,
        form=form,
        plan=plan,
        team=team,
        step=step,
        steps=steps,
        chosen=next((s for s in steps if s.key == step), None),
        rows=rows,
        broken=broken,
        meetings=_coming(section),
        clock_at=_clock_at,
        undoable=recorded_events.undo_target(db(), plan) is not None,
        redoable=recorded_events.redo_target(db(), plan) is not None,
        mine=sections.may_change(me(), section),
    )
    return page, status


@bp.post("/sections/<key>/plan/by-hand")
def change_by_hand(key: str) -> ResponseReturnValue:
    """Change the activity, or name every rule that would break."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    form = _by_hand_form(section)
    if not form.validate_on_submit():
        return _by_hand_page(section, form, [], 422)
    seen = request.form.get("seen", 0, type=int)
    try:
        broken = replanning.change_by_hand(
            session,
            section,
            _asked(section, form),
            seen=seen,
            anyway=bool(form.anyway.data),
            by=me().name,
            now=now_here(),
        )
    except recorded_events.Stale as error:
        session.rollback()
        return _stale(section, seen, str(error))
    except ValueError as error:
        session.rollback()
        form.refuse(str(error))
        return _by_hand_page(section, form, [], 422)
    if broken and not form.anyway.data:
        session.rollback()
        return _by_hand_page(section, form, broken, 422)
    session.commit()
    flash("Changed by hand." + (" The plan says which rules it breaks." if broken else ""))
    return redirect(
        url_for(
            "planning.show_by_hand",
            key=key,
            team=request.form.get("team"),
            step=request.form.get("step"),
        ),
        303,
    )


def _asked(section: Section, form: ByHandForm) -> replanning.ByHand:
    dates = {m.id: m.date for m in _coming(section)}

    def moment(meeting: int | None, at: dt.time | None) -> dt.datetime | None:
        if meeting not in dates or at is None:
            return None
        return dt.datetime.combine(dates[meeting], at)

    return replanning.ByHand(
        action=form.action.data,
        team=request.form.get("team", ""),
        step=request.form.get("step", ""),
        start=moment(form.meeting.data, form.at.data),
        first_minutes=form.first_minutes.data,
        rest=moment(form.rest_meeting.data, form.rest_at.data),
    )


@bp.post("/sections/<key>/plan/undo")
def undo(key: str) -> ResponseReturnValue:
    """The plan before this one."""
    return _step(key, forward=False)


@bp.post("/sections/<key>/plan/redo")
def redo(key: str) -> ResponseReturnValue:
    """The plan that was undone."""
    return _step(key, forward=True)


def _step(key: str, *, forward: bool) -> ResponseReturnValue:
    session = db()
    section = sections.load_own_section(session, me(), key)
    seen = request.form.get("seen", 0, type=int)
    try:
        plan = replanning.step_back(session, section, seen, forward=forward)
    except recorded_events.Stale as error:
        session.rollback()
        return _stale(section, seen, str(error))
    except ValueError as error:
        session.rollback()
        flash(str(error), "refused")
    else:
        session.commit()
        flash(f"The plan is again: {plan.reason}.")
    return redirect(url_for("planning.show_by_hand", key=key), 303)


# --- the fit check, and what goes ---------------------------------------------------------------


@bp.get("/sections/<key>/plan/fit")
def show_fit(key: str) -> ResponseReturnValue:
    """How many teams finish in many chance terms, what limits them, and what helps."""
    session = db()
    section = sections.load_section(session, me(), key)
    plan = plans.load_plan(db(), section)
    job = jobs.last_job(session, section, FIT, done=True)
    titles = {row.key: row.title for row in section.room.stations}
    titles |= {row.key: row.title for row in section.room.fixtures}
    return render_template(
        "planning/fit.html",
        section=section,
        plan=plan,
        job=job,
        open_job=jobs.open_job(session, section, FIT),
        fresh=job is not None and job.progress.get("for") == plan.id,
        titles={**titles, "adult": "the adult"},
        mine=sections.may_change(me(), section),
        currency=section.build.currency,
    )


@bp.post("/sections/<key>/plan/fit")
def check_fit(key: str) -> ResponseReturnValue:
    """Play the terms, outside the request."""
    return _ask(key, FIT)
