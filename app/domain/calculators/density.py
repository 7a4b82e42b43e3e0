"""Density: mass over volume of a block, and which wood that could be."""

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
from app.domain.calculators.engine.pictures import Dimension, Drawing, Outline
from app.domain.calculators.engine.woods import WOODS, Wood

WATER_KG_PER_M3 = 1000.0


@dataclass(frozen=True, slots=True)
class Inputs:
    length_m: float
    width_m: float
    thickness_m: float
    mass_kg: float
    moisture_content: float


@dataclass(frozen=True, slots=True)
class Result:
    density_kg_per_m3: float
    volume_m3: float
    specific_gravity: float
    nearest_wood: str


def density_from_gravity_kg_per_m3(specific_gravity: float, moisture_content: float) -> float:
    """Density (kg/m³) of moist wood: 1000 G (1 + M), Wood Handbook chapter 4.

    `specific_gravity` is ovendry mass over volume at that moisture content (a fraction).
    """
    return WATER_KG_PER_M3 * specific_gravity * (1 + moisture_content)


def candidates(specific_gravity: float) -> list[tuple[float, Wood]]:
    """Woods with their difference in specific gravity (found minus table), nearest first."""
    found = [
        (specific_gravity - wood.specific_gravity, wood)
        for wood in WOODS
        if wood.specific_gravity is not None
    ]
    return sorted(found, key=lambda pair: (abs(pair[0]), pair[1].key))


def compute(inputs: Inputs) -> Result:
    volume = inputs.length_m * inputs.width_m * inputs.thickness_m
    density = inputs.mass_kg / volume
    gravity = density / (WATER_KG_PER_M3 * (1 + inputs.moisture_content))
    return Result(density, volume, gravity, candidates(gravity)[0][1].title)


def show(inputs: Inputs, result: Result) -> ShownValue:
    rows = tuple(
        (
            wood.title,
            wood.specific_gravity,
            density_from_gravity_kg_per_m3(wood.specific_gravity or 0, inputs.moisture_content),
            100 * difference / (wood.specific_gravity or 1),
        )
        for difference, wood in candidates(result.specific_gravity)[:6]
    )
    table = ResultTable(
        "Woods of about this specific gravity",
        (
            ResultColumn("wood", "Wood"),
            ResultColumn("specific_gravity", "Specific gravity", places=(2, 2)),
            ResultColumn("density", "Density", "density", "kg/m³", "lb/ft³", (0, 1)),
            ResultColumn("difference", "This block differs by, %", places=(1, 1)),
        ),
        rows,
    )
    return ShownValue(
        table=table,
        drawing=_drawing(inputs),
        notes=(
            (
                "Density alone names no wood: single boards differ by 10 % and more from the mean of "
                "their species. Look at colour, pores and smell as well."
            ),
        ),
    )


def _drawing(inputs: Inputs) -> Drawing:
    length, width, thick = (
        1000 * size for size in (inputs.length_m, inputs.width_m, inputs.thickness_m)
    )
    run = (0.35 * width, -0.35 * width)
    front = ((0.0, 0.0), (length, 0.0), (length, thick), (0.0, thick))
    top = ((0.0, 0.0), run, (length + run[0], run[1]), (length, 0.0))
    side = (
        (length, 0.0),
        (length + run[0], run[1]),
        (length + run[0], run[1] + thick),
        (length, thick),
    )
    shapes = (
        Outline(front, closed=True, line="thick"),
        Outline(top, closed=True, line="thick"),
        Outline(side, closed=True, line="thick"),
        Dimension((0, thick), (length, thick), f"{length:.1f} mm", offset_mm=8),
        Dimension((0, 0), (0, thick), f"{thick:.1f} mm", offset_mm=-8),
        Dimension((0, 0), run, f"{width:.1f} mm", offset_mm=-8),
    )
    return Drawing(
        "The block",
        f"A block {length:.1f} mm by {width:.1f} mm by {thick:.1f} mm; lines going back are drawn "
        "at half their length.",
        shapes,
    )


CALCULATOR = Calculator(
    key="density",
    title="Density and wood identification",
    question="How dense is this block, and which wood could it be?",
    quantities=(
        Quantity("length", "l", "length", "length", 1, 5000, 100),
        Quantity("width", "w", "width", "length", 1, 2000, 50),
        Quantity("thickness", "t", "thickness", "length", 0.5, 500, 25),
        Quantity("mass", "m", "mass", "mass", 0.01, 1e6, 88, "g", "oz"),
        Quantity("moisture_content", "M", "moisture content", "percentage", 0, 30, 12),
        Quantity("density", "rho", "density", "density", 10, 25_000, 705),
        Quantity("volume", "V", "volume", "volume", 1e-4, 1e7),
        Quantity("specific_gravity", "G", "specific gravity", "number", 0.01, 25, 0.63),
        Quantity(
            "nearest_wood", 'upright("wood")', "nearest wood in the table", "number", form="text"
        ),
    ),
    answers=("density", "volume", "specific_gravity", "nearest_wood"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "volume = length * width * thickness",
            {
                "volume": "{volume} = {length} * {width} * {thickness}",
                "length": "{length} = frac({volume}, {width} * {thickness})",
                "width": "{width} = frac({volume}, {length} * {thickness})",
                "thickness": "{thickness} = frac({volume}, {length} * {width})",
            },
        ),
        Relation(
            "density = mass / volume",
            {
                "density": "{density} = frac({mass}, {volume})",
                "mass": "{mass} = {density} * {volume}",
                "volume": "{volume} = frac({mass}, {density})",
            },
        ),
        Relation(
            "density = 1000 * specific_gravity * (1 + moisture_content)",
            {
                "density": '{density} = 1000 thin "kg/m³" * {specific_gravity}'
                " * (1 + {moisture_content})",
                "specific_gravity": "{specific_gravity} = frac({density},"
                ' 1000 thin "kg/m³" * (1 + {moisture_content}))',
                "moisture_content": "{moisture_content} = frac({density},"
                ' 1000 thin "kg/m³" * {specific_gravity}) - 1',
            },
        ),
    ),
    limits=(
        "The block must be square and measured at the moisture content given.",
        "Specific gravities in the table are means at 12 % moisture content.",
    ),
    conventions=(
        (
            "Specific gravity is ovendry mass over the volume at the moisture content, divided by "
            "the density of water, 1000 kg/m³."
        ),
    ),
    source="USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010), chapter 4 and "
    "Table 5-3",
    example=CalculatorExample(
        given={"specific_gravity": 0.63, "moisture_content": "12 %"},
        solve_for="density",
        expected={"density": "705.6 kg/m³"},
        source="1000 x 0.63 x 1.12 (sugar maple, Wood Handbook)",
    ),
)
