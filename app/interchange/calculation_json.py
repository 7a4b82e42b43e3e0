"""Calculators as plain data for JSON and the command line, and the OpenAPI description of it.

Values stand in each quantity's own display unit, named beside them; keys are the catalogue's.
"""

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from app.domain.calculators import CATALOGUE, TOPICS, Calculation, Calculator, InvalidInput
from app.domain.calculators.engine.calculator import Quantity, ResultTable, Value
from app.domain.quantities import KINDS

VERSION = "1"
ROOT = f"/api/v{VERSION}/calculators"
_GREEK = {
    "alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ε", "eta": "η",
    "theta": "θ", "lambda": "λ", "mu": "µ", "nu": "ν", "pi": "π", "rho": "ρ", "sigma": "σ",
    "tau": "τ", "phi": "φ", "omega": "ω", "Delta": "Δ", "Omega": "Ω",
}  # fmt: skip
_ACCENTS = {"macron": "\u0304", "tilde": "\u0303"}


def plain_symbol(symbol: str) -> str:
    """A symbol in Typst mathematics as plain text: ``R_"min"`` is R_min, ``Delta T`` is ΔT."""
    text = re.sub(r"(macron|tilde)\((\w)\)", lambda m: m[2] + _ACCENTS[m[1]], symbol)
    text = re.sub(r'upright\("([^"]*)"\)', r"\1", text)
    text = re.sub(r"[A-Za-z]+", lambda m: _GREEK.get(m[0], m[0]), text)
    return text.replace('"', "").replace("Δ ", "Δ").replace("^2", "²")


def number_in(quantity: Quantity, value: Value, unit: str) -> Any:
    """A value in SI as a bare number (list of numbers, text) in that unit of its kind."""
    if isinstance(value, tuple):
        return [number_in(quantity, item, unit) for item in value]
    if isinstance(value, str) or quantity.form == "whole":
        return value
    return KINDS[quantity.kind].unit(unit).from_si(value)


def quantity_data(quantity: Quantity) -> dict[str, Any]:
    """A quantity: name, symbol, unit, range (in that unit), default and choices."""
    ranged = quantity.low != quantity.high
    default = quantity.default_si
    return {
        "name": quantity.key,
        "title": quantity.name,
        "symbol": plain_symbol(quantity.symbol),
        "unit": quantity.si_unit,
        "shop_unit": quantity.shop_unit,
        "range": [quantity.low, quantity.high] if ranged else None,
        "form": quantity.form,
        "choices": [key for key, _ in quantity.choices],
        "default": None if default is None else number_in(quantity, default, quantity.si_unit),
    }


def calculator_data(calculator: Calculator) -> dict[str, Any]:
    """A calculator: what it answers, from what, within which limits, and by whose authority."""
    return {
        "key": calculator.key,
        "title": calculator.title,
        "question": calculator.question,
        "topic": next(topic for topic, keys in TOPICS.items() if calculator.key in keys),
        "quantities": [quantity_data(quantity) for quantity in calculator.quantities],
        "answers": list(calculator.answers),
        "solvable": list(calculator.solvable),
        "limits": list(calculator.limits),
        "conventions": list(calculator.conventions),
        "source": calculator.source,
        "example": {
            "given": dict(calculator.example.given),
            "solve": calculator.example.solve_for,
            "expected": dict(calculator.example.expected),
            "source": calculator.example.source,
        },
    }


def catalogue_data() -> list[dict[str, Any]]:
    """Every calculator, in the order of the topics."""
    return [calculator_data(calculator) for calculator in CATALOGUE.values()]


def calculation_data(calculator: Calculator, calculation: Calculation) -> dict[str, Any]:
    """An answer: inputs and results by name as value and unit, in SI display and in shop units."""

    def written(values: Mapping[str, Value], *, shop: bool = False) -> dict[str, Any]:
        found = {}
        for quantity in calculator.quantities:
            if quantity.key in values:
                unit = quantity.shop_unit if shop else quantity.si_unit
                value = number_in(quantity, values[quantity.key], unit)
                found[quantity.key] = {"value": value, "unit": unit}
        return found

    return {
        "key": calculator.key,
        "title": calculator.title,
        "solve": calculation.solve_for,
        "inputs": written(calculation.inputs),
        "results": written(calculation.outputs),
        "shop": written(calculation.values, shop=True),
        "notes": list(calculation.notes),
        "table": table_data(calculation.table) if calculation.table else None,
        "source": calculator.source,
    }


def table_data(table: ResultTable) -> dict[str, Any]:
    """A table: columns with their units, and rows of bare numbers or words."""
    units = [KINDS[column.kind].unit(column.unit) for column in table.columns]
    return {
        "title": table.title,
        "columns": [
            {"key": column.key, "title": column.title, "unit": column.unit}
            for column in table.columns
        ],
        "rows": [
            [
                unit.from_si(cell) if isinstance(cell, float) else cell
                for unit, cell in zip(units, row, strict=True)
            ]
            for row in table.rows
        ],
    }


def mistakes_data(mistakes: InvalidInput) -> dict[str, Any]:
    """What is wrong, one sentence for each quantity it concerns (empty name: all together)."""
    return {
        "errors": [{"quantity": key, "sentence": sentence} for key, sentence in mistakes.mistakes]
    }


# --- the description of the addresses, OpenAPI 3.1 ------------------------------------------------


