"""Neck geometry: neck angle, shim, break angle and relief, all right triangles and one arc."""

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
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Line


@dataclass(frozen=True, slots=True)
class Inputs:
    """Lengths in m, angles in rad, tension in N."""

    neck_angle_rad: float
    bridge_distance_m: float
    pocket_length_m: float
    post_distance_m: float
    post_drop_m: float
    tension_n: float
    relief_span_m: float
    relief_m: float


@dataclass(frozen=True, slots=True)
class Result:
    """Lengths in m, angle in rad, force in N."""

    bridge_height_m: float
    shim_thickness_m: float
    break_angle_rad: float
    nut_force_n: float
    bend_radius_m: float


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where the relief is more than half the span."""
    if inputs.relief_m > inputs.relief_span_m / 2:
        raise InvalidInput([("relief", "Relief must be less than half the span it is read over.")])
    slope = math.tan(inputs.neck_angle_rad)
    angle = math.atan(inputs.post_drop_m / inputs.post_distance_m)
    half = inputs.relief_span_m / 2
    return Result(
        bridge_height_m=inputs.bridge_distance_m * slope,
        shim_thickness_m=inputs.pocket_length_m * slope,
        break_angle_rad=angle,
        nut_force_n=2 * inputs.tension_n * math.sin(angle / 2),
        bend_radius_m=(half**2 + inputs.relief_m**2) / (2 * inputs.relief_m),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Neck and body from the side."""
    run = inputs.bridge_distance_m * 1000
    rise = result.bridge_height_m * 1000
    back = 300.0
    drop = back * math.tan(inputs.neck_angle_rad)
    degrees = math.degrees(inputs.neck_angle_rad)
    drawing = Drawing(
        "Neck and body from the side",
        f"The neck leans back {degrees:.2f}°: carried on over {run:.0f} mm to the bridge its plane "
        f"stands {rise:.1f} mm above the body.",
        (
            Line((0, 0), (run, 0), "thick"),
            Line((-back, drop), (0, 0), "thick"),
            Line((0, 0), (run, -rise), "dashed"),
            Dimension((0, 0), (run, 0), f"{run:.1f} mm", 15),
            Dimension((run, 0), (run, -rise), f"{rise:.2f} mm", 15),
            Label((-back / 2, drop + 12), f"{degrees:.2f}°"),
        ),
    )
    notes = []
    if result.break_angle_rad < math.radians(3):
        notes.append("Under about 3° a string may rattle in its slot (common practice, no source).")
    return ShownValue(drawing=drawing, notes=tuple(notes))


def _tangent(height: str, run: str) -> dict[str, str]:
    return {
        height: f"{{{height}}} = {{{run}:mm}} * tan({{neck_angle}})",
        "neck_angle": f"{{neck_angle}} = arctan(frac({{{height}:mm}}, {{{run}:mm}}))",
        run: f"{{{run}}} = frac({{{height}:mm}}, tan({{neck_angle}}))",
    }


CALCULATOR = Calculator(
    key="neck-geometry",
    title="Neck geometry",
    question="Which angles and heights put the strings at the right height over the frets?",
    quantities=(
        Quantity("neck_angle", "alpha", "neck angle", "angle", 0.001, 20, 2.5),
        Quantity("bridge_distance", "b", "body edge to bridge", "length", 1, 2000, 320),
        Quantity("pocket_length", "p", "length of the neck pocket", "length", 1, 500, 76.2),
        Quantity("post_distance", "a", "nut to tuner post, along the neck", "length", 1, 500, 60),
        Quantity("post_drop", "e", "drop from nut slot to post", "length", 0.01, 500, 10),
        Quantity("tension", "T", "tension of the string", "force", 0.01, 20000, 72.5),
        Quantity("relief_span", "w", "span the relief is read over", "length", 10, 2000, 420),
        Quantity("relief", "r", "relief", "length", 0.001, 100, 0.25),
        Quantity(
            "bridge_height",
            "h",
            "height of the neck plane at the bridge",
            "length",
            1e-4,
            1000,
            14,
            digits=5,
        ),
        Quantity("shim_thickness", "s", "thickness of the shim", "length", 1e-5, 200, 3.3),
        Quantity("break_angle", "beta", "break angle over the nut", "angle", 0.001, 89, 9.5),
        Quantity("nut_force", "F", "force of the string on the nut", "force", 0, 20000),
        Quantity("bend_radius", "R", "radius of the bent neck", "length", 0.01, 1e6, 88, "m", "ft"),
    ),
    answers=("bridge_height", "shim_thickness", "break_angle", "nut_force", "bend_radius"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "bridge_height = bridge_distance*tan(neck_angle)",
            _tangent("bridge_height", "bridge_distance"),
        ),
        Relation(
            "shim_thickness = pocket_length*tan(neck_angle)",
            _tangent("shim_thickness", "pocket_length"),
        ),
        Relation(
            "post_drop = post_distance*tan(break_angle)",
            {
                "break_angle": "{break_angle} = arctan(frac({post_drop:mm}, {post_distance:mm}))",
                "post_drop": "{post_drop} = {post_distance:mm} * tan({break_angle})",
                "post_distance": "{post_distance} = frac({post_drop:mm}, tan({break_angle}))",
            },
        ),
        Relation(
            "bend_radius = (relief_span**2/4 + relief**2)/(2*relief)",
            {
                "bend_radius": "{bend_radius} = frac({relief_span}^2, 8 * {relief}) + "
                "frac({relief}, 2)",
                "relief": "{relief} = {bend_radius} - "
                "sqrt({bend_radius}^2 - frac({relief_span}^2, 4))",
                "relief_span": "{relief_span} = 2 * sqrt(2 * {bend_radius} * {relief} - "
                "{relief}^2)",
            },
        ),
    ),
    formulas={"nut_force": "{nut_force} = 2 * {tension} * sin(frac({break_angle}, 2))"},
    limits=(
        "The neck plane is flat up to the body edge; relief is taken as an arc of a circle.",
        "The force on the nut is that of one string without friction in the slot.",
    ),
    conventions=(
        "The neck angle is positive where the head leans back.",
        "The shim is as thick as the pocket rises over its length.",
    ),
    source="right triangles and the chord of a circle (identities)",
    example=CalculatorExample(
        given={"neck_angle": "0.5°", "pocket_length": "3.0 in"},
        expected={"shim_thickness": "0.02618 in"},
        source="h = L tan α, recomputed with mpmath",
        tolerance=4e-4,
    ),
)
