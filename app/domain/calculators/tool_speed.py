"""Tool speed: how fast an edge travels, and how thick a chip each tooth takes."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import chart


@dataclass(frozen=True, slots=True)
class Inputs:
    cutter_diameter_m: float
    spindle_speed_per_s: float
    teeth: int
    feed_speed_m_per_s: float


@dataclass(frozen=True, slots=True)
class Result:
    surface_speed_m_per_s: float
    chip_load_m: float


def surface_speed_m_per_s(cutter_diameter_m: float, spindle_speed_per_s: float) -> float:
    """Speed (m/s) of the rim: pi D N."""
    return math.pi * cutter_diameter_m * spindle_speed_per_s


def chip_load_m(feed_speed_m_per_s: float, spindle_speed_per_s: float, teeth: int) -> float:
    """Feed (m) for each tooth that passes: f / (N z)."""
    return feed_speed_m_per_s / (spindle_speed_per_s * teeth)


def compute(inputs: Inputs) -> Result:
    return Result(
        surface_speed_m_per_s(inputs.cutter_diameter_m, inputs.spindle_speed_per_s),
        chip_load_m(inputs.feed_speed_m_per_s, inputs.spindle_speed_per_s, inputs.teeth),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    rpm = inputs.spindle_speed_per_s * 60
    values: list[dict[str, float | str]] = [
        {
            "rpm": rpm * part / 10,
            "speed": result.surface_speed_m_per_s * part / 10,
            "diameter": f"{1000 * inputs.cutter_diameter_m:.1f} mm",
        }
        for part in range(2, 16)
    ]
    picture = chart(
        "Rim speed against spindle speed",
        f"At {rpm:.0f} rpm the rim travels at {result.surface_speed_m_per_s:.1f} m/s; "
        "half the spindle speed is half the rim speed.",
        values,
        mark={"type": "line", "point": True},
        encoding={
            "x": {"field": "rpm", "type": "quantitative", "title": "Spindle speed (rpm)"},
            "y": {"field": "speed", "type": "quantitative", "title": "Rim speed (m/s)"},
        },
    )
    return ShownValue(chart=picture)


CALCULATOR = Calculator(
    key="tool-speed",
    title="Tool speed",
    question="How fast does the edge travel, and how thick a chip does each tooth take?",
    quantities=(
        Quantity("cutter_diameter", "D", "cutter diameter", "length", 0.1, 1000, 254),
        Quantity("spindle_speed", "N", "spindle speed", "rotation", 1, 100_000, 3450),
        Quantity("teeth", "z", "teeth or flutes", "count", 1, 200, 40, form="whole"),
        Quantity("feed_speed", "f", "feed speed", "speed", 1e-5, 10, 3, "m/min", "in/min"),
        Quantity(
            "surface_speed", "V", "surface (rim) speed", "speed", 1e-4, 1e4, 46, "m/s", "ft/min"
        ),
        Quantity("chip_load", "c", "chip load", "length", 1e-7, 1000, 0.02),
    ),
    answers=("surface_speed", "chip_load"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "surface_speed = pi * cutter_diameter * spindle_speed",
            {
                "surface_speed": "{surface_speed} = pi * {cutter_diameter} * {spindle_speed}",
                "cutter_diameter": "{cutter_diameter} = frac({surface_speed},"
                " pi * {spindle_speed})",
                "spindle_speed": "{spindle_speed} = frac({surface_speed}, pi * {cutter_diameter})",
            },
        ),
        Relation(
            "chip_load = feed_speed / (spindle_speed * teeth)",
            {
                "chip_load": "{chip_load} = frac({feed_speed}, {spindle_speed} * {teeth})",
                "feed_speed": "{feed_speed} = {chip_load} * {spindle_speed} * {teeth}",
                "spindle_speed": "{spindle_speed} = frac({feed_speed}, {chip_load} * {teeth})",
            },
        ),
    ),
    limits=(
        (
            "The marking on the cutter and the machine's manual set the highest spindle speed, whatever "
            "is computed here. "
            "Local codes, the school's own rules and qualified supervision come first."
        ),
    ),
    conventions=(
        "V = pi D N exactly; the shop form N = 3.82 V / D (ft/min, in) rounds 12/pi = 3.8197.",
        "Chip load is the feed per tooth, every tooth cutting.",
    ),
    source="US Army Ordnance subcourse OD1645 (spindle speed); geometry of a turning circle",
    example=CalculatorExample(
        given={"cutter_diameter": "10 in", "spindle_speed": "3450 rpm"},
        expected={"surface_speed": "9032 ft/min"},
        source="pi x 10 x 3450 / 12 = 9032 ft/min, computed apart from this program",
        tolerance=1e-4,
    ),
)
