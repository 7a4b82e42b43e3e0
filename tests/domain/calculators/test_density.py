"""Density, mass, volume and the nearest wood."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.density import candidates, density_from_gravity_kg_per_m3


def test_c174_density_of_sugar_maple_at_12_per_cent():
    # Wood Handbook chapter 4, rho = 1000 G (1 + M/100) (from memory): 705.6 kg/m³.
    assert density_from_gravity_kg_per_m3(0.63, 0.12) == pytest.approx(705.6, abs=0.05)
    found = calculate("density", {"specific_gravity": 0.63, "moisture_content": 12}, "density")
    assert found.values["density"] == pytest.approx(705.6, abs=0.05)


def test_a_block_of_sugar_maple_is_named_first():
    found = calculate(
        "density",
        {"length": "100 mm", "width": "50 mm", "thickness": "20 mm", "mass": "70.56 g"},
    )
    assert found.values["nearest_wood"] == "Sugar maple (hard maple)"
    assert found.values["specific_gravity"] == pytest.approx(0.63)


@given(st.floats(0.3, 0.75))
def test_candidates_come_nearest_first(gravity):
    differences = [abs(difference) for difference, _ in candidates(gravity)]
    assert differences == sorted(differences)


@given(st.floats(10, 500), st.floats(10, 200), st.floats(5, 60), st.floats(20, 900))
def test_solving_for_any_size_returns_it(length, width, thickness, grams):
    sizes = {"length": length, "width": width, "thickness": thickness, "mass": grams}
    rho = grams * 1e-3 / (length * width * thickness * 1e-9)
    if not 10 <= rho <= 25_000:
        return
    for unknown, value in sizes.items():
        others = {key: number for key, number in sizes.items() if key != unknown}
        back = calculate("density", {**others, "density": rho}, unknown)
        assert back.values[unknown] == pytest.approx(value * 1e-3, rel=1e-9)


def test_inches_and_ounces_give_the_same_density():
    metric = calculate("density", {"length": "101.6 mm", "mass": "88 g"})
    shop = calculate("density", {"length": "4 in", "mass": f"{88 / 28.349523125!r} oz"})
    assert metric.values["density"] == pytest.approx(shop.values["density"], rel=1e-9)


@pytest.mark.parametrize("text", ["0", "-3", "nan", "3 mm", "1e40 g", "heavy"])
def test_a_mass_that_cannot_be_is_refused_in_words(text):
    with pytest.raises(InvalidInput, match=r"(?i)mass"):
        calculate("density", {"mass": text})
