"""Beats: how often two tones nearly in tune swell and fade, and how to tune by them."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Partial, Sound, line_chart

FASTEST_HEARD_HZ = 15.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """Frequencies in Hz of two strings, and which harmonic of each is compared."""

    harmonic: int
    second_harmonic: int
    frequency_hz: float
    second_frequency_hz: float


@dataclass(frozen=True, slots=True)
class Result:
    """Frequencies in Hz, period in s (None in unison), interval in cents."""

    frequency_difference_hz: float
    beat_frequency_hz: float
    beat_period_s: float | None
    interval_cents: float


def compute(inputs: Inputs) -> Result:
    """Beats between two harmonics of two strings."""
    first = inputs.harmonic * inputs.frequency_hz
    second = inputs.second_harmonic * inputs.second_frequency_hz
    beat = abs(second - first)
    return Result(
        frequency_difference_hz=second - first,
        beat_frequency_hz=beat,
        beat_period_s=1 / beat if beat > 0 else None,
        interval_cents=1200 * math.log2(second / first),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The swelling tone over two seconds, and both tones to hear."""
    first = inputs.harmonic * inputs.frequency_hz
    second = inputs.second_harmonic * inputs.second_frequency_hz
    beat = result.beat_frequency_hz
    points = [(step / 200, abs(math.cos(math.pi * beat * step / 200))) for step in range(401)]
    notes = []
    if beat > FASTEST_HEARD_HZ:
        notes.append(
            "Above about 15 beats a second the ear hears roughness, not beats "
            "(common practice, no source)."
        )
    return ShownValue(
        chart=line_chart(
            "Loudness over two seconds",
            f"The loudness swells and fades {beat:.3g} times a second.",
            points,
            "Time (s)",
            "Relative amplitude",
        ),
        sound=Sound("The two tones", (Partial(first, 0.5), Partial(second, 0.5))),
        notes=tuple(notes),
    )


CALCULATOR = Calculator(
    key="beats",
    title="Beats",
    question="How many beats a second do two strings nearly in tune make?",
    quantities=(
        Quantity(
            "harmonic", "n_1", "harmonic of the first string", "count", 1, 200, 1, form="whole"
        ),
        Quantity(
            "second_harmonic",
            "n_2",
            "harmonic of the second string",
            "count",
            1,
            200,
            1,
            form="whole",
        ),
        Quantity("frequency", "f_1", "first frequency", "frequency", 1, 20000, 440, digits=6),
        Quantity(
            "second_frequency", "f_2", "second frequency", "frequency", 1, 20000, 442, digits=6
        ),
        Quantity(
            "frequency_difference",
            "Delta f",
            "second tone above the first",
            "frequency",
            -1e6,
            1e6,
            2,
        ),
        Quantity("beat_frequency", 'f_"beat"', "beats per second", "frequency", 0, 1e6),
        Quantity("beat_period", 't_"beat"', "time from beat to beat", "time", 0, 1e9),
        Quantity("interval", "c", "interval of the two tones", "interval", -20000, 20000),
    ),
    answers=("beat_frequency", "frequency_difference", "beat_period", "interval"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "frequency_difference = second_harmonic*second_frequency - harmonic*frequency",
            {
                "frequency_difference": "{frequency_difference} = "
                "{second_harmonic} * {second_frequency} - {harmonic} * {frequency}",
                "second_frequency": "{second_frequency} = "
                "frac({harmonic} * {frequency} + {frequency_difference}, {second_harmonic})",
                "frequency": "{frequency} = "
                "frac({second_harmonic} * {second_frequency} - {frequency_difference}, {harmonic})",
            },
        ),
    ),
    formulas={
        "beat_frequency": "{beat_frequency} = abs({second_harmonic} * {second_frequency} - "
        "{harmonic} * {frequency})",
        "beat_period": "{beat_period} = frac(1, {beat_frequency})",
        "interval": "{interval} = 1200 * log_2(frac({second_harmonic} * {second_frequency}, "
        "{harmonic} * {frequency}))",
    },
    limits=("Two steady tones of much the same loudness.",),
    conventions=(
        (
            "The difference is positive where the second tone is the higher; beats are counted "
            "without sign."
        ),
        "To tune a fourth by harmonics, compare harmonic 4 of the lower string with 3 of the upper.",
    ),
    source="OpenStax, University Physics Volume 1, section 17.6",
    example=CalculatorExample(
        given={"frequency": "440 Hz", "second_frequency": "442.5 Hz"},
        expected={"beat_frequency": "2.5 Hz", "beat_period": "0.4 s"},
        source="f = |f₂ − f₁|; OpenStax, University Physics Volume 1, section 17.6",
        tolerance=1e-9,
    ),
)
