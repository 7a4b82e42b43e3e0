"""Clamp pressure: the force a glue joint needs, and how many clamps give it."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Line, Outline, Shape


@dataclass(frozen=True, slots=True)
class Inputs:
    joint_length_m: float
    joint_width_m: float
    pressure_pa: float
    clamp_force_n: float


@dataclass(frozen=True, slots=True)
class Result:
    force_n: float
    glue_area_m2: float
    clamps: int


def clamps_needed(force_n: float, clamp_force_n: float) -> int:
    """Whole clamps that together press with `force_n` (N)."""
    # A part in 10⁹ is rounding, not a reason for one more clamp.
    return max(1, math.ceil(force_n / clamp_force_n - 1e-9))


def compute(inputs: Inputs) -> Result:
    area = inputs.joint_length_m * inputs.joint_width_m
    force = inputs.pressure_pa * area
    return Result(force, area, clamps_needed(force, inputs.clamp_force_n))


def show(inputs: Inputs, result: Result) -> ShownValue:
    length, width = 1000 * inputs.joint_length_m, 1000 * inputs.joint_width_m
    drawn = min(result.clamps, 60)
    spacing = length / drawn
    shapes: list[Shape] = [
        Outline(((0, 0), (length, 0), (length, width), (0, width)), closed=True, line="thick"),
        Dimension((0, 0), (length, 0), f"{length:.0f} mm", offset_mm=-width / 4 - 8),
        Dimension((length, 0), (length, width), f"{width:.0f} mm", offset_mm=-12),
    ]
    for i in range(drawn):
        x = (i + 0.5) * spacing
        shapes.append(Line((x, -width / 6), (x, width * 7 / 6), "dashed"))
    drawing = Drawing(
        "The glued face",
        f"The glued face, {length:.0f} mm by {width:.0f} mm, with {result.clamps} clamps "
        f"{spacing:.0f} mm apart.",
        tuple(shapes),
    )
    return ShownValue(drawing=drawing)


CALCULATOR = Calculator(
    key="pressure",
    title="Clamp pressure",
    question="How hard must the joint be pressed, and how many clamps does that take?",
    quantities=(
        Quantity("joint_length", "a", "length of the joint", "length", 1, 5000, 510),
        Quantity("joint_width", "b", "width of the joint", "length", 1, 2000, 46),
        Quantity("pressure", "p", "pressure", "pressure", 0.001, 20, 0.7, "MPa", "psi"),
        Quantity("clamp_force", "F_c", "force of one clamp", "force", 1, 1e5, 4400),
        Quantity("force", "F", "force needed", "force", 0.001, 2e8, 16_000),
        Quantity("glue_area", "A", "glued area", "area", 0.01, 1e5),
        Quantity("clamps", "n", "clamps", "count", 1, 1e6, form="whole"),
    ),
    answers=("force", "glue_area", "clamps"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "glue_area = joint_length * joint_width",
            {
                "glue_area": "{glue_area} = {joint_length} * {joint_width}",
                "joint_length": "{joint_length} = frac({glue_area}, {joint_width})",
                "joint_width": "{joint_width} = frac({glue_area}, {joint_length})",
            },
        ),
        Relation(
            "force = pressure * glue_area",
            {
                "force": "{force} = {pressure} * {glue_area}",
                "pressure": "{pressure} = frac({force}, {glue_area})",
                "glue_area": "{glue_area} = frac({force}, {pressure})",
            },
        ),
    ),
    formulas={"clamps": "{clamps} = ceil(frac({force}, {clamp_force}))"},
    limits=(
        "The glue's own label says which pressure and which clamping time it needs.",
        (
            "A clamp presses a fan of about 45 degrees under its jaw: cauls spread it. "
            "Common practice, no source."
        ),
    ),
    conventions=("Clamps are rounded up: a half clamp presses nothing.",),
    source="Pressure is force over area: OpenStax, College Physics 2e, section 11.3",
    example=CalculatorExample(
        given={
            "joint_length": "510 mm",
            "joint_width": "46 mm",
            "pressure": "0.7 MPa",
            "clamp_force": "4.4 kN",
        },
        expected={"force": "16.42 kN", "clamps": 4},
        source="510 mm x 46 mm x 0.7 N/mm² = 16 422 N; 16.4/4.4 rounded up is 4",
    ),
)
