"""Solving at request time, without SymPy: rearranged relations and root finding.

``rearranged/<calculator>.py`` holds each relation's two sides and its closed forms as plain
Python, written by ``rearranging``.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from importlib import import_module
from typing import Any

from app.domain.calculators.engine.calculator import Calculator, Value

Closed = Callable[..., float]
TOLERANCE = 1e-9
GRID = 400


class NoSolution(ValueError):
    """No value within the range satisfies the relation."""


def close(left: float, right: float, tolerance: float = TOLERANCE) -> bool:
    """Whether two sides are equal but for rounding."""
    return math.isclose(left, right, rel_tol=tolerance, abs_tol=1e-15)


def _module(calculator: Calculator) -> Any:
    name = calculator.key.replace("-", "_")
    return import_module(f"app.domain.calculators.engine.rearranged.{name}")


def sides(calculator: Calculator, index: int, values: Mapping[str, Value]) -> tuple[float, float]:
    """Left and right side of a relation."""
    keys = calculator.relations[index].keys
    arguments = {key: values[key] for key in keys}
    left, right = _module(calculator).SIDES[index]
    return left(**arguments), right(**arguments)


def holds(calculator: Calculator, index: int, values: Mapping[str, Value]) -> bool:
    """Whether a relation holds but for rounding.

    Where the sides differ by more than a millionth (as near a difference of nearly equal
    terms), it still holds if a millionth of one of its quantities makes up for it.
    """
    left, right = sides(calculator, index, values)
    if close(left, right, 1e-6):
        return True
    for key in calculator.relations[index].keys:
        value = values[key]
        if not isinstance(value, (int, float)):
            continue
        shifted = sides(calculator, index, {**values, key: value * (1 + 1e-6)})
        if abs((shifted[0] - shifted[1]) - (left - right)) >= abs(left - right):
            return True
    return False


def solve_relation(
    calculator: Calculator, index: int, unknown: str, values: Mapping[str, Value]
) -> float:
    """The unknown of one relation whose other quantities are known, all in SI.

    Of several branches the one in the quantity's range that satisfies the relation when put
    back. Raises NoSolution.
    """
    relation = calculator.relations[index]
    arguments = {key: values[key] for key in relation.keys - {unknown}}
    low, high = calculator.quantity(unknown).limits_si
    if unknown in relation.numeric:
        left, right = _module(calculator).SIDES[index]

        def miss(trial: float) -> float:
            filled = {**arguments, unknown: trial}
            return float(left(**filled) - right(**filled))

        return find_root(miss, low, high)
    satisfying = [
        value
        for form in _module(calculator).REARRANGED[index, unknown]
        if (value := _evaluated(form, arguments)) is not None
        and _satisfies(calculator, index, {**values, unknown: value})
    ]
    for value in satisfying:
        if low <= value <= high or close(value, low) or close(value, high):
            return value
    if satisfying:
        # Out of range, but the only answer there is: the caller says so in a sentence.
        return satisfying[0]
    raise NoSolution


def _satisfies(calculator: Calculator, index: int, values: Mapping[str, Value]) -> bool:
    try:
        return holds(calculator, index, values)
    except (ArithmeticError, ValueError, TypeError):
        return False


def _evaluated(form: Closed, arguments: Mapping[str, Value]) -> float | None:
    try:
        value = form(**arguments)
    except (ArithmeticError, ValueError, TypeError):
        return None
    if isinstance(value, complex):
        return None
    return float(value) if math.isfinite(value) else None


def find_root(function: Callable[[float], float], low: float, high: float) -> float:
    """A zero of the function between low and high, the lowest one the grid sees.

    A grid (geometric where low is positive) finds a change of sign, bisection closes in to
    the last bit. Raises NoSolution where no change of sign is seen.
    """
    previous: tuple[float, float] | None = None
    for point in _grid(low, high):
        value = _value_at(function, point)
        if value is None:
            previous = None
            continue
        if value == 0:
            return point
        if previous is not None and (previous[1] < 0) != (value < 0):
            return _bisect(function, previous[0], point, rising=value > 0)
        previous = (point, value)
    raise NoSolution


def _grid(low: float, high: float) -> Iterator[float]:
    for step in range(GRID + 1):
        part = step / GRID
        yield low * (high / low) ** part if low > 0 else low + (high - low) * part


def _value_at(function: Callable[[float], float], point: float) -> float | None:
    try:
        value = function(point)
    except (ArithmeticError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _bisect(function: Callable[[float], float], low: float, high: float, *, rising: bool) -> float:
    for _ in range(200):
        middle = (low + high) / 2
        if middle in {low, high}:
            break
        value = function(middle)
        if value == 0:
            return middle
        if (value > 0) == rising:
            high = middle
        else:
            low = middle
    return (low + high) / 2


def propagate(calculator: Calculator, values: dict[str, Value], derived: dict[str, int]) -> None:
    """Work out every quantity that a relation fixes, until nothing more follows.

    ``derived`` learns which relation gave which key. An answer that a relation does not yield
    is left to ``compute``, which knows why. Raises NoSolution with the key of any other.
    """
    failed: set[str] = set()
    progress = True
    while progress:
        progress = False
        for index, relation in enumerate(calculator.relations):
            missing = relation.keys - values.keys()
            if len(missing) != 1:
                continue
            (key,) = missing
            if key not in relation.formulas or key in failed:
                continue
            try:
                values[key] = solve_relation(calculator, index, key, values)
            except NoSolution:
                if key not in calculator.answers:
                    raise NoSolution(key) from None
                failed.add(key)
                continue
            derived[key] = index
            progress = True
