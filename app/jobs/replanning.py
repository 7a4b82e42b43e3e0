"""Planning again after something happened: a first checked plan at once, by hand, undo."""

import datetime as dt
import logging
from collections.abc import Callable
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from app.domain.scheduling.by_hand import broken_by, dropped, filled, moved, together
from app.domain.scheduling.events import is_away, shown
from app.domain.scheduling.lessons import LessonPlan, plan_lessons
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import (
    PlanResult,
    Schedule,
    Status,
    TaskKey,
    changed_keys,
    cost_of,
)
from app.domain.scheduling.search.replan import replanned
from app.jobs.planning import plan_row
from app.models import Event, Plan, Section
from app.store.plan import plans, recorded_events
from app.store.plan.recorded_events import EventStanding, NewEvent
from app.store.plan.section_problem import lesson_problem

log = logging.getLogger(__name__)

FIRST_WORK = 0.2  # for the plan that is there at once: one unit is about a second of one core

Stop = Callable[[], bool]

# --- at once ------------------------------------------------------------------------------------


def record_and_replan(
    session: Session, section: Section, new: NewEvent, *, by: str, now: dt.datetime
) -> Event:
    """Record an event and plan again with as few changes as can be. The caller commits.

    Raises ValueError with a sentence, and then nothing has been recorded.
    """
    before = plans.current_plan(session, section)
    with session.begin_nested():
        row = recorded_events.record(session, section, new, by=by, now=now)
        if before is not None:
            row.plan_before_id = before.id
            after = replan(session, section, by=by, now=now, reason=recorded_events.in_words(row))
            row.plan_after_id = after.id
    return row


def record_elsewhere(
    session: Session, section: Section, new: NewEvent, *, by: str, now: dt.datetime
) -> str:
    """The same for another class, in a sentence: what moves, or why it does not concern it."""
    try:
        row = record_and_replan(session, section, new, by=by, now=now)
    except ValueError as error:
        return f"Not for {section.title}: {error}"
    plan = session.get(Plan, row.plan_after_id) if row.plan_after_id is not None else None
    moved = plan.facts["changes"] if plan is not None else 0
    count = f"{moved} activities move" if moved else "nothing moves"
    return f"Recorded for {section.title} too: {count}."


def replan(
    session: Session,
    section: Section,
    *,
    by: str,
    now: dt.datetime,
    reason: str,
    work: float = FIRST_WORK,
) -> Plan:
    """Keep what can stay of the current plan and place the rest; saves and returns the new plan.

    Raises ValueError where there is no plan yet or nothing can be planned.
    """
    standing = recorded_events.standing_of(session, section)
    if standing.plan is None:
        raise ValueError("There is no plan yet; plan the term first.")
    standing, result = standing.settled(lambda problem: again(problem, standing.schedule, work))
    return save(session, standing, result, by=by, now=now, reason=reason)


def again(
    problem: Problem,
    previous: Schedule,
    work: float,
    stop: Stop | None = None,
    *,
    target: int | None = None,
) -> PlanResult:
    """Plan again from a plan, with an amount of search, for a finish of `target` ticks."""
    return replanned(problem, previous, work=work, target=target, should_stop=stop)


def save(
    session: Session,
    standing: EventStanding,
    result: PlanResult,
    *,
    by: str,
    now: dt.datetime,
    reason: str,
    seen: int | None = None,
    pinned: frozenset[tuple[str, str]] | None = None,
) -> Plan:
    """Make a result the current plan in the place of the one that `standing` was read with.

    `seen` is the plan that the person looked at (default: that one), `pinned` the teams and steps
    that nobody may move (default: as before). Raises events.Stale.
    """
    board = standing.board
    taught = _lessons(session, standing, result)
    plan = plan_row(board, result, taught)
    plan.reason, plan.created_by, plan.created_at = reason, by, now
    before = standing.plan.id if standing.plan else None
    plan.before_id = before
    plan.facts = {
        **plan.facts,
        "changes": changes(standing.problem, standing.schedule, result.schedule),
    }
    if pinned is None:
        pinned = pinned_in(standing)
    keys = {board.teams[team].id: team for team in board.teams}
    steps = {row.id: key for key, row in board.steps.items()}
    for row in plan.activities:
        row.pinned = (keys[row.team_id], steps[row.step_id]) in pinned
    return recorded_events.replace_current(session, plan, before if seen is None else seen)


def changes(problem: Problem, before: Schedule, after: Schedule) -> int:
    """How many activities still to come are placed differently."""
    return sum(not is_away(key) for key in changed_keys(problem, before, after))


def _lessons(session: Session, standing: EventStanding, result: PlanResult) -> LessonPlan:
    """Lessons quickly; exactly only where the quick way would leave more standards uncovered."""
    problem = lesson_problem(session, standing.board, shown(result.schedule))
    quick = plan_lessons(problem, exact=False)
    known = len(standing.plan.uncovered) if standing.plan is not None else 0
    if len(quick.uncovered) + len(quick.unplaced) <= known:
        return quick
    return plan_lessons(problem)


def pinned_in(standing: EventStanding) -> frozenset[tuple[str, str]]:
    """The teams and steps that are pinned."""
    return frozenset((pin.key.team, pin.key.step) for pin in standing.problem.pins)


