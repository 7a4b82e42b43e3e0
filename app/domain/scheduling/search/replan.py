"""Planning again: few changes first; where that loses teams, a search that wins them back.

Repair keeps what can stay. A plan with no slack cannot be mended that way: moving one activity
pushes teams out of the term. Then the order itself is searched again, most teams finished first,
and what need not have moved is put back in its old place.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from app.domain.scheduling.instance import Instance, compile_problem
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import PlanResult, Schedule
from app.domain.scheduling.search.bounds import Bound, Windows, lower_bound
from app.domain.scheduling.search.list_schedule import ListState
from app.domain.scheduling.search.neighbourhood import Search, Value
from app.domain.scheduling.search.repair import Repair
from app.domain.scheduling.search.solve import (
    PLACED_PER_WORK,
    result_of,
    solve,
    unfinished,
    wanted_finish,
)

Stop = Callable[[], bool]
REPAIR_SHARE = 0.6  # of the work goes to repair before the order itself is searched again
RETURN_SHARE = 0.15  # and this much to putting activities back


def replanned(
    problem: Problem,
    known: Schedule,
    *,
    work: float,
    seed: int = 0,
    target: int | None = None,
    should_stop: Stop | None = None,
) -> PlanResult:
    """Plan again from a plan the class knows, with few changes for a finish of `target` ticks.

    The default is `solve.wanted_finish`: the showcase, or the end of the term without one.
    Deterministic in `work` (one unit is about a second of one ordinary core) and `seed`.
    """
    stop = should_stop or (lambda: False)
    wanted = wanted_finish(problem, known) if target is None else target
    mended = solve(
        problem,
        previous=known,
        target=wanted,
        work=REPAIR_SHARE * work,
        seed=seed,
        should_stop=should_stop,
    )
    in_time = mended.complete and mended.needed <= wanted
    if in_time or not work or stop() or not mended.needed:
        return mended
    instance = compile_problem(problem, extra_ticks=max(problem.axis.ticks // 2, 1))
    if not instance.movable:
        return mended
    found, bound = _search(instance, known, mended, wanted, work=work, seed=seed, stop=stop)
    again = result_of(instance, found, bound, previous=known, work=work, stopped=stop())
    return min(mended, again, key=lambda result: result.cost[:3])


def _search(
    instance: Instance,
    known: Schedule,
    mended: PlanResult,
    target: int,
    *,
    work: float,
    seed: int,
    stop: Stop,
) -> tuple[ListState, Bound]:
    windows = Windows(instance)
    bound = lower_bound(instance, windows)
    search = _MostTeams(instance, windows, bound.finish, seed)
    for schedule in (mended.schedule, known):
        start = Repair(instance, schedule).repaired()
        if all(start.masks):
            search.offer(start)
    search.first_plans()
    for plan in search.team_by_team():
        if all(plan.masks):
            search.offer(plan)
    share = 1 - REPAIR_SHARE - RETURN_SHARE

    def enough(state: ListState) -> bool:
        return search.value(state)[:2] == (0, 0) or stop()

    search.run(search.placed + round(share * work * PLACED_PER_WORK), enough)
    best = search.best
    if not all(best.masks):
        return best, bound
    # What need not have moved goes back to its old place.
    back = Repair(instance, known)
    reached = max(target, *best.ends)
    budget = round(RETURN_SHARE * work * PLACED_PER_WORK)
    random = Random(seed)  # noqa: S311 - a search, not a secret
    return back.improved(best, reached, budget, random, stop), bound


class _MostTeams(Search):
    """A search for the plan in which most teams finish within the term, then in time."""

    def value(self, state: ListState) -> Value:
        term = self.instance.term
        late, finish, behind = super().value(state)
        teams, tasks = unfinished(self.instance, state, term)
        return (teams, min(late, term) if not teams else tasks, finish, behind)
