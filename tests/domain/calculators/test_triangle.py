"""Right triangles and corners measured across."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.triangle import corner_angle_rad


@pytest.mark.parametrize("triple", [(3, 4, 5), (5, 12, 13), (8, 15, 17), (20, 21, 29)])
def test_pythagorean_triples_close(triple):
    # Euclid, Elements I.47; the triples are older than Euclid.
    a, b, d = triple
    found = calculate("triangle", {"leg_a": f"{a} in", "leg_b": f"{b} in"})
    assert found.values["diagonal"] / 0.0254 == pytest.approx(d, rel=1e-12)


def test_an_equilateral_triangle_has_60_degrees():
    assert math.degrees(corner_angle_rad(1, 1, 1)) == pytest.approx(60)


@given(st.floats(50, 2000), st.floats(50, 2000))
def test_solving_for_a_side_returns_it(a, b):
    d = 1000 * calculate("triangle", {"leg_a": a, "leg_b": b}).values["diagonal"]
    state = {"diagonal": d, "leg_b": b, "measured_diagonal": d}
    back = calculate("triangle", state, "leg_a")
    assert back.values["leg_a"] == pytest.approx(a / 1000, rel=1e-6)
    assert back.values["out_of_square"] == pytest.approx(0, abs=1e-6)


@given(st.floats(100, 900), st.floats(100, 900), st.floats(-0.1, 0.1))
def test_a_corner_off_by_a_known_angle_is_found(a, b, off):
    corner = math.pi / 2 + off
    measured = math.dist((a, 0), (b * math.cos(corner), b * math.sin(corner)))
    found = calculate("triangle", {"leg_a": a, "leg_b": b, "measured_diagonal": measured})
    assert found.values["out_of_square"] == pytest.approx(off, abs=1e-9)


@pytest.mark.parametrize(
    ("state", "key"),
    [
        ({"leg_a": "300", "leg_b": "400", "measured_diagonal": "800"}, "measured_diagonal"),
        ({"leg_a": "300", "leg_b": "400", "measured_diagonal": "50"}, "measured_diagonal"),
        ({"leg_a": "0"}, "leg_a"),
        ({"leg_b": "1e30"}, "leg_b"),
    ],
)
def test_lengths_that_close_no_triangle_are_refused(state, key):
    with pytest.raises(InvalidInput) as refused:
        calculate("triangle", state)
    assert refused.value.mistakes[0][0] == key


def test_a_diagonal_shorter_than_the_side_is_refused():
    with pytest.raises(InvalidInput):
        calculate("triangle", {"diagonal": "300", "leg_b": "400"}, "leg_a")
