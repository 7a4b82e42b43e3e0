"""Measurement statistics: mean and spread, outliers, tolerance yield, capability, a line."""

import itertools
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
from app.domain.calculators.engine.pictures import Chart

FENCE = 1.5


@dataclass(frozen=True, slots=True)
class Inputs:
    """Readings in one unit, in the order taken; places (x) and limits where there are any."""

    readings: tuple[float, ...]
    places: tuple[float, ...] | None
    lower_limit: float | None
    upper_limit: float | None


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A fitted straight line y = intercept + slope x and what it leaves over."""

    slope: float
    intercept: float
    residuals: tuple[float, ...]
    residual_deviation: float | None
    determination: float | None


@dataclass(frozen=True, slots=True)
class Result:
    """In the unit of the readings; shares are of 1. None where there are too few readings."""

    mean: float
    standard_deviation: float | None
    median: float
    minimum: float
    maximum: float
    spread: float
    outliers: tuple[float, ...]
    share_within: float | None
    expected_within: float | None
    capability: float | None
    centred_capability: float | None
    autocorrelation: float | None
    slope: float | None
    intercept: float | None
    residual_deviation: float | None
    determination: float | None
    line: FittedLine | None


def mean_of(readings: tuple[float, ...]) -> float:
    """Arithmetic mean, summed without rounding and corrected once."""
    first = math.fsum(readings) / len(readings)
    return first + math.fsum(reading - first for reading in readings) / len(readings)


def deviation_of(readings: tuple[float, ...]) -> float | None:
    """Standard deviation with n − 1, in two passes; None for a single reading."""
    if len(readings) < 2:
        return None
    mean = mean_of(readings)
    squares = math.fsum((reading - mean) ** 2 for reading in readings)
    return math.sqrt(squares / (len(readings) - 1))


def autocorrelation_of(readings: tuple[float, ...]) -> float | None:
    """Lag-1 autocorrelation coefficient; None where nothing varies."""
    mean = mean_of(readings)
    off = [reading - mean for reading in readings]
    below = math.fsum(value**2 for value in off)
    if not below:
        return None
    return math.fsum(one * two for one, two in itertools.pairwise(off)) / below


def quantile(ordered: list[float], share: float) -> float:
    """Quantile by straight interpolation between the readings in order."""
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)


def fit(places: tuple[float, ...], readings: tuple[float, ...]) -> FittedLine | None:
    """Least squares; None for fewer than two different places."""
    x_mean, y_mean = mean_of(places), mean_of(readings)
    x_off = [place - x_mean for place in places]
    spread = math.fsum(x**2 for x in x_off)
    if not spread:
        return None
    slope = math.fsum(x * (y - y_mean) for x, y in zip(x_off, readings, strict=True)) / spread
    residuals = tuple((y - y_mean) - slope * x for x, y in zip(x_off, readings, strict=True))
    left = math.fsum(residual**2 for residual in residuals)
    whole = math.fsum((y - y_mean) ** 2 for y in readings)
    count = len(readings)
    return FittedLine(
        slope=slope,
        intercept=y_mean - slope * x_mean,
        residuals=residuals,
        residual_deviation=math.sqrt(left / (count - 2)) if count > 2 else None,
        determination=1 - left / whole if whole else None,
    )


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where places and readings do not pair, or limits are crossed."""
    _refuse(inputs)
    readings = inputs.readings
    ordered = sorted(readings)
    deviation = deviation_of(readings)
    mean = mean_of(readings)
    low, high = quantile(ordered, 0.25), quantile(ordered, 0.75)
    fence = FENCE * (high - low)
    places = inputs.places or tuple(float(index + 1) for index in range(len(readings)))
    line = fit(places, readings)
    capability, centred = _capability(inputs, mean, deviation)
    return Result(
        mean=mean,
        standard_deviation=deviation,
        median=quantile(ordered, 0.5),
        minimum=ordered[0],
        maximum=ordered[-1],
        spread=ordered[-1] - ordered[0],
        outliers=tuple(r for r in readings if r < low - fence or r > high + fence),
        share_within=_share_within(inputs),
        expected_within=_expected_within(inputs, mean, deviation),
        capability=capability,
        centred_capability=centred,
        autocorrelation=autocorrelation_of(readings),
        slope=line.slope if line else None,
        intercept=line.intercept if line else None,
        residual_deviation=line.residual_deviation if line else None,
        determination=line.determination if line else None,
        line=line,
    )


