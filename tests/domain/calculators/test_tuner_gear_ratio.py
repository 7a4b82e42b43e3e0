"""Tuner gear ratio: a drum, Hooke's law and Mersenne's law."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


# By hand: one turn of the post winds its circumference.
def test_as_many_turns_as_the_ratio_wind_one_circumference():
    values = calculate("tuner-gear-ratio", {"gear_ratio": 18, "knob_turns": 18}).values
    assert values["take_up"] == pytest.approx(math.pi * 0.006, rel=1e-12)


# The pitch from the raised tension must be the pitch that the string-tension calculator gives.
def test_the_pitch_rise_agrees_with_string_tension():
    values = calculate("tuner-gear-ratio", {"knob_turns": 0.5, "tension": "70 N"}).values
    low, high = (
        calculate("string-tension", {"tension": f"{t!r} N"}, "frequency").values["frequency"]
        for t in (70.0, 70.0 + values["tension_rise"])
    )
    assert values["pitch_rise"] == pytest.approx(1200 * math.log2(high / low), rel=1e-9)


@given(st.floats(10, 40), st.floats(1.01, 2))
def test_a_higher_ratio_tunes_more_finely(ratio, factor):
    coarse, fine = (
        calculate("tuner-gear-ratio", {"gear_ratio": r}).values["pitch_rise"]
        for r in (ratio, ratio * factor)
    )
    assert fine < coarse


@given(st.floats(5, 40), st.floats(0.05, 3))
def test_the_ratio_is_found_again(ratio, turns):
    there = calculate("tuner-gear-ratio", {"gear_ratio": ratio, "knob_turns": turns}).values
    back = calculate(
        "tuner-gear-ratio",
        {"take_up": f"{there['take_up']!r} m", "knob_turns": turns},
        "gear_ratio",
    )
    assert back.values["gear_ratio"] == pytest.approx(ratio, rel=1e-9)
