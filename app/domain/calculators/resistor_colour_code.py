"""Resistor colour code: bands to ohms, and a wanted value to the nearest E24 bands."""

import math
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
from app.domain.calculators.engine.pictures import Drawing, Label, Line, Outline, Shape

DIGITS = (
    "black",
    "brown",
    "red",
    "orange",
    "yellow",
    "green",
    "blue",
    "violet",
    "grey",
    "white",
)
MULTIPLIERS = {colour: 10.0**power for power, colour in enumerate(DIGITS)} | {
    "gold": 0.1,
    "silver": 0.01,
    "pink": 0.001,
}
TOLERANCES = {
    "brown": 0.01,
    "red": 0.02,
    "orange": 0.0005,
    "yellow": 0.0002,
    "green": 0.005,
    "blue": 0.0025,
    "violet": 0.001,
    "grey": 0.0001,
    "gold": 0.05,
    "silver": 0.10,
}
WITHOUT_TOLERANCE_BAND = 0.20
OTHER_SPELLINGS = {"gray": "grey", "purple": "violet"}
E24 = (
    1.0,
    1.1,
    1.2,
    1.3,
    1.5,
    1.6,
    1.8,
    2.0,
    2.2,
    2.4,
    2.7,
    3.0,
    3.3,
    3.6,
    3.9,
    4.3,
    4.7,
    5.1,
    5.6,
    6.2,
    6.8,
    7.5,
    8.2,
    9.1,
)


@dataclass(frozen=True, slots=True)
class Inputs:
    bands: tuple[str, ...]
    wanted_resistance_ohm: float


@dataclass(frozen=True, slots=True)
class Result:
    resistance_ohm: float
    tolerance: float
    lowest_resistance_ohm: float
    highest_resistance_ohm: float
    nearest_value_ohm: float
    nearest_bands: tuple[str, ...]


def read_bands(bands: tuple[str, ...]) -> tuple[float, float]:
    """Resistance (ohm) and tolerance (fraction) of 3 to 6 bands, IEC 60062.

    3 bands: two digits and multiplier, 20 %; 4: with tolerance; 5: three digits; 6: with a
    temperature coefficient, which is not read. Raises InvalidInput naming the band.
    """
    plain = [OTHER_SPELLINGS.get(band.casefold(), band.casefold()) for band in bands]
    if not 3 <= len(plain) <= 6:
        raise InvalidInput([("bands", f"A resistor has 3 to 6 bands, not {len(plain)}.")])
    digits = 2 if len(plain) <= 4 else 3
    value = 0.0
    for place, colour in enumerate(plain[:digits], 1):
        value = 10 * value + _known(colour, DIGITS, place, "a digit")
    power = _known(plain[digits], tuple(MULTIPLIERS), digits + 1, "a multiplier")
    tolerance = WITHOUT_TOLERANCE_BAND
    if len(plain) > digits + 1:
        place = digits + 2
        index = _known(plain[digits + 1], tuple(TOLERANCES), place, "a tolerance")
        tolerance = list(TOLERANCES.values())[index]
    if value == 0 and len(plain) > 1:
        raise InvalidInput([("bands", "The digits are all black: that makes no resistance.")])
    return value * list(MULTIPLIERS.values())[power], tolerance


def _known(colour: str, colours: tuple[str, ...], place: int, what: str) -> int:
    if colour not in colours:
        may_be = ", ".join(colours)
        sentence = f"Band {place} is {what}: it may be {may_be}, not “{colour[:20]}”."
        raise InvalidInput([("bands", sentence)])
    return colours.index(colour)


def nearest_e24_ohm(resistance_ohm: float) -> float:
    """The E24 value (ohm) of IEC 60063 with the least absolute difference."""
    decade = math.floor(math.log10(resistance_ohm))
    values = [
        round(step * 10) * 10.0 ** (power - 1)
        for power in (decade - 1, decade, decade + 1)
        for step in E24
    ]
    return min(values, key=lambda value: (abs(value - resistance_ohm), value))


