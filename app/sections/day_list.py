"""Reading a teacher's list of days that differ: '2027-03-22 to 2027-03-26 closed Spring break'."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from typing import Any

from app.domain.scheduling.calendar import CalendarError, DayException, closures

SCHEDULES = {  # word of the list → bell schedule
    "early-release": "early_release",
    "assembly": "assembly",
    "testing": "testing",
    "delayed-start": "two_hour_delay",
    "final-exam": "final_exam",
    "regular": "regular",
}
WORDS = {schedule: word for word, schedule in SCHEDULES.items()}
LINE = re.compile(
    r"(?P<first>\S+)(?:\s+(?:to|-|–)\s+(?P<last>\d\S*))?\s+(?P<what>\S+)\s*(?P<label>.*)"
)


def read_days(text: str) -> tuple[DayException, ...]:
    """Exceptions of a term, one line each; blank lines are skipped.

    Raises CalendarError with a sentence per line that cannot be read.
    """
    found: list[DayException] = []
    wrong: list[str] = []
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip():
            try:
                found += _read_line(line.strip())
            except ValueError as error:
                wrong.append(f"Line {number}, “{line.strip()}”: {error}")
    if wrong:
        raise CalendarError(wrong)
    return tuple(found)


def _read_line(line: str) -> tuple[DayException, ...]:
    match = LINE.fullmatch(line)
    if match is None:
        raise ValueError("write a date and what the day is, such as “2027-01-13 early-release”.")
    first = _date(match["first"])
    last = _date(match["last"]) if match["last"] else first
    what, label = match["what"].lower().replace("_", "-"), match["label"].strip()
    if what in ("closed", "unplanned"):
        return closures(first, last, label, planned=what == "closed")
    if what == "make-up":
        return (DayException(first, label, make_up=True),)
    if what == "drill":
        minutes, _, label = label.partition(" ")
        if not minutes.isdecimal() or not 0 < int(minutes) <= 120:
            raise ValueError("write the minutes of the drill, such as “drill 12 Fire drill”.")
        return (DayException(first, label.strip(), drill_minutes=int(minutes)),)
    if what == "letter":
        letter, _, label = label.partition(" ")
        if not letter:
            raise ValueError("write the letter of the day, such as “letter B”.")
        return (DayException(first, label.strip(), letter=letter),)
    if what not in SCHEDULES:
        known = ", ".join(("closed", "unplanned", "make-up", "drill", "letter", *SCHEDULES))
        raise ValueError(f"“{match['what']}” is no kind of day; use one of {known}.")
    days = (last - first).days + 1
    if days < 1:
        raise ValueError("the last date lies before the first; swap them.")
    return tuple(
        DayException(first + dt.timedelta(days=n), label, schedule=SCHEDULES[what])
        for n in range(days)
    )


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise ValueError(
            f"“{text}” is no date; write year-month-day, such as 2027-03-22."
        ) from error


def write_days(days: Iterable[DayException]) -> str:
    """The same list back, one line per date; a drill or a letter of its own takes another line."""
    lines = []
    for item in days:
        date = item.date.isoformat()
        kind = _kind(item)
        if kind != "regular" or not (item.drill_minutes or item.letter):
            lines.append(f"{date} {kind} {item.label}".rstrip())
        if item.drill_minutes:
            label = item.label if kind == "regular" else ""
            lines.append(f"{date} drill {item.drill_minutes} {label}".rstrip())
        if item.letter:
            lines.append(f"{date} letter {item.letter}")
    return "\n".join(lines)


def _kind(item: DayException) -> str:
    if item.closed:
        return "closed" if item.planned else "unplanned"
    return "make-up" if item.make_up else WORDS[item.schedule or "regular"]


def read_blocks(text: str) -> list[dict[str, Any]]:
    """Later blocks of a full day, one line each: '13:00 180' is 180 minutes from one o'clock.

    Raises CalendarError with a sentence per line that cannot be read.
    """
    blocks: list[dict[str, Any]] = []
    wrong: list[str] = []
    for line in filter(None, map(str.strip, text.splitlines())):
        match = re.fullmatch(r"(\d{1,2}):(\d{2})\s+(\d{1,3})(?:\s*min)?", line)
        if match is None or int(match[1]) > 23 or int(match[2]) > 59 or not int(match[3]):
            wrong.append(
                f"“{line}”: write when the block starts and its minutes, such as 13:00 180."
            )
        else:
            start = dt.time(int(match[1]), int(match[2]))
            blocks.append({"starts_at": start.isoformat("minutes"), "minutes": int(match[3])})
    if wrong:
        raise CalendarError(wrong)
    return blocks


STAFF = re.compile(
    r"(?P<first>\S+)(?:\s+(?:to|-|–)\s+(?P<last>\d\S*))?\s+"
    r"(?:(?P<substitute>substitute)|adults\s+(?P<adults>\d)(?:\s+helpers\s+(?P<helpers>\d))?)",
    re.IGNORECASE,
)


def read_dates(text: str) -> list[str]:
    """Dates as year-month-day, one per line or parted by commas.

    Raises CalendarError with a sentence per date that cannot be read.
    """
    found, wrong = [], []
    for part in filter(None, re.split(r"[\s,;]+", text)):
        try:
            found.append(_date(part).isoformat())
        except ValueError as error:
            wrong.append(str(error))
    if wrong:
        raise CalendarError(wrong)
    return sorted(set(found))


def read_staff(text: str) -> list[dict[str, Any]]:
    """Changes of adults, one line each: '2027-03-09 substitute', '2027-03-15 adults 2 helpers 1'.

    Raises CalendarError with a sentence per line that cannot be read.
    """
    changes: list[dict[str, Any]] = []
    wrong: list[str] = []
    for line in filter(None, map(str.strip, text.splitlines())):
        match = STAFF.fullmatch(line)
        try:
            if match is None:
                raise ValueError("write a date, then “substitute” or “adults 2”.")  # noqa: TRY301
            first = _date(match["first"])
            last = _date(match["last"]) if match["last"] else first
            if last < first:
                raise ValueError("the last date lies before the first; swap them.")  # noqa: TRY301
        except ValueError as error:
            wrong.append(f"“{line}”: {error}")
            continue
        qualified = 0 if match["substitute"] else int(match["adults"])
        changes.append(
            {
                "first": first.isoformat(),
                "last": last.isoformat(),
                "qualified": qualified,
                "assistants": int(match["helpers"] or 0),
                "machine_power": qualified > 0,
            }
        )
    if wrong:
        raise CalendarError(wrong)
    return changes


def write_staff(changes: Iterable[Mapping[str, Any]]) -> str:
    """The same list back."""
    lines = []
    for item in changes:
        span = (
            item["first"] if item["first"] == item["last"] else f"{item['first']} to {item['last']}"
        )
        if not item["qualified"] and not item["assistants"]:
            lines.append(f"{span} substitute")
        else:
            helpers = f" helpers {item['assistants']}" if item["assistants"] else ""
            lines.append(f"{span} adults {item['qualified']}{helpers}")
    return "\n".join(lines)
