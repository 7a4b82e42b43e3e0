"""Outlines against known areas, exact integrals and a library that was not written here."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import simpson, trapezoid

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.outline_area import (
    crossing,
    perimeter_m,
    read_outline,
    shoelace_m2,
    simpson_m2,
    trapezoid_m2,
)


def regular(sides: int, radius: float = 1.0) -> list[tuple[float, float]]:
    turns = (2 * math.pi * i / sides for i in range(sides))
    return [(radius * math.cos(turn), radius * math.sin(turn)) for turn in turns]


@given(st.integers(3, 60), st.floats(0.05, 2))
def test_a_regular_polygon_has_its_closed_form(sides, radius):
    points = regular(sides, radius)
    area = sides / 2 * radius**2 * math.sin(2 * math.pi / sides)
    assert shoelace_m2(points) == pytest.approx(area, rel=1e-9)
    assert perimeter_m(points) == pytest.approx(2 * sides * radius * math.sin(math.pi / sides))
    assert crossing(points) is None


@given(st.integers(3, 20), st.floats(-5, 5), st.floats(-5, 5), st.floats(0, 6.3))
def test_area_does_not_care_where_the_paper_lies(sides, dx, dy, turn):
    moved = [
        (x * math.cos(turn) - y * math.sin(turn) + dx, x * math.sin(turn) + y * math.cos(turn) + dy)
        for x, y in regular(sides)
    ]
    assert shoelace_m2(moved) == pytest.approx(shoelace_m2(regular(sides)), rel=1e-9)
    assert shoelace_m2(moved[::-1]) == pytest.approx(shoelace_m2(moved), rel=1e-12)


@given(st.lists(st.floats(0, 0.5), min_size=3, max_size=21), st.floats(0.01, 0.1))
def test_rules_for_widths_agree_with_scipy(widths, spacing):
    if len(widths) % 2 == 0:
        widths = widths[:-1]
    assert trapezoid_m2(widths, spacing) == pytest.approx(trapezoid(widths, dx=spacing), abs=1e-12)
    assert simpson_m2(widths, spacing) == pytest.approx(simpson(widths, dx=spacing), abs=1e-12)


@given(st.lists(st.floats(-3, 3), min_size=4, max_size=4), st.integers(1, 8))
def test_simpson_is_exact_for_cubics(terms, pairs):
    step = 1 / (2 * pairs)
    widths = [
        sum(term * (i * step) ** power for power, term in enumerate(terms))
        for i in range(2 * pairs + 1)
    ]
    exact = sum(term / (power + 1) for power, term in enumerate(terms))
    assert simpson_m2(widths, step) == pytest.approx(exact, abs=1e-12)


@pytest.mark.parametrize(
    "outline",
    [
        "0 0; 100 100; 100 0; 0 100",  # a bow tie
        "0 0; 100 0; 50 0; 50 80",  # runs back over itself
        "0 0; 100 0; 100 100; 50 0; 0 100",  # touches its own side
        "0 0; 100 0; 100 100; 0 0; 50 -50",  # comes through a point twice
    ],
)
def test_an_outline_that_crosses_itself_is_refused(outline):
    with pytest.raises(InvalidInput, match="crosses or touches itself"):
        calculate("outline-area", {"outline": outline})


def test_points_are_read_in_any_unit_and_the_closing_point_may_be_repeated():
    assert read_outline("0 0; 4 in 0; 4 in, 3 in; 0 76.2 mm; 0 0") == (
        (0.0, 0.0),
        (pytest.approx(0.1016), 0.0),
        (pytest.approx(0.1016), pytest.approx(0.0762)),
        (0.0, pytest.approx(0.0762)),
    )


def test_solving_for_the_thickness_from_a_volume():
    # 1000 cm³ over a square of 200 mm is 25 mm (arithmetic).
    found = calculate(
        "outline-area",
        {"outline": "0 0; 200 0; 200 200; 0 200", "volume": "1000 cm3"},
        "thickness",
    )
    assert found.values["thickness"] == pytest.approx(0.025, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("outline", "0 0; 1 1"),
        ("outline", "0 0; 1; 2 2"),
        ("outline", "0 0; 1 x; 2 2"),
        ("outline", "0 0; 9e9 m 0; 2 2"),
        ("outline", "nan nan; 1 1; 2 0"),
        ("outline", "__import__('os'); 1 1; 2 0"),
        ("outline", "; ".join(f"{i} {i * i}" for i in range(500))),
        ("widths", "10; 20"),
        ("widths", "10; 20; 30; 40"),
        ("widths", "10; -20; 30"),
        ("spacing", "0"),
    ],
)
def test_an_outline_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("outline-area", {name: text})
    assert refused.value.mistakes[0][0] == name
    assert refused.value.mistakes[0][1].endswith(".")
