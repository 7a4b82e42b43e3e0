"""Right triangle: the diagonal that proves a corner square."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Outline

EXACT_DEG = 1e-6


@dataclass(frozen=True, slots=True)
class Inputs:
    leg_a_m: float
    leg_b_m: float
    measured_diagonal_m: float | None


@dataclass(frozen=True, slots=True)
class Result:
    """Without a measured diagonal nothing is known of the corner: None."""

    diagonal_m: float
    slope_angle_rad: float
    corner_angle_rad: float | None
    out_of_square_rad: float | None


def corner_angle_rad(leg_a_m: float, leg_b_m: float, diagonal_m: float) -> float:
    """Angle (rad) between two sides from the line across their ends: the law of cosines.

    Raises ValueError where the three lengths close no triangle.
    """
    cosine = (leg_a_m**2 + leg_b_m**2 - diagonal_m**2) / (2 * leg_a_m * leg_b_m)
    if not -1 - 1e-12 <= cosine <= 1 + 1e-12:
        raise ValueError("the three lengths close no triangle")
    return math.acos(max(-1.0, min(1.0, cosine)))


def compute(inputs: Inputs) -> Result:
    a, b, measured = inputs.leg_a_m, inputs.leg_b_m, inputs.measured_diagonal_m
    if measured is None:
        return Result(math.hypot(a, b), math.atan2(a, b), None, None)
    try:
        corner = corner_angle_rad(a, b, measured)
    except ValueError:
        raise InvalidInput(
            [
                (
                    "measured_diagonal",
                    (
                        "The measured diagonal must be longer than the difference of the two sides "
                        "and shorter than their sum."
                    ),
                )
            ]
        ) from None
    return Result(math.hypot(a, b), math.atan2(a, b), corner, corner - math.pi / 2)


def show(inputs: Inputs, result: Result) -> ShownValue:
    a, b = 1000 * inputs.leg_a_m, 1000 * inputs.leg_b_m
    diagonal = 1000 * result.diagonal_m
    room = 0.06 * diagonal + 6
    shapes = (
        Outline(((0, 0), (0, a), (b, a)), closed=True, line="thick"),
        Dimension((0, 0), (0, a), f"{a:.1f} mm", offset_mm=-room),
        Dimension((0, a), (b, a), f"{b:.1f} mm", offset_mm=room),
        Dimension((0, 0), (b, a), f"{diagonal:.1f} mm", offset_mm=-room),
        Outline(((0, a - room), (room, a - room), (room, a))),
    )
    drawing = Drawing(
        "The triangle",
        f"Sides of {a:.1f} mm and {b:.1f} mm meet at a right angle; "
        f"the diagonal is {diagonal:.1f} mm.",
        shapes,
    )
    return ShownValue(drawing=drawing, notes=_verdict(result))


def _verdict(result: Result) -> tuple[str, ...]:
    if result.out_of_square_rad is None:
        return ("Measure across the corner and give the diagonal: the corner's angle follows.",)
    off = math.degrees(result.out_of_square_rad)
    if abs(off) < EXACT_DEG:
        return ("By the measured diagonal the corner is square.",)
    return (f"By the measured diagonal the corner is {abs(off):.2f}° {_side(off)}.",)


def _side(off: float) -> str:
    return "too wide" if off > 0 else "too narrow"


CALCULATOR = Calculator(
    key="triangle",
    title="Right triangle",
    question="How long must the diagonal be when the corner is square?",
    quantities=(
        Quantity("leg_a", "a", "one side", "length", 1, 20_000, 300),
        Quantity("leg_b", "b", "other side", "length", 1, 20_000, 400),
        Quantity(
            "measured_diagonal", "d_m", "measured diagonal", "length", 1, 30_000, optional=True
        ),
        Quantity("diagonal", "d", "diagonal when square", "length", 1, 30_000, 500, digits=5),
        Quantity("slope_angle", "beta", "angle between diagonal and other side", "angle", 0, 90),
        Quantity("corner_angle", "gamma", "corner angle as measured", "angle", 0, 180, 90.5),
        Quantity(
            "out_of_square", "Delta", "corner off square (+ too wide)", "angle", -90, 90, digits=3
        ),
    ),
    answers=("diagonal", "slope_angle", "corner_angle", "out_of_square"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "diagonal**2 = leg_a**2 + leg_b**2",
            {
                "diagonal": "{diagonal} = sqrt({leg_a:mm}^2 + {leg_b:mm}^2)",
                "leg_a": "{leg_a} = sqrt({diagonal:mm}^2 - {leg_b:mm}^2)",
                "leg_b": "{leg_b} = sqrt({diagonal:mm}^2 - {leg_a:mm}^2)",
            },
        ),
        Relation(
            "measured_diagonal**2 = leg_a**2 + leg_b**2 - 2*leg_a*leg_b*cos(corner_angle)",
            {
                "measured_diagonal": "{measured_diagonal} = sqrt({leg_a:mm}^2 + {leg_b:mm}^2"
                " - 2 * {leg_a:mm} * {leg_b:mm} * cos({corner_angle}))",
            },
        ),
    ),
    formulas={
        "slope_angle": "{slope_angle} = arctan(frac({leg_a:mm}, {leg_b:mm}))",
        "corner_angle": "{corner_angle} = arccos(frac({leg_a:mm}^2 + {leg_b:mm}^2"
        " - {measured_diagonal:mm}^2, 2 * {leg_a:mm} * {leg_b:mm}))",
        "out_of_square": "{out_of_square} = {corner_angle} - 90 degree",
    },
    limits=("The sides must be straight; measure them and the diagonal from the same corners.",),
    conventions=("Off square is positive when the corner is wider than a right angle.",),
    source="Theorem of Pythagoras and law of cosines: Euclid, Elements I.47, II.12 and II.13",
    example=CalculatorExample(
        given={"leg_a": "600 mm", "leg_b": "800 mm"},
        expected={"diagonal": "1000 mm"},
        source="3, 4, 5 by 200 mm: Euclid, Elements I.47",
    ),
)
