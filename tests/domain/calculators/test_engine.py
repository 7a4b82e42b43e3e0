"""Rules that every calculator keeps, and how the one call reads, solves and refuses."""

import math
import re
import subprocess
import sys
from contextlib import suppress
from dataclasses import fields
from functools import cache

import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.calculators import CATALOGUE, TOPICS, InvalidInput, calculate
from app.domain.calculators.engine.calculation import coherent_unit, symbols_in
from app.domain.calculators.engine.calculator import Quantity
from app.domain.calculators.engine.reading import read_value
from app.domain.calculators.engine.rearranging import rearrange
from app.domain.quantities import KINDS

KEYS = list(CATALOGUE)
by_default = cache(lambda key: calculate(key, {}))
WITH_RELATIONS = [key for key in KEYS if CATALOGUE[key].relations]


def test_keys_are_trade_words_and_quantities_have_one_kind_everywhere():
    kinds: dict[str, str] = {}
    assert len(KEYS) == len(set(KEYS)) == len(CATALOGUE)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", key) for key in KEYS)
    for key in KEYS:
        for quantity in CATALOGUE[key].quantities:
            assert re.fullmatch(r"[a-z]+(_[a-z0-9]+)*", quantity.key)
            if quantity.form in {"number", "whole"}:
                assert kinds.setdefault(quantity.key, quantity.kind) == quantity.kind, quantity.key


@pytest.mark.parametrize("key", KEYS)
def test_an_entry_is_complete(key):
    calculator = CATALOGUE[key]
    assert calculator.key == key
    assert calculator.title
    assert calculator.question.endswith("?")
    assert calculator.source
    assert calculator.limits
    assert calculator.conventions
    assert calculator.example.source
    for sentence in (*calculator.limits, *calculator.conventions):
        assert sentence.endswith(".")
    keys = [quantity.key for quantity in calculator.quantities]
    assert len(keys) == len(set(keys))
    assert set(calculator.answers) <= set(keys)
    for quantity in calculator.quantities:
        kind = KINDS[quantity.kind]
        assert kind.unit(quantity.si_unit)
        assert kind.unit(quantity.shop_unit)
        if quantity.numeric and quantity.default is not None:
            low, high = quantity.limits_si
            assert low <= quantity.default_si <= high


@pytest.mark.parametrize("key", KEYS)
def test_names_inside_end_in_the_si_unit(key):
    calculator = CATALOGUE[key]
    attributes = {quantity.attribute for quantity in calculator.quantities}
    assert {item.name for item in fields(calculator.inputs)} <= attributes
    answers = {calculator.quantity(answer).attribute for answer in calculator.answers}
    assert answers <= {item.name for item in fields(calculator.result)}


@pytest.mark.parametrize("key", KEYS)
def test_the_worked_example_comes_out(key):
    calculator = CATALOGUE[key]
    example = calculator.example
    calculation = calculate(key, example.given, example.solve_for)
    for name, written in example.expected.items():
        value = calculation.values[name]
        if isinstance(value, str):
            assert " ".join(value.split()) == written
        else:
            expected = read_value(calculator.quantity(name), written)
            assert value == pytest.approx(expected, rel=example.tolerance, abs=0)


@pytest.mark.parametrize("key", KEYS)
def test_defaults_give_an_answer_with_a_picture_and_working(key):
    calculator = CATALOGUE[key]
    calculation = calculate(key, {})
    assert calculation.drawing or calculation.chart
    assert set(calculation.outputs) >= {calculation.solve_for}
    assert set(calculation.si) == set(calculation.us) == set(calculation.values)
    assert calculation.solve_for in calculator.solvable
    if calculation.table:
        heads = calculation.table.headings()
        assert all(len(row) == len(heads) for row in calculation.table.written())
    if calculation.chart:
        assert '"url"' not in repr(calculation.chart.spec).replace("'", '"')
        assert calculation.chart.description
    if calculation.drawing:
        left, top, right, bottom = calculation.drawing.bounds
        assert math.isfinite(right - left + bottom - top)
        assert calculation.drawing.description
    if calculation.sound:
        assert all(0 <= part.amplitude <= 1 for part in calculation.sound.partials)


SOLVED_BACK = [
    (key, unknown)
    for key in KEYS
    for unknown in CATALOGUE[key].solvable
    if unknown not in CATALOGUE[key].answers
]


