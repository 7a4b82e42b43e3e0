"""What would make a plan fit: changes to room, adults and steps, each tried by planning again."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Any

from sqlalchemy.orm import Session

from app.domain.scheduling import explain
from app.domain.scheduling import problem as model
from app.domain.scheduling.schedule import PlanResult
from app.domain.scheduling.search.solve import solve
from app.models import Section, Step
from app.store.plan import plans, recorded_events
from app.store.plan.section_problem import PlanInput, meeting_of, schedule_of

WORK = 10.0
LOOKS = 120  # plans looked at for each change, as for the plan they are compared with
STEPS_TRIED = 3

Stop = Callable[[], bool]
Note = Callable[[str], None]


@dataclass(frozen=True)
class RemedyChange:
    """One change to try: the changed problem, what it costs and what it takes away."""

    name: str
    problem: model.Problem
    cost: str = ""
    gives_up: str = ""


def try_remedies(
    session: Session,
    section: Section,
    *,
    should_stop: Stop | None = None,
    on_change: Note | None = None,
    before_search: Callable[[], None] | None = None,
    work: float = WORK,
) -> dict[str, Any]:
    """Plan as it is and with each change, with the same amount of search, and say what it buys.

    Raises ValueError with a sentence where there is no plan to begin with.
    """
    plan = plans.current_plan(session, section)
    if plan is None:
        raise ValueError("There is no plan yet; plan the term first.")
    board = recorded_events.standing_of(session, section).board
    start = schedule_of(session, board, plan)
    changes = list(_changes(board, plan.limiting))
    if before_search is not None:
        before_search()
    say = on_change or (lambda _text: None)
    say("the plan as it is")
    base = solve(board.problem, work=work, start=start, should_stop=_limited(should_stop))
    tried: list[tuple[RemedyChange, explain.Remedy]] = []
    for change in changes:
        if should_stop is not None and should_stop():
            break
        say(change.name)
        found = explain.remedies(
            board.problem,
            base,
            {change.name: change.problem},
            work=work,
            should_stop=_limited(should_stop),
        )
        tried += [(change, remedy) for remedy in found]
    stopped = should_stop is not None and should_stop()
    # Rows are read only now: the search must not keep the database locked.
    facts = [_facts(board, change, remedy) for change, remedy in tried]
    facts.sort(key=lambda item: (not item["fits"], -item["meetings_sooner"], item["name"]))
    return {"base": _outcome(board, base), "changes": facts, "stopped": stopped}


def _limited(should_stop: Stop | None) -> Stop:
    """The wish to stop, or enough plans looked at: counted, so that every change gets the same."""
    looks = count()
    return lambda: next(looks) >= LOOKS or (should_stop is not None and should_stop())


def _outcome(board: PlanInput, result: PlanResult) -> dict[str, Any]:
    finish = meeting_of(board, result.needed) if result.complete else None
    return {
        "teams_complete": len(board.teams) - result.cost.unfinished,
        "finish_date": finish.date.isoformat() if finish else None,
        "fits": result.complete and not result.cost.late,
        "limiting": result.limiting,
    }


def _facts(board: PlanInput, change: RemedyChange, remedy: explain.Remedy) -> dict[str, Any]:
    return {
        **_outcome(board, remedy.result),
        "name": change.name,
        "cost": change.cost,
        "gives_up": change.gives_up,
        "meetings_sooner": remedy.meetings_sooner,
    }


def _changes(board: PlanInput, limiting: str | None) -> Iterator[RemedyChange]:
    """Places where the room is scarce, an adult, and the steps that can be done outside class."""
    problem = board.problem
    stations = {row.key: row.title for row in board.section.room.stations}
    fixtures = {row.key: row.title for row in board.section.room.fixtures}
    # A room may call a station “adult” too; what limits a plan by that name is the adult.
    if limiting in problem.station and limiting != explain.ADULT:
        yield RemedyChange(
            f"One more place: {stations[limiting or '']}",
            explain.more_places(problem, limiting or ""),
        )
    if limiting in problem.fixture:
        yield RemedyChange(
            f"One more: {fixtures[limiting or '']}", explain.more_fixtures(problem, limiting or "")
        )
    yield RemedyChange(
        "A second qualified adult in every meeting from now on", explain.more_adults(problem)
    )
    steps = list(_relief(board))
    for step in steps:
        yield _outside(board, problem, step)
    if len(steps) > 1:
        first = _outside(board, problem, steps[0])
        second = _outside(board, first.problem, steps[1])
        yield RemedyChange(
            f"Both of these outside class: {steps[0].key} and {steps[1].key}",
            second.problem,
            "; ".join(filter(None, (first.cost, second.cost))),
            f"{first.gives_up}; {second.gives_up}",
        )


def _relief(board: PlanInput) -> Iterator[Step]:
    """Steps that can be made outside class, those first that free most of the adult's time."""
    begun = Counter(done.key.step for done in board.problem.done)
    ticks: Counter[str] = Counter()
    for key, step in board.problem.steps.items():
        if step.ticks and board.steps[key.step].ready_made and key not in board.problem.done_by_key:
            watched = step.supervision is model.Supervision.AT_THE_MACHINE
            ticks[key.step] += step.ticks * (10 if watched else 1)
    for name, _ in ticks.most_common(STEPS_TRIED):
        if begun[name] < len(board.teams):
            yield board.steps[name]


def _outside(board: PlanInput, problem: model.Problem, step: Step) -> RemedyChange:
    way = step.ready_made[0]
    by = "made by an adult outside class" if way["by"] == "adult" else "supplied ready-made"
    cost = []
    if way.get("adult_minutes"):
        cost.append(f"{way['adult_minutes']:g} adult minutes per instrument")
    if way.get("cost"):
        cost.append(f"{board.section.build.currency} {way['cost']:g} per instrument")
    return RemedyChange(
        f"{step.key} {step.title}: {by}",
        explain.made_outside_class(problem, step.key),
        ", ".join(cost),
        str(way.get("loses", "")),
    )
