"""Coil resistance against wire tables, textbooks and the law itself."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.coil_resistance import (
    conductor_ohm,
    gauge_diameter_m,
    temperature_factor,
    wire_resistance_ohm_per_m,
)

MM, INCH, FOOT = 1e-3, 0.0254, 0.3048
B258 = "ASTM B258 defining point (from memory)"
CP = "OpenStax, College Physics 2e, chapter 20"
NBS_31 = "annealed copper wire table (NBS Circular 31 type), read in a secondary copy"
NBS_100 = "NBS Handbook 100 (1966) Table 5 convention (from memory)"


@pytest.mark.parametrize(
    ("gauge", "unit_m", "expected", "tolerance", "source"),
    [
        pytest.param(36, MM, 0.127, 1e-9, B258, id="C093"),
        pytest.param(-3, INCH, 0.46, 1e-6, B258, id="C094"),
        pytest.param(12, MM, 2.053, 6e-4, CP + " problem 24", id="C095"),
        # The book's value comes from 324.9 mils, rounded; the law gives 8.2515.
        pytest.param(0, MM, 8.252, 1.2e-3, CP + " problem 25", id="C096"),
        pytest.param(24, INCH, 0.0201, 1e-5, NBS_31, id="C097"),
    ],
)
def test_gauge_diameter_is_the_published_one(gauge, unit_m, expected, tolerance, source):
    assert gauge_diameter_m(gauge) / unit_m == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(
    ("gauge", "rounded", "expected_per_kft", "tolerance", "source"),
    [
        pytest.param(1, False, 0.1239, 6e-5, NBS_31, id="C100"),
        pytest.param(4, False, 0.2485, 6e-5, NBS_31, id="C101"),
        pytest.param(40, True, 1079, 0.6, NBS_100, id="C103"),
        pytest.param(41, True, 1323, 0.6, NBS_100, id="C104"),
        pytest.param(43, True, 2143, 0.6, NBS_100, id="C106"),
        pytest.param(44, True, 2593, 0.6, NBS_100, id="C107"),
        # The other convention of the same rows, so that both are known to be told apart.
        pytest.param(40, False, 1049, 0.6, "unrounded ASTM law, note to C103", id="C103-law"),
        pytest.param(43, False, 2103, 0.6, "unrounded ASTM law, note to C106", id="C106-law"),
        pytest.param(44, False, 2652, 0.6, "unrounded ASTM law, note to C107", id="C107-law"),
    ],
)
def test_wire_resistance_follows_the_table_that_is_named(
    gauge, rounded, expected_per_kft, tolerance, source
):
    per_m = wire_resistance_ohm_per_m(gauge_diameter_m(gauge, rounded=rounded))
    assert per_m * 1000 * FOOT == pytest.approx(expected_per_kft, abs=tolerance)


def test_c109_resistance_of_a_conductor():
    # OpenStax, University Physics Volume 2, Example 9.5: 5.00 m, 3.31 mm², 1.68e-8 ohm m.
    assert conductor_ohm(1.68e-8, 5.00, 3.31e-6) == pytest.approx(0.025, abs=0.0005)


def test_c110_coil_of_8000_turns():
    # R = rho N l/A computed with pint: 8000 turns of 148 mm, AWG 42 by the law, 20 °C.
    coil = calculate("coil-resistance", {"turns": 8000, "mean_turn": "148 mm", "wire_gauge": 42})
    assert coil.values["coil_resistance"] == pytest.approx(6478.4, abs=0.5)


def test_c111_ten_kelvin_warmer_is_3_93_per_cent_more():
    # IEC 60028: alpha = 0.00393 per kelvin (from memory).
    assert temperature_factor(303.15) == pytest.approx(1.0393, abs=1e-9)


def test_the_page_says_which_rounding_and_what_the_other_would_give():
    shown = calculate("coil-resistance", {"wire_table": "tenth-mil", "wire_gauge": 43})
    assert "rounded to 0.1 mil" in shown.notes[0]
    assert "unrounded law" in shown.notes[0]


@given(st.integers(1000, 20_000), st.integers(38, 46))
def test_solving_for_turns_returns_them(turns, gauge):
    forward = calculate("coil-resistance", {"turns": turns, "wire_gauge": gauge})
    back = calculate(
        "coil-resistance",
        {"wire_length": f"{forward.values['wire_length']!r} m", "wire_gauge": gauge},
        "turns",
    )
    assert back.values["turns"] == pytest.approx(turns, rel=1e-9)


@given(st.integers(-3, 47))
def test_three_gauges_finer_is_about_half_the_section(gauge):
    ratio = gauge_diameter_m(gauge) / gauge_diameter_m(gauge + 3)
    assert ratio**2 == pytest.approx(math.pow(92, 6 / 39))
    assert gauge_diameter_m(gauge + 1) < gauge_diameter_m(gauge)


@pytest.mark.parametrize("gauge", ["51", "-4", "42.5", "nan", "inf", "1e9", "forty-two", ""])
def test_a_gauge_that_does_not_exist_is_refused_in_words(gauge):
    if not gauge:
        assert calculate("coil-resistance", {"wire_gauge": ""}).values["wire_gauge"] == 42
        return
    with pytest.raises(InvalidInput, match=r"(?i)wire gauge"):
        calculate("coil-resistance", {"wire_gauge": gauge})
