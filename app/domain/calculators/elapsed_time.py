"""Elapsed time: when the clamps may come off, and whether that is before the bell."""

import re
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Drawing, Label, Line, Shape

DAY_S = 86_400
HOUR_S = 3_600
MINUTE_S = 60
NOON_H = 12
_CLOCK = re.compile(
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?: ?(?P<half>[ap])\.?m\.?)?", re.ASCII | re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Inputs:
    start: str
    duration_s: float
    bell: str


@dataclass(frozen=True, slots=True)
class Result:
    end: str
    spare_s: float
    in_time: str
    latest_start: str


def read_clock(text: str, key: str = "start", name: str = "Start") -> int:
    """Seconds after midnight of ``10:35``, ``1:05 pm``. Raises InvalidInput."""
    match = _CLOCK.fullmatch(text.strip())
    if match:
        hour, minute, half = int(match["hour"]), int(match["minute"]), match["half"]
        if half and 1 <= hour <= NOON_H:
            hour = hour % NOON_H + (NOON_H if half.lower() == "p" else 0)
        elif half:
            hour = 24
        if hour < 24 and minute < 60:
            return hour * HOUR_S + minute * MINUTE_S
    raise InvalidInput(
        [(key, f"{name} must be a time of day such as 10:35 or 1:05 pm, not “{text[:20]}”.")]
    )


def clock_text(seconds: float) -> str:
    """A time of day, with how many days later or earlier where it is not the same day."""
    days, rest = divmod(round(seconds), DAY_S)
    clock = f"{rest // HOUR_S}:{rest % HOUR_S // MINUTE_S:02d}"
    if rest % MINUTE_S:
        clock += f":{rest % MINUTE_S:02d}"
    if not days:
        return clock
    noun = "day" if abs(days) == 1 else "days"
    return f"{clock} ({abs(days)} {noun} {'later' if days > 0 else 'earlier'})"


def compute(inputs: Inputs) -> Result:
    start = read_clock(inputs.start)
    bell = read_clock(inputs.bell, "bell", "Bell")
    end = start + inputs.duration_s
    spare = bell - end
    return Result(
        clock_text(end),
        spare,
        "yes" if spare >= 0 else "no",
        clock_text(bell - inputs.duration_s),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    start, bell = read_clock(inputs.start), read_clock(inputs.bell, "bell", "Bell")
    end = start + inputs.duration_s
    first, last = min(start, bell), max(end, bell)
    scale = 150 / max(last - first, 1)
    shapes: list[Shape] = [Line((0, 0), (150, 0))]
    marks = (
        (start, f"start {inputs.start}", 8),
        (end, f"end {result.end}", 15),
        (bell, f"bell {inputs.bell}", -6),
    )
    for moment, words, y in marks:
        x = (moment - first) * scale
        shapes.append(Line((x, -3), (x, 3), "thick"))
        shapes.append(Label((x, y), words))
    shapes.append(Line(((start - first) * scale, 0), ((end - first) * scale, 0), "thick"))
    minutes = abs(result.spare_s) / MINUTE_S
    verdict = (
        f"done {minutes:g} minutes before the bell"
        if result.spare_s >= 0
        else f"not done: the bell comes {minutes:g} minutes too early"
    )
    drawing = Drawing(
        "The time line",
        f"From {inputs.start} to {result.end} on a line drawn to scale; {verdict}.",
        tuple(shapes),
    )
    return ShownValue(drawing=drawing, notes=(verdict[0].upper() + verdict[1:] + ".",))


CALCULATOR = Calculator(
    key="elapsed-time",
    title="Elapsed time",
    question="Can the clamps come off before the bell?",
    quantities=(
        Quantity("start", "t_0", "start", "number", default="10:35", form="text"),
        Quantity("duration", "h", "how long", "time", 0, 30 * 1440, 90, "min", "min"),
        Quantity("bell", "t_1", "bell", "number", default="12:20", form="text"),
        Quantity("end", "t", "end", "number", form="text"),
        Quantity(
            "spare", "s", "time to spare (− too late)", "time", -50_000, 2000, 15, "min", "min"
        ),
        Quantity("in_time", 'upright("in time")', "before the bell", "number", form="text"),
        Quantity("latest_start", 't_"late"', "latest start", "number", form="text"),
    ),
    answers=("end", "spare", "in_time", "latest_start"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "end": "{end} = {start} + {duration:min}",
        "spare": "{spare:min} = {bell} - {end}",
        "latest_start": "{latest_start} = {bell} - {duration:min}",
    },
    numeric={"spare": ("duration",)},
    limits=("The label's clamping time is the shortest, at the temperature it names.",),
    conventions=(
        (
            "Times without am or pm are on the 24-hour clock. 60 minutes make an hour: 10:35 and "
            "1 h 30 min is 12:05."
        ),
    ),
    source="Arithmetic of the clock",
    example=CalculatorExample(
        given={"start": "10:35", "duration": "90 min", "bell": "12:20"},
        expected={"end": "12:05", "spare": "15 min", "in_time": "yes"},
        source="10:35 and one hour is 11:35, and half an hour is 12:05, a quarter before 12:20",
    ),
)
