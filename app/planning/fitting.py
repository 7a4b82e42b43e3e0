"""Does a step fit in the minutes left, and is it dry when the class is back?"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from flask import render_template, request
from flask.typing import ResponseReturnValue

from app.domain.scheduling import calendar
from app.models import Meeting, MeetingState, Section, Step
from app.planning.blueprint import bp
from app.store import Missing, sections
from app.store.classroom import evidence
from app.web.access import me
from app.web.clock import today_here
from app.web.request_session import db


@dataclass(frozen=True)
class FitAnswer:
    """The verdict in a word and a sentence, and how sure the drying is."""

    fit: calendar.StepFit
    word: str
    slowest: calendar.StepFit | None
    hours: float
    hours_from: str


@bp.get("/sections/<key>/fits")
def fits(key: str) -> ResponseReturnValue:
    """The question with its answer; step, date, time and minutes stand in the address."""
    section = sections.load_section(db(), me(), key)
    steps = sections.load_steps(db(), section.build_id)
    held = [m for m in sections.list_meetings(db(), section) if m.state is not MeetingState.LOST]
    if not held:
        raise Missing("meeting")
    given = request.args
    wrong: list[str] = []
    meeting = _meeting(held, given, wrong)
    step = _step(steps, given, wrong)
    at = _moment(meeting, given, wrong)
    minutes = _minutes(step, given, wrong)
    answer = None
    if step is not None and not wrong:
        answer = _answer(section, step, minutes, at, _pair(held, meeting))
    page = render_template(
        "planning/fits.html",
        section=section,
        steps=steps,
        meetings=[m for m in held if m.date >= today_here()][:15] or held[-1:],
        meeting=meeting,
        step=step,
        at=at,
        minutes=minutes,
        answer=answer,
        wrong=wrong,
        given=given,
    )
    return page, 422 if wrong else 200


def _meeting(held: list[Meeting], given: Mapping[str, str], wrong: list[str]) -> Meeting:
    """The meeting the address names, or the next one."""
    coming = next((m for m in held if m.date >= today_here()), held[-1])
    text = given.get("date", "").strip()
    if not text:
        return coming
    found = next((m for m in held if m.date.isoformat() == text), None)
    if found is None:
        wrong.append(f"The class does not meet on “{text[:20]}”; choose a meeting from the list.")
    return found or coming


def _step(steps: list[Step], given: Mapping[str, str], wrong: list[str]) -> Step | None:
    text = given.get("step", "").strip()
    found = next((s for s in steps if s.key.lower() == text.lower()), None)
    if text and found is None:
        wrong.append(f"This build has no step “{text[:20]}”; choose one from the list.")
    return found


def _moment(meeting: Meeting, given: Mapping[str, str], wrong: list[str]) -> dt.datetime:
    text = given.get("at", "").strip()
    start = meeting.start
    if not text:
        before = meeting.opening_minutes + meeting.lesson_minutes + meeting.test_minutes
        return start + dt.timedelta(minutes=before)
    try:
        return dt.datetime.combine(meeting.date, dt.datetime.strptime(text, "%H:%M").time())  # noqa: DTZ007 - the school's own clock
    except ValueError:
        wrong.append(f"“{text[:20]}” is no time; write hours and minutes, such as 10:42.")
        return start


def _minutes(step: Step | None, given: Mapping[str, str], wrong: list[str]) -> int:
    text = given.get("minutes", "").strip()
    if not text:
        return round(step.minutes_typical) if step is not None else 0
    if not text.isdecimal() or not 1 <= int(text) <= 600:
        wrong.append(f"“{text[:20]}” is no number of minutes; enter 1 to 600 or leave it empty.")
        return 0
    return int(text)


def _pair(
    held: list[Meeting], meeting: Meeting
) -> tuple[calendar.ClassMeeting, calendar.ClassMeeting | None]:
    place = held.index(meeting)
    later = held[place + 1] if place + 1 < len(held) else None
    return _value(meeting), _value(later) if later is not None else None


def _value(row: Meeting) -> calendar.ClassMeeting:
    return calendar.ClassMeeting(
        number=row.number,
        date=row.date,
        start=row.start,
        minutes=row.minutes,
        kind=row.kind,
        letter=row.letter,
        week=row.week,
        opening_minutes=row.opening_minutes,
        closing_minutes=row.closing_minutes,
        lesson_minutes=row.lesson_minutes,
        test_minutes=row.test_minutes,
    )


def _answer(
    section: Section,
    step: Step,
    minutes: int,
    at: dt.datetime,
    pair: tuple[calendar.ClassMeeting, calendar.ClassMeeting | None],
) -> FitAnswer:
    label = evidence.labels_of(db(), section).get(step.station)
    hours = step.drying["hours"] if step.drying else {"typical": 0.0, "high": 0.0}
    typical, slow = float(hours["typical"]), float(hours["high"])
    source = "the library’s estimate"
    if step.drying and label is not None and label.recoat_hours is not None:
        typical = slow = label.recoat_hours
        source = f"the label of {label.product or 'the product in use'}"
    fit = calendar.fits(minutes, typical, pair[0], at, pair[1])
    slowest = calendar.fits(minutes, slow, pair[0], at, pair[1]) if slow > typical else None
    if not fit.fits:
        word = "No"
    elif fit.dries is False:
        word = "It fits, but it is not dry in time"
    elif slowest is not None and slowest.dries is False:
        word = "Yes, if it dries as usual"
    else:
        word = "Yes"
    return FitAnswer(fit, word, slowest, typical, source)
