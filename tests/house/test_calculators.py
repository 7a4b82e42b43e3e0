"""What holds for every calculator in the catalogue, and nobody has to remember."""

import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
import typst

from app.domain.calculators import CATALOGUE, TOPICS, Calculation, InvalidInput, calculate
from app.domain.calculators.engine.calculation import symbols_in
from app.domain.calculators.engine.calculator import Calculator, Value
from app.domain.calculators.engine.reading import read_value
from app.domain.quantities import KINDS

KEYS = list(CATALOGUE)
CODE_IN_FORMULA = re.compile(r"#|\bstd\b")
LONGEST_FORMULA = 600
UNIT_WORDS = {
    "mm",
    "cm",
    "m",
    "in",
    "inch",
    "ft",
    "hz",
    "khz",
    "kg",
    "lb",
    "lbf",
    "pa",
    "psi",
    "ohm",
}

every_calculator = pytest.mark.parametrize("key", KEYS)


def states(calculator: Calculator) -> Iterator[Calculation]:
    """The worked example, the defaults, and the defaults solved for every quantity that can be."""
    yield calculate(calculator.key, calculator.example.given, calculator.example.solve_for)
    yield calculate(calculator.key, {})
    for unknown in calculator.solvable:
        # An optional quantity left out leaves what hangs on it open.
        with suppress(InvalidInput):
            yield calculate(calculator.key, {}, unknown)


def test_topics_name_every_calculator_once_and_in_words_of_the_trade():
    assert len(KEYS) == len(set(KEYS))
    for key in KEYS:
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", key), key
    for topic, keys in TOPICS.items():
        assert topic == topic.strip().capitalize()
        assert keys


@every_calculator
def test_a_key_names_its_file(key):
    found = import_module(f"app.domain.calculators.{key.replace('-', '_')}")
    assert found.CALCULATOR is CATALOGUE[key]
    assert found.CALCULATOR.key == key


@every_calculator
def test_every_quantity_has_a_unit_a_symbol_and_a_name(key):
    calculator = CATALOGUE[key]
    keys = [quantity.key for quantity in calculator.quantities]
    assert len(keys) == len(set(keys))
    for quantity in calculator.quantities:
        assert quantity.symbol, quantity.key
        assert quantity.name, quantity.key
        assert quantity.kind in KINDS
        symbols = {unit.symbol for unit in quantity.of_kind.units}
        assert quantity.si_unit in symbols, quantity.key
        assert quantity.shop_unit in symbols, quantity.key
        if quantity.numeric:
            assert quantity.low < quantity.high, quantity.key
        if quantity.form == "choice":
            assert quantity.default in dict(quantity.choices)


@every_calculator
def test_outside_names_are_words_and_carry_no_unit(key):
    for quantity in CATALOGUE[key].quantities:
        assert re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", quantity.key)
        assert quantity.key.rsplit("_", 1)[-1] not in UNIT_WORDS or "_" not in quantity.key


def test_one_key_means_one_kind_of_quantity_everywhere():
    kinds: dict[str, set[tuple[str, str]]] = {}
    for calculator in CATALOGUE.values():
        for quantity in calculator.quantities:
            listed = quantity.form.removesuffix("s") if quantity.numeric else quantity.form
            kinds.setdefault(quantity.key, set()).add((quantity.kind, listed))
    shared = {key: found for key, found in kinds.items() if len({kind for kind, _ in found}) > 1}
    assert shared == {}


@every_calculator
def test_the_page_can_state_source_limits_conventions_and_question(key):
    calculator = CATALOGUE[key]
    assert calculator.title
    assert calculator.question.endswith("?")
    assert calculator.source
    assert calculator.limits
    assert calculator.conventions
    for sentence in (*calculator.limits, *calculator.conventions):
        assert sentence.strip().endswith((".", "?")), sentence
    assert set(calculator.answers) <= {quantity.key for quantity in calculator.quantities}


@every_calculator
def test_the_worked_example_comes_out_as_its_source_says(key):
    calculator = CATALOGUE[key]
    example = calculator.example
    assert example.source
    assert example.expected
    found = calculate(key, example.given, example.solve_for)
    for name, written in example.expected.items():
        expected = read_value(calculator.quantity(name), written)
        assert same(found.values[name], expected, example.tolerance), (name, found.si[name])
    for name in example.expected:
        assert name not in example.given, "an example must not be given its own answer"


def same(found: Value, expected: Value, tolerance: float) -> bool:
    if isinstance(expected, float | int) and isinstance(found, float | int):
        return found == pytest.approx(expected, rel=tolerance)
    # A thin space before a unit is the page's typography, not a different answer.
    return " ".join(str(found).split()) == " ".join(str(expected).split())


