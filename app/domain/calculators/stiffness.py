"""Stiffness: why a real string's partials lie above the harmonics (Fletcher 1964)."""

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
from app.domain.calculators.engine.pictures import Partial, Sound, line_chart

LARGEST_FOR_CLAMPED = 1e-3


@dataclass(frozen=True, slots=True)
class Inputs:
    """Modulus in Pa, density in kg/m³, lengths in m, frequency of the flexible string in Hz."""

    youngs_modulus_pa: float
    density_kg_per_m3: float
    scale_length_m: float
    frequency_hz: float
    harmonic: int
    harmonics: int
    diameter_m: float


@dataclass(frozen=True, slots=True)
class Result:
    """Frequency in Hz, deviation in cents above n f₀."""

    inharmonicity: float
    partial_frequency_hz: float
    deviation_cents: float
    clamped_deviation_cents: float
    rows: tuple[tuple[int, float, float], ...]


def inharmonicity(
    youngs_modulus_pa: float,
    density_kg_per_m3: float,
    diameter_m: float,
    scale_length_m: float,
    frequency_hz: float,
) -> float:
    """B = π² E d² / (64 ρ L⁴ f₀²), without unit; Fletcher, JASA 36 (1964) 203."""
    stiff = math.pi**2 * youngs_modulus_pa * diameter_m**2
    return stiff / (64 * density_kg_per_m3 * scale_length_m**4 * frequency_hz**2)


def stretch(coefficient: float, harmonic: float) -> float:
    """The ratio of partial n to n f₀, pinned ends."""
    return math.sqrt(1 + coefficient * harmonic**2)


def clamped(coefficient: float) -> float:
    """By how much clamping the ends raises every partial, good for B up to 10⁻³."""
    return 1 + 2 / math.pi * math.sqrt(coefficient) + 4 / math.pi**2 * coefficient


def compute(inputs: Inputs) -> Result:
    """The partial asked for and the first ones."""
    coefficient = inharmonicity(
        inputs.youngs_modulus_pa,
        inputs.density_kg_per_m3,
        inputs.diameter_m,
        inputs.scale_length_m,
        inputs.frequency_hz,
    )
    raised = stretch(coefficient, inputs.harmonic)
    rows = []
    for number in range(1, inputs.harmonics + 1):
        ratio = stretch(coefficient, number)
        rows.append((number, number * inputs.frequency_hz * ratio, 1200 * math.log2(ratio)))
    return Result(
        inharmonicity=coefficient,
        partial_frequency_hz=inputs.harmonic * inputs.frequency_hz * raised,
        deviation_cents=1200 * math.log2(raised),
        clamped_deviation_cents=1200 * math.log2(raised * clamped(coefficient)),
        rows=tuple(rows),
    )


def show(_inputs: Inputs, result: Result) -> ShownValue:
    """Each partial against its harmonic."""
    columns = (
        ResultColumn("harmonic", "Partial", "count"),
        ResultColumn("partial_frequency", "Frequency", "frequency", "Hz", "Hz", (2, 2)),
        ResultColumn("deviation", "Above the harmonic", "interval", "cents", "cents", (2, 2)),
    )
    notes = []
    if result.inharmonicity > LARGEST_FOR_CLAMPED:
        notes.append("Above B = 0.001 the value for clamped ends is off by more than 0.02 cents.")
    return ShownValue(
        table=ResultTable("Partials of the stiff string", columns, result.rows),
        chart=line_chart(
            "Partials above their harmonics",
            f"Partial {result.rows[-1][0]} lies {result.rows[-1][2]:.1f} cents above its harmonic.",
            [(number, cents) for number, _, cents in result.rows],
            "Partial",
            "Above n f₀ (cents)",
        ),
        sound=Sound(
            "The stiff string's partials, added one by one",
            tuple(Partial(f, 1 / n) for n, f, _ in result.rows if f < 16000),
            one_by_one=True,
        ),
        notes=tuple(notes),
    )