@pytest.mark.parametrize(("key", "unknown"), SOLVED_BACK)
def test_solving_back_returns_the_input(key, unknown):
    forward = calculate(key, {})
    back = calculate(key, {}, unknown)
    if CATALOGUE[key].quantity(unknown).form == "whole" and back.values[unknown] % 1:
        assert "only a whole number" in " ".join(back.notes)
        return
    # Whatever the defaults made of the unknown: put it in, and the answers must be the same.
    given_values = {
        name: written(CATALOGUE[key].quantity(name), value)
        for name, value in back.values.items()
        if (name in forward.inputs or CATALOGUE[key].quantity(name).optional)
        and not isinstance(value, str)
    }
    again = calculate(key, given_values)
    for name in CATALOGUE[key].answers:
        if isinstance(back.values.get(name), float):
            expected = back.values[name]
            assert again.values[name] == pytest.approx(expected, rel=1e-6, abs=1e-9)


def written(quantity: Quantity, value: object) -> str | int | float:
    unit = quantity.of_kind.unit(quantity.si_unit)
    if isinstance(value, tuple):
        if value and isinstance(value[0], str):
            return "; ".join(value)
        return "; ".join(repr(unit.from_si(item)) for item in value)
    if isinstance(value, float) and quantity.form == "number":
        return unit.from_si(value)
    return value if not isinstance(value, float) else round(value)