@every_calculator
def test_looking_beats_reading(key):
    shown = calculate(key, {})
    picture = shown.drawing or shown.chart
    assert picture is not None
    assert picture.title
    assert picture.description.strip().endswith(".")
    if shown.drawing is not None:
        left, top, right, bottom = shown.drawing.bounds
        assert right > left
        assert bottom >= top
        assert shown.drawing.exaggerated > 0


@every_calculator
def test_a_chart_holds_its_values_and_no_address(key):
    shown = calculate(key, {})
    if shown.chart is None:
        return
    text = json.dumps({k: v for k, v in shown.chart.spec.items() if k != "$schema"})
    assert "://" not in text
    assert "url" not in shown.chart.spec["data"] if "data" in shown.chart.spec else True
    assert "NaN" not in text
    assert "Infinity" not in text


@every_calculator
def test_the_default_state_answers_in_both_systems_of_units(key):
    shown = calculate(key, {})
    assert shown.si.keys() == shown.us.keys()
    for quantity in CATALOGUE[key].quantities:
        if quantity.key in shown.values:
            assert shown.si[quantity.key]


@every_calculator
def test_whatever_can_be_the_unknown_is_found_from_the_defaults_or_names_what_is_missing(key):
    calculator = CATALOGUE[key]
    optional = {quantity.key for quantity in calculator.quantities if quantity.optional}
    solved = {state.solve_for for state in states(calculator)}
    for unknown in set(calculator.solvable) - solved:
        with pytest.raises(InvalidInput) as refused:
            calculate(key, {}, unknown)
        sentence = refused.value.mistakes[0][1]
        assert sentence.endswith(".")
        assert any(name in sentence for name in optional | set(calculator.answers)), unknown


def formulas() -> dict[str, str]:
    """Every formula string that a page or worksheet may set, by where it comes from."""
    found: dict[str, str] = {}
    for key, calculator in CATALOGUE.items():
        for quantity in calculator.quantities:
            found[f"{key} {quantity.key}"] = quantity.symbol
        for index, relation in enumerate(calculator.relations):
            for name, template in relation.formulas.items():
                found[f"{key} relation {index} {name}"] = symbols_in(calculator, template)
        for name, template in calculator.formulas.items():
            found[f"{key} formula {name}"] = symbols_in(calculator, template)
        for state in states(calculator):
            for step in state.steps:
                where = f"{key} {state.solve_for} step {step.key}"
                found[where] = step.formula
                found[f"{where} with numbers"] = step.substitution
                found[f"{where} result"] = step.result
    return found


def test_every_formula_string_is_mathematics_that_typst_sets(tmp_path: Path):
    found = formulas()
    reaching_out = {where: text for where, text in found.items() if CODE_IN_FORMULA.search(text)}
    assert reaching_out == {}
    assert all(0 < len(text) <= LONGEST_FORMULA for text in found.values())
    if not _sets(found.values(), tmp_path):
        # Only on failure one by one, to name the culprits.
        bad = {where: text for where, text in found.items() if not _sets([text], tmp_path)}
        pytest.fail(f"formulas that Typst cannot set: {bad}")


def _sets(texts, folder: Path) -> bool:
    source = "\n\n".join(f"$ {text} $" for text in texts)
    page = folder / "formulas.typ"
    page.write_text(source, encoding="utf-8")
    try:
        return typst.compile(str(page)).startswith(b"%PDF")
    except typst.TypstError:
        return False


@every_calculator
def test_no_number_stands_beside_a_symbol_without_a_product_dot(key):
    for state in states(CATALOGUE[key]):
        for step in state.steps:
            for text in (step.formula, step.substitution):
                assert unmarked_products(text) == [], text


def unmarked_products(formula: str) -> list[str]:
    """Places where a number follows a symbol or a bracket with nothing between: K 0.6."""
    plain = re.sub(r'"[^"]*"', "unit", formula)
    found = re.finditer(r"([\w.)]+|\)) +(?=[0-9])", plain)
    spelt = {"dot.op", "times", "thin", "parallel", "quad", "sum"}
    return [match[0] + plain[match.end()] for match in found if match[1] not in spelt]


@every_calculator
def test_every_quantity_that_can_be_the_unknown_shows_how(key):
    calculator = CATALOGUE[key]
    for relation in calculator.relations:
        for name, template in relation.formulas.items():
            assert "=" in template, (key, name)
            named = set(re.findall(r"\{([a-z_0-9]+)", template))
            assert named <= {quantity.key for quantity in calculator.quantities}
            assert name in named, f"{key}: the formula of {name} must name it"


