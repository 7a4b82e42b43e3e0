"""Every rule a plan breaks, in sentences.

Written from the rules and not from the solver: this file imports values only. It judges plans
of the solver, activities moved by hand and imported plans alike. What lies before `now` has
happened and is not judged, except that it may not be changed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from app.domain.dates import short_date
from app.domain.scheduling.problem import (
    FixtureHold,
    FixturePlaces,
    Outage,
    Problem,
    Splitting,
    StationPlaces,
    StepWork,
    Supervision,
)
from app.domain.scheduling.schedule import PlannedActivity, Schedule, TaskKey


@dataclass(frozen=True)
class Violation:
    """A broken rule: its name, a sentence, and the activities concerned."""

    rule: str
    sentence: str
    keys: tuple[TaskKey, ...]


def check(problem: Problem, schedule: Schedule) -> list[Violation]:
    """All broken rules of a plan; an empty list means that the plan holds."""
    rules: tuple[Callable[[_Reading], Iterator[Violation]], ...] = (
        _missing,
        _past,
        _pins,
        _length,
        _meetings,
        _sittings,
        _one_sitting,
        _unbroken,
        _precedence,
        _release,
        _briefing,
        _deadline,
        _team,
        _station,
        _check_outs,
        _supervision,
        _power,
        _fixtures,
        _whole_class,
    )
    reading = _Reading(problem, schedule)
    return [violation for rule in rules for violation in rule(reading)]


class _Reading:
    """The plan laid out for reading: who is where in each tick."""

    def __init__(self, problem: Problem, schedule: Schedule) -> None:
        self.problem = problem
        self.axis = problem.axis
        self.known = [a for a in schedule.activities if a.key in problem.steps]
        self.unknown = [a for a in schedule.activities if a.key not in problem.steps]
        self.by_key = {activity.key: activity for activity in self.known}
        self.at: dict[int, list[PlannedActivity]] = defaultdict(list)
        for activity in self.known:
            for sitting in activity.sittings:
                for tick in range(max(sitting.tick, problem.now), sitting.end):
                    self.at[tick].append(activity)
        self.moments: dict[TaskKey, int | None] = {}

    def step(self, activity: PlannedActivity) -> StepWork:
        return self.problem.steps[activity.key]

    def future(self) -> Iterator[PlannedActivity]:
        """Activities that are not finished and take ticks."""
        done = self.problem.done_by_key
        for activity in self.known:
            record = done.get(activity.key)
            if not (record and record.finished) and self.step(activity).ticks:
                yield activity

    def minutes(self, ticks: int) -> int:
        """Ticks as minutes."""
        return ticks * self.axis.tick_minutes

    def when(self, tick: int) -> str:
        """A tick as people read it."""
        moment = self.axis.clock(tick)
        return f"{short_date(moment)} at {moment:%H:%M}"

    def end_minute(self, key: TaskKey) -> int | None:
        """The minute at which a task is over; None when it is not in the plan."""
        activity = self.by_key.get(key)
        if activity is None:
            return None
        if self.problem.steps[key].ticks or key in self.problem.done_by_key:
            return self.axis.end_minute(activity.end)
        if key not in self.moments:
            self.moments[key] = self._moment_outside_class(key)
        return self.moments[key]

    def _moment_outside_class(self, key: TaskKey) -> int | None:
        """A step of zero ticks is over as soon as what it waits for is."""
        earliest = max(self.problem.steps[key].earliest_tick, self.problem.now)
        moment: int | None = self.axis.end_minute(earliest)
        for link in self.problem.steps[key].links:
            wait = self.minute_after(
                TaskKey(key.section, key.team, link.step), link.minutes, link.ticks
            )
            moment = None if wait is None or moment is None else max(moment, wait)
        return moment

    def minute_after(self, before: TaskKey, minutes: int, ticks: int) -> int | None:
        """The first minute at which something may follow a task."""
        end = self.end_minute(before)
        if end is None:
            return None
        step = self.problem.steps[before]
        if step.outside_class:
            meeting = self.axis.next_meeting_tick(before.section, end)
            end = max(end, self.axis.end_minute(meeting))
        minute = end + max(step.drying_minutes, minutes)
        if ticks:
            behind = self.axis.first_tick_from(end) + ticks
            minute = max(minute, self.axis.end_minute(behind))
        return minute


def _missing(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.unknown:
        yield Violation(
            "unknown", f"{activity.key} is not a step of any team in this plan.", (activity.key,)
        )
    finished = {done.key for done in reading.problem.done if done.finished}
    for key in reading.problem.steps:
        if key not in reading.by_key and key not in finished:
            yield Violation("missing", f"{key} has no place in the plan.", (key,))


def _past(reading: _Reading) -> Iterator[Violation]:
    now = reading.problem.now
    done = reading.problem.done_by_key
    for activity in reading.known:
        record = done.get(activity.key)
        past = tuple(s for s in activity.sittings if s.tick < now and s.ticks)
        happened = record.sittings if record else ()
        if past != tuple(s for s in happened if s.ticks):
            yield Violation(
                "past",
                f"{activity.key} is planned differently from what has happened: the past cannot move.",
                (activity.key,),
            )
        elif record and record.finished and len(activity.sittings) > len(happened):
            yield Violation(
                "past", f"{activity.key} is finished and needs no more time.", (activity.key,)
            )
    for key, record in done.items():
        if record.sittings and key not in reading.by_key:
            yield Violation(
                "past", f"{key} has begun but is not in the plan: the past cannot move.", (key,)
            )


def _pins(reading: _Reading) -> Iterator[Violation]:
    for pin in reading.problem.pins:
        activity = reading.by_key.get(pin.key)
        if activity is not None and activity.sittings != pin.sittings:
            yield Violation(
                "pin",
                f"{pin.key} is pinned to {reading.when(pin.start)} but planned elsewhere.",
                (pin.key,),
            )


def _length(reading: _Reading) -> Iterator[Violation]:
    finished = {done.key for done in reading.problem.done if done.finished}
    for activity in reading.known:
        needed = reading.step(activity).ticks
        if activity.key not in finished and activity.ticks != needed:
            sentence = f"{activity.key} needs {reading.minutes(needed)} minutes and is planned for {reading.minutes(activity.ticks)}."
            yield Violation("length", sentence, (activity.key,))


def _meetings(reading: _Reading) -> Iterator[Violation]:
    axis = reading.axis
    for activity in reading.future():
        for sitting in activity.sittings:
            inside = {
                axis.meeting_at(activity.key.section, t) for t in range(sitting.tick, sitting.end)
            }
            if None in inside:
                yield Violation(
                    "meeting",
                    f"{activity.key} is planned when its section does not meet ({reading.when(sitting.tick)}).",
                    (activity.key,),
                )
            elif len(inside) > 1:
                yield Violation(
                    "meeting",
                    f"A sitting of {activity.key} runs over the end of the meeting of {reading.when(sitting.tick)}.",
                    (activity.key,),
                )
        if any(a.end > b.tick for a, b in pairwise(activity.sittings)):
            yield Violation(
                "meeting",
                f"The sittings of {activity.key} overlap or are out of order.",
                (activity.key,),
            )


def _joined(activity: PlannedActivity, reading: _Reading) -> list[tuple[int, int]]:
    """Runs of ticks, sittings that touch inside one meeting being one run."""
    runs: list[tuple[int, int]] = []
    section = activity.key.section
    for sitting in activity.sittings:
        if runs and runs[-1][1] == sitting.tick:
            same = reading.axis.meeting_at(section, sitting.tick - 1) == reading.axis.meeting_at(
                section, sitting.tick
            )
            if same:
                runs[-1] = (runs[-1][0], sitting.end)
                continue
        runs.append((sitting.tick, sitting.end))
    return runs


def _sittings(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.future():
        step = reading.step(activity)
        left = step.ticks
        for start, end in _joined(activity, reading):
            if start >= reading.problem.now and end - start < min(step.minimum_sitting, left):
                sentence = f"{activity.key} needs sittings of at least {reading.minutes(step.minimum_sitting)} minutes; the one of {reading.when(start)} has {reading.minutes(end - start)}."
                yield Violation("minimum sitting", sentence, (activity.key,))
            left -= end - start


def _one_sitting(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.future():
        if reading.step(activity).splitting is Splitting.ONE_SITTING:
            runs = [run for run in _joined(activity, reading) if run[1] > reading.problem.now]
            if len(runs) > 1:
                yield Violation(
                    "one sitting",
                    f"{activity.key} must be done in one sitting and is split.",
                    (activity.key,),
                )


def _unbroken(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.future():
        if reading.step(activity).splitting is not Splitting.UNBROKEN:
            continue
        section = activity.key.section
        for before, after in pairwise(activity.sittings):
            between = range(before.end, after.tick)
            idle = [t for t in between if reading.axis.meeting_at(section, t) is not None]
            if idle and after.tick >= reading.problem.now and before.tick >= reading.problem.now:
                yield Violation(
                    "unbroken",
                    f"{activity.key} must go on at once in the next meeting and is interrupted on {reading.when(idle[0])}.",
                    (activity.key,),
                )


def _precedence(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.known:
        if activity.key in reading.problem.done_by_key:
            continue
        for link in reading.step(activity).links:
            before = TaskKey(activity.key.section, activity.key.team, link.step)
            yield from _too_early(reading, activity, before, link.minutes, link.ticks)


def _too_early(
    reading: _Reading, activity: PlannedActivity, before: TaskKey, minutes: int, ticks: int
) -> Iterator[Violation]:
    axis = reading.axis
    minute = reading.minute_after(before, minutes, ticks)
    end = reading.end_minute(before)
    if minute is None or end is None:
        return
    start = activity.start
    begins = axis.tick_start[start] if start < axis.ticks else axis.end_minute(axis.ticks)
    if not reading.step(activity).ticks:
        begins = max(begins, minute) if start >= axis.first_tick_from(minute) else begins
    if begins >= minute:
        return
    keys = (before, activity.key)
    if begins < end:
        yield Violation("precedence", f"{activity.key} begins before {before.step} is done.", keys)
    else:
        ready = axis.first_tick_from(minute)
        yield Violation(
            "drying",
            f"{activity.key} begins on {reading.when(start)}, before the wait after {before.step} is over ({reading.when(ready)}).",
            keys,
        )


def _release(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.known:
        step, record = reading.step(activity), reading.problem.done_by_key.get(activity.key)
        if record is not None and record.finished:
            continue
        # Of what has begun only the rest is still to be placed.
        begins = [s.tick for s in activity.sittings if not record or s.tick >= reading.problem.now]
        if begins and min(begins) < step.earliest_tick:
            because = f": {step.earliest_because}" if step.earliest_because else ""
            yield Violation(
                "release",
                f"{activity.key} may not begin before {reading.when(step.earliest_tick)}{because}.",
                (activity.key,),
            )


def _briefing(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.future():
        stations = {use.station for use in reading.step(activity).stations}
        first = min(
            (s.tick for s in activity.sittings if s.tick >= reading.problem.now), default=None
        )
        for briefing in reading.problem.briefings:
            concerned = briefing.section == activity.key.section and briefing.station in stations
            if concerned and first is not None and first < briefing.tick:
                yield Violation(
                    "briefing",
                    f"{activity.key} uses the {briefing.station} on {reading.when(first)}, before its safety briefing.",
                    (activity.key,),
                )


def _deadline(reading: _Reading) -> Iterator[Violation]:
    for activity in reading.known:
        deadline = reading.step(activity).deadline_tick
        if deadline is not None and activity.end > deadline:
            yield Violation(
                "deadline",
                f"{activity.key} must be done by {short_date(reading.axis.end_clock(deadline))} and ends on {short_date(reading.axis.end_clock(activity.end))}.",
                (activity.key,),
            )


def _once_per_group(
    reading: _Reading,
    rule: str,
    members: Callable[[int], list[PlannedActivity]],
    sentence: Callable[[int, list[PlannedActivity]], str],
) -> Iterator[Violation]:
    """One violation per set of activities that clash, at the first tick in which they do."""
    seen: set[frozenset[TaskKey]] = set()
    for tick in sorted(reading.at):
        clash = members(tick)
        group = frozenset(activity.key for activity in clash)
        if clash and group not in seen:
            seen.add(group)
            yield Violation(rule, sentence(tick, clash), tuple(sorted(group)))


def _team(reading: _Reading) -> Iterator[Violation]:
    for team in reading.problem.teams:
        if not team.one_place:
            continue

        def members(
            tick: int, own: tuple[str, str] = (team.section, team.key)
        ) -> list[PlannedActivity]:
            here = [a for a in reading.at[tick] if a.key[:2] == own]
            return here if len(here) > 1 else []

        def sentence(tick: int, clash: list[PlannedActivity], name: str = team.key) -> str:
            steps = " and ".join(sorted(a.key.step for a in clash))
            return f"Team {name} is in two places at once on {reading.when(tick)}: {steps}."

        yield from _once_per_group(reading, "team", members, sentence)


def _left(places: int, outages: tuple[Outage, ...], tick: int) -> int:
    return min([places, *(o.places for o in outages if o.first_tick <= tick < o.end_tick)])


def _station(reading: _Reading) -> Iterator[Violation]:
    for station in reading.problem.stations:
        if station.places is None:
            continue

        def places(activity: PlannedActivity, key: str = station.key) -> int:
            return sum(use.places for use in reading.step(activity).stations if use.station == key)

        def members(
            tick: int,
            here: StationPlaces = station,
            used: Callable[[PlannedActivity], int] = places,
        ) -> list[PlannedActivity]:
            users = [a for a in reading.at[tick] if used(a)]
            room = _left(here.places or 0, here.outages, tick)
            return users if sum(used(a) for a in users) > room else []

        def sentence(
            tick: int,
            clash: list[PlannedActivity],
            here: StationPlaces = station,
            used: Callable[[PlannedActivity], int] = places,
        ) -> str:
            room = _left(here.places or 0, here.outages, tick)
            return f"The {here.key} has {room} places on {reading.when(tick)} and {sum(used(a) for a in clash)} are used."

        yield from _once_per_group(reading, "station", members, sentence)


def _check_outs(reading: _Reading) -> Iterator[Violation]:
    def members(tick: int) -> list[PlannedActivity]:
        observed = [a for a in reading.at[tick] if reading.step(a).observed]
        return observed if len(observed) > 1 else []

    def sentence(tick: int, clash: list[PlannedActivity]) -> str:
        return f"{len(clash)} check-outs are observed at once on {reading.when(tick)}: they must be one after another."

    yield from _once_per_group(reading, "check-out", members, sentence)


def _supervision(reading: _Reading) -> Iterator[Violation]:
    problem = reading.problem

    def claim(activity: PlannedActivity) -> tuple[object, int]:
        """What is claimed, and how many halves of an adult; equal claims count once."""
        step = reading.step(activity)
        who: object = (
            (activity.key.section, activity.key.step) if step.whole_class else activity.key
        )
        if step.supervision is Supervision.AT_THE_MACHINE:
            return (who, 2)
        zone = problem.zone(step)
        return (("zone", zone) if zone is not None else who, 1)

    def members(tick: int) -> list[PlannedActivity]:
        watched = [
            a for a in reading.at[tick] if reading.step(a).supervision is not Supervision.IN_ROOM
        ]
        claims = {claim(a) for a in watched}
        return (
            watched if sum(halves for _, halves in claims) > 2 * problem.axis.adults(tick) else []
        )

    def sentence(tick: int, clash: list[PlannedActivity]) -> str:
        adults = problem.axis.adults(tick)
        steps = ", ".join(str(a.key) for a in clash)
        return f"On {reading.when(tick)} {adults} qualified adult{'' if adults == 1 else 's'} cannot watch all of: {steps}."

    yield from _once_per_group(reading, "supervision", members, sentence)


def _power(reading: _Reading) -> Iterator[Violation]:
    def members(tick: int) -> list[PlannedActivity]:
        if reading.axis.power(tick):
            return []
        return [a for a in reading.at[tick] if not reading.step(a).substitute_safe]

    def sentence(tick: int, clash: list[PlannedActivity]) -> str:
        return f"Machine power is off on {reading.when(tick)}: {', '.join(str(a.key) for a in clash)} cannot be done."

    yield from _once_per_group(reading, "power", members, sentence)


def _fixtures(reading: _Reading) -> Iterator[Violation]:
    for fixture in reading.problem.fixtures:
        taken: dict[int, Counter[TaskKey]] = defaultdict(Counter)
        for activity in reading.known:
            for hold in reading.step(activity).holds:
                if hold.fixture == fixture.key:
                    for tick in _held_ticks(reading, activity, hold):
                        taken[tick][activity.key] += hold.quantity
        yield from _too_many_held(reading, fixture, taken)


def _too_many_held(
    reading: _Reading, fixture: FixturePlaces, taken: dict[int, Counter[TaskKey]]
) -> Iterator[Violation]:
    seen: set[frozenset[TaskKey]] = set()
    for tick in sorted(taken):
        count = sum(taken[tick].values())
        room = _left(fixture.count, fixture.outages, tick)
        group = frozenset(taken[tick])
        if count > room and group not in seen:
            seen.add(group)
            sentence = (
                f"{count} of {fixture.key} are taken on {reading.when(tick)}; there are {room}."
            )
            yield Violation("fixture", sentence, tuple(sorted(group)))


def _held_ticks(reading: _Reading, activity: PlannedActivity, hold: FixtureHold) -> range:
    """The ticks from now on in which a hold keeps its fixture."""
    axis = reading.axis
    last: PlannedActivity | None = activity
    if hold.until is not None:
        last = reading.by_key.get(TaskKey(activity.key.section, activity.key.team, hold.until))
    if not activity.sittings and hold.until is None:
        return range(0)
    if last is None:
        free = axis.ticks
    else:
        free = axis.first_tick_from(axis.end_minute(last.end) + hold.minutes)
    return range(max(activity.start, reading.problem.now), free)


def _whole_class(reading: _Reading) -> Iterator[Violation]:
    together: dict[tuple[str, str], list[PlannedActivity]] = defaultdict(list)
    for activity in reading.future():
        if reading.step(activity).whole_class:
            together[activity.key.section, activity.key.step].append(activity)
    for (_, step), activities in together.items():
        future = {tuple(s for s in a.sittings if s.tick >= reading.problem.now) for a in activities}
        if len(future) > 1:
            yield Violation(
                "whole class",
                f"The whole class does {step} together, but teams are planned at different times.",
                tuple(a.key for a in activities),
            )
