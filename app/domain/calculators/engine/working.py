"""The working of a calculation as Typst math: formula, numbers in it, result."""

import re
from collections.abc import Mapping

from app.domain.calculators.engine.calculator import Calculator, Quantity, Value, WorkingStep
from app.domain.quantities import KINDS, MINUS, QuantityKind, decimals, significant

_PLACEHOLDER = re.compile(r"\{([a-z_0-9]+)(?::([^}]*))?\}")
_SUM = re.compile(r"sum \{([a-z_0-9]+)\}(?=\s*$)")
LONGEST_SUM = 8  # numbers; a longer list is summed in words only
COUNT = "n"  # {readings:n} stands for how many there are
_BEFORE_NUMBER = re.compile(r"\*\s*(?=[0-9])")


def steps_of(
    calculator: Calculator,
    values: Mapping[str, Value],
    derived: Mapping[str, int],
    unknown: str,
    *,
    target: str | None,
) -> list[WorkingStep]:
    """The working, intermediate results first. ``target`` is the answer an unknown was tried on."""
    if target is not None:
        forward = [r.formulas[target] for r in calculator.relations if target in r.formulas]
        formula = calculator.formulas.get(target, "") or forward[0]
        return [_step(calculator, values, unknown, formula, numeric=True)]
    steps: list[WorkingStep] = []
    seen: set[str] = set()

    def add(key: str) -> None:
        seen.add(key)
        relation = calculator.relations[derived[key]] if key in derived else None
        template = relation.formulas[key] if relation else calculator.formulas.get(key, "")
        if not template:
            return
        for part, _ in _PLACEHOLDER.findall(template):
            if part not in seen and (part in derived or part in calculator.answers):
                add(part)
        is_numeric = relation is not None and key in relation.numeric
        steps.append(_step(calculator, values, key, template, numeric=is_numeric))

    add(unknown)
    return steps


def _step(
    calculator: Calculator,
    values: Mapping[str, Value],
    key: str,
    template: str,
    *,
    numeric: bool,
) -> WorkingStep:
    quantity = calculator.quantity(key)
    summed = _SUM.sub(lambda m: _summed(calculator, values, m), template)
    filled = _PLACEHOLDER.sub(lambda m: _number(calculator, values, m, template), summed)
    left, _, right = filled.partition("=")
    return WorkingStep(
        key=key,
        formula=symbols_in(calculator, template),
        substitution=f"{quantity.symbol} = {right.strip()}".replace("*", "dot.op")
        if not numeric
        else f"{left.strip()} = {right.strip()}".replace("*", "dot.op"),
        result=f"{quantity.symbol} = {typst_value(values[key], quantity, unit_in(template, quantity))}",
        numeric=numeric,
    )


def unit_in(template: str, quantity: Quantity) -> str:
    """The unit in which a form works with a quantity: the one it names, or the display unit."""
    named = [unit for key, unit in _PLACEHOLDER.findall(template) if key == quantity.key and unit]
    return named[0] if named and named[0] != COUNT else quantity.si_unit


def _summed(calculator: Calculator, values: Mapping[str, Value], match: re.Match[str]) -> str:
    """The sum of a short list, number by number."""
    quantity, value = calculator.quantity(match[1]), values.get(match[1])
    if not isinstance(value, tuple) or not 1 < len(value) <= LONGEST_SUM:
        return match[0]
    unit = coherent_unit(quantity.of_kind)
    numbers = [typst_value(item, quantity, unit) for item in value]
    return f"({' + '.join(numbers)})".replace("+ -", "- ")


def symbols_in(calculator: Calculator, template: str) -> str:
    """A display form as Typst math with every quantity's symbol in place."""
    filled = _PLACEHOLDER.sub(
        lambda m: COUNT if m[2] == COUNT else calculator.quantity(m[1]).symbol, template
    )
    # A product needs no sign between letters; before a number it does, or L 2 looks like L₂.
    return " ".join(_BEFORE_NUMBER.sub("dot.op ", filled).replace("*", " ").split())


def _number(
    calculator: Calculator, values: Mapping[str, Value], match: re.Match[str], template: str
) -> str:
    quantity = calculator.quantity(match[1])
    value = values.get(match[1])
    if match[2] == COUNT:
        return str(len(value)) if isinstance(value, tuple) else COUNT
    if value is None or isinstance(value, tuple):
        return quantity.symbol
    unit = coherent_unit(quantity.of_kind) if match[2] is None else match[2]
    text = typst_value(values[match[1]], quantity, unit)
    after = template[match.end() : match.end() + 1]
    grouped = text.startswith("-") or (after == "^" and " " in text)
    return f"({text})" if grouped else text


def coherent_unit(kind: QuantityKind) -> str | None:
    """The symbol of the kind's coherent SI unit; degrees for angles; None for plain numbers."""
    if kind.key == "angle":
        return "°"
    return next((u.symbol for u in kind.units if u.factor == 1 and not u.offset), None)


def typst_value(value: Value, quantity: Quantity, symbol: str | None) -> str:
    """A value in SI as Typst math: number, thin space, upright unit."""
    if isinstance(value, str):
        if value.isdigit():
            return value  # a choice among numbers, such as the parts a rule divides an inch into
        return f'"{dict(quantity.choices).get(value, value)}"'.replace("\\", "")
    if isinstance(value, tuple):
        return quantity.symbol
    number = value if symbol is None else KINDS[quantity.kind].unit(symbol).from_si(value)
    text = significant(number, max(quantity.digits, 4)).replace(MINUS, "-")
    if "×" in text:
        factor, _, power = text.partition("×10")
        plain = power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
        text = f"{factor} times 10^({plain})"
    if not symbol:
        return text
    special = {"°": f"{text} degree", "%": f"{text} %", "$": f'"$"{decimals(number, 2)}'}
    return special.get(symbol, f'{text} thin "{symbol}"')
