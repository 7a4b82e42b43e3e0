"""Clamp pressure: force, area, whole clamps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.pressure import clamps_needed


def test_a_joint_510_by_46_mm_at_0_7_megapascal():
    # 510 x 46 mm² x 0.7 N/mm² = 16 422 N; 16.4/4.4 rounded up is 4 (arithmetic).
    found = calculate(
        "pressure",
        {
            "joint_length": "510 mm",
            "joint_width": "46 mm",
            "pressure": "0.7 MPa",
            "clamp_force": "4.4 kN",
        },
    )
    assert found.values["force"] == pytest.approx(16_422)
    assert found.values["clamps"] == 4


@pytest.mark.parametrize(
    ("force", "each", "clamps"), [(1000, 500, 2), (1000.1, 500, 3), (0.3, 0.1, 3), (1, 500, 1)]
)
def test_clamps_are_rounded_up_and_only_where_needed(force, each, clamps):
    assert clamps_needed(force, each) == clamps


@given(st.floats(50, 2000), st.floats(5, 300), st.floats(0.05, 5))
def test_solving_for_the_pressure_returns_it(length, width, megapascal):
    sizes = {"joint_length": length, "joint_width": width}
    forward = calculate("pressure", {**sizes, "pressure": megapascal})
    back = calculate("pressure", {**sizes, "force": forward.values["force"]}, "pressure")
    assert back.values["pressure"] == pytest.approx(megapascal * 1e6, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"), [("clamp_force", "0"), ("pressure", "-1"), ("joint_width", "3 N")]
)
def test_a_clamp_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("pressure", {name: text})
    assert refused.value.mistakes[0][0] == name
