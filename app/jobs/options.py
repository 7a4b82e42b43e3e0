"""The ways on after something happened: a few priced options, tried out and adopted.

An option is a set of further events (a step supplied or left out, a second adult, extra meetings,
a later showcase). Trying one is recording it inside a savepoint and rolling back; adopting it is
recording it for good. What is adopted is therefore exactly what was shown.
"""

import datetime as dt
import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from app.domain.scheduling.events import shown
from app.domain.scheduling.problem import Problem, Supervision
from app.domain.scheduling.schedule import Schedule
from app.jobs.note import Note
from app.jobs.replanning import Stop, again, changes, replan, save
from app.models import Job, MeetingState, Plan, Section, Step
from app.store import sections
from app.store.plan import plans, recorded_events
from app.store.plan.recorded_events import EventStanding, NewEvent
from app.store.standard import section_coverage

log = logging.getLogger(__name__)

FEWEST_OPTIONS, MOST_OPTIONS = 2, 4
OPTION_WORK = 0.5  # for each option: one unit is about a second of one core
EXTRA_MEETINGS = 4
EXTRA_MINUTES = 45
LUNCH, AFTER_SCHOOL = dt.time(12, 15), dt.time(15, 15)  # common practice, no source


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
class OptionCandidate:
    """A change to try: its events and what it takes, as far as the build says."""

    name: str
    events: tuple[NewEvent, ...] = ()
    cost: float = 0.0
    adult_minutes: float = 0.0
    class_minutes: float = 0.0
    standards_lost: tuple[str, ...] = ()
    search: bool = True  # False: only what must move moves
    any_day: bool = False  # True: the end of the term will do, the showcase may pass


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
    """Two to four ways on, each planned and checked, with the fewest changes found.

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
    return worth_showing(priced)


def worth_showing(priced: Sequence[Option]) -> list[Option]:
    """The first option, and of the others the best that no option beats in every respect."""
    first, others = list(priced[:1]), list(priced[1:])
    kept = [o for o in others if not any(_beats(p, o) for p in priced)]
    beaten = [o for o in others if o not in kept]
    kept.sort(key=_rank)
    kept += sorted(beaten, key=_rank)[: max(0, FEWEST_OPTIONS - len(first) - len(kept))]
    return first + kept[: MOST_OPTIONS - len(first)]


def _rank(option: Option) -> tuple[Any, ...]:
    """Less is better, from the left: teams and date first, then the price."""
    return (
        -option.teams_complete,
        not option.in_time,
        len(option.standards_lost),
        option.cost,
        option.adult_minutes,
        option.changes,
        option.finish_date or "~",
    )


def _beats(one: Option, other: Option) -> bool:
    """At least as good in every respect, and better in one."""
    mine, theirs = _rank(one), _rank(other)
    return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))


def prepared(
    session: Session,
    section: Section,
    changes: Sequence[OptionCandidate],
    against: Plan | None = None,
    release: Callable[[], None] | None = None,
) -> Iterator[tuple[OptionCandidate, EventStanding, Schedule]]:
    """Each candidate's problem, read inside a savepoint that is rolled back.

    `release` ends the transaction after each, so that others can write in between.
    """
    for candidate in changes:
        trial = session.begin_nested()
        try:
            for new in candidate.events:
                recorded_events.record(session, section, new, by="", now=dt.datetime.now(dt.UTC))
            standing = recorded_events.standing_of(session, section)
            known = (
                recorded_events.schedule_on(session, standing, against)
                if against
                else standing.schedule
            )
            yield candidate, standing, known
        except ValueError as error:
            log.info("candidate %s left out: %s", candidate.name, error)
        finally:
            trial.rollback()
            session.expire_all()
            if release is not None:
                release()


def _priced(
    candidate: OptionCandidate,
    standing: EventStanding,
    known: Schedule,
    work: float,
    should_stop: Stop | None,
) -> Option:
    # Undisturbed activities keep the place the class knows, not the one of the plan in between.
    effort = work if candidate.search else 0.0
    standing, result = standing.settled(
        lambda problem: again(
            problem,
            known,
            effort,
            should_stop,
            target=problem.axis.ticks if candidate.any_day else None,
        )
    )
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
        schedule=recorded_events.schedule_rows(problem, schedule),
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


def candidates(session: Session, section: Section) -> list[OptionCandidate]:
    """What a teacher could do about it.

    Keep on, do less, supply a step, add an adult or meetings, wait.
    """
    standing = recorded_events.standing_of(session, section)
    coming = [
        m for m in sections.list_meetings(session, section) if m.state is MeetingState.PLANNED
    ]
    if not coming:
        raise ValueError("The term is over: there is nothing left to plan.")
    first, last = coming[0].date, section.term.last_day
    found = [
        OptionCandidate("Move only what must move", search=False),
        OptionCandidate("Few moves, every team done within the term", any_day=True),
    ]
    later = _later_showcase(section, standing)
    if later is not None:
        found.append(later)
    elif section.showcase is not None:
        found.append(OptionCandidate("Plan again for the showcase"))
    found += made_otherwise(session, section, standing, most=1)
    found.append(
        OptionCandidate(
            "A second qualified adult from now on",
            (NewEvent("second-adult", first, last, {"count": 1}),),
            adult_minutes=float(sum(m.minutes for m in coming)),
        )
    )
    extra = extra_meetings(section, [m.date for m in coming])
    if extra is not None:
        found.append(extra)
    return found


def made_otherwise(
    session: Session, section: Section, standing: EventStanding, *, most: int
) -> list[OptionCandidate]:
    """Steps that need not be made in class: one at a time, and all that can be left out together."""
    steps = _open_steps(standing)
    if not steps:
        return []
    facts = section_coverage.section_facts(session, section)
    required = {code for code, item in facts.coverage.standards.items() if item.required}

    def lost(keys: Sequence[str]) -> list[str]:
        losses = section_coverage.losses(facts, steps=keys)
        return [loss.sentence for loss in losses if loss.standard in required]

    single = _by_adult(standing, steps)[:most]
    found = [_supply(standing, [key], steps, lost([key])) for key in single]
    spare = sorted(k for k in steps if standing.board.steps[k].ready_made[0]["by"] == "left-out")
    return found + ([_supply(standing, spare, steps, lost(spare))] if len(spare) > 1 else [])


def _by_adult(standing: EventStanding, steps: Mapping[str, tuple[int, int]]) -> list[str]:
    """The steps' keys, those first that free most of the adult."""
    watched = {
        key.step
        for key, step in standing.problem.steps.items()
        if step.supervision is Supervision.AT_THE_MACHINE
    }

    def freed(key: str) -> int:
        return steps[key][1] * (10 if key in watched else 1)

    return sorted(steps, key=lambda key: (-freed(key), key))


