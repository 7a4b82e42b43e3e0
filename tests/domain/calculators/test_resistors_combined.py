"""Series and parallel resistances against textbook problems."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.resistors_combined import parallel_ohm, series_ohm

OHMS = st.floats(0.01, 1e7)


@pytest.mark.parametrize(
    ("resistances", "expected", "tolerance", "source"),
    [
        pytest.param(
            [275.0] * 10, 27.5, 0.05, "OpenStax, College Physics 2e, ch. 21 problem 1(b)", id="C137"
        ),
        pytest.param(
            [36.0, 50.0, 700.0],
            20.3,
            0.05,
            "OpenStax, College Physics 2e, ch. 21 problem 3",
            id="C138",
        ),
    ],
)
def test_parallel_resistance_is_the_textbooks(resistances, expected, tolerance, source):
    assert parallel_ohm(resistances) == pytest.approx(expected, abs=tolerance)


@given(st.lists(OHMS, min_size=2, max_size=20))
def test_parallel_is_below_the_least_and_series_above_the_most(resistances):
    assert parallel_ohm(resistances) < min(resistances)
    assert series_ohm(resistances) > max(resistances)


@given(st.floats(10, 1e6), st.floats(10, 1e6))
def test_the_missing_resistor_is_found_again(there, added):
    total = parallel_ohm([there, added])
    found = calculate(
        "resistors-combined",
        {"resistances": f"{there!r}", "parallel_resistance": f"{total!r}"},
        "added_resistance",
    )
    assert found.values["added_resistance"] == pytest.approx(added, rel=1e-6)


def test_no_added_resistor_can_raise_a_parallel_total():
    with pytest.raises(InvalidInput, match="fits"):
        calculate(
            "resistors-combined",
            {"resistances": "100", "parallel_resistance": "150"},
            "added_resistance",
        )


@pytest.mark.parametrize("text", ["0", "-10", "10; x", ";", "1/0", "nan", "10 V", "1e99"])
def test_a_row_that_cannot_be_is_refused_in_words(text):
    with pytest.raises(InvalidInput) as refused:
        calculate("resistors-combined", {"resistances": text})
    assert refused.value.mistakes[0][0] == "resistances"
