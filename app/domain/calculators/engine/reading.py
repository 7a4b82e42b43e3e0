"""From what a person gives (texts, numbers) to values in SI, with every mistake at once."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from app.domain.calculators.engine.calculator import (
    Calculator,
    Given,
    InvalidInput,
    Quantity,
    Value,
)
from app.domain.quantities import KINDS, UnreadableValue, parse, parse_count

N = TypeVar("N", int, float)
LONGEST_TEXT = 4000
UNKNOWN = "?"


def read(calculator: Calculator, given: Mapping[str, Given]) -> tuple[dict[str, Value], list[str]]:
    """The given values in SI, and the keys marked unknown with ``?``. Empty texts are missing.

    Raises InvalidInput with every mistake.
    """
    values: dict[str, Value] = {}
    unknown: list[str] = []
    mistakes: list[tuple[str, str]] = []
    known = {quantity.key: quantity for quantity in calculator.quantities}
    for key, written in given.items():
        text = written.strip() if isinstance(written, str) else written
        if key not in known:
            mistakes.append((key, _no_such_quantity(calculator, key)))
        elif text == UNKNOWN:
            unknown.append(key)
        elif text != "":
            try:
                values[key] = read_value(known[key], text)
            except ValueError as mistake:
                mistakes.append((key, str(mistake)))
    if mistakes:
        raise InvalidInput(mistakes)
    return values, unknown


def read_value(quantity: Quantity, written: Given) -> Value:
    """One value in SI, within the quantity's range. Raises ValueError with a sentence."""
    if isinstance(written, bool):
        raise UnreadableValue(f"{_name(quantity)} must be {quantity.of_kind.noun}, not yes or no.")
    if not isinstance(written, (str, int, float)):
        return _sequence(quantity, written)
    text = repr(written) if isinstance(written, (int, float)) else written
    if quantity.form in {"texts", "numbers"}:
        one = _text if quantity.form == "texts" else _number
        return tuple(one(quantity, item) for item in _items(quantity, text))  # type: ignore[return-value]
    if quantity.form == "number" and isinstance(written, (int, float)) and math.isfinite(written):
        # A float is taken as it is: its text would be read back to the same value.
        return _within(quantity, KINDS[quantity.kind].unit(quantity.si_unit).to_si(written))
    single: dict[str, Callable[[Quantity, str], Value]] = {
        "choice": _choice,
        "text": _text,
        "whole": _whole,
        "number": _number,
    }
    return single[quantity.form](quantity, text)


def _sequence(quantity: Quantity, written: Sequence[str | float]) -> Value:
    """A list given as a list: bare numbers in the display unit, texts with their own."""
    if quantity.form not in {"texts", "numbers"}:
        raise UnreadableValue(f"{_name(quantity)} must be one value, not a list.")
    items = _items(quantity, ";".join(str(item).replace(";", " ") for item in written))
    one = _text if quantity.form == "texts" else _number
    return tuple(one(quantity, item) for item in items)  # type: ignore[return-value]


def _whole(quantity: Quantity, text: str) -> int:
    return _within(quantity, parse_count(text, name=quantity.name))


def _number(quantity: Quantity, text: str) -> float:
    return _within(quantity, parse(text, quantity.kind, unit=quantity.si_unit, name=quantity.name))


def _within(quantity: Quantity, value: N) -> N:
    low, high = quantity.limits_si
    # Each bound's own rounding only: a wide range must not let its neighbour, 0, slip in.
    if not low - 1e-12 * abs(low) <= value <= high + 1e-12 * abs(high):
        raise UnreadableValue(
            f"{_name(quantity)} must lie {quantity.range_sentence()}, not {quantity.show(value)}."
        )
    return value


def _choice(quantity: Quantity, text: str) -> str:
    for key, label in quantity.choices:
        if text.casefold() in {key.casefold(), label.casefold()}:
            return key
    may_be = ", ".join(key for key, _ in quantity.choices)
    raise UnreadableValue(f"{_name(quantity)} may be one of {may_be}, not “{_cut(text)}”.")


def _text(quantity: Quantity, text: str) -> str:
    plain = " ".join(text.split())
    if len(plain) > LONGEST_TEXT or not plain.isprintable():
        raise UnreadableValue(f"{_name(quantity)} must be a short line of letters and figures.")
    return plain


def _items(quantity: Quantity, text: str) -> list[str]:
    if len(text) > LONGEST_TEXT * 10:
        raise UnreadableValue(f"{_name(quantity)} is too long a list.")
    parts = re.split(r"[,;\n\r]+", text)
    if len([part for part in parts if part.strip()]) == 1:
        parts = _split_at_spaces(quantity, parts[0] if parts[0].strip() else text.strip(",; \n\r"))
    items = [part.strip() for part in parts if part.strip()]
    if not items:
        raise UnreadableValue(f"{_name(quantity)} needs at least one value.")
    if len(items) > quantity.longest:
        raise UnreadableValue(
            f"{_name(quantity)} may have at most {quantity.longest} values, not {len(items)}."
        )
    return items


def _split_at_spaces(quantity: Quantity, text: str) -> list[str]:
    words = text.split()
    if quantity.form == "texts" or all(re.fullmatch(r"[-+.0-9eE−/]+", word) for word in words):
        return words
    return [text]


def _no_such_quantity(calculator: Calculator, key: str) -> str:
    names = ", ".join(quantity.key for quantity in calculator.quantities)
    return f"There is no quantity “{_cut(key)}” here; the quantities are {names}."


def _name(quantity: Quantity) -> str:
    return quantity.name[:1].upper() + quantity.name[1:]


def _cut(text: str) -> str:
    plain = "".join(letter if letter.isprintable() else "�" for letter in text)
    return plain if len(plain) <= 30 else f"{plain[:29]}…"
