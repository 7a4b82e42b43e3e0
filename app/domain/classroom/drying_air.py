"""Whether the room's air suits a coat, and how long the last one needs.

The limits are common practice for water-based finishes, no source; the label of the product in
use overrides each of them.
"""

import datetime as dt
import math
from dataclasses import dataclass

from app.domain.quantities import plain_number

LOWEST_C = 18.0  # common practice, no source
HIGHEST_C = 29.0  # common practice, no source
HIGHEST_PERCENT = 65.0  # common practice, no source
SLOW_FACTOR = 2.0  # common practice, no source: cool or damp air doubles the wait
COLDEST_ROOM_C, HOTTEST_ROOM_C = -10.0, 45.0


@dataclass(frozen=True, slots=True)
class DryingLabel:
    """What the label of the product says; None where it says nothing."""

    lowest_temperature_c: float | None = None
    highest_temperature_c: float | None = None
    highest_humidity_percent: float | None = None
    recoat_hours: float | None = None
    product: str = ""


@dataclass(frozen=True, slots=True)
class DryingVerdict:
    """Whether to coat now, why, and by what factor drying is slower than the estimate."""

    coat: bool | None
    sentence: str
    slower: float
    source: str


def read_air(temperature: str, humidity: str) -> tuple[float, float]:
    """Temperature in °C (°F with an F behind it) and relative humidity in percent as written.

    Raises ValueError with a sentence per field that cannot be right.
    """
    text = temperature.strip().upper().replace("°", "").replace(" ", "")
    fahrenheit = text.endswith("F")
    degrees = _number(text.rstrip("CF"), "Temperature", "21, or 70 F")
    if fahrenheit:
        degrees = (degrees - 32) * 5 / 9
    if not COLDEST_ROOM_C <= degrees <= HOTTEST_ROOM_C:
        raise ValueError(
            f"Temperature: {temperature.strip()} is no room temperature in °C; "
            "write an F behind degrees Fahrenheit."
        )
    percent = _number(humidity.strip().rstrip("%").strip(), "Relative humidity", "45")
    if not 0 < percent <= 100:
        raise ValueError("Relative humidity: enter a percentage from 1 to 100, such as 45.")
    return round(degrees, 1), percent


def _number(text: str, name: str, example: str) -> float:
    try:
        value = plain_number(text)
    except ValueError:
        value = math.inf
    if abs(value) > 1000:
        raise ValueError(f"{name}: enter a number, such as {example}.")
    return value


def judge(
    temperature_c: float | None, humidity_percent: float | None, label: DryingLabel
) -> DryingVerdict:
    """Whether temperature (°C) and relative humidity (%) suit a coat now."""
    if temperature_c is None or humidity_percent is None:
        return DryingVerdict(None, "Read the thermo-hygrometer before a coat goes on.", 1.0, "")
    low = _first(label.lowest_temperature_c, LOWEST_C)
    high = _first(label.highest_temperature_c, HIGHEST_C)
    damp = _first(label.highest_humidity_percent, HIGHEST_PERCENT)
    stated = (
        label.lowest_temperature_c,
        label.highest_temperature_c,
        label.highest_humidity_percent,
    )
    source = (
        f"as the label of {label.product or 'the product in use'} says"
        if any(value is not None for value in stated)
        else "common practice, no source; the label of the product in use overrides it"
    )
    reasons = []
    if temperature_c < low:
        reasons.append(f"{temperature_c:g} °C is below {low:g} °C")
    if temperature_c > high:
        reasons.append(f"{temperature_c:g} °C is above {high:g} °C")
    if humidity_percent > damp:
        reasons.append(f"{humidity_percent:g} % humidity is above {damp:g} %")
    if reasons:
        return DryingVerdict(
            coat=False,
            sentence=f"Leave the coat: {' and '.join(reasons)}.",
            slower=SLOW_FACTOR,
            source=source,
        )
    return DryingVerdict(
        coat=True,
        sentence=f"{temperature_c:g} °C and {humidity_percent:g} % humidity suit a coat.",
        slower=1.0,
        source=source,
    )


def ready_at(
    finished: dt.datetime, typical_hours: float, verdict: DryingVerdict, label: DryingLabel
) -> dt.datetime:
    """When the next coat may go on: the label's hours, or the estimate, longer in poor air."""
    hours = label.recoat_hours if label.recoat_hours is not None else typical_hours * verdict.slower
    return finished + dt.timedelta(hours=hours)


def _first(value: float | None, other: float) -> float:
    return other if value is None else value
