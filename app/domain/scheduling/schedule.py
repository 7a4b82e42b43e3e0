"""The answer as a value: activities, what the plan costs, and the result of a search."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from app.domain.scheduling.problem import Problem


class TaskKey(NamedTuple):
    """Which team of which section does which step."""

    section: str
    team: str
    step: str

    def __str__(self) -> str:
        """As a teacher says it: the class is known from where the sentence stands."""
        return f"{self.team} {self.step}".strip()


class Sitting(NamedTuple):
    """An unbroken run of ticks; zero ticks mark a step done outside class before `tick`."""

    tick: int
    ticks: int

    @property
    def end(self) -> int:
        """The tick after the last one."""
        return self.tick + self.ticks


@dataclass(frozen=True)
class PlannedActivity:
    """A task with the sittings in which it is done, in order of time."""

    key: TaskKey
    sittings: tuple[Sitting, ...]

    @property
    def start(self) -> int:
        """The first tick."""
        return self.sittings[0].tick if self.sittings else 0

    @property
    def end(self) -> int:
        """The tick after the last one."""
        return self.sittings[-1].end if self.sittings else 0

    @property
    def ticks(self) -> int:
        """The ticks worked."""
        return sum(sitting.ticks for sitting in self.sittings)


@dataclass(frozen=True)
class Schedule:
    """Activities in the order of their tasks."""

    activities: tuple[PlannedActivity, ...]

    @cached_property
    def by_key(self) -> dict[TaskKey, PlannedActivity]:
        """Activities by task."""
        return {activity.key: activity for activity in self.activities}

    @property
    def finish(self) -> int:
        """The tick after the last one in use."""
        return max((activity.end for activity in self.activities), default=0)

    def replaced(self, *changed: PlannedActivity) -> Schedule:
        """The same plan with some activities changed or added."""
        new = self.by_key | {activity.key: activity for activity in changed}
        return Schedule(tuple(new.values()))


class Cost(NamedTuple):
    """What a plan costs, compared part by part from the left; less is better.

    `unfinished` teams with a task that found no place in the term, `missing` such tasks,
    `late` ticks beyond deadlines and the showcase, `finish` the tick after the last one,
    `changes` activities that differ from the plan before.
    """

    unfinished: int
    missing: int
    late: int
    finish: int
    changes: int = 0


def cost_of(problem: Problem, schedule: Schedule, previous: Schedule | None = None) -> Cost:
    """The cost of a plan, computed from its activities alone."""
    placed = schedule.by_key
    missing = [
        key
        for key, step in problem.steps.items()
        if key not in placed and not _finished(problem, key)
    ]
    late = 0
    ends: dict[str, int] = {}
    for activity in schedule.activities:
        deadline = problem.steps[activity.key].deadline_tick
        if deadline is not None:
            late += max(0, activity.end - deadline)
        section = activity.key.section
        ends[section] = max(ends.get(section, 0), activity.end)
    for section, due in problem.due_ticks.items():
        late += max(0, ends.get(section, 0) - due)
    return Cost(
        unfinished=len({key[:2] for key in missing}),
        missing=len(missing),
        late=late,
        finish=schedule.finish,
        changes=0 if previous is None else len(changed_keys(problem, previous, schedule)),
    )


def changed_keys(problem: Problem, before: Schedule, after: Schedule) -> tuple[TaskKey, ...]:
    """Tasks of the problem whose sittings from now on differ between two plans."""

    def future(plan: Schedule, key: TaskKey) -> tuple[Sitting, ...] | None:
        activity = plan.by_key.get(key)
        if activity is None:
            return None
        return tuple(
            sitting for sitting in activity.sittings if sitting.end > problem.now and sitting.ticks
        )

    done = {d.key for d in problem.done if d.finished}
    keys = [key for key, step in problem.steps.items() if key not in done and step.ticks]
    return tuple(key for key in keys if future(before, key) != future(after, key))


def _finished(problem: Problem, key: TaskKey) -> bool:
    done = problem.done_by_key.get(key)
    return done is not None and done.finished


class Status(StrEnum):
    """How far the search got.

    OPTIMAL: every task is placed and no plan finishes earlier. FEASIBLE: every task is placed.
    INCOMPLETE: some task found no place. IMPOSSIBLE: proven that not every task fits.
    """

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    INCOMPLETE = "incomplete"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, kw_only=True)
class PlanResult:
    """What a search found and proved.

    `bound` is a tick before which no complete plan can finish, `needed` the finish of the best
    plan on an axis long enough to hold it, `limiting` the resource that decides the bound (None:
    the longest chain), `reasons` sentences that say what does not fit.
    `work` is the deterministic work done; `stopped` says that someone ended the search early.
    """

    status: Status
    schedule: Schedule
    cost: Cost
    bound: int
    needed: int
    limiting: str | None = None
    reasons: tuple[str, ...] = ()
    work: float = 0.0
    stopped: bool = False

    @property
    def gap(self) -> float:
        """Relative gap between the finish and its bound; 0 when proven."""
        return max(0.0, (self.needed - self.bound) / self.needed) if self.needed else 0.0

    @property
    def complete(self) -> bool:
        """Whether every task found a place in the term."""
        return self.cost.missing == 0
