"""Cost: unit price times how much of it, with waste."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import chart


@dataclass(frozen=True, slots=True)
class Inputs:
    unit_price_usd: float
    pieces: int
    amount_each: float
    waste: float


@dataclass(frozen=True, slots=True)
class Result:
    cost_usd: float
    amount: float


def amount(pieces: float, amount_each: float, waste: float) -> float:
    """What must be bought: pieces times the amount of each, plus the share that is wasted."""
    return pieces * amount_each * (1 + waste)


def compute(inputs: Inputs) -> Result:
    bought = amount(inputs.pieces, inputs.amount_each, inputs.waste)
    return Result(inputs.unit_price_usd * bought, bought)


def show(inputs: Inputs, result: Result) -> ShownValue:
    used = inputs.unit_price_usd * inputs.pieces * inputs.amount_each
    picture = chart(
        "Where the money goes",
        f"Of ${result.cost_usd:.2f}, ${used:.2f} is in the work and "
        f"${result.cost_usd - used:.2f} is waste.",
        [
            {"part": "in the work", "cost": used},
            {"part": "waste", "cost": result.cost_usd - used},
        ],
        mark="bar",
        encoding={
            "y": {"field": "part", "type": "nominal", "title": None, "sort": None},
            "x": {"field": "cost", "type": "quantitative", "title": "Cost ($)"},
        },
    )
    return ShownValue(chart=picture)


CALCULATOR = Calculator(
    key="cost",
    title="Cost",
    question="What does it cost, waste included?",
    quantities=(
        Quantity(
            "unit_price", "p", "price of one unit (metre, litre, piece)", "money", 0, 1e6, 4.5
        ),
        Quantity("pieces", "n", "number of pieces", "count", 1, 100_000, 22, form="whole"),
        Quantity("amount_each", "m", "units in each piece", "number", 1e-6, 1e6, 0.06),
        Quantity("waste", "w", "waste added", "percentage", 0, 300, 20),
        Quantity("cost", "K", "cost", "money", 0, 1e15, 10),
        Quantity("amount", "M", "units to buy", "number", 1e-9, 1e15),
    ),
    answers=("cost", "amount"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "amount = pieces * amount_each * (1 + waste)",
            {
                "amount": "{amount} = {pieces} * {amount_each} * (1 + {waste})",
                "amount_each": "{amount_each} = frac({amount}, {pieces} * (1 + {waste}))",
                "waste": "{waste} = frac({amount}, {pieces} * {amount_each}) - 1",
            },
        ),
        Relation(
            "cost = unit_price * amount",
            {
                "cost": "{cost} = {unit_price} * {amount}",
                "unit_price": "{unit_price} = frac({cost}, {amount})",
                "amount": "{amount} = frac({cost}, {unit_price})",
            },
        ),
    ),
    limits=("Prices change: use the offer in hand. Tax and shipping are not in it.",),
    conventions=("Waste is a per cent of what the work needs, not of what is bought.",),
    source="Arithmetic",
    example=CalculatorExample(
        given={"unit_price": "$4.50", "pieces": 22, "amount_each": 0.06, "waste": "20 %"},
        expected={"cost": "$7.13", "amount": 1.584},
        source="4.50 x 22 x 0.060 x 1.2 = 7.128, to the cent 7.13",
    ),
)
