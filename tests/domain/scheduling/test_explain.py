"""Floats, chains and remedies on rooms small enough to count by hand."""

from __future__ import annotations

from collections.abc import Callable

from app.domain.scheduling.explain import (
    critical_chain,
    floats,
    made_outside_class,
    more_adults,
    more_fixtures,
    more_places,
    remedies,
)
from app.domain.scheduling.problem import (
    Axis,
    FixtureHold,
    FixturePlaces,
    Problem,
    StationPlaces,
    StepWork,
    Supervision,
    TeamWork,
    Use,
)
from app.domain.scheduling.search.solve import solve


def room(axis: Axis) -> Problem:
    """Three teams: 4 ticks at a saw with one place, the adult beside it, then 2 ticks of sanding."""
    steps = (
        StepWork("cut", ticks=4, stations=(Use("saw"),), supervision=Supervision.AT_THE_MACHINE),
        StepWork("sand", ticks=2, after=("cut",), holds=(FixtureHold("vise"),)),
    )
    return Problem(
        axis=axis,
        stations=(StationPlaces("saw", 1),),
        fixtures=(FixturePlaces("vise", 2),),
        teams=tuple(TeamWork(t, steps) for t in "ABC"),
    )


def test_the_critical_chain_is_the_queue_at_the_saw(days: Callable[..., Axis]) -> None:
    problem = room(days(6, 6, 6))
    chain = critical_chain(problem, solve(problem, work=0.5).schedule)

    assert [key.step for key in chain] == ["cut", "cut", "cut", "sand"]


def test_float_is_what_a_team_may_lose(days: Callable[..., Axis]) -> None:
    # Finish 14; a team that cut in ticks 0 to 3 may end its cut at 12 and its sanding at 14.
    problem = room(days(6, 6, 6))
    schedule = solve(problem, work=0.5).schedule
    by_key = {f.key: f.ticks for f in floats(problem, schedule)}
    first = min((a for a in schedule.activities if a.key.step == "cut"), key=lambda a: a.start)

    assert schedule.finish == 14
    assert by_key[first.key] == 8
    last = max(schedule.activities, key=lambda a: a.end)
    assert by_key[last.key] == 0


def test_remedies_are_computed_by_planning_again(days: Callable[..., Axis]) -> None:
    # 12 ticks of sawing and 2 of sanding need 14 of 11; a second adult alone helps nothing while
    # there is one saw; with the cuts made outside class three sandings of 2 share 2 vises: 4.
    problem = room(days(6, 5))
    result = solve(problem, work=0.5)
    changes = {
        "a second adult": more_adults(problem),
        "cut made outside class": made_outside_class(problem, "cut"),
    }
    found = remedies(problem, result, changes, work=0.5)

    assert not result.complete
    assert [remedy.name for remedy in found] == ["cut made outside class", "a second adult"]
    assert found[0].fits
    assert found[0].result.cost.finish == 4
    assert not found[1].fits


def test_two_saws_and_two_adults_together_fit(days: Callable[..., Axis]) -> None:
    # 12 ticks of sawing in two saws, one cut being split: 6, then 2 of sanding.
    problem = more_adults(more_places(room(days(6, 5)), "saw"))

    assert solve(problem, work=0.5).cost.finish == 8


def test_changes_leave_the_old_problem_alone(days: Callable[..., Axis]) -> None:
    problem = room(days(6, 6))
    more_fixtures(problem, "vise")
    made_outside_class(problem, "cut")

    assert problem == room(days(6, 6))
