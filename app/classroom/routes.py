"""The class in the room: today, and recording what happened in a few taps."""

import datetime as dt
from collections.abc import Sequence

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.classroom.blueprint import bp
from app.classroom.day_pages import EVENTS, Refused, clock_doubt, day_page, template_values
from app.classroom.progress import progress_page, work_page
from app.domain.classroom import drying_air
from app.domain.dates import long_date
from app.domain.quantities import plain_number
from app.models import Measurement, Meeting, MeetingState, Progress, Section, Step, Team
from app.store import LostMeeting, Missing, sections
from app.store.classroom import bench_work, class_day, evidence, readings
from app.store.plan import plan_days, plans
from app.web import errors
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.request_session import db


def _own(key: str) -> Section:
    return sections.load_own_section(db(), me(), key)


def _by() -> evidence.By:
    return evidence.By(me().name, now_here())


@bp.get("/sections/<key>/today")
def today(key: str) -> ResponseReturnValue:
    """The meeting of today, or the next one: who is where, what to set out, what to record."""
    session = db()
    section = sections.load_section(session, me(), key)
    days, date = plan_days.list_days(session, section), today_here()
    coming = [day for day in days if day.date >= date]
    plan = plans.current_plan(session, section)
    if not coming or plan is None:
        return render_template(
            "classroom/nothing.html",
            plan=plan,
            clock=clock_doubt(days),
            today=date,
            last=days[-1].date if days else None,
            **template_values(section),
        )
    meeting = plan_days.load_day(session, coming[0])
    if meeting.state is MeetingState.LOST:
        return _lost_page(section, meeting, days)
    return day_page(section, plan, meeting, days=days)


def _lost_page(section: Section, meeting: Meeting, days: Sequence[plan_days.PlanDay]) -> str:
    coming = [day for day in plan_days.held(days) if day.date > meeting.date]
    return render_template(
        "classroom/lost.html",
        meeting=meeting,
        following=coming[0] if coming else None,
        why=sections.why_lost(meeting),
        by_calendar=sections.by_calendar(meeting),
        **template_values(section),
    )


@bp.errorhandler(LostMeeting)
def show_lost(error: LostMeeting) -> ResponseReturnValue:
    """The page of a lost meeting; what was to be recorded into it is refused with the reason."""
    meeting = error.meeting
    if request.method != "GET":
        db().rollback()
        advice = "Somebody recorded it as lost. Open the day again on its page, then save."
        return errors.page(409, f"There is no class on {long_date(meeting.date)}", advice)
    section = sections.load_section(db(), me(), (request.view_args or {})["key"])
    return _lost_page(section, meeting, plan_days.list_days(db(), section))


@bp.get("/sections/<key>/meetings/<int:number>")
def show_meeting(key: str, number: int) -> ResponseReturnValue:
    """Any meeting, to record what happened in it."""
    session = db()
    section = sections.load_section(session, me(), key)
    meeting = sections.load_meeting(session, section, number)
    return day_page(section, plans.load_plan(session, section), meeting)


def _refuse(key: str, number: int, refused: Refused) -> ResponseReturnValue:
    """The page again with what was entered; nothing of it is saved."""
    session = db()
    session.rollback()
    section = _own(key)
    meeting = sections.load_meeting(session, section, number)
    return day_page(section, plans.load_plan(session, section), meeting, refused), 422


def _back(key: str, number: int, anchor: str) -> ResponseReturnValue:
    address = url_for("classroom.show_meeting", key=key, number=number)
    return redirect(f"{address}#{anchor}", 303)


@bp.post("/sections/<key>/meetings/<int:number>/away")
def record_away(key: str, number: int) -> ResponseReturnValue:
    """Record who is away; what another adult recorded meanwhile stays."""
    session = db()
    section = _own(key)
    meeting = sections.load_meeting(session, section, number)
    codes = set(request.form.getlist("away"))
    unknown = codes - {student.code for student in section.students}
    if unknown:
        named = ", ".join(sorted(unknown))
        sentence = f"{named} is no code of this section; reload the page and mark again."
        return _refuse(key, number, Refused("away", (sentence,)))
    before = set(request.form.getlist("shown-away"))
    evidence.record_absences(session, meeting, codes, section, before=before)
    session.commit()
    flash(f"Away: {', '.join(sorted(evidence.absent_codes(session, meeting))) or 'nobody'}.")
    return _back(key, number, "away")


@bp.post("/sections/<key>/meetings/<int:number>")
def record_meeting(key: str, number: int) -> ResponseReturnValue:
    """Record the meeting as taught or lost."""
    session = db()
    section = _own(key)
    meeting = sections.load_meeting(session, section, number)
    state = request.form.get("state", "")
    if state not in set(MeetingState):
        sentence = "Choose whether the meeting was taught or lost."
        return _refuse(key, number, Refused("meeting", (sentence,)))
    sentence = _too_early(meeting)
    if sentence and state == MeetingState.TAUGHT:
        return _refuse(key, number, Refused("meeting", (sentence,), "early"))
    note = request.form.get("note", "")
    if note.strip() == request.form.get("shown-note", "").strip():
        note = meeting.note
    evidence.record_meeting(session, meeting, MeetingState(state), note)
    session.commit()
    if state == MeetingState.LOST:
        flash("Recorded as lost. Plan again to see what moves.")
        return redirect(url_for("planning.semester", key=key), 303)
    flash("Recorded." if state == MeetingState.TAUGHT else "The meeting is open again.")
    return _back(key, number, "meeting")


