"""What a plan means: loads, the critical chain, float, what slips first, and what would help."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.domain.scheduling.bounds import Windows
from app.domain.scheduling.instance import compile_problem
from app.domain.scheduling.problem import Axis, Problem, Step, Supervision
from app.domain.scheduling.schedule import Activity, Result, Schedule, TaskKey
from app.domain.scheduling.solve import solve

ADULT = "adult"


@dataclass(frozen=True)
class Load:
    """How much of a resource a week uses: `used` of `room`, in place-ticks (or fixture-ticks).

    `kind` is station, fixture or adult; `week` the Monday the week begins with.
    """

    kind: str
    resource: str
    week: date
    used: float
    room: float

    @property
    def share(self) -> float:
        """Used over room; 0 where there is no room and nothing is used."""
        if self.room:
            return self.used / self.room
        return 1.0 if self.used else 0.0


@dataclass(frozen=True)
class Float:
    """How far an activity may end later without moving the finish, in ticks."""

    key: TaskKey
    ticks: int


@dataclass(frozen=True)
class Remedy:
    """A change and what planning again with it gave.

    `meetings_sooner` counts the meetings by which the finish comes earlier (later: negative).
    """

    name: str
    result: Result
    fits: bool
    ticks_sooner: int
    meetings_sooner: int


def loads(problem: Problem, schedule: Schedule) -> tuple[Load, ...]:
    """The load of every limited station, every fixture and the adults, week by week."""
    axis = problem.axis
    weeks = [_week(axis, tick) for tick in range(axis.ticks)]
    used: dict[tuple[str, str, date], float] = defaultdict(float)
    for activity in schedule.activities:
        step = problem.steps[activity.key]
        for tick in _ticks(activity):
            for use in step.stations:
                used["station", use.station, weeks[tick]] += use.places
        for fixture, quantity, tick in _held(problem, schedule, activity, step):
            used["fixture", fixture, weeks[tick]] += quantity
    for tick, halves in _adult_halves(problem, schedule).items():
        used["adult", ADULT, weeks[tick]] += halves / 2
    room = _rooms(problem, weeks)
    return tuple(
        Load(kind, name, week, used.get((kind, name, week), 0.0), places)
        for (kind, name, week), places in sorted(room.items())
    )


def _week(axis: Axis, tick: int) -> date:
    day = axis.clock(tick).date()
    return day - timedelta(days=day.weekday())


def _ticks(activity: Activity) -> Iterable[int]:
    return (tick for sitting in activity.sittings for tick in range(sitting.tick, sitting.end))


def _held(
    problem: Problem, schedule: Schedule, activity: Activity, step: Step
) -> Iterable[tuple[str, int, int]]:
    """Fixtures an activity keeps, tick by tick."""
    axis = problem.axis
    for hold in step.holds:
        last = activity
        if hold.until is not None:
            later = schedule.by_key.get(
                TaskKey(activity.key.section, activity.key.team, hold.until)
            )
            last = later or activity
        free = axis.first_tick_from(axis.end_minute(last.end) + hold.minutes)
        for tick in range(activity.start, min(free, axis.ticks)):
            yield hold.fixture, hold.quantity, tick


def _adult_halves(problem: Problem, schedule: Schedule) -> Counter[int]:
    """Halves of an adult needed in each tick, a zone counted once."""
    claims: dict[int, set[tuple[object, int]]] = defaultdict(set)
    for activity in schedule.activities:
        step = problem.steps[activity.key]
        if step.supervision is Supervision.IN_ROOM:
            continue
        who: object = activity.key.step if step.whole_class else activity.key
        zone = problem.zone(step)
        if step.supervision is Supervision.AT_THE_MACHINE:
            claim: tuple[object, int] = (who, 2)
        else:
            claim = (who if zone is None else zone, 1)
        for tick in _ticks(activity):
            claims[tick].add(claim)
    return Counter({tick: sum(halves for _, halves in found) for tick, found in claims.items()})


def _rooms(problem: Problem, weeks: list[date]) -> dict[tuple[str, str, date], float]:
    room: dict[tuple[str, str, date], float] = defaultdict(float)
    counted = [
        ("station", s.key, s.places, s.outages) for s in problem.stations if s.places is not None
    ]
    counted += [("fixture", f.key, f.count, f.outages) for f in problem.fixtures]
    for tick, week in enumerate(weeks):
        room["adult", ADULT, week] += problem.axis.adults(tick)
        for kind, name, places, outages in counted:
            left = [o.places for o in outages if o.first_tick <= tick < o.end_tick]
            room[kind, name, week] += min([places or 0, *left])
    return room


def critical_chain(problem: Problem, schedule: Schedule) -> tuple[TaskKey, ...]:
    """Activities from the last one back to the start, each held up by the one before it.

    An activity is held up by the predecessor whose wait ends last, or by another activity of its
    team or at one of its stations that ends just before it begins.
    """
    chain: list[TaskKey] = []
    working = [a for a in schedule.activities if a.ticks]
    current = max(working, key=lambda a: (a.end, a.key), default=None)
    while current is not None and current.key not in chain:
        chain.append(current.key)
        current = _held_up_by(problem, schedule, working, current)
    return tuple(reversed(chain))


def _held_up_by(
    problem: Problem, schedule: Schedule, working: list[Activity], activity: Activity
) -> Activity | None:
    axis = problem.axis
    best: tuple[int, int, Activity] | None = None
    for link in problem.steps[activity.key].links:
        before = schedule.by_key.get(TaskKey(activity.key.section, activity.key.team, link.step))
        if before is None:
            continue
        if not before.ticks:
            deeper = _held_up_by(problem, schedule, working, before)
            before = deeper or before
        wait = max(problem.steps[before.key].drying_minutes, link.minutes)
        ready = axis.first_tick_from(axis.end_minute(before.end) + wait)
        if before.ticks and (best is None or ready > best[0]):
            best = (ready, 1, before)
    for other in working:
        shares = other.key != activity.key and _share(problem, other, activity)
        if shares and other.end <= activity.start and (best is None or other.end > best[0]):
            best = (other.end, 0, other)
    return best[2] if best else None


def _share(problem: Problem, one: Activity, other: Activity) -> bool:
    """Whether two activities want the same team, a scarce station or the whole adult."""
    if one.key[:2] == other.key[:2]:
        return True
    first, second = problem.steps[one.key], problem.steps[other.key]
    at = Supervision.AT_THE_MACHINE
    if at in (first.supervision, second.supervision) and Supervision.IN_ROOM not in (
        first.supervision,
        second.supervision,
    ):
        return True
    stations = {u.station for u in first.stations} & {u.station for u in second.stations}
    return any(problem.station[s].places == 1 for s in stations)


def floats(problem: Problem, schedule: Schedule) -> tuple[Float, ...]:
    """How much later each activity may end by its own team's work and waits, finish unchanged.

    Free of the other teams: the room may allow less.
    """
    instance = compile_problem(problem)
    _, ends = Windows(instance).latest(min(schedule.finish, instance.ticks))
    found = []
    for number, job in enumerate(instance.jobs):
        for key in job.keys:
            activity = schedule.by_key.get(key)
            if activity is not None:
                found.append(Float(key, max(0, ends[number] - activity.end)))
    return tuple(found)


def slips_first(problem: Problem, schedule: Schedule, meeting: int) -> tuple[Float, ...]:
    """If a meeting is lost: the activities worked in it, the least float first.

    An activity whose float is smaller than the meeting's ticks moves the finish.
    """
    first, end = problem.axis.spans[meeting]
    inside = {
        a.key
        for a in schedule.activities
        if any(sitting.tick < end and sitting.end > first for sitting in a.sittings)
    }
    return tuple(
        sorted((f for f in floats(problem, schedule) if f.key in inside), key=lambda f: f.ticks)
    )


def more_places(problem: Problem, station: str, extra: int = 1) -> Problem:
    """The same room with more places at a station."""
    return replace(
        problem,
        stations=tuple(
            replace(s, places=s.places + extra) if s.key == station and s.places is not None else s
            for s in problem.stations
        ),
    )


def more_fixtures(problem: Problem, fixture: str, extra: int = 1) -> Problem:
    """The same room with more of a fixture."""
    fixtures = (
        replace(f, count=f.count + extra) if f.key == fixture else f for f in problem.fixtures
    )
    return replace(problem, fixtures=tuple(fixtures))


def more_adults(problem: Problem, extra: int = 1) -> Problem:
    """The same term with another qualified adult in every meeting."""
    meetings = tuple(replace(m, adults=m.adults + extra) for m in problem.axis.meetings)
    return replace(problem, axis=Axis(meetings, problem.axis.tick_minutes))


def made_outside_class(problem: Problem, step: str, lead_minutes: int = 0) -> Problem:
    """A step made by an adult between meetings or supplied ready-made, for every team."""
    begun = {(done.key.section, done.key.team) for done in problem.done if done.key.step == step}

    def changed(old: Step) -> Step:
        return replace(
            old,
            ticks=0,
            outside_class=True,
            drying_minutes=max(lead_minutes, old.drying_minutes),
            supervision=Supervision.IN_ROOM,
            stations=(),
            holds=(),
            whole_class=False,
            observed=False,
        )

    teams = tuple(
        team
        if (team.section, team.key) in begun
        else replace(
            team, steps=tuple(changed(s) if s.key == step and s.ticks else s for s in team.steps)
        )
        for team in problem.teams
    )
    return replace(problem, teams=teams, pins=tuple(p for p in problem.pins if p.key.step != step))


def candidate_changes(problem: Problem, result: Result) -> dict[str, Problem]:
    """The changes worth trying for what limits a plan: places, adults, steps out of class."""
    changes: dict[str, Problem] = {}
    if result.limiting in problem.station:
        changes[f"one more place at {result.limiting}"] = more_places(
            problem, result.limiting or ""
        )
    if result.limiting in problem.fixture:
        changes[f"one more {result.limiting}"] = more_fixtures(problem, result.limiting or "")
    supervised = Counter[str]()
    for key, step in problem.steps.items():
        if step.supervision is Supervision.AT_THE_MACHINE:
            supervised[key.step] += step.ticks
    if supervised:
        changes["a second adult"] = more_adults(problem)
    for name, _ in supervised.most_common(3):
        changes[f"{name} made outside class"] = made_outside_class(problem, name)
    return changes


def remedies(
    problem: Problem,
    result: Result,
    candidates: dict[str, Problem] | None = None,
    work: float = 2.0,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Remedy, ...]:
    """Plan again with each change, and say what it buys; what brings the finish forward most first.

    `candidates` are changed problems by name; without them those that `candidate_changes` names.
    """
    tried = []
    for name, changed in (candidates or candidate_changes(problem, result)).items():
        again = solve(changed, work=work, should_stop=should_stop)
        tried.append(
            Remedy(
                name=name,
                result=again,
                fits=again.complete and not again.cost.late,
                ticks_sooner=result.needed - again.needed,
                meetings_sooner=_meetings(problem, result.needed)
                - _meetings(problem, again.needed),
            )
        )
    return tuple(sorted(tried, key=lambda r: (not r.fits, -r.ticks_sooner, r.name)))


def _meetings(problem: Problem, finish: int) -> int:
    """Meetings of all sections that a plan of a finish uses, counted beyond the term if need be."""
    axis = problem.axis
    if finish > axis.ticks:
        axis = axis.extended(finish - axis.ticks)
    return sum(axis.meetings_until(section, finish) for section in axis.sections)
