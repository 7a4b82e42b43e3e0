"""Fretboard radius: how far the edges drop below the middle, and the radius along a cone."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    Relation,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Line, Outline


@dataclass(frozen=True, slots=True)
class Inputs:
    """Lengths in m; frets counted in semitones."""

    fretboard_radius_m: float
    fretboard_width_m: float
    end_radius_m: float
    end_fret: int
    fret: int


@dataclass(frozen=True, slots=True)
class Result:
    """Lengths in m."""

    edge_drop_m: float
    fret_radius_m: float


def edge_drop_m(fretboard_radius_m: float, fretboard_width_m: float) -> float:
    """How far the edge lies below the middle: R − √(R² − w²/4), written to keep its digits."""
    half = fretboard_width_m / 2
    return half**2 / (fretboard_radius_m + math.sqrt(fretboard_radius_m**2 - half**2))


def fret_radius_m(
    fretboard_radius_m: float, end_radius_m: float, fret: float, end_fret: float
) -> float:
    """Radius at a fret of a cone: linear in the distance from the nut."""
    share = math.expm1(-fret / 12 * math.log(2)) / math.expm1(-end_fret / 12 * math.log(2))
    return fretboard_radius_m + (end_radius_m - fretboard_radius_m) * share


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where the fretboard is wider than the circle."""
    if inputs.fretboard_width_m > 2 * inputs.fretboard_radius_m:
        sentence = "The width must be less than twice the radius."
        raise InvalidInput([("fretboard_width", sentence)])
    return Result(
        edge_drop_m(inputs.fretboard_radius_m, inputs.fretboard_width_m),
        fret_radius_m(inputs.fretboard_radius_m, inputs.end_radius_m, inputs.fret, inputs.end_fret),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The cross-section at the nut to scale, and the radius at every fret."""
    radius = inputs.fretboard_radius_m * 1000
    half = inputs.fretboard_width_m * 500
    drop = result.edge_drop_m * 1000
    arc = tuple(
        (x, radius - math.sqrt(radius**2 - x**2))
        for x in (half * step / 24 for step in range(-24, 25))
    )
    rows = tuple(
        (
            fret,
            fret_radius_m(inputs.fretboard_radius_m, inputs.end_radius_m, fret, inputs.end_fret),
        )
        for fret in range(inputs.end_fret + 1)
    )
    columns = (
        ResultColumn("fret", "Fret", "count"),
        ResultColumn("fret_radius", "Radius", "length", "mm", "in", (1, 2)),
    )
    return ShownValue(
        table=ResultTable("Radius along the fretboard", columns, rows),
        drawing=Drawing(
            "Cross-section at the nut",
            f"An arc {2 * half:.1f} mm wide of radius {radius:.1f} mm: its edges lie {drop:.3f} mm "
            "below the middle.",
            (
                Outline(((-half, 8.0), *arc, (half, 8.0)), closed=True, line="thick"),
                Line((-half, 0), (half, 0), "dashed"),
                Dimension((-half, 8), (half, 8), f"{2 * half:.1f} mm", 8),
                Dimension((half, 0), (half, drop), f"{drop:.3f} mm", -8),
            ),
        ),
    )


CALCULATOR = Calculator(
    key="fretboard-radius",
    title="Fretboard radius",
    question="How far do the edges of a rounded fretboard drop, and how does the radius grow?",
    quantities=(
        Quantity("fretboard_radius", "R", "radius at the nut", "length", 20, 5000, 304.8, digits=5),
        Quantity(
            "fretboard_width", "w", "width of the fretboard", "length", 1, 500, 50.8, digits=5
        ),
        Quantity(
            "end_radius", "R_e", "radius at the end fret", "length", 20, 10000, 406.4, digits=5
        ),
        Quantity("end_fret", "m", "end fret", "count", 1, 48, 24, form="whole"),
        Quantity("fret", "n", "fret", "count", 0, 48, 12, form="whole"),
        Quantity("edge_drop", "s", "drop at the edge", "length", 0.0001, 100, 1.06, digits=5),
        Quantity("fret_radius", "R_n", "radius at the fret", "length", 1, 10000, 370, digits=5),
    ),
    answers=("edge_drop", "fret_radius"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "fretboard_radius = (fretboard_width**2/4 + edge_drop**2)/(2*edge_drop)",
            {
                "edge_drop": "{edge_drop} = {fretboard_radius:mm} - sqrt({fretboard_radius:mm}^2 - "
                "frac({fretboard_width:mm}^2, 4))",
                "fretboard_radius": "{fretboard_radius} = frac({fretboard_width:mm}^2, 8 * {edge_drop:mm}) + "
                "frac({edge_drop:mm}, 2)",
                "fretboard_width": "{fretboard_width} = 2 * sqrt(2 * {fretboard_radius:mm} * {edge_drop:mm} - {edge_drop:mm}^2)",
            },
        ),
        Relation(
            "fret_radius = fretboard_radius + (end_radius - fretboard_radius)*(1 - 2**(-fret/12))"
            "/(1 - 2**(-end_fret/12))",
            {
                "fret_radius": "{fret_radius} = {fretboard_radius:mm} + ({end_radius:mm} - {fretboard_radius:mm}) * "
                "frac(1 - 2^(-frac({fret}, 12)), 1 - 2^(-frac({end_fret}, 12)))",
                "end_radius": "{end_radius} = {fretboard_radius:mm} + ({fret_radius:mm} - {fretboard_radius:mm}) * "
                "frac(1 - 2^(-frac({end_fret}, 12)), 1 - 2^(-frac({fret}, 12)))",
            },
        ),
    ),
    limits=("A round cross-section; on a cone the radius is that across the string's line.",),
    conventions=(
        "The drop is measured from the level of the middle down to the edge.",
        (
            "On a cone the radius grows linearly with the distance from the nut, not with the fret "
            "number."
        ),
    ),
    source="chord of a circle (identity); linear interpolation along the cone",
    example=CalculatorExample(
        given={"fretboard_radius": "12 in", "fretboard_width": "2.0 in"},
        expected={"edge_drop": "0.041739 in"},
        source="s = R − √(R² − w²/4), recomputed with mpmath",
        tolerance=2e-5,
    ),
)
