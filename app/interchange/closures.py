"""Days without school: a country's public holidays, or a school's own calendar file."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from app.domain.scheduling.calendar import DayException

LARGEST_FILE = 2_000_000  # bytes
MOST_ENTRIES = 3_000
MOST_REPEATS = 200  # entries with a recurrence rule, each of which takes time to unfold
MOST_DAYS = 400  # of one entry: a term has fewer
OLDEST_RULE = dt.timedelta(days=3_700)  # daily and weekly rules older than this are not unfolded
SLOW_RULES = re.compile(r"FREQ=(SECONDLY|MINUTELY|HOURLY)|BY(HOUR|MINUTE|SECOND)=", re.IGNORECASE)

SHORT_DAYS = (
    ("early-release", re.compile(r"early (release|dismissal)|half day|minimum day", re.IGNORECASE)),
    ("delayed-start", re.compile(r"delay|late start", re.IGNORECASE)),
    ("testing", re.compile(r"\btest(s|ing)?\b|assessment", re.IGNORECASE)),
    ("assembly", re.compile(r"assembl|rally", re.IGNORECASE)),
    ("make-up", re.compile(r"make.?up", re.IGNORECASE)),
)
OPEN_DAYS = re.compile(
    r"concert|game|fair|meeting|conference|ends?\b|begins?\b|first day|last day|picture|club",
    re.IGNORECASE,
)
CLOSED_DAYS = re.compile(
    r"no school|closed|holiday|break|recess|no classes|day off|professional", re.IGNORECASE
)
LEAVE_OUT = ""


@dataclass(frozen=True, slots=True)
class FoundDay:
    """An entry of a calendar file inside the term: its days, and what it probably means.

    `what` is a word of the list of days ("closed", "early-release" …), empty to leave it out.
    """

    first: dt.date
    last: dt.date
    label: str
    what: str
    timed: str = ""  # from–to, where the entry is not for the whole day


@dataclass(frozen=True, slots=True)
class FoundDays:
    """What a calendar file says of a term, and what could not be used, in sentences."""

    days: tuple[FoundDay, ...]
    skipped: tuple[str, ...]


def public_holidays(country: str, first: dt.date, last: dt.date) -> tuple[DayException, ...]:
    """Public holidays of a country on weekdays between two dates, both included.

    Raises ValueError with a sentence if the country code is unknown.
    """
    import holidays

    years = range(first.year, last.year + 1)
    try:
        found = holidays.country_holidays(country, years=years)
    except NotImplementedError as error:
        raise ValueError(
            f"There is no list of public holidays for {country}; use a two-letter country code "
            "such as US, or enter the days yourself."
        ) from error
    return tuple(
        DayException(date, label=found[date], closed=True)
        for date in sorted(found)
        if first <= date <= last and date.weekday() < 5
    )


def read_calendar(content: bytes, first: dt.date, last: dt.date) -> FoundDays:
    """The entries of an iCalendar file (RFC 5545) that touch the days from `first` to `last`.

    Recurrences are unfolded. An entry's days are those of its own time zone; moments in UTC are
    taken into the calendar's zone where the file names one. Entries that cannot be read are
    skipped with a sentence. Raises ValueError with a sentence if it is no calendar at all.
    """
    calendar = _parsed(content)
    zone = _zone(calendar)
    found: list[FoundDay] = []
    skipped: list[str] = []
    entries = list(islice(calendar.walk("VEVENT"), MOST_ENTRIES + 1))
    if len(entries) > MOST_ENTRIES:
        skipped.append(f"The file has more than {MOST_ENTRIES} entries; the rest is left out.")
    moved = _moved(entries)
    repeats = 0
    for entry in entries[:MOST_ENTRIES]:
        label = _label(entry)
        try:
            repeats += "RRULE" in entry
            if repeats > MOST_REPEATS and "RRULE" in entry:
                raise ValueError(f"it has more than {MOST_REPEATS} repeating entries before it")  # noqa: TRY301
            found += _days(entry, label, (first, last), zone, moved)
        except (ValueError, TypeError, KeyError, AttributeError, OverflowError) as error:
            skipped.append(f"“{label}” is left out: {_why(error)}.")
    found = sorted(set(found), key=lambda day: (day.first, day.last, day.label))
    return FoundDays(tuple(found), tuple(skipped))


def _parsed(content: bytes) -> Any:
    import icalendar

    if len(content) > LARGEST_FILE:
        raise ValueError(
            f"The file has more than {LARGEST_FILE // 1_000_000} MB; export only this school year."
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    start = text.upper().find("BEGIN:VCALENDAR")
    if start < 0:
        raise ValueError(
            "This is no calendar file: it has no BEGIN:VCALENDAR. Export the calendar as .ics "
            "(iCalendar) and choose that file."
        )
    try:
        return icalendar.Calendar.from_ical(text[start:].replace("\0", ""))
    except (ValueError, IndexError, KeyError, TypeError) as error:
        raise ValueError(
            "The calendar file breaks off or is damaged; export it again and choose the new file."
        ) from error


def _zone(calendar: Any) -> dt.tzinfo | None:
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(str(calendar.get("X-WR-TIMEZONE", "")))
    except (ValueError, OSError, KeyError):
        return None


def _label(entry: Any) -> str:
    text = " ".join(str(entry.get("SUMMARY", "")).split())
    return "".join(letter for letter in text if letter.isprintable())[:80] or "Entry without a name"


def _moved(entries: list[Any]) -> dict[str, set[Any]]:
    """For each identifier the moments that an entry of their own takes the place of."""
    found: dict[str, set[Any]] = {}
    for entry in entries:
        instead = getattr(entry.get("RECURRENCE-ID"), "dt", None)
        if instead is not None:
            found.setdefault(str(entry.get("UID", "")), set()).add(_plain(instead))
    return found


def _plain(moment: dt.date | dt.datetime) -> dt.datetime:
    """A date or moment without its zone, to be compared within one entry."""
    if isinstance(moment, dt.datetime):
        return moment.replace(tzinfo=None)
    return dt.datetime.combine(moment, dt.time())


def _days(
    entry: Any,
    label: str,
    term: tuple[dt.date, dt.date],
    zone: dt.tzinfo | None,
    moved: dict[str, set[Any]],
) -> Iterator[FoundDay]:
    if str(entry.get("STATUS", "")).upper() == "CANCELLED":
        return
    start = entry["DTSTART"].dt
    length = _length(entry, start)
    for begin in _starts(entry, start, length, term, moved):
        if isinstance(start, dt.datetime):
            local = begin.replace(tzinfo=start.tzinfo)
            if zone is not None and str(local.tzinfo) == "UTC":
                local = local.astimezone(zone)
            end = local + length
            day = FoundDay(
                local.date(), local.date(), label, LEAVE_OUT, f"{local:%H:%M}–{end:%H:%M}"
            )
        else:
            days = min(max(length.days, 1), MOST_DAYS)
            last = begin.date() + dt.timedelta(days=days - 1)
            day = FoundDay(begin.date(), last, label, meaning(label))
        if day.first <= term[1] and day.last >= term[0]:
            yield replace(day, first=max(day.first, term[0]), last=min(day.last, term[1]))


def _length(entry: Any, start: dt.date | dt.datetime) -> dt.timedelta:
    if "DURATION" in entry:
        length = entry["DURATION"].dt
    elif "DTEND" in entry:
        length = _plain(entry["DTEND"].dt) - _plain(start)
    else:
        length = dt.timedelta(0)
    if length < dt.timedelta(0):
        raise ValueError("it ends before it begins")
    return dt.timedelta(seconds=length.total_seconds())


def _starts(
    entry: Any,
    start: dt.date | dt.datetime,
    length: dt.timedelta,
    term: tuple[dt.date, dt.date],
    moved: dict[str, set[Any]],
) -> Iterator[dt.datetime]:
    """When the entry begins, each time, in its own zone's time."""
    plain = _plain(start)
    uid = str(entry.get("UID", ""))
    dropped = set(_dates(entry, "EXDATE"))
    if "RECURRENCE-ID" not in entry:
        dropped |= moved.get(uid, set())
    low = dt.datetime.combine(term[0], dt.time()) - length - dt.timedelta(days=1)
    high = dt.datetime.combine(term[1], dt.time.max) + dt.timedelta(days=1)
    rule = entry.get("RRULE")
    begins = {plain, *_dates(entry, "RDATE")}
    for one in rule if isinstance(rule, list) else [rule] if rule is not None else []:
        begins |= set(_unfolded(one.to_ical().decode(), plain, low, high))
    yield from sorted(b for b in begins - dropped if low <= b <= high)