@lru_cache(maxsize=1)
def openapi() -> dict[str, Any]:
    """The description of every address below ``/api/v1``, made from the catalogue."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Stringcourse calculators",
            "version": VERSION,
            "summary": "Each calculation of the catalogue, for any quantity its algebra allows.",
            "description": (
                "Values in requests are texts as people write them (648, 648 mm, 25 1/2 in); a "
                "bare number is in the quantity's own unit. Values in answers stand in the unit "
                "named beside them. What is not given takes its default."
            ),
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "paths": dict(_paths()),
        "components": {"schemas": _SCHEMAS},
    }


_NOT_GIVEN = ""  # an empty text, as a form sends it, counts as not given


def _paths() -> Iterator[tuple[str, dict[str, Any]]]:
    listing = {
        "operationId": "list-calculators",
        "summary": "Every calculator with its quantities",
        "responses": {
            "200": _answer("The catalogue", {"$ref": "#/components/schemas/Catalogue"}),
            **_REFUSALS,
        },
    }
    yield ROOT, {"get": listing}
    for calculator in CATALOGUE.values():
        yield f"{ROOT}/{calculator.key}", {"get": _operation(calculator)}


def _operation(calculator: Calculator) -> dict[str, Any]:
    results = {
        "type": "object",
        "properties": {q.key: _result_schema(q) for q in calculator.quantities},
    }
    described = {
        "allOf": [
            {"$ref": "#/components/schemas/Calculation"},
            {"type": "object", "properties": {"inputs": results, "results": results}},
        ]
    }
    return {
        "operationId": calculator.key,
        "summary": calculator.title,
        "description": f"{calculator.question} Source: {calculator.source}.",
        "parameters": [*map(_parameter, calculator.quantities), _solve_parameter(calculator)],
        "responses": {
            "200": _answer("The calculation", described),
            "422": _answer("What to change", {"$ref": "#/components/schemas/Mistakes"}),
            **_REFUSALS,
        },
    }


def _parameter(quantity: Quantity) -> dict[str, Any]:
    schema: dict[str, Any] = {"type": "string"}
    if quantity.choices:
        schema["enum"] = [_NOT_GIVEN, *(key for key, _ in quantity.choices)]
    words = [quantity.name[:1].upper() + quantity.name[1:]]
    if quantity.low != quantity.high:
        words.append(quantity.range_sentence())
    if quantity.si_unit:
        words.append(f"a bare number is in {quantity.si_unit}")
    if quantity.note:
        words.append(quantity.note)
    return {
        "name": quantity.key,
        "in": "query",
        "required": False,
        "description": "; ".join(words) + ".",
        "schema": schema,
    }


def _solve_parameter(calculator: Calculator) -> dict[str, Any]:
    return {
        "name": "solve",
        "in": "query",
        "required": False,
        "description": "The quantity to find; its own value is then left out.",
        "schema": {"type": "string", "enum": [_NOT_GIVEN, *calculator.solvable]},
    }


def _result_schema(quantity: Quantity) -> dict[str, Any]:
    number: dict[str, Any] = {"type": "integer" if quantity.form == "whole" else "number"}
    text: dict[str, Any] = {"type": "string"}
    value = {
        "number": number,
        "whole": {"type": "number"},
        "choice": text,
        "text": text,
        "numbers": {"type": "array", "items": number},
        "texts": {"type": "array", "items": text},
    }[quantity.form]
    return {
        "type": "object",
        "description": f"{quantity.name} ({plain_symbol(quantity.symbol)})",
        "required": ["value", "unit"],
        "properties": {"value": value, "unit": {"const": quantity.si_unit}},
    }


def _answer(description: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"description": description, "content": {"application/json": {"schema": schema}}}


_REFUSALS: dict[str, Any] = {
    code: _answer(words, {"$ref": "#/components/schemas/Refusal"})
    for code, words in (
        ("404", "No such calculator"),
        ("405", "The addresses are only read: GET, HEAD and OPTIONS"),
        ("429", "Too many requests"),
        ("500", "A mistake of the program"),
        ("503", "The server cannot answer just now"),
    )
}

_SCHEMAS: dict[str, Any] = {
    "Catalogue": {
        "type": "object",
        "required": ["calculators"],
        "properties": {
            "calculators": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["key", "title", "question", "quantities", "solvable", "source"],
                },
            }
        },
    },
    "Calculation": {
        "type": "object",
        "required": ["key", "title", "solve", "inputs", "results", "shop", "notes", "source"],
        "properties": {
            "key": {"type": "string"},
            "title": {"type": "string"},
            "solve": {"type": "string", "description": "the quantity that was found"},
            "shop": {"type": "object", "description": "every value again, in US shop units"},
            "notes": {"type": "array", "items": {"type": "string"}},
            "table": {"type": ["object", "null"]},
            "source": {"type": "string"},
        },
    },
    "Mistakes": {
        "type": "object",
        "required": ["errors"],
        "properties": {
            "errors": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["quantity", "sentence"],
                    "properties": {
                        "quantity": {"type": "string"},
                        "sentence": {"type": "string"},
                    },
                },
            }
        },
    },
    "Refusal": {
        "type": "object",
        "required": ["error", "advice"],
        "properties": {"error": {"type": "string"}, "advice": {"type": "string"}},
    },
}
