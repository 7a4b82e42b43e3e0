"""Saddle set-back against the ideal string and published bands."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


# 1200 log₂[(L + s)/(L/2 + s)] = 1200 − 5, recomputed with NumPy.
def test_c079_set_back_that_flattens_fret_12_by_5_cents():
    values = calculate(
        "saddle-set-back",
        {"scale_length": "650 mm", "fret": 12, "pitch_drop": "5 cents"},
        "set_back",
    ).values
    assert values["set_back"] == pytest.approx(1.8854e-3, abs=2e-6)


# Rows that cannot be recomputed: they name a result without what it follows from.
OUT_OF_SCOPE = {
    "C082": "Byers, American Lutherie 47 (1996): nut −0.3 mm, saddle 1.3 mm on string 1, without "
    "the string's modulus, action and tension; it only bounds what is plausible, below",
    "C083": "the same on string 3: nut −1.0 mm, saddle 3.1 mm",
}


def test_a_published_set_back_corrects_a_few_cents_at_the_octave():
    # By hand from 1200 log₂[(L/2 + s)/(L/2)] − 1200 log₂[(L + s)/L] at L = 650 mm.
    for set_back, cents in ((1.3, 3.45), (3.1, 8.2)):
        values = calculate("saddle-set-back", {"set_back": set_back, "fret": 12}).values
        assert values["pitch_drop"] == pytest.approx(cents, abs=0.05)


@given(st.floats(0.1, 10), st.integers(1, 24))
def test_set_back_is_found_again(set_back, fret):
    there = calculate("saddle-set-back", {"set_back": set_back, "fret": fret}).values["pitch_drop"]
    back = calculate("saddle-set-back", {"pitch_drop": there, "fret": fret}, "set_back")
    assert back.values["set_back"] == pytest.approx(set_back / 1000, rel=1e-6)


@given(st.floats(0.1, 10), st.integers(1, 23))
def test_the_correction_grows_up_the_neck(set_back, fret):
    lower, upper = (
        calculate("saddle-set-back", {"set_back": set_back, "fret": n}).values["pitch_drop"]
        for n in (fret, fret + 1)
    )
    assert upper > lower > 0


def test_an_unusual_set_back_is_remarked():
    assert calculate("saddle-set-back", {"set_back": "9 mm"}).notes
    assert not calculate("saddle-set-back", {}).notes
