"""Joint squareness: gaps by trigonometry, the cup of a panel by walking its strips."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.joint_squareness import cup_m

MPMATH = "g = k t tan a, verified with mpmath"


@pytest.mark.parametrize(
    ("state", "unknown", "unit", "expected", "tolerance", "source"),
    [
        pytest.param(
            {"thickness": "1.75 in", "edge_error": "0.5 deg", "edges": 1}, "joint_gap", 0.0254,
            0.01527, 1e-5, MPMATH, id="C258",
        ),
        pytest.param(
            {"thickness": "45 mm", "edge_error": "0.25 deg", "edges": 2}, "joint_gap", 1e-3,
            0.3927, 1e-4, MPMATH, id="C259",
        ),
        pytest.param(
            {"thickness": "6 in", "joint_gap": "0.006 in", "edges": 1}, "edge_error", math.pi / 180,
            0.0573, 1e-4, "atan(g/L), verified with mpmath: feeler gap at a blade", id="C260",
        ),
        pytest.param(
            {"thickness": "3.0 in", "edge_error": "0.5 deg", "edges": 1}, "joint_gap", 0.0254,
            0.02618, 1e-5, "h = L tan a, verified with mpmath: neck-angle shim", id="C261",
        ),
    ],
)  # fmt: skip
def test_gap_and_angle(state, unknown, unit, expected, tolerance, source):
    found = calculate("joint-squareness", state, unknown)
    assert found.values[unknown] / unit == pytest.approx(expected, abs=tolerance)


@given(st.floats(0.02, 0.2), st.integers(2, 12), st.floats(0.0001, 0.05))
def test_the_cup_is_what_walking_along_the_strips_finds(width, strips, turn):
    # Lay the strips end to end from one edge, then measure the height over the chord.
    x, y, corners = 0.0, 0.0, [(0.0, 0.0)]
    for i in range(strips):
        angle = (strips - 1 - 2 * i) * turn / 2
        x, y = x + width * math.cos(angle), y + width * math.sin(angle)
        corners.append((x, y))
    assert y == pytest.approx(0, abs=1e-12)
    assert cup_m(width, strips, turn) == pytest.approx(max(h for _, h in corners), rel=1e-9)


@given(st.floats(5, 200), st.floats(0.01, 5), st.sampled_from([1, 2]))
def test_solving_for_the_angle_returns_it(thickness, degrees, edges):
    forward = calculate(
        "joint-squareness", {"thickness": thickness, "edge_error": degrees, "edges": edges}
    )
    gap_mm = 1000 * forward.values["joint_gap"]
    back = calculate(
        "joint-squareness",
        {"thickness": thickness, "joint_gap": gap_mm, "edges": edges},
        "edge_error",
    )
    assert math.degrees(back.values["edge_error"]) == pytest.approx(degrees, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"),
    [("thickness", "0"), ("edge_error", "91"), ("edges", "3"), ("strips", "1"), ("strips", "9999")],
)
def test_a_joint_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("joint-squareness", {name: text})
    assert refused.value.mistakes[0][0] == name
