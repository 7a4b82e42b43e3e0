"""Joint squareness: what an edge off square does to a glue joint and to a glued panel."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Outline, Point


@dataclass(frozen=True, slots=True)
class Inputs:
    thickness_m: float
    edge_error_rad: float
    edges: int
    strip_width_m: float
    strips: int


@dataclass(frozen=True, slots=True)
class Result:
    joint_gap_m: float
    cup_m: float


def joint_gap_m(thickness_m: float, edge_error_rad: float, edges: int) -> float:
    """Gap (m) at the open side of an edge joint: t tan a for each edge that is off."""
    return edges * thickness_m * math.tan(edge_error_rad)


def cup_m(strip_width_m: float, strips: int, turn_rad: float) -> float:
    """Height (m) of the middle of a glued panel above the line through its outer edges.

    Every joint turns the next strip by `turn_rad`; the strips are chords of one arc. For an even
    number the middle is a joint, for an odd number the middle strip lies level: the sum of
    w sin(angle of the strip) over half the panel.
    """
    angles = ((i - (strips - 1) / 2) * turn_rad for i in range(strips))
    return sum(strip_width_m * math.sin(angle) for angle in angles if angle > 0)


def compute(inputs: Inputs) -> Result:
    turn = inputs.edges * inputs.edge_error_rad
    return Result(
        joint_gap_m(inputs.thickness_m, inputs.edge_error_rad, inputs.edges),
        cup_m(inputs.strip_width_m, inputs.strips, turn),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    thick = 1000 * inputs.thickness_m
    gap = 1000 * result.joint_gap_m
    width = min(1000 * inputs.strip_width_m, 2 * thick)
    one_off = gap / inputs.edges
    left: tuple[Point, ...] = ((-width, 0), (0, 0), (-one_off, thick), (-width, thick))
    slant = one_off if inputs.edges > 1 else 0.0
    right: tuple[Point, ...] = ((0, 0), (width, 0), (width, thick), (slant, thick))
    shapes = (
        Outline(left, closed=True, line="thick"),
        Outline(right, closed=True, line="thick"),
        Dimension((-one_off, thick), (slant, thick), f"gap {gap:.3f} mm", offset_mm=thick / 4 + 6),
        Dimension((width, 0), (width, thick), f"{thick:.1f} mm", offset_mm=-thick / 6 - 4),
        Label((-width / 2, thick / 2), "left"),
        Label((width / 2, thick / 2), "right"),
    )
    drawing = Drawing(
        "The joint, end view",
        f"The two edges touch at the top and stand {gap:.3f} mm apart at the bottom.",
        shapes,
    )
    cup = 1000 * result.cup_m
    notes = (
        f"Clamped shut, {inputs.strips} such strips make a panel that cups by {cup:.2f} mm.",
        "Plane one edge face out and the other face in: equal errors then cancel.",
    )
    return ShownValue(drawing=drawing, notes=notes)


CALCULATOR = Calculator(
    key="joint-squareness",
    title="Joint squareness",
    question="How wide a gap does an edge off square leave, and how much will the panel cup?",
    quantities=(
        Quantity("thickness", "t", "thickness (or length of the blade)", "length", 0.5, 1000, 45),
        Quantity("edge_error", "alpha", "edge off square", "angle", 0, 30, 0.25),
        Quantity(
            "edges",
            "k",
            "edges off the same way",
            "count",
            1,
            2,
            2,
            form="whole",
            note="1: one edge is square. 2: both are off and the errors add.",
        ),
        Quantity("strip_width", "w", "width of one strip", "length", 1, 2000, 90),
        Quantity("strips", "n", "strips in the panel", "count", 2, 40, 4, form="whole"),
        Quantity("joint_gap", "g", "gap of the joint", "length", 0, 1000, 0.4),
        Quantity("cup", "c", "cup of the panel", "length", -10_000, 10_000, 1.5),
    ),
    answers=("joint_gap", "cup"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "joint_gap = edges * thickness * tan(edge_error)",
            {
                "joint_gap": "{joint_gap} = {edges} * {thickness:mm} * tan({edge_error})",
                "thickness": "{thickness} = frac({joint_gap:mm}, {edges} * tan({edge_error}))",
                "edge_error": "{edge_error} = arctan(frac({joint_gap:mm}, {edges} * {thickness:mm}))",
            },
        ),
    ),
    formulas={
        "cup": "{cup:mm} = {strip_width:mm} * sum_(theta_i > 0) sin theta_i,"
        " quad theta_i = (i - frac({strips} - 1, 2)) * {edges} * {edge_error}"
    },
    numeric={"cup": ("strip_width",)},
    limits=(
        "The strips are taken as flat and equally wide, every joint as off by the same angle.",
        "A gap that a clamp closes stays in the joint as stress: common practice, no source.",
    ),
    conventions=(
        "The gap is measured at the open side, the edges touching at the other.",
        "With one strip edge square, count 1; with both off the same way, count 2.",
        (
            "The same relation turns a feeler gap at the end of a square's blade into an angle: "
            "give the blade as thickness and 1 as edges."
        ),
    ),
    source="Plane trigonometry: g = t tan(alpha) for each edge",
    example=CalculatorExample(
        given={"thickness": "45 mm", "edge_error": "0.25 deg", "edges": 2},
        expected={"joint_gap": "0.3927 mm"},
        source="2 x 45 mm x tan(0.25°), computed apart from this program with mpmath",
    ),
)
