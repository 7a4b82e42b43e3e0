"""Shop fractions, by hand and by exact rational arithmetic."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate


def values(**given_values: object) -> dict:
    return calculate("shop-fractions", given_values).values


# By hand: an inch is 25.4 mm; 12.7 mm is half of it, 19.05 mm three quarters.
@pytest.mark.parametrize(
    ("length", "denominator", "written"),
    [
        ("12.7 mm", "64", "½ in"),
        ("19.05 mm", "4", "¾ in"),
        ("648 mm", "64", "25 33/64 in"),
        ("648 mm", "16", "25 ½ in"),
        ("25 1/2 in", "2", "25 ½ in"),
        ("0.3 mm", "16", "0 in"),
    ],
)
def test_the_nearest_mark(length, denominator, written):
    result = values(length=length, denominator=denominator)
    assert " ".join(result["inch_fraction"].split()) == written


@given(st.integers(0, 20000), st.sampled_from(["2", "4", "8", "16", "32", "64"]))
def test_the_mark_is_the_nearest_by_exact_arithmetic(tenths, denominator):
    result = values(length=tenths / 10, denominator=denominator)
    exact = Fraction(tenths, 254) * int(denominator)
    nearest = Fraction(round(exact), int(denominator)) * 254 / 10
    assert abs(result["rounding_error"] * 1000) == pytest.approx(
        abs(float(nearest - Fraction(tenths, 10))), abs=1e-9
    )
    assert abs(result["rounding_error"]) <= 0.0254 / int(denominator) / 2 + 1e-12


# By hand: 1 5/8 + 1/2 = 2 1/8, 1 5/8 − 1/2 = 1 1/8, half of 1 5/8 = 13/16.
def test_lengths_are_added_subtracted_and_halved():
    result = values(length="1 5/8 in", second_length="1/2 in")
    assert result["length_sum"] == pytest.approx(2.125 * 0.0254)
    assert result["length_difference"] == pytest.approx(1.125 * 0.0254)
    assert result["half_length"] == pytest.approx(0.8125 * 0.0254)
    table = calculate("shop-fractions", {"length": "1 5/8 in", "second_length": "1/2 in"}).table
    written = {row[0]: " ".join(str(row[2]).split()) for row in table.rows}
    assert written["sum, to 1/64 in"] == "2 ⅛ in"
    assert written["half, to 1/64 in"] == "13/16 in"


def test_a_length_is_found_from_its_half():
    back = calculate("shop-fractions", {"half_length": "20 mm"}, "length")
    assert back.values["length"] == pytest.approx(0.040)


def test_the_rule_is_drawn_to_true_scale():
    left, _, right, _ = calculate("shop-fractions", {}).drawing.bounds
    assert right - left == pytest.approx(25.4)


def test_a_rule_divided_in_tenths_is_refused():
    with pytest.raises(InvalidInput, match="2, 4, 8, 16, 32, 64"):
        calculate("shop-fractions", {"denominator": "10"})
