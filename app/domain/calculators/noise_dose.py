"""Noise dose of a day, by the OSHA rule and by the stricter NIOSH recommendation."""

import math
from dataclasses import dataclass

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
from app.domain.calculators.engine.pictures import line_chart

EIGHT_HOURS_S = 8 * 3600.0
# 29 CFR 1910.95 Table G-16: hours a day at a level in dBA; the formula gives finer values.
TABLE_G16_H = {
    90: 8.0,
    92: 6.0,
    95: 4.0,
    97: 3.0,
    100: 2.0,
    102: 1.5,
    105: 1.0,
    110: 0.5,
    115: 0.25,
}
CEILING_DB = 115.0
LOWEST_COUNTED_DB = 80.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """Level in dBA; the day's levels in dBA and times in s, in pairs."""

    level_db: float
    levels_db: tuple[float, ...]
    times_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Result:
    """Times in s, doses as shares of 1, averages in dBA (None where the dose is 0)."""

    niosh_time_s: float
    osha_time_s: float
    niosh_dose: float
    osha_dose: float
    niosh_average_db: float
    osha_average_db: float


def osha_time_s(level_db: float) -> float:
    """Reference duration in s: 8 h at 90 dBA, halved every 5 dB (29 CFR 1910.95 App. A)."""
    return EIGHT_HOURS_S / math.pow(2, (level_db - 90) / 5)