def _too_early(meeting: Meeting) -> str:
    """That a meeting has not come yet, unless the form says to record it all the same."""
    today = today_here()
    if meeting.date <= today or request.form.get("early"):
        return ""
    return (
        f"{long_date(meeting.date)} has not come yet on this machine’s clock ({long_date(today)}). "
        "Tick “Record it all the same”, or set the clock."
    )


@bp.post("/sections/<key>/days/<date:date>/open-again")
def open_again(key: str, date: dt.date) -> ResponseReturnValue:
    """Take back that a day was lost."""
    session = db()
    section = _own(key)
    lost = [
        m
        for m in sections.list_meetings(session, section)
        if m.date == date and m.state is MeetingState.LOST
    ]
    if not lost:
        raise Missing(f"lost day {date}")
    for meeting in lost:
        note = "" if sections.by_calendar(meeting) else meeting.note
        evidence.record_meeting(session, meeting, MeetingState.PLANNED, note)
    session.commit()
    flash("The meeting is open again. Plan again to use it.")
    return redirect(url_for("classroom.today", key=key), 303)


# --- the work of a team ------------------------------------------------------------------------


@bp.post("/sections/<key>/meetings/<int:number>/steps/<int:team_id>/<int:step_id>")
def record_step(key: str, number: int, team_id: int, step_id: int) -> ResponseReturnValue:
    """Record a team's step as done, spoiled or helped, with initials and reading."""
    session = db()
    section = _own(key)
    meeting = sections.load_meeting(session, section, number)
    team, step = _team_and_step(section, team_id, step_id)
    anchor = f"t{team_id}-{step_id}"
    try:
        row = _record(section, meeting, team, step)
    except bench_work.HoldPointStands as error:
        # A reading that keeps work from going on is a reading all the same.
        session.commit()
        kept = bool(request.form.get("reading", "").strip())
        refused = Refused(anchor, (_of(team, step, error),), error.tick, kept)
        return _refuse_work(key, number, team, step, refused)
    except ValueError as error:
        tick = error.tick if isinstance(error, evidence.AsksFirst) else ""
        return _refuse_work(
            key, number, team, step, Refused(anchor, (_of(team, step, error),), tick)
        )
    session.commit()
    flash(_said(team, step, row))
    if request.form.get("back") == "work":
        return redirect(
            url_for("classroom.show_work", key=key, team_id=team_id, step_id=step_id), 303
        )
    return _back(key, number, f"t{team_id}-{step_id}")


def _refuse_work(
    key: str, number: int, team: Team, step: Step, refused: Refused
) -> ResponseReturnValue:
    """The page the form was on, again."""
    if request.form.get("back") != "work":
        return _refuse(key, number, refused)
    db().rollback()
    section = _own(key)
    return work_page(section, *_team_and_step(section, team.id, step.id), refused), 422


def _of(team: Team, step: Step, error: ValueError) -> str:
    return f"{team.code}, {step.key}: {error}"


def _record(section: Section, meeting: Meeting, team: Team, step: Step) -> Progress:
    """Save the reading and the event of the form.

    Raises ValueError with a sentence.
    """
    session, given = db(), request.form
    event, reading = given.get("event", "done"), given.get("reading", "").strip()
    if event not in EVENTS:
        raise ValueError("Choose what happened: done, spoiled or helped.")
    if sentence := _too_early(meeting):
        raise bench_work.NotYet(sentence)
    waits = class_day.waiting_for(session, section, team, step)
    if event == "done" and waits:
        raise ValueError(waits)
    chosen = given.get("student", type=int)
    student_id = chosen if chosen in {item.id for item in team.students} else None
    if reading:
        readings.record_measurement(
            session,
            team=team,
            step=step,
            meeting=meeting,
            written=reading,
            by=_by(),
            taken=readings.Taken(
                instrument=given.get("instrument", ""),
                resolution=given.get("resolution", ""),
                student_id=student_id,
                confirmed=bool(given.get("confirmed")),
            ),
        )
    return bench_work.record_step(
        session,
        team=team,
        step=step,
        meeting=meeting,
        event=event,
        by=_by(),
        initials=given.get("initials", ""),
        note=given.get("note", ""),
        student_id=student_id,
        refusal=class_day.station_refusal(session, section, team, step, meeting),
        by_adult=bool(given.get("by-adult")),
        go_on=bool(given.get("go-on")),
    )


