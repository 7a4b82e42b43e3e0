"""The parts of a permit in their order, and what a suspension asks before it ends."""

import datetime as dt
from dataclasses import dataclass, field

from app.domain.dates import long_date

PARTS = ("lesson", "test", "check-out")
PART_WORDS = {"lesson": "lesson", "test": "written test", "check-out": "observed check-out"}


@dataclass(slots=True)
class SignOffEntries:
    """What stands in the log for one student and one permit, added in the order of recording."""

    dates: dict[str, list[dt.date]] = field(default_factory=dict)
    suspended_on: dt.date | None = None
    observed_since: list[dt.date] = field(default_factory=list)

    def add(self, part: str, date: dt.date) -> None:
        """Add an entry. Once reinstated, a student stands on what was observed since then."""
        if part == "suspension":
            self.suspended_on, self.observed_since = date, []
        elif part == "reinstatement":
            if self.suspended_on is not None:
                self.dates["check-out"] = self.observed_since
            self.suspended_on = None
        elif part in PARTS:
            self.dates.setdefault(part, []).append(date)
            if part == "check-out" and self.suspended_on is not None and date >= self.suspended_on:
                self.observed_since.append(date)

    @property
    def parts(self) -> dict[str, dt.date]:
        """The newest date of each part; one that came before the part it follows does not count."""
        found = {}
        since = dt.date.min
        for part in PARTS:
            counting = [date for date in self.dates.get(part, ()) if date >= since]
            if counting:
                found[part] = max(counting)
                since = min(counting)
        return found

    def refusal(self, part: str, on: dt.date, lasts: dt.timedelta | None = None) -> str:
        """Why a part cannot be recorded on a date, as the rest of a sentence; empty if it can.

        `lasts` is how long a part counts; None for ever.
        """
        if part == "reinstatement":
            return self._no_reinstatement(on)
        if part not in PARTS:
            return ""
        before = PARTS[: PARTS.index(part)]
        if before and not self.dates.get(before[-1]):
            has_not = "had the lesson" if before[-1] == "lesson" else "passed the test"
            return f"has not {has_not} yet; record it before the {part}."
        later = [
            f"the {PART_WORDS[item]} of {long_date(min(after))}"
            for item in before
            if (after := self._too_late(item, on, lasts))
        ]
        if not later:
            return ""
        return (
            f"cannot have the {PART_WORDS[part]} on {long_date(on)}, before {' and '.join(later)}: "
            "correct the date, or strike out the entry that is wrong."
        )

    def _too_late(self, part: str, on: dt.date, lasts: dt.timedelta | None) -> list[dt.date]:
        """The dates of a part after a day on which it did not stand."""
        dates = self.dates.get(part, ())
        if any(date <= on and (lasts is None or on < date + lasts) for date in dates):
            return []
        return [date for date in dates if date > on]

    def _no_reinstatement(self, on: dt.date) -> str:
        if self.suspended_on is None:
            return "is not suspended; there is nothing to reinstate."
        day = long_date(self.suspended_on)
        if on < self.suspended_on:
            return f"was suspended on {day}: date the reinstatement on that day or later."
        if not any(date <= on for date in self.observed_since):
            return (
                f"was suspended on {day}: observe a check-out again, record it with the day it was "
                "observed, then reinstate from that day on."
            )
        return ""
