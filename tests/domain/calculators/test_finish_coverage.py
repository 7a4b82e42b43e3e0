"""Finish coverage: identities and printed coverage figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.finish_coverage import spreading_rate_m2_per_m3, wet_film_m

FOOT, MIL, GALLON, LITRE = 0.3048, 25.4e-6, 231 * 0.0254**3, 1e-3


@pytest.mark.parametrize(
    ("found", "expected", "tolerance", "source"),
    [
        pytest.param(
            spreading_rate_m2_per_m3(MIL, 1.0) * GALLON / FOOT**2, 1604, 0.5,
            "231 in³ over 0.001 in; printed by R. Joseph, paint Q&A (2003)", id="C186",
        ),
        # Another answer by the same author prints this formula upside-down.
        pytest.param(
            spreading_rate_m2_per_m3(1.5 * MIL, 0.52, 0.30) * GALLON / FOOT**2, 167, 0.5,
            "R. Joseph, paint Q&A, October 2003", id="C188",
        ),
        pytest.param(
            spreading_rate_m2_per_m3(125e-6, 0.65) * LITRE, 5.2, 0.05,
            "spreading-rate bulletin, read in a secondary copy (its formula misprints 100)",
            id="C189",
        ),
        pytest.param(
            spreading_rate_m2_per_m3(25e-6, 1.0) * LITRE, 40, 1e-9, "1 L over 25 µm", id="C190"
        ),
    ],
)  # fmt: skip
def test_coverage_is_the_printed_one(found, expected, tolerance, source):
    assert found == pytest.approx(expected, abs=tolerance)


@given(st.floats(5, 200), st.floats(0.05, 1))
def test_the_wet_film_is_never_thinner_than_the_dry(micrometres, solids):
    assert wet_film_m(micrometres * 1e-6, solids) >= micrometres * 1e-6


@given(st.floats(100, 1e5), st.integers(1, 8), st.floats(10, 90), st.floats(10, 100))
def test_solving_for_the_area_returns_it(area_cm2, coats, solids, transfer):
    state = {"coats": coats, "solids": solids, "transfer": transfer}
    forward = calculate("finish-coverage", {**state, "area": area_cm2})
    volume_ml = forward.values["finish_volume"] * 1e6
    back = calculate("finish-coverage", {**state, "finish_volume": volume_ml}, "area")
    assert back.values["area"] * 1e4 == pytest.approx(area_cm2, rel=1e-9)


def test_twice_the_coats_take_twice_the_finish():
    two = calculate("finish-coverage", {"coats": 2}).values["finish_volume"]
    four = calculate("finish-coverage", {"coats": 4}).values["finish_volume"]
    assert four == pytest.approx(2 * two)


@pytest.mark.parametrize(
    ("name", "text"),
    [("solids", "0 %"), ("solids", "130 %"), ("coats", "0"), ("area", "5 mm"), ("dry_film", "0")],
)
def test_a_coat_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("finish-coverage", {name: text})
    assert refused.value.mistakes[0][0] == name
