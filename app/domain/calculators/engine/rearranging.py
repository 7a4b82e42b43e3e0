"""Writing each calculator's rearranged relations as plain Python. Only here SymPy is needed.

Run ``python -m app.domain.calculators.engine.rearranging [key …]`` after changing a relation; a test
compares the files with what this would write.
"""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import sympy
from sympy.parsing.sympy_parser import parse_expr

from app.domain.calculators.engine.calculator import Calculator, Relation


def rearrange(calculator: Calculator) -> str:
    """The text of the calculator's generated file. Takes seconds at most."""
    lines: list[str] = []
    two_sides: list[str] = []
    for index, relation in enumerate(calculator.relations):
        symbols = {
            key: sympy.Symbol(key, positive=True)
            if calculator.quantity(key).limits_si[0] >= 0
            else sympy.Symbol(key, real=True)
            for key in relation.keys
        }
        left, right = _two_sides(relation, symbols)
        two_sides.append(f"({_function(left, relation)}, {_function(right, relation)})")
        for unknown in sorted(relation.formulas.keys() - relation.numeric):
            forms = _closed_forms(left, right, symbols[unknown])
            if not forms:
                raise ValueError(f"{calculator.key}: no closed form of {unknown}")
            functions = [_function(form, relation, unknown) for form in forms]
            joined = f"{functions[0]}," if len(functions) == 1 else ", ".join(functions)
            lines.append(f'    ({index}, "{unknown}"): ({joined}),')
    return _file(calculator, two_sides, lines)


def _two_sides(relation: Relation, symbols: Mapping[str, Any]) -> tuple[Any, Any]:
    # Only equations written in this program come here, never a person's text.
    left, right = relation.equation.split("=")
    return parse_expr(left, local_dict=dict(symbols)), parse_expr(right, local_dict=dict(symbols))


def _closed_forms(left: Any, right: Any, unknown: Any) -> list[Any]:
    """Every branch; an unknown that stands alone on one side is left as it was written."""
    for one, other in ((left, right), (right, left)):
        if one == unknown and unknown not in other.free_symbols:
            return [other]
    try:
        found = sympy.solve(left - right, unknown)
    except NotImplementedError:
        return []
    # SymPy likes log(x**a): with a in the thousands that overflows where a*log(x) does not.
    return [form.replace(_is_log_of_power, _power_before_log) for form in found]


def _is_log_of_power(expression: Any) -> bool:
    return isinstance(expression, sympy.log) and expression.args[0].is_Pow


def _power_before_log(expression: Any) -> Any:
    power = expression.args[0]
    return power.exp * sympy.log(power.base)


def _function(expression: Any, relation: Relation, unknown: str | None = None) -> str:
    parameters = ", ".join(sorted(relation.keys - {unknown}))
    return f"lambda {parameters}: {sympy.pycode(expression, fully_qualified_modules=True)}"


def _file(calculator: Calculator, two_sides: list[str], lines: list[str]) -> str:
    body = "\n".join(lines)
    equations = "\n".join(f"    {pair}," for pair in two_sides)
    imports = "import math\n" if "math." in body + equations else ""
    return (
        f'"""Rearrangements of {calculator.key}, written by rearranging.py: do not edit."""\n\n'
        "# fmt: off\n# ruff: noqa: ARG005\n"
        f"{imports}from collections.abc import Callable\n\n"
        "SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (\n"
        f"{equations}\n)\n"
        "REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {\n"
        f"{body}\n}}\n"
    )


def regenerate(calculator: Calculator) -> Path | None:
    """Write the calculator's generated file; None where it has no relations."""
    if not calculator.relations:
        return None
    path = Path(__file__).parent / "rearranged" / f"{calculator.key.replace('-', '_')}.py"
    path.write_text(rearrange(calculator), encoding="utf-8")
    return path


def main(keys: list[str]) -> None:
    """Write the generated files of these calculators, or of all."""
    from app.domain.calculators import CATALOGUE

    for key in keys or list(CATALOGUE):
        regenerate(CATALOGUE[key])


if __name__ == "__main__":
    main(sys.argv[1:])
