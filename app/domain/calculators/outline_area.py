"""Outline area: area, perimeter and volume of a measured outline, by three rules."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import (
    Dimension,
    Drawing,
    Label,
    Line,
    Outline,
    Point,
    Shape,
)
from app.domain.quantities import UnreadableValue, parse

MOST_POINTS = 200
LARGEST_M = 100.0
FEWEST_WIDTHS = 3
_BODY = (
    "0 0; 60 -95; 150 -120; 225 -88; 300 -112; 400 -160; 455 -120; 480 0; "
    "455 120; 400 160; 300 112; 225 88; 150 120; 60 95"
)


@dataclass(frozen=True, slots=True)
class Inputs:
    outline: str
    thickness_m: float
    widths_m: tuple[float, ...]
    spacing_m: float


@dataclass(frozen=True, slots=True)
class Result:
    area_m2: float
    perimeter_m: float
    volume_m3: float
    trapezoid_area_m2: float
    simpson_area_m2: float


def shoelace_m2(points: Sequence[Point]) -> float:
    """Area (m²) inside straight lines from point to point (m) and back to the first."""
    pairs = zip(points, (*points[1:], points[0]), strict=True)
    return abs(math.fsum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2


def perimeter_m(points: Sequence[Point]) -> float:
    """Length (m) of the straight lines from point to point and back to the first."""
    pairs = zip(points, (*points[1:], points[0]), strict=True)
    return math.fsum(math.dist(start, end) for start, end in pairs)


def trapezoid_m2(widths_m: Sequence[float], spacing_m: float) -> float:
    """Area (m²) from widths at equal spacing, the outline straight between neighbours."""
    return spacing_m * (math.fsum(widths_m) - (widths_m[0] + widths_m[-1]) / 2)


def simpson_m2(widths_m: Sequence[float], spacing_m: float) -> float:
    """Area (m²) by Simpson's rule, exact for cubic outlines.

    Raises ValueError unless the number of widths is odd and at least 3.
    """
    if len(widths_m) < FEWEST_WIDTHS or len(widths_m) % 2 == 0:
        raise ValueError("Simpson's rule needs an odd number of widths, 3 or more")
    odd, even = math.fsum(widths_m[1:-1:2]), math.fsum(widths_m[2:-1:2])
    return spacing_m / 3 * (widths_m[0] + 4 * odd + 2 * even + widths_m[-1])


def crossing(points: Sequence[Point]) -> tuple[int, int] | None:
    """The first two sides, counted from 1, that touch where they should not; None if none do."""
    count = len(points)
    sides = [(points[i], points[(i + 1) % count]) for i in range(count)]
    for i, (a, b) in enumerate(sides):
        for j in range(i + 1, count):
            c, d = sides[j]
            if j == i + 1:
                touches = _folds(a, b, d)
            elif i == 0 and j == count - 1:
                touches = _folds(c, d, b)
            else:
                touches = _meet(a, b, c, d)
            if touches:
                return i + 1, j + 1
    return None


def _turn(a: Point, b: Point, c: Point) -> float:
    """Twice the signed area of a triangle."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _folds(a: Point, b: Point, d: Point) -> bool:
    """Whether the side from b to d runs back over the side from a to b."""
    back = (b[0] - a[0]) * (d[0] - b[0]) + (b[1] - a[1]) * (d[1] - b[1]) < 0
    return b in (a, d) or (back and _turn(a, b, d) == 0)


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two sides without a common corner cross or touch."""
    turns = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    corners = ((a, b, c, turns[0]), (a, b, d, turns[1]), (c, d, a, turns[2]), (c, d, b, turns[3]))
    return any(turn == 0 and _between(start, end, p) for start, end, p, turn in corners)


def _between(start: Point, end: Point, point: Point) -> bool:
    return all(
        min(one, other) <= at <= max(one, other)
        for one, other, at in zip(start, end, point, strict=True)
    )


def read_outline(text: str) -> tuple[Point, ...]:
    """Points (m) of ``0 0; 360 mm 0; 14 in 10 in``. Raises InvalidInput, also where it crosses."""
    points: list[Point] = []
    for place, pair in enumerate((p.strip() for p in text.split(";") if p.strip()), 1):
        points.append(_read_point(pair, place))
    if len(points) > 1 and points[0] == points[-1]:
        points.pop()
    if not 3 <= len(points) <= MOST_POINTS:
        sentence = f"An outline needs 3 to {MOST_POINTS} different points, not {len(points)}."
        raise InvalidInput([("outline", sentence)])
    sides = crossing(points)
    if sides is not None:
        sentence = (
            f"The outline crosses or touches itself: side {sides[0]} (from point {sides[0]}) meets "
            f"side {sides[1]}. Give the points in order around the edge."
        )
        raise InvalidInput([("outline", sentence)])
    return tuple(points)


def _read_point(pair: str, place: int) -> Point:
    match = re.fullmatch(
        r"([-+−.0-9eE]+(?: ?[a-zµ\"']+)?)[ ,]+([-+−.0-9eE]+(?: ?[a-zµ\"']+)?)", pair
    )
    if match is None:
        sentence = f"Point {place} must be two numbers, across and up, such as 120 -95."
        raise InvalidInput([("outline", sentence)])
    try:
        x, y = (parse(text, "length", name=f"point {place}") for text in match.groups())
    except UnreadableValue as mistake:
        raise InvalidInput([("outline", str(mistake))]) from None
    if max(abs(x), abs(y)) > LARGEST_M:
        sentence = f"Point {place} lies more than {LARGEST_M:g} m away: check its unit."
        raise InvalidInput([("outline", sentence)])
    return x, y


def compute(inputs: Inputs) -> Result:
    points = read_outline(inputs.outline)
    if len(inputs.widths_m) < FEWEST_WIDTHS or len(inputs.widths_m) % 2 == 0:
        sentence = (
            "Simpson's rule needs an odd number of widths, 3 or more: "
            f"there are {len(inputs.widths_m)}, so measure one more or leave one out."
        )
        raise InvalidInput([("widths", sentence)])
    area = shoelace_m2(points)
    return Result(
        area,
        perimeter_m(points),
        area * inputs.thickness_m,
        trapezoid_m2(inputs.widths_m, inputs.spacing_m),
        simpson_m2(inputs.widths_m, inputs.spacing_m),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    points = read_outline(inputs.outline)
    rows = tuple((i, x, y) for i, (x, y) in enumerate(points, 1))
    columns = (
        ResultColumn("point", "Point"),
        ResultColumn("across", "Across", "length", "mm", "in", (1, 3)),
        ResultColumn("up", "Up", "length", "mm", "in", (1, 3)),
    )
    return ShownValue(
        table=ResultTable("The points", columns, rows),
        drawing=_drawing(points, inputs, result),
        notes=(
            (
                "The outline is joined by straight lines: more points where it curves come closer "
                "to the true area."
            ),
        ),
    )


def _drawing(points: Sequence[Point], inputs: Inputs, result: Result) -> Drawing:
    drawn = tuple((1000 * x, -1000 * y) for x, y in points)
    left, right = min(x for x, _ in drawn), max(x for x, _ in drawn)
    top, low = min(y for _, y in drawn), max(y for _, y in drawn)
    room = 0.04 * (right - left + low - top) + 4
    shapes: list[Shape] = [Outline(drawn, closed=True, line="thick")]
    shapes.extend(
        Label((x + room / 4, y - room / 4), str(i), "start") for i, (x, y) in enumerate(drawn, 1)
    )
    shapes.append(Dimension((left, low + room), (right, low + room), f"{right - left:.1f} mm"))
    shapes.append(Dimension((right + room, top), (right + room, low), f"{low - top:.1f} mm"))
    for i, width in enumerate(inputs.widths_m):
        x = left + 1000 * i * inputs.spacing_m
        middle, half = (top + low) / 2, 500 * width
        shapes.append(Line((x, middle - half), (x, middle + half), "dashed"))
    return Drawing(
        "The outline",
        f"An outline of {len(points)} points, {right - left:.1f} mm by {low - top:.1f} mm, around "
        f"{1e4 * result.area_m2:.1f} cm²; the measured widths dashed.",
        tuple(shapes),
    )


CALCULATOR = Calculator(
    key="outline-area",
    title="Area of an outline",
    question="How large is this body, measured point by point or width by width?",
    quantities=(
        Quantity(
            "outline",
            'upright("outline")',
            "points of the outline",
            "length",
            default=_BODY,
            form="text",
            note="across and up of each point in order around the edge, in mm: 0 0; 360 0; 360 120",
        ),
        Quantity("thickness", "t", "thickness", "length", 0.1, 1000, 45),
        Quantity(
            "widths",
            "b_i",
            "widths at equal spacing",
            "length",
            0,
            10_000,
            (0.0, 190.0, 240.0, 225.0, 224.0, 285.0, 320.0, 240.0, 0.0),
            form="numbers",
        ),
        Quantity("spacing", "h", "spacing of the widths", "length", 0.1, 10_000, 60),
        Quantity("area", "A", "area (shoelace)", "area", 0, 1e9),
        Quantity("perimeter", "P", "perimeter", "length", 0, 1e7),
        Quantity("volume", "V", "volume", "volume", 0, 1e12, 4500),
        Quantity("trapezoid_area", "A_T", "area from widths, trapezoids", "area", 0, 1e9, 1000),
        Quantity("simpson_area", "A_S", "area from widths, Simpson", "area", 0, 1e9),
    ),
    answers=("area", "perimeter", "volume", "trapezoid_area", "simpson_area"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "area": "{area} = frac(1, 2) abs(sum_i (x_i y_(i+1) - x_(i+1) y_i))",
        "perimeter": "{perimeter} = sum_i sqrt((x_(i+1) - x_i)^2 + (y_(i+1) - y_i)^2)",
        "volume": "{volume} = {area} * {thickness}",
        "trapezoid_area": "{trapezoid_area} = {spacing} * (frac(b_0, 2) + b_1 + dots"
        " + b_(n-1) + frac(b_n, 2))",
        "simpson_area": "{simpson_area} = frac({spacing}, 3)"
        " * (b_0 + 4 b_1 + 2 b_2 + 4 b_3 + dots + 4 b_(n-1) + b_n)",
    },
    numeric={
        "volume": ("thickness",),
        "trapezoid_area": ("spacing",),
        "simpson_area": ("spacing",),
    },
    limits=(
        "The outline must not cross or touch itself.",
        "Simpson's rule needs an odd number of widths; it is exact where the outline is a cubic.",
    ),
    conventions=(
        "Points in order around the edge, either way round; the last is joined to the first.",
        "Widths run across the body at equal spacing from one end to the other, ends included.",
    ),
    source="Shoelace formula (Meister 1769, Gauss); trapezoidal and Simpson's rules: OpenStax, "
    "Calculus Volume 2, section 3.6",
    example=CalculatorExample(
        given={"outline": "0 0; 4 in 0; 4 in 3 in; 0 3 in", "thickness": "2 in"},
        expected={"area": "12 in2", "perimeter": "14 in", "volume": "24 in3"},
        source="a rectangle 4 in by 3 in by 2 in",
    ),
)
