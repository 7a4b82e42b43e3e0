"""Ohm's law and electrical power: voltage, current, resistance, power of one resistor."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import line_chart


@dataclass(frozen=True, slots=True)
class Inputs:
    current_a: float
    resistance_ohm: float


@dataclass(frozen=True, slots=True)
class Result:
    voltage_v: float
    power_w: float


def voltage_v(current_a: float, resistance_ohm: float) -> float:
    """Voltage (V) across a resistor: I R."""
    return current_a * resistance_ohm


def power_w(voltage_v: float, current_a: float) -> float:
    """Power (W) turned into heat: V I."""
    return voltage_v * current_a


def compute(inputs: Inputs) -> Result:
    voltage = voltage_v(inputs.current_a, inputs.resistance_ohm)
    return Result(voltage, power_w(voltage, inputs.current_a))


def show(inputs: Inputs, result: Result) -> ShownValue:
    picture = line_chart(
        "Current against voltage",
        "A straight line through the origin: twice the voltage drives twice the current. "
        f"At {result.voltage_v:.3g} V the current is {inputs.current_a * 1000:.3g} mA.",
        [(part / 10 * result.voltage_v, part * inputs.current_a * 100) for part in range(21)],
        "Voltage (V)",
        "Current (mA)",
    )
    return ShownValue(chart=picture)


CALCULATOR = Calculator(
    key="ohms-law",
    title="Ohm's law",
    question="Which current flows, which voltage is needed, and how warm does the resistor get?",
    quantities=(
        Quantity("voltage", "V", "voltage", "voltage", 1e-6, 600, 9),
        Quantity("current", "I", "current", "current", 1e-6, 100_000, 15),
        Quantity("resistance", "R", "resistance", "resistance", 1e-3, 1e9, 470),
        Quantity("power", "P", "power", "power", 1e-12, 60_000),
    ),
    answers=("voltage", "power"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "voltage = current * resistance",
            {
                "voltage": "{voltage} = {current} * {resistance}",
                "current": "{current} = frac({voltage}, {resistance})",
                "resistance": "{resistance} = frac({voltage}, {current})",
            },
        ),
        Relation(
            "power = voltage * current",
            {
                "power": "{power} = {voltage} * {current}",
                "voltage": "{voltage} = frac({power}, {current})",
                "current": "{current} = frac({power}, {voltage})",
            },
        ),
        Relation(
            "power = current**2 * resistance",
            {
                "current": "{current} = sqrt(frac({power}, {resistance}))",
                "resistance": "{resistance} = frac({power}, {current}^2)",
            },
        ),
        Relation(
            "power = voltage**2 / resistance",
            {
                "voltage": "{voltage} = sqrt({power} * {resistance})",
                "resistance": "{resistance} = frac({voltage}^2, {power})",
            },
        ),
    ),
    limits=(
        (
            "Holds for resistors, wires and coils at steady current; not for diodes, and not for a "
            "pickup at audio frequencies, where its inductance counts."
        ),
        "A resistor gets hot: keep the power below half of what it is made for.",
    ),
    conventions=("Power is all heat.",),
    source="OpenStax, University Physics Volume 2, sections 9.4 and 9.5",
    example=CalculatorExample(
        given={"current": "20 mA", "resistance": "330 ohm"},
        expected={"voltage": "6.6 V", "power": "0.132 W"},
        source="arithmetic: 0.020 A x 330 ohm = 6.6 V, 6.6 V x 0.020 A = 0.132 W",
    ),
)
