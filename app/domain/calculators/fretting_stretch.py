"""Fretting stretch: how far pressing a string down to a fret raises its pitch."""

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
    """Lengths in m, modulus in Pa, tension in N; heights are above the plane of the fret tops."""

    scale_length_m: float
    fret_distance_m: float
    nut_height_m: float
    saddle_height_m: float
    youngs_modulus_pa: float
    core_diameter_m: float
    tension_n: float


@dataclass(frozen=True, slots=True)
class Result:
    """Strain without unit, tension rise in N, pitch rise in cents."""

    strain: float
    tension_rise_n: float
    pitch_rise_cents: float


def path_strain(
    scale_length_m: float, fret_distance_m: float, nut_height_m: float, saddle_height_m: float
) -> float:
    """Length of the pressed string over that of the open one, less 1. All lengths in m.

    Each difference of lengths is written as a ratio, so that a micro-strain keeps its digits.
    """
    rest = scale_length_m - fret_distance_m
    span = math.hypot(scale_length_m, saddle_height_m - nut_height_m)
    longer_1 = nut_height_m**2 / (math.hypot(fret_distance_m, nut_height_m) + fret_distance_m)
    longer_2 = saddle_height_m**2 / (math.hypot(rest, saddle_height_m) + rest)
    open_longer = (saddle_height_m - nut_height_m) ** 2 / (span + scale_length_m)
    return (longer_1 + longer_2 - open_longer) / span


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where the fret lies beyond the saddle."""
    if inputs.fret_distance_m >= inputs.scale_length_m:
        raise InvalidInput([("fret_distance", "The fret must lie between the nut and the saddle.")])
    strain = path_strain(
        inputs.scale_length_m,
        inputs.fret_distance_m,
        inputs.nut_height_m,
        inputs.saddle_height_m,
    )
    area = math.pi * inputs.core_diameter_m**2 / 4
    rise = inputs.youngs_modulus_pa * area * strain
    return Result(strain, rise, 600 * math.log2(1 + rise / inputs.tension_n))


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The string from the side, open and pressed, heights drawn ten times too large."""
    tall = 10.0
    length = inputs.scale_length_m * 1000
    fret = inputs.fret_distance_m * 1000
    nut = -inputs.nut_height_m * 1000 * tall
    saddle = -inputs.saddle_height_m * 1000 * tall
    drawing = Drawing(
        "The string from the side",
        f"The open string from nut to saddle, and pressed down to the fret at {fret:.1f} mm; "
        "heights are drawn ten times too large.",
        (
            Line((0, 0), (length, 0)),
            Line((0, nut), (length, saddle), "dashed"),
            Line((0, nut), (fret, 0), "thick"),
            Line((fret, 0), (length, saddle), "thick"),
            Dimension((0, 0), (fret, 0), f"{fret:.1f} mm", 20),
            Label((length, saddle - 6), f"{inputs.saddle_height_m * 1000:.2f} mm", "end"),
        ),
        exaggerated=tall,
    )
    notes = (
        ("Sharper than 5 cents: most players hear it (common practice, no source).",)
        if result.pitch_rise_cents > 5
        else ()
    )
    return ShownValue(drawing=drawing, notes=notes)


CALCULATOR = Calculator(
    key="fretting-stretch",
    title="Fretting stretch",
    question="How many cents sharp does a string go when it is pressed to a fret?",
    quantities=(
        Quantity("scale_length", "L", "scale length", "length", 50, 3000, 650, digits=6),
        Quantity("fret_distance", "d", "nut to fret", "length", 1, 3000, 325, digits=6),
        Quantity("nut_height", "h_n", "string at the nut above the fret plane", "length", 0, 20, 0),
        Quantity(
            "saddle_height", "h_s", "string at the saddle above the fret plane", "length", 0, 50, 5
        ),
        Quantity(
            "youngs_modulus",
            "E",
            "Young's modulus",
            "pressure",
            0.01,
            1000,
            200,
            us_unit="Mpsi",
        ),
        Quantity("core_diameter", "d_c", "diameter of the core", "length", 0.02, 10, 0.254),
        Quantity("tension", "T", "tension of the open string", "force", 0.01, 20000, 72.5),
        Quantity("strain", "epsilon", "stretch", "strain", 0, 1e5, digits=5),
        Quantity("tension_rise", "Delta T", "rise in tension", "force", 0, 20000, 0.3),
        Quantity("pitch_rise", "c", "rise in pitch", "interval", 0, 2000, 3),
    ),
    answers=("pitch_rise", "strain", "tension_rise"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "strain = (sqrt(fret_distance**2 + nut_height**2) + sqrt((scale_length - "
            "fret_distance)**2 + saddle_height**2))/sqrt(scale_length**2 + (saddle_height - "
            "nut_height)**2) - 1",
            {
                "strain": "{strain} = frac(sqrt({fret_distance:mm}^2 + {nut_height:mm}^2) + "
                "sqrt(({scale_length:mm} - {fret_distance:mm})^2 + {saddle_height:mm}^2), "
                "sqrt({scale_length:mm}^2 + ({saddle_height:mm} - {nut_height:mm})^2)) - 1",
            },
        ),
        Relation(
            "tension_rise = youngs_modulus*pi*core_diameter**2/4*strain",
            {
                "tension_rise": "{tension_rise} = {youngs_modulus} * frac(pi, 4) * "
                "{core_diameter}^2 * {strain}",
                "youngs_modulus": "{youngs_modulus} = "
                "frac(4 * {tension_rise}, pi * {core_diameter}^2 * {strain})",
                "core_diameter": "{core_diameter} = 2 * "
                "sqrt(frac({tension_rise}, pi * {youngs_modulus} * {strain}))",
            },
        ),
        Relation(
            "pitch_rise = 600*log(1 + tension_rise/tension)/log(2)",
            {
                "pitch_rise": "{pitch_rise} = 600 * log_2(1 + frac({tension_rise}, {tension}))",
                "tension": "{tension} = frac({tension_rise}, 2^(frac({pitch_rise}, 600)) - 1)",
                "tension_rise": "{tension_rise} = {tension} * (2^(frac({pitch_rise}, 600)) - 1)",
            },
        ),
    ),
    numeric={"pitch_rise": ("saddle_height",)},
    formulas={},
    limits=(
        (
            "The string is straight from nut to fret and from fret to saddle, and slides freely over "
            "the nut; the finger's own push behind the fret is left out."
        ),
        "For a wound string only the core stretches.",
    ),
    conventions=("Heights are measured from the plane of the fret tops.",),
    source="Varieschi and Gower, American Journal of Physics 78 (2010) 47; Byers, American "
    "Lutherie 47 (1996)",
    example=CalculatorExample(
        given={
            "scale_length": "650 mm",
            "fret_distance": "325 mm",
            "saddle_height": "5 mm",
            "nut_height": 0,
        },
        expected={"strain": "29.582 µε"},
        source="two-segment path of Varieschi and Gower 2010, recomputed with mpmath",
        tolerance=2e-5,
    ),
)
