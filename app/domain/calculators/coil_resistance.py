"""Coil resistance: direct-current resistance of a winding from wire gauge and turns."""

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
from app.domain.calculators.engine.pictures import Circle, Drawing, Label, Shape
from app.domain.quantities import significant

COPPER_RESISTIVITY_OHM_M = 1e-6 / 58
COPPER_COEFFICIENT_PER_K = 0.00393
REFERENCE_K = 293.15
TENTH_MIL_M = 2.54e-6
UNROUNDED = "unrounded"
TENTH_MIL = "tenth-mil"


@dataclass(frozen=True, slots=True)
class Inputs:
    wire_gauge: int
    wire_table: str
    temperature_k: float
    turns: int
    mean_turn_m: float


@dataclass(frozen=True, slots=True)
class Result:
    coil_resistance_ohm: float
    wire_length_m: float
    wire_resistance_ohm_per_m: float
    wire_diameter_m: float


def gauge_diameter_m(gauge: float, *, rounded: bool = False) -> float:
    """Bare diameter (m) of American wire gauge `gauge` (0000 is −3): 0.127 mm 92^((36−n)/39).

    ASTM B258. `rounded` rounds to a tenth of a mil first, as the older wire tables do (NBS
    Handbook 100); at 40 to 44 gauge that moves the resistance by up to 3 %.
    """
    diameter = 0.127e-3 * math.pow(92, (36 - gauge) / 39)
    return round(diameter / TENTH_MIL_M) * TENTH_MIL_M if rounded else diameter


def temperature_factor(temperature_k: float) -> float:
    """R / R20 of annealed copper: 1 + alpha (T − 20 °C), IEC 60028."""
    return 1 + COPPER_COEFFICIENT_PER_K * (temperature_k - REFERENCE_K)


def conductor_ohm(resistivity_ohm_m: float, length_m: float, section_m2: float) -> float:
    """Resistance (ohm) of a conductor: rho l / A."""
    return resistivity_ohm_m * length_m / section_m2


def wire_resistance_ohm_per_m(diameter_m: float, temperature_k: float = REFERENCE_K) -> float:
    """Resistance of annealed copper wire per length (ohm/m), IEC 60028."""
    at_20 = conductor_ohm(COPPER_RESISTIVITY_OHM_M, 1.0, math.pi * diameter_m**2 / 4)
    return at_20 * temperature_factor(temperature_k)


def compute(inputs: Inputs) -> Result:
    diameter = gauge_diameter_m(inputs.wire_gauge, rounded=inputs.wire_table == TENTH_MIL)
    per_length = wire_resistance_ohm_per_m(diameter, inputs.temperature_k)
    length = inputs.turns * inputs.mean_turn_m
    return Result(length * per_length, length, per_length, diameter)


def show(inputs: Inputs, result: Result) -> ShownValue:
    other = gauge_diameter_m(inputs.wire_gauge, rounded=inputs.wire_table != TENTH_MIL)
    by_other = result.wire_length_m * wire_resistance_ohm_per_m(other, inputs.temperature_k)
    words = {UNROUNDED: "the unrounded law", TENTH_MIL: "the diameter rounded to 0.1 mil"}
    second = TENTH_MIL if inputs.wire_table == UNROUNDED else UNROUNDED
    note = (
        f"Computed with {words[inputs.wire_table]}; with {words[second]} it would be "
        f"{by_other:.0f} Ω ({100 * (by_other / result.coil_resistance_ohm - 1):+.1f} %)."
    )
    return ShownValue(table=_table(inputs), drawing=_drawing(inputs, result), notes=(note,))


def _table(inputs: Inputs) -> ResultTable:
    rows = []
    for gauge in range(max(-3, inputs.wire_gauge - 2), min(50, inputs.wire_gauge + 2) + 1):
        diameter = gauge_diameter_m(gauge, rounded=inputs.wire_table == TENTH_MIL)
        per_length = wire_resistance_ohm_per_m(diameter, inputs.temperature_k)
        rows.append((gauge, diameter, per_length, per_length * inputs.turns * inputs.mean_turn_m))
    columns = (
        ResultColumn("wire_gauge", "Gauge"),
        ResultColumn("wire_diameter", "Diameter", "length", "mm", "in", (4, 5)),
        ResultColumn(
            "wire_resistance", "Per length", "resistance_per_length", "Ω/m", "Ω/kft", (3, 0)
        ),
        ResultColumn("coil_resistance", "This coil", "resistance", "Ω", "Ω", (0, 0)),
    )
    return ResultTable("Neighbouring gauges", columns, tuple(rows))


