"""The fit check: no chance gives the plan, chance gives figures that agree with SciPy."""

from __future__ import annotations

import dataclasses
import math
from collections import Counter
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from app.domain.scheduling.chance import (
    Chances,
    Played,
    Player,
    check_fit,
    fit_of,
    usual_chances,
    wilson,
)
from app.domain.scheduling.problem import (
    Problem,
    StationPlaces,
    StepWork,
    Supervision,
    TeamWork,
    Use,
)
from app.domain.scheduling.search.solve import solve

ABSENT = 0.07  # absence rate of the sample class, invented


@pytest.fixture(scope="module")
def planned(sample_electric):
    looks = count()
    result = solve(sample_electric, should_stop=lambda: next(looks) >= 200)
    return sample_electric, result


def _usual(problem: Problem) -> Chances:
    return usual_chances(problem, {team.key: (ABSENT, ABSENT) for team in problem.teams})


# --- interval -----------------------------------------------------------------------------------


@given(
    trials=st.integers(1, 3000),
    share=st.floats(0, 1),
    confidence=st.sampled_from([0.8, 0.95, 0.99]),
)
def test_the_interval_is_that_of_scipy(trials, share, confidence):
    successes = round(share * trials)
    # Source: scipy.stats.binomtest(...).proportion_ci(method="wilson").
    expected = stats.binomtest(successes, trials).proportion_ci(confidence, method="wilson")
    low, high = wilson(successes, trials, confidence)
    assert low == pytest.approx(expected.low, abs=1e-9)
    assert high == pytest.approx(expected.high, abs=1e-9)


@pytest.mark.parametrize(("successes", "trials"), [(1, 0), (-1, 5), (6, 5)])
def test_an_interval_of_nothing_is_refused(successes, trials):
    with pytest.raises(ValueError, match="at least one trial"):
        wilson(successes, trials)


# --- without chance -----------------------------------------------------------------------------


def test_without_chance_the_plan_happens_exactly(planned):
    problem, result = planned
    fit = check_fit(problem, result.schedule, Chances(), terms=3)
    assert fit.finish_ticks == (result.needed,) * 3
    in_time = result.needed <= problem.due_ticks[""]
    assert fit.all_finish.share == (1.0 if in_time else 0.0)


def test_without_chance_every_activity_keeps_its_place(planned):
    problem, result = planned
    player = Player(problem, result.schedule)
    state, jobs = player._drawn(0)
    player._follow_the_plan(state, jobs, Counter())
    assert state.masks == player.old


# --- with chance --------------------------------------------------------------------------------


def test_the_same_seed_plays_the_same_terms_and_another_seed_others(planned):
    problem, result = planned
    chances = _usual(problem)
    first = [Player(problem, result.schedule, chances, seed=1).play(n) for n in range(3)]
    again = [Player(problem, result.schedule, chances, seed=1).play(n) for n in range(3)]
    other = [Player(problem, result.schedule, chances, seed=2).play(n) for n in range(3)]
    assert first == again
    assert first != other


def test_the_terms_may_be_played_in_any_order(planned):
    problem, result = planned
    player = Player(problem, result.schedule, _usual(problem))
    forward = [player.play(n) for n in range(4)]
    backward = [player.play(n) for n in reversed(range(4))]
    assert fit_of(problem, forward) == fit_of(problem, backward)


def test_a_term_breaks_no_rule_of_places_and_order(planned):
    """Places are not used twice, and nothing begins before what it waits for."""
    problem, result = planned
    player = Player(problem, result.schedule, _usual(problem))
    for term in range(3):
        state, jobs = player._drawn(term)
        player._follow_the_plan(state, jobs, Counter())
        for number, job in enumerate(jobs):
            mask = state.masks[number]
            if not mask:
                continue
            assert mask.bit_count() == job.ticks
            assert state.starts[number] >= state.earliest(number)
        for index, resource in enumerate(player.instance.resources):
            for tick in range(0, player.instance.ticks, 7):
                users = sum(
                    units
                    for number, job in enumerate(jobs)
                    for i, units in job.uses
                    if i == index and state.masks[number] >> tick & 1
                )
                assert users <= resource.capacity


def test_a_class_where_everyone_is_always_away_finishes_nothing(planned):
    problem, result = planned
    chances = Chances(absence={team.key: (1.0, 1.0) for team in problem.teams})
    assert check_fit(problem, result.schedule, chances, terms=2).finished.share == 0.0


