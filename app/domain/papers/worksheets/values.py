"""The values of a question: drawn by seed or taken from the instrument, then computed."""

import math
import random
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from app.domain.calculators import CATALOGUE, Calculation, InvalidInput, calculate
from app.domain.papers.worksheets.request import Computed, QuantityFacts, QuestionParameter
from app.domain.quantities import KINDS, MINUS, THIN_SPACE, significant, with_unit

_PLACEHOLDER = re.compile(r"\{([A-Za-z]\w*)\}")
_NUMBER_THEN_UNIT = re.compile(r"(?<=[\d½⅓⅔¼¾⅛⅜⅝⅞]) (?=[^\W\d_°%]|Ω|µ)")
_TOLERANCE = re.compile(r"\s*(?:±|\+/-|\+-)?\s*(\d+(?:\.\d+)?)\s*(.*?)\s*")


class NotComputable(ValueError):
    """A question has no answer with these values; the message says why."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A parameter's value as it is computed with (`25.5 in`), and whose it is."""

    text: str
    quantity: QuantityFacts | None = None

    @property
    def shown(self) -> str:
        """As it is printed: unit apart by a thin space, minus sign real."""
        spaced = _NUMBER_THEN_UNIT.sub(THIN_SPACE, self.text)
        return re.sub(r"^-(?=\d)", MINUS, spaced)

    @property
    def fixed(self) -> bool:
        return self.quantity is not None


def draw(
    parameters: Mapping[str, QuestionParameter],
    quantities: Mapping[str, QuantityFacts],
    source: random.Random,
    *,
    nominal: bool = False,
) -> dict[str, Drawn]:
    """A value for each parameter. `nominal` passes over what has been measured.

    Raises NotComputable where the instrument has no such quantity.
    """
    values = {}
    for name, parameter in parameters.items():
        if parameter.quantity is None:
            values[name] = Drawn(_drawn_text(parameter, source))
        elif (own := quantities.get(parameter.quantity)) is None:
            raise NotComputable(f"this instrument has no quantity “{parameter.quantity}”")
        else:
            values[name] = Drawn(own.nominal if nominal else own.best, own)
    return values


def _drawn_text(parameter: QuestionParameter, source: random.Random) -> str:
    if parameter.choose:
        chosen = source.choice(parameter.choose)
        text = chosen if isinstance(chosen, str) else f"{chosen:g}"
    elif parameter.low is None or parameter.high is None or not parameter.step:
        raise NotComputable("a parameter needs a quantity, choices, or low, high and step")
    else:
        low, step = Decimal(str(parameter.low)), Decimal(str(parameter.step))
        count = int((Decimal(str(parameter.high)) - low) // step)
        value = low + step * source.randint(0, count)
        text = f"{value.normalize():f}"
    needs_unit = parameter.unit and not text.endswith(parameter.unit)
    return f"{text} {parameter.unit}" if needs_unit else text


def filled(template: str, values: Mapping[str, Drawn], *, shown: bool) -> str:
    """The template with each `{name}` replaced. Raises NotComputable for an unknown name."""

    def value(match: re.Match[str]) -> str:
        if match[1] not in values:
            raise NotComputable(f"“{{{match[1]}}}” stands for no parameter")
        return values[match[1]].shown if shown else values[match[1]].text

    return _PLACEHOLDER.sub(value, template)


@dataclass(frozen=True, slots=True)
class Outcome:
    """A computed answer: as people write it, as a number in its unit, and the calculation."""

    text: str
    value: float | None
    unit: str
    low: float | None
    high: float | None
    tolerance: str
    calculation: Calculation


def compute(computed: Computed, values: Mapping[str, Drawn]) -> Outcome:
    """The answer by its calculator.

    Raises NotComputable for a calculator, quantity or unit that does not exist, and
    InvalidInput where a value lies outside the calculator's range.
    """
    if computed.calculator not in CATALOGUE:
        raise NotComputable(f"there is no calculator “{computed.calculator}”")
    given = {key: filled(text, values, shown=False) for key, text in computed.given.items()}
    calculation = calculate(computed.calculator, given, computed.result)
    try:
        quantity = CATALOGUE[computed.calculator].quantity(computed.result)
        found = calculation.values[computed.result]
    except KeyError:
        raise NotComputable(
            f"the calculator “{computed.calculator}” yields no “{computed.result}”"
        ) from None
    if not isinstance(found, (int, float)):
        shown = quantity.show(found)
        return Outcome(shown, None, "", None, None, "", calculation)
    try:
        unit = quantity.of_kind.unit(computed.unit or quantity.si_unit)
    except KeyError:
        raise NotComputable(f"“{computed.unit}” is no unit of {quantity.name}") from None
    number = float(found) if quantity.form == "whole" else unit.from_si(float(found))
    if not math.isfinite(number):
        raise NotComputable(f"{quantity.name} has no finite value here")
    text = with_unit(significant(number, computed.digits), unit.symbol)
    low, high = _bounds(number, computed, quantity.kind)
    tolerance = _tolerance_shown(computed.tolerance)
    return Outcome(text, number, unit.symbol, low, high, tolerance, calculation)


def _bounds(number: float, computed: Computed, kind: str) -> tuple[float | None, float | None]:
    """The least and greatest reading marked right, in the answer's own unit."""
    rounded = float(f"{number:.{computed.digits - 1}e}")
    if computed.tolerance.strip().lower() == "exact":
        return rounded, rounded
    match = _TOLERANCE.fullmatch(computed.tolerance)
    if match is None:
        return None, None
    margin, symbol = float(match[1]), match[2]
    if symbol == "%" and computed.unit != "%":
        margin *= abs(number) / 100
    elif symbol and symbol != computed.unit:
        try:
            units = KINDS[kind]
            answer = units.unit(computed.unit or units.si)
            margin *= units.unit(symbol).factor / answer.factor
        except KeyError:
            return None, None
    # The rounded answer the key prints is always right, however tight the tolerance.
    return min(number - margin, rounded), max(number + margin, rounded)


def _tolerance_shown(tolerance: str) -> str:
    match = _TOLERANCE.fullmatch(tolerance)
    if match is None or tolerance.strip().lower() == "exact":
        return tolerance.strip()
    return f"± {match[1]}{THIN_SPACE}{match[2]}".rstrip() if match[2] else f"± {match[1]}"


def mistakes_in_words(mistake: InvalidInput | NotComputable) -> str:
    """What is wrong with the values, as one sentence without its full stop."""
    return str(mistake).rstrip(".")
