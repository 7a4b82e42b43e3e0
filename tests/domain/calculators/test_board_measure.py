"""Board measure against its definition."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.board_measure import board_measure_m3

INCH = 0.0254
BOARD_FOOT = 144 * INCH**3


@pytest.mark.parametrize(
    ("found", "expected", "tolerance", "source"),
    [
        pytest.param(
            board_measure_m3(1, INCH, 12 * INCH, 12 * INCH) / INCH**3,
            144,
            1e-9,
            "lumber definition, 1 in x 12 in x 12 in, in cubic inches",
            id="C175",
        ),
        pytest.param(
            board_measure_m3(1, INCH, 3 * INCH, 96 * INCH) / BOARD_FOOT,
            2,
            1e-9,
            "furniture-making handbook page: 8 ft of 1 x 3, nominal",
            id="C176",
        ),
        pytest.param(
            board_measure_m3(1, INCH, 12 * INCH, 12 * INCH),
            0.002359737,
            1e-9,
            "exact inch, verified with pint, m³",
            id="C177",
        ),
    ],
)
def test_a_board_foot_is_144_cubic_inches(found, expected, tolerance, source):
    assert found == pytest.approx(expected, abs=tolerance)


def test_two_body_halves_and_their_cost():
    # 2 x 1.89 x 7.28 x 20.5 / 144 = 3.918 board feet; at $6.50 $25.46 (arithmetic).
    found = calculate(
        "board-measure",
        {
            "pieces": 2,
            "thickness": "1.89 in",
            "width": "7.28 in",
            "length": "20.5 in",
            "price": "6.50 $/bd ft",
        },
    )
    assert found.values["board_measure"] / BOARD_FOOT == pytest.approx(3.92, abs=0.005)
    assert found.values["cost"] == pytest.approx(25.46, abs=0.01)


@given(st.floats(5, 100), st.floats(20, 500), st.floats(100, 4000), st.floats(0, 100))
def test_solving_for_each_size_returns_it(thickness, width, length, allowance):
    sizes = {"thickness": thickness, "width": width, "length": length}
    forward = calculate("board-measure", {**sizes, "stock_allowance": allowance})
    volume = forward.values["board_measure"]
    for unknown, value in sizes.items():
        others = {key: number for key, number in sizes.items() if key != unknown}
        back = calculate(
            "board-measure",
            {**others, "stock_allowance": allowance, "board_measure": volume},
            unknown,
        )
        assert back.values[unknown] == pytest.approx(value * 1e-3, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"),
    [("pieces", "0"), ("pieces", "2.5"), ("thickness", "0"), ("width", "7 kg"), ("length", "1/0")],
)
def test_a_stack_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("board-measure", {name: text})
    assert refused.value.mistakes[0][0] == name
