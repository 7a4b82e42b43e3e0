"""Reading a teacher's list of days that differ: '2027-03-22 to 2027-03-26 closed Spring break'."""

import datetime as dt
import re
from collections.abc import Iterable

from app.domain.scheduling.calendar import CalendarError, DayException, closures

SCHEDULES = ("early_release", "assembly", "testing", "two_hour_delay", "final_exam", "regular")
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
        raise ValueError("write a date and what the day is, such as “2027-01-13 early_release”.")
    first = _date(match["first"])
    last = _date(match["last"]) if match["last"] else first
    what, label = match["what"].lower().replace("-", "_"), match["label"].strip()
    if what == "closed":
        return closures(first, last, label)
    if what == "make_up":
        return (DayException(first, label, make_up=True),)
    if what not in SCHEDULES:
        known = ", ".join(("closed", "make-up", *SCHEDULES))
        raise ValueError(f"“{match['what']}” is no kind of day; use one of {known}.")
    days = (last - first).days + 1
    if days < 1:
        raise ValueError("the last date lies before the first; swap them.")
    return tuple(
        DayException(first + dt.timedelta(days=n), label, schedule=what) for n in range(days)
    )


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise ValueError(
            f"“{text}” is no date; write year-month-day, such as 2027-03-22."
        ) from error


def write_days(days: Iterable[DayException]) -> str:
    """The same list back, one line per date."""
    lines = []
    for item in days:
        what = (
            "closed" if item.closed else "make-up" if item.make_up else item.schedule or "regular"
        )
        lines.append(f"{item.date.isoformat()} {what} {item.label}".rstrip())
    return "\n".join(lines)
