"""What a calculator is: its quantities, relations, limits, source and worked example.

Only declarations and the answer's shape; ``calculation`` computes. All numbers of a
declaration (low, high, default) are in the quantity's own SI display unit, as it is printed.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

from app.domain import quantities
from app.domain.calculators.engine.pictures import Chart, Drawing, Sound
from app.domain.quantities import KINDS, QuantityKind, UnitSystem

Number = float | int
Value = float | int | str | tuple[float, ...] | tuple[str, ...]
Given = str | float | int | Sequence[str | float]
Form = Literal["number", "whole", "choice", "text", "numbers", "texts"]


class InvalidInput(ValueError):
    """What was given cannot be computed: (quantity key, sentence) for every mistake.

    The key is empty where a mistake belongs to no single quantity.
    """

    def __init__(self, mistakes: Iterable[tuple[str, str]]) -> None:
        self.mistakes = list(mistakes)
        super().__init__(" ".join(sentence for _, sentence in self.mistakes))


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of a calculator; the key is the same in builds, checks and questions.

    ``symbol`` is Typst math. ``unit`` and ``us_unit`` are the display units (the kind's own
    where left out); ``low``, ``high`` and ``default`` are numbers in ``unit``. A quantity
    without a default must be given or follow from the others.
    """

    key: str
    symbol: str
    name: str
    kind: str
    low: float = 0.0
    high: float = 0.0
    default: Value | None = None
    unit: str | None = None
    us_unit: str | None = None
    form: Form = "number"
    choices: tuple[tuple[str, str], ...] = ()
    digits: int = 4
    longest: int = 200  # entries of a list
    optional: bool = False  # None in Inputs where it is not given
    note: str = ""

    @property
    def of_kind(self) -> QuantityKind:
        return KINDS[self.kind]

    @property
    def si_unit(self) -> str:
        return self.of_kind.si if self.unit is None else self.unit

    @property
    def shop_unit(self) -> str:
        return self.of_kind.us if self.us_unit is None else self.us_unit

    @property
    def numeric(self) -> bool:
        return self.form in {"number", "whole"}

    @property
    def attribute(self) -> str:
        """Its name in Inputs and Result: the key and, for a number, the SI unit."""
        suffix = self.of_kind.suffix if self.form in {"number", "whole", "numbers"} else ""
        return f"{self.key}_{suffix}" if suffix else self.key

    @property
    def limits_si(self) -> tuple[float, float]:
        unit = self.of_kind.unit(self.si_unit)
        return unit.to_si(self.low), unit.to_si(self.high)

    @property
    def default_si(self) -> Value | None:
        """The default in SI, None where there is none."""
        unit = self.of_kind.unit(self.si_unit)
        match self.default:
            case tuple():
                return tuple(
                    unit.to_si(item) if isinstance(item, (int, float)) else item
                    for item in self.default
                )  # type: ignore[return-value]
            case int() | float() if self.form == "number":
                return unit.to_si(self.default)
            case _:
                return self.default

    def show(self, value: Value, system: UnitSystem = UnitSystem.SI) -> str:
        """The value (in SI) as people read it, with its unit."""
        unit = self.si_unit if system is UnitSystem.SI else self.shop_unit
        match value:
            case str():
                return dict(self.choices).get(value, value)
            case ():
                return "none"
            case tuple():
                return "; ".join(
                    item
                    if isinstance(item, str)
                    else quantities.show(item, self.kind, unit, self.digits)
                    for item in value
                )
            case int() if self.form == "whole":
                return quantities.with_unit(str(value).replace("-", quantities.MINUS), unit)
            case _:
                return quantities.show(value, self.kind, unit, self.digits)

    def range_sentence(self) -> str:
        """``between 50 mm and 2000 mm``."""
        low, high = self.limits_si
        return (
            f"between {quantities.show(low, self.kind, self.si_unit, 6)} "
            f"and {quantities.show(high, self.kind, self.si_unit, 6)}"
        )


@dataclass(frozen=True, slots=True)
class Relation:
    """An equation between quantities, in SymPy's spelling, every quantity in coherent SI.

    ``formulas`` gives, for each quantity it is solved for, the right display form: Typst math
    with ``{quantity_key}`` for a quantity, ``{quantity_key:mm}`` where the substitution shall
    show another unit, and ``*`` for a product (a dot between numbers, in the
    formula only before a number).
    Write ``frac(a, b)``, never ``a / b``. Quantities without a formula are not solved for.
    """

    equation: str
    formulas: Mapping[str, str]
    numeric: frozenset[str] = frozenset()  # of these, those found by root finding

    @property
    def keys(self) -> frozenset[str]:
        """The quantity keys in the equation."""
        return _keys_in(self.equation)


@cache
def _keys_in(equation: str) -> frozenset[str]:
    # Kept: solving asks for them at every step, and the equations are few.
    names = re.findall(r"(?<![\w.])[a-z_][a-z_0-9]*(?![\w(])", equation)
    return frozenset(names) - {"pi"}


