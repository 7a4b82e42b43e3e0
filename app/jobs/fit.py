"""The fit check in several processes, and what each change would buy."""

import datetime as dt
import multiprocessing
import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from sqlalchemy.orm import Session

from app.domain.scheduling.chance import (
    Chances,
    Fit,
    Played,
    fit_of,
    usual_chances,
)
from app.domain.scheduling.events import shown
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import PlanResult
from app.jobs import options, replanning
from app.jobs.note import Note
from app.jobs.options import OptionCandidate, event_facts
from app.jobs.terms import Round, play_chunk, prepare
from app.models import Job, MeetingState, Plan, Section
from app.store import sections
from app.store.plan import plans, recorded_events
from app.store.plan.recorded_events import EventStanding, NewEvent

TERMS = 200
TERMS_PER_CHANGE = 60
CHANGE_WORK = 1.0
SUPPLIED_TRIED = 5
CHUNK = 10

Progress = Callable[[int, int], None]
Stop = Callable[[], bool]


def class_chances(section: Section, standing: EventStanding) -> Chances:
    """The class's own absence rates and the build's own spread of minutes, with the usual rates."""
    steps = standing.board.steps.values()
    return usual_chances(
        standing.problem,
        recorded_events.absence_rates(section),
        hands={step.key: step.hands for step in steps},
        spread={
            step.key: max(1.0, step.minutes_high / step.minutes_low)
            for step in steps
            if step.minutes_low > 0
        },
    )


def play(
    asked: Round,
    terms: int,
    *,
    workers: int | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Fit:
    """Play terms in parallel processes; the number of processes changes nothing in the figures.

    Stopped early, it reports the terms played so far. Raises ValueError for no terms.
    """
    if terms < 1:
        raise ValueError("Play at least one term.")
    chunks = [range(first, min(first + CHUNK, terms)) for first in range(0, terms, CHUNK)]
    played: list[Played] = []
    for found in _played(asked, chunks, min(workers or _cores(), len(chunks))):
        played += found
        if on_progress is not None:
            on_progress(len(played), terms)
        if should_stop is not None and should_stop():
            break
    return fit_of(asked.problem, played)


def _played(asked: Round, chunks: Sequence[range], workers: int) -> Iterable[list[Played]]:
    if workers == 1:
        player = asked.player()
        for chunk in chunks:
            yield [player.play(term) for term in chunk]
        return
    # Spawned, not forked: a fork of a threaded server can inherit a held lock.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(
        workers, mp_context=context, initializer=prepare, initargs=(asked,)
    ) as pool:
        futures = [pool.submit(play_chunk, chunk) for chunk in chunks]
        try:
            for future in futures:
                yield future.result()
        finally:
            for future in futures:
                future.cancel()


def _cores() -> int:
    return max(1, os.cpu_count() or 1)


def check_section(
    session: Session,
    section: Section,
    *,
    terms: int = TERMS,
    seed: int = 0,
    workers: int | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
    before_search: Callable[[], None] | None = None,
) -> dict[str, Any]:
    """The fit of a section's current plan in plain values.

    Raises ValueError where there is no plan yet.
    """
    standing = _with_plan(session, section)
    asked = Round(standing.problem, standing.schedule, class_chances(section, standing), seed)
    if before_search is not None:
        before_search()
    fit = play(asked, terms, workers=workers, on_progress=on_progress, should_stop=should_stop)
    return facts(fit, standing.problem)


def _with_plan(session: Session, section: Section) -> EventStanding:
    standing = recorded_events.standing_of(session, section)
    if standing.plan is None:
        raise ValueError("There is no plan yet; plan the term first.")
    return standing


def facts(fit: Fit, problem: Problem) -> dict[str, Any]:
    """A fit in plain values, with dates for ticks."""
    axis = problem.axis
    finishes = fit.finish_ticks
    last = axis.meetings[-1].start.date() if axis.meetings else dt.date.max
    return {
        "terms": fit.terms,
        "teams": fit.teams,
        "share_finished": round(fit.finished.share, 4),
        "interval": [round(fit.finished.low, 4), round(fit.finished.high, 4)],
        "all_finish": round(fit.all_finish.share, 4),
        "all_finish_interval": [round(fit.all_finish.low, 4), round(fit.all_finish.high, 4)],
        "finish_dates": None
        if finishes is None
        else [axis.clock(max(0, round(tick) - 1)).date().isoformat() for tick in finishes],
        "by_team": {team: round(share, 4) for team, share in sorted(fit.by_team.items())},
        "limits": [
            {
                "week": limit.week.isoformat(),
                "resource": limit.resource,
                "minutes": round(limit.ticks * axis.tick_minutes, 1),
                "part": round(limit.part, 3),
            }
            for limit in fit.limits
            if limit.week <= last and limit.ticks * axis.tick_minutes >= 1
        ],
    }


# --- make or supply -----------------------------------------------------------------------------


