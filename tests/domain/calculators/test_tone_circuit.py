"""Tone circuit against worked textbook problems."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.tone_circuit import (
    AUDIO,
    LINEAR,
    corner_frequency_hz,
    divider,
    resonance_frequency_hz,
    track,
)

CP = "OpenStax, College Physics 2e, "


@pytest.mark.parametrize(
    ("found", "expected", "tolerance", "source"),
    [
        pytest.param(corner_frequency_hz(250e3, 22e-9), 28.94, 0.01, "f = 1/(2 pi R C)", id="C117"),
        pytest.param(corner_frequency_hz(10.0e3, 47e-9), 338.6, 0.1, "f = 1/(2 pi R C)", id="C118"),
        pytest.param(
            resonance_frequency_hz(3.00e-3, 5.00e-6) / 1000,
            1.3,
            0.005,
            CP + "Example 23.13",
            id="C124",
        ),
        pytest.param(
            resonance_frequency_hz(2.2, (110 + 470) * 1e-12),
            4455.5,
            0.1,
            "f = 1/(2 pi sqrt(L C)), illustrative values",
            id="C133",
        ),
        # A wire of 15.0 with the tap at 10.0, nothing drawn: the potentiometer at null.
        pytest.param(
            3.000 * divider(10.0 / 15.0, 15.0, math.inf),
            2.0,
            0.005,
            CP + "ch. 21 problem 61(a)",
            id="C135",
        ),
    ],
)
def test_textbook_value_is_reproduced(found, expected, tolerance, source):
    assert found == pytest.approx(expected, abs=tolerance)


def test_c128_c129_a_coil_and_a_capacitor_with_next_to_no_load():
    # University Physics Volume 2, ch. 15 problem 39: 100 ohm, 150 mH, 0.25 uF in series. The book
    # prints 820 Hz and a quality factor of 7.8; 7.746 is right.
    tone = calculate(
        "tone-circuit",
        {
            "pickup_resistance": "100 ohm",
            "pickup_inductance": "150 mH",
            "pickup_capacitance": "0.25 uF",
            "cable_capacitance": "0 pF",
            "volume_resistance": "100 Mohm",
            "load_resistance": "1000 Mohm",
        },
    )
    assert tone.values["resonance_frequency"] == pytest.approx(820, abs=5)
    assert tone.values["quality_factor"] == pytest.approx(7.746, abs=0.001)


def test_half_a_turn_of_500_kilohm_into_1_megohm():
    # 250 k parallel to 1 M is 200 k; 200/(250 + 200) = 0.444 (arithmetic).
    tone = calculate(
        "tone-circuit",
        {"volume_resistance": "500 kohm", "rotation": "50 %", "load_resistance": "1 Mohm"},
    )
    assert tone.values["loaded_divider"] == pytest.approx(4 / 9)
    assert tone.values["unloaded_divider"] == pytest.approx(0.5)


def test_the_peak_of_the_curve_lies_near_the_resonance():
    tone = calculate("tone-circuit", {})
    points = tone.chart.spec["data"]["values"]
    peak = max(points, key=lambda point: point["level"])
    assert peak["frequency"] == pytest.approx(tone.values["resonance_frequency"], rel=0.1)
    # At the resonance the level of a second-order low-pass is its quality factor.
    assert peak["level"] == pytest.approx(20 * math.log10(tone.values["quality_factor"]), abs=0.6)


@given(st.floats(0, 1), st.floats(1e3, 1e6), st.floats(1e3, 1e8))
def test_a_load_never_raises_the_output(below, track_ohm, load_ohm):
    assert 0 <= divider(below, track_ohm, load_ohm) <= below + 1e-12


@given(st.floats(0, 1), st.floats(0, 1))
def test_turning_up_never_gives_less(one, other):
    low, high = sorted((one, other))
    for taper in (LINEAR, AUDIO):
        assert track(low, taper) <= track(high, taper) + 1e-15
    assert track(0, AUDIO) == 0
    assert track(1, AUDIO) == pytest.approx(1)
    assert track(0.5, AUDIO) == pytest.approx(0.15)


@given(st.floats(1.0, 900.0))
def test_solving_for_the_capacitor_returns_it(nanofarad):
    forward = calculate("tone-circuit", {"tone_capacitance": nanofarad})
    corner = forward.values["corner_frequency"]
    back = calculate("tone-circuit", {"corner_frequency": corner}, "tone_capacitance")
    assert back.values["tone_capacitance"] == pytest.approx(nanofarad * 1e-9, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("tone_capacitance", "0"),
        ("tone_capacitance", "-22 nF"),
        ("tone_capacitance", "22 H"),
        ("pickup_inductance", "inf"),
        ("rotation", "120 %"),
        ("taper", "sideways"),
        ("tone_resistance", "__import__('os')"),
    ],
)
def test_a_part_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("tone-circuit", {name: text})
    assert refused.value.mistakes[0][0] == name
    assert refused.value.mistakes[0][1].endswith(".")
