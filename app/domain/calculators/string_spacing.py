"""String spacing at nut and saddle: equal centres, or equal gaps between strings."""

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
from app.domain.calculators.engine.pictures import Circle, Dimension, Drawing, Line, Shape


@dataclass(frozen=True, slots=True)
class Inputs:
    """Lengths in m; diameters from the lowest string to the highest."""

    strings: int
    nut_width_m: float
    edge_margin_m: float
    saddle_span_m: float
    diameters_m: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Result:
    """Lengths in m; places are string centres from the edge of the nut."""

    centre_spacing_m: float
    string_gap_m: float
    saddle_spacing_m: float
    equal_centres_m: tuple[float, ...]
    equal_gaps_m: tuple[float, ...]


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where diameters are missing or the strings do not fit."""
    if len(inputs.diameters_m) != inputs.strings:
        sentence = (
            f"Give one diameter for each of the {inputs.strings} strings, "
            f"not {len(inputs.diameters_m)}."
        )
        raise InvalidInput([("diameters", sentence)])
    span = inputs.nut_width_m - 2 * inputs.edge_margin_m
    gap = (span - sum(inputs.diameters_m)) / (inputs.strings - 1)
    if span <= 0 or gap <= 0:
        sentence = "The strings do not fit between the margins: widen the nut or narrow the margin."
        raise InvalidInput([("nut_width", sentence)])
    spacing = span / (inputs.strings - 1)
    left = inputs.edge_margin_m
    places = []
    for diameter in inputs.diameters_m:
        places.append(left + diameter / 2)
        left += diameter + gap
    return Result(
        centre_spacing_m=spacing,
        string_gap_m=gap,
        saddle_spacing_m=inputs.saddle_span_m / (inputs.strings - 1),
        equal_centres_m=tuple(
            inputs.edge_margin_m + spacing * index for index in range(inputs.strings)
        ),
        equal_gaps_m=tuple(places),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The nut from the front, and where each slot goes."""
    columns = (
        ResultColumn("string", "String", "count"),
        ResultColumn("diameter", "Diameter", "length", "mm", "in", (3, 4)),
        ResultColumn("equal_gaps", "Equal gaps: centre from the edge", "length", "mm", "in"),
        ResultColumn("equal_centres", "Equal centres: from the edge", "length", "mm", "in"),
        ResultColumn("saddle", "At the saddle: from the first", "length", "mm", "in"),
    )
    count = inputs.strings
    rows = tuple(
        (count - index, diameter, gaps, centres, result.saddle_spacing_m * index)
        for index, (diameter, gaps, centres) in enumerate(
            zip(inputs.diameters_m, result.equal_gaps_m, result.equal_centres_m, strict=True)
        )
    )
    width = inputs.nut_width_m * 1000
    shapes: list[Shape] = [Line((0, 0), (width, 0), "thick")]
    for place, diameter in zip(result.equal_gaps_m, inputs.diameters_m, strict=True):
        shapes.append(Circle((place * 1000, -diameter * 500), diameter * 500, filled=True))
        shapes.append(Line((place * 1000, 0), (place * 1000, 6)))
    first, second = result.equal_gaps_m[:2]
    shapes.append(Dimension((0, 0), (width, 0), f"{width:.2f} mm", 16))
    words = f"{(second - first) * 1000:.2f} mm"
    shapes.append(Dimension((first * 1000, 0), (second * 1000, 0), words, 9))
    return ShownValue(
        table=ResultTable("Places of the strings", columns, rows),
        drawing=Drawing(
            "The nut from the front",
            f"{count} strings with equal gaps of {result.string_gap_m * 1000:.2f} mm on a nut "
            f"{width:.1f} mm wide.",
            tuple(shapes),
        ),
    )


CALCULATOR = Calculator(
    key="string-spacing",
    title="String spacing",
    question="Where does each string cross the nut and the saddle?",
    quantities=(
        Quantity("strings", "N", "number of strings", "count", 2, 24, 6, form="whole"),
        Quantity("nut_width", "W", "width of the nut", "length", 5, 300, 43),
        Quantity("edge_margin", "m", "margin from the edge", "length", 0, 50, 3.5),
        Quantity(
            "saddle_span",
            "S",
            "outer strings at the saddle, centre to centre",
            "length",
            1,
            300,
            52,
        ),
        Quantity(
            "diameters",
            "d_i",
            "string diameters, lowest string first",
            "length",
            0.02,
            10,
            default=(1.1684, 0.9144, 0.6604, 0.4318, 0.3302, 0.254),
            form="numbers",
            longest=24,
        ),
        Quantity("centre_spacing", "c", "equal centres at the nut", "length", 0.1, 300, 7.2),
        Quantity("string_gap", "g", "equal gap at the nut", "length", 0.01, 300, 6),
        Quantity("saddle_spacing", "c_s", "centres at the saddle", "length", 0.1, 300, 10.4),
    ),
    answers=("string_gap", "centre_spacing", "saddle_spacing"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "centre_spacing = (nut_width - 2*edge_margin)/(strings - 1)",
            {
                "centre_spacing": "{centre_spacing} = "
                "frac({nut_width:mm} - 2 * {edge_margin:mm}, {strings} - 1)",
                "nut_width": "{nut_width} = "
                "({strings} - 1) * {centre_spacing:mm} + 2 * {edge_margin:mm}",
                "edge_margin": "{edge_margin} = "
                "frac({nut_width:mm} - ({strings} - 1) * {centre_spacing:mm}, 2)",
            },
        ),
        Relation(
            "saddle_spacing = saddle_span/(strings - 1)",
            {
                "saddle_spacing": "{saddle_spacing} = frac({saddle_span:mm}, {strings} - 1)",
                "saddle_span": "{saddle_span} = ({strings} - 1) * {saddle_spacing:mm}",
            },
        ),
    ),
    numeric={"string_gap": ("nut_width", "edge_margin")},
    formulas={
        "string_gap": "{string_gap} = frac({nut_width:mm} - 2 * {edge_margin:mm} - "
        "sum {diameters}, {strings} - 1)",
    },
    limits=("Strings lie side by side in one row.",),
    conventions=(
        "Equal centres: the margin runs to the middle of the outer strings.",
        "Equal gaps: the margin runs to the outer edge of the outer strings.",
        "Strings are listed from the lowest to the highest and numbered from the highest.",
    ),
    source="division of a length into equal parts (identity)",
    example=CalculatorExample(
        given={"nut_width": "43.0 mm", "edge_margin": "3.5 mm", "strings": 6},
        expected={"centre_spacing": "7.2 mm"},
        source="(W − 2 m)/(N − 1), recomputed with NumPy",
        tolerance=1e-9,
    ),
)
