"""Readings at quality checks: read as written, questioned where doubtful, and summed up.

A check is the library's: `what`, `unit`, `nominal`, and a limit as `minimum` and `maximum` or as
`maximum_absolute`, all in the check's own unit. Statistics come from the measurement-statistics
calculator, so that page, paper and calculator agree.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.domain.calculators.fret_positions import distance_m
from app.domain.calculators.measurement_statistics import Inputs, Result, compute
from app.domain.quantities import KINDS, UnreadableValue, decimals, parse, plain_number, significant

YES = frozenset({"yes", "y", "pass", "ok", "1"})
NO = frozenset({"no", "n", "fail", "0"})
COUNTED = frozenset({"count", "items", "zones", "zones of 3", "points", "sections", "level"})
# How people go wrong: a decimal place, inches for millimetres, metres or centimetres for them.
SLIPS = (10.0, 0.1, 25.4, 1 / 25.4, 100.0, 0.01, 1000.0, 0.001)
FAR = 10.0  # tolerances off; common practice, no source
CLOSE = 3.0  # tolerances; a slip is suspected if undoing it comes this close to the nominal


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading in the check's own unit, and what makes it doubtful, in sentences."""

    value: float
    doubts: tuple[str, ...] = ()


def unit_kind(unit: str) -> str | None:
    """The kind of quantity a check's unit belongs to, where the list of quantities knows it."""
    wanted = {"°": "angle", "Ω": "resistance", "kΩ": "resistance", "mm": "length", "g": "mass"}
    key = wanted.get(unit)
    return key if key in KINDS else None


def read_reading(check: Mapping[str, Any], written: str) -> Reading:
    """The reading a person wrote, in the check's unit.

    Raises ValueError with a sentence if it is no number, or one in a unit of another kind.
    """
    reading = _read(check, written)
    if reading.value < 0 and check.get("minimum") == 0:
        what = check.get("what", "Reading")
        raise ValueError(f"{what}: {written.strip()} is below zero; enter what was measured.")
    return reading


def _read(check: Mapping[str, Any], written: str) -> Reading:
    unit, what = str(check.get("unit", "")), str(check.get("what", "Reading"))
    text = written.strip()
    if unit == "yes/no" and text.lower() in YES | NO:
        return Reading(1.0 if text.lower() in YES else 0.0)
    if len(text) > 40:
        raise ValueError(f"{what}: enter one reading, not a text; put notes in the note.")
    bare = text.removesuffix(unit).strip() if unit else text
    asked: tuple[str, ...] = ()
    try:
        value = plain_number(bare)
    except ValueError:
        value = _converted(unit, what, text)
        asked = (f"{what} is asked in {unit}; {text} is {significant(value)} {unit}.",)
    return Reading(value, asked + doubts_of(check, value))


def _converted(unit: str, what: str, text: str) -> float:
    kind = unit_kind(unit)
    if kind is not None:
        try:
            return parse(text, kind) / KINDS[kind].unit(unit).to_si(1.0)
        except UnreadableValue:
            pass
    raise ValueError(
        f"{what}: “{text}” is no reading in {unit or 'plain figures'}; enter a number"
        + (f" in {unit}." if unit else ".")
    )


def within_limits(check: Mapping[str, Any], value: float) -> bool | None:
    """Whether a reading meets the check's machine-readable limit; None where there is none."""
    low, high = limits_of(check)
    if low is None and high is None:
        return None
    return (low is None or value >= low) and (high is None or value <= high)


