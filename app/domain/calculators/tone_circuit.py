"""Tone circuit: pickup, volume and tone controls, cable; corners, resonance and dividers."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import chart

LINEAR = "linear"
AUDIO = "audio"
AUDIO_MIDDLE = 0.15
CURVE_LOW_HZ, CURVE_HIGH_HZ, CURVE_POINTS = 100.0, 20_000.0, 91


@dataclass(frozen=True, slots=True)
class Inputs:
    tone_resistance_ohm: float
    tone_capacitance_f: float
    pickup_inductance_h: float
    pickup_resistance_ohm: float
    pickup_capacitance_f: float
    cable_capacitance_f: float
    volume_resistance_ohm: float
    rotation: float
    taper: str
    load_resistance_ohm: float


@dataclass(frozen=True, slots=True)
class Result:
    corner_frequency_hz: float
    resonance_frequency_hz: float
    unloaded_divider: float
    loaded_divider: float
    loaded_level_db: float
    quality_factor: float


def corner_frequency_hz(resistance_ohm: float, capacitance_f: float) -> float:
    """Frequency (Hz) at which an RC pair halves the power: 1/(2 pi R C)."""
    return 1 / (2 * math.pi * resistance_ohm * capacitance_f)


def resonance_frequency_hz(inductance_h: float, capacitance_f: float) -> float:
    """Frequency (Hz) at which L and C swing together: 1/(2 pi sqrt(L C))."""
    return 1 / (2 * math.pi * math.sqrt(inductance_h * capacitance_f))


def track(rotation: float, taper: str) -> float:
    """Share of the track below the wiper of a potentiometer turned by `rotation` (0 to 1).

    An audio taper is drawn as an exponential through 15 % at half a turn: common practice, no
    source; real ones are two straight lines.
    """
    if taper == LINEAR:
        return rotation
    base = (1 / AUDIO_MIDDLE - 1) ** 2
    return (math.pow(base, rotation) - 1) / (base - 1)


def divider(below: float, resistance_ohm: float, load_ohm: float) -> float:
    """Output over input of a potentiometer whose wiper carries a load (ohm).

    `below` is the share of the track under the wiper: (R2 || R_L)/(R1 + R2 || R_L).
    """
    lower, upper = below * resistance_ohm, (1 - below) * resistance_ohm
    if lower == 0:
        return 0.0
    loaded = 1 / (1 / lower + 1 / load_ohm)
    return loaded / (upper + loaded)


def pickup_gain(inputs: Inputs, frequency_hz: float) -> float:
    """Output over induced voltage of the pickup with cable, volume control full up and load."""
    omega = 2 * math.pi * frequency_hz
    series = inputs.pickup_resistance_ohm + 1j * omega * inputs.pickup_inductance_h
    capacitance = inputs.pickup_capacitance_f + inputs.cable_capacitance_f
    across = (
        1 / inputs.volume_resistance_ohm + 1 / inputs.load_resistance_ohm + 1j * omega * capacitance
    )
    return abs(1 / (1 + series * across))


def loaded_quality(inputs: Inputs) -> float:
    """Quality factor of the pickup's low-pass, with losses in the coil and in the load."""
    capacitance = inputs.pickup_capacitance_f + inputs.cable_capacitance_f
    load = 1 / (1 / inputs.volume_resistance_ohm + 1 / inputs.load_resistance_ohm)
    omega = 1 / math.sqrt(inputs.pickup_inductance_h * capacitance)
    losses = inputs.pickup_resistance_ohm / (omega * inputs.pickup_inductance_h)
    losses += omega * inputs.pickup_inductance_h / load
    return 1 / losses


