"""Harmonics: the partials of an ideal string, where they rest, and which ones are heard."""

import math
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
from app.domain.calculators.engine.pictures import Partial, Sound, bar_chart

SILENT_DB = -60.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """Frequency in Hz, lengths in m; pluck and pickup are measured from the saddle."""

    frequency_hz: float
    harmonic: float
    node: int
    harmonics: int
    scale_length_m: float
    pluck_distance_m: float
    pickup_distance_m: float


@dataclass(frozen=True, slots=True)
class Partials:
    """One partial: Hz, cents from the nearest note, levels in dB below the strongest."""

    number: int
    frequency_hz: float
    note: str
    deviation_cents: float
    node_m: float
    pluck_level_db: float
    pickup_level_db: float


@dataclass(frozen=True, slots=True)
class Result:
    """Frequency in Hz, lengths in m, deviation in cents, levels in dB."""

    harmonic_frequency_hz: float
    wavelength_m: float
    node_distance_m: float
    deviation_cents: float
    node_fret: float | None
    nearest_note: str
    pluck_level_db: float
    pickup_level_db: float
    partials: tuple[Partials, ...]


def deviation_cents(harmonic: float) -> float:
    """How far partial n lies from the nearest equal-tempered interval, −50 to 50 cents."""
    interval = 1200 * math.log2(harmonic)
    return interval - 100 * round(interval / 100)