def test_computing_loads_no_algebra_no_web_and_no_database():
    # A fresh interpreter: this one has imported nearly everything already.
    program = """
import sys
from app.domain.calculators import CATALOGUE, calculate

heavy = {"sympy", "flask", "sqlalchemy", "pydantic", "typst", "vl_convert"}
keys = [key for key in CATALOGUE if key != "cut-list"]
for key in keys:
    calculate(key, CATALOGUE[key].example.given, CATALOGUE[key].example.solve_for)
loaded = sorted((heavy | {"ortools", "numpy"}) & sys.modules.keys())
calculate("cut-list", {})
print(loaded, sorted(heavy & sys.modules.keys()))
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[] []"


# --- one key per quantity ------------------------------------------------------------------------

SEED = Path(__file__).resolve().parents[2] / "seed_data"
BUILDS = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
    for path in sorted((SEED / "builds").glob("*.toml"))
}
# What an instrument has and no calculator asks for, with the reason.
OF_THE_BUILD_ALONE = {
    "a dimension of one part, where a calculator speaks of any length, width or thickness": """
        blank_length blank_width body_depth body_length body_thickness box_depth box_length
        box_width brace_height edge_radius fretboard_thickness head_width hollow_depth
        last_fret_width lower_bout neck_pocket_depth neck_thickness neck_width panel_thickness
        side_length side_thickness tail_width top_thickness""",
    "a hole or bevel made with a tool of that size": """
        control_hole fret_end_bevel sound_hole_area sound_hole_diameter tuner_hole""",
    "wood of one part; a calculator's density is that of whatever it is given": """
        body_density panel_density""",
    "read over a fret, where fretting-stretch takes heights at the nut and at the saddle": """
        nut_clearance string_height""",
    "one reading that a check holds against its nominal, and that nothing is computed from": """
        block_angle board_straightness centreline_offset diagonal_difference fret_12_distance
        fret_12_ratio fret_rock half_length_ratio mass_change neck_bow neck_offset octave_ratio
        rim_gap rod_depth sawing_allowance side_length_difference spring_back""",
    "the worst or the mean of several readings": """
        fret_position_error fret_table_error intonation_error pitch_drift pitch_error""",
    "a count of faults or of joins": "continuity_points high_frets loose_braces loose_slips",
    "a trial of one panel": "plate_deflection tap_frequency",
    "holes in the bridge, which need not follow the spacing at the saddle": "string_hole_pitch",
}
# A question may give its value another name where it plays a part ("the first tone").
PARTS_PLAYED = {"amount", "first", "leg_a", "leg_b", "length", "measured", "second", "target"}


def own_quantities() -> Iterator[tuple[str, str, str]]:
    """Build, key and nominal of every quantity that an instrument of a build has."""
    for name, build in BUILDS.items():
        for quantity in build.get("quantities", ()):
            yield name, quantity["key"], quantity["nominal"]


def test_a_quantity_of_an_instrument_has_the_key_a_calculator_knows_it_by():
    known = {
        quantity.key for calculator in CATALOGUE.values() for quantity in calculator.quantities
    }
    listed = [key for keys in OF_THE_BUILD_ALONE.values() for key in keys.split()]
    used = {key for _, key, _ in own_quantities()}
    assert len(listed) == len(set(listed))
    assert used - known == set(listed)
    assert len(used & known) >= 15


@every_calculator
def test_a_calculator_takes_every_instruments_own_values(key):
    for quantity in CATALOGUE[key].quantities:
        for build, own, nominal in own_quantities():
            if own == quantity.key:
                assert read_value(quantity, nominal) is not None, build


def test_a_questions_value_is_named_as_the_calculators_quantity():
    misnamed = []
    for path in sorted((SEED / "concepts").glob("*.toml")):
        concept = tomllib.loads(path.read_text(encoding="utf-8"))
        for treatment in concept["treatments"]:
            for question in treatment.get("questions", ()):
                misnamed += [f"{path.stem} {question['key']}: {pair}" for pair in renamed(question)]
    assert misnamed == []


def renamed(question: dict[str, Any]) -> Iterator[str]:
    """Values drawn for one quantity of a calculator and named otherwise."""
    computed = question.get("computed")
    # These reckon with plain numbers or any length: a name of the question's own says more.
    anything = {"proportion", "percent-difference", "shop-fractions", "area-and-volume"}
    if not computed or computed["calculator"] in anything:
        return
    parameters = question.get("parameters", {})
    for key, value in computed["given"].items():
        whole = re.fullmatch(r"\{(\w+)\}", str(value))
        if whole is None or whole[1] in {key, *PARTS_PLAYED}:
            continue
        if "quantity" not in parameters[whole[1]]:
            yield f"{whole[1]} for {key}"