@dataclass(frozen=True, slots=True)
class CalculatorExample:
    """What goes in and what must come out, with the source of the numbers.

    ``expected`` holds values as a person would write them, ``tolerance`` is relative.
    """

    given: Mapping[str, Given]
    expected: Mapping[str, Given]
    source: str
    solve_for: str | None = None
    tolerance: float = 1e-3


@dataclass(frozen=True, slots=True)
class ResultColumn:
    """A table column. Values are in SI; ``places`` are decimals in SI and in US unit."""

    key: str
    title: str
    kind: str = "number"
    unit: str = ""
    us_unit: str = ""
    places: tuple[int, int] = (2, 3)


@dataclass(frozen=True, slots=True)
class ResultTable:
    """Named columns and rows of values in SI (or words)."""

    title: str
    columns: tuple[ResultColumn, ...]
    rows: tuple[tuple[float | str | None, ...], ...]

    def written(self, system: UnitSystem = UnitSystem.SI) -> list[list[str]]:
        """The rows as people read them, numbers without the unit that the heading carries."""
        return [
            [_cell(column, cell, system) for column, cell in zip(self.columns, row, strict=True)]
            for row in self.rows
        ]

    def headings(self, system: UnitSystem = UnitSystem.SI) -> list[str]:
        """Column titles with their units."""
        units = [c.unit if system is UnitSystem.SI else c.us_unit for c in self.columns]
        return [
            f"{column.title} ({unit})" if unit else column.title
            for column, unit in zip(self.columns, units, strict=True)
        ]


def _cell(column: ResultColumn, cell: float | str | None, system: UnitSystem) -> str:
    if cell is None:
        return "–"
    if isinstance(cell, str):
        return cell
    if isinstance(cell, int) and not column.unit:
        return str(cell).replace("-", quantities.MINUS)
    unit = column.unit if system is UnitSystem.SI else column.us_unit
    places = column.places[0] if system is UnitSystem.SI else column.places[1]
    return quantities.decimals(KINDS[column.kind].unit(unit).from_si(cell), places)


@dataclass(frozen=True, slots=True)
class ShownValue:
    """What a calculator adds to its numbers."""

    table: ResultTable | None = None
    drawing: Drawing | None = None
    chart: Chart | None = None
    sound: Sound | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Calculator:
    """One calculation. ``answers`` are the keys ``compute`` yields, the principal one first.

    ``compute`` turns Inputs into Result, both in SI; it may raise InvalidInput. ``numeric``
    says for which inputs an answer that no relation holds is solved by root finding.
    ``formulas`` are display forms (as in Relation) of answers without a relation.
    An answer may be None where what is given does not yield it.
    Quantities stand in the order in which missing ones take their defaults.
    """

    key: str
    title: str
    question: str
    quantities: tuple[Quantity, ...]
    answers: tuple[str, ...]
    inputs: type[Any]
    result: type[Any]
    compute: Callable[[Any], Any]
    limits: tuple[str, ...]
    conventions: tuple[str, ...]
    source: str
    example: CalculatorExample
    relations: tuple[Relation, ...] = ()
    formulas: Mapping[str, str] = field(default_factory=dict)
    numeric: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    show: Callable[[Any, Any], ShownValue] = lambda _inputs, _result: ShownValue()

    def quantity(self, key: str) -> Quantity:
        """The quantity of that key. Raises KeyError."""
        for quantity in self.quantities:
            if quantity.key == key:
                return quantity
        raise KeyError(key)

    @property
    def solvable(self) -> tuple[str, ...]:
        """The keys that can be the unknown, in the order of the quantities."""
        keys = {key for relation in self.relations for key in relation.formulas}
        keys.update(self.answers, *self.numeric.values())
        return tuple(quantity.key for quantity in self.quantities if quantity.key in keys)


@dataclass(frozen=True, slots=True)
class WorkingStep:
    """One line of the working, all Typst math: formula, numbers in it, and what comes out."""

    key: str
    formula: str
    substitution: str
    result: str
    numeric: bool = False  # found by root finding, the formula stands for the forward direction


@dataclass(frozen=True, slots=True)
class Calculation:
    """The answer of ``calculate``. Values are in SI; displays are text with the unit."""

    key: str
    solve_for: str
    inputs: Mapping[str, Value]
    outputs: Mapping[str, Value]
    si: Mapping[str, str]
    us: Mapping[str, str]
    steps: tuple[WorkingStep, ...]
    notes: tuple[str, ...]
    table: ResultTable | None
    drawing: Drawing | None
    chart: Chart | None
    sound: Sound | None
    result: Any

    @property
    def values(self) -> dict[str, Value]:
        """Inputs and outputs together, in SI."""
        return {**self.inputs, **self.outputs}

    def display(self, system: UnitSystem = UnitSystem.SI) -> Mapping[str, str]:
        """Every value as text in that system of units."""
        return self.si if system is UnitSystem.SI else self.us