def bands_of(value_ohm: float) -> tuple[str, ...]:
    """Four bands, 5 % gold, of a value with two significant figures. Raises ValueError."""
    power = math.floor(math.log10(value_ohm) + 1e-9) - 1
    number = round(value_ohm / 10.0**power)
    multiplier = next(
        (colour for colour, factor in MULTIPLIERS.items() if math.isclose(factor, 10.0**power)),
        None,
    )
    if multiplier is None:
        raise ValueError("no colour stands for that multiplier")
    return DIGITS[number // 10], DIGITS[number % 10], multiplier, "gold"


def compute(inputs: Inputs) -> Result:
    resistance, tolerance = read_bands(inputs.bands)
    nearest = nearest_e24_ohm(inputs.wanted_resistance_ohm)
    return Result(
        resistance,
        tolerance,
        resistance * (1 - tolerance),
        resistance * (1 + tolerance),
        nearest,
        bands_of(nearest),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    rows = tuple(
        (
            colour,
            str(DIGITS.index(colour)) if colour in DIGITS else None,
            f"{factor:g}",
            f"{100 * TOLERANCES[colour]:g} %" if colour in TOLERANCES else None,
        )
        for colour, factor in MULTIPLIERS.items()
    )
    columns = (
        ResultColumn("colour", "Colour"),
        ResultColumn("digit", "Digit"),
        ResultColumn("multiplier", "Multiplier"),
        ResultColumn("tolerance", "Tolerance"),
    )
    return ShownValue(
        table=ResultTable("The code", columns, rows),
        drawing=_drawing(inputs.bands, result),
        notes=("The tolerance band stands a little apart from the others: read towards it.",),
    )


def _drawing(bands: tuple[str, ...], result: Result) -> Drawing:
    shapes: list[Shape] = [
        Line((-20, 0), (0, 0), "thick"),
        Outline(((0, -10), (90, -10), (90, 10), (0, 10)), closed=True, line="thick"),
        Line((90, 0), (110, 0), "thick"),
    ]
    for place, colour in enumerate(bands):
        apart = 10 if place == len(bands) - 1 and len(bands) > 3 else 0
        x = 8 + 12 * place + apart
        shapes.append(
            Outline(((x, -10), (x + 5, -10), (x + 5, 10), (x, 10)), closed=True, filled=True)
        )
        shapes.append(Label((x + 2.5, 17 + 6 * (place % 2)), colour))
    return Drawing(
        "The resistor",
        f"Bands from left to right: {', '.join(bands)}; {result.resistance_ohm:g} Ω "
        f"± {100 * result.tolerance:g} %.",
        tuple(shapes),
    )


CALCULATOR = Calculator(
    key="resistor-colour-code",
    title="Resistor colour code",
    question="What do the coloured bands say, and which bands has the value I need?",
    quantities=(
        Quantity(
            "bands",
            'upright("bands")',
            "bands",
            "number",
            default=("red", "violet", "yellow", "gold"),
            form="texts",
            longest=6,
            note="colours in order, such as red violet yellow gold",
        ),
        Quantity("wanted_resistance", "R_w", "wanted resistance", "resistance", 0.1, 9e10, 5000),
        Quantity("resistance", "R", "resistance by its bands", "resistance", 1e-3, 1e12),
        Quantity("tolerance", "delta", "tolerance", "percentage", 0, 100),
        Quantity("lowest_resistance", 'R_"min"', "lowest resistance", "resistance", 0, 1e12),
        Quantity("highest_resistance", 'R_"max"', "highest resistance", "resistance", 0, 1e12),
        Quantity("nearest_value", "R_24", "nearest E24 value", "resistance", 1e-3, 1e12),
        Quantity("nearest_bands", 'upright("bands")_24', "its bands", "number", form="texts"),
    ),
    answers=(
        "resistance",
        "tolerance",
        "lowest_resistance",
        "highest_resistance",
        "nearest_value",
        "nearest_bands",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "resistance": "{resistance} = (10 d_1 + d_2) * 10^m",
        "lowest_resistance": "{lowest_resistance} = {resistance} * (1 - {tolerance})",
        "highest_resistance": "{highest_resistance} = {resistance} * (1 + {tolerance})",
    },
    limits=(
        "Colours fade and heat browns them: measure before soldering.",
        "Three bands mean 20 %; a sixth band is a temperature coefficient and is not read.",
    ),
    conventions=(
        "With five or six bands the first three are digits: R = (100 d₁ + 10 d₂ + d₃) 10^m.",
        (
            "The nearest E24 value is the one with the least absolute difference, drawn with a gold "
            "(5 %) band."
        ),
    ),
    source="IEC 60062 (colour code), IEC 60063 (E24 values)",
    example=CalculatorExample(
        given={"bands": "red black green silver"},
        expected={"resistance": "2000000 ohm", "tolerance": "10 %"},
        source="OpenStax, University Physics Volume 2, section 9.3, figure text",
    ),
)