CALCULATOR = Calculator(
    key="stiffness",
    title="Stiffness and inharmonicity",
    question="How far does a string's stiffness push its partials sharp?",
    quantities=(
        Quantity(
            "youngs_modulus", "E", "Young's modulus", "pressure", 0.01, 1000, 200, us_unit="Mpsi"
        ),
        Quantity("density", "rho", "density of the string", "density", 500, 22000, 7850),
        Quantity("scale_length", "L", "scale length", "length", 20, 10000, 648, digits=6),
        Quantity(
            "frequency", "f_0", "frequency without stiffness", "frequency", 1, 20000, 196, digits=5
        ),
        Quantity("harmonic", "n", "partial", "count", 1, 200, 10, form="whole"),
        Quantity("harmonics", "N", "how many partials", "count", 1, 40, 16, form="whole"),
        Quantity("diameter", "d", "diameter of the string or its core", "length", 0.02, 10, 0.4318),
        Quantity("inharmonicity", "B", "inharmonicity coefficient", "number", 1e-12, 1),
        Quantity(
            "partial_frequency", "f_n", "frequency of the partial", "frequency", 1, 1e7, digits=6
        ),
        Quantity("deviation", "delta", "partial above the harmonic", "interval", 0, 20000, 10),
        Quantity(
            "clamped_deviation", "delta_c", "the same with clamped ends", "interval", 0, 20000
        ),
    ),
    answers=("deviation", "inharmonicity", "partial_frequency", "clamped_deviation"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "inharmonicity = pi**2*youngs_modulus*diameter**2"
            "/(64*density*scale_length**4*frequency**2)",
            {
                "inharmonicity": "{inharmonicity} = frac(pi^2 * {youngs_modulus} * {diameter}^2, "
                "64 * {density} * {scale_length}^4 * {frequency}^2)",
                "diameter": "{diameter} = frac(8 * {scale_length}^2 * {frequency}, pi) * "
                "sqrt(frac({inharmonicity} * {density}, {youngs_modulus}))",
                "youngs_modulus": "{youngs_modulus} = frac(64 * {density} * {inharmonicity} * "
                "{scale_length}^4 * {frequency}^2, pi^2 * {diameter}^2)",
                "scale_length": "{scale_length} = root(4, frac(pi^2 * {youngs_modulus} * "
                "{diameter}^2, 64 * {density} * {inharmonicity} * {frequency}^2))",
            },
        ),
        Relation(
            "deviation = 600*log(1 + inharmonicity*harmonic**2)/log(2)",
            {
                "deviation": "{deviation} = 600 * log_2(1 + {inharmonicity} * {harmonic}^2)",
                "inharmonicity": "{inharmonicity} = "
                "frac(2^(frac({deviation}, 600)) - 1, {harmonic}^2)",
            },
        ),
        Relation(
            "partial_frequency = harmonic*frequency*sqrt(1 + inharmonicity*harmonic**2)",
            {
                "partial_frequency": "{partial_frequency} = {harmonic} * {frequency} * "
                "sqrt(1 + {inharmonicity} * {harmonic}^2)",
                "inharmonicity": "{inharmonicity} = frac(1, {harmonic}^2) * "
                "((frac({partial_frequency}, {harmonic} * {frequency}))^2 - 1)",
            },
        ),
    ),
    formulas={
        "clamped_deviation": "{clamped_deviation} = {deviation} + 1200 * log_2(1 + frac(2, pi) * "
        "sqrt({inharmonicity}) + frac(4, pi^2) * {inharmonicity})",
    },
    limits=(
        (
            "A uniform round string or core; for a wound string the winding's own stiffness is left "
            "out."
        ),
        "Clamped ends: good for B up to 0.001.",
    ),
    conventions=(
        (
            "Partials are compared with n f₀, f₀ being the frequency without stiffness, and not with "
            "n times the sounding first partial."
        ),
        "Pinned ends unless the quantity says clamped.",
    ),
    source="H. Fletcher, Journal of the Acoustical Society of America 36 (1964) 203",
    example=CalculatorExample(
        given={"diameter": "0.017 in", "scale_length": "648 mm", "frequency": "196.00 Hz"},
        expected={"inharmonicity": 0.000108152},
        source="Fletcher 1964 with the tension from Mersenne's law; recomputed with NumPy",
        tolerance=1e-5,
    ),
)
