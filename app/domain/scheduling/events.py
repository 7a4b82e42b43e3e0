"""What goes wrong in a term, each kind as nothing but a change to the calendar or to the problem.

A closure, new bells or a make-up day change the term; an adult out, a substitute or a second
adult the staffing. Everything else changes the planning problem: places, waits, minutes, teams.
The planner itself knows no events.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from app.domain.dates import short_date
from app.domain.scheduling import calendar
from app.domain.scheduling.explain import more_fixtures, more_places
from app.domain.scheduling.problem import Outage, Problem, Splitting, StepWork, TeamWork
from app.domain.scheduling.schedule import PlannedActivity, Schedule, Sitting, TaskKey

AWAY = "away "


@dataclass(frozen=True, kw_only=True)
class TermEvent:
    """Something that holds from a first to a last day, both included."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(
                f"It ends on {short_date(self.last)}, before it begins on {short_date(self.first)}: swap or correct the days."
            )


@dataclass(frozen=True, kw_only=True)
class Closure(TermEvent):
    """The school is closed, by surprise: no class meets."""

    label: str = "Closed"


@dataclass(frozen=True, kw_only=True)
class NewBells(TermEvent):
    """Another bell schedule: a delayed start, an early release, a longer testing window."""

    schedule: str
    label: str = ""


@dataclass(frozen=True, kw_only=True)
class MakeUpDay(TermEvent):
    """A day without school on which the school opens after all."""

    label: str = "Make-up day"


@dataclass(frozen=True, kw_only=True)
class Adults(TermEvent):
    """`change` qualified adults more or fewer than usual."""

    change: int


@dataclass(frozen=True, kw_only=True)
class Substitute(TermEvent):
    """A substitute without machine qualification: machine power is off.

    One adult is present; which steps may run is what the mark on each step says.
    """


@dataclass(frozen=True, kw_only=True)
class Out(TermEvent):
    """A station or fixture of which only `places` are left."""

    resource: str
    places: int = 0


@dataclass(frozen=True, kw_only=True)
class MorePlaces(TermEvent):
    """A station or fixture of which there are `extra` more from now on."""

    resource: str
    extra: int = 1


@dataclass(frozen=True, kw_only=True)
class Humid(TermEvent):
    """Damp or cold air: finish dries slowly. `minutes` gives the longer waits by step."""

    minutes: Mapping[str, int]


@dataclass(frozen=True, kw_only=True)
class PartsLate(TermEvent):
    """Parts come only on the day after `last`: these steps cannot begin before."""

    steps: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class TeamGone(TermEvent):
    """Nobody is left in a team: what it has not done stays undone."""

    team: str


@dataclass(frozen=True, kw_only=True)
class Suspended(TermEvent):
    """A team without a sign-off: the steps that ask for it wait until the day after `last`."""

    team: str
    steps: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Pace(TermEvent):
    """A team needs `minutes` more (behind) or fewer (ahead) for a step."""

    team: str
    step: str
    minutes: int


@dataclass(frozen=True, kw_only=True)
class Away(TermEvent):
    """Teams that are out on these days: a trip, an examination."""

    teams: tuple[str, ...]


# --- the calendar -------------------------------------------------------------------------------


def amended_calendar(
    term: calendar.TermCalendar, staffing: calendar.Staffing, events: Iterable[TermEvent]
) -> tuple[calendar.TermCalendar, calendar.Staffing]:
    """The term and its staffing with what happened laid over them, in the order recorded."""
    changes = list(staffing.changes)
    for event in events:
        if isinstance(event, Closure | NewBells | MakeUpDay):
            term = calendar.amended(term, calendar.within(term, _exceptions(event)))
        elif isinstance(event, Substitute):
            changes.append(
                calendar.StaffChange(event.first, event.last, 1, staffing.assistants, False)
            )
        elif isinstance(event, Adults):
            now = replace(staffing, changes=tuple(changes))
            changes += [_fewer(now, day, event.change) for day in _days(event)]
    return term, replace(staffing, changes=tuple(changes))


def _exceptions(event: Closure | NewBells | MakeUpDay) -> list[calendar.DayException]:
    found = []
    for day in _days(event):
        if isinstance(event, Closure):
            found.append(calendar.DayException(day, event.label, closed=True, planned=False))
        elif isinstance(event, NewBells):
            found.append(calendar.DayException(day, event.label, schedule=event.schedule))
        else:
            found.append(calendar.DayException(day, event.label, make_up=True))
    return found


