"""Spares against the binomial distribution of SciPy."""

from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.spares import chances_of_enough


@given(st.integers(1, 200), st.floats(0.001, 0.5))
def test_chances_are_those_of_the_binomial_distribution(needed, loss):
    for spares, chance in enumerate(islice(chances_of_enough(needed, loss), 13)):
        expected = binom.sf(needed - 1, needed + spares, 1 - loss)
        assert chance == pytest.approx(expected, rel=1e-9, abs=1e-12)


@given(st.integers(1, 100), st.floats(1, 40), st.floats(50, 99.9))
def test_the_spares_are_the_fewest_that_reach_the_chance(needed, loss, confidence):
    values = calculate(
        "spares", {"pieces_needed": needed, "loss_rate": loss, "confidence": confidence}
    ).values
    spares = values["spares"]
    wanted = confidence / 100
    assert binom.sf(needed - 1, needed + spares, 1 - loss / 100) >= wanted - 1e-9
    if spares:
        assert binom.sf(needed - 1, needed + spares - 1, 1 - loss / 100) < wanted + 1e-9


def test_nothing_spoiled_needs_no_spares():
    values = calculate("spares", {"loss_rate": 0}).values
    assert values["spares"] == 0
    assert values["enough_chance"] == 1


# By hand: twelve pieces at 8 % come out all good with 0.92¹² = 0.3677.
def test_without_spares_all_must_be_good():
    assert calculate("spares", {}).values["enough_chance_without"] == pytest.approx(0.92**12)


def test_a_hopeless_loss_rate_is_refused():
    with pytest.raises(InvalidInput, match="loss rate"):
        calculate("spares", {"pieces_needed": 2000, "loss_rate": 80, "confidence": 99})
