"""Percent error and percent difference, by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


# By hand: 98 against 100 is 2 below, −2 %; against their mean 99 it is 2.0202 %.
def test_error_is_signed_and_difference_is_not():
    values = calculate("percent-difference", {"measured_value": 98, "reference_value": 100}).values
    assert values["difference"] == pytest.approx(-2)
    assert values["percent_error"] == pytest.approx(-0.02)
    assert values["percent_difference"] == pytest.approx(2 / 99)


@given(st.floats(1, 1e6), st.floats(1, 1e6))
def test_the_difference_does_not_care_which_comes_first(one, other):
    there, back = (
        calculate("percent-difference", {"measured_value": a, "reference_value": b}).values
        for a, b in ((one, other), (other, one))
    )
    assert there["percent_difference"] == pytest.approx(back["percent_difference"], abs=1e-12)


@given(st.floats(1, 1e6), st.floats(-50, 200))
def test_the_measured_value_is_found_again_from_the_error(reference, percent):
    back = calculate(
        "percent-difference",
        {"reference_value": reference, "percent_error": f"{percent!r} %"},
        "measured_value",
    )
    assert back.values["measured_value"] == pytest.approx(reference * (1 + percent / 100), rel=1e-9)
