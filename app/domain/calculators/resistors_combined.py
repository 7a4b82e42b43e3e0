"""Resistors combined: the total of a row in series and of the same row in parallel."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Drawing, Label, Line, Outline, Shape

STEP_MM = 30.0


@dataclass(frozen=True, slots=True)
class Inputs:
    resistances_ohm: tuple[float, ...]
    added_resistance_ohm: float


@dataclass(frozen=True, slots=True)
class Result:
    parallel_resistance_ohm: float
    series_resistance_ohm: float


def series_ohm(resistances_ohm: Sequence[float]) -> float:
    """Resistance (ohm) one after the other: the sum."""
    return math.fsum(resistances_ohm)


def parallel_ohm(resistances_ohm: Sequence[float]) -> float:
    """Resistance (ohm) side by side: one over the sum of conductances; 0 if one is 0."""
    if min(resistances_ohm) == 0:
        return 0.0
    return 1 / math.fsum(1 / r for r in resistances_ohm)


def compute(inputs: Inputs) -> Result:
    together = (*inputs.resistances_ohm, inputs.added_resistance_ohm)
    return Result(parallel_ohm(together), series_ohm(together))


def show(inputs: Inputs, result: Result) -> ShownValue:
    together = (*inputs.resistances_ohm, inputs.added_resistance_ohm)
    rows = tuple(
        (
            i,
            r,
            100 * r / result.series_resistance_ohm,
            100 * result.parallel_resistance_ohm / r,
        )
        for i, r in enumerate(together, 1)
    )
    columns = (
        ResultColumn("resistor", "Resistor"),
        ResultColumn("resistance", "Resistance", "resistance", "Ω", "Ω", (1, 1)),
        ResultColumn("voltage_share", "Share of the voltage in series, %", places=(1, 1)),
        ResultColumn("current_share", "Share of the current in parallel, %", places=(1, 1)),
    )
    return ShownValue(table=ResultTable("Shares", columns, rows), drawing=_drawing(len(together)))


def _drawing(count: int) -> Drawing:
    drawn = min(count, 8)
    shapes: list[Shape] = [Line((-10, 0), (0, 0))]
    for i in range(drawn):
        x = i * STEP_MM
        shapes.append(_body(x + 5, 0))
        shapes.append(Line((x, 0), (x + 5, 0)))
        shapes.append(Line((x + 25, 0), (x + STEP_MM, 0)))
        shapes.append(Label((x + 15, -8), f"R{i + 1}"))
        y = 30.0 + 14 * i
        shapes.append(_body(20, y))
        shapes.extend((Line((0, y), (20, y)), Line((40, y), (60, y))))
        shapes.append(Label((66, y + 1.5), f"R{i + 1}", anchor="start"))
    low = 30.0 + 14 * (drawn - 1)
    shapes.extend((Line((0, 30), (0, low), "thick"), Line((60, 30), (60, low), "thick")))
    more = f" Only the first {drawn} are drawn." if drawn < count else ""
    return Drawing(
        "In series and in parallel",
        f"Above, {count} resistors one after the other; below, the same side by side.{more}",
        tuple(shapes),
    )


def _body(x: float, y: float) -> Outline:
    corners = ((x, y - 3), (x + 20, y - 3), (x + 20, y + 3), (x, y + 3))
    return Outline(corners, closed=True, line="thick")


CALCULATOR = Calculator(
    key="resistors-combined",
    title="Resistors combined",
    question="What do these resistors make, one after the other and side by side?",
    quantities=(
        Quantity(
            "resistances",
            "R_i",
            "resistances already there",
            "resistance",
            0.001,
            1e9,
            (250_000.0,),
            form="numbers",
            longest=50,
        ),
        Quantity(
            "added_resistance", "R_a", "one more resistance", "resistance", 0.001, 1e9, 1_000_000
        ),
        Quantity(
            "parallel_resistance", "R_p", "resistance in parallel", "resistance", 1e-6, 1e9, 200_000
        ),
        Quantity("series_resistance", "R_s", "resistance in series", "resistance", 1e-6, 1e11),
    ),
    answers=("parallel_resistance", "series_resistance"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "parallel_resistance": "{parallel_resistance} = frac(1, sum_i frac(1, R_i)"
        " + frac(1, {added_resistance}))",
        "series_resistance": "{series_resistance} = sum_i R_i + {added_resistance}",
    },
    numeric={
        "parallel_resistance": ("added_resistance",),
        "series_resistance": ("added_resistance",),
    },
    limits=("Holds for steady current; a resistor is at best as exact as its tolerance band.",),
    conventions=(
        (
            "The list holds what is there; the last one stands apart, so that the resistor that makes "
            "a wanted total can be found."
        ),
    ),
    source="OpenStax, College Physics 2e, section 21.1",
    example=CalculatorExample(
        given={"resistances": "36 ohm; 50 ohm", "added_resistance": "700 ohm"},
        expected={"parallel_resistance": "20.3 ohm", "series_resistance": "786 ohm"},
        source="OpenStax, College Physics 2e, chapter 21, problem 3 (20.3 Ω, printed to 0.1)",
        tolerance=0.003,
    ),
)
