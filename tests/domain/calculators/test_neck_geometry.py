"""Neck geometry: right triangles and a chord."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate


def answer(key: str, **given_values: object) -> float:
    return calculate("neck-geometry", given_values).values[key]


# h = L tan α, recomputed with mpmath.
def test_c261_shim_for_half_a_degree():
    value = answer("shim_thickness", neck_angle="0.5 deg", pocket_length="3.0 in")
    assert value / 0.0254 == pytest.approx(0.02618, abs=1e-5)


# A triangle of 3, 4 and 5: the angle whose tangent is 3/4 (by hand).
def test_the_break_angle_of_a_3_4_5_triangle():
    value = answer("break_angle", post_drop="30 mm", post_distance="40 mm")
    assert math.sin(value) == pytest.approx(0.6, rel=1e-12)
    assert math.cos(value) == pytest.approx(0.8, rel=1e-12)


# Two equal pulls along both legs of the string (by hand): at 60° their sum is the pull itself.
def test_the_force_on_the_nut_is_the_sum_of_both_pulls():
    value = answer("nut_force", post_drop=math.sqrt(3) * 30, post_distance=30, tension="100 N")
    assert value == pytest.approx(100, rel=1e-9)


# Chord of a circle: three points on an arc of 10 m fix its radius again.
@given(st.floats(2, 200), st.floats(100, 1000))
def test_relief_span_and_radius_belong_to_one_circle(radius_m, span):
    half = span / 2000
    relief = radius_m - math.sqrt(radius_m**2 - half**2)
    value = answer("bend_radius", relief=f"{relief!r} m", relief_span=span)
    assert value == pytest.approx(radius_m, rel=1e-6)


@given(st.floats(0.1, 15), st.floats(50, 600))
def test_the_neck_angle_is_found_again(angle, run):
    there = answer("bridge_height", neck_angle=angle, bridge_distance=run)
    back = calculate(
        "neck-geometry", {"bridge_height": f"{there!r} m", "bridge_distance": run}, "neck_angle"
    )
    assert math.degrees(back.values["neck_angle"]) == pytest.approx(angle, rel=1e-9)


@given(st.floats(0.5, 15), st.floats(1.01, 1.3))
def test_a_steeper_neck_needs_a_higher_bridge(angle, factor):
    assert answer("bridge_height", neck_angle=angle * factor) > answer(
        "bridge_height", neck_angle=angle
    )


def test_a_shallow_break_angle_is_remarked():
    assert calculate("neck-geometry", {"post_drop": "1 mm"}).notes
    assert not calculate("neck-geometry", {}).notes


def test_relief_of_more_than_half_the_span_is_refused():
    with pytest.raises(InvalidInput, match="half the span"):
        calculate("neck-geometry", {"relief": 60, "relief_span": 100})
