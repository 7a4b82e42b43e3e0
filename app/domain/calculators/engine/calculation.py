"""The one call behind the page, the JSON, the command line and the worksheets."""

import math
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from app.domain.calculators.engine import algebra
from app.domain.calculators.engine.calculator import (
    Calculation,
    Calculator,
    Given,
    InvalidInput,
    Quantity,
    Value,
)
from app.domain.calculators.engine.reading import read
from app.domain.calculators.engine.working import coherent_unit, steps_of, symbols_in, typst_value
from app.domain.quantities import UnitSystem

__all__ = ["calculate_with", "coherent_unit", "inputs_of", "symbols_in", "typst_value"]


def calculate_with(
    calculator: Calculator, given: Mapping[str, Given], solve_for: str | None = None
) -> Calculation:
    """Compute one calculator; see ``app.domain.calculators.calculate`` for the contract."""
    known, marked = read(calculator, given)
    unknown = _unknown(calculator, known, marked, solve_for)
    values, derived = _resolved(calculator, known, unknown)
    target = _solve_by_trial(calculator, known, values, derived, unknown)
    _refuse_unresolved(calculator, values, unknown)
    result = _computed(calculator, values)
    answers = _answers(calculator, result)
    _check(calculator, known, values, answers, unknown)
    values = {key: value for key, value in values.items() if key not in calculator.answers}
    values.update(answers)
    if unknown not in values:
        raise _not_answered(calculator, values, unknown)
    shown = calculator.show(inputs_of(calculator, values), result)
    outputs = {
        q.key: values[q.key]
        for q in calculator.quantities
        if q.key in values and (q.key in derived or q.key == unknown or q.key in calculator.answers)
    }
    inputs = {key: value for key, value in values.items() if key not in outputs}
    return Calculation(
        key=calculator.key,
        solve_for=unknown,
        inputs=inputs,
        outputs=outputs,
        si=_displayed(calculator, values, UnitSystem.SI),
        us=_displayed(calculator, values, UnitSystem.US_SHOP),
        steps=tuple(steps_of(calculator, values, derived, unknown, target=target)),
        notes=(*_between_whole_numbers(calculator, values, unknown), *shown.notes),
        table=shown.table,
        drawing=shown.drawing,
        chart=shown.chart,
        sound=shown.sound,
        result=result,
    )


def _not_answered(
    calculator: Calculator, values: Mapping[str, Value], unknown: str
) -> InvalidInput:
    name = _capital(calculator.quantity(unknown).name)
    more = ", ".join(q.key for q in calculator.quantities if q.optional and q.key not in values)
    sentence = f"{name} does not follow from what is given"
    return InvalidInput(
        [(unknown, f"{sentence}: give {more} as well." if more else f"{sentence}.")]
    )


def _between_whole_numbers(
    calculator: Calculator, values: Mapping[str, Value], unknown: str
) -> tuple[str, ...]:
    """A note where a count was solved for and comes out with a fraction."""
    quantity, value = calculator.quantity(unknown), values[unknown]
    if quantity.form != "whole" or not isinstance(value, float):
        return ()
    if algebra.close(value, round(value)):
        return ()
    return (
        (
            f"{_capital(quantity.name)} comes out between {math.floor(value)} and "
            f"{math.ceil(value)}: only a whole number can be made."
        ),
    )


def inputs_of(calculator: Calculator, values: Mapping[str, Value]) -> Any:
    """The frozen Inputs record of these values in SI."""
    by_attribute = {
        q.attribute: values.get(q.key)
        for q in calculator.quantities
        if q.key in values or q.optional
    }
    names = [item.name for item in fields(calculator.inputs)]
    return calculator.inputs(**{name: by_attribute[name] for name in names})


