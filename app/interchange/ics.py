"""A section's plan as an iCalendar stream (RFC 5545): one event per meeting, and the milestones.

Meetings carry the school's own local time without a zone ("floating", RFC 5545 section 3.3.5,
form 1): a bell rings at 10:20 on the clock of the school, summer time or not. The moment at which
the plan was made is in UTC, as the format demands.
"""

import datetime as dt
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from app.domain.papers.class_plan import MeetingPlan, merged_caution

PRODUCT = "-//Stringcourse//Class plan//EN"
REFRESH = dt.timedelta(hours=6)  # common practice, no source: often enough for a lost day


@dataclass(frozen=True, slots=True)
class CalendarFacts:
    """What the stream is made of. `source` sets the events apart from those of other schools."""

    source: str
    title: str
    room: str
    made_at: dt.datetime
    meetings: Sequence[MeetingPlan]
    milestones: Sequence[tuple[dt.date, str]] = ()


def calendar_file(facts: CalendarFacts) -> bytes:
    """The stream, folded and with CRLF line ends as the format demands.

    Raises ValueError where `made_at` has no time zone.
    """
    import icalendar

    if facts.made_at.tzinfo is None:
        raise ValueError("the moment a calendar was made needs a time zone")
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", facts.title)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    stamp = facts.made_at.astimezone(dt.UTC).replace(microsecond=0)
    for meeting in facts.meetings:
        calendar.add_component(_meeting_event(facts, meeting, stamp))
    for date, text in facts.milestones:
        event = _event(facts, f"{date.isoformat()} {text}", text, stamp)
        event.add("dtstart", date)
        event.add("dtend", date + dt.timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _event(facts: CalendarFacts, what: str, summary: str, stamp: dt.datetime) -> Any:
    import icalendar

    event = icalendar.Event()
    # The same meeting keeps its identifier from plan to plan, so that a calendar moves nothing twice.
    event.add("uid", f"{uuid.uuid5(uuid.NAMESPACE_URL, f'{facts.source} {what}')}@stringcourse")
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("summary", summary)
    return event


def _meeting_event(facts: CalendarFacts, meeting: MeetingPlan, stamp: dt.datetime) -> Any:
    start = dt.datetime.combine(meeting.date, meeting.starts_at)
    event = _event(facts, start.isoformat(), _summary(facts, meeting), stamp)
    event.add("dtstart", start)
    event.add("dtend", start + dt.timedelta(minutes=meeting.minutes))
    event.add("location", facts.room)
    if meeting.lost:
        event.add("status", "CANCELLED")
    else:
        event.add("status", "CONFIRMED")
        event.add("description", "\n".join(_lines(meeting)))
    return event


def _summary(facts: CalendarFacts, meeting: MeetingPlan) -> str:
    if meeting.lost:
        return f"{facts.title}: no class ({meeting.label or 'lost'})"
    taught = [lesson.title for lesson in meeting.lessons]
    steps = ", ".join(dict.fromkeys(item.step for item in meeting.work))
    return f"{facts.title}: " + ("; ".join([*taught, *([steps] if steps else [])]) or "class")


def _lines(meeting: MeetingPlan) -> Iterator[str]:
    yield f"Meeting {meeting.number}, {meeting.minutes} minutes, {meeting.work_minutes} at the bench."
    if not meeting.power:
        yield "Machine power is off."
    for lesson in meeting.lessons:
        codes = f" ({', '.join(lesson.codes)})" if lesson.codes else ""
        yield f"Lesson, {lesson.minutes} min: {lesson.title}{codes}"
    for briefing in meeting.briefings:
        yield f"Safety briefing: {briefing}"
    for item in meeting.work:
        yield f"{', '.join(item.teams)}: {item.step} {item.title}, {item.station}, {item.minutes} min"
    for thing in (*meeting.materials, *meeting.tools):
        yield f"Set out: {thing}"
    if meeting.hazards:
        caution = merged_caution(meeting.hazards)
        yield f"Caution: {' '.join(f'{hazard}.' for hazard in caution.hazards)}"
        if caution.protection:
            yield f"Protection: {'; '.join(caution.protection)}."
        yield f"Supervision: {caution.supervision}."
        yield caution.deferral
