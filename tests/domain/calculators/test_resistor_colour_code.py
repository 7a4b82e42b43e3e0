"""The colour code against IEC 60062 and 60063."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.resistor_colour_code import (
    DIGITS,
    E24,
    MULTIPLIERS,
    bands_of,
    nearest_e24_ohm,
    read_bands,
)


def test_c139_red_black_green_silver():
    # OpenStax, University Physics Volume 2, section 9.3, figure text: 20 x 10^5 ohm ± 10 %.
    found = calculate("resistor-colour-code", {"bands": "red black green silver"})
    assert found.values["resistance"] == 2_000_000
    assert found.values["tolerance"] == 0.10


def test_c143_nearest_e24_to_5000():
    # IEC 60063, verified with the library eseries 1.2.1: 5100 by absolute difference.
    assert nearest_e24_ohm(5000) == 5100


@pytest.mark.parametrize(
    ("bands", "ohms", "tolerance"),
    [
        # From memory of IEC 60062: five bands carry three digits, three bands mean 20 %.
        (("yellow", "violet", "black", "red", "brown"), 47_000, 0.01),
        (("brown", "black", "red"), 1000, 0.20),
        (("green", "blue", "gold", "gold"), 5.6, 0.05),
        (("Brown", "GRAY", "purple", "Gold"), 180_000_000, 0.05),
        (("red", "red", "black", "brown", "red", "brown"), 2200, 0.02),
    ],
)
def test_bands_read_from_three_to_six(bands, ohms, tolerance):
    assert read_bands(bands) == (pytest.approx(ohms), tolerance)


@given(st.sampled_from(E24), st.integers(0, 6))
def test_bands_of_every_e24_value_read_back_as_that_value(step, power):
    value = step * 10.0**power
    assert read_bands(bands_of(value))[0] == pytest.approx(value, rel=1e-9)


@given(st.floats(1, 1e7))
def test_no_e24_value_is_nearer(ohms):
    nearest = nearest_e24_ohm(ohms)
    every = [step * 10.0**power for power in range(-1, 9) for step in E24]
    assert abs(nearest - ohms) <= min(abs(value - ohms) for value in every) * (1 + 1e-9) + 1e-9


@given(
    st.sampled_from(DIGITS[1:]),
    st.sampled_from(DIGITS),
    st.sampled_from(sorted(MULTIPLIERS)),
)
def test_the_multiplier_band_only_scales(first, second, multiplier):
    plain = read_bands((first, second, "black", "gold"))[0]
    scaled = read_bands((first, second, multiplier, "gold"))[0]
    assert scaled == pytest.approx(plain * MULTIPLIERS[multiplier])


@pytest.mark.parametrize(
    ("bands", "words"),
    [
        ("red mauve green gold", "Band 2 is a digit"),
        ("red gold green gold", "Band 2 is a digit"),
        ("red black", "3 to 6 bands"),
        ("black black red gold", "no resistance"),
        ("red red red black", "Band 4 is a tolerance"),
        ("red red red red red red red", "at most 6"),
        ("__import__('os').getpid() red red", "Band 1 is a digit"),
    ],
)
def test_a_colour_that_is_none_is_refused_naming_the_band(bands, words):
    with pytest.raises(InvalidInput, match=words):
        calculate("resistor-colour-code", {"bands": bands})