def niosh_time_s(level_db: float) -> float:
    """Time in s to a full dose: 8 h at 85 dBA, halved every 3 dB (NIOSH 98-126)."""
    return EIGHT_HOURS_S / math.pow(2, (level_db - 85) / 3)


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where levels and times do not pair or the day is over 24 h."""
    if len(inputs.levels_db) != len(inputs.times_s):
        sentence = (
            f"Give one time for each level: {len(inputs.levels_db)} levels, "
            f"{len(inputs.times_s)} times."
        )
        raise InvalidInput([("times", sentence)])
    if sum(inputs.times_s) > 24 * 3600:
        raise InvalidInput([("times", "The times of one day must not add up to more than 24 h.")])
    pairs = list(zip(inputs.levels_db, inputs.times_s, strict=True))
    osha = math.fsum(time / osha_time_s(level) for level, time in pairs)
    niosh = math.fsum(time / niosh_time_s(level) for level, time in pairs)
    return Result(
        niosh_time_s=niosh_time_s(inputs.level_db),
        osha_time_s=osha_time_s(inputs.level_db),
        niosh_dose=niosh,
        osha_dose=osha,
        niosh_average_db=10 * math.log10(niosh) + 85,
        osha_average_db=5 * math.log2(osha) + 90,
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """Both rules over level, with the legal table beside the formula."""
    columns = (
        ResultColumn("level", "Level (dBA)", "count"),
        ResultColumn("osha_table", "OSHA Table G-16", "time", "h", "h", (2, 2)),
        ResultColumn("osha_time", "OSHA formula", "time", "h", "h", (2, 2)),
        ResultColumn("niosh_time", "NIOSH", "time", "h", "h", (2, 2)),
    )
    rows = tuple(
        (
            level,
            TABLE_G16_H[level] * 3600 if level in TABLE_G16_H else None,
            osha_time_s(level),
            niosh_time_s(level),
        )
        for level in sorted({*TABLE_G16_H, 80, 82, 85, 88, 91, 94})
    )
    return ShownValue(
        table=ResultTable("Time to a full day's dose", columns, rows),
        chart=line_chart(
            "Time to a full dose (NIOSH)",
            f"Time halves every 3 dB: 8 h at 85 dBA, {result.niosh_time_s / 60:.3g} min at "
            f"{inputs.level_db:g} dBA.",
            [(level, niosh_time_s(level) / 3600) for level in range(80, 106)],
            "Level (dBA)",
            "Time (h)",
        ),
        notes=_notes(inputs, result),
    )


def _notes(inputs: Inputs, result: Result) -> tuple[str, ...]:
    notes = [
        (
            f"NIOSH, the stricter of the two, protects hearing better: {result.niosh_dose * 100:.0f} % "
            "of a day's dose."
        )
    ]
    if result.niosh_dose > 1:
        notes.append("Over a full dose: hearing protection and less time at the machine.")
    if max(inputs.levels_db) > CEILING_DB:
        notes.append("Over 115 dBA no steady noise is tolerated for any time (29 CFR 1910.95).")
    if min(inputs.levels_db) < LOWEST_COUNTED_DB:
        notes.append("Levels under 80 dBA are left out of a legal dose; here they count.")
    return tuple(notes)


CALCULATOR = Calculator(
    key="noise-dose",
    title="Daily noise dose",
    question="How much of a day's noise does an afternoon at the machines use up?",
    quantities=(
        Quantity("level", "L", "sound level", "level", 40, 140, 91),
        Quantity(
            "levels",
            "L_i",
            "levels of the day",
            "level",
            40,
            140,
            (91.0, 85.0),
            form="numbers",
            longest=50,
        ),
        Quantity(
            "times",
            "t_i",
            "time at each level",
            "time",
            0.001,
            24,
            (0.5, 2.0),
            "h",
            "h",
            form="numbers",
            longest=50,
        ),
        Quantity("niosh_time", "T_N", "NIOSH time to a full dose", "time", 1e-9, 1e9, 2, "h", "h"),
        Quantity("osha_time", "T_O", "OSHA reference time", "time", 1e-9, 1e9, 7, "h", "h"),
        Quantity("niosh_dose", "D_N", "NIOSH dose", "percentage", 0, 1e9),
        Quantity("osha_dose", "D_O", "OSHA dose", "percentage", 0, 1e9),
        Quantity("niosh_average", "A_N", "NIOSH 8-hour average", "level", -100, 200),
        Quantity("osha_average", "A_O", "OSHA 8-hour average", "level", -100, 200),
    ),
    answers=(
        "niosh_dose",
        "osha_dose",
        "niosh_time",
        "osha_time",
        "niosh_average",
        "osha_average",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(
        Relation(
            "niosh_time = 28800/2**((level - 85)/3)",
            {
                "niosh_time": '{niosh_time} = frac(8 thin "h", 2^(frac({level} - 85 thin "dB", 3 thin "dB")))',
                "level": '{level} = 85 thin "dB" + 3 thin "dB" * log_2(frac(8 thin "h", {niosh_time:h}))',
            },
        ),
        Relation(
            "osha_time = 28800/2**((level - 90)/5)",
            {
                "osha_time": '{osha_time} = frac(8 thin "h", 2^(frac({level} - 90 thin "dB", 5 thin "dB")))',
                "level": '{level} = 90 thin "dB" + 5 thin "dB" * log_2(frac(8 thin "h", {osha_time:h}))',
            },
        ),
    ),
    formulas={
        "niosh_dose": '{niosh_dose} = 100 % * sum frac({times}, T_"N" ({levels}))',
        "osha_dose": '{osha_dose} = 100 % * sum frac({times}, T_"O" ({levels}))',
        "niosh_average": '{niosh_average} = 85 thin "dB" + 10 thin "dB" * log_10(frac({niosh_dose:%}, 100 %))',
        "osha_average": '{osha_average} = 90 thin "dB" + 5 thin "dB" * log_2(frac({osha_dose:%}, 100 %))',
    },
    limits=(
        "Steady noise measured in dBA with slow response; not for impact noise.",
        (
            "An estimate for the lesson. The school's own rules, local codes and a qualified "
            "measurement come first."
        ),
    ),
    conventions=(
        (
            "Both rules are shown. OSHA: 90 dBA for 8 h, half the time every 5 dB. NIOSH: 85 dBA for "
            "8 h, half the time every 3 dB; it protects better."
        ),
        (
            "The table of the regulation is coarser than its formula: 92 dBA is 6 h in Table G-16 and "
            "6.06 h by the formula. Doses here use the formula."
        ),
    ),
    source="29 CFR 1910.95, Table G-16 and appendix A; NIOSH publication 98-126",
    example=CalculatorExample(
        given={"levels": "90; 95; 85", "times": "4 h; 2 h; 2 h"},
        expected={"osha_dose": "112.5 %"},
        source="29 CFR 1910.95 appendix A (1)(ii), recomputed",
        tolerance=1e-9,
    ),
)
