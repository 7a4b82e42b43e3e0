"""Area and volume: rectangle and box, circle and cylinder."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Circle, Dimension, Drawing, Outline


@dataclass(frozen=True, slots=True)
class Inputs:
    length_m: float
    width_m: float
    height_m: float
    diameter_m: float


@dataclass(frozen=True, slots=True)
class Result:
    rectangle_area_m2: float
    rectangle_perimeter_m: float
    box_volume_m3: float
    circle_area_m2: float
    circumference_m: float
    cylinder_volume_m3: float


def compute(inputs: Inputs) -> Result:
    rectangle = inputs.length_m * inputs.width_m
    circle = math.pi * inputs.diameter_m**2 / 4
    return Result(
        rectangle,
        2 * (inputs.length_m + inputs.width_m),
        rectangle * inputs.height_m,
        circle,
        math.pi * inputs.diameter_m,
        circle * inputs.height_m,
    )


def show(inputs: Inputs, _result: Result) -> ShownValue:
    length, width = 1000 * inputs.length_m, 1000 * inputs.width_m
    diameter = 1000 * inputs.diameter_m
    room = 0.05 * max(length, width, diameter) + 4
    left = length + 4 * room
    corners = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    shapes = (
        Outline(corners, closed=True, line="thick"),
        Dimension((0, 0), (length, 0), f"{length:g} mm", offset_mm=-room),
        Dimension((length, 0), (length, width), f"{width:g} mm", offset_mm=-room),
        Circle((left + diameter / 2, diameter / 2), diameter / 2, line="thick"),
        Dimension((left, diameter + room), (left + diameter, diameter + room), f"{diameter:g} mm"),
    )
    drawing = Drawing(
        "Rectangle and circle",
        f"A rectangle {length:g} mm by {width:g} mm beside a circle {diameter:g} mm across, "
        "to the same scale.",
        shapes,
    )
    return ShownValue(drawing=drawing)


_RECTANGLE = (
    Relation(
        "rectangle_area = length * width",
        {
            "rectangle_area": "{rectangle_area} = {length} * {width}",
            "length": "{length} = frac({rectangle_area}, {width})",
            "width": "{width} = frac({rectangle_area}, {length})",
        },
    ),
    Relation(
        "rectangle_perimeter = 2 * (length + width)",
        {
            "rectangle_perimeter": "{rectangle_perimeter} = 2 * ({length} + {width})",
            "length": "{length} = frac({rectangle_perimeter}, 2) - {width}",
            "width": "{width} = frac({rectangle_perimeter}, 2) - {length}",
        },
    ),
    Relation(
        "box_volume = rectangle_area * height",
        {
            "box_volume": "{box_volume} = {rectangle_area} * {height}",
            "height": "{height} = frac({box_volume}, {rectangle_area})",
            "rectangle_area": "{rectangle_area} = frac({box_volume}, {height})",
        },
    ),
)
_CIRCLE = (
    Relation(
        "circle_area = pi * diameter**2 / 4",
        {
            "circle_area": "{circle_area} = frac(pi * {diameter}^2, 4)",
            "diameter": "{diameter} = sqrt(frac(4 * {circle_area}, pi))",
        },
    ),
    Relation(
        "circumference = pi * diameter",
        {
            "circumference": "{circumference} = pi * {diameter}",
            "diameter": "{diameter} = frac({circumference}, pi)",
        },
    ),
    Relation(
        "cylinder_volume = circle_area * height",
        {
            "cylinder_volume": "{cylinder_volume} = {circle_area} * {height}",
            "height": "{height} = frac({cylinder_volume}, {circle_area})",
            "circle_area": "{circle_area} = frac({cylinder_volume}, {height})",
        },
    ),
)

CALCULATOR = Calculator(
    key="area-and-volume",
    title="Area and volume",
    question="How much area, how long around, how much inside?",
    quantities=(
        Quantity("length", "a", "length", "length", 0.1, 100_000, 230),
        Quantity("width", "b", "width", "length", 0.1, 100_000, 165),
        Quantity("height", "h", "height", "length", 0.1, 100_000, 60),
        Quantity("diameter", "d", "diameter", "length", 0.1, 100_000, 50),
        Quantity("rectangle_area", 'A_"rect"', "area of the rectangle", "area", 1e-6, 1e14, 400),
        Quantity(
            "rectangle_perimeter", 'P_"rect"', "perimeter of the rectangle", "length", 0.1, 4e5
        ),
        Quantity("box_volume", 'V_"box"', "volume of the box", "volume", 1e-6, 1e18, 2300),
        Quantity("circle_area", 'A_"circ"', "area of the circle", "area", 1e-6, 1e14, 20),
        Quantity("circumference", "C", "circumference", "length", 0.1, 4e5),
        Quantity("cylinder_volume", 'V_"cyl"', "volume of the cylinder", "volume", 1e-6, 1e18),
    ),
    answers=(
        "rectangle_area",
        "rectangle_perimeter",
        "box_volume",
        "circle_area",
        "circumference",
        "cylinder_volume",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(*_RECTANGLE, *_CIRCLE),
    limits=("Inside measures give the air in a box; outside measures the space it takes.",),
    conventions=("The box and the cylinder have the same height.",),
    source="Plane and solid geometry: Euclid, Elements I.41, XI and XII",
    example=CalculatorExample(
        given={"length": "23 cm", "width": "16.5 cm"},
        expected={"rectangle_area": "379.5 cm2", "rectangle_perimeter": "79 cm"},
        source="23 x 16.5 = 379.5, 2 x (23 + 16.5) = 79",
    ),
)
