"""Proportion: equal ratios."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate

numbers = st.integers(1, 10**6)
KEYS = ("first", "second", "third", "fourth")


@given(numbers, numbers, numbers, st.sampled_from(KEYS))
def test_any_of_the_four_is_found_from_the_other_three(a, b, c, unknown):
    terms = dict(zip(KEYS, (a, b, c, float(Fraction(b * c, a))), strict=True))
    if not all(1e-9 <= value <= 1e12 for value in terms.values()):
        return
    given_values = {key: value for key, value in terms.items() if key != unknown}
    found = calculate("proportion", given_values, unknown)
    assert found.values[unknown] == pytest.approx(terms[unknown], rel=1e-9)
    assert calculate("proportion", given_values).values == found.values


# By hand: 1 : 4 is 0.25, or 25 %.
def test_a_ratio_is_also_a_percentage():
    values = calculate("proportion", {"first": 1, "second": 4}).values
    assert values["ratio"] == 0.25
    assert values["percent"] == 0.25


def test_four_given_terms_leave_nothing_unknown():
    with pytest.raises(InvalidInput, match="Nothing is unknown"):
        calculate("proportion", {"first": 1, "second": 2, "third": 3, "fourth": 6})
