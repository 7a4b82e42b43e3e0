"""Planning a term, from the page, the command line and the worker alike."""

import datetime as dt
import logging
from collections.abc import Callable
from typing import Any

from sqlalchemy.orm import Session

from app.domain.scheduling import explain
from app.domain.scheduling.check import check
from app.domain.scheduling.events import is_away, shown
from app.domain.scheduling.lessons import LessonKind, LessonPlan, plan_lessons
from app.domain.scheduling.schedule import PlanResult
from app.domain.scheduling.search.solve import solve
from app.models import Lesson, MeetingState, Plan, Section
from app.store.plan import plans, recorded_events
from app.store.plan.section_problem import PlanInput, activity_rows, lesson_problem, meeting_of

log = logging.getLogger(__name__)

Progress = Callable[[int, int], None]
Stop = Callable[[], bool]

SEARCH_WORK = 10.0  # one unit is about a second of one ordinary core


def plan_section(
    session: Session,
    section: Section,
    *,
    by: str,
    now: dt.datetime,
    reason: str = "Planned",
    seconds: float | None = None,
    work: float = SEARCH_WORK,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
    before_search: Callable[[], None] | None = None,
) -> Plan:
    """Plan the section from its first meeting that is not yet taught and save the plan.

    `work` is the deterministic amount of search: the same section, seed and work give the same
    plan. The caller commits. `before_search` may end the reading transaction, so that a long search
    keeps no lock. Raises ValueError with a sentence where no plan can exist at all.
    """
    standing = recorded_events.standing_of(session, section)
    # The current plan to begin with: a new plan is at least as good.
    start = standing.schedule if standing.plan is not None else None
    if before_search is not None:
        before_search()
    standing, result = standing.settled(
        lambda problem: solve(
            problem,
            work=work,
            seconds=seconds,
            on_progress=on_progress,
            should_stop=should_stop,
            start=start,
        )
    )
    board = standing.board
    lessons = lesson_problem(session, board, result.schedule)
    if before_search is not None:
        before_search()
    taught = plan_lessons(lessons)
    plan = plan_row(board, result, taught)
    plan.reason, plan.created_by, plan.created_at = reason, by, now
    plan.before_id = standing.plan.id if standing.plan is not None else None
    plans.save_plan(session, plan)
    log.info(
        "planned section %s: %s, %d of %d teams, finish %s",
        section.id,
        plan.status,
        plan.teams_complete,
        plan.teams,
        plan.finish_date,
    )
    return plan


def plan_row(board: PlanInput, result: PlanResult, taught: LessonPlan) -> Plan:
    """A result as a row with its activities and lessons, not yet saved; the caller signs it."""
    # What needs time comes before rows are read: the database must not stay locked for it.
    broken = [item.sentence for item in check(board.problem, result.schedule)]
    findings = _findings(board, result)
    end = shown(result.schedule).finish
    finish = meeting_of(board, end) if result.complete else None
    bound = meeting_of(board, result.bound) if result.bound else None
    return Plan(
        section_id=board.section.id,
        status=result.status.value,
        finish_date=finish.date if finish else None,
        bound_date=bound.date if bound else None,
        gap_meetings=finish.number - bound.number if finish and bound else None,
        teams=len(board.teams),
        teams_complete=len(board.teams) - result.cost.unfinished,
        limiting=getattr(result, "limiting", None),
        broken_rules=broken,
        uncovered=_uncovered(taught),
        facts={
            "finish_tick": end,
            "bound_tick": result.bound,
            "late_ticks": result.cost.late,
            "first_open": _first_open(board),
            **findings,
            "reasons": list(result.reasons),
            "lesson_minutes": taught.minutes,
            "lesson_status": taught.status.value,
        },
        activities=activity_rows(board, result.schedule),
        lessons=_lesson_rows(board, taught),
    )


def _first_open(board: PlanInput) -> str | None:
    """The first meeting still to come, so that an old plan is known when its day is past."""
    coming = (m for m in board.meetings if m.state is MeetingState.PLANNED)
    first = next(coming, None)
    return first.date.isoformat() if first else None


def _findings(board: PlanInput, result: PlanResult) -> dict[str, Any]:
    """What holds the plan up: the chain of activities that decides its end, and the least float."""
    chain = explain.critical_chain(board.problem, result.schedule)
    slack = sorted(explain.floats(board.problem, result.schedule), key=lambda f: (f.ticks, f.key))
    now = board.problem.now
    open_ = [f for f in slack if result.schedule.by_key[f.key].end > now and not is_away(f.key)]
    ticks: dict[str, int] = {}
    for item in open_:
        ticks.setdefault(item.key.step, item.ticks)
    return {
        "chain": [[key.team, key.step] for key in chain if not is_away(key)],
        "float_minutes": {step: n * board.problem.axis.tick_minutes for step, n in ticks.items()},
    }


def _lesson_rows(board: PlanInput, taught: LessonPlan) -> list[Lesson]:
    numbered = {meeting.number: meeting for meeting in board.meetings}
    return [
        Lesson(
            meeting_id=numbered[part.meeting].id,
            treatment_id=int(placed.key) if placed.kind is LessonKind.LESSON else None,
            permit=placed.key if placed.kind is LessonKind.BRIEFING else None,
            title=placed.title,
            minutes=part.minutes,
            reason=placed.reason,
        )
        for placed in taught.placements
        for part in placed.parts
    ]


def _uncovered(taught: LessonPlan) -> list[dict[str, Any]]:
    return [
        {
            "standard": item.key,
            "why": item.why.value,
            "sentence": item.sentence,
            "partial": item.covered_in_part,
        }
        for item in (*taught.uncovered, *taught.unplaced)
    ]
