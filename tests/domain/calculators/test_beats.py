"""Beats of two tones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


# OpenStax, University Physics Volume 1, section 17.6: f_beat = |f₂ − f₁|.
@given(st.floats(20, 2000), st.floats(20, 2000))
def test_beats_are_the_difference_without_sign(first, second):
    values = calculate("beats", {"frequency": first, "second_frequency": second}).values
    assert values["beat_frequency"] == pytest.approx(abs(second - first), abs=1e-9)


def test_the_sum_of_two_tones_swells_that_often():
    time = np.arange(0, 4, 1 / 8000)
    heard = np.cos(2 * np.pi * 440 * time) + np.cos(2 * np.pi * 442.5 * time)
    loud = np.array([np.abs(part).max() for part in np.split(heard, 400)])
    quiet = np.sum((loud[1:-1] < loud[:-2]) & (loud[1:-1] <= loud[2:]) & (loud[1:-1] < 0.5))
    beats = calculate("beats", {"frequency": 440, "second_frequency": 442.5}).values
    assert quiet / 4 == pytest.approx(beats["beat_frequency"], abs=0.3)


# By hand: 4 · 110 − 3 · 146.83 = −0.49; a tempered fourth beats slowly.
def test_harmonics_of_a_fourth_are_compared():
    values = calculate(
        "beats",
        {"harmonic": 4, "second_harmonic": 3, "frequency": "A2", "second_frequency": "D3"},
    ).values
    assert values["beat_frequency"] == pytest.approx(0.50, abs=0.01)
    assert values["frequency_difference"] > 0


def test_unison_has_no_time_between_beats():
    values = calculate("beats", {"frequency": 440, "second_frequency": 440}).values
    assert values["beat_frequency"] == 0
    assert "beat_period" not in values


def test_the_second_string_is_found_from_the_difference():
    back = calculate("beats", {"frequency": 440, "frequency_difference": -2}, "second_frequency")
    assert back.values["second_frequency"] == pytest.approx(438)


def test_fast_beats_are_heard_as_roughness():
    assert calculate("beats", {"second_frequency": 470}).notes
    assert not calculate("beats", {}).notes
