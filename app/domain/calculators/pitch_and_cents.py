"""Pitch and cents: from note name to frequency and back, and intervals in cents."""

from dataclasses import dataclass

from app.domain import pitch
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
from app.domain.calculators.engine.pictures import Partial, Sound, line_chart


@dataclass(frozen=True, slots=True)
class Inputs:
    """Frequencies in Hz."""

    note: str
    tuning_hz: float
    frequency_hz: float
    second_frequency_hz: float


@dataclass(frozen=True, slots=True)
class Result:
    """Frequencies in Hz, intervals in cents."""

    note_frequency_hz: float
    interval_cents: float
    frequency_ratio: float
    nearest_note: str
    deviation_cents: float


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput for a text that is no note."""
    try:
        number = pitch.note_number(inputs.note)
    except ValueError as mistake:
        raise InvalidInput([("note", str(mistake))]) from None
    nearest, off = pitch.nearest_note(inputs.frequency_hz, inputs.tuning_hz)
    return Result(
        note_frequency_hz=pitch.frequency_hz(number, inputs.tuning_hz),
        interval_cents=pitch.cents(inputs.frequency_hz, inputs.second_frequency_hz),
        frequency_ratio=inputs.second_frequency_hz / inputs.frequency_hz,
        nearest_note=nearest,
        deviation_cents=off,
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The octave above the note, and the two tones."""
    columns = (
        ResultColumn("note", "Note"),
        ResultColumn("note_frequency", "Frequency", "frequency", "Hz", "Hz", (3, 3)),
    )
    first = pitch.note_number(inputs.note)
    octave = [
        (number, pitch.frequency_hz(number, inputs.tuning_hz))
        for number in range(first, first + 13)
    ]
    return ShownValue(
        table=ResultTable(
            "The octave above the note",
            columns,
            tuple((pitch.note_name(number), frequency) for number, frequency in octave),
        ),
        chart=line_chart(
            "Frequency over an octave",
            f"Frequency doubles from {result.note_frequency_hz:.2f} Hz over twelve semitones, "
            "each step larger than the last.",
            [(number - first, frequency) for number, frequency in octave],
            f"Semitones above {inputs.note}",
            "Frequency (Hz)",
        ),
        sound=Sound(
            "The two frequencies",
            (Partial(inputs.frequency_hz, 0.5), Partial(inputs.second_frequency_hz, 0.5)),
        ),
    )


CALCULATOR = Calculator(
    key="pitch-and-cents",
    title="Pitch and cents",
    question="Which frequency is this note, and how far apart are two pitches?",
    quantities=(
        Quantity("note", "p", "note", "number", default="A4", form="text"),
        Quantity("tuning", "f_A", "tuning of A4", "frequency", 300, 600, 440, digits=6),
        Quantity("frequency", "f", "first frequency", "frequency", 1, 40000, 440, digits=6),
        Quantity(
            "second_frequency", "f_2", "second frequency", "frequency", 1, 40000, 442, digits=6
        ),
        Quantity(
            "note_frequency", "f_p", "frequency of the note", "frequency", 1, 40000, 440, digits=7
        ),
        Quantity("interval", "c", "interval", "interval", -20000, 20000, 8, digits=6),
        Quantity("frequency_ratio", "r", "frequency ratio", "ratio", 1e-5, 1e5, digits=6),
        Quantity("nearest_note", "p_f", "note nearest the first frequency", "number", form="text"),
        Quantity("deviation", "delta", "first frequency above that note", "interval", -50, 50),
    ),
    answers=("note_frequency", "interval", "frequency_ratio", "nearest_note", "deviation"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "interval = 1200*log(second_frequency/frequency)/log(2)",
            {
                "interval": "{interval} = 1200 * log_2(frac({second_frequency}, {frequency}))",
                "second_frequency": "{second_frequency} = {frequency} * 2^(frac({interval}, 1200))",
                "frequency": "{frequency} = {second_frequency} * 2^(-frac({interval}, 1200))",
            },
        ),
        Relation(
            "frequency_ratio = second_frequency/frequency",
            {
                "frequency_ratio": "{frequency_ratio} = frac({second_frequency}, {frequency})",
                "second_frequency": "{second_frequency} = {frequency_ratio} * {frequency}",
                "frequency": "{frequency} = frac({second_frequency}, {frequency_ratio})",
            },
        ),
    ),
    numeric={"note_frequency": ("tuning",)},
    formulas={
        "note_frequency": "{note_frequency} = {tuning} * 2^(frac(m - 69, 12))",
        "deviation": "{deviation} = 1200 * log_2(frac({frequency}, f_m))",
    },
    limits=("Equal temperament of twelve semitones.",),
    conventions=(
        "A4 is 440 Hz as ISO 16 fixes it, unless another tuning is given.",
        "m is the note's number, counted in semitones so that A4 is 69 and middle C is C4.",
        "An interval is positive upwards: the second frequency above the first.",
    ),
    source="ISO 16:1975 for A4; definition of the cent, 1200 to the octave",
    example=CalculatorExample(
        given={"note": "C4"},
        expected={"note_frequency": "261.6256 Hz"},
        source="equal temperament from A4 = 440 Hz; recomputed with librosa and music21",
        tolerance=1e-6,
    ),
)
