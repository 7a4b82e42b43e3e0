"""Moving, splitting and dropping an activity by hand; the checker says what that breaks."""

from __future__ import annotations

from collections.abc import Iterable

from app.domain.scheduling.check import Violation, check
from app.domain.scheduling.events import with_away
from app.domain.scheduling.instance import compile_problem
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import PlannedActivity, Schedule, Sitting, TaskKey
from app.domain.scheduling.search.list_schedule import place_outside_class


def filled(problem: Problem, schedule: Schedule) -> Schedule:
    """A stored plan with what is not stored: steps done outside class, and teams that are out."""
    placed = {a.key: a for a in with_away(problem, schedule).activities if a.sittings}
    for done in problem.done:
        if done.finished:
            placed[done.key] = PlannedActivity(done.key, done.sittings)
    for key in [key for key, step in problem.steps.items() if not step.ticks]:
        if key not in problem.done_by_key:
            placed.pop(key, None)
    instance = compile_problem(problem)
    place_outside_class(instance, placed, instance.term)
    return Schedule(tuple(placed[key] for key in problem.steps if key in placed))


def moved(
    problem: Problem,
    schedule: Schedule,
    key: TaskKey,
    tick: int,
    *,
    first_ticks: int | None = None,
    rest_tick: int | None = None,
) -> Schedule:
    """The plan with what is left of a task put at a tick, going on in the meetings that follow.

    With `first_ticks`, only so many are done there and the rest from `rest_tick` on. Rules are not
    asked here: see `broken_by`. Raises ValueError with a sentence where there is nothing to move,
    or no meeting to move it to.
    """
    worked, left = _left(problem, key)
    if first_ticks is None:
        sittings = _from(problem, key, tick, left)
    else:
        if rest_tick is None or not 0 < first_ticks < left:
            minutes = problem.axis.tick_minutes
            raise ValueError(
                f"{key} has {left * minutes} minutes left: give the first part fewer, and at least "
                f"{minutes}."
            )
        sittings = sorted(
            [
                *_from(problem, key, tick, first_ticks),
                *_from(problem, key, rest_tick, left - first_ticks),
            ]
        )
    return schedule.replaced(PlannedActivity(key, (*worked, *sittings)))


def dropped(problem: Problem, schedule: Schedule, key: TaskKey) -> Schedule:
    """The plan without what is still to come of a task. Raises ValueError if nothing is."""
    worked, _ = _left(problem, key)
    rest = Schedule(tuple(a for a in schedule.activities if a.key != key))
    return rest.replaced(PlannedActivity(key, worked)) if worked else rest


def _left(problem: Problem, key: TaskKey) -> tuple[tuple[Sitting, ...], int]:
    """What has been worked of a task, and the ticks it still needs."""
    step = problem.steps.get(key)
    if step is None:
        raise ValueError(f"{key} is not a step of any team in this plan.")
    if not step.ticks:
        raise ValueError(f"{key.step} is done outside class: it takes no time of a meeting.")
    done = problem.done_by_key.get(key)
    if done is not None and done.finished:
        raise ValueError(f"{key.step} of team {key.team} is done: the past cannot move.")
    worked = done.sittings if done is not None else ()
    return worked, step.ticks - sum(sitting.ticks for sitting in worked)


def _from(problem: Problem, key: TaskKey, tick: int, ticks: int) -> list[Sitting]:
    """So many ticks of the section's own meetings from a tick on, cut where a meeting ends."""
    axis = problem.axis
    if axis.meeting_at(key.section, tick) is None:
        raise ValueError("The class does not meet at that time: choose a minute of a meeting.")
    pieces: list[Sitting] = []
    index: int | None = None
    for at in range(tick, axis.ticks):
        here = axis.meeting_at(key.section, at)
        if here is None:
            continue
        if pieces and here == index and pieces[-1].end == at:
            pieces[-1] = Sitting(pieces[-1].tick, pieces[-1].ticks + 1)
        else:
            pieces.append(Sitting(at, 1))
        index = here
        ticks -= 1
        if not ticks:
            return pieces
    raise ValueError(
        f"From there the term has no room for the {key.step} of team {key.team}: begin earlier."
    )


def broken_by(problem: Problem, before: Schedule, after: Schedule) -> list[Violation]:
    """The rules that a change breaks, all at once; what was broken before is not named again."""
    known = {violation.sentence for violation in check(problem, filled(problem, before))}
    return [v for v in check(problem, filled(problem, after)) if v.sentence not in known]


def together(problem: Problem, key: TaskKey) -> Iterable[TaskKey]:
    """The tasks that move with a task: all teams' of a whole-class step, else itself."""
    if not problem.steps[key].whole_class:
        return (key,)
    return tuple(
        other
        for other, step in problem.steps.items()
        if (other.section, other.step) == (key.section, key.step) and step.whole_class
    )