def compute(inputs: Inputs) -> Result:
    capacitance = inputs.pickup_capacitance_f + inputs.cable_capacitance_f
    below = track(inputs.rotation, inputs.taper)
    loaded = divider(below, inputs.volume_resistance_ohm, inputs.load_resistance_ohm)
    return Result(
        corner_frequency_hz(inputs.tone_resistance_ohm, inputs.tone_capacitance_f),
        resonance_frequency_hz(inputs.pickup_inductance_h, capacitance),
        below,
        loaded,
        20 * math.log10(loaded),
        loaded_quality(inputs),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    ratio = CURVE_HIGH_HZ / CURVE_LOW_HZ
    frequencies = [CURVE_LOW_HZ * ratio ** (i / (CURVE_POINTS - 1)) for i in range(CURVE_POINTS)]
    values = [
        {"frequency": f, "level": 20 * math.log10(pickup_gain(inputs, f))} for f in frequencies
    ]
    peak = max(values, key=lambda value: value["level"])
    picture = chart(
        "What the pickup lets through",
        f"Level against frequency, both controls full up: flat at low notes, {peak['level']:.1f} dB "
        f"at {peak['frequency']:.0f} Hz, then falling.",
        values,
        mark="line",
        encoding={
            "x": {
                "field": "frequency",
                "type": "quantitative",
                "title": "Frequency (Hz)",
                "scale": {"type": "log"},
            },
            "y": {"field": "level", "type": "quantitative", "title": "Level (dB)"},
        },
    )
    loss = result.unloaded_divider - result.loaded_divider
    notes = (
        (
            f"Without a load the wiper would give {result.unloaded_divider:.3f} of the input; "
            f"the load takes {loss:.3f} of it."
        ),
        "A longer cable adds capacitance: the resonance moves down and the tone gets duller.",
    )
    return ShownValue(chart=picture, notes=notes)


_QUANTITIES = (
    Quantity("tone_resistance", "R_t", "tone resistance", "resistance", 1, 1e8, 250_000),
    Quantity("tone_capacitance", "C_t", "tone capacitor", "capacitance", 1e-3, 1e6, 22),
    Quantity("pickup_inductance", "L_p", "pickup inductance", "inductance", 1e-6, 1e4, 2.2),
    Quantity("pickup_resistance", "R_p", "pickup resistance", "resistance", 0.1, 1e6, 6500),
    Quantity(
        "pickup_capacitance",
        "C_p",
        "winding capacitance",
        "capacitance",
        1e-3,
        1e6,
        110,
        "pF",
        "pF",
    ),
    Quantity(
        "cable_capacitance", "C_c", "cable capacitance", "capacitance", 0, 1e6, 470, "pF", "pF"
    ),
    Quantity("volume_resistance", "R_v", "volume control", "resistance", 100, 1e8, 500_000),
    Quantity("rotation", "p", "volume control turned up", "percentage", 0.1, 100, 50),
    Quantity(
        "taper",
        'upright("taper")',
        "taper",
        "number",
        default=LINEAR,
        form="choice",
        choices=((LINEAR, "linear"), (AUDIO, "audio (15 % at half a turn)")),
    ),
    Quantity("load_resistance", "R_L", "load (amplifier input)", "resistance", 100, 1e9, 1e6),
    Quantity("corner_frequency", "f_c", "RC corner frequency", "frequency", 1e-6, 1e12, 29),
    Quantity(
        "resonance_frequency", "f_0", "pickup resonance", "frequency", 1e-6, 1e12, 4500, digits=5
    ),
    Quantity("unloaded_divider", "v_0", "output over input, no load", "ratio", 0, 1),
    Quantity("loaded_divider", "v", "output over input, loaded", "ratio", 0, 1, 0.4),
    Quantity("loaded_level", "a", "level of the output", "level", -200, 0),
    Quantity("quality_factor", "Q", "quality factor of the resonance", "number", 0, 1e6),
)

CALCULATOR = Calculator(
    key="tone-circuit",
    title="Tone circuit",
    question="Where does the tone control cut, where does the pickup ring, what does the load take?",
    quantities=_QUANTITIES,
    answers=(
        "corner_frequency",
        "resonance_frequency",
        "unloaded_divider",
        "loaded_divider",
        "loaded_level",
        "quality_factor",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "corner_frequency = 1 / (2 * pi * tone_resistance * tone_capacitance)",
            {
                "corner_frequency": "{corner_frequency} = frac(1,"
                " 2 pi * {tone_resistance} * {tone_capacitance})",
                "tone_resistance": "{tone_resistance} = frac(1,"
                " 2 pi * {corner_frequency} * {tone_capacitance})",
                "tone_capacitance": "{tone_capacitance} = frac(1,"
                " 2 pi * {corner_frequency} * {tone_resistance})",
            },
        ),
        Relation(
            "resonance_frequency = 1 / (2 * pi * sqrt(pickup_inductance"
            " * (pickup_capacitance + cable_capacitance)))",
            {
                "resonance_frequency": "{resonance_frequency} = frac(1, 2 pi"
                " * sqrt({pickup_inductance} * ({pickup_capacitance} + {cable_capacitance})))",
                "pickup_inductance": "{pickup_inductance} = frac(1,"
                " (2 pi * {resonance_frequency})^2 * ({pickup_capacitance} + {cable_capacitance}))",
                "cable_capacitance": "{cable_capacitance} = frac(1,"
                " (2 pi * {resonance_frequency})^2 * {pickup_inductance}) - {pickup_capacitance}",
            },
        ),
    ),
    formulas={
        "loaded_divider": "{loaded_divider} = frac(R_2 parallel {load_resistance},"
        " R_1 + R_2 parallel {load_resistance})",
        "loaded_level": "{loaded_level} = 20 * log_10({loaded_divider})",
    },
    numeric={"loaded_divider": ("rotation", "load_resistance")},
    limits=(
        (
            "The pickup is taken as one coil with its resistance and capacitance; eddy currents in "
            "covers and magnets flatten the peak of a real one."
        ),
        "The curve is for both controls full up; the tone capacitor is then left out.",
    ),
    conventions=(
        "The corner is where the power is halved (−3 dB).",
        "R₂ is the track below the wiper, R₁ the rest; ∥ means side by side.",
        (
            "An audio taper is drawn as an exponential through 15 % at half a turn: common practice, "
            "no source."
        ),
    ),
    source="OpenStax, University Physics Volume 2, chapters 10, 14 and 15; College Physics 2e, "
    "chapter 23",
    example=CalculatorExample(
        given={
            "pickup_inductance": "2.2 H",
            "pickup_capacitance": "110 pF",
            "cable_capacitance": "470 pF",
        },
        expected={"resonance_frequency": "4455.5 Hz", "corner_frequency": "28.94 Hz"},
        source="f = 1/(2 pi sqrt(L C)) and 1/(2 pi R C), computed apart from this program",
        tolerance=2e-4,
    ),
)
