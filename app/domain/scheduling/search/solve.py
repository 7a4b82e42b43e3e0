"""From a problem to a result: a plan in milliseconds, then better plans and a bound.

Work is counted, not timed: one unit is about a second of one ordinary core. The same problem,
seed and work give the same plan; a limit in seconds or a stop by hand may cut the search short.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

from app.domain.dates import short_date
from app.domain.scheduling.check import check
from app.domain.scheduling.instance import Instance, compile_problem
from app.domain.scheduling.problem import Problem, Splitting
from app.domain.scheduling.schedule import Cost, PlanResult, Schedule, Status, cost_of
from app.domain.scheduling.search.bounds import Bottleneck, Bound, Windows, lower_bound
from app.domain.scheduling.search.constraint_model import LARGEST_MODEL, ConstraintModel
from app.domain.scheduling.search.list_schedule import (
    ListState,
    list_schedule,
    schedule_of,
    start_state,
)
from app.domain.scheduling.search.neighbourhood import Search
from app.domain.scheduling.search.repair import Repair

PLACED_PER_WORK = 100_000
# Shares of the work for CP-SAT, without and with a linear relaxation: the first finds and
# proves small projects sooner, the second raises the bound where stations are scarce.
TURNS = ((0.15, False), (0.4, True), (0.45, False))
LONGEST_EXTENSION = 8  # terms: a plan that needs more than nine terms is not worth measuring

Progress = Callable[[int, int], None]
Stop = Callable[[], bool]


@dataclass
class _Run:
    """How a search is steered from outside, and what it has spent."""

    seed: int
    work: float
    on_progress: Progress | None
    should_stop: Stop
    spent: float = 0.0
    stopped: bool = False

    def stop(self) -> bool:
        self.stopped = self.stopped or self.should_stop()
        return self.stopped

    def report(self, finish: int, bound: int) -> None:
        if self.on_progress is not None:
            self.on_progress(finish, bound)


def solve(
    problem: Problem,
    *,
    seed: int = 0,
    work: float = 10.0,
    seconds: float | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
    start: Schedule | None = None,
    previous: Schedule | None = None,
    target: int | None = None,
) -> PlanResult:
    """Plan a problem.

    `on_progress(finish, bound)` is called when either gets better. `should_stop()` is asked often;
    when it says yes the best plan so far is returned, marked as stopped. `start` is a plan to begin
    with. With `previous`, the plan changes as few activities as it can for a finish of `target`
    (default: `wanted_finish`).
    """
    run = _Run(seed, work, on_progress, _stopper(seconds, should_stop))
    instance, windows, search_start = _long_enough(problem)
    bound = lower_bound(instance, windows)
    if search_start is None:
        return _unplaceable(instance, bound, run)
    if not instance.movable:
        return _result(instance, search_start, bound, run, previous)
    if previous is not None:
        return _replanned(instance, bound, previous, target, run)
    search = Search(instance, windows, bound.finish, seed)
    search.offer(search_start)
    run.report(max(search_start.ends, default=0), bound.finish)
    if start is not None:
        search.offer(Repair(instance, start).repaired())
    search.first_plans(lambda finish: run.report(finish, bound.finish))
    state, finish_bound = _improve(search, windows, bound, run)
    if max(state.ends, default=0) > instance.term:
        state = _most_teams(search, state, run)
    return _result(instance, state, Bound(finish_bound, bound.because), run, previous)


def _stopper(seconds: float | None, should_stop: Stop | None) -> Stop:
    end = None if seconds is None else monotonic() + seconds

    def stop() -> bool:
        return (end is not None and monotonic() >= end) or (
            should_stop is not None and should_stop()
        )

    return stop


def _long_enough(problem: Problem) -> tuple[Instance, Windows, ListState | None]:
    """The instance on an axis that holds a whole plan, and such a plan; None if none does."""
    extra = problem.axis.ticks // 2
    while True:
        instance = compile_problem(problem, extra_ticks=max(extra, 1))
        windows = Windows(instance)
        # Where a fixture is held over several steps, one order can lock itself out and another not.
        orders = (windows.latest(instance.ticks)[0], [float(n) for n in range(len(instance.jobs))])
        for priorities in orders:
            plan = list_schedule(start_state(instance), priorities)
            if all(plan.masks):
                return instance, windows, plan
        if extra > LONGEST_EXTENSION * problem.axis.ticks:
            return instance, windows, None
        extra = 4 * extra + problem.axis.ticks


def _improve(search: Search, windows: Windows, bound: Bound, run: _Run) -> tuple[ListState, int]:
    """Large-neighbourhood search, then CP-SAT where its model is small enough."""
    instance = search.instance
    finish = max(search.best.ends, default=0)
    if finish <= bound.finish or run.stop():
        return search.best, bound.finish
    exact = _worth_a_model(instance, windows)
    share = min(0.1, 5.0 / max(run.work, 1.0) / 10) if exact else 1.0
    best = [finish]

    def enough(state: ListState) -> bool:
        reached = max(state.ends)
        if reached < best[0]:
            best[0] = reached
            run.report(reached, bound.finish)
        return reached <= bound.finish or run.stop()

    search.run(search.placed + round(share * run.work * PLACED_PER_WORK), enough)
    run.spent = search.placed / PLACED_PER_WORK
    finish = max(search.best.ends)
    if not exact or finish <= bound.finish or run.stop():
        return search.best, bound.finish
    return _by_constraints(search, windows, bound.finish, run)


def _worth_a_model(instance: Instance, windows: Windows) -> bool:
    plain = all(job.splitting is not Splitting.SITTINGS or job.ticks == 1 for job in instance.jobs)
    return plain or ConstraintModel.size(instance, windows, instance.term) <= LARGEST_MODEL


def _by_constraints(
    search: Search, windows: Windows, bound: int, run: _Run
) -> tuple[ListState, int]:
    """The exact model in turns, each limited to plans better than the best so far."""
    best = search.best
    for share, relaxed in TURNS:
        finish = max(best.ends)
        if finish <= bound or run.stop():
            break
        # The linear relaxation raises the bound only while no plan is known that pins the finish
        # down: it gets room to move in and no hint.
        limit = finish + 9 if relaxed else finish - 1
        model = ConstraintModel(search.instance, windows, min(limit, search.instance.ticks), bound)
        if not model.build():
            return best, finish
        if not relaxed:
            model.hint(best)
        answer = model.solve(share * run.work, run.seed, run.report, run.stop, relaxed=relaxed)
        run.spent += answer.work
        bound = max(bound, min(answer.bound, finish))
        if answer.masks is not None and max(m.bit_length() for m in answer.masks) < finish:
            best = search.start.copy()
            for number in search.instance.movable:
                best.put(number, answer.masks[number])
    return best, bound


def _most_teams(search: Search, state: ListState, run: _Run) -> ListState:
    """When not everything fits the term: the plan in which most teams finish."""
    term = search.instance.term
    best = min(
        [state, *search.team_by_team()],
        key=lambda plan: (*unfinished(search.instance, plan, term), max(plan.ends)),
    )
    run.spent = max(run.spent, search.placed / PLACED_PER_WORK)
    return best


def unfinished(instance: Instance, state: ListState, term: int) -> tuple[int, int]:
    """Teams with a task that ends after the term, and such tasks."""
    keys = [
        key
        for number, job in enumerate(instance.jobs)
        if not state.masks[number] or state.ends[number] > term
        for key in job.keys
    ]
    return len({key[:2] for key in keys}), len(keys)


def wanted_finish(problem: Problem, previous: Schedule) -> int:
    """When a new plan should end: by the showcase, or by the end of the term without one.

    A plan that was later than its showcase is held to its own finish.
    """
    if not problem.due_ticks:
        return problem.axis.ticks
    return max(previous.finish, *problem.due_ticks.values())


def _replanned(
    instance: Instance,
    bound: Bound,
    previous: Schedule,
    target: int | None,
    run: _Run,
) -> PlanResult:
    wanted = target if target is not None else wanted_finish(instance.problem, previous)
    repair = Repair(instance, previous)
    state = repair.search(
        run.seed, max(wanted, bound.finish), round(run.work * PLACED_PER_WORK), run.stop
    )
    run.spent = repair.placed / PLACED_PER_WORK
    return _result(instance, state, bound, run, previous)


def _unplaceable(instance: Instance, bound: Bound, run: _Run) -> PlanResult:
    """Some job never fits, however long the term: say which and keep the rest."""
    state = list_schedule(start_state(instance), [float(n) for n in range(len(instance.jobs))])
    result = _result(instance, state, bound, run, None)
    blocked = [
        f"{job.keys[0]} finds no room however long the term is: it needs {job.ticks} ticks"
        f"{' in one sitting' if job.splitting is Splitting.ONE_SITTING else ''}."
        for number, job in enumerate(instance.jobs)
        if not state.masks[number] and all(state.masks[before] for before, _ in job.waits)
    ]
    return PlanResult(
        status=Status.IMPOSSIBLE,
        schedule=result.schedule,
        cost=result.cost,
        bound=instance.ticks + 1,
        needed=instance.ticks + 1,
        reasons=(*blocked, *result.reasons),
        work=run.spent,
        stopped=run.stopped,
    )


def _result(
    instance: Instance, state: ListState, bound: Bound, run: _Run, previous: Schedule | None
) -> PlanResult:
    return result_of(instance, state, bound, previous=previous, work=run.spent, stopped=run.stopped)


def result_of(
    instance: Instance,
    state: ListState,
    bound: Bound,
    *,
    previous: Schedule | None = None,
    work: float = 0.0,
    stopped: bool = False,
) -> PlanResult:
    """A search's last state as a result: checked, priced and explained."""
    problem = instance.problem
    schedule = schedule_of(state)
    cost = cost_of(problem, schedule, previous)
    needed = max(state.ends, default=0)
    finish_bound = min(bound.finish, needed)
    status = _status(problem, cost, needed, finish_bound, bound)
    reasons: list[str] = []
    if cost.missing or cost.late:
        reasons.append(bottleneck_sentence(instance, bound.because))
    reasons += [violation.sentence for violation in check(problem, schedule)]
    return PlanResult(
        status=status,
        schedule=schedule,
        cost=cost,
        bound=finish_bound,
        needed=needed,
        limiting=bound.because.resource,
        reasons=tuple(reasons),
        work=work,
        stopped=stopped,
    )


def _status(problem: Problem, cost: Cost, needed: int, finish_bound: int, bound: Bound) -> Status:
    if cost.missing:
        return Status.IMPOSSIBLE if bound.finish > problem.axis.ticks else Status.INCOMPLETE
    deadlines = any(step.deadline_tick is not None for step in problem.steps.values())
    proven = needed <= finish_bound and (not cost.late or not deadlines)
    return Status.OPTIMAL if proven else Status.FEASIBLE


def bottleneck_sentence(instance: Instance, because: Bottleneck) -> str:
    """Why no plan can end earlier, in words."""
    axis = instance.axis
    if because.resource is None:
        return "The longest chain of work and drying decides how early this can be finished."
    first, end = axis.clock(because.first_tick), axis.end_clock(because.end_tick)
    work, room = because.work * axis.tick_minutes, because.room * axis.tick_minutes
    return (
        f"The {because.resource} is the limit: between {short_date(first)} and {short_date(end)} "
        f"there is work for {work} minutes and room for {room}."
    )