# --- by hand ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ByHand:
    """A change of one activity: move, split, pin, unpin or drop.

    `start` is where it goes; a split does `first_minutes` there and the rest from `rest` on.
    """

    action: str
    team: str
    step: str
    start: dt.datetime | None = None
    first_minutes: int | None = None
    rest: dt.datetime | None = None


def change_by_hand(
    session: Session,
    section: Section,
    asked: ByHand,
    *,
    seen: int,
    anyway: bool,
    by: str,
    now: dt.datetime,
) -> list[str]:
    """Change an activity; the sentences of the rules it breaks, and then nothing is saved.

    With `anyway` it is saved all the same, and the plan says what it breaks. The caller commits.
    Raises ValueError with a sentence for what cannot be done, events.Stale for an old page.
    """
    standing = recorded_events.standing_of(session, section)
    if standing.plan is None or standing.plan.id != seen:
        raise recorded_events.Stale("The plan has changed since you looked at it.")
    key = TaskKey(section.key, asked.team, asked.step)
    if key not in standing.problem.steps:
        raise ValueError(f"Team {asked.team} has no step {asked.step} in this plan.")
    schedule = _changed(standing, asked, key)
    broken = broken_by(_without_pin(standing.problem, key), standing.schedule, schedule)
    sentences = [violation.sentence for violation in broken]
    if sentences and not anyway:
        return sentences
    pinned = set(pinned_in(standing))
    names = {(k.team, k.step) for k in together(standing.problem, key)}
    pinned = pinned | names if asked.action == "pin" else pinned - names
    whole = filled(standing.problem, schedule)
    result = _as_result(standing, whole)
    save(
        session,
        standing,
        result,
        by=by,
        now=now,
        reason=f"By hand: {asked.step} of team {asked.team} {PAST[asked.action]}",
        seen=seen,
        pinned=frozenset(pinned),
    )
    return sentences


PAST = {
    "move": "moved",
    "split": "split",
    "pin": "pinned",
    "unpin": "no longer pinned",
    "drop": "taken out",
}


def _without_pin(problem: Problem, key: TaskKey) -> Problem:
    return replace(problem, pins=tuple(pin for pin in problem.pins if pin.key != key))


def _changed(standing: EventStanding, asked: ByHand, key: TaskKey) -> Schedule:
    problem, schedule = standing.problem, standing.schedule
    if asked.action in {"pin", "unpin"}:
        if key not in schedule.by_key:
            raise ValueError(f"{asked.step} of team {asked.team} has no place to pin it to.")
        return schedule
    for task in together(problem, key):
        if asked.action == "drop":
            schedule = dropped(problem, schedule, task)
        else:
            if asked.start is None:
                raise ValueError("Choose the meeting and the time it should begin.")
            split = asked.action == "split"
            schedule = moved(
                problem,
                schedule,
                task,
                problem.axis.tick_at(asked.start),
                first_ticks=(asked.first_minutes or 0) // problem.axis.tick_minutes
                if split
                else None,
                rest_tick=problem.axis.tick_at(asked.rest) if split and asked.rest else None,
            )
    return schedule


def _as_result(standing: EventStanding, schedule: Schedule) -> PlanResult:
    """A plan made by hand in the form of one that was searched for."""
    plan = standing.plan
    cost = cost_of(standing.problem, schedule)
    bound = int(plan.facts.get("bound_tick") or 0) if plan is not None else 0
    return PlanResult(
        status=Status.INCOMPLETE if cost.missing else Status.FEASIBLE,
        schedule=schedule,
        cost=cost,
        bound=min(bound, cost.finish),
        needed=cost.finish,
        limiting=plan.limiting if plan is not None else None,
    )


# --- undo and redo ------------------------------------------------------------------------------


def undo_event(
    session: Session, section: Section, row: Event, *, by: str, now: dt.datetime
) -> Plan:
    """Take an event back. The old plan comes back if nothing has happened since; else plan again.

    Raises ValueError with a sentence.
    """
    current = plans.current_plan(session, section)
    recorded_events.undo(session, section, row, by=by, now=now)
    old = session.get(Plan, row.plan_before_id) if row.plan_before_id else None
    untouched = current is not None and current.id == row.plan_after_id
    if (
        old is not None
        and untouched
        and not recorded_events.has_moved_on(session, section, current or old)
    ):
        return recorded_events.replace_current(session, old, current.id if current else None)
    return replan(
        session, section, by=by, now=now, reason=f"Undone: {recorded_events.in_words(row)}"
    )


def step_back(session: Session, section: Section, seen: int, *, forward: bool = False) -> Plan:
    """Undo or redo a change of the plan. Raises ValueError where there is none, or events.Stale."""
    current = plans.current_plan(session, section)
    if current is None or current.id != seen:
        raise recorded_events.Stale("The plan has changed since you looked at it.")
    find = recorded_events.redo_target if forward else recorded_events.undo_target
    other = find(session, current)
    if other is None:
        raise ValueError(f"There is nothing to {'redo' if forward else 'undo'}.")
    if recorded_events.has_moved_on(session, section, current):
        raise ValueError("Meetings have been taught since: plan again from here instead.")
    made = {current.id, other.id}
    if any(row.plan_after_id in made and row.plan_before_id in made for row in section.events):
        raise ValueError(
            "This change of the plan came with an event: undo the event on the page of what happened."
        )
    return recorded_events.replace_current(session, other, current.id)
