"""One state of a calculator page: what the address gives, and what comes of it."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from flask import abort
from werkzeug.datastructures import MultiDict

from app.domain.calculators import CATALOGUE, Calculation, Calculator, InvalidInput, calculate
from app.domain.calculators.engine.calculator import Quantity, Value
from app.domain.quantities import KINDS

SOLVE = "solve"
SOLVED = "solved"  # what the page was solved for before another unknown was chosen
PAPER = "paper"
RESERVED = frozenset({SOLVE, SOLVED, PAPER})
DIGITS = 7  # of a computed value that becomes an entry


@dataclass(frozen=True)
class AddressState:
    """The texts given, the unknown asked for (None: implied), and the answer or the mistakes."""

    calculator: Calculator
    given: Mapping[str, str]
    solve: str | None
    calculation: Calculation | None
    mistakes: tuple[tuple[str, str], ...]

    @property
    def unknown(self) -> str:
        """The key that is solved for; the principal answer while nothing can be computed."""
        if self.calculation is not None:
            return self.calculation.solve_for
        known = self.calculator.solvable
        return self.solve if self.solve in known else self.calculator.answers[0]

    @property
    def query(self) -> dict[str, Any]:
        """The parameters of the address that leads to this state; names of no quantity go."""
        known = {quantity.key for quantity in self.calculator.quantities}
        solve = {SOLVE: self.solve} if self.solve else {}
        return {**{name: text for name, text in self.given.items() if name in known}, **solve}


def find_calculator(key: str) -> Calculator:
    """The calculator of that key; any other is no such page."""
    if key not in CATALOGUE:
        abort(404)
    return CATALOGUE[key]


def read_state(key: str, args: MultiDict[str, str]) -> AddressState:
    """The state an address asks for; mistakes are part of it, never an exception."""
    calculator = find_calculator(key)
    given = {
        name: _one_line(calculator, name, value)
        for name, value in args.items()
        if name not in RESERVED and value.strip()
    }
    solve = args.get(SOLVE, "").strip() or None
    twice = [name for name in given if len(set(args.getlist(name))) > 1]
    if twice:
        mistakes = tuple((name, f"{name[:40]} is given twice: give it once.") for name in twice)
        return AddressState(calculator, given, solve, None, mistakes)
    return computed(calculator, given, solve)


def _one_line(calculator: Calculator, name: str, text: str) -> str:
    """Lists may be typed line by line: a line end parts entries as a semicolon does."""
    lines = [line.strip().rstrip(";") for line in text.splitlines() if line.strip()]
    joined = "; ".join(lines)
    is_list = any(q.key == name and not q.numeric for q in calculator.quantities)
    return joined if is_list else text.strip()


def computed(calculator: Calculator, given: Mapping[str, str], solve: str | None) -> AddressState:
    """The state of these texts."""
    try:
        calculation = _calculate(calculator.key, tuple(given.items()), solve)
    except InvalidInput as wrong:
        return AddressState(calculator, given, solve, None, tuple(wrong.mistakes))
    return AddressState(calculator, given, solve, calculation, ())


@lru_cache(maxsize=128)
def _calculate(key: str, given: tuple[tuple[str, str], ...], solve: str | None) -> Calculation:
    # A page, its chart and its print ask for the same values one after the other.
    return calculate(key, dict(given), solve)


def entry(quantity: Quantity, value: Value) -> str:
    """A value in SI as a text that can be typed: number and unit, read back to seven figures."""
    match value:
        case str():
            return value
        case tuple():
            return ", ".join(entry(quantity, item) for item in value)
        case int() if quantity.form == "whole":
            return str(value)
    unit = quantity.si_unit
    number = f"{KINDS[quantity.kind].unit(unit).from_si(value):.{DIGITS}g}"
    if unit == "$":
        return f"${number}"
    return f"{number} {unit}".strip()


def entries(calculator: Calculator, values: Mapping[str, Value]) -> dict[str, str]:
    """Values in SI as texts that can be typed, by key."""
    return {
        quantity.key: entry(quantity, values[quantity.key])
        for quantity in calculator.quantities
        if quantity.key in values
    }


def exchanged(state: AddressState, unknown: str) -> AddressState:
    """The same situation with another unknown: what was found is given, what is asked is left out.

    Where several found values could take its place, the first that leads back to the present
    value does.
    """
    if state.calculation is None or unknown not in state.calculator.solvable:
        return computed(state.calculator, _without(state.given, unknown), unknown)
    reached = [
        candidate
        for given in _candidates(state, unknown)
        if (candidate := computed(state.calculator, given, unknown)).calculation is not None
    ]
    before = state.calculation.values.get(unknown)
    same = (candidate for candidate in reached if _leads_back(candidate, unknown, before))
    fallback = computed(state.calculator, _without(state.given, unknown), unknown)
    return next(same, reached[0] if reached else fallback)


def _without(given: Mapping[str, str], key: str) -> dict[str, str]:
    return {name: text for name, text in given.items() if name != key}


def _candidates(state: AddressState, unknown: str) -> Iterator[dict[str, str]]:
    calculation, calculator = state.calculation, state.calculator
    assert calculation is not None  # noqa: S101 - the caller looked
    found = entries(calculator, calculation.outputs)
    kept = {
        **entries(calculator, calculation.inputs),
        **{key: text for key, text in state.given.items() if key in calculation.inputs},
    }
    if calculation.solve_for not in calculator.answers:
        kept[calculation.solve_for] = found[calculation.solve_for]
    kept = _without(kept, unknown)
    if unknown in calculator.answers:
        yield kept
        return
    order = dict.fromkeys([calculation.solve_for, *calculator.answers, *found])
    for key in order:
        if key in found and key not in (*kept, unknown):
            yield {**kept, key: found[key]}
    yield kept


def _leads_back(candidate: AddressState, unknown: str, before: Value | None) -> bool:
    assert candidate.calculation is not None  # noqa: S101 - the caller looked
    now = candidate.calculation.values.get(unknown)
    if isinstance(now, (int, float)) and isinstance(before, (int, float)):
        return math.isclose(now, before, rel_tol=1e-4, abs_tol=1e-12)
    return now == before
