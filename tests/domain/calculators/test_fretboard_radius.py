"""Fretboard radius: the circle segment and the cone."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate


def answer(key: str, **given_values: object) -> float:
    return calculate("fretboard-radius", given_values).values[key]


# s = R − √(R² − w²/4), recomputed with mpmath.
@pytest.mark.parametrize(
    ("radius", "width", "expected_in"),
    [
        pytest.param("12 in", "2.0 in", 0.041739, id="C086"),
        pytest.param("16 in", "2.25 in", 0.0396, id="C088"),
    ],
)
def test_the_edge_drops_below_the_middle(radius, width, expected_in):
    value = answer("edge_drop", fretboard_radius=radius, fretboard_width=width)
    assert abs(value / 0.0254 - expected_in) <= 1e-6


# Linear interpolation: d₁₂/d₂₄ = (1/2)/(3/4) = 2/3.
def test_c092_a_cone_from_10_to_16_in_has_14_in_at_fret_12():
    value = answer(
        "fret_radius", fretboard_radius="10 in", end_radius="16 in", end_fret=24, fret=12
    )
    assert value / 0.0254 == pytest.approx(14.0, abs=1e-9)


@given(st.floats(60, 1000), st.floats(20, 100))
def test_the_radius_is_found_again_from_drop_and_width(radius, width):
    drop = answer("edge_drop", fretboard_radius=radius, fretboard_width=width)
    back = calculate(
        "fretboard-radius",
        {"edge_drop": f"{drop!r} m", "fretboard_width": width},
        "fretboard_radius",
    )
    assert back.values["fretboard_radius"] == pytest.approx(radius / 1000, rel=1e-9)
    back = calculate(
        "fretboard-radius", {"fretboard_radius": radius, "fretboard_width": width, "edge_drop": "?"}
    )
    assert back.values["edge_drop"] == pytest.approx(
        radius / 1000 - math.sqrt(radius**2 - width**2 / 4) / 1000, rel=1e-7
    )


@given(st.floats(60, 1000), st.floats(1.01, 1.5))
def test_a_larger_radius_drops_less(radius, factor):
    assert answer("edge_drop", fretboard_radius=radius * factor) < answer(
        "edge_drop", fretboard_radius=radius
    )


def test_a_cone_has_its_own_radii_at_both_ends():
    assert answer("fret_radius", fret=0) == pytest.approx(0.3048)
    assert answer("fret_radius", fret=24) == pytest.approx(0.4064)


def test_a_board_wider_than_its_circle_is_refused():
    with pytest.raises(InvalidInput, match="twice the radius"):
        calculate("fretboard-radius", {"fretboard_radius": 20, "fretboard_width": 50})