def _unknown(
    calculator: Calculator, known: Mapping[str, Value], marked: list[str], wanted: str | None
) -> str:
    asked = list(dict.fromkeys([*marked, *([wanted] if wanted else [])]))
    if len(asked) > 1:
        raise InvalidInput(
            [(key, "Only one quantity can be unknown at a time: give the others.") for key in asked]
        )
    if not asked:
        return _implied_unknown(calculator, known)
    (key,) = asked
    if key not in calculator.solvable:
        may_be = ", ".join(calculator.solvable)
        raise InvalidInput([(key, f"The unknown may be one of {may_be}, not “{key[:30]}”.")])
    if key in known:
        name = calculator.quantity(key).name
        raise InvalidInput([(key, f"{_capital(name)} is what you ask for: leave its value out.")])
    return key


def _implied_unknown(calculator: Calculator, known: Mapping[str, Value]) -> str:
    """What is asked for when nobody says: the one quantity left out beside a given answer."""
    given_answers = [key for key in calculator.answers if key in known]
    if not given_answers:
        return calculator.answers[0]
    answer = given_answers[0]
    partners = set(calculator.numeric.get(answer, ()))
    for relation in calculator.relations:
        if answer in relation.formulas:
            partners |= relation.formulas.keys() - {answer}
    left_out = [key for key in calculator.solvable if key in partners and key not in known]
    if len(left_out) == 1:
        return left_out[0]
    name = _capital(calculator.quantity(answer).name)
    if left_out:
        names = ", ".join(left_out)
        sentence = f"{name} is given: say which of {names} to solve for, or give all but one."
    else:
        sentence = f"Nothing is unknown: leave out {name.lower()} or one of the other values."
    raise InvalidInput([(answer, sentence)])


def _resolved(
    calculator: Calculator, known: Mapping[str, Value], unknown: str
) -> tuple[dict[str, Value], dict[str, int]]:
    values = dict(known)
    derived: dict[str, int] = {}
    try:
        algebra.propagate(calculator, values, derived)
        for quantity in calculator.quantities:
            if quantity.key in values or quantity.key == unknown:
                continue
            default = quantity.default_si
            if default is not None and not _left_open(calculator, known, quantity.key, unknown):
                values[quantity.key] = default
                algebra.propagate(calculator, values, derived)
    except algebra.NoSolution as none:
        raise _no_solution(calculator, str(none)) from None
    return values, derived


def _left_open(calculator: Calculator, known: Mapping[str, Value], key: str, unknown: str) -> bool:
    """An answer takes its default only when an input is to be found and no answer is given."""
    if key not in calculator.answers:
        return False
    return unknown in calculator.answers or any(answer in known for answer in calculator.answers)


def _no_solution(calculator: Calculator, key: str) -> InvalidInput:
    quantity = calculator.quantity(key)
    return InvalidInput(
        [(key, f"No {quantity.name} {quantity.range_sentence()} fits the other values.")]
    )


def _solve_by_trial(
    calculator: Calculator,
    known: Mapping[str, Value],
    values: dict[str, Value],
    derived: dict[str, int],
    unknown: str,
) -> str | None:
    """Find an unknown input from an answer that only ``compute`` yields; which answer it was."""
    if unknown in values or unknown in calculator.answers:
        return None
    target, aim = _target(calculator, known, values, unknown)
    if target is None:
        return None

    def miss(trial: float) -> float:
        tried = {**values, unknown: trial}
        algebra.propagate(calculator, tried, {})
        value = _answer(calculator, calculator.compute(inputs_of(calculator, tried)), target)
        return float(value) - aim if isinstance(value, (int, float)) else math.nan

    try:
        values[unknown] = algebra.find_root(miss, *calculator.quantity(unknown).limits_si)
        algebra.propagate(calculator, values, derived)
    except algebra.NoSolution:
        raise _no_solution(calculator, unknown) from None
    return target


def _target(
    calculator: Calculator, known: Mapping[str, Value], values: Mapping[str, Value], unknown: str
) -> tuple[str | None, float]:
    """The answer that an unknown input is found from and its value: a given one, or a default."""
    targets = [answer for answer, inputs in calculator.numeric.items() if unknown in inputs]
    given = [answer for answer in targets if answer in known]
    for target in given or targets:
        aim = values.get(target, calculator.quantity(target).default_si)
        if isinstance(aim, (int, float)):
            return target, aim
    return None, 0.0


