"""Tuner gear ratio: what one turn of the knob does to the string and its pitch."""

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
    """Turns and ratio without unit, lengths in m, modulus in Pa, tension in N."""

    gear_ratio: float
    knob_turns: float
    post_diameter_m: float
    stretched_length_m: float
    youngs_modulus_pa: float
    core_diameter_m: float
    tension_n: float


@dataclass(frozen=True, slots=True)
class Result:
    """Length in m, force in N, interval in cents."""

    take_up_m: float
    tension_rise_n: float
    pitch_rise_cents: float


def _rise(inputs: Inputs, turns: float) -> tuple[float, float, float]:
    take_up = math.pi * inputs.post_diameter_m * turns / inputs.gear_ratio
    area = math.pi * inputs.core_diameter_m**2 / 4
    rise = inputs.youngs_modulus_pa * area * take_up / inputs.stretched_length_m
    return take_up, rise, 600 * math.log2(1 + rise / inputs.tension_n)


def compute(inputs: Inputs) -> Result:
    """What so many turns take up, add in tension and raise in pitch."""
    return Result(*_rise(inputs, inputs.knob_turns))


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Pitch against the turn of the knob."""
    columns = (
        ResultColumn("knob_turns", "Turns of the knob", "number", places=(2, 2)),
        ResultColumn("take_up", "String wound up", "length", "mm", "in", (3, 4)),
        ResultColumn("pitch_rise", "Pitch rises by", "interval", "cents", "cents", (1, 1)),
    )
    rows = tuple(
        (turns, take_up, cents)
        for turns in (0.05, 0.1, 0.25, 0.5, 0.75, 1.0)
        for take_up, _, cents in (_rise(inputs, turns),)
    )
    return ShownValue(
        table=ResultTable("Turns and pitch", columns, rows),
        chart=line_chart(
            "Pitch against the turn of the knob",
            f"At {inputs.knob_turns:g} of a turn the pitch is {result.pitch_rise_cents:.0f} cents higher.",
            [(step / 20, _rise(inputs, step / 20)[2]) for step in range(21)],
            "Turns of the knob",
            "Pitch rises by (cents)",
        ),
    )


CALCULATOR = Calculator(
    key="tuner-gear-ratio",
    title="Tuner gear ratio",
    question="How finely does a tuner tune?",
    quantities=(
        Quantity("gear_ratio", "i", "gear ratio", "ratio", 1, 200, 18),
        Quantity("knob_turns", "N", "turns of the knob", "number", 0.001, 100, 1),
        Quantity("post_diameter", "d_p", "diameter of the post", "length", 1, 50, 6),
        Quantity("stretched_length", "l", "post to far end of the string", "length", 50, 5000, 750),
        Quantity(
            "youngs_modulus", "E", "Young's modulus", "pressure", 0.01, 1000, 200, us_unit="Mpsi"
        ),
        Quantity("core_diameter", "d_c", "diameter of the core", "length", 0.02, 10, 0.254),
        Quantity("tension", "T", "tension before the turn", "force", 0.01, 20000, 72.5),
        Quantity("take_up", "x", "string wound up", "length", 1e-6, 1e5, 1.05),
        Quantity("tension_rise", "Delta T", "rise in tension", "force", 0, 1e6, 14),
        Quantity("pitch_rise", "c", "pitch rises by", "interval", 0, 1e5, 100),
    ),
    answers=("pitch_rise", "take_up", "tension_rise"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "take_up = pi*post_diameter*knob_turns/gear_ratio",
            {
                "take_up": "{take_up} = frac(pi * {post_diameter:mm} * {knob_turns}, {gear_ratio})",
                "gear_ratio": "{gear_ratio} = "
                "frac(pi * {post_diameter:mm} * {knob_turns}, {take_up:mm})",
                "post_diameter": "{post_diameter} = "
                "frac({gear_ratio} * {take_up:mm}, pi * {knob_turns})",
                "knob_turns": "{knob_turns} = "
                "frac({gear_ratio} * {take_up:mm}, pi * {post_diameter:mm})",
            },
        ),
        Relation(
            "tension_rise = youngs_modulus*pi*core_diameter**2/4*take_up/stretched_length",
            {
                "tension_rise": "{tension_rise} = {youngs_modulus} * frac(pi, 4) * "
                "{core_diameter}^2 * frac({take_up}, {stretched_length})",
                "take_up": "{take_up} = frac(4 * {tension_rise} * {stretched_length}, "
                "pi * {core_diameter}^2 * {youngs_modulus})",
            },
        ),
        Relation(
            "pitch_rise = 600*log(1 + tension_rise/tension)/log(2)",
            {
                "pitch_rise": "{pitch_rise} = 600 * log_2(1 + frac({tension_rise}, {tension}))",
                "tension_rise": "{tension_rise} = {tension} * (2^(frac({pitch_rise}, 600)) - 1)",
            },
        ),
    ),
    limits=(
        "The string winds in one layer, does not slip, and the neck does not give.",
        "For a wound string only the core stretches.",
    ),
    conventions=("A ratio of 18 means 18 turns of the knob for one of the post.",),
    source="geometry of a winding drum; Hooke's law for the core",
    example=CalculatorExample(
        given={"gear_ratio": 18, "post_diameter": "6 mm", "knob_turns": 1},
        expected={"take_up": "1.047198 mm"},
        source="by hand: π · 6 mm / 18",
        tolerance=1e-6,
    ),
)
