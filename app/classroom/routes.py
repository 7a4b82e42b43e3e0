"""The class in the room: today, and recording what happened in a few taps."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.models import Activity, Meeting, MeetingState, Section, Step, Team
from app.store import Missing, evidence, papers, plans, sections
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.database import db

bp = Blueprint("classroom", __name__)

EVENTS = {"done": "Done", "spoiled": "Part spoiled, spare used", "helped": "Helped by an adult"}


@bp.get("/sections/<key>/today")
def today(key: str) -> ResponseReturnValue:
    """The meeting of today, or the next one: who is where, what to set out, what to record."""
    session = db()
    section = sections.load_section(session, me(), key)
    meetings = sections.list_meetings(session, section)
    meeting = next((m for m in meetings if m.date >= today_here()), None)
    plan = plans.current_plan(session, section)
    if meeting is None or plan is None:
        return render_template("classroom/nothing.html", section=section, plan=plan)
    return _meeting_page(section, meeting)


def _meeting_page(section: Section, meeting: Meeting, wrong: tuple[str, ...] = ()) -> str:
    session = db()
    plan = plans.current_plan(session, section)
    if plan is None:
        raise Missing("plan")
    facts = papers.day_plan(session, section, plan, meeting)
    rows = plans.list_activities(session, plan, first=meeting.date, last=meeting.date)
    before = [m for m in sections.list_meetings(session, section) if m.date < meeting.date]
    last = next((m for m in reversed(before) if m.state is MeetingState.TAUGHT), None)
    return render_template(
        "classroom/today.html",
        section=section,
        meeting=meeting,
        facts=facts.meetings[0],
        rows=rows,
        progress=evidence.progress_of(session, section),
        away=evidence.absent_codes(session, meeting),
        away_last=evidence.absent_codes(session, last) if last else set(),
        not_ready=_not_signed_off(section, rows),
        teams=sections.load_teams(session, section),
        events=EVENTS,
        mine=section.teacher_id == me().id,
        is_today=meeting.date == today_here(),
        wrong=wrong,
        given=request.form,
    )


def _not_signed_off(section: Section, rows: list[Activity]) -> list[str]:
    """Who meets a station today without being signed off for it, in sentences."""
    states = evidence.sign_off_states(db(), section)
    titles = evidence.permit_titles(db())
    found = {}
    for row in rows:
        permit = row.step.permit
        for student in row.team.students if permit else ():
            state = states.get(student.code, {}).get(permit or "")
            if state is None or not state.signed_off:
                title = titles.get(permit or "", permit)
                found[student.code, permit] = (
                    f"{student.code} ({row.team.code}) is not signed off for {title}: {row.step.title}"
                )
    return list(found.values())


@bp.get("/sections/<key>/meetings/<int:number>")
def show_meeting(key: str, number: int) -> ResponseReturnValue:
    """Any meeting, to record what happened in it."""
    section = sections.load_section(db(), me(), key)
    return _meeting_page(section, sections.load_meeting(db(), section, number))


@bp.post("/sections/<key>/meetings/<int:number>")
def record_meeting(key: str, number: int) -> ResponseReturnValue:
    """Record the meeting as taught or lost, with who was away."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    meeting = sections.load_meeting(session, section, number)
    state = request.form.get("state", "")
    if state not in set(MeetingState):
        return _meeting_page(
            section, meeting, ("Choose whether the meeting was taught or lost.",)
        ), 422
    evidence.record_absences(session, meeting, set(request.form.getlist("away")), section)
    evidence.record_meeting(session, meeting, MeetingState(state), request.form.get("note", ""))
    session.commit()
    if state == MeetingState.LOST:
        flash("Recorded as lost. Plan again to see what moves.")
        return redirect(url_for("planning.semester", key=key), 303)
    flash("Recorded.")
    return redirect(url_for("classroom.show_meeting", key=key, number=number), 303)


@bp.post("/sections/<key>/meetings/<int:number>/steps/<int:team_id>/<int:step_id>")
def record_step(key: str, number: int, team_id: int, step_id: int) -> ResponseReturnValue:
    """Record a team's step as done, spoiled or helped, with initials and reading."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    meeting = sections.load_meeting(session, section, number)
    team, step = _team_and_step(section, team_id, step_id)
    by = evidence.By(me().name, now_here())
    event = request.form.get("event", "done")
    reading = request.form.get("reading", "").strip()
    try:
        if event not in EVENTS:
            raise ValueError("Choose what happened: done, spoiled or helped.")  # noqa: TRY301
        if reading:
            evidence.record_measurement(
                session, team=team, step=step, meeting=meeting, written=reading, by=by
            )
        evidence.record_step(
            session,
            team=team,
            step=step,
            meeting=meeting,
            event=event,
            by=by,
            initials=request.form.get("initials", ""),
            note=request.form.get("note", ""),
        )
    except ValueError as error:
        session.rollback()
        section = sections.load_own_section(session, me(), key)
        meeting = sections.load_meeting(session, section, number)
        return _meeting_page(section, meeting, (f"{team.code}, {step.key}: {error}",)), 422
    session.commit()
    flash(f"{team.code}: {step.title}, {EVENTS[event].lower()}.")
    return redirect(url_for("classroom.show_meeting", key=key, number=number), 303)


def _team_and_step(section: Section, team_id: int, step_id: int) -> tuple[Team, Step]:
    team = next((t for t in sections.load_teams(db(), section) if t.id == team_id), None)
    step = next((s for s in sections.load_steps(db(), section.build_id) if s.id == step_id), None)
    if team is None or step is None:
        raise Missing("team or step")
    return team, step


@bp.get("/sections/<key>/progress")
def progress(key: str) -> ResponseReturnValue:
    """How far each team is: steps down, teams across, with readings at hold points."""
    session = db()
    section = sections.load_section(session, me(), key)
    return render_template(
        "classroom/progress.html",
        section=section,
        steps=sections.load_steps(session, section.build_id),
        teams=sections.load_teams(session, section),
        progress=evidence.progress_of(session, section),
        readings=evidence.measurements_of(session, section),
    )
