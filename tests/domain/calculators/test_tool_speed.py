"""Tool speed against a shop course and arithmetic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.tool_speed import chip_load_m, surface_speed_m_per_s

INCH, FOOT = 0.0254, 0.3048


def test_c252_the_shop_factor_is_twelve_over_pi():
    # US Army Ordnance subcourse OD1645: N = 3.82 V/D, from 12/3.1416.
    rpm = 1 / (surface_speed_m_per_s(INCH, 1 / 60) * 60 / FOOT)
    assert rpm == pytest.approx(3.82, abs=0.005)


def test_c253_rim_speed_of_a_10_inch_blade():
    # V = pi D N/12 with 3450 rpm: 9032 ft/min, verified with numpy.
    found = calculate("tool-speed", {"cutter_diameter": "10 in", "spindle_speed": "3450 rpm"})
    assert found.values["surface_speed"] * 60 / FOOT == pytest.approx(9032, abs=0.5)


def test_c256_chip_load():
    # f/(N z): 100 in/min, 18000 rpm, 2 flutes, verified with numpy.
    assert chip_load_m(100 * INCH / 60, 300, 2) / INCH == pytest.approx(0.002778, abs=1e-6)
    found = calculate(
        "tool-speed", {"feed_speed": "100 in/min", "spindle_speed": "18000 rpm", "teeth": 2}
    )
    assert found.values["chip_load"] / INCH == pytest.approx(0.002778, abs=1e-6)


@given(st.floats(5, 400), st.floats(100, 30_000))
def test_solving_for_the_spindle_speed_returns_it(diameter_mm, rpm):
    forward = calculate("tool-speed", {"cutter_diameter": diameter_mm, "spindle_speed": rpm})
    speed = forward.values["surface_speed"]
    assert speed == pytest.approx(math.pi * diameter_mm / 1000 * rpm / 60)
    back = calculate(
        "tool-speed", {"cutter_diameter": diameter_mm, "surface_speed": speed}, "spindle_speed"
    )
    assert back.values["spindle_speed"] * 60 == pytest.approx(rpm, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"),
    [("teeth", "0"), ("spindle_speed", "0"), ("spindle_speed", "1e9"), ("feed_speed", "3 kg")],
)
def test_a_cutter_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("tool-speed", {name: text})
    assert refused.value.mistakes[0][0] == name
