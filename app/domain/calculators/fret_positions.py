"""Fret positions: where each slot is sawn, and what a slot sawn off its place sounds like.

Equal division of the octave: fret n stands L (1 − 2^(−n/N)) from the nut. The rule of 18 is
there for comparison.
"""

import math
from dataclasses import dataclass
from operator import itemgetter

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    Relation,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Line, Shape

CHROMATIC = "chromatic"
DIATONIC = "diatonic"
# Semitones of the seven frets of an octave, and the one fret added to the first octave.
DIATONIC_SEMITONES = (2, 4, 5, 7, 9, 10, 12)
ADDED_FRET = ("6½", 11)
NUT_WIDTH_MM = 43.0
END_WIDTH_MM = 56.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """Lengths in m; ``fret`` and ``frets`` count steps of ``divisions`` to the octave."""

    divisions: float
    fret_pattern: str
    frets: int
    fret: float
    scale_length_m: float
    slot_offset_m: float


@dataclass(frozen=True, slots=True)
class Fret:
    """A row of the fret table: name, steps from the nut, lengths in m."""

    name: str
    step: int
    distance_m: float
    spacing_m: float
    remaining_m: float
    rule_of_18_m: float | None


@dataclass(frozen=True, slots=True)
class Result:
    """Lengths in m, error in cents (sharp positive), and every fret."""

    fret_distance_m: float
    remaining_length_m: float
    fret_spacing_m: float
    slot_error_cents: float
    rule_of_18_distance_m: float
    frets: tuple[Fret, ...]


def distance_m(scale_length_m: float, step: float, divisions: float = 12) -> float:
    """Nut to fret in m, equal division of the octave (−expm1 keeps small steps exact)."""
    return -scale_length_m * math.expm1(-step / divisions * math.log(2))


def rule_of_18_m(scale_length_m: float, step: float) -> float:
    """Nut to fret in m where every space is an eighteenth of what remains."""
    return scale_length_m * (1 - math.pow(17 / 18, step))


def steps_of(pattern: str, frets: int) -> list[tuple[str, int]]:
    """Name and step of every fret of a fretboard."""
    if pattern == CHROMATIC:
        return [(str(step), step) for step in range(1, frets + 1)]
    named = []
    for index in range(frets):
        octave, place = divmod(index, len(DIATONIC_SEMITONES))
        named.append((str(index + 1), 12 * octave + DIATONIC_SEMITONES[place]))
    return sorted([*named, ADDED_FRET], key=itemgetter(1))[:frets]


def compute(inputs: Inputs) -> Result:
    """Every fret. Raises InvalidInput where the slot would lie beyond the saddle."""
    length = inputs.scale_length_m
    distance = distance_m(length, inputs.fret, inputs.divisions)
    remaining = length - distance
    if inputs.slot_offset_m >= remaining:
        sentence = "The slot would lie beyond the saddle: give a smaller distance off its place."
        raise InvalidInput([("slot_offset", sentence)])
    before = distance_m(length, inputs.fret - 1, inputs.divisions)
    return Result(
        fret_distance_m=distance,
        remaining_length_m=remaining,
        fret_spacing_m=distance - before,
        slot_error_cents=-1200 * math.log2(1 - inputs.slot_offset_m / remaining),
        rule_of_18_distance_m=rule_of_18_m(length, inputs.fret * 12 / inputs.divisions),
        frets=tuple(_frets(inputs)),
    )


