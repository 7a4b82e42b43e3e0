"""Area and volume of plain shapes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate

SIZE = st.floats(1, 3000)


def test_a_lid_23_by_16_5_cm():
    # 23 x 16.5 = 379.5 cm², around 79 cm (arithmetic).
    found = calculate("area-and-volume", {"length": "23 cm", "width": "16.5 cm"})
    assert found.values["rectangle_area"] * 1e4 == pytest.approx(379.5)
    assert found.values["rectangle_perimeter"] == pytest.approx(0.79)


@given(SIZE, SIZE, SIZE, SIZE)
def test_areas_and_volumes_follow_their_definitions(length, width, height, diameter):
    values = calculate(
        "area-and-volume",
        {"length": length, "width": width, "height": height, "diameter": diameter},
    ).values
    assert values["box_volume"] == pytest.approx(length * width * height * 1e-9)
    radius = diameter / 2000
    assert values["circle_area"] == pytest.approx(math.pi * radius * radius)
    assert values["circumference"] == pytest.approx(2 * math.pi * radius)
    assert values["cylinder_volume"] == pytest.approx(values["circle_area"] * height * 1e-3)


@given(SIZE)
def test_solving_for_the_diameter_returns_it(diameter):
    forward = calculate("area-and-volume", {"diameter": diameter})
    area = forward.values["circle_area"] * 1e4
    back = calculate("area-and-volume", {"circle_area": area}, "diameter")
    assert back.values["diameter"] * 1000 == pytest.approx(diameter, rel=1e-9)


def test_doubling_the_diameter_makes_four_times_the_area():
    one = calculate("area-and-volume", {"diameter": "50 mm"}).values["circle_area"]
    two = calculate("area-and-volume", {"diameter": "100 mm"}).values["circle_area"]
    assert two == pytest.approx(4 * one)


@pytest.mark.parametrize(
    ("name", "text"), [("length", "0"), ("width", "-2"), ("diameter", "inf"), ("height", "3 cm2")]
)
def test_a_size_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("area-and-volume", {name: text})
    assert refused.value.mistakes[0][0] == name
