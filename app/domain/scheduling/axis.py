"""The work axis: the bench time of every meeting, cut in ticks and laid end to end.

A tick is a few minutes of bench work. Drying runs on the clock, so each tick also knows when
it really happens. Sections that share a room have their own meetings on one merged axis; where
two of them are in the room together they share the tick.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property


@dataclass(frozen=True, kw_only=True)
class AxisMeeting:
    """One class period's bench time.

    `offset_minutes` is from the start of the meeting to its first tick (opening, a lesson);
    `ticks` is what remains, cut in whole ticks. `adults` counts the qualified adults present;
    `power` says whether machines are on.
    """

    start: datetime
    ticks: int
    offset_minutes: int = 5
    section: str = ""
    adults: int = 1
    power: bool = True

    def __post_init__(self) -> None:
        if self.ticks < 0:
            raise ValueError(
                f"The meeting of {self.start:%Y-%m-%d} has {self.ticks} ticks: give 0 or more."
            )
        if self.offset_minutes < 0:
            raise ValueError(
                f"The meeting of {self.start:%Y-%m-%d} starts its work before it begins."
            )
        if self.adults < 0:
            raise ValueError(
                f"The meeting of {self.start:%Y-%m-%d} has {self.adults} adults: give 0 or more."
            )

    @property
    def work_start(self) -> datetime:
        """The clock time at which the first tick begins."""
        return self.start + timedelta(minutes=self.offset_minutes)


@dataclass(frozen=True)
class Axis:
    """All meetings of the sections that share the room, in any order, and the tick length."""

    meetings: tuple[AxisMeeting, ...]
    tick_minutes: int = 5

    def __post_init__(self) -> None:
        if self.tick_minutes < 1:
            raise ValueError("A tick must be at least one minute long.")
        if not any(meeting.ticks for meeting in self.meetings):
            raise ValueError("No meeting has any bench time: add meetings or shorten the lessons.")
        minutes = self.tick_start
        for earlier, later in itertools.pairwise(minutes):
            if later - earlier < self.tick_minutes:
                raise ValueError(
                    f"Two meetings overlap around {self._moment(later):%Y-%m-%d %H:%M} without sharing "
                    f"whole {self.tick_minutes}-minute ticks: move one start by a few minutes."
                )
        for section in self.sections:
            spans = [
                span for m, span in enumerate(self.spans) if self.meetings[m].section == section
            ]
            spans = sorted(span for span in spans if span[1] > span[0])
            for (_, end), (start, _) in itertools.pairwise(spans):
                if start < end:
                    raise ValueError(
                        f"Section {section or 'of this class'} has two meetings at once on "
                        f"{self.clock(start):%Y-%m-%d %H:%M}."
                    )

    @cached_property
    def origin(self) -> datetime:
        """Midnight before the first meeting: minute 0 of the clock."""
        first = min(meeting.start for meeting in self.meetings)
        return first.replace(hour=0, minute=0, second=0, microsecond=0)

    def minute(self, moment: datetime) -> int:
        """Whole minutes from the origin to a moment (rounded up)."""
        return -((self.origin - moment) // timedelta(minutes=1))

    def _moment(self, minute: int) -> datetime:
        return self.origin + timedelta(minutes=minute)

    @cached_property
    def tick_start(self) -> tuple[int, ...]:
        """Minutes from the origin to the start of each tick."""
        starts = {
            self.minute(meeting.work_start) + k * self.tick_minutes
            for meeting in self.meetings
            for k in range(meeting.ticks)
        }
        return tuple(sorted(starts))

    @property
    def ticks(self) -> int:
        """The length of the axis."""
        return len(self.tick_start)

    @cached_property
    def spans(self) -> tuple[tuple[int, int], ...]:
        """First tick and end tick (exclusive) of each meeting, in the order of `meetings`."""
        firsts = [bisect_left(self.tick_start, self.minute(m.work_start)) for m in self.meetings]
        return tuple(
            (first, first + m.ticks) for first, m in zip(firsts, self.meetings, strict=True)
        )

    @cached_property
    def sections(self) -> tuple[str, ...]:
        """The keys of the sections that meet on this axis."""
        return tuple(sorted({meeting.section for meeting in self.meetings}))

    @cached_property
    def _meeting_of_tick(self) -> dict[str, tuple[int | None, ...]]:
        table: dict[str, list[int | None]] = {s: [None] * self.ticks for s in self.sections}
        for index, (first, end) in enumerate(self.spans):
            for tick in range(first, end):
                table[self.meetings[index].section][tick] = index
        return {section: tuple(row) for section, row in table.items()}

    def meeting_at(self, section: str, tick: int) -> int | None:
        """The index of the section's meeting that holds the tick, or None outside its meetings."""
        row = self._meeting_of_tick.get(section)
        return row[tick] if row is not None and 0 <= tick < self.ticks else None

    def clock(self, tick: int) -> datetime:
        """When a tick begins; for the end of the axis, when its last tick ends."""
        if tick >= self.ticks:
            return self.end_clock(self.ticks)
        return self._moment(self.tick_start[tick])

    def end_clock(self, end_tick: int) -> datetime:
        """When the work before `end_tick` (exclusive) is over; the origin for 0."""
        return self._moment(self.end_minute(end_tick))

    def end_minute(self, end_tick: int) -> int:
        """Minutes from the origin to the end of the tick before `end_tick`; 0 at the beginning."""
        return (
            self.tick_start[min(end_tick, self.ticks) - 1] + self.tick_minutes
            if end_tick > 0
            else 0
        )

    def first_tick_from(self, minute: int) -> int:
        """The first tick that starts at or after a minute of the clock (`ticks` if none does)."""
        return bisect_left(self.tick_start, minute)

    def tick_at(self, moment: datetime) -> int:
        """The first tick that starts at or after a moment (`ticks` if none does)."""
        return self.first_tick_from(self.minute(moment))

    def next_meeting_tick(self, section: str, minute: int) -> int:
        """The first tick of the section's first meeting that begins at or after a minute."""
        starts = self._section_starts.get(section, ())
        position = bisect_left(starts, (minute, -1))
        return starts[position][1] if position < len(starts) else self.ticks

    @cached_property
    def _section_starts(self) -> dict[str, tuple[tuple[int, int], ...]]:
        return {
            section: tuple(
                sorted(
                    (self.minute(m.start), span[0])
                    for m, span in zip(self.meetings, self.spans, strict=True)
                    if m.section == section and m.ticks
                )
            )
            for section in self.sections
        }

    def adults(self, tick: int) -> int:
        """Qualified adults in the room; the larger claim where two meetings share the tick."""
        return max(meeting.adults for meeting in self._at(tick))

    def power(self, tick: int) -> bool:
        """Whether machines are on; off as soon as one meeting in the room has them off."""
        return all(meeting.power for meeting in self._at(tick))

    def _at(self, tick: int) -> list[AxisMeeting]:
        rows = self._meeting_of_tick.values()
        return [self.meetings[row[tick]] for row in rows if row[tick] is not None]  # type: ignore[index]

    def extended(self, ticks: int) -> Axis:
        """The same axis with at least `ticks` more, its last four weeks repeated week by week.

        A plan that does not fit is measured on the longer axis: how much longer would it take?
        """
        last = max(meeting.start for meeting in self.meetings)
        pattern = [m for m in self.meetings if m.start > last - timedelta(weeks=4) and m.ticks]
        weeks = (last - min(m.start for m in pattern)).days // 7 + 1
        added: list[AxisMeeting] = []
        turn = 0
        while sum(meeting.ticks for meeting in added) < ticks:
            turn += 1
            shift = timedelta(weeks=weeks * turn)
            added.extend(_shifted(meeting, shift) for meeting in pattern)
        return Axis((*self.meetings, *added), self.tick_minutes)

    def meetings_until(self, section: str, tick: int) -> int:
        """How many of the section's meetings have begun their work before a tick."""
        spans = sorted(
            span[0]
            for m, span in zip(self.meetings, self.spans, strict=True)
            if m.section == section and m.ticks
        )
        return bisect_right(spans, tick - 1)


def _shifted(meeting: AxisMeeting, shift: timedelta) -> AxisMeeting:
    return AxisMeeting(
        start=meeting.start + shift,
        ticks=meeting.ticks,
        offset_minutes=meeting.offset_minutes,
        section=meeting.section,
        adults=max(meeting.adults, 1),
        power=True,
    )
