"""Wood movement: the moisture content a room gives, and what a board's width does with it."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Outline
from app.domain.calculators.engine.woods import BY_KEY, WOODS

BOARD_THICKNESS_M = 0.022
LINEAR_FROM, LINEAR_TO = 0.06, 0.14


@dataclass(frozen=True, slots=True)
class Inputs:
    wood: str
    cut: str
    width_m: float
    moisture_content: float
    new_moisture_content: float


@dataclass(frozen=True, slots=True)
class Result:
    width_change_m: float
    new_width_m: float
    dimensional_change_coefficient: float


def width_change_m(
    width_m: float, coefficient: float, moisture_content: float, new_moisture_content: float
) -> float:
    """Change of width (m), swelling positive: D C (M2 - M1), Wood Handbook eq. 13-2.

    `coefficient` is per 1 of moisture content (100 times the printed one, which is per 1 %).
    """
    return width_m * coefficient * (new_moisture_content - moisture_content)


def coefficient(wood: str, cut: str) -> float:
    """Dimensional change per 1 of moisture content: tangential if flatsawn, else radial."""
    species = BY_KEY[wood]
    return 100 * (species.change_tangential if cut == "flatsawn" else species.change_radial)


def compute(inputs: Inputs) -> Result:
    per_content = coefficient(inputs.wood, inputs.cut)
    change = width_change_m(
        inputs.width_m, per_content, inputs.moisture_content, inputs.new_moisture_content
    )
    return Result(change, inputs.width_m + change, per_content)


def show(inputs: Inputs, result: Result) -> ShownValue:
    return ShownValue(drawing=_drawing(inputs, result), notes=_notes(inputs))


def _notes(inputs: Inputs) -> tuple[str, ...]:
    species = BY_KEY[inputs.wood]
    notes = [
        (
            f"{species.title} from green to ovendry: {species.shrinkage_radial:g} % radial, "
            f"{species.shrinkage_tangential:g} % tangential, {species.shrinkage_volumetric:g} % volume."
        )
    ]
    if species.recalled:
        notes.append(f"From memory of the tables, not read again: {species.recalled}.")
    contents = (inputs.moisture_content, inputs.new_moisture_content)
    if min(contents) < LINEAR_FROM or max(contents) > LINEAR_TO:
        notes.append(
            "A moisture content lies outside 6 to 14 %, where the coefficients were measured: "
            "take the change as an estimate."
        )
    return tuple(notes)


def _drawing(inputs: Inputs, result: Result) -> Drawing:
    before, after = inputs.width_m * 1000, result.new_width_m * 1000
    thick = BOARD_THICKNESS_M * 1000
    lower = thick + 26
    shapes = (
        Outline(_board(0, before, thick), closed=True, line="thick"),
        Dimension((0, 0), (before, 0), f"{before:.1f} mm", offset_mm=-8),
        Label((before / 2, thick / 2), f"before: {100 * inputs.moisture_content:.1f} % moisture"),
        Outline(_board(lower, after, thick), closed=True, line="dashed"),
        Dimension((0, lower), (after, lower), f"{after:.1f} mm", offset_mm=-8),
        Label(
            (after / 2, lower + thick / 2),
            f"after: {100 * inputs.new_moisture_content:.1f} % moisture",
        ),
    )
    verb = "wider" if after >= before else "narrower"
    return Drawing(
        "The board before and after",
        f"End view of a board {before:.1f} mm wide: it becomes {abs(after - before):.2f} mm {verb}.",
        shapes,
    )


def _board(top: float, width: float, thick: float) -> tuple[tuple[float, float], ...]:
    return (0.0, top), (width, top), (width, top + thick), (0.0, top + thick)


def _content_relation(content: str, temperature: str, humidity: str) -> Relation:
    """Hailwood-Horrobin between a moisture content, a temperature and a humidity.

    Wood Handbook eq. 4-5 with its coefficients for degrees Celsius.
    """
    t = f"({temperature} - 273.15)"
    weight = f"(349 + 1.29*{t} + 0.0135*{t}**2)"
    kh = f"((0.805 + 0.000736*{t} - 0.00000273*{t}**2)*{humidity})"
    k1 = f"(6.27 - 0.00938*{t} - 0.000303*{t}**2)"
    k2 = f"(1.91 + 0.0407*{t} - 0.000293*{t}**2)"
    hydrated = f"({k1}*{kh} + 2*{k1}*{k2}*{kh}**2)/(1 + {k1}*{kh} + {k1}*{k2}*{kh}**2)"
    formula = (
        f"{{{content}}} = frac(18, W) * frac(x, 1 - x)"
        " + frac(18, W) * frac(K_1 * x + 2 * K_1 * K_2 * x^2, 1 + K_1 * x + K_1 * K_2 * x^2), "
        f"quad x = K * {{{humidity}}}"
    )
    return Relation(
        f"{content} = 18/{weight}*({kh}/(1 - {kh}) + {hydrated})",
        {content: formula, humidity: formula},
        numeric=frozenset({humidity}),
    )


CALCULATOR = Calculator(
    key="wood-movement",
    title="Wood movement",
    question="How much wider or narrower does a board become when the season changes?",
    quantities=(
        Quantity(
            "wood",
            'upright("wood")',
            "wood",
            "number",
            default="maple-sugar",
            form="choice",
            choices=tuple((wood.key, wood.title) for wood in WOODS),
        ),
        Quantity(
            "cut",
            'upright("cut")',
            "way the board is cut",
            "number",
            default="flatsawn",
            form="choice",
            choices=(
                ("flatsawn", "flatsawn: tangential across the width"),
                ("quartersawn", "quartersawn: radial across the width"),
            ),
        ),
        Quantity("width", "D", "width across the grain", "length", 1, 2000, 330),
        Quantity("temperature", "T_1", "temperature now", "temperature", -1, 60, 21),
        Quantity("humidity", "h_1", "relative humidity now", "percentage", 1, 95, 30),
        Quantity("new_temperature", "T_2", "temperature later", "temperature", -1, 60, 24),
        Quantity("new_humidity", "h_2", "relative humidity later", "percentage", 1, 95, 60),
        Quantity(
            "moisture_content", "M_1", "moisture content now", "percentage", 0, 30, 6.2, digits=3
        ),
        Quantity(
            "new_moisture_content",
            "M_2",
            "moisture content later",
            "percentage",
            0,
            30,
            10.9,
            digits=3,
        ),
        Quantity("width_change", "Delta D", "change of width (+ wider)", "length", -500, 500, 2),
        Quantity("new_width", "D_2", "width later", "length", 0.5, 2500, digits=5),
        Quantity(
            "dimensional_change_coefficient",
            "C",
            "dimensional change coefficient",
            "number",
            0,
            1,
            note="per 1 of moisture content: 100 times the printed figure per 1 %",
        ),
    ),
    answers=("width_change", "new_width", "dimensional_change_coefficient"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        _content_relation("moisture_content", "temperature", "humidity"),
        _content_relation("new_moisture_content", "new_temperature", "new_humidity"),
    ),
    formulas={
        "width_change": "{width_change:mm} = {width:mm} * {dimensional_change_coefficient}"
        " * ({new_moisture_content} - {moisture_content})",
        "new_width": "{new_width} = {width:mm} + {width_change:mm}",
    },
    numeric={"width_change": ("width", "moisture_content", "new_moisture_content")},
    limits=(
        "Coefficients hold from 6 to 14 % moisture content; outside, the change is an estimate.",
        "A board is rarely purely flatsawn or quartersawn: expect less than the flatsawn figure.",
        "Wood needs weeks to follow the air of the room, longer under a finish.",
    ),
    conventions=(
        (
            "Moisture content from temperature and humidity by the Hailwood-Horrobin equation for "
            "degrees Celsius; the printed table differs from it by up to 0.1 % at room conditions."
        ),
        "In that equation W, K, K₁ and K₂ depend on the temperature alone (Wood Handbook, p. 4-3).",
        "A moisture content read from a meter may be given instead of the humidity.",
        "Width change is positive when the board swells.",
    ),
    source="USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010), "
    "eq. 4-5, eq. 13-2, Tables 4-3, 4-4 and 13-5",
    example=CalculatorExample(
        given={
            "wood": "walnut-black",
            "cut": "flatsawn",
            "width": "13 in",
            "moisture_content": "7 %",
            "new_moisture_content": "10 %",
        },
        expected={"width_change": "0.10686 in"},
        source="13.0 in x 0.00274 x 3 = 0.10686 in; coefficient from Wood Handbook Table 13-5",
    ),
)