def test_with_every_meeting_lost_nobody_finishes(planned):
    problem, result = planned
    fit = check_fit(problem, result.schedule, Chances(closures=1.0), terms=2)
    assert fit.finished.share == 0.0
    assert fit.finished.high > 0.0, "two terms prove little"


def test_a_step_supplied_gains_and_a_second_adult_gains(planned):
    """Direction only: trial figures of the sample class say that the adult is what limits it."""
    from app.domain.scheduling.explain import made_outside_class, more_adults

    problem, result = planned
    chances = _usual(problem)
    problem = dataclasses.replace(problem, due_ticks={"": problem.axis.ticks})
    base = check_fit(problem, result.schedule, chances, terms=12)
    for changed in (more_adults(problem), made_outside_class(problem, "E16")):
        looks = count()
        plan = solve(changed, should_stop=lambda looks=looks: next(looks) >= 100).schedule
        helped = check_fit(changed, plan, chances, terms=12)
        assert helped.finished.share > base.finished.share
    assert {limit.resource for limit in base.limits[2:10]} == {"adult"}


# --- small classes ------------------------------------------------------------------------------


def test_a_share_of_one_team_is_the_binomial_share(days):
    """One step of a whole meeting in two meetings: finished unless both are lost.

    A meeting is lost with rate 0.3, so a term fails with 0.09: Source: scipy.stats.binom.
    """
    team = TeamWork("A", (StepWork("glue", ticks=4, minimum_sitting=4),))
    problem = Problem(axis=days(4, 4), teams=(team,))
    plan = solve(problem).schedule
    terms = 2000
    fit = check_fit(problem, plan, Chances(closures=0.3), terms=terms)
    failed = round((1 - fit.finished.share) * terms)
    low, high = stats.binom(terms, 0.3**2).interval(0.9999)
    assert low <= failed <= high


def test_minutes_spread_as_high_over_low_says(days):
    """A spread of 2.3: eight tasks of ten lie between low and high. Source: scipy.stats.lognorm."""
    team = TeamWork("A", (StepWork("cut", ticks=100),))
    problem = Problem(axis=days(*[40] * 20), teams=(team,))
    plan = solve(problem).schedule
    player = Player(problem, plan, Chances(usual_spread=2.3))
    drawn = [player._factors(term) for term in range(3000)]
    factors = [next(iter(found.values())) for found in drawn]
    sigma = math.log(2.3) / (2 * stats.norm.ppf(0.9))
    assert stats.kstest(factors, stats.lognorm(s=sigma).cdf).pvalue > 1e-3


def test_what_free_teams_wait_for_is_named(days):
    steps = (StepWork("saw", ticks=4, stations=(Use("saw"),), supervision=Supervision.IN_ROOM),)
    problem = Problem(
        axis=days(4, 4, 4),
        stations=(StationPlaces("saw", 1),),
        teams=tuple(TeamWork(name, steps) for name in "ABC"),
    )
    fit = check_fit(problem, solve(problem).schedule, Chances(), terms=1)
    # The second team waits for one meeting of four ticks, the third for two: twelve in all.
    assert [(limit.resource, limit.ticks, limit.part) for limit in fit.limits] == [
        ("saw", 12.0, 1.0)
    ]


def test_teams_that_fall_together_count_as_fewer(days):
    problem = Problem(
        axis=days(4), teams=tuple(TeamWork(name, (StepWork("x", ticks=1),)) for name in "ABCD")
    )
    names = tuple(("", name) for name in "ABCD")
    together = [Played(n, 1, names if n % 2 else (), ()) for n in range(40)]
    apart = [Played(n, 1, names[:2] if n % 2 else names[2:], ()) for n in range(40)]
    wide, narrow = fit_of(problem, together).finished, fit_of(problem, apart).finished
    assert wide.share == narrow.share == 0.5
    # Forty terms in step say as much as forty trials; source: scipy's Wilson interval of 20 in 40.
    expected = stats.binomtest(20, 40).proportion_ci(method="wilson")
    assert wide.low == pytest.approx(expected.low, abs=0.01)
    assert narrow.high - narrow.low < wide.high - wide.low


@pytest.mark.parametrize(
    "wrong",
    [{"closures": 1.2}, {"absence": {"A": (-0.1,)}}, {"usual_spread": 0.5}, {"spoiled": {"x": 2}}],
)
def test_rates_that_are_no_rates_are_refused(wrong):
    with pytest.raises(ValueError, match=r"rate|High minutes"):
        Chances(**wrong)