def _fewer(staffing: calendar.Staffing, day: date, change: int) -> calendar.StaffChange:
    usual = staffing.on(day)
    qualified = max(0, usual.qualified + change)
    return calendar.StaffChange(
        day, day, qualified, usual.assistants, usual.machine_power and qualified > 0
    )


def _days(event: TermEvent) -> list[date]:
    return [event.first + timedelta(days=n) for n in range((event.last - event.first).days + 1)]


# --- the problem --------------------------------------------------------------------------------


def amended(
    problem: Problem, events: Iterable[TermEvent], slow: frozenset[TaskKey] = frozenset()
) -> Problem:
    """The problem with what happened laid over it; `slow` are the coats that fall in damp air.

    Raises ValueError with a sentence where an event does not fit the problem.
    """
    for event in events:
        for kind, change in _CHANGES.items():
            if isinstance(event, kind):
                problem = change(problem, event)
        if isinstance(event, Humid):
            problem = _slowed(problem, event, slow)
    return problem


def _span(problem: Problem, event: TermEvent) -> tuple[int, int]:
    """First tick and end tick of the event's days."""
    axis = problem.axis
    end = datetime.combine(event.last + timedelta(days=1), time())
    return axis.tick_at(datetime.combine(event.first, time())), axis.tick_at(end)


def _out(problem: Problem, event: Out) -> Problem:
    first, end = _span(problem, event)
    outage = Outage(first, end, event.places)
    if event.resource in problem.station:
        stations = (
            replace(s, outages=(*s.outages, outage)) if s.key == event.resource else s
            for s in problem.stations
        )
        return replace(problem, stations=tuple(stations))
    if event.resource in problem.fixture:
        fixtures = (
            replace(f, outages=(*f.outages, outage)) if f.key == event.resource else f
            for f in problem.fixtures
        )
        return replace(problem, fixtures=tuple(fixtures))
    raise ValueError(f"The room lists no {event.resource}: choose one of its stations or fixtures.")


def _more_places(problem: Problem, event: MorePlaces) -> Problem:
    if event.resource in problem.station:
        return more_places(problem, event.resource, event.extra)
    if event.resource in problem.fixture:
        return more_fixtures(problem, event.resource, event.extra)
    raise ValueError(f"The room lists no {event.resource}: choose one of its stations or fixtures.")


def _parts_late(problem: Problem, event: PartsLate) -> Problem:
    _, arrives = _span(problem, event)
    return _steps_changed(
        problem,
        lambda key, step: _released(step, arrives) if key.step in event.steps else step,
    )


def _suspended(problem: Problem, event: Suspended) -> Problem:
    first, end = _span(problem, event)
    if problem.now >= end or not any(team.key == event.team for team in problem.teams):
        return problem
    del first  # what the team could still do before the suspension is not planned for
    return _steps_changed(
        problem,
        lambda key, step: (
            _released(step, end) if key.team == event.team and key.step in event.steps else step
        ),
    )


def _released(step: StepWork, tick: int) -> StepWork:
    return replace(step, earliest_tick=max(step.earliest_tick, tick))


def _team_gone(problem: Problem, event: TeamGone) -> Problem:
    left = tuple(team for team in problem.teams if team.key != event.team)
    if not left:
        raise ValueError("No team is left: there is nothing to plan.")
    return replace(
        problem,
        teams=left,
        done=tuple(done for done in problem.done if done.key.team != event.team),
        pins=tuple(pin for pin in problem.pins if pin.key.team != event.team),
    )


def _pace(problem: Problem, event: Pace) -> Problem:
    key = next((k for k in problem.steps if (k.team, k.step) == (event.team, event.step)), None)
    if key is None:
        return problem  # the team is gone or the step is no longer in the build
    step, done = problem.steps[key], problem.done_by_key.get(key)
    if not step.ticks or (done and done.finished):
        return problem
    if step.whole_class:
        raise ValueError(
            f"The whole class does {step.key} together: a single team cannot need other minutes for it."
        )
    worked = sum(sitting.ticks for sitting in done.sittings) if done else 0
    ticks = max(1, worked + 1, step.ticks + round(event.minutes / problem.axis.tick_minutes))
    changed = replace(step, ticks=ticks, minimum_sitting=min(step.minimum_sitting, ticks))
    pins = tuple(pin for pin in problem.pins if pin.key != key)
    return replace(_steps_changed(problem, lambda k, s: changed if k == key else s), pins=pins)


