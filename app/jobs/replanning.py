"""Planning again after something happened: a first checked plan at once, then priced options.

An option is a set of further events (a step supplied, a second adult, extra meetings, a later
showcase). Trying one is recording it inside a savepoint and rolling back; adopting it is
recording it for good. What is adopted is therefore exactly what was shown.
"""

import datetime as dt
import logging
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Protocol

from sqlalchemy.orm import Session

from app.domain.lessons import LessonPlan, plan_lessons
from app.domain.scheduling.by_hand import broken_by, dropped, filled, moved, together
from app.domain.scheduling.events import is_away, shown
from app.domain.scheduling.problem import Problem, Supervision
from app.domain.scheduling.replan import replanned
from app.domain.scheduling.schedule import (
    Result,
    Schedule,
    Status,
    TaskKey,
    changed_keys,
    cost_of,
)
from app.jobs.planning import plan_row
from app.models import Event, Job, MeetingState, Plan, Section, Step
from app.store import events, plans, sections
from app.store.events import NewEvent, Standing
from app.store.planning import lesson_problem

log = logging.getLogger(__name__)

FIRST_WORK = 0.2  # for the plan that is there at once: one unit is about a second of one core
OPTION_WORK = 1.0
EXTRA_MEETINGS = 4
EXTRA_MINUTES = 45
LUNCH, AFTER_SCHOOL = dt.time(12, 15), dt.time(15, 15)  # common practice, no source

Stop = Callable[[], bool]


@dataclass(frozen=True)
class Option:
    """A way on: what it takes, when it ends, what it moves, costs and gives up.

    `events` are what adopting it records; `changes` counts activities that move against the plan
    the class knows; `cost` is money in the build's currency, with adult and class minutes beside.
    """

    name: str
    events: list[dict[str, Any]]
    finish_date: str | None
    teams_complete: int
    teams: int
    changes: int
    cost: float
    adult_minutes: float
    class_minutes: float
    standards_lost: list[str]
    broken: list[str]
    in_time: bool
    schedule: list[list[Any]] = field(default_factory=list)

    @property
    def facts(self) -> dict[str, Any]:
        """The option in plain values, without its activities."""
        found = asdict(self)
        del found["schedule"]
        return found


@dataclass(frozen=True)
class Candidate:
    """A change to try: its events and what it takes, as far as the build says."""

    name: str
    events: tuple[NewEvent, ...] = ()
    cost: float = 0.0
    adult_minutes: float = 0.0
    class_minutes: float = 0.0
    standards_lost: tuple[str, ...] = ()
    search: bool = True  # False: only what must move moves


class Note(Protocol):
    """Where a job says how far it is and hears that it should stop."""

    job_id: int

    def change(self, name: str) -> None:
        """Say what is being tried."""

    def stop_asked(self) -> bool:
        """Whether someone wants it to end."""


# --- at once ------------------------------------------------------------------------------------


def record_and_replan(
    session: Session, section: Section, new: NewEvent, *, by: str, now: dt.datetime
) -> Event:
    """Record an event and plan again with as few changes as can be. The caller commits.

    Raises ValueError with a sentence, and then nothing has been recorded.
    """
    before = plans.current_plan(session, section)
    with session.begin_nested():
        row = events.record(session, section, new, by=by, now=now)
        if before is not None:
            row.plan_before_id = before.id
            after = replan(session, section, by=by, now=now, reason=events.in_words(row))
            row.plan_after_id = after.id
    return row


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
    standing = events.standing_of(session, section)
    if standing.plan is None:
        raise ValueError("There is no plan yet; plan the term first.")
    standing, result = standing.settled(lambda problem: again(problem, standing.schedule, work))
    return save(session, standing, result, by=by, now=now, reason=reason)


def again(problem: Problem, previous: Schedule, work: float, stop: Stop | None = None) -> Result:
    """Plan again from a plan, with an amount of search."""
    return replanned(problem, previous, work=work, should_stop=stop)