def limits_of(check: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """Lowest and highest reading within the limit, in the check's unit."""
    if check.get("unit") == "yes/no":
        return 1.0, None
    spread = check.get("maximum_absolute")
    if isinstance(spread, int | float):
        return -float(spread), float(spread)
    low, high = check.get("minimum"), check.get("maximum")
    return (
        float(low) if isinstance(low, int | float) else None,
        float(high) if isinstance(high, int | float) else None,
    )


def doubts_of(check: Mapping[str, Any], value: float) -> tuple[str, ...]:
    """Why a reading should be looked at again before it is kept; nothing if it is plausible."""
    low, high = limits_of(check)
    unit = str(check.get("unit", ""))
    if low is None or high is None or within_limits(check, value):
        return ()
    middle, half = (low + high) / 2, max((high - low) / 2, 1e-9)
    if unit in COUNTED or unit in {"yes/no", "%"} or abs(value - middle) <= CLOSE * half:
        return ()
    shown = f"{significant(value)} {unit}".strip()
    if low <= 0 <= high:
        # Every reading is some slip away from nought: only a decimal place is asked about.
        if low <= value / 10 <= high:
            asked = f"{significant(value / 10)} {unit}".strip()
            return (f"{shown} is out of limits; was {asked} meant?",)
    else:
        for factor in SLIPS:
            meant = value / factor
            if abs(meant - middle) <= CLOSE * half:
                times = "times too large" if factor > 1 else "times too small"
                size = significant(max(factor, 1 / factor), 3)
                return (
                    f"{shown} is {size} {times}; was {significant(meant)} {unit} meant?".strip(),
                )
    if abs(value - middle) > FAR * half:
        range_words = f"{decimals(low, 2)} to {decimals(high, 2)} {unit}".strip()
        look = "look at the instrument, its zero and the unit again"
        return (f"{shown} is far outside {range_words}; {look}.",)
    return ()


# --- the class data set ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Point:
    """One reading with who it belongs to."""

    holder: str
    value: float
    within: bool | None = None


@dataclass(frozen=True, slots=True)
class DataSet:
    """All readings of a class at one check, in the check's unit."""

    key: str
    what: str
    unit: str
    points: tuple[Point, ...]
    low: float | None = None
    high: float | None = None
    instrument: str = ""
    if_out: str = ""

    @property
    def varies(self) -> bool:
        """Whether there is anything to draw: readings that differ, or limits to stand between."""
        return len({*self.values, *(x for x in (self.low, self.high) if x is not None)}) > 1

    @property
    def values(self) -> tuple[float, ...]:
        """The readings in the order taken."""
        return tuple(point.value for point in self.points)

    def statistics(self) -> Result | None:
        """Mean, spread, outliers and yield; None without a reading."""
        if not self.points:
            return None
        limited = self.low is None or self.high is None or self.low < self.high
        return compute(
            Inputs(
                readings=self.values,
                places=None,
                lower_limit=self.low if limited else None,
                upper_limit=self.high if limited else None,
            )
        )


@dataclass(frozen=True, slots=True)
class FretReading:
    """A fret's measured place against the prediction from the scale length; mm."""

    holder: str
    fret: int
    measured_mm: float
    predicted_mm: float

    @property
    def residual_mm(self) -> float:
        """Measured less predicted: positive is too near the bridge."""
        return self.measured_mm - self.predicted_mm


def fret_residuals(
    readings: Iterable[tuple[str, int, float]], scale_length_m: Mapping[str, float]
) -> tuple[FretReading, ...]:
    """(team, fret, measured mm) against equal temperament on each team's own scale length.

    Formula: fret n stands L (1 − 2^(−n/12)) from the nut.
    """
    return tuple(
        FretReading(team, fret, measured, 1000 * distance_m(scale_length_m[team], fret))
        for team, fret, measured in readings
        if team in scale_length_m
    )


# --- a strip: readings along one axis ----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DotMark:
    """A place on a strip: `x` and `row` in drawing units, its words, and whether it stands out."""

    x: float
    row: int
    label: str
    value: float
    out: bool


@dataclass(frozen=True, slots=True)
class DotStrip:
    """Dots over one axis, stacked where they meet; places in drawing units from 0 to `width`."""

    width: float
    rows: int
    marks: tuple[DotMark, ...]
    ticks: tuple[tuple[float, str], ...]
    band: tuple[float, float] | None
    zero: float | None


NARROW = 290.0  # a phone's width in the units of the drawing, less its margins


def strip(
    points: Sequence[Point],
    *,
    low: float | None = None,
    high: float | None = None,
    width: float = 560.0,
    apart: float = 46.0,
) -> DotStrip:
    """Place readings on an axis that holds them and their limits; close dots are stacked."""
    values = [point.value for point in points]
    held = [*values, *(limit for limit in (low, high) if limit is not None)]
    start, step, count = _axis(min(held, default=0.0), max(held, default=1.0))
    scale = width / (step * count)

    def place(value: float) -> float:
        return round((value - start) * scale, 2)

    marks: list[DotMark] = []
    ends: list[float] = []
    for point in sorted(points, key=lambda item: (item.value, item.holder)):
        x = place(point.value)
        row = next((n for n, end in enumerate(ends) if end + apart <= x), len(ends))
        ends[row : row + 1] = [x]
        marks.append(DotMark(x, row, point.holder, point.value, point.within is False))
    places = max(0, -math.floor(math.log10(step)))
    ticks = tuple(
        (place(start + n * step), decimals(start + n * step, places)) for n in range(count + 1)
    )
    band = None
    if low is not None or high is not None:
        band = (
            place(low) if low is not None else 0.0,
            place(high) if high is not None else width,
        )
    return DotStrip(
        width=width,
        rows=max(len(ends), 1),
        marks=tuple(marks),
        ticks=ticks,
        band=band,
        zero=place(0.0) if start <= 0 <= start + step * count else None,
    )


def _axis(low: float, high: float) -> tuple[float, float, int]:
    """Start, step and number of steps of an axis with round numbers."""
    finest = max(abs(low), abs(high)) * 1e-9 + 1e-12
    spread = high - low if high - low > finest else (abs(high) if abs(high) > finest else 1.0)
    rough = spread / 5
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough)
    start = math.floor(low / step) * step
    count = max(1, math.ceil((high - start) / step - 1e-9))
    return start, step, count
