"""Large-neighbourhood search over list schedules.

Each round takes the end of the best plan off from some tick on and lists it again with shaken
priorities, or pushes the whole plan late and early again (Shaw 1998; Ruiz and Stuetzle 2007 for
the iterated greedy form). What guides it is by how much jobs miss the latest times that a plan
ending at the proven bound would need. Deterministic: the budget is counted in jobs placed.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from app.domain.scheduling.instance import Instance
from app.domain.scheduling.search.backward import Mirror
from app.domain.scheduling.search.bounds import Windows
from app.domain.scheduling.search.list_schedule import (
    ListState,
    list_schedule,
    place_all,
    start_state,
    tails,
)

PATIENCE = 300
SHAKES = (3.0, 10.0, 30.0)
STAGGERS = (0.0, 5.0, 10.0)

Value = tuple[float, ...]


class Search:
    """The state of one search: the best plan so far and what it costs."""

    def __init__(self, instance: Instance, windows: Windows, target: int, seed: int) -> None:
        self.instance = instance
        self.random = Random(seed)  # noqa: S311 - a search, not a secret
        self.start = start_state(instance)
        self.mirror = Mirror(instance)
        self.tails = tails(instance)
        self.teams = [job.teams[0] if len(job.teams) == 1 else 0 for job in instance.jobs]
        self.last_jobs = [n for n, job in enumerate(instance.jobs) if not job.followers]
        self.due = sorted(instance.problem.due_ticks.items())
        self.deadlines = [
            (n, job.deadline) for n, job in enumerate(instance.jobs) if job.deadline is not None
        ]
        self.latest_ends = windows.latest(max(target, 1))[1]
        self.placed = 0
        self.best = self.start
        self.best_value: Value = ()

    def value(self, state: ListState) -> Value:
        """Lateness, finish and, to guide the search, how far jobs lie behind their latest ends."""
        ends = state.ends
        late = sum(max(0, ends[n] - deadline) for n, deadline in self.deadlines)
        for section, due in self.due:
            own = [ends[n] for n in self.last_jobs if self.instance.jobs[n].section == section]
            late += max(0, max(own, default=0) - due)
        finish = max([ends[n] for n in self.last_jobs], default=0)
        behind = sum(
            [end - limit for end, limit in zip(ends, self.latest_ends, strict=True) if end > limit]
        )
        return (late, finish, behind)

    def offer(self, state: ListState) -> bool:
        """Keep a complete plan if it is the best so far."""
        value = self.value(state)
        if self.best_value and value >= self.best_value:
            return False
        self.best, self.best_value = state, value
        return True

    def first_plans(self, report: Callable[[int], None] | None = None) -> None:
        """List schedules by several rules, each pushed late and early again.

        `report(finish)` is called for each that is the best so far.
        """
        rules: list[list[float]] = [[-float(tail) for tail in self.tails]]
        pairs = list(zip(self.latest_ends, self.teams, strict=True))
        rules += [[end + 2.0 * team for end, team in pairs]]
        rules += [self._shaken_rule() for _ in range(3)]
        for rule in rules:
            plan = self._from_rule(rule)
            if plan is not None and self.offer(plan) and report is not None:
                report(max(plan.ends))

    def team_by_team(self) -> list[ListState]:
        """Plans that see some teams through first: when not all can finish, some should."""
        plans = []
        for stagger in (5.0, 10.0, 20.0, 40.0, 1000.0):
            pairs = zip(self.tails, self.teams, strict=True)
            plans.append(list_schedule(self.start, [stagger * team - tail for tail, team in pairs]))
            self.placed += len(self.instance.jobs)
        return plans

    def _shaken_rule(self) -> list[float]:
        shake = self.random.choice((5.0, 10.0, 20.0))
        stagger = self.random.choice(STAGGERS)
        draw = self.random.uniform
        return [
            stagger * team - tail + draw(-shake, shake)
            for tail, team in zip(self.tails, self.teams, strict=True)
        ]

    def _from_rule(self, rule: list[float]) -> ListState | None:
        plan = list_schedule(self.start, rule)
        self.placed += len(self.instance.jobs)
        if not all(plan.masks):
            return None
        improved = self.mirror.improved(self.start, plan)
        self.placed += 4 * len(self.instance.jobs)
        return improved if all(improved.masks) else plan

    def run(self, budget: int, enough: Callable[[ListState], bool]) -> None:
        """Search until the budget of placed jobs is spent or the best plan is good enough."""
        current, value = self.best, self.best_value
        stale = 0
        if not value or not self.instance.movable:
            return
        while self.placed < budget and not enough(self.best):
            stale += 1
            if stale > PATIENCE:
                current, value, stale = *self._fresh(current, value), 0
            trial = (
                self._pushed(current) if self.random.random() < 0.25 else self._relisted(current)
            )
            if trial is None or not all(trial.masks):
                continue
            trial_value = self.value(trial)
            if trial_value <= value:
                stale = 0 if trial_value < value else stale
                current, value = trial, trial_value
                self.offer(trial)

    def _fresh(self, state: ListState, value: Value) -> tuple[ListState, Value]:
        """The best of a few new first plans; the old one if none is complete."""
        plans = [self._from_rule(self._shaken_rule()) for _ in range(4)]
        complete = [(self.value(plan), n) for n, plan in enumerate(plans) if plan is not None]
        if not complete:
            return state, value
        best_value, number = min(complete)
        return plans[number] or state, best_value

    def _pushed(self, state: ListState) -> ListState | None:
        """The whole plan pushed late in a shaken order, then early again."""
        shake = self.random.choice((2.0, 5.0, 10.0, 20.0))
        draw = self.random.uniform
        order = self.mirror.latest_starts(state, [end + draw(-shake, shake) for end in state.ends])
        self.placed += 2 * len(self.instance.jobs)
        return None if order is None else list_schedule(self.start, order)

    def _relisted(self, state: ListState) -> ListState:
        """The end of the plan, from a random tick on, listed again in a shaken order."""
        starts = state.starts
        tick = self.random.uniform(0, max(state.ends) * 0.95)
        shake = self.random.choice(SHAKES)
        draw = self.random.uniform
        order = [start + draw(-shake, shake) if start >= tick else start for start in starts]
        movable = self.instance.movable
        numbers = [n for n in movable if starts[n] >= tick]
        if 2 * len(numbers) > len(movable):
            self.placed += len(movable)
            return list_schedule(self.start, order)
        trial = state.copy()
        for number in sorted(numbers, key=starts.__getitem__, reverse=True):
            trial.unplace(number)
        place_all(trial, order, numbers)
        self.placed += len(numbers)
        return trial
