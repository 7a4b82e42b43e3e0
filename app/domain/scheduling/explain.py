"""What holds a plan up: the critical chain and float; and what would help."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from app.domain.scheduling.instance import compile_problem
from app.domain.scheduling.problem import Axis, Problem, StepWork, Supervision
from app.domain.scheduling.schedule import PlannedActivity, PlanResult, Schedule, TaskKey
from app.domain.scheduling.search.bounds import Windows
from app.domain.scheduling.search.solve import solve

ADULT = "adult"


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
    result: PlanResult
    fits: bool
    ticks_sooner: int
    meetings_sooner: int


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
    problem: Problem, schedule: Schedule, working: list[PlannedActivity], activity: PlannedActivity
) -> PlannedActivity | None:
    axis = problem.axis
    best: tuple[int, int, PlannedActivity] | None = None
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


def _share(problem: Problem, one: PlannedActivity, other: PlannedActivity) -> bool:
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

    def changed(old: StepWork) -> StepWork:
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


def remedies(
    problem: Problem,
    result: PlanResult,
    candidates: dict[str, Problem],
    work: float = 2.0,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Remedy, ...]:
    """Plan again with each change, and say what it buys; what brings the finish forward most first.

    `candidates` are changed problems by name.
    """
    tried = []
    for name, changed in candidates.items():
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
