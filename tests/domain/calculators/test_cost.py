"""Cost with waste."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate


def test_fret_wire_with_twenty_per_cent_waste():
    # 4.50 x 22 x 0.060 x 1.2 = 7.128 (arithmetic).
    found = calculate(
        "cost", {"unit_price": "$4.50", "pieces": 22, "amount_each": 0.06, "waste": "20 %"}
    )
    assert found.values["cost"] == pytest.approx(7.128)
    assert found.si["cost"] == "$7.13"


@given(st.floats(0.01, 500), st.integers(1, 200), st.floats(0, 200))
def test_solving_for_the_price_returns_it(price, pieces, waste):
    state = {"pieces": pieces, "waste": waste}
    total = calculate("cost", {**state, "unit_price": price}).values["cost"]
    back = calculate("cost", {**state, "cost": total}, "unit_price")
    assert back.values["unit_price"] == pytest.approx(price, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "text"),
    [("pieces", "0"), ("waste", "-10 %"), ("unit_price", "cheap"), ("cost", "nan")],
)
def test_a_price_that_cannot_be_is_refused_in_words(name, text):
    with pytest.raises(InvalidInput) as refused:
        calculate("cost", {name: text})
    assert refused.value.mistakes[0][0] == name
