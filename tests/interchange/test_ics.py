"""The calendar stream is read back by other code; a school's calendar file survives rubbish."""

import datetime as dt

import pytest
import vobject
from dateutil.rrule import MONTHLY, WE, rrule

from app.domain.papers.class_plan import MeetingPlan, PlannedLesson, StepHazard, Work
from app.domain.papers.document import DEFERRAL
from app.interchange.closures import public_holidays, read_calendar
from app.interchange.ics import CalendarFacts, calendar_file

FIRST, LAST = dt.date(2027, 1, 5), dt.date(2027, 5, 14)
MADE = dt.datetime(2027, 2, 28, 18, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))


def meeting(**changes):
    values = {
        "number": 37,
        "date": dt.date(2027, 3, 2),
        "starts_at": dt.time(10, 20),
        "minutes": 47,
        "work_minutes": 35,
        "kind": "regular",
        "label": "",
        "lost": False,
        "power": True,
        "lessons": (PlannedLesson("Slopes; and residuals, in ümlauts", 20, "Slope", "I can"),),
        "briefings": (),
        "work": (Work("E14", "Saw the outline", "Bandsaw", ("T01", "T02"), "35"),),
        "shown": (),
        "materials": (),
        "tools": ("gauge",),
        "checks": (),
        "hazards": (
            StepHazard("E14", "Saw", ("The blade cuts",), ("eye protection",), "adult at it"),
        ),
    }
    return MeetingPlan(**{**values, **changes})


def stream(*meetings, **changes):
    facts = CalendarFacts("School 1 period-3", "Period 3", "Workshop", MADE, meetings, **changes)
    return calendar_file(facts)


def test_another_library_reads_every_meeting_at_the_schools_own_time():
    # Read back by vobject (PyPI), which shares no code with the writer.
    calendar = vobject.readOne(
        stream(meeting(), milestones=[(dt.date(2027, 5, 6), "Showcase")]).decode()
    )
    lesson, showcase = calendar.vevent_list

    assert lesson.dtstart.value == dt.datetime(2027, 3, 2, 10, 20)  # noqa: DTZ001 - floating
    assert lesson.dtstart.value.tzinfo is None
    assert lesson.dtend.value == dt.datetime(2027, 3, 2, 11, 7)  # noqa: DTZ001 - floating
    assert lesson.summary.value == "Period 3: Slopes; and residuals, in ümlauts; E14"
    assert lesson.location.value == "Workshop"
    assert showcase.dtstart.value == dt.date(2027, 5, 6)
    assert showcase.dtend.value == dt.date(2027, 5, 7)


def test_the_moment_of_the_plan_is_in_utc():
    # RFC 5545 section 3.8.7.2: DTSTAMP must be in UTC.
    event = vobject.readOne(stream(meeting()).decode()).vevent

    assert event.dtstamp.value == dt.datetime(2027, 3, 1, 0, 30, tzinfo=dt.UTC)
    assert b"DTSTAMP:20270301T003000Z\r\n" in stream(meeting())


def test_lines_are_folded_at_75_octets_and_end_in_crlf():
    # RFC 5545 section 3.1.
    lines = stream(meeting()).split(b"\r\n")

    assert max(map(len, lines)) <= 75
    assert not any(b"\n" in line for line in lines)


def test_a_hazardous_step_brings_its_caution_and_the_deferral():
    text = vobject.readOne(stream(meeting()).decode()).vevent.description.value

    assert "Caution: The blade cuts (E14)." in text
    assert DEFERRAL in text


def test_a_lost_meeting_is_cancelled_and_keeps_its_identifier():
    held = vobject.readOne(stream(meeting()).decode()).vevent
    lost = vobject.readOne(stream(meeting(lost=True, label="Snow")).decode()).vevent

    assert lost.status.value == "CANCELLED"
    assert lost.uid.value == held.uid.value


def test_a_moment_without_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        calendar_file(CalendarFacts("s", "t", "r", MADE.replace(tzinfo=None), ()))


# --- a school's own calendar file --------------------------------------------------------------


def file_of(*events, head=""):
    body = "".join(
        f"BEGIN:VEVENT\r\nUID:{n}\r\n{event}\r\nEND:VEVENT\r\n" for n, event in enumerate(events)
    )
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//y//EN\r\n{head}{body}END:VCALENDAR\r\n".encode()


def days(*events, head=""):
    return read_calendar(file_of(*events, head=head), FIRST, LAST).days


