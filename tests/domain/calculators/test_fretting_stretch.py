"""Fretting stretch against a computed path."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mpmath import mp, mpf, sqrt

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.fretting_stretch import path_strain


# Two-segment path after Varieschi and Gower 2010 and Byers 1996, recomputed with mpmath.
def test_c080_stretch_at_the_twelfth_fret():
    values = calculate(
        "fretting-stretch",
        {
            "scale_length": "650 mm",
            "fret_distance": "325 mm",
            "nut_height": 0,
            "saddle_height": "5.0 mm",
        },
    ).values
    assert values["strain"] * 1e6 == pytest.approx(29.582, abs=1e-3)


@given(st.floats(0.01, 0.64), st.floats(0, 0.003), st.floats(0.001, 0.02))
def test_the_path_keeps_its_digits(fret, nut, saddle):
    mp.dps = 40
    length = mpf(0.65)
    pressed = sqrt(mpf(fret) ** 2 + mpf(nut) ** 2) + sqrt(
        (length - mpf(fret)) ** 2 + mpf(saddle) ** 2
    )
    exact = pressed / sqrt(length**2 + (mpf(saddle) - mpf(nut)) ** 2) - 1
    assert path_strain(0.65, fret, nut, saddle) == pytest.approx(float(exact), rel=1e-9, abs=1e-16)


@given(st.floats(1, 15), st.floats(1.01, 2))
def test_a_higher_saddle_makes_a_sharper_note(height, factor):
    low = calculate("fretting-stretch", {"saddle_height": height}).values["pitch_rise"]
    high = calculate("fretting-stretch", {"saddle_height": height * factor}).values["pitch_rise"]
    assert high > low > 0


@given(st.floats(0.5, 20))
def test_the_height_is_found_again_from_the_pitch(height):
    there = calculate("fretting-stretch", {"saddle_height": height}).values["pitch_rise"]
    back = calculate("fretting-stretch", {"pitch_rise": there}, "saddle_height")
    assert back.values["saddle_height"] == pytest.approx(height / 1000, rel=1e-5)


# By hand: E A ε = 200 GPa · π/4 · (0.254 mm)² · 29.582e-6 = 0.29979 N.
def test_tension_rises_by_modulus_area_and_strain():
    assert calculate("fretting-stretch", {}).values["tension_rise"] == pytest.approx(
        0.29979, abs=2e-5
    )


def test_a_fret_beyond_the_saddle_is_refused():
    with pytest.raises(InvalidInput) as refusal:
        calculate("fretting-stretch", {"fret_distance": 700})
    assert refusal.value.mistakes[0][0] == "fret_distance"