def _drawing(inputs: Inputs, result: Result) -> Drawing:
    shapes: list[Shape] = []
    x, height = 0.0, 0.0
    for gauge in (inputs.wire_gauge - 1, inputs.wire_gauge, inputs.wire_gauge + 1):
        across = gauge_diameter_m(gauge) / result.wire_diameter_m * 30
        shapes.append(Circle((x + across / 2, -across / 2), across / 2, line="thick"))
        shapes.append(Label((x + across / 2, 8), f"gauge {gauge}"))
        if gauge == inputs.wire_gauge:
            words = f"{1000 * result.wire_diameter_m:.4f} mm"
            shapes.append(Label((x + across / 2, -across / 2), words))
        height = max(height, across)
        x += across + 12
    return Drawing(
        "Wire ends",
        f"The end of gauge {inputs.wire_gauge} between its neighbours: three gauges thinner is "
        "about half the area and twice the resistance. Drawn about "
        f"{significant(30 / (1000 * result.wire_diameter_m), 2)} times as large.",
        tuple(shapes),
    )


CALCULATOR = Calculator(
    key="coil-resistance",
    title="Coil resistance",
    question="What resistance has a coil of so many turns of this wire?",
    quantities=(
        Quantity(
            "wire_gauge", "n", "wire gauge (AWG; 0000 is −3)", "count", -3, 50, 42, form="whole"
        ),
        Quantity(
            "wire_table",
            'upright("table")',
            "wire table",
            "number",
            default=UNROUNDED,
            form="choice",
            choices=(
                (UNROUNDED, "diameter by the law, unrounded"),
                (TENTH_MIL, "diameter rounded to 0.1 mil"),
            ),
        ),
        Quantity("temperature", "T", "temperature", "temperature", -40, 150, 20),
        Quantity("turns", "N", "turns", "count", 1, 1_000_000, 8000, form="whole"),
        Quantity("mean_turn", "l_m", "mean length of a turn", "length", 1, 100_000, 148),
        Quantity(
            "coil_resistance", "R", "coil resistance", "resistance", 1e-6, 1e9, 6500, "Ω", "Ω"
        ),
        Quantity("wire_length", "l", "length of wire", "length", 1e-3, 1e6, None, "m", "ft"),
        Quantity(
            "wire_resistance",
            "r",
            "resistance of the wire per length",
            "resistance_per_length",
            1e-6,
            1e5,
            None,
            "Ω/m",
            "Ω/kft",
        ),
        Quantity("wire_diameter", "d", "bare diameter of the wire", "length", 1e-3, 20),
    ),
    answers=("coil_resistance", "wire_length", "wire_resistance", "wire_diameter"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "wire_length = turns * mean_turn",
            {
                "wire_length": "{wire_length} = {turns} * {mean_turn}",
                "turns": "{turns} = frac({wire_length}, {mean_turn})",
                "mean_turn": "{mean_turn} = frac({wire_length}, {turns})",
            },
        ),
    ),
    formulas={
        "coil_resistance": "{coil_resistance} = {wire_resistance} * {wire_length}",
        "wire_resistance": "{wire_resistance} = frac(rho_20, pi * {wire_diameter}^2 \\/ 4)"
        " (1 + alpha_20 (T - 20 degree upright(C)))",
        "wire_diameter": '{wire_diameter} = 0.127 thin "mm" * 92^(frac(36 - {wire_gauge}, 39))',
    },
    numeric={"coil_resistance": ("turns", "mean_turn", "temperature")},
    limits=(
        "Direct current only: at audio frequencies inductance and capacitance count as well.",
        "Fine wire stretches while it is wound and gets thinner: expect a few per cent more.",
    ),
    conventions=(
        (
            "ASTM B258 law, unrounded unless the other table is chosen: tables that round the diameter "
            "to 0.1 mil first differ by up to 3 % from gauge 40 on."
        ),
        "Annealed copper, 1/58 Ω mm²/m at 20 °C, temperature coefficient 0.00393 per kelvin.",
    ),
    source="ASTM B258 (diameters); IEC 60028 (copper)",
    example=CalculatorExample(
        given={"wire_gauge": 42, "turns": 8000, "mean_turn": "148 mm", "temperature": "20 C"},
        expected={"coil_resistance": "6478.4 ohm"},
        source="R = rho N l / A with the law's diameter, computed apart from this program with pint",
        tolerance=1e-4,
    ),
)