def _frets(inputs: Inputs) -> list[Fret]:
    if inputs.fret_pattern == DIATONIC and inputs.divisions != 12:
        sentence = "The diatonic pattern is counted in semitones: leave divisions at 12."
        raise InvalidInput([("divisions", sentence)])
    rows: list[Fret] = []
    before = 0.0
    for name, step in steps_of(inputs.fret_pattern, inputs.frets):
        distance = distance_m(inputs.scale_length_m, step, inputs.divisions)
        by_18 = rule_of_18_m(inputs.scale_length_m, step) if inputs.divisions == 12 else None
        rest = inputs.scale_length_m - distance
        rows.append(Fret(name, step, distance, distance - before, rest, by_18))
        before = distance
    return rows


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The fret table, the fretboard to scale, and what to watch."""
    columns = (
        ResultColumn("fret", "Fret", "count"),
        ResultColumn("fret_distance", "From the nut", "length", "mm", "in"),
        ResultColumn("fret_spacing", "From the fret before", "length", "mm", "in"),
        ResultColumn("remaining_length", "To the saddle", "length", "mm", "in"),
        ResultColumn("rule_of_18_distance", "Rule of 18", "length", "mm", "in"),
    )
    rows = tuple(
        (f.name, f.distance_m, f.spacing_m, f.remaining_m, f.rule_of_18_m) for f in result.frets
    )
    notes = []
    if inputs.fret > result.frets[-1].step:
        notes.append("The fret asked for lies beyond the last fret of this fretboard.")
    elif all(inputs.fret != fret.step for fret in result.frets):
        notes.append("The diatonic pattern has no fret at this step: the table lists those it has.")
    if result.frets[-1].spacing_m < 0.006:
        notes.append(
            "The last fret space is under 6 mm: too narrow to finger (common practice, no source)."
        )
    return ShownValue(
        table=ResultTable("Fret positions", columns, rows),
        drawing=_drawing(inputs, result),
        notes=tuple(notes),
    )


def _drawing(inputs: Inputs, result: Result) -> Drawing:
    length = inputs.scale_length_m * 1000
    shapes: list[Shape] = [_across("thick", 0.0, length), _across("dashed", length, length)]
    for fret in result.frets:
        at = fret.distance_m * 1000
        shapes.append(_across("thin", at, length))
        shapes.append(Label((at, END_WIDTH_MM / 2 + 8), fret.name))
    end = result.frets[-1].distance_m * 1000
    for side in (-1, 1):
        start = (0.0, side * NUT_WIDTH_MM / 2)
        shapes.append(Line(start, (end, side * _width(end, length) / 2)))
    at = result.fret_distance_m * 1000
    shapes.append(Dimension((0.0, -44.0), (at, -44.0), f"{at:.2f} mm"))
    shapes.append(Dimension((0.0, -72.0), (length, -72.0), f"{length:.1f} mm"))
    return Drawing(
        "Fretboard from above",
        f"A fretboard to scale: nut at the left, {len(result.frets)} frets, the saddle dashed at "
        f"{length:.1f} mm; the marked fret lies {at:.2f} mm from the nut.",
        tuple(shapes),
    )


def _width(at: float, length: float) -> float:
    return NUT_WIDTH_MM + (END_WIDTH_MM - NUT_WIDTH_MM) * at / length


def _across(stroke: str, at: float, length: float) -> Line:
    half = _width(at, length) / 2
    line = Line((at, -half), (at, half))
    return line if stroke == "thin" else Line(line.start, line.end, stroke)  # type: ignore[arg-type]


CALCULATOR = Calculator(
    key="fret-positions",
    title="Fret positions",
    question="How far from the nut is each fret sawn?",
    quantities=(
        Quantity("divisions", "N", "steps to the octave", "count", 1, 72, 12, form="whole"),
        Quantity(
            "fret_pattern",
            "p",
            "fret pattern",
            "number",
            default=CHROMATIC,
            form="choice",
            choices=((CHROMATIC, "every step"), (DIATONIC, "diatonic with one added fret, 6½")),
        ),
        Quantity("frets", "n_max", "number of frets", "count", 1, 48, 22, form="whole"),
        Quantity("fret", "n", "fret, in steps from the nut", "count", 1, 144, 12, form="whole"),
        Quantity("scale_length", "L", "scale length", "length", 50, 3000, 648, digits=6),
        Quantity(
            "slot_offset", "delta", "distance of the slot off its place", "length", -50, 50, 0.5
        ),
        Quantity("fret_distance", "d", "nut to fret", "length", 0, 3000, 324, digits=6),
        Quantity("remaining_length", "R", "fret to saddle", "length", 0.001, 3000, digits=6),
        Quantity("fret_spacing", "s", "space below the fret", "length", 0.001, 3000, digits=5),
        Quantity("slot_error", "c", "pitch error of the slot", "interval", -1e4, 1e4, 5),
        Quantity(
            "rule_of_18_distance", "d_18", "nut to fret, rule of 18", "length", 0, 3000, digits=6
        ),
    ),
    answers=(
        "fret_distance",
        "remaining_length",
        "fret_spacing",
        "slot_error",
        "rule_of_18_distance",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "fret_distance = scale_length*(1 - 2**(-fret/divisions))",
            {
                "fret_distance": "{fret_distance} = {scale_length:mm} * "
                "(1 - 2^(-frac({fret}, {divisions})))",
                "scale_length": "{scale_length} = frac({fret_distance:mm}, "
                "1 - 2^(-frac({fret}, {divisions})))",
                "fret": "{fret} = -{divisions} * log_2(1 - "
                "frac({fret_distance:mm}, {scale_length:mm}))",
            },
        ),
        Relation(
            "remaining_length = scale_length*2**(-fret/divisions)",
            {
                "remaining_length": "{remaining_length} = {scale_length:mm} * "
                "2^(-frac({fret}, {divisions}))",
                "scale_length": "{scale_length} = {remaining_length:mm} * "
                "2^(frac({fret}, {divisions}))",
            },
        ),
        Relation(
            "fret_spacing = scale_length*2**(-fret/divisions)*(2**(1/divisions) - 1)",
            {
                "fret_spacing": "{fret_spacing} = {scale_length:mm} * "
                "2^(-frac({fret}, {divisions})) * (2^(frac(1, {divisions})) - 1)",
                "scale_length": "{scale_length} = frac({fret_spacing:mm} * "
                "2^(frac({fret}, {divisions})), 2^(frac(1, {divisions})) - 1)",
            },
        ),
        Relation(
            "slot_error = -1200*log(1 - slot_offset/remaining_length)/log(2)",
            {
                "slot_error": "{slot_error} = -1200 * log_2(1 - "
                "frac({slot_offset:mm}, {remaining_length:mm}))",
                "slot_offset": "{slot_offset} = {remaining_length:mm} * "
                "(1 - 2^(-frac({slot_error}, 1200)))",
            },
        ),
    ),
    formulas={
        "rule_of_18_distance": "{rule_of_18_distance} = {scale_length:mm} * "
        "(1 - (frac(17, 18))^({fret} * frac(12, {divisions})))",
    },
    limits=(
        (
            "Positions are for an ideal string: pressing a string down raises its pitch, which the "
            "saddle set-back corrects."
        ),
        "Positions are measured from the front edge of the nut to the centre of the slot.",
    ),
    conventions=(
        (
            "Frets count steps of the octave from the nut; on the diatonic pattern a fret is found "
            "by its semitones, and the table names it as players do."
        ),
        "A slot off its place counts positive towards the saddle, which sounds sharp.",
        "The rule of 18 takes a string-length ratio of 17/18 to the semitone, not 18/19.",
    ),
    source="Varieschi and Gower, American Journal of Physics 78 (2010) 47, section II.A",
    example=CalculatorExample(
        given={"scale_length": "650 mm", "fret": 1, "frets": 22, "fret_pattern": CHROMATIC},
        expected={"fret_distance": "36.4817 mm", "remaining_length": "613.5183 mm"},
        source="Varieschi and Gower, American Journal of Physics 78 (2010) 47, section II.A; "
        "value recomputed",
        tolerance=2e-6,
    ),
)
