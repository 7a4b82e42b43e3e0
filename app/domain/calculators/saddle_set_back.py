"""Saddle set-back: moving the saddle away so that fretted notes come down to pitch."""

import math
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
from app.domain.calculators.engine.pictures import line_chart


@dataclass(frozen=True, slots=True)
class Inputs:
    """Lengths in m."""

    scale_length_m: float
    fret: int
    set_back_m: float


@dataclass(frozen=True, slots=True)
class Result:
    """Cents by which the fretted note comes down, the open string being tuned again."""

    pitch_drop_cents: float
    nut_to_saddle_m: float


def pitch_drop_cents(scale_length_m: float, set_back_m: float, fret: float) -> float:
    """How far the note of a fret falls against the retuned open string, in cents."""
    rest = scale_length_m * math.pow(2, -fret / 12)
    open_ratio = (scale_length_m + set_back_m) / scale_length_m
    return 1200 * (math.log2((rest + set_back_m) / rest) - math.log2(open_ratio))


def compute(inputs: Inputs) -> Result:
    """The effect at one fret."""
    return Result(
        pitch_drop_cents(inputs.scale_length_m, inputs.set_back_m, inputs.fret),
        inputs.scale_length_m + inputs.set_back_m,
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The effect at every fret."""
    columns = (
        ResultColumn("fret", "Fret", "count"),
        ResultColumn("pitch_drop", "Comes down by", "interval", "cents", "cents", (2, 2)),
    )
    rows = tuple(
        (fret, pitch_drop_cents(inputs.scale_length_m, inputs.set_back_m, fret))
        for fret in range(1, 25)
    )
    notes = []
    if not 0 <= inputs.set_back_m <= 0.006:
        notes.append(
            "Published set-backs run from about 1.3 to 3.1 mm on classical strings "
            "(Byers 1996): check the action and the nut first."
        )
    return ShownValue(
        table=ResultTable("Effect at each fret", columns, rows),
        chart=line_chart(
            "Effect of the set-back",
            f"The correction grows up the neck and is {result.pitch_drop_cents:.2f} cents at "
            f"fret {inputs.fret}.",
            rows,
            "Fret",
            "Comes down by (cents)",
        ),
        notes=tuple(notes),
    )


CALCULATOR = Calculator(
    key="saddle-set-back",
    title="Saddle set-back",
    question="How far back does the saddle go to bring a sharp fret down to pitch?",
    quantities=(
        Quantity("scale_length", "L", "scale length", "length", 50, 3000, 650, digits=6),
        Quantity("fret", "n", "fret", "count", 1, 48, 12, form="whole"),
        Quantity("set_back", "s", "saddle set-back", "length", -20, 50, 2, digits=5),
        Quantity(
            "pitch_drop", "c", "fretted note comes down by", "interval", -1000, 1000, 5, digits=5
        ),
        Quantity(
            "nut_to_saddle",
            "L_s",
            "nut to saddle with set-back",
            "length",
            30,
            4000,
            652,
            digits=6,
        ),
    ),
    answers=("pitch_drop", "nut_to_saddle"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "2**(pitch_drop/1200)*(scale_length + set_back)*2**(-fret/12) = "
            "scale_length*2**(-fret/12) + set_back",
            {
                "pitch_drop": "{pitch_drop} = 1200 * log_2(frac({scale_length:mm} * "
                "2^(-frac({fret}, 12)) + {set_back:mm}, ({scale_length:mm} + {set_back:mm}) * "
                "2^(-frac({fret}, 12))))",
                "set_back": "{set_back} = {scale_length:mm} * frac(2^(frac({pitch_drop}, 1200)) "
                "- 1, 2^(frac({fret}, 12)) - 2^(frac({pitch_drop}, 1200)))",
            },
        ),
        Relation(
            "nut_to_saddle = scale_length + set_back",
            {
                "nut_to_saddle": "{nut_to_saddle} = {scale_length:mm} + {set_back:mm}",
            },
        ),
    ),
    limits=("An ideal string: what makes the note sharp is not changed by the set-back.",),
    conventions=(
        (
            "The open string is tuned again after the saddle is moved, so only the difference "
            "between the fretted note and the open string counts."
        ),
        "Set-back is positive away from the nut.",
    ),
    source="ideal string on equal-tempered frets; bands of set-back after Byers, American "
    "Lutherie 47 (1996)",
    example=CalculatorExample(
        given={"scale_length": "650 mm", "fret": 12, "pitch_drop": "5 cents"},
        expected={"set_back": "1.8854 mm"},
        solve_for="set_back",
        source="1200 log₂[(L + s)/(L/2 + s)] = 1200 − 5, recomputed with NumPy",
        tolerance=2e-4,
    ),
)