def _refuse_unresolved(calculator: Calculator, values: Mapping[str, Value], unknown: str) -> None:
    if unknown not in values and unknown not in calculator.answers:
        given = ", ".join(_partners(calculator, unknown))
        sentence = f"To find {calculator.quantity(unknown).name}, give {given} as well."
        raise InvalidInput([(unknown, sentence)])
    needed = {item.name for item in fields(calculator.inputs)}
    missing = [
        q
        for q in calculator.quantities
        if q.attribute in needed and q.key not in values and not q.optional
    ]
    if missing:
        raise InvalidInput(
            [
                (q.key, f"Give {q.name}: {q.of_kind.noun} such as {q.of_kind.example}.")
                for q in missing
            ]
        )


def _partners(calculator: Calculator, unknown: str) -> list[str]:
    keys = [answer for answer, inputs in calculator.numeric.items() if unknown in inputs]
    for relation in calculator.relations:
        if unknown in relation.formulas:
            keys += sorted(relation.keys - {unknown})
    return list(dict.fromkeys(keys))


def _computed(calculator: Calculator, values: Mapping[str, Value]) -> Any:
    try:
        return calculator.compute(inputs_of(calculator, values))
    except (ArithmeticError, ValueError) as error:
        if isinstance(error, InvalidInput):
            raise
        raise InvalidInput(
            [("", "These values give no result together: check that each is what you mean.")]
        ) from error


def _answers(calculator: Calculator, result: Any) -> dict[str, Value]:
    found = {key: _answer(calculator, result, key) for key in calculator.answers}
    return {key: value for key, value in found.items() if value is not None}


def _answer(calculator: Calculator, result: Any, key: str) -> Value | None:
    value: Value | None = getattr(result, calculator.quantity(key).attribute)
    return value


def _check(
    calculator: Calculator,
    known: Mapping[str, Value],
    values: Mapping[str, Value],
    answers: Mapping[str, Value],
    unknown: str,
) -> None:
    """Put everything back: relations hold, given answers come out, the unknown is in range."""
    mistakes = [
        (key, f"{_capital(calculator.quantity(key).name)} has no finite value here.")
        for key, value in answers.items()
        if isinstance(value, float) and not math.isfinite(value)
    ]
    mistakes += _out_of_range(calculator.quantity(unknown), values, answers)
    for key in known:
        if key in calculator.answers and not _same(known[key], answers.get(key)):
            name = _capital(calculator.quantity(key).name)
            sentence = f"{name} does not follow from the other values: leave one of them out."
            mistakes.append((key, sentence))
    for index, relation in enumerate(calculator.relations):
        if relation.keys <= values.keys() and not algebra.holds(calculator, index, values):
            clash = ", ".join(sorted(relation.keys & known.keys()))
            sentence = f"Nothing is unknown: {clash} contradict each other; leave one out."
            mistakes.append(("", sentence))
    if mistakes:
        raise InvalidInput(mistakes)


def _out_of_range(
    unknown: Quantity, values: Mapping[str, Value], answers: Mapping[str, Value]
) -> list[tuple[str, str]]:
    found = values.get(unknown.key)
    if unknown.key in answers or not isinstance(found, (int, float)) or _in_range(unknown, found):
        return []
    sentence = (
        f"{_capital(unknown.name)} would have to be {unknown.show(found)}; "
        f"it must lie {unknown.range_sentence()}."
    )
    return [(unknown.key, sentence)]


def _in_range(quantity: Quantity, value: float) -> bool:
    low, high = quantity.limits_si
    return low <= value <= high or algebra.close(value, low) or algebra.close(value, high)


def _same(one: Value, other: Value | None) -> bool:
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)
    return one == other


def _displayed(
    calculator: Calculator, values: Mapping[str, Value], system: UnitSystem
) -> dict[str, str]:
    return {q.key: q.show(values[q.key], system) for q in calculator.quantities if q.key in values}


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
