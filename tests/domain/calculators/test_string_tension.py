"""String tension against OpenStax, University Physics Volume 1, chapter 16.

OpenStax, University Physics Volume 1 (CC BY 4.0), unless another source stands beside a row.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate
from app.domain.quantities import parse


def solve(unknown: str, **given_values: object) -> float:
    return calculate("string-tension", given_values, unknown).values[unknown]


ROWS = [
    # Example 16.5(a), equation 16.8.
    pytest.param(
        "wave_speed",
        {"tension": "56.40 N", "unit_weight": "3.09e-4 kg/m"},
        427.23,
        0.005,
        id="C027 speed on the high E",
    ),
    # Example 16.5(c).
    pytest.param(
        "tension",
        {"wave_speed": "427.23 m/s", "unit_weight": "5.78e-3 kg/m"},
        1055.0,
        0.05,
        id="C028 tension of the low E at that speed",
    ),
    # Example 16.7(c).
    pytest.param(
        "frequency",
        {"wave_speed": "57.15 m/s", "scale_length": "2.00 m"},
        14.29,
        0.005,
        id="C030 first mode",
    ),
    # Section 16.3.
    pytest.param(
        "unit_weight",
        {"sample_mass": "0.06 kg", "sample_length": "2.00 m"},
        0.03,
        1e-9,
        id="C032 linear density",
    ),
    # Problem 61(a).
    pytest.param(
        "unit_weight",
        {"density": "8920 kg/m3", "diameter": "2.40 mm"},
        0.04,
        0.0005,
        id="C033 copper wire",
    ),
    # Problem 63: a mass of 20 kg hangs from it, g = 9.8 m/s².
    pytest.param(
        "wave_speed",
        {"tension": f"{20 * 9.8} N", "unit_weight": "0.0060 kg/m"},
        180,
        1,
        id="C035 hanging mass",
    ),
    # Problem 71. The book calls 393.88 Hz E4, which is 329.63 Hz: the name is not used here.
    pytest.param(
        "wave_speed",
        {"tension": "1000 N", "unit_weight": "0.012 kg/m"},
        288.68,
        0.005,
        id="C039 piano string",
    ),
    # ρ π d²/4 with 7850 kg/m³, recomputed with the pint library.
    pytest.param(
        "unit_weight",
        {"diameter": "0.010 in", "density": "7850 kg/m3"},
        2.2274e-5 * 0.45359237 / 0.0254,
        2e-9 * 0.45359237 / 0.0254,
        id="C053 unit weight of plain steel 0.010 in",
    ),
    # μ (2 L f)², recomputed with the pint library.
    pytest.param(
        "tension",
        {
            "diameter": "0.010 in",
            "density": "7850 kg/m3",
            "scale_length": "25.5 in",
            "frequency": "329.63 Hz",
        },
        72.525,
        0.0005,
        id="C055 plain steel 0.010 in at E4",
    ),
]


@pytest.mark.parametrize(("unknown", "given_values", "expected", "tolerance"), ROWS)
def test_published_strings(unknown, given_values, expected, tolerance):
    assert abs(solve(unknown, **given_values) - expected) <= tolerance


def wave_speed(tension: str, unit_weight: str) -> float:
    return solve("wave_speed", tension=tension, unit_weight=unit_weight)


# Problem 65.
def test_c036_a_pulse_runs_along_three_metres():
    speed = solve("wave_speed", tension="500 N", sample_mass="5.00 g", sample_length="3.00 m")
    assert 3.00 / speed == pytest.approx(5.48e-3, abs=5e-6)


# Problem 67.
def test_c037_a_string_twice_as_heavy_is_slower_by_the_root_of_two():
    assert wave_speed("100 N", "2 g/m") / wave_speed("100 N", "1 g/m") == pytest.approx(
        0.707, abs=5e-4
    )


# Problem 69: pulses start at both ends of two strings of 2.00 m, and run to meet.
def test_c038_two_pulses_meet():
    speeds = wave_speed("600 N", "0.0025 kg/m") + wave_speed("600 N", "0.0035 kg/m")
    assert 2.00 / speeds == pytest.approx(2.21e-3, abs=5e-6)


# Problem 103 prints 37.59, from a wavelength rounded to 1.33 m; 37.5 is exact.
def test_c040_third_mode_at_50_metres_a_second():
    first = solve("frequency", wave_speed="50 m/s", scale_length="2 m")
    assert 3 * first == pytest.approx(37.5, abs=1e-9)


# Problem 109.
def test_c042_mode_100():
    first = solve("frequency", tension="20.00 N", unit_weight="0.0062 kg/m", scale_length="3.00 m")
    assert 100 * first == pytest.approx(947, abs=0.5)


# Problem 113.
@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        pytest.param(1, 43.03, id="C043"),
        pytest.param(2, 86.07, id="C044"),
        pytest.param(3, 129.1, id="C045"),
        pytest.param(4, 172.13, id="C046"),
    ],
)
def test_modes_of_a_weighed_string(mode, expected):
    first = solve(
        "frequency",
        sample_mass="0.0090 kg",
        sample_length="3.00 m",
        scale_length="3.00 m",
        tension="200 N",
    )
    assert abs(mode * first - expected) <= 0.006


# Additional problem 143(b). The book prints 245.76 N, a factor of ten too low.
def test_c048_tension_from_neighbouring_resonances():
    tension = solve("tension", frequency="80 Hz", scale_length="4 m", unit_weight="0.006 kg/m")
    assert tension == pytest.approx(2457.6, abs=0.05)


# Chapter 17, problem 103.
def test_c050_two_strings_beat_in_their_tenth_mode():
    first, second = (
        solve("frequency", tension=tension, unit_weight="0.0065 kg/m", scale_length="2.00 m")
        for tension in ("120 N", "130 N")
    )
    assert 10 * (second - first) == pytest.approx(13.9, abs=0.05)


# Customary form UW (2 L F)²/386.4 in lb, in and lbf; exact g₀ is 386.0886 in/s².
def test_c054_the_customary_form_differs_by_its_rounded_gravity():
    tension = solve("tension", diameter="0.010 in", scale_length="25.5 in", frequency="329.63 Hz")
    exact = tension / parse("1 lbf", "force")
    assert exact == pytest.approx(16.3043, abs=5e-4)
    assert exact * (9.80665 / 0.0254) / 386.4 == pytest.approx(16.29, abs=0.01)


@given(st.floats(0.05, 2), st.floats(200, 1200), st.floats(30, 900))
def test_length_pitch_and_weight_are_found_again(diameter, length, frequency):
    there = calculate(
        "string-tension",
        {"diameter": diameter, "scale_length": length, "frequency": frequency},
    )
    tension = f"{there.values['tension']!r} N"
    if not 0.01 <= there.values["tension"] <= 20000:
        return
    base = {"tension": tension, "diameter": diameter}
    back = calculate("string-tension", {**base, "scale_length": length}, "frequency")
    assert back.values["frequency"] == pytest.approx(frequency, rel=1e-9)
    back = calculate("string-tension", {**base, "frequency": frequency}, "scale_length")
    assert back.values["scale_length"] == pytest.approx(length / 1000, rel=1e-9)
    pair = {"tension": tension, "frequency": frequency, "scale_length": length}
    back = calculate("string-tension", pair, "diameter")
    assert back.values["diameter"] == pytest.approx(diameter / 1000, rel=1e-9)


@given(st.floats(50, 800), st.floats(1.001, 1.5))
def test_higher_longer_and_heavier_all_pull_harder(frequency, factor):
    def pull(**given_values: object) -> float:
        return calculate("string-tension", given_values).values["tension"]

    base = pull(frequency=frequency)
    assert pull(frequency=frequency * factor) > base
    assert pull(frequency=frequency, scale_length=648 * factor) > base
    assert pull(frequency=frequency, diameter=0.254 * factor) > base


def test_a_wound_string_is_given_by_its_unit_weight():
    wound = calculate("string-tension", {"unit_weight": "6.8 g/m", "frequency": "E2"})
    # By hand: 0.0068 kg/m · (2 · 0.648 m · 82.407 Hz)² = 77.56 N.
    assert wound.values["tension"] == pytest.approx(77.56, abs=0.01)
    assert wound.values["diameter"] == pytest.approx(
        2 * math.sqrt(0.0068 / (math.pi * 7850)), rel=1e-12
    )


def test_a_string_near_breaking_is_warned_of():
    calm = calculate("string-tension", {})
    taut = calculate("string-tension", {"frequency": 440})
    assert not calm.notes
    assert any("breaking" in note for note in taut.notes)
