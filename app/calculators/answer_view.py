"""What a calculator page shows of an answer: working, values, tables, drawing, chart."""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from markupsafe import Markup, escape

from app.calculators.state import AddressState
from app.domain.calculators import Calculation, Calculator
from app.domain.calculators.engine.calculation import symbols_in
from app.domain.calculators.engine.calculator import Quantity, ResultTable, WorkingStep
from app.domain.calculators.engine.pictures import Chart, Drawing, Sound
from app.domain.papers.drawing import Sheet, on_paper
from app.domain.quantities import UnitSystem, significant
from app.print import formula_mathml

MOST_CHART_ROWS = 41
LABEL_ROOM_MM = 4.4  # letters are 3.4 mm high on the page, in a sans serif wider than the paper's
# A quoted text with a digit is a value such as "10:35"; other quoted texts are units and names.
_QUOTED_OR_NUMBER = re.compile(r'"[^"]*"|(?<![\w.])[0-9]+(?:\.[0-9]+)?')
_PLACE = re.compile(r"(?<=>)9000([0-9]{3})(?=</m(?:n|text)>)")


def mathematics(typst: str, *, display: bool = True) -> Markup:
    """A formula as MathML; values are set in afterwards, so that a new one compiles nothing."""
    lifted: list[str] = []

    def lift(match: re.Match[str]) -> str:
        quoted = match[0].startswith('"')
        if quoted and not re.search("[0-9]", match[0]):
            return match[0]
        lifted.append(match[0].strip('"'))
        place = f"9000{len(lifted) - 1:03d}"
        return f'"{place}"' if quoted else place

    pattern = _QUOTED_OR_NUMBER.sub(lift, typst)
    exported = formula_mathml(pattern, display=display)
    filled = _PLACE.sub(lambda place: escape(lifted[int(place[1])]), exported)
    return Markup(filled)  # noqa: S704 - our own export; what is set in is escaped


@dataclass(frozen=True)
class Working:
    """One line of working, as MathML, and its result in both systems of units.

    ``forward`` is the formula as it is usually written, where ``formula`` is a rearrangement.
    """

    name: str
    forward: Markup | None
    formula: Markup
    substitution: Markup
    result: Markup
    shop: str
    numeric: bool


def working(calculator: Calculator, calculation: Calculation) -> list[Working]:
    """The working, the unknown last."""
    return [_line(calculator, calculation, step) for step in calculation.steps]


def _line(calculator: Calculator, calculation: Calculation, step: WorkingStep) -> Working:
    forward = None if step.numeric else _forward(calculator, step)
    quantity = calculator.quantity(step.key)
    # Working in the shop's own unit, such as board feet, has said it already.
    said = f'"{quantity.shop_unit}"' in step.result
    return Working(
        name=quantity.name,
        forward=mathematics(forward) if forward else None,
        formula=mathematics(step.formula),
        substitution=mathematics(step.substitution),
        result=mathematics(step.result),
        shop="" if said else _other(calculation, step.key),
        numeric=step.numeric,
    )


def _forward(calculator: Calculator, step: WorkingStep) -> str | None:
    """The relation's first formula, where the step uses another of its rearrangements."""
    for relation in calculator.relations:
        template = relation.formulas.get(step.key)
        if template is not None and symbols_in(calculator, template) == step.formula:
            first = next(iter(relation.formulas.values()))
            return symbols_in(calculator, first) if first != template else None
    return None


def _other(calculation: Calculation, key: str) -> str:
    """The value in shop units where that says something else."""
    return calculation.us[key] if calculation.us[key] != calculation.si[key] else ""


@dataclass(frozen=True)
class ValueRow:
    """A quantity with its value in both systems of units."""

    quantity: Quantity
    symbol: Markup
    si: str
    shop: str


def symbol(quantity: Quantity) -> Markup:
    """A quantity's symbol as MathML in a line of text; none where it only repeats the name."""
    if quantity.symbol.startswith("upright("):
        return Markup()
    return Markup(formula_mathml(quantity.symbol, display=False))  # noqa: S704 - our own export