def _refuse(inputs: Inputs) -> None:
    mistakes = []
    if inputs.places is not None and len(inputs.places) != len(inputs.readings):
        sentence = (
            f"Give one place for each reading: {len(inputs.readings)} readings, "
            f"{len(inputs.places)} places."
        )
        mistakes.append(("places", sentence))
    low, high = inputs.lower_limit, inputs.upper_limit
    if low is not None and high is not None and low >= high:
        mistakes.append(("upper_limit", "The upper limit must lie above the lower limit."))
    if mistakes:
        raise InvalidInput(mistakes)


def _share_within(inputs: Inputs) -> float | None:
    low, high = inputs.lower_limit, inputs.upper_limit
    if low is None and high is None:
        return None
    within = [
        reading
        for reading in inputs.readings
        if (low is None or reading >= low) and (high is None or reading <= high)
    ]
    return len(within) / len(inputs.readings)


def _normal(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2


def _expected_within(inputs: Inputs, mean: float, deviation: float | None) -> float | None:
    low, high = inputs.lower_limit, inputs.upper_limit
    if not deviation or (low is None and high is None):
        return None
    above = 1.0 if high is None else _normal((high - mean) / deviation)
    below = 0.0 if low is None else _normal((low - mean) / deviation)
    return above - below


def _capability(
    inputs: Inputs, mean: float, deviation: float | None
) -> tuple[float | None, float | None]:
    low, high = inputs.lower_limit, inputs.upper_limit
    if not deviation or low is None or high is None:
        return None, None
    return (high - low) / (6 * deviation), min(high - mean, mean - low) / (3 * deviation)


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Every reading with its residuals, and the readings with the fitted line."""
    columns = (
        ResultColumn("place", "Place", "number", places=(2, 2)),
        ResultColumn("reading", "Reading", "number", places=(4, 4)),
        ResultColumn("off", "Off the mean", "number", places=(4, 4)),
        ResultColumn("residual", "Off the line", "number", places=(4, 4)),
        ResultColumn("outlier", "Outlier"),
    )
    places = inputs.places or tuple(float(index + 1) for index in range(len(inputs.readings)))
    residuals = result.line.residuals if result.line else (None,) * len(places)
    rows = tuple(
        (x, y, y - result.mean, left, "outlier" if y in result.outliers else "")
        for x, y, left in zip(places, inputs.readings, residuals, strict=True)
    )
    notes = []
    if len(inputs.readings) < 10:
        notes.append("Fewer than ten readings: the spread is known only roughly.")
    if result.outliers:
        notes.append("Look at each outlier's cause before leaving it out; never leave one unsaid.")
    return ShownValue(
        table=ResultTable("Readings and residuals", columns, rows),
        chart=_picture(places, inputs, result),
        notes=tuple(notes),
    )


def _picture(places: tuple[float, ...], inputs: Inputs, result: Result) -> Chart:
    def axis(name: str, title: str) -> dict[str, object]:
        scale = {"zero": False, "padding": 12}
        return {"field": name, "type": "quantitative", "title": title, "scale": scale}

    encoding = {"x": axis("x", "Place or order"), "y": axis("y", "Reading")}
    points = [{"x": x, "y": y} for x, y in zip(places, inputs.readings, strict=True)]
    ends = []
    if result.line:
        ends = [
            {"x": x, "y": result.line.intercept + result.line.slope * x}
            for x in (min(places), max(places))
        ]
    description = (
        f"{len(points)} readings around their mean {result.mean:.6g}, and the fitted line."
    )
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "title": "Readings and fitted line",
        "description": description,
        "width": 560,
        "height": 300,
        "layer": [
            {
                "data": {"values": points},
                "mark": {"type": "point", "filled": True, "size": 60, "color": "#0072B2"},
                "encoding": encoding,
            },
            {
                "data": {"values": ends},
                "mark": {"type": "line", "strokeDash": [6, 4], "color": "#D55E00"},
                "encoding": encoding,
            },
        ],
    }
    return Chart("Readings and fitted line", description, spec)


def _answer(key: str, symbol: str, name: str, kind: str = "number") -> Quantity:
    return Quantity(key, symbol, name, kind, -1e15, 1e15, digits=6)


CALCULATOR = Calculator(
    key="measurement-statistics",
    title="Measurement statistics",
    question="What do many readings of the same thing say together?",
    quantities=(
        Quantity(
            "readings",
            "x_i",
            "readings, in the order taken",
            "number",
            -1e15,
            1e15,
            (648.1, 647.9, 648.3, 648.0, 647.8, 648.2, 648.1, 649.6, 648.0, 647.9),
            form="numbers",
            longest=2000,
            digits=6,
        ),
        Quantity(
            "places",
            "t_i",
            "place of each reading",
            "number",
            -1e15,
            1e15,
            form="numbers",
            longest=2000,
            optional=True,
            digits=6,
        ),
        Quantity("lower_limit", "L", "lower limit", "number", -1e15, 1e15, optional=True, digits=6),
        Quantity("upper_limit", "U", "upper limit", "number", -1e15, 1e15, optional=True, digits=6),
        _answer("mean", "macron(x)", "mean"),
        _answer("standard_deviation", "s", "standard deviation"),
        _answer("median", "tilde(x)", "median"),
        _answer("minimum", "x_min", "smallest reading"),
        _answer("maximum", "x_max", "largest reading"),
        _answer("spread", "w", "range"),
        Quantity("outliers", "x_o", "outliers", "number", form="numbers", digits=6),
        _answer("share_within", "y", "share within the limits, counted", "percentage"),
        _answer("expected_within", "y_n", "share expected from a normal spread", "percentage"),
        _answer("capability", "C_p", "capability"),
        _answer("centred_capability", 'C_"pk"', "capability as centred"),
        _answer("autocorrelation", "r_1", "lag-1 autocorrelation"),
        _answer("slope", "b", "slope of the line"),
        _answer("intercept", "a", "intercept of the line"),
        _answer("residual_deviation", "s_r", "residual standard deviation"),
        _answer("determination", "R^2", "share explained by the line"),
    ),
    answers=(
        "mean",
        "standard_deviation",
        "median",
        "minimum",
        "maximum",
        "spread",
        "outliers",
        "share_within",
        "expected_within",
        "capability",
        "centred_capability",
        "autocorrelation",
        "slope",
        "intercept",
        "residual_deviation",
        "determination",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "mean": "{mean} = frac(1, {readings:n}) * sum {readings}",
        "standard_deviation": "{standard_deviation} = "
        "sqrt(frac(1, n - 1) * sum ({readings} - macron(x))^2)",
        "spread": "{spread} = {maximum} - {minimum}",
        "capability": "{capability} = frac({upper_limit} - {lower_limit}, "
        "6 * {standard_deviation})",
        "centred_capability": "{centred_capability} = frac(min({upper_limit} - {mean}, "
        "{mean} - {lower_limit}), 3 * {standard_deviation})",
        "autocorrelation": "{autocorrelation} = frac(sum ({readings} - macron(x)) * (x_(i+1) - "
        "macron(x)), sum ({readings} - macron(x))^2)",
        "slope": "{slope} = frac(sum (t_i - macron(t)) * ({readings} - macron(x)), "
        "sum (t_i - macron(t))^2)",
        "intercept": "{intercept} = {mean} - {slope} * macron(t)",
    },
    limits=(
        "Readings of the same kind, taken the same way.",
        "Capability and the expected share take the spread as normal.",
    ),
    conventions=(
        "All readings, places and limits are in one unit and written without it.",
        "The standard deviation divides by n − 1.",
        (
            "Quartiles by straight interpolation; an outlier lies more than 1.5 quartile ranges "
            "outside them."
        ),
        "Without places the readings are numbered 1, 2, 3 … in the order taken.",
    ),
    source="NIST/SEMATECH e-Handbook of Statistical Methods, sections 1.3.5 and 6.1.6",
    example=CalculatorExample(
        given={"readings": "36.4; 36.3; 36.5; 36.4; 36.2; 36.6"},
        expected={"mean": 36.4, "standard_deviation": 0.1414214, "autocorrelation": -0.5},
        source="by hand: 0.10/5 = 0.02, its root 0.1414; −0.05/0.10 = −0.5",
        tolerance=1e-6,
    ),
)
