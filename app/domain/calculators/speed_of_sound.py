"""Speed of sound in air: the exact formula of Cramer, and the two rules of thumb."""

import math
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
from app.domain.calculators.engine.pictures import line_chart

CARBON_DIOXIDE = 0.0004
# Cramer, JASA 93 (1993) 2510, as IEC 61094-2:2009 Table F.1 prints them.
_A = (
    331.5024,
    0.603055,
    -0.000528,
    51.471935,
    0.1495874,
    -0.000782,
    -1.82e-7,
    3.73e-8,
    -2.93e-10,
    -85.20931,
    -0.228525,
    5.91e-5,
    -2.835149,
    -2.15e-13,
    29.179762,
    0.000486,
)


@dataclass(frozen=True, slots=True)
class Inputs:
    """Temperature in K, humidity as a share, pressure in Pa, length in m."""

    temperature_k: float
    humidity: float
    air_pressure_pa: float
    wavelength_m: float


@dataclass(frozen=True, slots=True)
class Result:
    """Speeds in m/s, frequency in Hz, interval in cents."""

    sound_speed_m_per_s: float
    linear_speed_m_per_s: float
    root_speed_m_per_s: float
    frequency_hz: float
    interval_cents: float


def sound_speed(temperature_k: float, humidity: float, pressure_pa: float) -> float:
    """Speed in m/s in air with 0.04 % carbon dioxide (IEC 61094-2:2009 annex F)."""
    t = temperature_k - 273.15
    saturation_pa = math.exp(
        1.2378847e-5 * temperature_k**2
        - 1.9121316e-2 * temperature_k
        + 33.93711047
        - 6343.1645 / temperature_k
    )
    enhancement = 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * t**2
    water = humidity * saturation_pa / pressure_pa * enhancement
    p, x = pressure_pa, CARBON_DIOXIDE
    return (
        _A[0]
        + _A[1] * t
        + _A[2] * t**2
        + (_A[3] + _A[4] * t + _A[5] * t**2) * water
        + (_A[6] + _A[7] * t + _A[8] * t**2) * p
        + (_A[9] + _A[10] * t + _A[11] * t**2) * x
        + _A[12] * water**2
        + _A[13] * p**2
        + _A[14] * x**2
        + _A[15] * water * p * x
    )


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput outside what the exact formula covers."""
    celsius = inputs.temperature_k - 273.15
    if celsius <= -273:
        raise InvalidInput([("temperature", "Nothing is colder than −273.15 °C.")])
    exact = sound_speed(inputs.temperature_k, inputs.humidity, inputs.air_pressure_pa)
    at_20 = sound_speed(293.15, inputs.humidity, inputs.air_pressure_pa)
    return Result(
        sound_speed_m_per_s=exact,
        linear_speed_m_per_s=331.3 + 0.606 * celsius,
        root_speed_m_per_s=331 * math.sqrt(inputs.temperature_k / 273),
        frequency_hz=exact / inputs.wavelength_m,
        interval_cents=1200 * math.log2(exact / at_20),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The three formulas over the temperatures of a classroom."""
    columns = (
        ResultColumn("temperature", "Temperature", "temperature", "°C", "°F", (0, 0)),
        ResultColumn("sound_speed", "Exact", "speed", "m/s", "ft/s", (2, 1)),
        ResultColumn("linear_speed", "331.3 + 0.606 t", "speed", "m/s", "ft/s", (2, 1)),
        ResultColumn("root_speed", "331 √(T/273)", "speed", "m/s", "ft/s", (2, 1)),
    )
    rows = tuple(
        (
            kelvin,
            sound_speed(kelvin, inputs.humidity, inputs.air_pressure_pa),
            331.3 + 0.606 * (kelvin - 273.15),
            331 * math.sqrt(kelvin / 273),
        )
        for kelvin in (273.15 + 5 * step for step in range(7))
    )
    celsius = inputs.temperature_k - 273.15
    notes = ("The exact formula is published for 0 to 30 °C.",) if not 0 <= celsius <= 30 else ()
    return ShownValue(
        table=ResultTable("Speed of sound by temperature", columns, rows),
        chart=line_chart(
            "Speed of sound in air",
            f"The speed grows by about 0.6 m/s for each degree; it is "
            f"{result.sound_speed_m_per_s:.1f} m/s at {celsius:.1f} °C.",
            [(kelvin - 273.15, exact) for kelvin, exact, *_ in rows],
            "Temperature (°C)",
            "Speed of sound (m/s)",
        ),
        notes=notes,
    )


CALCULATOR = Calculator(
    key="speed-of-sound",
    title="Speed of sound in air",
    question="How fast does sound travel in this room?",
    quantities=(
        Quantity("temperature", "t", "temperature", "temperature", -40, 60, 20),
        Quantity("humidity", "h", "relative humidity", "percentage", 0, 100, 50),
        Quantity("air_pressure", "p", "air pressure", "pressure", 50, 120, 101.325, "kPa"),
        Quantity("wavelength", "lambda", "wavelength", "length", 1, 1e5, 780),
        Quantity("sound_speed", "c", "speed of sound", "speed", 200, 500, 344, digits=5),
        Quantity("linear_speed", "c_1", "linear rule", "speed", 200, 500, 343.4, digits=5),
        Quantity("root_speed", "c_2", "square-root rule", "speed", 200, 500, 342.9, digits=5),
        Quantity("frequency", "f", "frequency of that wavelength", "frequency", 1, 1e6, 440),
        Quantity(
            "interval",
            "Delta c",
            "pitch of a wind instrument against 20 °C",
            "interval",
            -1000,
            1000,
        ),
    ),
    answers=("sound_speed", "linear_speed", "root_speed", "frequency", "interval"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "linear_speed = 331.3 + 0.606*(temperature - 273.15)",
            {
                "linear_speed": "{linear_speed} = 331.3 + 0.606 * {temperature:°C}",
                "temperature": "{temperature} = frac({linear_speed} - 331.3, 0.606)",
            },
        ),
        Relation(
            "root_speed = 331*sqrt(temperature/273)",
            {
                "root_speed": "{root_speed} = 331 * sqrt(frac({temperature:°C} + 273.15, 273))",
                "temperature": "{temperature} = 273 * (frac({root_speed}, 331))^2 - 273.15",
            },
        ),
    ),
    numeric={"sound_speed": ("temperature",), "frequency": ("wavelength",)},
    formulas={
        "sound_speed": "{sound_speed} = c({temperature:°C}, {humidity}, {air_pressure}, x_c)",
        "frequency": "{frequency} = frac({sound_speed}, {wavelength})",
        "interval": "{interval} = 1200 * log_2(frac({sound_speed}, c_20))",
    },
    limits=(
        "The exact formula is published for 0 to 30 °C and air pressures of 75 to 102 kPa.",
        (
            "Strings do not change with the speed of sound in air; wind instruments and the air in a "
            "body do."
        ),
    ),
    conventions=(
        (
            "The speed is Cramer's, with 0.04 % carbon dioxide; the two rules of thumb stand beside "
            "it and differ by up to 1 m/s."
        ),
        "Temperatures in the working are absolute, in kelvins.",
    ),
    source="O. Cramer, Journal of the Acoustical Society of America 93 (1993) 2510; "
    "IEC 61094-2:2009 annex F",
    example=CalculatorExample(
        given={"temperature": "23 °C", "humidity": "50 %", "air_pressure": "101325 Pa"},
        expected={"sound_speed": "345.86652 m/s"},
        source="IEC 61094-2:2009 Table F.1",
        tolerance=2e-8,
    ),
)
