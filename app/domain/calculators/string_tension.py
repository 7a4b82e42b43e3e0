"""String tension: the ideal string, T = μ (2 L f)², after Mersenne and Taylor."""

import math
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import line_chart

STRESS_TO_WATCH_PA = 2.0e9


@dataclass(frozen=True, slots=True)
class Inputs:
    """Scale length in m, frequency in Hz, unit weight in kg/m, diameter in m."""

    scale_length_m: float
    frequency_hz: float
    unit_weight_kg_per_m: float
    diameter_m: float


@dataclass(frozen=True, slots=True)
class Result:
    """Tension in N, speed of the wave in m/s, stress in Pa."""

    tension_n: float
    wave_speed_m_per_s: float
    stress_pa: float


def tension_n(unit_weight_kg_per_m: float, scale_length_m: float, frequency_hz: float) -> float:
    """Tension in N of an ideal string at its first mode."""
    return unit_weight_kg_per_m * (2 * scale_length_m * frequency_hz) ** 2


def compute(inputs: Inputs) -> Result:
    """Tension from weight, length and pitch; stress as of a plain string of that diameter."""
    tension = tension_n(inputs.unit_weight_kg_per_m, inputs.scale_length_m, inputs.frequency_hz)
    return Result(
        tension_n=tension,
        wave_speed_m_per_s=2 * inputs.scale_length_m * inputs.frequency_hz,
        stress_pa=tension / (math.pi * inputs.diameter_m**2 / 4),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The first modes, and how tension grows with pitch."""
    length = inputs.scale_length_m
    rows = tuple(
        (mode, mode * inputs.frequency_hz, 2 * length / mode, length / mode) for mode in range(1, 9)
    )
    columns = (
        ResultColumn("mode", "Mode", "count"),
        ResultColumn("frequency", "Frequency", "frequency", "Hz", "Hz", (2, 2)),
        ResultColumn("wavelength", "Wavelength on the string", "length", "mm", "in"),
        ResultColumn("node_spacing", "From node to node", "length", "mm", "in"),
    )
    points = [(step, result.tension_n * math.pow(2, step / 6)) for step in range(-12, 8)]
    notes = []
    if result.stress_pa > STRESS_TO_WATCH_PA:
        notes.append(
            "Stress above 2 GPa: a plain steel string is near breaking "
            "(strength of music wire from memory). Wear eye protection when tuning up."
        )
    return ShownValue(
        table=ResultTable("Modes of the open string", columns, rows),
        chart=line_chart(
            "Tension against pitch",
            f"Tension over semitones from the pitch asked for: {result.tension_n:.1f} N at 0, "
            "four times that an octave higher.",
            points,
            "Semitones from this pitch",
            "Tension (N)",
        ),
        notes=tuple(notes),
    )


CALCULATOR = Calculator(
    key="string-tension",
    title="String tension",
    question="How hard does a string pull when it is tuned to pitch?",
    quantities=(
        Quantity("density", "rho", "density of the string", "density", 500, 22000, 7850),
        Quantity("sample_length", "l", "length of the weighed sample", "length", 10, 20000, 1000),
        Quantity("scale_length", "L", "scale length", "length", 20, 10000, 648, digits=6),
        Quantity("frequency", "f", "frequency", "frequency", 1, 20000, 329.63, digits=5),
        Quantity("diameter", "d", "string diameter", "length", 0.02, 10, 0.254, us_unit="in"),
        Quantity("unit_weight", "mu", "unit weight", "unit_weight", 0.001, 1000),
        Quantity(
            "sample_mass",
            "m",
            "mass of the weighed sample",
            "mass",
            0.0001,
            20000,
            0.398,
            unit="g",
            us_unit="oz",
        ),
        Quantity("tension", "T", "tension", "force", 0.01, 20000, 72.5),
        Quantity("wave_speed", "v", "speed of the wave on the string", "speed", 0.1, 5000),
        Quantity("stress", "sigma", "stress in a plain string", "pressure", 0, 1e6, unit="MPa"),
    ),
    answers=("tension", "wave_speed", "stress"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "tension = unit_weight*(2*scale_length*frequency)**2",
            {
                "tension": "{tension} = {unit_weight} * (2 * {scale_length} * {frequency})^2",
                "unit_weight": "{unit_weight} = "
                "frac({tension}, (2 * {scale_length} * {frequency})^2)",
                "scale_length": "{scale_length} = "
                "frac(1, 2 * {frequency}) * sqrt(frac({tension}, {unit_weight}))",
                "frequency": "{frequency} = "
                "frac(1, 2 * {scale_length}) * sqrt(frac({tension}, {unit_weight}))",
            },
        ),
        Relation(
            "unit_weight = pi*density*diameter**2/4",
            {
                "unit_weight": "{unit_weight} = frac(pi, 4) * {density} * {diameter}^2",
                "diameter": "{diameter} = 2 * sqrt(frac({unit_weight}, pi * {density}))",
                "density": "{density} = frac(4 * {unit_weight}, pi * {diameter}^2)",
            },
        ),
        Relation(
            "unit_weight = sample_mass/sample_length",
            {
                "unit_weight": "{unit_weight} = frac({sample_mass}, {sample_length})",
                "sample_mass": "{sample_mass} = {unit_weight} * {sample_length}",
                "sample_length": "{sample_length} = frac({sample_mass}, {unit_weight})",
            },
        ),
        Relation(
            "wave_speed = 2*scale_length*frequency",
            {
                "wave_speed": "{wave_speed} = 2 * {scale_length} * {frequency}",
                "scale_length": "{scale_length} = frac({wave_speed}, 2 * {frequency})",
                "frequency": "{frequency} = frac({wave_speed}, 2 * {scale_length})",
            },
        ),
    ),
    formulas={"stress": "{stress} = frac(4 * {tension}, pi * {diameter}^2)"},
    limits=(
        "An ideal string: thin, flexible and much lighter than the body it is fixed to.",
        "Stress is that of a plain string; in a wound string the core carries the tension.",
    ),
    conventions=(
        (
            "A plain string's unit weight follows from its diameter and density. For a wound string "
            "give its unit weight, or weigh a sample; the diameter is then that of a plain string as "
            "heavy."
        ),
        (
            "Force is in newtons; 1 lbf is exactly 4.4482216152605 N. Shop tables that divide by "
            "386.4 in/s² come out 0.08 % lower."
        ),
    ),
    source="OpenStax, University Physics Volume 1, chapter 16, sections 16.3 and 16.6",
    example=CalculatorExample(
        given={"diameter": "0.010 in", "scale_length": "25.5 in", "frequency": "329.63 Hz"},
        expected={"tension": "72.525 N", "unit_weight": "2.2274e-5 lb/in"},
        source="T = μ (2 L f)² with density 7850 kg/m³, recomputed with the pint library",
        tolerance=1e-4,
    ),
)