def value_rows(
    calculator: Calculator, calculation: Calculation, keys: Mapping[str, object]
) -> Iterator[ValueRow]:
    """The rows of these keys, in the order of the quantities."""
    for quantity in calculator.quantities:
        if quantity.key in keys:
            yield ValueRow(
                quantity,
                symbol(quantity),
                calculation.si[quantity.key],
                _other(calculation, quantity.key),
            )


@dataclass(frozen=True)
class WrittenTable:
    """A table as it is read: headings and rows of words, and what was left out of it."""

    title: str
    headings: list[str]
    rows: list[list[str]]
    note: str = ""


def both_units(table: ResultTable) -> WrittenTable:
    """A table with a second column wherever the shop measures in another unit."""
    si, shop = table.written(UnitSystem.SI), table.written(UnitSystem.US_SHOP)
    titles = table.headings(UnitSystem.SI), table.headings(UnitSystem.US_SHOP)
    twice = [column.unit != column.us_unit for column in table.columns]

    def merged(one: Sequence[str], other: Sequence[str]) -> list[str]:
        cells = []
        for first, second, both in zip(one, other, twice, strict=True):
            cells += [first, second] if both else [first]
        return cells

    rows = [merged(*pair) for pair in zip(si, shop, strict=True)]
    return WrittenTable(table.title, merged(*titles), rows)


def chart_table(chart: Chart) -> WrittenTable:
    """The values of a chart; of a long curve every so many points."""
    layers = chart.spec.get("layer", [chart.spec])
    layer = layers[0]
    values = (layer.get("data") or chart.spec["data"])["values"]
    encoding = layer.get("encoding") or chart.spec["encoding"]
    titles = {
        channel["field"]: channel.get("title") or channel["field"].capitalize()
        for channel in encoding.values()
        if "field" in channel
    }
    every = -(-len(values) // MOST_CHART_ROWS)
    note = f"Every {every}th point of the curve." if every > 1 else ""
    rows = [[_cell(value.get(name)) for name in titles] for value in values[::every]]
    return WrittenTable(f"Values of the chart: {chart.title}", list(titles.values()), rows, note)


def _cell(value: Any) -> str:
    return significant(value) if isinstance(value, (int, float)) else str(value or "–")


@lru_cache(maxsize=64)
def sheet_of(drawing: Drawing) -> Sheet | None:
    """The drawing to scale; None where it is too large for any usual scale."""
    try:
        return on_paper(drawing, height_mm=110.0, label_mm=LABEL_ROOM_MM)
    except ValueError:
        return None


def sound_data(sound: Sound) -> str:
    """Partials as [frequency in Hz, relative amplitude], as the page's script reads them."""
    return json.dumps([[p.frequency_hz, p.amplitude] for p in sound.partials])


@dataclass(frozen=True)
class ShownAnswer:
    """The answer, its working and every value."""

    answer: ValueRow
    working: list[Working]
    found: list[ValueRow]
    given: list[ValueRow]


def shown(state: AddressState) -> ShownAnswer | None:
    """What is read of a state, None while there is no result."""
    calculation, calculator = state.calculation, state.calculator
    if calculation is None:
        return None
    found = list(value_rows(calculator, calculation, calculation.outputs))
    return ShownAnswer(
        answer=next(row for row in found if row.quantity.key == calculation.solve_for),
        working=working(calculator, calculation),
        found=found,
        given=list(value_rows(calculator, calculation, calculation.inputs)),
    )


@dataclass(frozen=True)
class Pictured:
    """What is looked at and listened to, and the long tables."""

    table: WrittenTable | None
    sheet: Sheet | None
    chart_table: WrittenTable | None
    sound: str


def pictured(state: AddressState) -> Pictured | None:
    """Drawing, chart, sound and tables of a state, None while there is no result."""
    calculation = state.calculation
    if calculation is None:
        return None
    return Pictured(
        table=both_units(calculation.table) if calculation.table else None,
        sheet=sheet_of(calculation.drawing) if calculation.drawing else None,
        chart_table=chart_table(calculation.chart) if calculation.chart else None,
        sound=sound_data(calculation.sound) if calculation.sound else "",
    )


def capitalize_first(words: str) -> str:
    """The words with a capital first letter, the rest as it is."""
    return words[:1].upper() + words[1:]
