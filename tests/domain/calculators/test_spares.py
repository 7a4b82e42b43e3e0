"""Spares against the binomial distribution of SciPy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from app.domain.calculators import calculate
from app.domain.calculators.spares import chances_of_enough, fewest_spares
from app.domain.kit.kit_quantities import spares_for

RATES = (3, 5, 8, 10, 15, 20, 25)


# Binomial distribution: the table for 95 %, recomputed with SciPy's binom.ppf.
@pytest.mark.parametrize(
    ("teams", "expected"), [(11, (1, 2, 3, 3, 4, 5, 5)), (13, (2, 2, 3, 3, 4, 5, 6))]
)
def test_the_spares_of_a_class_follow_the_table(teams, expected):
    for rate, spares in zip(RATES, expected, strict=True):
        values = calculate("spares", {"pieces_needed": teams, "loss_rate": f"{rate} %"}).values
        assert values["spares"] == spares == binom.ppf(0.95, teams, rate / 100)


@given(st.integers(1, 2000), st.floats(0, 1), st.floats(0.01, 0.99999))
def test_a_kit_list_counts_spares_as_the_calculator_does(pieces, rate, confidence):
    given_values = {
        "pieces_needed": pieces,
        "loss_rate": rate * 100,
        "confidence": confidence * 100,
    }
    spares = calculate("spares", given_values).values["spares"]
    # Percent and back may move a chance by one unit in the last place.
    near = {spares_for(pieces, rate, confidence + slip) for slip in (-1e-12, 0, 1e-12)}
    assert spares in near


@given(st.integers(1, 300), st.floats(0.001, 0.999))
def test_chances_are_those_of_the_binomial_distribution(pieces, loss):
    for spares, chance in enumerate(chances_of_enough(pieces, loss)):
        assert chance == pytest.approx(binom.cdf(spares, pieces, loss), rel=1e-9, abs=1e-12)


@given(st.integers(1, 2000), st.floats(0.001, 0.999), st.floats(0.5, 0.999))
def test_the_spares_are_the_fewest_that_reach_the_chance(pieces, loss, confidence):
    spares = fewest_spares(pieces, loss, confidence)
    assert binom.cdf(spares, pieces, loss) >= confidence - 1e-9
    assert spares == 0 or binom.cdf(spares - 1, pieces, loss) < confidence + 1e-9


@given(st.integers(1, 200), st.floats(0.01, 0.9))
def test_nobody_needs_more_spares_than_pieces_and_a_surer_class_needs_no_fewer(pieces, loss):
    assert fewest_spares(pieces, loss, 0.8) <= fewest_spares(pieces, loss, 0.95) <= pieces


def test_nothing_lost_needs_no_spares_and_everything_lost_one_for_each():
    values = calculate("spares", {"loss_rate": 0}).values
    assert values["spares"] == 0
    assert values["enough_chance"] == 1
    values = calculate("spares", {"loss_rate": 100, "pieces_needed": 11}).values
    assert values["spares"] == 11
    assert values["enough_chance"] == 1


# By hand: twelve pieces at 8 % come out all good with 0.92¹² = 0.3677.
def test_without_spares_all_must_be_good():
    assert calculate("spares", {}).values["enough_chance_without"] == pytest.approx(0.92**12)