def _open_steps(standing: EventStanding) -> dict[str, tuple[int, int]]:
    """Steps some team has not begun that need not be made in class: those teams, their ticks."""
    problem = standing.problem
    found: dict[str, tuple[int, int]] = {}
    for key, step in problem.steps.items():
        row = standing.board.steps.get(key.step)
        if row is None or not row.ready_made or not step.ticks or key in problem.done_by_key:
            continue
        teams, ticks = found.get(key.step, (0, 0))
        found[key.step] = (teams + 1, ticks + step.ticks)
    return found


WAYS = {
    "adult": "made by an adult outside class",
    "supplied": "supplied ready-made",
    "left-out": "left out",
}


def _supply(
    standing: EventStanding,
    keys: Sequence[str],
    steps: Mapping[str, tuple[int, int]],
    lost: Sequence[str],
) -> OptionCandidate:
    rows: list[Step] = [standing.board.steps[key] for key in keys]
    ways = [row.ready_made[0] for row in rows]
    first, last = _rest_of_term(standing)
    counts = [steps[key][0] for key in keys]
    if len(rows) == 1:
        name = f"{keys[0]} {rows[0].title}: {WAYS[ways[0]['by']]}"
    else:
        name = f"A smaller scope: {', '.join(keys[:-1])} and {keys[-1]} left out"
    return OptionCandidate(
        name,
        tuple(
            NewEvent("supplied", first, last, {"step": key, "by": way["by"]})
            for key, way in zip(keys, ways, strict=True)
        ),
        cost=sum(n * float(way.get("cost", 0)) for n, way in zip(counts, ways, strict=True)),
        adult_minutes=sum(
            n * float(way.get("adult_minutes", 0)) for n, way in zip(counts, ways, strict=True)
        ),
        class_minutes=-float(
            sum(n * row.minutes_typical for n, row in zip(counts, rows, strict=True))
        ),
        standards_lost=tuple(lost),
    )


def _rest_of_term(standing: EventStanding) -> tuple[dt.date, dt.date]:
    axis = standing.problem.axis
    first = axis.clock(min(standing.problem.now, axis.ticks - 1)).date()
    return first, standing.board.section.term.last_day


def extra_meetings(section: Section, days: Sequence[dt.date]) -> OptionCandidate | None:
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
    return OptionCandidate(
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


def _later_showcase(section: Section, standing: EventStanding) -> OptionCandidate | None:
    """The showcase on the first day after the plan at hand ends, if it ends too late."""
    if section.showcase is None or standing.plan is None or standing.plan.finish_date is None:
        return None
    wanted = standing.plan.finish_date + dt.timedelta(days=1)
    if wanted <= section.showcase or wanted > section.term.last_day:
        return None
    first, last = _rest_of_term(standing)
    return OptionCandidate(
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
        raise recorded_events.Stale("The plan has changed since these options were worked out.")
    with session.begin_nested():
        rows = [
            recorded_events.record(session, section, event_from_facts(facts), by=by, now=now)
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
    standing = recorded_events.standing_of(session, section)
    if not option.get("schedule"):
        return replan(
            session, section, by=by, now=now, reason=str(option["name"]), work=OPTION_WORK
        )
    wanted = recorded_events.schedule_from_rows(section.key, standing.problem, option["schedule"])
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