def save(
    session: Session,
    standing: Standing,
    result: Result,
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
    return events.replace_current(session, plan, before if seen is None else seen)


def changes(problem: Problem, before: Schedule, after: Schedule) -> int:
    """How many activities still to come are placed differently."""
    return sum(not is_away(key) for key in changed_keys(problem, before, after))


def _lessons(session: Session, standing: Standing, result: Result) -> LessonPlan:
    """Lessons quickly; exactly only where the quick way would leave more standards uncovered."""
    problem = lesson_problem(session, standing.board, shown(result.schedule))
    quick = plan_lessons(problem, exact=False)
    known = len(standing.plan.uncovered) if standing.plan is not None else 0
    if len(quick.uncovered) + len(quick.unplaced) <= known:
        return quick
    return plan_lessons(problem)


def pinned_in(standing: Standing) -> frozenset[tuple[str, str]]:
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
    standing = events.standing_of(session, section)
    if standing.plan is None or standing.plan.id != seen:
        raise events.Stale("The plan has changed since you looked at it.")
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


def _changed(standing: Standing, asked: ByHand, key: TaskKey) -> Schedule:
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


def _as_result(standing: Standing, schedule: Schedule) -> Result:
    """A plan made by hand in the form of one that was searched for."""
    plan = standing.plan
    cost = cost_of(standing.problem, schedule)
    bound = int(plan.facts.get("bound_tick") or 0) if plan is not None else 0
    return Result(
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
    events.undo(session, section, row, by=by, now=now)
    old = session.get(Plan, row.plan_before_id) if row.plan_before_id else None
    untouched = current is not None and current.id == row.plan_after_id
    if old is not None and untouched and not events.has_moved_on(session, section, current or old):
        return events.replace_current(session, old, current.id if current else None)
    return replan(session, section, by=by, now=now, reason=f"Undone: {events.in_words(row)}")


def step_back(session: Session, section: Section, seen: int, *, forward: bool = False) -> Plan:
    """Undo or redo a change of the plan. Raises ValueError where there is none, or events.Stale."""
    current = plans.current_plan(session, section)
    if current is None or current.id != seen:
        raise events.Stale("The plan has changed since you looked at it.")
    find = events.redo_target if forward else events.undo_target
    other = find(session, current)
    if other is None:
        raise ValueError(f"There is nothing to {'redo' if forward else 'undo'}.")
    if events.has_moved_on(session, section, current):
        raise ValueError("Meetings have been taught since: plan again from here instead.")
    made = {current.id, other.id}
    if any(row.plan_after_id in made and row.plan_before_id in made for row in section.events):
        raise ValueError(
            "This change of the plan came with an event: undo the event on the page of what happened."
        )
    return events.replace_current(session, other, current.id)


# --- options ------------------------------------------------------------------------------------


def options(
    session: Session,
    section: Section,
    *,
    against: Plan | None = None,
    before_search: Callable[[], None] | None = None,
    on_change: Callable[[str], None] | None = None,
    should_stop: Stop | None = None,
    work: float = OPTION_WORK,
) -> list[Option]:
    """A few ways on, each planned and checked, with the fewest changes found.

    `against` is the plan the class knows (default: the current one); changes are counted from it.
    Writes nothing that lasts.
    """
    changes_tried = candidates(session, section)
    found = list(prepared(session, section, changes_tried, against, release=before_search))
    if before_search is not None:
        before_search()
    priced = []
    for candidate, standing, known in found:
        if should_stop is not None and should_stop():
            break
        if on_change is not None:
            on_change(candidate.name)
        priced.append(_priced(candidate, standing, known, work, should_stop))
    return priced


def prepared(
    session: Session,
    section: Section,
    changes: Sequence[Candidate],
    against: Plan | None = None,
    release: Callable[[], None] | None = None,
) -> Iterator[tuple[Candidate, Standing, Schedule]]:
    """Each candidate's problem, read inside a savepoint that is rolled back.

    `release` ends the transaction after each, so that others can write in between.
    """
    for candidate in changes:
        trial = session.begin_nested()
        try:
            for new in candidate.events:
                events.record(session, section, new, by="", now=dt.datetime.now(dt.UTC))
            standing = events.standing_of(session, section)
            known = events.schedule_on(session, standing, against) if against else standing.schedule
            yield candidate, standing, known
        except ValueError as error:
            log.info("candidate %s left out: %s", candidate.name, error)
        finally:
            trial.rollback()
            session.expire_all()
            if release is not None:
                release()


def _priced(
    candidate: Candidate,
    standing: Standing,
    known: Schedule,
    work: float,
    should_stop: Stop | None,
) -> Option:
    # Undisturbed activities keep the place the class knows, not the one of the plan in between.
    effort = work if candidate.search else 0.0
    standing, result = standing.settled(lambda problem: again(problem, known, effort, should_stop))
    problem, schedule = standing.problem, shown(result.schedule)
    return Option(
        name=candidate.name,
        events=[event_facts(new) for new in candidate.events],
        finish_date=_date(problem, schedule.finish) if result.complete else None,
        teams_complete=len(problem.teams) - result.cost.unfinished,
        teams=len(problem.teams),
        changes=changes(problem, known, result.schedule),
        cost=candidate.cost,
        adult_minutes=candidate.adult_minutes,
        class_minutes=candidate.class_minutes,
        standards_lost=list(candidate.standards_lost),
        broken=[] if result.complete else list(result.reasons),
        in_time=result.complete and not result.cost.late,
        schedule=events.schedule_rows(problem, schedule),
    )


def event_facts(new: NewEvent) -> dict[str, Any]:
    """An event in plain values, as files and jobs keep it."""
    return {
        "kind": new.kind,
        "first": new.first.isoformat(),
        "last": new.last.isoformat(),
        "details": dict(new.details),
    }


def event_from_facts(facts: dict[str, Any]) -> NewEvent:
    """The inverse of `event_facts`. Raises ValueError with a sentence."""
    try:
        first = dt.date.fromisoformat(str(facts["first"]))
        last = dt.date.fromisoformat(str(facts.get("last") or facts["first"]))
        return NewEvent(str(facts["kind"]), first, last, dict(facts.get("details", {})))
    except (KeyError, TypeError, ValueError) as error:
        raise ValueError(
            'An event needs "kind", "first" (and "last") as year-month-day, and "details", such as '
            '{"kind": "closure", "first": "2027-03-04", "details": {"label": "Snow"}}.'
        ) from error


def _date(problem: Problem, end_tick: int) -> str | None:
    """The date of the last tick of work; None where there is none."""
    return problem.axis.clock(end_tick - 1).date().isoformat() if end_tick > 0 else None


def candidates(session: Session, section: Section) -> list[Candidate]:
    """What a teacher could do about it: keep on, supply a step, add an adult or meetings, wait."""
    standing = events.standing_of(session, section)
    coming = [
        m for m in sections.list_meetings(session, section) if m.state is MeetingState.PLANNED
    ]
    if not coming:
        raise ValueError("The term is over: there is nothing left to plan.")
    first, last = coming[0].date, section.term.last_day
    found = [
        Candidate("Move only what must move", search=False),
        Candidate("Plan everything again from here"),
    ]
    found += supply_candidates(session, section, standing, most=1)
    found.append(
        Candidate(
            "A second qualified adult from now on",
            (NewEvent("second-adult", first, last, {"count": 1}),),
            adult_minutes=float(sum(m.minutes for m in coming)),
        )
    )
    extra = extra_meetings(section, [m.date for m in coming])
    if extra is not None:
        found.append(extra)
    later = _later_showcase(section, standing)
    if later is not None:
        found.append(later)
    return found


def supply_candidates(
    session: Session, section: Section, standing: Standing, *, most: int
) -> list[Candidate]:
    """Steps that can be bought or made by an adult, those first that free most of the adult."""
    problem = standing.problem
    free: dict[str, int] = {}
    open_teams: dict[str, int] = {}
    for key, step in problem.steps.items():
        row = standing.board.steps.get(key.step)
        if row is None or not row.ready_made or not step.ticks or key in problem.done_by_key:
            continue
        watched = step.supervision is Supervision.AT_THE_MACHINE
        free[key.step] = free.get(key.step, 0) + step.ticks * (10 if watched else 1)
        open_teams[key.step] = open_teams.get(key.step, 0) + 1
    evidence = events.evidence_by_step(session, section) if free else ()
    required = events.required_codes(section)
    return [
        _supply(standing, key, open_teams[key], events.lost_without_step(evidence, required, key))
        for key in sorted(free, key=lambda k: (-free[k], k))[:most]
    ]


def _supply(standing: Standing, key: str, teams: int, lost: Sequence[str]) -> Candidate:
    step: Step = standing.board.steps[key]
    way = step.ready_made[0]
    by = "made by an adult outside class" if way["by"] == "adult" else "supplied ready-made"
    first, last = _rest_of_term(standing)
    return Candidate(
        f"{key} {step.title}: {by}",
        (NewEvent("supplied", first, last, {"step": key, "by": way["by"]}),),
        cost=teams * float(way.get("cost", 0)),
        adult_minutes=teams * float(way.get("adult_minutes", 0)),
        class_minutes=-float(teams * step.minutes_typical),
        standards_lost=tuple(lost),
    )


def _rest_of_term(standing: Standing) -> tuple[dt.date, dt.date]:
    axis = standing.problem.axis
    first = axis.clock(min(standing.problem.now, axis.ticks - 1)).date()
    return first, standing.board.section.term.last_day


def extra_meetings(section: Section, days: Sequence[dt.date]) -> Candidate | None:
    """One extra meeting a week for the next weeks, at lunch or after school."""
    starts_at = LUNCH if _free_at(section, LUNCH) else AFTER_SCHOOL
    by_week: dict[dt.date, dt.date] = {}
    for day in days[1:]:
        by_week.setdefault(day - dt.timedelta(days=day.weekday()), day)
    dates = list(by_week.values())[:EXTRA_MEETINGS]
    work = EXTRA_MINUTES - section.opening_minutes - section.closing_minutes
    if not dates or work <= 0:
        return None
    when = "at lunch" if starts_at == LUNCH else "after school"
    details = {
        "dates": [day.isoformat() for day in dates],
        "starts_at": starts_at.isoformat("minutes"),
        "minutes": EXTRA_MINUTES,
    }
    noun = "meeting" if len(dates) == 1 else "meetings"
    return Candidate(
        f"{len(dates)} extra {noun} {when}, one a week",
        (NewEvent("extra-meeting", dates[0], dates[-1], details),),
        adult_minutes=float(EXTRA_MINUTES * len(dates)),
        class_minutes=float(work * len(dates)),
    )


def _free_at(section: Section, starts_at: dt.time) -> bool:
    """Whether the section does not meet around a time of day, whatever the bells."""
    day = dt.date(2000, 1, 3)
    begins = dt.datetime.combine(day, section.starts_at)
    ends = begins + dt.timedelta(minutes=max(section.bells.values(), default=0))
    wanted = dt.datetime.combine(day, starts_at)
    return wanted >= ends or wanted + dt.timedelta(minutes=EXTRA_MINUTES) <= begins


def _later_showcase(section: Section, standing: Standing) -> Candidate | None:
    """The showcase on the first day after the plan at hand ends, if it ends too late."""
    if section.showcase is None or standing.plan is None or standing.plan.finish_date is None:
        return None
    wanted = standing.plan.finish_date + dt.timedelta(days=1)
    if wanted <= section.showcase or wanted > section.term.last_day:
        return None
    first, last = _rest_of_term(standing)
    return Candidate(
        f"The showcase on {wanted:%A} {wanted.day} {wanted:%B}",
        (NewEvent("showcase", first, last, {"date": wanted.isoformat()}),),
    )


def adopt(
    session: Session,
    section: Section,
    option: dict[str, Any],
    *,
    seen: int,
    by: str,
    now: dt.datetime,
) -> Plan:
    """Record an option's events and make its plan current, exactly as shown. The caller commits.

    Raises events.Stale if the plan is another one by now, ValueError if it no longer holds.
    """
    current = plans.current_plan(session, section)
    if current is None or current.id != seen:
        raise events.Stale("The plan has changed since these options were worked out.")
    with session.begin_nested():
        rows = [
            events.record(session, section, event_from_facts(facts), by=by, now=now)
            for facts in option["events"]
        ]
        plan = _adopted(session, section, option, by=by, now=now, seen=seen)
        for row in rows:
            row.plan_before_id, row.plan_after_id = seen, plan.id
    return plan


def _adopted(
    session: Session,
    section: Section,
    option: dict[str, Any],
    *,
    by: str,
    now: dt.datetime,
    seen: int,
) -> Plan:
    standing = events.standing_of(session, section)
    if not option.get("schedule"):
        return replan(
            session, section, by=by, now=now, reason=str(option["name"]), work=OPTION_WORK
        )
    wanted = events.schedule_from_rows(section.key, standing.problem, option["schedule"])
    # Listing again with everything in its place keeps the plan and proves that it still holds.
    standing, result = standing.settled(lambda problem: again(problem, wanted, 0))
    return save(session, standing, result, by=by, now=now, reason=str(option["name"]), seen=seen)


def carry_out_options(
    session: Session, section: Section, details: dict[str, Any], by: str, note: Note
) -> Plan:
    """The options as a job: they stay on the job, for the plan they were worked out for."""
    del by
    current = plans.current_plan(session, section)
    if current is None:
        raise ValueError("There is no plan yet; plan the term first.")
    against = session.get(Plan, details["against"]) if details.get("against") else None
    version = current.id
    found = options(
        session,
        section,
        against=against,
        before_search=session.rollback,
        on_change=note.change,
        should_stop=note.stop_asked,
    )
    job = session.get_one(Job, note.job_id)
    job.progress = {
        **job.progress,
        "for": version,
        "options": [asdict(option) for option in found],
    }
    return session.get_one(Plan, version)
