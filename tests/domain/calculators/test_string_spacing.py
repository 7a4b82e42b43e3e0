"""String spacing: equal centres and equal gaps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate


# (W − 2 m)/(N − 1), recomputed with NumPy.
def test_c090_equal_centres():
    values = calculate(
        "string-spacing", {"nut_width": "43.0 mm", "edge_margin": "3.5 mm", "strings": 6}
    ).values
    assert values["centre_spacing"] == pytest.approx(7.2e-3, abs=1e-12)


# (S − Σ d)/(N − 1) over outer edges, recomputed with NumPy.
def test_c091_equal_gaps():
    values = calculate(
        "string-spacing",
        {
            "nut_width": "1.417 in",
            "edge_margin": 0,
            "diameters": "0.046 in; 0.036 in; 0.026 in; 0.017 in; 0.013 in; 0.010 in",
        },
    ).values
    assert values["string_gap"] / 0.0254 == pytest.approx(0.2538, abs=1e-6)


def test_gaps_between_neighbours_are_all_the_same():
    calculation = calculate("string-spacing", {})
    places, diameters = calculation.result.equal_gaps_m, calculation.values["diameters"]
    gaps = [
        (right - left) - (one + other) / 2
        for left, right, one, other in zip(
            places, places[1:], diameters, diameters[1:], strict=False
        )
    ]
    assert gaps == pytest.approx([calculation.values["string_gap"]] * 5, rel=1e-9)
    outer = places[0] - diameters[0] / 2
    assert outer == pytest.approx(0.0035)


@given(st.floats(35, 60))
def test_the_nut_width_is_found_again_from_the_gap(width):
    there = calculate("string-spacing", {"nut_width": width}).values["string_gap"]
    back = calculate("string-spacing", {"string_gap": f"{there!r} m"}, "nut_width")
    assert back.values["nut_width"] == pytest.approx(width / 1000, rel=1e-9)


def test_each_string_needs_its_diameter_and_room():
    with pytest.raises(InvalidInput, match="each of the 4 strings"):
        calculate("string-spacing", {"strings": 4})
    with pytest.raises(InvalidInput, match="do not fit"):
        calculate("string-spacing", {"nut_width": 10})
