"""Board measure: board feet of a stack of pieces, with an allowance, and what it costs."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Line, Outline


@dataclass(frozen=True, slots=True)
class Inputs:
    pieces: int
    thickness_m: float
    width_m: float
    length_m: float
    stock_allowance: float
    price_usd_per_m3: float


@dataclass(frozen=True, slots=True)
class Result:
    board_measure_m3: float
    cost_usd: float


def board_measure_m3(
    pieces: float, thickness_m: float, width_m: float, length_m: float, stock_allowance: float = 0
) -> float:
    """Volume to buy (m³; one board foot is 144 cubic inches) at nominal sizes.

    `stock_allowance` is the share added for waste.
    """
    return pieces * thickness_m * width_m * length_m * (1 + stock_allowance)


def compute(inputs: Inputs) -> Result:
    volume = board_measure_m3(
        inputs.pieces, inputs.thickness_m, inputs.width_m, inputs.length_m, inputs.stock_allowance
    )
    return Result(volume, volume * inputs.price_usd_per_m3)


def show(inputs: Inputs, _result: Result) -> ShownValue:
    length, width, thick = (
        1000 * size for size in (inputs.length_m, inputs.width_m, inputs.thickness_m)
    )
    gap = max(length, width, thick) * 0.08 + 10
    below = width + gap
    shapes = (
        Outline(((0, 0), (length, 0), (length, width), (0, width)), closed=True, line="thick"),
        Dimension((0, 0), (length, 0), f"{length:.0f} mm", offset_mm=-gap / 2),
        Dimension((length, 0), (length, width), f"{width:.0f} mm", offset_mm=-gap / 2),
        Outline(
            ((0, below), (length, below), (length, below + thick), (0, below + thick)),
            closed=True,
            line="thick",
        ),
        Dimension((length, below), (length, below + thick), f"{thick:.1f} mm", offset_mm=-gap / 2),
        Line((0, width), (0, below), "dashed"),
    )
    drawing = Drawing(
        "One piece, top and edge",
        f"One of {inputs.pieces} pieces: {thick:.1f} mm thick, {width:.0f} mm wide, "
        f"{length:.0f} mm long.",
        shapes,
    )
    return ShownValue(drawing=drawing)


CALCULATOR = Calculator(
    key="board-measure",
    title="Board measure",
    question="How many board feet do these pieces take, and what do they cost?",
    quantities=(
        Quantity("pieces", "n", "number of pieces", "count", 1, 10_000, 2, form="whole"),
        Quantity("thickness", "t", "thickness (nominal)", "length", 0.1, 500, 48),
        Quantity("width", "w", "width (nominal)", "length", 1, 5000, 185),
        Quantity("length", "l", "length", "length", 1, 20_000, 520),
        Quantity("stock_allowance", "a", "allowance for waste", "percentage", 0, 300, 0),
        Quantity("price", "p", "price", "price_per_volume", 0, 1e5, 2750, "$/m³", "$/bd ft"),
        Quantity(
            "board_measure",
            "V",
            "board measure",
            "volume",
            1e-8,
            1e4,
            0.01,
            "m³",
            "bd ft",
        ),
        Quantity("cost", "K", "cost", "money", 0, 1e9, 30),
    ),
    answers=("board_measure", "cost"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "board_measure = pieces * thickness * width * length * (1 + stock_allowance)",
            {
                "board_measure": "{board_measure:bd ft} = frac({pieces} * {thickness:in} * {width:in} * {length:ft}, "
                "12) * (1 + {stock_allowance})",
                "thickness": "{thickness} = frac({board_measure},"
                " {pieces} * {width} * {length} * (1 + {stock_allowance}))",
                "width": "{width} = frac({board_measure},"
                " {pieces} * {thickness} * {length} * (1 + {stock_allowance}))",
                "length": "{length} = frac({board_measure},"
                " {pieces} * {thickness} * {width} * (1 + {stock_allowance}))",
                "stock_allowance": "{stock_allowance} = frac({board_measure},"
                " {pieces} * {thickness} * {width} * {length}) - 1",
            },
        ),
        Relation(
            "cost = board_measure * price",
            {
                "cost": "{cost} = {board_measure} * {price}",
                "price": "{price} = frac({cost}, {board_measure})",
                "board_measure": "{board_measure} = frac({cost}, {price})",
            },
        ),
    ),
    limits=(
        "Use the sizes the yard charges for (nominal, rough): surfaced stock is thinner.",
        "Stock under 1 in thick is charged as 1 in by many yards: common practice, no source.",
    ),
    conventions=("One board foot is 1 in by 12 in by 12 in, 144 cubic inches.",),
    source="Board foot: NIST Handbook 44 and American Softwood Lumber Standard PS 20",
    example=CalculatorExample(
        given={
            "pieces": 1,
            "thickness": "1 in",
            "width": "3 in",
            "length": "8 ft",
            "stock_allowance": "0 %",
        },
        expected={"board_measure": "2 bd ft"},
        source="1 x 3 x 8/12 = 2 board feet, a usual classroom example (nominal sizes)",
    ),
)
