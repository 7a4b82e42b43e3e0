"""Set tension: what a whole set of strings pulls on the neck and the bridge."""

from dataclasses import dataclass

from app.domain import pitch
from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import bar_chart
from app.domain.calculators.string_tension import tension_n


@dataclass(frozen=True, slots=True)
class Inputs:
    """Scale length in m, note names, unit weights in kg/m in the same order."""

    scale_length_m: float
    notes: tuple[str, ...]
    unit_weights_kg_per_m: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Result:
    """Tensions in N of each string, their sum and their largest difference."""

    total_tension_n: float
    tensions_n: tuple[float, ...]
    tension_spread_n: float
    frequencies_hz: tuple[float, ...]


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where notes and weights do not pair."""
    if len(inputs.notes) != len(inputs.unit_weights_kg_per_m):
        sentence = (
            f"Give one unit weight for each string: {len(inputs.notes)} notes, "
            f"{len(inputs.unit_weights_kg_per_m)} weights."
        )
        raise InvalidInput([("unit_weights", sentence)])
    try:
        numbers = [pitch.note_number(note) for note in inputs.notes]
    except ValueError as mistake:
        raise InvalidInput([("notes", str(mistake))]) from None
    frequencies = tuple(pitch.frequency_hz(number) for number in numbers)
    tensions = tuple(
        tension_n(weight, inputs.scale_length_m, frequency)
        for weight, frequency in zip(inputs.unit_weights_kg_per_m, frequencies, strict=True)
    )
    return Result(sum(tensions), tensions, max(tensions) - min(tensions), frequencies)


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Each string's share."""
    columns = (
        ResultColumn("string", "String", "count"),
        ResultColumn("note", "Note"),
        ResultColumn("frequency", "Frequency", "frequency", "Hz", "Hz", (2, 2)),
        ResultColumn("unit_weight", "Unit weight", "unit_weight", "g/m", "lb/in", (3, 7)),
        ResultColumn("tension", "Tension", "force", "N", "lbf", (1, 2)),
    )
    count = len(inputs.notes)
    strings = zip(
        inputs.notes,
        result.frequencies_hz,
        inputs.unit_weights_kg_per_m,
        result.tensions_n,
        strict=True,
    )
    rows = tuple((count - index, *string) for index, string in enumerate(strings))
    bars = [
        (f"{count - index} {note}", tension)
        for index, (note, tension) in enumerate(zip(inputs.notes, result.tensions_n, strict=True))
    ]
    notes = []
    if result.tension_spread_n > result.total_tension_n / count:
        notes.append("The strings pull very unevenly: the set will feel uneven under the fingers.")
    return ShownValue(
        table=ResultTable("Tension of each string", columns, rows),
        chart=bar_chart(
            "Tension of each string",
            f"{count} strings pull {result.total_tension_n:.0f} N together.",
            bars,
            "String",
            "Tension (N)",
        ),
        notes=tuple(notes),
    )


CALCULATOR = Calculator(
    key="set-tension",
    title="Set tension",
    question="What do all the strings pull together?",
    quantities=(
        Quantity("scale_length", "L", "scale length", "length", 20, 10000, 648, digits=6),
        Quantity(
            "notes",
            "p_i",
            "notes, lowest string first",
            "number",
            default=("E2", "A2", "D3", "G3", "B3", "E4"),
            form="texts",
            longest=24,
        ),
        Quantity(
            "unit_weights",
            "mu_i",
            "unit weights, lowest string first",
            "unit_weight",
            0.001,
            1000,
            default=(6.8, 4.2, 2.16, 1.15, 0.672, 0.398),
            form="numbers",
            longest=24,
        ),
        Quantity("total_tension", 'T_"set"', "total tension", "force", 0.01, 1e5, 440),
        Quantity("tensions", "T_i", "tension of each string", "force", form="numbers"),
        Quantity("tension_spread", "Delta T", "largest difference", "force", 0, 1e5),
    ),
    answers=("total_tension", "tensions", "tension_spread"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    numeric={"total_tension": ("scale_length",)},
    formulas={
        "total_tension": "{total_tension} = sum {unit_weights} * (2 * {scale_length} * f_i)^2"
    },
    limits=("Ideal strings, all on one scale length, tuned with A4 at 440 Hz.",),
    conventions=(
        (
            "Notes and weights stand in the same order, the lowest string first; strings are "
            "numbered from the highest."
        ),
        "The default weights are typical of a light steel set (from memory).",
    ),
    source="OpenStax, University Physics Volume 1, chapter 16, section 16.3; each string as in "
    "string tension, then added",
    example=CalculatorExample(
        given={"scale_length": "25.5 in", "notes": "E4 E4", "unit_weights": "0.39776 0.39776"},
        expected={"total_tension": "145.05 N"},
        source="twice the single string of the string tension example",
        tolerance=1e-3,
    ),
)
