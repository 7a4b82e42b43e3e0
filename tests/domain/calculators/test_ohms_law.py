"""Ohm's law: any two of voltage, current, resistance and power give the others."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate


@given(st.floats(0.1, 50), st.floats(10, 1e5))
def test_any_two_give_the_other_two(milliampere, ohms):
    current = milliampere / 1000
    state = {
        "current": f"{current!r} A",
        "resistance": f"{ohms!r} ohm",
    }
    try:
        forward = calculate("ohms-law", state)
    except InvalidInput as refused:
        assert "voltage" in str(refused).lower()  # noqa: PT017 - out of range is an answer too
        return
    values = forward.values
    units = {"voltage": "V", "current": "A", "resistance": "ohm", "power": "W"}
    if not 1e-6 <= values["voltage"] <= 600:
        return
    for pair in itertools.combinations(units, 2):
        given_pair = {key: f"{values[key]!r} {units[key]}" for key in pair}
        for unknown in set(units) - set(pair):
            back = calculate("ohms-law", given_pair, unknown)
            assert back.values[unknown] == pytest.approx(values[unknown], rel=1e-9)


def test_units_do_not_change_the_answer():
    one = calculate("ohms-law", {"current": "20 mA", "resistance": "1.5 kohm"})
    other = calculate("ohms-law", {"current": "0.02 A", "resistance": "1500"})
    assert one.values["voltage"] == pytest.approx(other.values["voltage"], rel=1e-12)


def test_three_values_that_contradict_each_other_are_refused():
    with pytest.raises(InvalidInput):
        calculate("ohms-law", {"voltage": "9 V", "current": "1 A", "resistance": "1 ohm"})


@pytest.mark.parametrize("text", ["0", "-1", "inf", "nan", "1/0", "9 mm", "1e300", "x", "9,5"])
def test_a_resistance_that_cannot_be_is_refused_in_words(text):
    with pytest.raises(InvalidInput, match=r"(?i)resistance"):
        calculate("ohms-law", {"resistance": text})
