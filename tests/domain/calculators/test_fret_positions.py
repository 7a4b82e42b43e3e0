"""Fret positions against identities and published values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.fret_positions import distance_m, steps_of


def answer(key: str, **given_values: object) -> float:
    return calculate("fret-positions", given_values).values[key]


# Definition of equal temperament; 1.059463 is the usual printed form.
def test_c001_the_semitone_ratio_is_the_twelfth_root_of_two():
    remaining = answer("remaining_length", scale_length="1000 mm", fret=1)
    assert 1 / remaining == pytest.approx(1.059463094359, abs=1e-12)


POSITIONS = [
    # Varieschi and Gower, American Journal of Physics 78 (2010) 47, section II.A.
    pytest.param("650 mm", 1, "fret_distance", 36.4817e-3, 5e-7, id="C003 fret 1 of 650 mm"),
    # An octave halves the string.
    pytest.param("648 mm", 12, "fret_distance", 324e-3, 1e-12, id="C006 fret 12 of 648 mm"),
    # Two octaves leave a quarter of it.
    pytest.param("34 in", 24, "fret_distance", 25.5 * 0.0254, 2.54e-11, id="C007 fret 24 of 34 in"),
    # Rule of 18 as R. M. Mottola states it, American Lutherie 130 (2017); value computed.
    pytest.param("650 mm", 12, "rule_of_18_distance", 322.6364e-3, 5e-7, id="C011 rule of 18"),
]


@pytest.mark.parametrize(("scale", "fret", "key", "expected", "tolerance"), POSITIONS)
def test_positions_agree_with_published_values(scale, fret, key, expected, tolerance):
    value = answer(key, scale_length=scale, fret=fret)
    assert abs(value - expected) <= tolerance


# Galilei's rule: each space is an eighteenth of what remains, so the ratio is 18/17.
def test_c009_a_rule_of_18_semitone_is_98_95_cents():
    rest = 0.650 - answer("rule_of_18_distance", scale_length="650 mm", fret=1)
    assert 1200 * math.log2(0.650 / rest) == pytest.approx(98.9546, abs=1e-4)


# From the two rules: fret 12 by the rule of 18 is 12.55 cents flat (C009 times twelve).
def test_the_rule_of_18_puts_fret_12_too_near_the_nut():
    equal = answer("fret_distance", scale_length="650 mm")
    eighteen = answer("rule_of_18_distance", scale_length="650 mm")
    assert equal - eighteen == pytest.approx(2.3636e-3, abs=5e-7)


@given(st.floats(100, 1000), st.integers(1, 36))
def test_every_space_is_smaller_than_the_one_before_by_the_same_factor(length, fret):
    below = distance_m(length, fret) - distance_m(length, fret - 1)
    above = distance_m(length, fret + 1) - distance_m(length, fret)
    assert above / below == pytest.approx(2 ** (-1 / 12), rel=1e-9)


@given(st.floats(100, 2000), st.integers(1, 36))
def test_scale_length_and_fret_are_found_again_from_a_position(length, fret):
    there = calculate("fret-positions", {"scale_length": length, "fret": fret})
    written = f"{there.values['fret_distance']!r} m"
    back = calculate("fret-positions", {"fret_distance": written, "fret": fret}, "scale_length")
    assert back.values["scale_length"] == pytest.approx(length / 1000, rel=1e-9)
    again = calculate("fret-positions", {"fret_distance": written, "scale_length": length}, "fret")
    assert again.values["fret"] == pytest.approx(fret, rel=1e-9)


# By hand: 1200 · log₂(324 / 323.5) = 2.6738 cents.
def test_a_slot_sawn_half_a_millimetre_towards_the_saddle_is_sharp():
    error = answer("slot_error", scale_length=648, fret=12, slot_offset="0.5 mm")
    assert error == pytest.approx(2.6738, abs=5e-4)
    assert answer("slot_error", scale_length=648, fret=12, slot_offset="-0.5 mm") < 0


@given(st.floats(-3, 3).filter(lambda x: abs(x) > 1e-3), st.integers(1, 24))
def test_the_slot_error_and_its_distance_solve_each_other(offset, fret):
    there = calculate("fret-positions", {"slot_offset": offset, "fret": fret})
    back = calculate(
        "fret-positions", {"slot_error": there.values["slot_error"], "fret": fret}, "slot_offset"
    )
    assert back.values["slot_offset"] == pytest.approx(offset / 1000, rel=1e-6)


# The diatonic pattern of a mountain dulcimer: whole, whole, half, whole, whole, half, whole,
# and fret 6 1/2 added in the first octave alone (common practice, no source).
def test_the_diatonic_pattern_names_its_frets_as_players_do():
    named = steps_of("diatonic", 16)
    assert [name for name, _ in named[:9]] == ["1", "2", "3", "4", "5", "6", "6½", "7", "8"]
    assert dict(named)["3"] == 5
    assert dict(named)["6½"] == 11
    assert dict(named)["7"] == 12
    assert dict(named)["14"] == 24
    assert [step for _, step in named] == sorted(step for _, step in named)
    assert "13½" not in dict(named)
    assert [name for name, _ in steps_of("diatonic", 3)] == ["1", "2", "3"]


def test_a_step_without_a_fret_is_said_to_have_none():
    given = {"fret_pattern": "diatonic", "frets": 15}
    assert "no fret at this step" in calculate("fret-positions", {**given, "fret": 1}).notes[0]
    assert not calculate("fret-positions", {**given, "fret": 11}).notes
    beyond = calculate("fret-positions", {**given, "fret": 25}).notes
    assert "beyond the last fret" in beyond[0]


def test_the_table_lists_every_fret_with_its_distance():
    calculation = calculate("fret-positions", {"scale_length": "25.5 in", "frets": 24})
    assert len(calculation.table.rows) == 24
    assert calculation.table.written()[11][:2] == ["12", "323.85"]
    assert calculation.table.rows[23][1] == pytest.approx(0.75 * 0.6477)


def test_other_divisions_of_the_octave_still_halve_the_string():
    for divisions in (5, 17, 19, 31, 72):
        value = answer("fret_distance", divisions=divisions, fret=divisions, frets=48)
        assert value == pytest.approx(0.324, rel=1e-12)


def test_the_drawing_is_to_true_scale():
    drawing = calculate("fret-positions", {"scale_length": "650 mm"}).drawing
    left, _, right, _ = drawing.bounds
    assert right - left == pytest.approx(650)
    assert drawing.exaggerated == 1


def test_a_slot_beyond_the_saddle_is_refused():
    with pytest.raises(InvalidInput, match="beyond the saddle"):
        calculate("fret-positions", {"scale_length": 60, "fret": 48, "slot_offset": 10})