def _away(problem: Problem, event: Away) -> Problem:
    """A team that is out is busy elsewhere: a pinned step that fills the meeting."""
    first, end = _span(problem, event)
    axis = problem.axis
    spans = [
        (index, span)
        for index, span in enumerate(axis.spans)
        if span[1] > span[0] and first <= span[0] < end and span[0] >= problem.now
    ]
    teams, pins = [], list(problem.pins)
    for team in problem.teams:
        added = []
        for index, (start, stop) in spans:
            meeting = axis.meetings[index]
            name = f"{AWAY}{meeting.start:%Y-%m-%d %H:%M}"
            if team.key not in event.teams or meeting.section != team.section:
                continue
            if any(step.key == name for step in team.steps):
                continue
            added.append(
                StepWork(
                    name, ticks=stop - start, splitting=Splitting.ONE_SITTING, substitute_safe=True
                )
            )
            pins.append(
                PlannedActivity(
                    TaskKey(team.section, team.key, name), (Sitting(start, stop - start),)
                )
            )
        teams.append(replace(team, steps=(*team.steps, *added)))
    away = {pin.key: pin for pin in pins if is_away(pin.key)}
    kept = [
        pin
        for pin in pins
        if is_away(pin.key) or not any(_overlap(pin, other) for other in away.values())
    ]
    return replace(problem, teams=tuple(teams), pins=tuple(kept))


def _overlap(pin: PlannedActivity, other: PlannedActivity) -> bool:
    return pin.key[:2] == other.key[:2] and any(
        a.tick < b.end and b.tick < a.end for a in pin.sittings for b in other.sittings
    )


def is_away(key: TaskKey) -> bool:
    """Whether a task stands for a team being out, and is no step of the build."""
    return key.step.startswith(AWAY)


def shown(schedule: Schedule) -> Schedule:
    """The plan without the times at which teams are out."""
    return Schedule(tuple(a for a in schedule.activities if not is_away(a.key)))


def with_away(problem: Problem, schedule: Schedule) -> Schedule:
    """The plan with the times at which teams are out, as the checker expects it."""
    return shown(schedule).replaced(*(pin for pin in problem.pins if is_away(pin.key)))


def coats_in_damp_air(
    problem: Problem, schedule: Schedule, events: Iterable[TermEvent]
) -> frozenset[TaskKey]:
    """Tasks that a plan lets dry, at least in part, on the days of a damp spell."""
    found = set()
    for event in events:
        if not isinstance(event, Humid):
            continue
        first = problem.axis.minute(datetime.combine(event.first, time()))
        end = problem.axis.minute(datetime.combine(event.last + timedelta(days=1), time()))
        for activity in schedule.activities:
            key = activity.key
            if key.step in event.minutes and key in problem.steps and activity.ticks:
                begins = problem.axis.end_minute(activity.end)
                if begins < end and begins + problem.steps[key].drying_minutes > first:
                    found.add(key)
    return frozenset(found)


def coats(problem: Problem, events: Iterable[TermEvent]) -> frozenset[TaskKey]:
    """Every task whose drying a damp spell would lengthen, wherever it lies."""
    steps = {step for event in events if isinstance(event, Humid) for step in event.minutes}
    return frozenset(key for key in problem.steps if key.step in steps)


def _slowed(problem: Problem, event: Humid, slow: frozenset[TaskKey]) -> Problem:
    def change(key: TaskKey, step: StepWork) -> StepWork:
        minutes = event.minutes.get(key.step, 0)
        if key not in slow or minutes <= step.drying_minutes or not step.ticks:
            return step
        longer = minutes - step.drying_minutes
        # A rack place is taken for as long as the coat is wet.
        holds = tuple(
            replace(hold, minutes=hold.minutes + longer)
            if hold.minutes >= step.drying_minutes
            else hold
            for hold in step.holds
        )
        return replace(step, drying_minutes=minutes, holds=holds)

    return _steps_changed(problem, change)


