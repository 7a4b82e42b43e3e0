"""Sound level: intensity and level, several sources together, loudness of a change."""

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

REFERENCE_PRESSURE_PA = 20e-6


@dataclass(frozen=True, slots=True)
class Inputs:
    """Levels in dB, frequency in Hz."""

    level_db: float
    sources: int
    levels_db: tuple[float, ...]
    level_change_db: float
    frequency_hz: float


@dataclass(frozen=True, slots=True)
class Result:
    """Intensity in W/m², pressure in Pa (effective value), levels in dB."""

    intensity_w_per_m2: float
    sound_pressure_pa: float
    total_level_db: float
    sum_level_db: float
    pressure_factor: float
    a_weighting_db: float


def sum_levels_db(levels_db: tuple[float, ...]) -> float:
    """Level in dB of sources that do not keep step with each other."""
    loudest = max(levels_db)
    return loudest + 10 * math.log10(
        math.fsum(10 ** ((level - loudest) / 10) for level in levels_db)
    )


def a_weighting_db(frequency_hz: float) -> float:
    """A-weighting in dB at a frequency, after the formula of IEC 61672-1 (from memory)."""
    poles = (20.598997, 107.65265, 737.86223, 12194.217)

    def gain(frequency: float) -> float:
        square = frequency**2
        low, second, third, high = (pole**2 for pole in poles)
        under = (square + low) * math.sqrt((square + second) * (square + third)) * (square + high)
        return high * square**2 / under

    return 20 * math.log10(gain(frequency_hz) / gain(1000.0))


def compute(inputs: Inputs) -> Result:
    """Everything about one level, and the sum of a list of levels."""
    return Result(
        intensity_w_per_m2=1e-12 * 10 ** (inputs.level_db / 10),
        sound_pressure_pa=REFERENCE_PRESSURE_PA * 10 ** (inputs.level_db / 20),
        total_level_db=inputs.level_db + 10 * math.log10(inputs.sources),
        sum_level_db=sum_levels_db(inputs.levels_db),
        pressure_factor=10 ** (inputs.level_change_db / 20),
        a_weighting_db=a_weighting_db(inputs.frequency_hz),
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """A-weighting over frequency; how much each source of the list adds."""
    columns = (
        ResultColumn("level", "Source", "level", "dB", "dB", (1, 1)),
        ResultColumn("share", "Share of the sound power", "percentage", "%", "%", (1, 1)),
    )
    total = result.sum_level_db
    rows = tuple((level, 10 ** ((level - total) / 10)) for level in inputs.levels_db)
    points = [
        (1000 * 10 ** (step / 10), a_weighting_db(1000 * 10 ** (step / 10)))
        for step in range(-17, 14)
    ]
    notes = (
        ("Above 85 dB for a working day hearing is at risk: see the noise dose.",)
        if max(inputs.level_db, total) >= 85
        else ()
    )
    picture = line_chart(
        "A-weighting",
        f"The A-weighting rises from −50 dB at 20 Hz to 0 at 1000 Hz; at {inputs.frequency_hz:g} "
        f"Hz it is {result.a_weighting_db:.1f} dB.",
        points,
        "Frequency (Hz)",
        "A-weighting (dB)",
    )
    spec = {**picture.spec, "encoding": {**picture.spec["encoding"]}}
    spec["encoding"]["x"] = {**spec["encoding"]["x"], "scale": {"type": "log"}}
    return ShownValue(
        table=ResultTable("Shares of the sources", columns, rows),
        chart=type(picture)(picture.title, picture.description, spec),
        notes=notes,
    )


CALCULATOR = Calculator(
    key="sound-level",
    title="Sound level",
    question="How loud is it, and how loud are several sources together?",
    quantities=(
        Quantity("level", "L", "sound level", "level", -20, 200, 85),
        Quantity("sources", "N", "number of equal sources", "count", 1, 100000, 2, form="whole"),
        Quantity(
            "levels",
            "L_i",
            "levels of the sources",
            "level",
            -20,
            200,
            (85.0, 80.0),
            form="numbers",
            longest=50,
        ),
        Quantity("level_change", "Delta L", "change of level", "level", -200, 200, 6),
        Quantity("frequency", "f", "frequency", "frequency", 1, 40000, 1000),
        Quantity("intensity", "I", "intensity", "intensity", 1e-16, 1e8, 1e-4),
        Quantity("sound_pressure", "p", "sound pressure", "pressure", 1e-8, 1e6, 0.2, "Pa", "Pa"),
        Quantity("total_level", 'L_"total"', "level of the equal sources", "level", -20, 300, 90),
        Quantity("sum_level", 'L_"sum"', "level of the listed sources", "level", -20, 300),
        Quantity("pressure_factor", "k", "factor of sound pressure", "number", 1e-12, 1e12, 2),
        Quantity("a_weighting", "A", "A-weighting", "level", -200, 10),
    ),
    answers=(
        "total_level",
        "intensity",
        "sound_pressure",
        "sum_level",
        "pressure_factor",
        "a_weighting",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "total_level = level + 10*log(sources)/log(10)",
            {
                "total_level": "{total_level} = {level} + 10 * log_10({sources})",
                "level": "{level} = {total_level} - 10 * log_10({sources})",
                "sources": "{sources} = 10^(frac({total_level} - {level}, 10))",
            },
        ),
        Relation(
            "level = 10*log(intensity*10**12)/log(10)",
            {
                "intensity": '{intensity} = 10^(frac({level}, 10 thin "dB")) times 10^(-12) thin "W/m²"',
                "level": '{level} = 10 thin "dB" * log_10(frac({intensity}, 10^(-12) thin "W/m²"))',
            },
        ),
        Relation(
            "level = 20*log(sound_pressure*50000)/log(10)",
            {
                "sound_pressure": "{sound_pressure} = 20 times 10^(-6) times 10^(frac({level}, 20))",
                "level": "{level} = 20 * log_10(frac({sound_pressure}, 20 times 10^(-6)))",
            },
        ),
        Relation(
            "level_change = 20*log(pressure_factor)/log(10)",
            {
                "pressure_factor": "{pressure_factor} = 10^(frac({level_change}, 20))",
                "level_change": "{level_change} = 20 * log_10({pressure_factor})",
            },
        ),
    ),
    formulas={
        "sum_level": "{sum_level} = 10 * log_10(sum 10^(frac({levels}, 10)))",
    },
    limits=(
        "Sources that do not keep step with each other, at one place.",
        "A-weighting is defined at exact frequencies: the band called 250 Hz is 251.19 Hz.",
    ),
    conventions=(
        "0 dB is 10⁻¹² W/m² or 20 µPa; the two agree within 0.2 dB in room air.",
        "Sound pressure is the effective value.",
    ),
    source="OpenStax, University Physics Volume 1, section 17.3; IEC 61672-1 for A-weighting "
    "(from memory)",
    example=CalculatorExample(
        given={"levels": "85 dB; 80 dB"},
        expected={"sum_level": "86.19 dB"},
        source="10 log₁₀ Σ 10^(L/10), recomputed with NumPy",
        tolerance=1e-4,
    ),
)
