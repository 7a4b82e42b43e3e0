"""Planning again: few changes first; where that loses teams, a search that wins them back.

Repair keeps what can stay. A plan with no slack cannot be mended that way: moving one activity
pushes teams out of the term. Then the order itself is searched again, most teams finished first,
and what need not have moved is put back in its old place.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from app.domain.scheduling.bounds import Windows, lower_bound
from app.domain.scheduling.instance import Instance, compile_problem
from app.domain.scheduling.list_schedule import State, schedule_of
from app.domain.scheduling.neighbourhood import Search, Value
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.repair import Repair
from app.domain.scheduling.schedule import Result, Schedule
from app.domain.scheduling.solve import PLACED_PER_WORK, solve, unfinished

Stop = Callable[[], bool]
REPAIR_SHARE = 0.2  # of the work goes to repair before the order itself is searched again
RETURN_SHARE = 0.3  # and this much to putting activities back


def replanned(
    problem: Problem,
    known: Schedule,
    *,
    work: float,
    seed: int = 0,
    should_stop: Stop | None = None,
) -> Result:
    """Plan again from a plan the class knows, with few changes for the finish that is reached.

    Deterministic in `work` (one unit is about a second of one ordinary core) and `seed`.
    """
    stop = should_stop or (lambda: False)
    mended = solve(
        problem, previous=known, work=REPAIR_SHARE * work, seed=seed, should_stop=should_stop
    )
    if (mended.complete and not mended.cost.late) or not work or stop() or not mended.needed:
        return mended
    instance = compile_problem(problem, extra_ticks=max(problem.axis.ticks // 2, 1))
    if not instance.movable:
        return mended
    found = _search(instance, known, mended, work, seed, stop)
    # Every activity is in its place: this only reads the plan and checks it.
    again = solve(problem, previous=schedule_of(found, whole=True), work=0)
    return min(mended, again, key=lambda result: result.cost[:3])


def _search(
    instance: Instance, known: Schedule, mended: Result, work: float, seed: int, stop: Stop
) -> State:
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

    def enough(state: State) -> bool:
        return search.value(state)[:2] == (0, 0) or stop()

    search.run(search.placed + round(share * work * PLACED_PER_WORK), enough)
    return _put_back(
        search, Repair(instance, known), round(RETURN_SHARE * work * PLACED_PER_WORK), seed, stop
    )


class _MostTeams(Search):
    """A search for the plan in which most teams finish within the term, then in time."""

    def value(self, state: State) -> Value:
        term = self.instance.term
        late, finish, behind = super().value(state)
        teams, tasks = unfinished(self.instance, state, term)
        return (teams, min(late, term) if not teams else tasks, finish, behind)


def _put_back(search: Search, repair: Repair, budget: int, seed: int, stop: Stop) -> State:
    """List the plan found again and again, some activities trying their old place first."""
    random = Random(seed)  # noqa: S311 - a search, not a secret
    best = search.best
    if not all(best.masks):
        return best
    moved = _moved(repair, best)
    kept: set[int] = set()
    while repair.placed < budget and moved and not stop():
        share = random.choice((0.05, 0.2, 0.5, 1.0))
        wanted = kept | {n for n in moved if random.random() < share}
        trial = repair.listed(lambda n, w=wanted: n in w, [float(s) for s in best.starts])  # type: ignore[misc]
        if not all(trial.masks) or search.value(trial)[:2] > search.value(best)[:2]:
            continue
        still = _moved(repair, trial)
        if len(still) < len(moved):
            best, moved, kept = trial, still, wanted
    return best


def _moved(repair: Repair, state: State) -> list[int]:
    """Jobs that are not in their old place."""
    return [n for n in repair.instance.movable if state.masks[n] != repair.old[n]]