def _said(team: Team, step: Step, row: Progress) -> str:
    """What was saved, and what to do where the reading is out of its limits."""
    if row.event == "checked":
        text = f"{team.code}: {step.title} was done already; what you entered is kept beside it."
    else:
        text = f"{team.code}: {step.title}, {EVENTS[row.event].lower()}."
    if request.form.get("reading", "").strip():
        last = readings.last_reading(db(), team, step)
        if last is not None and last.within is False:
            todo = (step.check or {}).get("if_out", "measure again")
            text += f" The reading {last.written} is out of its limits: {todo}."
    return text


def _team_and_step(section: Section, team_id: int, step_id: int) -> tuple[Team, Step]:
    team = plan_days.find_team(db(), section, team_id)
    step = plan_days.find_step(db(), section, step_id)
    if team is None or step is None:
        raise Missing("team or step")
    return team, step


@bp.post("/sections/<key>/records/<int:record_id>/undo")
def undo(key: str, record_id: int) -> ResponseReturnValue:
    """Take a progress record back."""
    session = db()
    section = _own(key)
    row = evidence.load_recorded(session, section, Progress, record_id)
    said = f"{row.team.code}: {row.step.title} is no longer recorded as {row.event}."
    team_id, step_id = row.team_id, row.step_id
    bench_work.undo_step(session, row)
    session.commit()
    flash(said)
    number = request.form.get("meeting", type=int)
    if number is not None:
        return _back(key, number, f"t{team_id}-{step_id}")
    return redirect(url_for("classroom.show_work", key=key, team_id=team_id, step_id=step_id), 303)


@bp.post("/sections/<key>/readings/<int:reading_id>/take-back")
def take_back_reading(key: str, reading_id: int) -> ResponseReturnValue:
    """Take back a reading that is wrong or another team's."""
    session = db()
    row = evidence.load_recorded(session, _own(key), Measurement, reading_id)
    said = f"{row.team.code}: the reading {row.written} is taken back."
    team_id, step_id = row.team_id, row.step_id
    readings.take_back_reading(session, row)
    session.commit()
    flash(said)
    return redirect(url_for("classroom.show_work", key=key, team_id=team_id, step_id=step_id), 303)


# --- the room's air and the product in use -----------------------------------------------------


@bp.post("/sections/<key>/meetings/<int:number>/air")
def record_air(key: str, number: int) -> ResponseReturnValue:
    """Record temperature and relative humidity of the room."""
    session = db()
    section = _own(key)
    meeting = sections.load_meeting(session, section, number)
    given = request.form
    try:
        degrees, percent = drying_air.read_air(
            given.get("temperature", ""), given.get("humidity", "")
        )
    except ValueError as error:
        return _refuse(key, number, Refused("air", (str(error),)))
    evidence.record_air(session, meeting, degrees=degrees, percent=percent, by=_by())
    session.commit()
    flash(f"The room’s air: {degrees:g} °C, {percent:g} % relative humidity.")
    return _back(key, number, "air")


LABEL_FIELDS = {
    "lowest": ("lowest_temperature_c", "Lowest temperature", -10, 60),
    "highest": ("highest_temperature_c", "Highest temperature", -10, 60),
    "damp": ("highest_humidity_percent", "Highest humidity", 1, 100),
    "hours": ("recoat_hours", "Hours to the next coat", 0, 1000),
}


@bp.post("/sections/<key>/meetings/<int:number>/labels/<station>")
def save_label(key: str, number: int, station: str) -> ResponseReturnValue:
    """Keep what the label of the product in use says; it overrides the estimate."""
    session = db()
    section = _own(key)
    sections.load_meeting(session, section, number)
    if station not in {row.key for row in section.room.stations}:
        raise Missing(f"station {station}")
    wrong: list[str] = []
    values = {
        column: _limit(request.form.get(name, ""), words, low, high, wrong)
        for name, (column, words, low, high) in LABEL_FIELDS.items()
    }
    if wrong:
        return _refuse(key, number, Refused(f"label-{station}", tuple(wrong)))
    evidence.save_label(session, section, station, request.form.get("product", ""), values)
    session.commit()
    flash("The label is kept; it overrides the estimate from now on.")
    return _back(key, number, "air")


def _limit(text: str, words: str, low: float, high: float, wrong: list[str]) -> float | None:
    if not text.strip():
        return None
    try:
        value = plain_number(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        wrong.append(f"{words}: enter a number from {low} to {high}, or leave it empty.")
        return None
    return value


# --- progress ----------------------------------------------------------------------------------


@bp.get("/sections/<key>/progress")
def progress(key: str) -> ResponseReturnValue:
    """How far each team is against the plan: a spread, and steps down by teams across."""
    return progress_page(sections.load_section(db(), me(), key))


@bp.get("/sections/<key>/progress/<int:team_id>/<int:step_id>")
def show_work(key: str, team_id: int, step_id: int) -> ResponseReturnValue:
    """A team's records at one step, to add to them or take one back."""
    section = sections.load_section(db(), me(), key)
    team, step = _team_and_step(section, team_id, step_id)
    return work_page(section, team, step)
