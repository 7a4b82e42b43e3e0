"""Percent difference: a measured value against a reference, and against another measurement."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import bar_chart


@dataclass(frozen=True, slots=True)
class Inputs:
    """Two values in one unit."""

    measured_value: float
    reference_value: float


@dataclass(frozen=True, slots=True)
class Result:
    """Difference in that unit, shares of 1."""

    difference: float
    percent_error: float
    percent_difference: float


def compute(inputs: Inputs) -> Result:
    """Signed error against the reference; difference against the mean of both without sign."""
    difference = inputs.measured_value - inputs.reference_value
    return Result(
        difference=difference,
        percent_error=difference / inputs.reference_value,
        percent_difference=abs(difference) / ((inputs.measured_value + inputs.reference_value) / 2),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Both values side by side."""
    return ShownValue(
        chart=bar_chart(
            "Measured and reference",
            f"The measured value lies {result.percent_error * 100:.3g} % off the reference.",
            [("measured", inputs.measured_value), ("reference", inputs.reference_value)],
            "",
            "Value",
        ),
    )


CALCULATOR = Calculator(
    key="percent-difference",
    title="Percent difference",
    question="By how many percent is a measured value off?",
    quantities=(
        Quantity("measured_value", "x", "measured value", "number", 1e-12, 1e12, 330.4, digits=6),
        Quantity(
            "reference_value", "r", "reference value", "number", 1e-12, 1e12, 329.63, digits=6
        ),
        Quantity("difference", "Delta", "measured minus reference", "number", -1e12, 1e12, 0.77),
        Quantity("percent_error", "e", "percent error", "percentage", -1e9, 1e9, 0.25),
        Quantity("percent_difference", "p", "percent difference", "percentage", 0, 200),
    ),
    answers=("percent_error", "difference", "percent_difference"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "difference = measured_value - reference_value",
            {
                "difference": "{difference} = {measured_value} - {reference_value}",
                "measured_value": "{measured_value} = {reference_value} + {difference}",
                "reference_value": "{reference_value} = {measured_value} - {difference}",
            },
        ),
        Relation(
            "percent_error = (measured_value - reference_value)/reference_value",
            {
                "percent_error": "{percent_error} = 100 % * "
                "frac({measured_value} - {reference_value}, {reference_value})",
                "measured_value": "{measured_value} = {reference_value} * (1 + {percent_error})",
                "reference_value": "{reference_value} = frac({measured_value}, 1 + {percent_error})",
            },
        ),
    ),
    formulas={
        "percent_difference": "{percent_difference} = 200 % * "
        "frac(abs({measured_value} - {reference_value}), {measured_value} + {reference_value})",
    },
    limits=("Both values are positive and in the same unit.",),
    conventions=(
        (
            "Percent error is signed and compares with the reference; percent difference has no sign "
            "and compares with the mean of both."
        ),
    ),
    source="definition (identity)",
    example=CalculatorExample(
        given={"measured_value": 1010, "reference_value": 1000},
        expected={"percent_error": "1 %", "difference": 10},
        source="by hand",
        tolerance=1e-9,
    ),
)
