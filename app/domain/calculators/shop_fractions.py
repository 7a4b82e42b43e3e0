"""Shop fractions: millimetres to the nearest mark on an inch rule, and sums of lengths."""

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
from app.domain.calculators.engine.pictures import Drawing, Label, Line, Shape
from app.domain.quantities import INCH_M, shop_length

DENOMINATORS = ("2", "4", "8", "16", "32", "64")


@dataclass(frozen=True, slots=True)
class Inputs:
    """Lengths in m; the denominator as it is chosen."""

    length_m: float
    second_length_m: float
    denominator: str


@dataclass(frozen=True, slots=True)
class Result:
    """Lengths in m, fractions of an inch as text."""

    inch_fraction: str
    rounded_length_m: float
    rounding_error_m: float
    length_sum_m: float
    length_difference_m: float
    half_length_m: float


def compute(inputs: Inputs) -> Result:
    """The nearest mark, and sum, difference and half of exact lengths."""
    rounded = shop_length(inputs.length_m, int(inputs.denominator))
    return Result(
        inch_fraction=rounded.text,
        rounded_length_m=inputs.length_m + rounded.error_m,
        rounding_error_m=rounded.error_m,
        length_sum_m=inputs.length_m + inputs.second_length_m,
        length_difference_m=inputs.length_m - inputs.second_length_m,
        half_length_m=inputs.length_m / 2,
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Every rule's nearest mark, the sums as fractions, and the rule drawn to scale."""
    columns = (
        ResultColumn("what", "Length"),
        ResultColumn("exact", "Exact", "length", "mm", "in", (3, 5)),
        ResultColumn("fraction", "Nearest mark"),
        ResultColumn("error", "Mark minus exact", "length", "mm", "in", (3, 4)),
    )
    rows = []
    for denominator in DENOMINATORS:
        mark = shop_length(inputs.length_m, int(denominator))
        rows.append((f"to 1/{denominator} in", inputs.length_m, mark.text, mark.error_m))
    for name, length in (
        ("sum", result.length_sum_m),
        ("difference", result.length_difference_m),
        ("half", result.half_length_m),
    ):
        mark = shop_length(length, int(inputs.denominator))
        rows.append((f"{name}, to 1/{inputs.denominator} in", length, mark.text, mark.error_m))
    return ShownValue(
        table=ResultTable("Nearest marks on an inch rule", columns, tuple(rows)),
        drawing=_rule(inputs, result),
    )


def _rule(inputs: Inputs, result: Result) -> Drawing:
    """The inch of the rule in which the length ends, to true scale."""
    parts = int(inputs.denominator)
    whole = int(inputs.length_m / INCH_M)
    inch = INCH_M * 1000
    shapes: list[Shape] = [Line((0, 0), (inch, 0), "thick")]
    for tick in range(parts + 1):
        step = next(part for part in (1, 2, 4, 8, 16, 32, 64) if tick * part % parts == 0)
        height = {1: 14, 2: 11, 4: 9, 8: 7, 16: 5, 32: 3.5, 64: 2.5}[step]
        shapes.append(Line((tick * inch / parts, 0), (tick * inch / parts, height)))
    at = (inputs.length_m - whole * INCH_M) * 1000
    shapes.append(Line((at, -8), (at, 2), "dashed"))
    shapes.append(Label((at, -10), result.inch_fraction))
    shapes.append(Label((0, 20), str(whole)))
    shapes.append(Label((inch, 20), str(whole + 1)))
    return Drawing(
        "Inch rule at the end of the length",
        f"The inch between {whole} and {whole + 1} divided in {parts}; the nearest mark is "
        f"{result.inch_fraction}.",
        tuple(shapes),
    )


CALCULATOR = Calculator(
    key="shop-fractions",
    title="Shop fractions",
    question="Which mark on an inch rule comes nearest to a length in millimetres?",
    quantities=(
        Quantity("length", "a", "length", "length", 0, 10000, 41.3, digits=6),
        Quantity("second_length", "b", "second length", "length", 0, 10000, 12.7, digits=6),
        Quantity(
            "denominator",
            "D",
            "finest division of the rule",
            "number",
            default="64",
            form="choice",
            choices=tuple((text, f"1/{text} in") for text in DENOMINATORS),
        ),
        Quantity("inch_fraction", "a_r", "nearest mark", "number", form="text"),
        Quantity("rounded_length", "a_r", "length of that mark", "length", 0, 1e5, digits=6),
        Quantity("rounding_error", "e", "mark minus length", "length", -20, 20),
        Quantity("length_sum", "s", "sum", "length", 0, 20000, 54, digits=6),
        Quantity(
            "length_difference", "Delta", "difference", "length", -10000, 10000, 28.6, digits=6
        ),
        Quantity("half_length", "h", "half of the length", "length", 0, 5000, 20.65, digits=6),
    ),
    answers=(
        "inch_fraction",
        "rounded_length",
        "rounding_error",
        "length_sum",
        "length_difference",
        "half_length",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "length_sum = length + second_length",
            {
                "length_sum": "{length_sum} = {length:mm} + {second_length:mm}",
                "second_length": "{second_length} = {length_sum:mm} - {length:mm}",
            },
        ),
        Relation(
            "length_difference = length - second_length",
            {
                "length_difference": "{length_difference} = {length:mm} - {second_length:mm}",
                "length": "{length} = {length_difference:mm} + {second_length:mm}",
            },
        ),
        Relation(
            "half_length = length/2",
            {
                "half_length": "{half_length} = frac({length:mm}, 2)",
                "length": "{length} = 2 * {half_length:mm}",
            },
        ),
    ),
    formulas={
        "rounding_error": "{rounding_error} = {rounded_length:mm} - {length:mm}",
        "rounded_length": '{rounded_length} = frac(25.4 thin "mm", {denominator}) * '
        '"round"(frac({length:mm} * {denominator}, 25.4 thin "mm"))',
    },
    limits=("A rule is read to its marks: nothing is said about how well.",),
    conventions=(
        "1 in is exactly 25.4 mm.",
        "A length just between two marks goes to the larger one.",
    ),
    source="NIST SP 811 (2008), appendix B.8: 1 in = 0.0254 m exactly",
    example=CalculatorExample(
        given={"length": "41.3 mm", "denominator": "16"},
        expected={"inch_fraction": "1 ⅝ in", "rounding_error": "-0.025 mm"},
        source="by hand: 41.3 mm · 16 / 25.4 mm = 26.02, and 26/16 in = 41.275 mm",
        tolerance=1e-6,
    ),
)