def test_an_all_day_entry_ends_the_day_before_its_end():
    # RFC 5545 section 3.6.1: DTEND of a date is not part of the event.
    found = days("DTSTART;VALUE=DATE:20270322\r\nDTEND;VALUE=DATE:20270327\r\nSUMMARY:Spring break")

    assert [(d.first, d.last, d.what) for d in found] == [
        (dt.date(2027, 3, 22), dt.date(2027, 3, 26), "closed")
    ]


def test_recurrences_are_those_of_an_independent_rule():
    # dateutil's own recurrence objects, built from arguments and not from the file's text.
    found = days(
        "DTSTART;VALUE=DATE:20260909\r\nRRULE:FREQ=MONTHLY;BYDAY=2WE;UNTIL=20270501T000000Z\r\n"
        "EXDATE;VALUE=DATE:20270210\r\nSUMMARY:Early release"
    )
    spring = [dt.datetime(2027, month, 1) for month in (1, 5)]  # noqa: DTZ001 - dates only
    rule = rrule(MONTHLY, byweekday=WE(2), dtstart=spring[0], until=spring[1])
    expected = [d.date() for d in rule if d.date() != dt.date(2027, 2, 10)]

    assert [d.first for d in found] == expected
    assert {d.what for d in found} == {"early-release"}


def test_an_occurrence_that_was_moved_stands_on_its_new_day_only():
    found = read_calendar(
        file_of(
            "DTSTART;VALUE=DATE:20270301\r\nRRULE:FREQ=WEEKLY;COUNT=3\r\nSUMMARY:No school",
        ).replace(
            b"END:VCALENDAR",
            b"BEGIN:VEVENT\r\nUID:0\r\nRECURRENCE-ID;VALUE=DATE:20270308\r\n"
            b"DTSTART;VALUE=DATE:20270309\r\nSUMMARY:No school\r\nEND:VEVENT\r\nEND:VCALENDAR",
        ),
        FIRST,
        LAST,
    ).days

    assert [d.first.day for d in found] == [1, 9, 15]


def test_a_moment_in_utc_falls_on_the_day_of_the_calendars_zone():
    # 03:00 UTC on 2 March is the evening of 1 March at UTC-6 (Central Standard Time).
    event = "DTSTART:20270302T030000Z\r\nDTEND:20270302T040000Z\r\nSUMMARY:Late event"

    assert days(event, head="X-WR-TIMEZONE:America/Chicago\r\n")[0].first == dt.date(2027, 3, 1)
    assert days(event)[0].first == dt.date(2027, 3, 2)


def test_a_timed_entry_is_offered_but_changes_nothing_by_itself():
    (found,) = days("DTSTART:20270302T090000\r\nDTEND:20270302T100000\r\nSUMMARY:Holiday concert")

    assert (found.what, found.timed) == ("", "09:00–10:00")


@pytest.mark.parametrize(
    "event",
    [
        "SUMMARY:No date at all",
        "DTSTART:rubbish\r\nSUMMARY:x",
        "DTSTART;VALUE=DATE:20270302\r\nRRULE:FREQ=SECONDLY\r\nSUMMARY:x",
        "DTSTART;VALUE=DATE:20270302\r\nRRULE:FREQ=NONSENSE\r\nSUMMARY:x",
        "DTSTART;VALUE=DATE:20270305\r\nDTEND;VALUE=DATE:20270301\r\nSUMMARY:x",
        "DTSTART;VALUE=DATE:19000101\r\nRRULE:FREQ=DAILY\r\nSUMMARY:x",
    ],
)
def test_an_entry_that_cannot_be_used_is_named_and_the_others_stay(event):
    found = read_calendar(
        file_of(event, "DTSTART;VALUE=DATE:20270304\r\nSUMMARY:No school"), FIRST, LAST
    )

    assert [d.first for d in found.days] == [dt.date(2027, 3, 4)]
    assert len(found.skipped) == 1
    assert found.skipped[0].endswith(".")


@pytest.mark.parametrize("content", [b"", b"\x00\xff\xfe", b"<html></html>", b"BEGIN:VCALENDAR"])
def test_what_is_no_calendar_is_refused_with_a_sentence(content):
    with pytest.raises(ValueError, match=r"calendar"):
        read_calendar(content, FIRST, LAST)


def test_federal_holidays_of_a_term_are_those_of_the_statute():
    # 5 U.S.C. 6103(a): the third Monday of January and the third Monday of February.
    found = {d.date for d in public_holidays("US", FIRST, LAST)}

    assert found == {dt.date(2027, 1, 18), dt.date(2027, 2, 15)}
