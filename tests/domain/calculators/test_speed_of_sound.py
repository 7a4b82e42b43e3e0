"""Speed of sound against IEC 61094-2 and OpenStax.

UP1: OpenStax, University Physics Volume 1 (CC BY 4.0), chapter 17.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


def answer(key: str, **given_values: object) -> float:
    return calculate("speed-of-sound", given_values).values[key]


@pytest.mark.parametrize(
    ("key", "given_values", "expected", "tolerance"),
    [
        # UP1 Problem 49: 331 √(329/273).
        pytest.param("root_speed", {"temperature": "329 K"}, 363, 0.5, id="C277"),
        # UP1 Problem 55: 331 √(308/273).
        pytest.param("root_speed", {"temperature": "308 K"}, 351.58, 0.005, id="C278"),
        # Common linear rule: 331.3 + 0.606 t.
        pytest.param("linear_speed", {"temperature": "20 °C"}, 343.42, 1e-9, id="C279"),
        # IEC 61094-2:2009 annex F, Table F.1 (Cramer 1993), sets A and B.
        pytest.param(
            "sound_speed",
            {"temperature": "23 °C", "air_pressure": "101325 Pa", "humidity": "50 %"},
            345.86652,
            5e-6,
            id="C280",
        ),
        pytest.param(
            "sound_speed",
            {"temperature": "20 °C", "air_pressure": "80000 Pa", "humidity": "65 %"},
            344.38267,
            5e-6,
            id="C281",
        ),
    ],
)
def test_published_speeds(key, given_values, expected, tolerance):
    assert abs(answer(key, **given_values) - expected) <= tolerance


# UP1 Problem 99: √(303/283).
def test_c283_a_wind_instrument_rises_from_10_to_30_degrees():
    warm, cold = (answer("root_speed", temperature=t) for t in ("303 K", "283 K"))
    assert warm / cold == pytest.approx(1.03, abs=0.005)


@given(st.floats(0, 30), st.floats(0.1, 5))
def test_warmer_and_damper_air_is_faster(temperature, step):
    base = answer("sound_speed", temperature=temperature)
    assert answer("sound_speed", temperature=temperature + step) > base
    damp = answer("sound_speed", temperature=temperature, humidity=90)
    assert damp > answer("sound_speed", temperature=temperature, humidity=10)


@given(st.floats(0, 35))
def test_the_temperature_is_found_again(temperature):
    there = answer("sound_speed", temperature=temperature)
    back = calculate("speed-of-sound", {"sound_speed": there}, "temperature")
    assert back.values["temperature"] - 273.15 == pytest.approx(temperature, abs=1e-6)


# formulas of the three rules differ by up to 1 m/s at 20 °C: 342.9, 343.4 and 344.0.
def test_the_three_formulas_stand_beside_each_other():
    values = calculate("speed-of-sound", {}).values
    assert values["root_speed"] == pytest.approx(342.9, abs=0.15)
    assert values["linear_speed"] == pytest.approx(343.4, abs=0.05)
    assert values["sound_speed"] == pytest.approx(344.0, abs=0.05)
