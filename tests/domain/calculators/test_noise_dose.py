"""Noise dose against 29 CFR 1910.95 and NIOSH 98-126."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate

HOUR_S = 3600

# Rows of the reference list on shop safety that hold no calculation: they are printed as cautions.
OUT_OF_SCOPE = {
    "C240": "NIOSH limit for wood dust, 1 mg/m³: a caution with its citation, nothing to compute",
    "C241": "OSHA limits for wood dust, 15 and 5 mg/m³: a caution, nothing to compute",
    "C242": "ACGIH limits for wood dust, 1 and 0.5 mg/m³: a caution, nothing to compute",
    "C243": "IARC class of wood dust, Group 1: a caution, nothing to compute",
    "C246": "OSHA limits for lead, 50 and 30 µg/m³: a caution (from memory), nothing to compute",
    "C248": "hazardous occupations orders with a student-learner exemption: a caution",
    "C251": "number and date of the NIOSH school checklist: a citation",
}


def answer(key: str, **given_values: object) -> float:
    return calculate("noise-dose", given_values).values[key]


# 29 CFR 1910.95 Table G-16. The table is coarser than the formula: 92 dBA is 6 h, not 6.06 h.
@pytest.mark.parametrize(
    ("level", "hours"),
    [
        pytest.param(90, 8, id="C218"),
        pytest.param(92, 6, id="C219"),
        pytest.param(105, 1, id="C224"),
        pytest.param(110, 0.5, id="C225"),
        pytest.param(115, 0.25, id="C226"),
    ],
)
def test_the_legal_table_stands_beside_the_formula(level, hours):
    rows = {row[0]: row[1] for row in calculate("noise-dose", {}).table.rows}
    assert rows[level] == hours * HOUR_S


# 29 CFR 1910.95 appendix A, Table G-16a: T = 8 / 2^((L − 90)/5).
@pytest.mark.parametrize(
    ("level", "hours", "tolerance"),
    [
        pytest.param(85, 16, 0.05, id="C227"),
        pytest.param(92, 6.1, 0.05, id="C228"),
        pytest.param(99, 2.3, 0.05, id="C229"),
        pytest.param(106, 0.87, 0.005, id="C230"),
    ],
)
def test_osha_reference_durations(level, hours, tolerance):
    assert abs(answer("osha_time", level=level) / HOUR_S - hours) <= tolerance


# 29 CFR 1910.95 appendix A: D = 100 Σ C/T.
def test_c231_eight_hours_at_92_dba():
    value = answer("osha_dose", levels="92 dB", times="8 h")
    assert 100 * value == pytest.approx(131.95, abs=0.1)


def test_c232_mixed_day():
    value = answer("osha_dose", levels="90, 95, 85", times="4 h, 2 h, 2 h")
    assert 100 * value == pytest.approx(112.5, abs=1e-9)


# CDC/NIOSH noise page: 85 dBA for 8 h, half the time every 3 dB (NIOSH 98-126).
@pytest.mark.parametrize(
    ("level", "hours"),
    [
        pytest.param(85, 8, id="C234"),
        pytest.param(91, 2, id="C236"),
        pytest.param(94, 1, id="C237"),
        pytest.param(97, 0.5, id="C238"),
        pytest.param(100, 0.25, id="C239"),
    ],
)
def test_niosh_times(level, hours):
    assert answer("niosh_time", level=level) == pytest.approx(hours * HOUR_S, rel=1e-12)


# 29 CFR 1910.95 appendix A: TWA = 16.61 log₁₀(D/100) + 90.
def test_the_average_of_a_full_dose_is_the_limit():
    assert answer("osha_average", levels="90", times="8 h") == pytest.approx(90)
    assert answer("niosh_average", levels="85", times="8 h") == pytest.approx(85)
    half = answer("osha_average", levels="90", times="4 h")
    assert half == pytest.approx(90 + 16.61 * -0.30103, abs=1e-3)


@given(st.floats(86, 120), st.floats(0.1, 8))
def test_niosh_is_the_stricter_rule_above_85_dba(level, hours):
    values = calculate("noise-dose", {"levels": repr(level), "times": f"{hours!r} h"}).values
    assert values["niosh_dose"] > values["osha_dose"]


@given(st.floats(60, 130))
def test_level_is_found_again_from_its_time(level):
    there = answer("niosh_time", level=level)
    back = calculate("noise-dose", {"niosh_time": f"{there!r} s"}, "level")
    assert back.values["level"] == pytest.approx(level, abs=1e-6)


def test_levels_and_times_must_pair_within_one_day():
    with pytest.raises(InvalidInput, match="2 levels, 1 times"):
        calculate("noise-dose", {"levels": "90, 95", "times": "4 h"})
    with pytest.raises(InvalidInput, match="24 h"):
        calculate("noise-dose", {"levels": "90, 95", "times": "14 h, 14 h"})


def test_a_dangerous_day_is_warned_of():
    notes = " ".join(calculate("noise-dose", {"levels": "118", "times": "1 h"}).notes)
    assert "hearing protection" in notes
    assert "115 dBA" in notes