def pluck_amplitude(harmonic: float, share: float) -> float:
    """Velocity amplitude of partial n plucked at that share of the length, at n = 1 at most 1.

    A plucked string's displacement falls as sin(nπp)/n²; its velocity, which a magnetic pickup
    and a bridge answer to, as sin(nπp)/n.
    """
    return abs(math.sin(harmonic * math.pi * share)) / harmonic


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where pluck or pickup lie off the string or the node does not exist."""
    mistakes = [
        (key, f"{name} must lie between the nut and the saddle.")
        for key, name, distance in (
            ("pluck_distance", "The pluck", inputs.pluck_distance_m),
            ("pickup_distance", "The pickup", inputs.pickup_distance_m),
        )
        if distance >= inputs.scale_length_m
    ]
    if inputs.node > inputs.harmonic:
        sentence = f"Harmonic {inputs.harmonic:g} has nodes 1 to {inputs.harmonic:g}."
        mistakes.append(("node", sentence))
    if mistakes:
        raise InvalidInput(mistakes)
    partials = tuple(_partials(inputs))
    node = inputs.node * inputs.scale_length_m / inputs.harmonic
    rest = 1 - inputs.node / inputs.harmonic
    frequency = inputs.harmonic * inputs.frequency_hz
    at_pluck, at_pickup = _amplitudes(inputs, inputs.harmonic)
    loudest = _loudest(inputs)
    return Result(
        harmonic_frequency_hz=frequency,
        wavelength_m=2 * inputs.scale_length_m / inputs.harmonic,
        node_distance_m=node,
        deviation_cents=deviation_cents(inputs.harmonic),
        node_fret=-12 * math.log2(rest) if rest > 0 else None,
        nearest_note=pitch.nearest_note(frequency)[0],
        pluck_level_db=_db(at_pluck, loudest[0]),
        pickup_level_db=_db(at_pickup, loudest[1]),
        partials=partials,
    )


def _amplitudes(inputs: Inputs, harmonic: float) -> tuple[float, float]:
    pluck = pluck_amplitude(harmonic, inputs.pluck_distance_m / inputs.scale_length_m)
    place = harmonic * math.pi * inputs.pickup_distance_m / inputs.scale_length_m
    return pluck, pluck * abs(math.sin(place))


def _loudest(inputs: Inputs) -> tuple[float, float]:
    both = [_amplitudes(inputs, harmonic) for harmonic in range(1, inputs.harmonics + 1)]
    return max(pluck for pluck, _ in both), max(pickup for _, pickup in both)


def _db(amplitude: float, loudest: float) -> float:
    if amplitude <= loudest * 10 ** (SILENT_DB / 20):
        return SILENT_DB
    return 20 * math.log10(amplitude / loudest)


def _partials(inputs: Inputs) -> list[Partials]:
    loudest = _loudest(inputs)
    rows = []
    for number in range(1, inputs.harmonics + 1):
        frequency = number * inputs.frequency_hz
        at_pluck, at_pickup = _amplitudes(inputs, number)
        rows.append(
            Partials(
                number,
                frequency,
                pitch.nearest_note(frequency)[0],
                deviation_cents(number),
                inputs.scale_length_m / number,
                _db(at_pluck, loudest[0]),
                _db(at_pickup, loudest[1]),
            )
        )
    return rows


def show(_inputs: Inputs, result: Result) -> ShownValue:
    """The partials as table, spectrum and sound."""
    columns = (
        ResultColumn("harmonic", "Harmonic", "count"),
        ResultColumn("harmonic_frequency", "Frequency", "frequency", "Hz", "Hz", (2, 2)),
        ResultColumn("nearest_note", "Nearest note"),
        ResultColumn(
            "deviation", "Off the tempered interval", "interval", "cents", "cents", (1, 1)
        ),
        ResultColumn("node_distance", "First node from the nut", "length", "mm", "in"),
        ResultColumn("pluck_level", "Level on the string", "level", "dB", "dB", (1, 1)),
        ResultColumn("pickup_level", "Level at the pickup", "level", "dB", "dB", (1, 1)),
    )
    rows = tuple(
        (
            p.number,
            p.frequency_hz,
            p.note,
            p.deviation_cents,
            p.node_m,
            p.pluck_level_db,
            p.pickup_level_db,
        )
        for p in result.partials
    )
    missing = [str(p.number) for p in result.partials if p.pickup_level_db <= SILENT_DB]
    words = f"Harmonics the pickup does not hear: {', '.join(missing)}." if missing else ""
    return ShownValue(
        table=ResultTable("Partials", columns, rows),
        chart=bar_chart(
            "What the pickup hears",
            f"Level of {len(rows)} harmonics, 60 dB meaning the strongest. {words}",
            [(str(p.number), p.pickup_level_db - SILENT_DB) for p in result.partials],
            "Harmonic",
            "Level above the floor (dB)",
        ),
        sound=_sound(result),
        notes=(words,) if words else (),
    )


def _sound(result: Result) -> Sound:
    partials = tuple(
        Partial(p.frequency_hz, 10 ** (p.pluck_level_db / 20))
        for p in result.partials
        if p.frequency_hz < 16000  # few loudspeakers play higher ones
    )
    return Sound("The harmonics, added one by one", partials, one_by_one=True)


CALCULATOR = Calculator(
    key="harmonics",
    title="Harmonics",
    question="Which tones does one string sound at once, and where does each one rest?",
    quantities=(
        Quantity("frequency", "f_1", "frequency of the open string", "frequency", 1, 20000, 110),
        Quantity("harmonic", "n", "harmonic", "count", 1, 200, 3, form="whole"),
        Quantity("node", "k", "node, counted from the nut", "count", 1, 200, 1, form="whole"),
        Quantity("harmonics", "N", "how many harmonics", "count", 1, 40, 16, form="whole"),
        Quantity("scale_length", "L", "scale length", "length", 20, 10000, 648, digits=6),
        Quantity("pluck_distance", "p", "saddle to pluck", "length", 0.1, 10000, 130),
        Quantity("pickup_distance", "q", "saddle to pickup", "length", 0.1, 10000, 160),
        Quantity(
            "harmonic_frequency", "f_n", "frequency of the harmonic", "frequency", 1, 4e6, 330
        ),
        Quantity("wavelength", "lambda", "wavelength on the string", "length", 0.1, 20000),
        Quantity("node_distance", "x", "nut to node", "length", 0.1, 10000, 216, digits=5),
        Quantity("deviation", "delta", "off the tempered interval", "interval", -50, 50, digits=5),
        Quantity("node_fret", "m", "fret at the node", "number", 0, 1000),
        Quantity("nearest_note", "p_n", "nearest note", "number", form="text"),
        Quantity("pluck_level", "A_n", "level on the string", "level", -60, 0),
        Quantity("pickup_level", "B_n", "level at the pickup", "level", -60, 0),
    ),
    answers=(
        "harmonic_frequency",
        "wavelength",
        "node_distance",
        "deviation",
        "node_fret",
        "nearest_note",
        "pluck_level",
        "pickup_level",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "harmonic_frequency = harmonic*frequency",
            {
                "harmonic_frequency": "{harmonic_frequency} = {harmonic} * {frequency}",
                "frequency": "{frequency} = frac({harmonic_frequency}, {harmonic})",
            },
        ),
        Relation(
            "wavelength = 2*scale_length/harmonic",
            {
                "wavelength": "{wavelength} = frac(2 * {scale_length:mm}, {harmonic})",
                "scale_length": "{scale_length} = frac({harmonic} * {wavelength:mm}, 2)",
            },
        ),
        Relation(
            "node_distance = node*scale_length/harmonic",
            {
                "node_distance": "{node_distance} = frac({node} * {scale_length:mm}, {harmonic})",
                "scale_length": "{scale_length} = frac({harmonic} * {node_distance:mm}, {node})",
            },
        ),
    ),
    formulas={
        "deviation": "{deviation} = 1200 * log_2({harmonic}) - "
        '100 * "round"(12 * log_2({harmonic}))',
        "node_fret": "{node_fret} = -12 * log_2(1 - frac({node}, {harmonic}))",
    },
    limits=(
        "An ideal string with fixed ends; a stiff string's partials lie higher (see stiffness).",
        "Levels are at the moment of a sharp pluck, before anything has died away.",
    ),
    conventions=(
        "Harmonic 1 is the open string. Deviation compares with the tempered interval above it.",
        "Pluck and pickup are measured from the saddle, nodes from the nut.",
        (
            "The pickup answers to the string's velocity at one point; levels are below the strongest "
            "partial, and −60 dB stands for silent."
        ),
    ),
    source="OpenStax, University Physics Volume 1, section 16.6; Fletcher and Rossing, The "
    "Physics of Musical Instruments, on the plucked string (from memory)",
    example=CalculatorExample(
        given={"scale_length": "650 mm", "harmonic": 5, "node": 1},
        expected={"node_distance": "130 mm"},
        source="nodes at k L / n; OpenStax, University Physics Volume 1, section 16.6",
        tolerance=1e-9,
    ),
)