def _steps_changed(problem: Problem, change: Callable[[TaskKey, StepWork], StepWork]) -> Problem:
    def team_changed(team: TeamWork) -> TeamWork:
        return replace(
            team,
            steps=tuple(change(TaskKey(team.section, team.key, s.key), s) for s in team.steps),
        )

    return replace(problem, teams=tuple(team_changed(team) for team in problem.teams))


_CHANGES: Mapping[type[TermEvent], Callable[..., Problem]] = {
    Out: _out,
    MorePlaces: _more_places,
    PartsLate: _parts_late,
    TeamGone: _team_gone,
    Suspended: _suspended,
    Pace: _pace,
    Away: _away,
}


# --- what is refused ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Situation:
    """What is known when an event is recorded.

    `taught` are the dates with work on record, `next_open` the first date still to be planned,
    `places` the usual places by station and fixture, `needed` those that a step still needs,
    `qualified` the qualified adults on each coming meeting's date, `titles` what people call the
    stations and fixtures.
    """

    first_day: date
    last_day: date
    taught: frozenset[date]
    next_open: date
    places: Mapping[str, int]
    needed: frozenset[str]
    teams: frozenset[str]
    qualified: Mapping[date, int] = field(default_factory=dict)
    events: tuple[TermEvent, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)


def problems(event: TermEvent, situation: Situation) -> list[str]:
    """Everything that keeps an event from being recorded, each as a sentence."""
    found = []
    if event.last < situation.first_day or event.first > situation.last_day:
        found.append(
            f"{short_date(event.first)} to {short_date(event.last)} lies outside the term, {short_date(situation.first_day)} to "
            f"{short_date(situation.last_day)}: choose days of the term."
        )
    if event in situation.events:
        found.append("This is recorded already: undo the first entry if it was wrong.")
    found += _past_problems(event, situation)
    found += _room_problems(event, situation)
    if isinstance(event, Away) and situation.teams <= set(event.teams):
        found.append("With every team away there is no class: record the day as closed instead.")
    return found


def _past_problems(event: TermEvent, situation: Situation) -> Iterable[str]:
    if isinstance(event, Closure | NewBells | Substitute | Adults):
        worked = sorted(day for day in situation.taught if event.first <= day <= event.last)
        if worked:
            yield (
                f"Work is recorded on {short_date(worked[0])}: the past cannot move. "
                "Correct that record first, or choose later days."
            )
    elif event.last < situation.next_open and not isinstance(event, TeamGone | Pace | MakeUpDay):
        yield (
            f"It was over on {short_date(event.last)}, before the next meeting on {short_date(situation.next_open)}: "
            "it changes nothing that is still to come."
        )
    if isinstance(event, MakeUpDay) and event.first < situation.next_open:
        yield f"A make-up day lies ahead: choose a day from {short_date(situation.next_open)} on."


def _room_problems(event: TermEvent, situation: Situation) -> Iterable[str]:
    if isinstance(event, Out):
        usual = situation.places.get(event.resource)
        title = situation.titles.get(event.resource, event.resource)
        if usual is None:
            yield f"The room lists no {event.resource}: choose one of its stations or fixtures."
        elif not 0 <= event.places < usual:
            number = f"from 0 to {usual - 1}" if usual > 1 else "0"
            yield f"The room has {usual} of “{title}”: give how many are left, {number}."
        whole = event.first <= situation.next_open and event.last >= situation.last_day
        if whole and event.places == 0 and event.resource in situation.needed:
            yield (
                f"{title} would be out for the whole term and steps still need it: take it "
                "out of the room, or have these steps supplied ready-made."
            )
    if isinstance(event, Adults) and event.change < 0:
        empty = sorted(
            day
            for day, count in situation.qualified.items()
            if event.first <= day <= event.last and count + event.change <= 0
        )
        if empty:
            yield (
                f"With every adult out on {short_date(empty[0])} there is no class: record a substitute, or the "
                "day as closed."
            )
    if isinstance(event, Suspended | TeamGone | Pace) and event.team not in situation.teams:
        yield f"There is no team {event.team}: choose one of {', '.join(sorted(situation.teams))}."
    if isinstance(event, Away):
        strange = sorted(set(event.teams) - situation.teams)
        if strange:
            yield f"There is no team {', '.join(strange)}: choose from {', '.join(sorted(situation.teams))}."
        if not event.teams:
            yield "Name at least one team that is away."