def what_helps(
    session: Session,
    section: Section,
    *,
    terms: int = TERMS_PER_CHANGE,
    workers: int | None = None,
    on_change: Callable[[str], None] | None = None,
    should_stop: Stop | None = None,
    before_search: Callable[[], None] | None = None,
) -> list[dict[str, Any]]:
    """Each change with its finish share and price, sorted by what it buys; as it is comes along.

    The same chance terms are played for each. Raises ValueError where there is no plan yet.
    """
    standing = _with_plan(session, section)
    found = [
        (candidate, held, class_chances(section, held))
        for candidate, held in _tried(session, section, standing, before_search)
    ]
    if before_search is not None:
        before_search()
    rows = []
    for candidate, held, chances in found:
        if should_stop is not None and should_stop():
            break
        if on_change is not None:
            on_change(candidate.name)
        work = CHANGE_WORK if candidate.events else 0.0
        changed, result = _planned(held, work)
        # So few terms are played before other processes would have started.
        fit = play(Round(changed.problem, result.schedule, chances), terms, workers=workers or 1)
        rows.append(_row(candidate, changed, result, fit))
    base = rows[0]["share_finished"] if rows else 0.0
    for row in rows:
        row["gain"] = round(row["share_finished"] - base, 4)
    return sorted(rows, key=lambda row: (-row["gain"], row["cost"], row["adult_minutes"]))


def _planned(standing: EventStanding, work: float) -> tuple[EventStanding, PlanResult]:
    return standing.settled(lambda problem: replanning.again(problem, standing.schedule, work))


def _tried(
    session: Session,
    section: Section,
    standing: EventStanding,
    release: Callable[[], None] | None,
) -> Iterable[tuple[OptionCandidate, EventStanding]]:
    changes = [OptionCandidate("As planned"), *_changes(session, section, standing)]
    yield from (
        (candidate, held)
        for candidate, held, _ in options.prepared(session, section, changes, release=release)
    )


def _changes(
    session: Session, section: Section, standing: EventStanding
) -> Iterable[OptionCandidate]:
    yield from options.made_otherwise(session, section, standing, most=SUPPLIED_TRIED)
    coming = [
        m for m in sections.list_meetings(session, section) if m.state is MeetingState.PLANNED
    ]
    if not coming:
        return
    first, last = coming[0].date, section.term.last_day
    yield OptionCandidate(
        "A second qualified adult from now on",
        (NewEvent("second-adult", first, last, {"count": 1}),),
        adult_minutes=float(sum(m.minutes for m in coming)),
    )
    titles = {row.key: row.title for row in section.room.stations}
    titles |= {row.key: row.title for row in section.room.fixtures}
    for resource in _scarce(standing):
        yield OptionCandidate(
            f"One more: {titles[resource]}",
            (NewEvent("more-places", first, last, {"resource": resource, "extra": 1}),),
        )
    extra = options.extra_meetings(section, [m.date for m in coming])
    if extra is not None:
        yield extra


def _scarce(standing: EventStanding) -> list[str]:
    """The stations and fixtures that the coming work fills most."""
    problem = standing.problem
    wanted: dict[str, float] = {}
    for key, step in problem.steps.items():
        if key in problem.done_by_key:
            continue
        for use in step.stations:
            places = problem.station[use.station].places
            if places:
                wanted[use.station] = wanted.get(use.station, 0) + step.ticks * use.places / places
        for hold in step.holds:
            count = problem.fixture[hold.fixture].count
            held = step.ticks + hold.minutes / problem.axis.tick_minutes
            wanted[hold.fixture] = wanted.get(hold.fixture, 0) + held * hold.quantity / count
    return sorted(wanted, key=lambda name: (-wanted[name], name))[:2]


def _row(
    candidate: OptionCandidate, standing: EventStanding, result: PlanResult, fit: Fit
) -> dict[str, Any]:
    found = facts(fit, standing.problem)
    return {
        "name": candidate.name,
        "events": [event_facts(new) for new in candidate.events],
        "terms": fit.terms,
        "share_finished": found["share_finished"],
        "interval": found["interval"],
        "teams_complete": len(standing.problem.teams) - result.cost.unfinished,
        "teams": len(standing.problem.teams),
        "class_minutes": candidate.class_minutes,
        "adult_minutes": candidate.adult_minutes,
        "cost": candidate.cost,
        "standards_lost": list(candidate.standards_lost),
        "schedule": recorded_events.schedule_rows(standing.problem, shown(result.schedule)),
    }


def carry_out_fit(
    session: Session, section: Section, details: dict[str, Any], by: str, note: Note
) -> Plan:
    """The fit check and the table of changes as a job; the figures stay on the job."""
    del by
    current = plans.current_plan(session, section)
    if current is None:
        raise ValueError("There is no plan yet; plan the term first.")
    version, section_id = current.id, section.id
    # The note writes from a session of its own: nothing may be open in this one.
    session.rollback()
    note.change("the plan as it is")
    found = check_section(
        session,
        session.get_one(Section, section_id),
        terms=int(details.get("terms", TERMS)),
        should_stop=note.stop_asked,
        before_search=session.rollback,
    )
    rows = what_helps(
        session,
        session.get_one(Section, section_id),
        on_change=note.change,
        should_stop=note.stop_asked,
        before_search=session.rollback,
    )
    job = session.get_one(Job, note.job_id)
    job.progress = {**job.progress, "for": version, "fit": found, "changes": rows}
    return session.get_one(Plan, version)
