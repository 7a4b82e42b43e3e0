"""The planning problem as a value: axis, stations, fixtures, teams and their steps.

The class model is a resource-constrained project with calendars; a plain project (one team that
may do several things at once, one long meeting) is the same value, so that published benchmark
instances run through the same code.

>>> from datetime import datetime
>>> axis = Axis((AxisMeeting(start=datetime(2027, 1, 5, 10, 20), ticks=7),
...              AxisMeeting(start=datetime(2027, 1, 6, 10, 20), ticks=7)))
>>> steps = (
...     StepWork("cut", ticks=4, stations=(Use("bandsaw"),), supervision=Supervision.AT_THE_MACHINE),
...     StepWork("glue", ticks=3, after=("cut",), stations=(Use("table"),), splitting=Splitting.ONE_SITTING,
...          drying_minutes=12 * 60, holds=(FixtureHold("clamp", quantity=4, minutes=180),)),
...     StepWork("sand", ticks=5, after=("glue",), minimum_sitting=2),
... )
>>> problem = Problem(
...     axis=axis,
...     stations=(StationPlaces("bandsaw", places=1), StationPlaces("table", places=2)),
...     fixtures=(FixturePlaces("clamp", count=8),),
...     teams=(TeamWork("A", steps), TeamWork("B", steps)),
... )
>>> sum(step.ticks for team in problem.teams for step in team.steps)
24
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from app.domain.scheduling.axis import Axis, AxisMeeting
from app.domain.scheduling.schedule import PlannedActivity, Sitting, TaskKey

__all__ = [
    "After",
    "Axis",
    "AxisMeeting",
    "Done",
    "FixtureHold",
    "FixturePlaces",
    "Outage",
    "Problem",
    "SafetyBriefing",
    "Splitting",
    "StationPlaces",
    "StepWork",
    "Supervision",
    "TeamWork",
    "Use",
]


class Supervision(StrEnum):
    """What a step asks of the adults in the room."""

    IN_ROOM = "in room"
    LINE_OF_SIGHT = "line of sight"
    AT_THE_MACHINE = "at the machine"


class Splitting(StrEnum):
    """How a step may be interrupted.

    SITTINGS: any number of sittings, none shorter than the minimum sitting or what remains.
    UNBROKEN: goes on at once in the next meeting, nothing in between on the work axis.
    ONE_SITTING: one unbroken run inside one meeting.
    """

    SITTINGS = "sittings"
    UNBROKEN = "unbroken"
    ONE_SITTING = "one sitting"


class Use(NamedTuple):
    """A number of places at a station, taken while a step is worked on."""

    station: str
    places: int = 1


@dataclass(frozen=True)
class After:
    """A predecessor: the step may start `ticks` of work and `minutes` of clock after its end."""

    step: str
    ticks: int = 0
    minutes: int = 0

    def __post_init__(self) -> None:
        if self.ticks < 0 or self.minutes < 0:
            raise ValueError(f"The wait after {self.step} is negative: give 0 or more.")


@dataclass(frozen=True)
class FixtureHold:
    """A fixture taken from a step's first tick until `minutes` by the clock after its last.

    With `until`, the fixture stays taken until that later step of the same team is done
    (and `minutes` after it): a mould from the end blocks to the closed body.
    """

    fixture: str
    quantity: int = 1
    minutes: int = 0
    until: str | None = None

    def __post_init__(self) -> None:
        if self.quantity < 1 or self.minutes < 0:
            raise ValueError(f"A hold of {self.fixture} takes at least one, for 0 minutes or more.")


@dataclass(frozen=True)
class StepWork:
    """A piece of work of one team.

    `ticks` is the bench time; 0 means done outside class at the moment its predecessors are
    done, or, with `outside_class`, between meetings: what follows waits for the next meeting.
    `drying_minutes` run on the clock after the last tick. `minimum_sitting` is in ticks.
    `whole_class` steps are done by every team of the section in the same ticks. `observed`
    check-outs are one after another. `substitute_safe` steps may run with machine power off.
    `earliest_tick` is a release, with the reason in words where one is known; `deadline_tick` is
    the end (exclusive) it must be done by.
    """

    key: str
    ticks: int
    after: tuple[str | After, ...] = ()
    stations: tuple[Use, ...] = ()
    supervision: Supervision = Supervision.IN_ROOM
    drying_minutes: int = 0
    minimum_sitting: int = 1
    splitting: Splitting = Splitting.SITTINGS
    holds: tuple[FixtureHold, ...] = ()
    whole_class: bool = False
    observed: bool = False
    substitute_safe: bool = False
    outside_class: bool = False
    earliest_tick: int = 0
    earliest_because: str = ""
    deadline_tick: int | None = None

    def __post_init__(self) -> None:
        if self.ticks < 0 or self.drying_minutes < 0:
            raise ValueError(f"Step {self.key}: minutes of work and drying must be 0 or more.")
        if self.minimum_sitting < 1:
            raise ValueError(f"Step {self.key}: the minimum sitting must be at least one tick.")
        if self.outside_class and self.ticks:
            raise ValueError(
                f"Step {self.key} is done outside class: it takes no ticks of a meeting."
            )
        if self.earliest_tick < 0:
            raise ValueError(f"Step {self.key}: the earliest tick must be 0 or more.")
        if self.deadline_tick is not None and self.deadline_tick <= 0:
            raise ValueError(
                f"Step {self.key} must be done before the term begins: choose a later date."
            )
        for use in self.stations:
            if use.places < 1:
                raise ValueError(
                    f"Step {self.key} takes {use.places} places at {use.station}: give 1 or more."
                )

    @cached_property
    def links(self) -> tuple[After, ...]:
        """The predecessors, each with its waits."""
        return tuple(After(a) if isinstance(a, str) else a for a in self.after)


@dataclass(frozen=True)
class Outage:
    """Ticks from `first_tick` to `end_tick` (exclusive) in which only `places` are left."""

    first_tick: int
    end_tick: int
    places: int = 0

    def __post_init__(self) -> None:
        if self.places < 0 or self.end_tick < self.first_tick:
            raise ValueError("An outage ends after it begins and leaves 0 or more places.")


@dataclass(frozen=True)
class StationPlaces:
    """Where steps are done: `places` at once (None: no limit), watched as part of a `zone`."""

    key: str
    places: int | None = None
    zone: str | None = None
    outages: tuple[Outage, ...] = ()

    def __post_init__(self) -> None:
        if self.places is not None and self.places < 0:
            raise ValueError(f"Station {self.key} has {self.places} places: give 0 or more.")


@dataclass(frozen=True)
class FixturePlaces:
    """Clamps, moulds, rack places: taken while a step runs and while it dries."""

    key: str
    count: int
    outages: tuple[Outage, ...] = ()

    def __post_init__(self) -> None:
        if self.count < 0:
            raise ValueError(f"There are {self.count} of {self.key}: give 0 or more.")


@dataclass(frozen=True)
class TeamWork:
    """A team and its steps; `one_place` says that it can do only one thing at a time."""

    key: str
    steps: tuple[StepWork, ...]
    section: str = ""
    one_place: bool = True

    def __post_init__(self) -> None:
        keys = {step.key for step in self.steps}
        if len(keys) != len(self.steps):
            raise ValueError(
                f"Team {self.key} has two steps with the same key: name each step once."
            )
        for step in self.steps:
            named = [link.step for link in step.links]
            named += [hold.until for hold in step.holds if hold.until is not None]
            for other in named:
                if other not in keys:
                    raise ValueError(
                        f"Step {step.key} of team {self.key} refers to {other}, which is not a step."
                    )
        cycle = _cycle(self.steps)
        if cycle:
            raise ValueError(
                f"Steps wait for each other in a circle: {' → '.join(cycle)}. Remove one of these links."
            )
        for step in self.steps:
            for hold in step.holds:
                if hold.until is not None and step.key not in self._all_before(hold.until):
                    raise ValueError(
                        f"Step {step.key} holds {hold.fixture} until {hold.until}, which does not "
                        "follow it: name a later step."
                    )

    def _all_before(self, key: str) -> set[str]:
        """Every step that a step waits for, directly or not."""
        links = {step.key: [link.step for link in step.links] for step in self.steps}
        found: set[str] = set()
        waiting = list(links[key])
        while waiting:
            other = waiting.pop()
            if other not in found:
                found.add(other)
                waiting += links[other]
        return found


@dataclass(frozen=True)
class SafetyBriefing:
    """A section may use a station only from this tick on: its safety briefing is before it."""

    section: str
    station: str
    tick: int


@dataclass(frozen=True)
class Done:
    """What has happened: the sittings of a task in the past, and whether the task is finished.

    An unfinished task still needs its ticks less those already worked. A finished task without
    sittings was done before the plan began.
    """

    key: TaskKey
    sittings: tuple[Sitting, ...] = ()
    finished: bool = True


@dataclass(frozen=True, kw_only=True)
class Problem:
    """A whole planning problem. `now` is the first tick that may still be planned.

    `due_ticks` gives per section the end (exclusive) by which everything should be finished, the
    showcase: the plan aims for it and says by how much it is missed. `pins` are activities that
    someone has fixed by hand.
    """

    axis: Axis
    teams: tuple[TeamWork, ...]
    stations: tuple[StationPlaces, ...] = ()
    fixtures: tuple[FixturePlaces, ...] = ()
    briefings: tuple[SafetyBriefing, ...] = ()
    due_ticks: Mapping[str, int] = field(default_factory=dict)
    now: int = 0
    done: tuple[Done, ...] = ()
    pins: tuple[PlannedActivity, ...] = ()

    def __post_init__(self) -> None:
        _refuse_repeats("station", [station.key for station in self.stations])
        _refuse_repeats("fixture", [fixture.key for fixture in self.fixtures])
        _refuse_repeats("team", [f"{team.section} {team.key}".strip() for team in self.teams])
        for team in self.teams:
            if team.section not in self.axis.sections:
                raise ValueError(
                    f"Team {team.key} belongs to section {team.section}, which has no meetings."
                )
            for step in team.steps:
                self._refuse_unknown_or_too_much(team, step)
        self._refuse_uneven_whole_class_steps()
        self._refuse_bad_past_and_pins()
        for section, tick in self.due_ticks.items():
            if tick <= 0:
                raise ValueError(
                    f"The showcase of section {section or 'this class'} lies before its first meeting."
                )

    def _refuse_unknown_or_too_much(self, team: TeamWork, step: StepWork) -> None:
        for use in step.stations:
            station = self.station.get(use.station)
            if station is None:
                raise ValueError(
                    f"Step {step.key} of team {team.key} needs station {use.station}, which the room does not list."
                )
            if step.ticks and station.places is not None and use.places > station.places:
                raise ValueError(
                    f"Step {step.key} needs {use.places} places at {use.station}, which has {station.places}: "
                    "add places, change the step, or have it done outside class."
                )
        for hold in step.holds:
            fixture = self.fixture.get(hold.fixture)
            if fixture is None:
                raise ValueError(
                    f"Step {step.key} of team {team.key} needs {hold.fixture}, which the room does not list."
                )
            if hold.quantity > fixture.count:
                raise ValueError(
                    f"Step {step.key} needs {hold.quantity} of {hold.fixture}; there are {fixture.count}: "
                    "add some or change the step."
                )

    def _refuse_uneven_whole_class_steps(self) -> None:
        together: dict[tuple[str, str], list[StepWork]] = {}
        for key, step in self.steps.items():
            if step.whole_class:
                together.setdefault((key.section, key.step), []).append(step)
        for (_, name), steps in together.items():
            if len({(s.ticks, s.splitting, s.minimum_sitting) for s in steps}) > 1:
                raise ValueError(
                    f"The whole class does {name} together: every team needs the same minutes for it."
                )
            if any(step.observed for step in steps) and len(steps) > 1:
                raise ValueError(
                    f"{name} is observed team by team and cannot be done by the whole class at once."
                )
            self._refuse_too_small_a_room(name, steps)

    def _refuse_too_small_a_room(self, name: str, steps: list[StepWork]) -> None:
        """A whole class at once needs places and fixtures for every team."""
        wanted: dict[str, int] = {}
        room = {s.key: s.places for s in self.stations if s.places is not None}
        room |= {f"fixture {f.key}": f.count for f in self.fixtures}
        for step in steps:
            for use in step.stations if step.ticks else ():
                wanted[use.station] = wanted.get(use.station, 0) + use.places
            for hold in step.holds:
                fixture = f"fixture {hold.fixture}"
                wanted[fixture] = wanted.get(fixture, 0) + hold.quantity
        for place, quantity in wanted.items():
            if quantity > room.get(place, quantity):
                raise ValueError(
                    f"The whole class at {name} needs {quantity} of {place}; there are {room[place]}: "
                    "let the teams do it one after another."
                )

    def _refuse_bad_past_and_pins(self) -> None:
        if not 0 <= self.now <= self.axis.ticks:
            raise ValueError("Now must lie within the term.")
        _refuse_repeats("finished or running task", [str(done.key) for done in self.done])
        _refuse_repeats("pinned activity", [str(pin.key) for pin in self.pins])
        for done in self.done:
            step = self._known_step(done.key)
            if any(sitting.end > self.now for sitting in done.sittings):
                raise ValueError(
                    f"{done.key} is recorded as done after now: only the past can be done."
                )
            if not done.finished and sum(s.ticks for s in done.sittings) >= step.ticks:
                raise ValueError(
                    f"{done.key} has used all its minutes and is not finished: give it more minutes."
                )
        past = {done.key for done in self.done}
        for pin in self.pins:
            self._known_step(pin.key)
            if pin.key in past:
                raise ValueError(f"{pin.key} has begun already and cannot be pinned.")
            for sitting in pin.sittings:
                self._refuse_closed(pin.key, sitting)

    def _refuse_closed(self, key: TaskKey, sitting: Sitting) -> None:
        meetings = {
            self.axis.meeting_at(key.section, t)
            for t in range(sitting.tick, max(sitting.end, sitting.tick + 1))
        }
        if sitting.ticks and (None in meetings or len(meetings) != 1):
            raise ValueError(
                f"{key} is pinned to a time at which its section does not meet: move the pin to a meeting."
            )

    def _known_step(self, key: TaskKey) -> StepWork:
        step = self.steps.get(key)
        if step is None:
            raise ValueError(f"{key} is not a step of any team in this plan.")
        return step

    @cached_property
    def station(self) -> dict[str, StationPlaces]:
        """Stations by key."""
        return {station.key: station for station in self.stations}

    @cached_property
    def fixture(self) -> dict[str, FixturePlaces]:
        """Fixtures by key."""
        return {fixture.key: fixture for fixture in self.fixtures}

    @cached_property
    def steps(self) -> dict[TaskKey, StepWork]:
        """Every task of the plan by its key, in the order of the teams."""
        return dict(self._tasks())

    @cached_property
    def done_by_key(self) -> dict[TaskKey, Done]:
        """What has happened, by task."""
        return {done.key: done for done in self.done}

    def _tasks(self) -> Iterator[tuple[TaskKey, StepWork]]:
        for team in self.teams:
            for step in team.steps:
                yield TaskKey(team.section, team.key, step.key), step

    def zone(self, step: StepWork) -> str | None:
        """The zone a step is watched in: that of its first station that has one."""
        zones = (self.station[use.station].zone for use in step.stations)
        return next((zone for zone in zones if zone is not None), None)


def _refuse_repeats(what: str, keys: list[str]) -> None:
    seen: set[str] = set()
    for key in keys:
        if key in seen:
            raise ValueError(f"The {what} {key} is listed twice.")
        seen.add(key)


def _cycle(steps: tuple[StepWork, ...]) -> list[str]:
    """One circle of steps that wait for each other, or an empty list."""
    before = {step.key: [link.step for link in step.links] for step in steps}
    state: dict[str, int] = {}
    for root, first in before.items():
        path: list[tuple[str, Iterator[str]]] = []
        if root not in state:
            state[root] = 1
            path.append((root, iter(first)))
        while path:
            key, rest = path[-1]
            step = next(rest, None)
            if step is None:
                state[key] = 2
                path.pop()
            elif state.get(step) == 1:
                trail = [name for name, _ in path]
                return [*trail[trail.index(step) :], step][::-1]
            elif step not in state:
                state[step] = 1
                path.append((step, iter(before[step])))
    return []
