"""Pitch and cents against published note frequencies and interval arithmetic."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


def answer(key: str, **given_values: object) -> float:
    return calculate("pitch-and-cents", given_values).values[key]


# Open guitar strings: OpenStax, University Physics Volume 1 (CC BY 4.0), Example 16.5.
# Others: equal temperament from A4 = 440 Hz, recomputed with librosa and music21.
# F♯4: OpenStax, College Physics 2e (CC BY 4.0), chapter 16, problem 62.
@pytest.mark.parametrize(
    ("note", "expected", "tolerance"),
    [
        pytest.param("B3", 246.94, 0.005, id="C013"),
        pytest.param("G3", 196.00, 0.005, id="C014"),
        pytest.param("D3", 146.83, 0.005, id="C015"),
        pytest.param("A2", 110.0, 0.005, id="C016"),
        pytest.param("C4", 261.6256, 1e-4, id="C019"),
        pytest.param("A0", 27.5, 1e-9, id="C020"),
        pytest.param("C8", 4186.009, 1e-3, id="C021"),
        pytest.param("F#4", 370, 0.5, id="C026"),
        pytest.param("F4", 349, 0.5, id="C026 F4"),
        pytest.param("G4", 392, 0.5, id="C026 G4"),
    ],
)
def test_notes_have_their_frequencies(note, expected, tolerance):
    assert abs(answer("note_frequency", note=note) - expected) <= tolerance


# Interval arithmetic, verified with mpmath.
@pytest.mark.parametrize(
    ("over", "under", "expected", "tolerance"),
    [
        pytest.param(300, 200, 701.955, 5e-4, id="C022 just fifth"),
        pytest.param(500, 400, 386.314, 5e-4, id="C023 just major third"),
        pytest.param(810, 800, 21.506, 5e-4, id="C024 syntonic comma"),
        pytest.param(180, 170, 98.9546, 1e-4, id="C009 rule of 18"),
    ],
)
def test_ratios_are_so_many_cents(over, under, expected, tolerance):
    value = answer("interval", frequency=under, second_frequency=over)
    assert abs(value - expected) <= tolerance


@given(st.floats(20, 5000), st.floats(-2400, 2400))
def test_an_interval_up_and_the_same_down_lead_home(frequency, interval):
    up = calculate(
        "pitch-and-cents", {"frequency": frequency, "interval": interval}, "second_frequency"
    )
    second = up.values["second_frequency"]
    assert answer("interval", frequency=frequency, second_frequency=second) == pytest.approx(
        interval, abs=1e-6
    )


def test_the_nearest_note_and_how_far_off():
    calculation = calculate("pitch-and-cents", {"frequency": "331 Hz"})
    assert calculation.values["nearest_note"] == "E4"
    # By hand: 1200 · log₂(331 / 329.628) = 7.19 cents.
    assert calculation.values["deviation"] == pytest.approx(7.19, abs=0.01)


def test_another_tuning_of_a4_moves_every_note():
    assert answer("note_frequency", note="A3", tuning="442 Hz") == pytest.approx(221)
    back = calculate("pitch-and-cents", {"note": "A3", "note_frequency": 221}, "tuning")
    assert back.values["tuning"] == pytest.approx(442, rel=1e-9)