def _unfolded(
    rule: str, start: dt.datetime, low: dt.datetime, high: dt.datetime
) -> Iterator[dt.datetime]:
    from dateutil.rrule import rrulestr

    if SLOW_RULES.search(rule):
        raise ValueError("it repeats within a day")
    if start < low - OLDEST_RULE and "YEARLY" not in rule.upper():
        raise ValueError("it has been repeating for more than ten years; enter its days yourself")
    # Times are compared without zones: a rule's UNTIL in UTC would not be.
    given = re.search(r"UNTIL=(\d{8})(?:T(\d{6})Z?)?", rule, re.IGNORECASE)
    plain = re.sub(r";?UNTIL=[^;]*", "", rule, flags=re.IGNORECASE).strip(";")
    end = high
    if given:
        end = min(high, dt.datetime.strptime(given[1], "%Y%m%d") + dt.timedelta(days=1))  # noqa: DTZ007 - compared without zones
    if "COUNT=" not in plain.upper():
        plain += f";UNTIL={end:%Y%m%dT%H%M%S}"
    repeated = rrulestr(plain, dtstart=start)
    yield from islice((b for b in repeated.between(low, end, inc=True)), MOST_DAYS)


def _dates(entry: Any, name: str) -> Iterator[dt.datetime]:
    given = entry.get(name)
    for part in given if isinstance(given, list) else [given] if given is not None else []:
        for item in part.dts:
            value = item.dt
            yield _plain(value[0] if isinstance(value, tuple) else value)


def meaning(label: str) -> str:
    """What an all-day entry of a school's calendar probably means; the teacher has the last word."""
    if CLOSED_DAYS.search(label):
        return "closed"
    for what, words in SHORT_DAYS:
        if words.search(label):
            return what
    return LEAVE_OUT if OPEN_DAYS.search(label) else "closed"


def _why(error: Exception) -> str:
    if isinstance(error, KeyError):
        return "it has no date"
    if isinstance(error, ValueError) and error.args and str(error)[:3] in ("it ", "it"):
        return str(error)
    return "its date or rule cannot be read"