@pytest.mark.parametrize("key", KEYS)
def test_us_units_and_si_units_give_the_same_answer(key):
    calculator = CATALOGUE[key]
    in_us: dict[str, str] = {}
    for name, value in calculate(key, {}).inputs.items():
        quantity = calculator.quantity(name)
        if quantity.form == "number" and isinstance(value, float):
            number = quantity.of_kind.unit(quantity.shop_unit).from_si(value)
            in_us[name] = f"{number!r} {quantity.shop_unit}"
    one, other = calculate(key, {}), calculate(key, in_us)
    for name in calculator.answers:
        if isinstance(one.values.get(name), float):
            assert other.values[name] == pytest.approx(one.values[name], rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("key", WITH_RELATIONS)
def test_the_stored_rearrangements_are_those_sympy_gives_now(key):
    from importlib.resources import files

    stored = files("app.domain.calculators.engine.rearranged") / f"{key.replace('-', '_')}.py"
    assert stored.read_text(encoding="utf-8") == rearrange(CATALOGUE[key])


def _all_formulas() -> list[tuple[str, str, str]]:
    found = []
    for key in KEYS:
        calculator = CATALOGUE[key]
        for relation in calculator.relations:
            found += [(key, name, form) for name, form in relation.formulas.items()]
        found += [(key, name, form) for name, form in calculator.formulas.items()]
    return found


def test_every_formula_and_every_working_is_typst_math():
    lines = [symbols_in(CATALOGUE[key], form) for key, _, form in _all_formulas()]
    for key in KEYS:
        calculator = CATALOGUE[key]
        lines += [quantity.symbol for quantity in calculator.quantities]
        for unknown in calculator.solvable:
            if unknown in calculator.answers and unknown not in by_default(key).values:
                continue
            for step in calculate(key, {}, unknown).steps:
                lines += [step.formula, step.substitution, step.result]
    source = "\n".join(f"$ {line} $" for line in lines)
    assert typst.compile(source.encode(), format="svg")


FUNCTIONS = {
    "frac": lambda over, under: over / under,
    "sqrt": math.sqrt,
    "root": lambda index, value: value ** (1 / index),
    "log_2": math.log2,
    "log_10": math.log10,
    "tan": math.tan,
    "sin": math.sin,
    "cos": math.cos,
    "arctan": math.atan,
    "abs": abs,
    "ln": math.log,
    "min": min,
    "pi": math.pi,
}


def _evaluated(form: str, values: dict, calculator) -> tuple[float, set[str]] | None:
    """A display form's right side as a number, and the units it was written in."""
    left, right = form.split("=", 1)
    right = right.replace("100 %", "1").replace("200 %", "2").replace(" times ", "*")
    right = re.sub('thin "(?:h|mm|dB|W/m²)"', "", right).replace("^", "**")
    if '"' in right or "sum" in right:
        return None
    units = set(re.findall(r"\{[a-z_0-9]+:([^}]*)\}", left))

    def number(match: re.Match) -> str:
        quantity = calculator.quantity(match[1])
        value = values[match[1]]
        if not isinstance(value, (int, float)):
            return "?"
        if match[2] not in {None, "%"}:
            units.add(match[2])
            value = quantity.of_kind.unit(match[2]).from_si(value)
        return f"({value!r})"

    text = re.sub(r"\{([a-z_0-9]+)(?::([^}]*))?\}", number, right)
    names = set(re.findall(r"[A-Za-z_][A-Za-z_0-9]*", re.sub(r"\d[eE][-+]?\d+", "", text)))
    if "?" in text or not names <= FUNCTIONS.keys():
        return None
    text = re.sub(r"(?<=[0-9)]) +(?=[a-z(])|(?<=pi) +(?=[0-9a-z(])", " * ", text)
    try:
        return eval(text, {"__builtins__": {}}, FUNCTIONS), units
    except (SyntaxError, TypeError):
        return None  # written freely; counted below


def _evaluable() -> list[tuple[str, str, str]]:
    chosen = []
    for key, name, form in _all_formulas():
        values = by_default(key).values
        keys = re.findall(r"\{([a-z_0-9]+)", form)
        if all(k in values for k in keys) and _evaluated(form, values, CATALOGUE[key]):
            chosen.append((key, name, form))
    return chosen


@pytest.mark.parametrize(("key", "name", "form"), _evaluable())
def test_the_displayed_formula_says_what_is_computed(key, name, form):
    calculator = CATALOGUE[key]
    values = by_default(key).values
    value, units = _evaluated(form, values, calculator)
    quantity = calculator.quantity(name)
    symbols = {*units, coherent_unit(quantity.of_kind), quantity.si_unit}
    fitting = [unit for unit in quantity.of_kind.units if unit.symbol in symbols]
    candidates = [values[name], *(unit.from_si(values[name]) for unit in fitting)]
    assert any(value == pytest.approx(c, rel=1e-6, abs=1e-12) for c in candidates)


def test_most_displayed_formulas_are_checked_by_numbers():
    assert len(_evaluable()) > 0.8 * sum(
        1 for *_, form in _all_formulas() if "sum" not in form and '"' not in form
    )


# How the one call reads.


def test_a_bare_number_is_in_the_si_display_unit():
    texts = calculate("fret-positions", {"scale_length": "648"}).values
    numbers = calculate("fret-positions", {"scale_length": 648}).values
    floats = calculate("fret-positions", {"scale_length": 648.0}).values
    assert texts == numbers == floats
    assert texts["scale_length"] == 0.648


def test_a_list_may_be_given_as_a_list():
    text = calculate("set-tension", {"notes": "E2, A2", "unit_weights": "6.8; 4.2 g/m"})
    listed = calculate("set-tension", {"notes": ["E2", "A2"], "unit_weights": (6.8, 4.2)})
    assert text.values == listed.values
    with pytest.raises(InvalidInput, match="one value, not a list"):
        calculate("fret-positions", {"scale_length": [648, 650]})


def test_missing_and_empty_inputs_take_their_defaults():
    assert calculate("fret-positions", {"scale_length": "  "}) == calculate("fret-positions", {})


def test_the_unknown_can_be_asked_for_marked_or_implied():
    asked = calculate("string-tension", {"tension": "70 N"}, "frequency")
    marked = calculate("string-tension", {"tension": "70 N", "frequency": "?"})
    implied = calculate(
        "string-tension", {"tension": "70 N", "unit_weight": "0.4 g/m", "scale_length": 648}
    )
    assert asked.values == marked.values
    assert implied.solve_for == "frequency"


def test_the_working_shows_formula_numbers_and_result():
    step = calculate("fret-positions", {"scale_length": "650 mm", "fret": 1}).steps[-1]
    assert step.formula == "d = L (1 - 2^(-frac(n, N)))"
    assert step.substitution == 'd = 650 thin "mm" dot.op (1 - 2^(-frac(1, 12)))'
    assert step.result == 'd = 36.4817 thin "mm"'


def test_values_are_shown_in_both_systems():
    calculation = calculate("fret-positions", {"scale_length": "25.5 in", "fret": 12})
    assert calculation.si["fret_distance"] == "323.85\u2009mm"
    assert calculation.us["fret_distance"] == "12.75\u2009in"


# What it refuses. Each case: calculator, what is given, what is asked for, the key at fault.
REFUSED = [
    ("fret-positions", {"scale_length": "0"}, None, "scale_length"),
    ("fret-positions", {"scale_length": "-648 mm"}, None, "scale_length"),
    ("fret-positions", {"scale_length": "inf"}, None, "scale_length"),
    ("fret-positions", {"scale_length": math.inf}, None, "scale_length"),
    ("fret-positions", {"scale_length": math.nan}, None, "scale_length"),
    ("fret-positions", {"scale_length": "NaN"}, None, "scale_length"),
    ("fret-positions", {"scale_length": "1e300 mm"}, None, "scale_length"),
    ("fret-positions", {"scale_length": 1e300}, None, "scale_length"),
    ("fret-positions", {"scale_length": "648 Hz"}, None, "scale_length"),
    ("fret-positions", {"scale_length": "25 1/0 in"}, None, "scale_length"),
    ("fret-positions", {"scale_length": "__import__('os').getpid()"}, None, "scale_length"),
    ("fret-positions", {"scale_length": True}, None, "scale_length"),
    ("fret-positions", {"frets": "10000"}, None, "frets"),
    ("fret-positions", {"frets": 22.5}, None, "frets"),
    ("fret-positions", {"fret_pattern": "whole-tone"}, None, "fret_pattern"),
    ("fret-positions", {"colour": "red"}, None, "colour"),
    ("fret-positions", {"fret_pattern": "diatonic", "divisions": 19}, None, "divisions"),
    ("fret-positions", {"fret_distance": "?", "scale_length": "?"}, None, "scale_length"),
    ("fret-positions", {}, "frets", "frets"),
    ("fret-positions", {}, "__class__", "__class__"),
    ("fret-positions", {"fret_distance": "100"}, "fret_distance", "fret_distance"),
    ("string-tension", {"tension": "70 N"}, None, "tension"),
    (
        "string-tension",
        {"tension": "70 N", "frequency": 330, "scale_length": 648, "unit_weight": 0.4},
        None,
        "tension",
    ),
    ("string-tension", {"tension": "70 m"}, "frequency", "tension"),
    ("string-tension", {"tension": 19000, "unit_weight": 0.001}, "frequency", "frequency"),
    ("fret-positions", {"fret_distance": "700", "scale_length": "650"}, "fret", "fret"),
    ("pitch-and-cents", {"note": "H4"}, None, "note"),
    ("set-tension", {"notes": "E2 A2"}, None, "unit_weights"),
    ("measurement-statistics", {"readings": "1, 2, three"}, None, "readings"),
    ("measurement-statistics", {"readings": ",;"}, None, "readings"),
    ("measurement-statistics", {"readings": "1 " * 3000}, None, "readings"),
    ("harmonics", {"harmonic": 3, "node": 4}, None, "node"),
    ("measurement-statistics", {"readings": "1, 2"}, "capability", "capability"),
]


@pytest.mark.parametrize(("key", "given_values", "solve_for", "at_fault"), REFUSED)
def test_bad_input_is_refused_in_sentences(key, given_values, solve_for, at_fault):
    with pytest.raises(InvalidInput) as refusal:
        calculate(key, given_values, solve_for)
    keys = [name for name, _ in refusal.value.mistakes]
    assert at_fault in keys
    for _, sentence in refusal.value.mistakes:
        assert sentence.endswith(".")
        assert sentence.replace("\u2009", " ").isprintable()
        assert sentence[0].isupper() or sentence[0] == "“"


def test_all_mistakes_are_told_at_once():
    with pytest.raises(InvalidInput) as refusal:
        calculate("fret-positions", {"scale_length": "x", "frets": 10**4, "fret": "1/0"})
    assert {key for key, _ in refusal.value.mistakes} == {"scale_length", "frets", "fret"}


def test_contradicting_values_are_told_apart_from_an_answer():
    with pytest.raises(InvalidInput, match="contradict"):
        calculate(
            "string-tension",
            {"diameter": "0.25 mm", "density": 7850, "unit_weight": "9 g/m", "frequency": 330},
        )


def test_an_unknown_calculator_is_a_key_error():
    with pytest.raises(KeyError):
        calculate("../../etc/passwd", {})


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(KEYS), st.data())
def test_no_text_makes_it_fall_over(key, data):
    quantity = data.draw(st.sampled_from(CATALOGUE[key].quantities))
    text = data.draw(st.text(max_size=40))
    with suppress(InvalidInput):  # anything else is a fault
        assert calculate(key, {quantity.key: text}).values


LOADED = """
import sys
import app.domain
from app.domain.calculators import CATALOGUE, calculate
for key in {keys!r}:
    calculate(key, {{}})
heavy = ("flask", "sqlalchemy", "sympy", "numpy", "ortools", "scipy", "pydantic")
print([name for name in heavy if name in sys.modules])
"""


def test_neither_importing_nor_computing_loads_anything_heavy():
    without_solver = [key for key in KEYS if key != "cut-list"]
    answer = subprocess.run(
        [sys.executable, "-c", LOADED.format(keys=without_solver)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert answer.stdout.strip() == "[]"


def test_topics_hold_every_calculator_once():
    assert sorted(key for keys in TOPICS.values() for key in keys) == sorted(KEYS)
