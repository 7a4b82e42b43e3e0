"""Proportion: two equal ratios, as in a scale drawing, a map or a mixture."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import line_chart


@dataclass(frozen=True, slots=True)
class Inputs:
    """Plain numbers; first and second in one unit, third and fourth in one unit."""

    first: float
    second: float
    third: float


@dataclass(frozen=True, slots=True)
class Result:
    """Plain numbers."""

    fourth: float
    ratio: float
    percent: float


def compute(inputs: Inputs) -> Result:
    """The fourth of first : second = third : fourth."""
    return Result(
        fourth=inputs.second * inputs.third / inputs.first,
        ratio=inputs.first / inputs.second,
        percent=inputs.first / inputs.second,
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """A table of pairs with the same ratio, and the straight line they lie on."""
    columns = (
        ResultColumn("third", "Third", "number", places=(3, 3)),
        ResultColumn("fourth", "Fourth", "number", places=(3, 3)),
    )
    shares = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0)
    rows = tuple((inputs.third * share, result.fourth * share) for share in shares)
    return ShownValue(
        table=ResultTable("Pairs in the same ratio", columns, rows),
        chart=line_chart(
            "Pairs in the same ratio",
            "Every pair in the same ratio lies on one straight line through zero.",
            [(0.0, 0.0), (inputs.third, result.fourth), (2 * inputs.third, 2 * result.fourth)],
            "Third",
            "Fourth",
        ),
    )


CALCULATOR = Calculator(
    key="proportion",
    title="Proportion",
    question="Three numbers of two equal ratios are known: what is the fourth?",
    quantities=(
        Quantity("first", "a", "first number", "number", 1e-9, 1e12, 1, digits=6),
        Quantity("second", "b", "second number", "number", 1e-9, 1e12, 4, digits=6),
        Quantity("third", "c", "third number", "number", 1e-9, 1e12, 162, digits=6),
        Quantity("fourth", "d", "fourth number", "number", 1e-9, 1e12, 648, digits=6),
        Quantity("ratio", "r", "ratio of first to second", "ratio", 1e-12, 1e12, digits=6),
        Quantity("percent", "p", "first in percent of second", "percentage", 1e-10, 1e14),
    ),
    answers=("fourth", "ratio", "percent"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "first*fourth = second*third",
            {
                "fourth": "{fourth} = frac({second} * {third}, {first})",
                "third": "{third} = frac({first} * {fourth}, {second})",
                "second": "{second} = frac({first} * {fourth}, {third})",
                "first": "{first} = frac({second} * {third}, {fourth})",
            },
        ),
        Relation(
            "ratio = first/second",
            {
                "ratio": "{ratio} = frac({first}, {second})",
                "first": "{first} = {ratio} * {second}",
                "second": "{second} = frac({first}, {ratio})",
            },
        ),
    ),
    formulas={"percent": "{percent} = 100 % * frac({first}, {second})"},
    limits=("The two ratios are equal: doubling one number doubles its partner.",),
    conventions=(
        (
            "First to second is as third to fourth. First and second share a unit, third and fourth "
            "share a unit; numbers are written without it."
        ),
    ),
    source="equality of ratios (identity)",
    example=CalculatorExample(
        given={"first": 1, "second": 4, "third": 162},
        expected={"fourth": 648},
        source="by hand: a drawing at 1 : 4 shows 162 mm for 648 mm",
        tolerance=1e-12,
    ),
)
