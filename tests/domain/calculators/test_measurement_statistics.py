"""Statistics against certified values of NIST and against SciPy."""

import math
import statistics
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from app.domain.calculators import InvalidInput, calculate

# NIST Statistical Reference Datasets, univariate summary statistics (public domain). The files
# hold the published readings, one to a line.
HERE = Path(__file__).parent / "nist"
WIGGLES = {  # as NIST publishes them: one middle reading, then 500 pairs beside it
    "NumAcc2": ("1.2", "1.1", "1.3"),
    "NumAcc3": ("1000000.2", "1000000.1", "1000000.3"),
    "NumAcc4": ("10000000.2", "10000000.1", "10000000.3"),
}


def readings_of(dataset: str) -> str:
    if dataset == "NumAcc1":
        return "10000001; 10000003; 10000002"
    if dataset in WIGGLES:
        middle, low, high = WIGGLES[dataset]
        return "; ".join([middle, *[low, high] * 500])
    return (HERE / f"{dataset}.txt").read_text(encoding="utf-8")


def answer(readings: str, key: str) -> float:
    return calculate("measurement-statistics", {"readings": readings}).values[key]


CERTIFIED = [
    pytest.param("Lew", "autocorrelation", -0.307304800605679, 1e-9, id="C194"),
    pytest.param("Lottery", "standard_deviation", 291.699727470969, 1e-9, id="C196"),
    pytest.param("Mavro", "mean", 2.00185600000000, 1e-9, id="C197"),
    pytest.param("Mavro", "standard_deviation", 0.000429123454003053, 1e-9, id="C198"),
    pytest.param("Michelso", "standard_deviation", 0.0790105478190518, 1e-9, id="C200"),
    pytest.param("Michelso", "autocorrelation", 0.535199668621283, 1e-9, id="C201"),
    pytest.param("NumAcc1", "mean", 10000002, 1e-9, id="C202"),
    pytest.param("NumAcc1", "standard_deviation", 1, 1e-6, id="C203"),
    pytest.param("NumAcc2", "standard_deviation", 0.1, 1e-6, id="C205"),
    pytest.param("NumAcc3", "mean", 1000000.2, 1e-9, id="C206"),
    pytest.param("NumAcc3", "standard_deviation", 0.1, 1e-6, id="C207"),
    pytest.param("NumAcc4", "mean", 10000000.2, 1e-9, id="C208"),
]


@pytest.mark.parametrize(("dataset", "key", "certified", "relative"), CERTIFIED)
def test_certified_values_of_nist(dataset, key, certified, relative):
    value = answer(readings_of(dataset), key)
    assert value == pytest.approx(certified, rel=relative, abs=0)


@pytest.mark.parametrize(
    ("dataset", "count"), [("Lew", 200), ("Lottery", 218), ("Mavro", 50), ("Michelso", 100)]
)
def test_every_reading_of_a_dataset_is_read(dataset, count):
    calculation = calculate("measurement-statistics", {"readings": readings_of(dataset)})
    assert len(calculation.values["readings"]) == count


lists = st.lists(st.floats(-1000, 1000).map(lambda x: round(x, 3)), min_size=3, max_size=30)


@given(lists)
def test_mean_median_and_deviation_agree_with_the_standard_library(readings):
    text = "; ".join(map(repr, readings))
    values = calculate("measurement-statistics", {"readings": text}).values
    assert values["mean"] == pytest.approx(statistics.fmean(readings), abs=1e-9)
    assert values["median"] == pytest.approx(statistics.median(readings), abs=1e-9)
    expected = statistics.stdev(readings)
    assert values["standard_deviation"] == pytest.approx(expected, rel=1e-9, abs=1e-9)


PLACES = (1.0, 2.5, 3.0, 4.7, 6.1, 7.7)
READINGS = (36.4, 71.1, 80.4, 121.0, 150.2, 181.9)


def test_the_line_agrees_with_scipy():
    values = calculate(
        "measurement-statistics",
        {"readings": ";".join(map(repr, READINGS)), "places": ";".join(map(repr, PLACES))},
    )
    line = stats.linregress(PLACES, READINGS)
    assert values.values["slope"] == pytest.approx(line.slope, rel=1e-12)
    assert values.values["intercept"] == pytest.approx(line.intercept, rel=1e-12)
    assert values.values["determination"] == pytest.approx(line.rvalue**2, rel=1e-12)
    residuals = values.result.line.residuals
    assert sum(residuals) == pytest.approx(0, abs=1e-9)
    expected = math.sqrt(sum(r**2 for r in residuals) / (len(READINGS) - 2))
    assert values.values["residual_deviation"] == pytest.approx(expected, rel=1e-12)


def test_yield_and_capability_agree_with_scipy():
    values = calculate("measurement-statistics", {"lower_limit": 647, "upper_limit": 649}).values
    mean, deviation = values["mean"], values["standard_deviation"]
    normal = stats.norm(mean, deviation)
    assert values["expected_within"] == pytest.approx(normal.cdf(649) - normal.cdf(647), rel=1e-9)
    assert values["share_within"] == pytest.approx(0.9)  # by hand: nine of ten
    # NIST/SEMATECH e-Handbook, section 6.1.6.
    assert values["capability"] == pytest.approx(2 / (6 * deviation))
    assert values["centred_capability"] == pytest.approx((649 - mean) / (3 * deviation))


def test_an_outlier_is_found_and_never_silently_dropped():
    calculation = calculate("measurement-statistics", {})
    assert calculation.values["outliers"] == (649.6,)
    assert any("outlier" in note for note in calculation.notes)
    assert calculation.values["maximum"] == 649.6


def test_without_limits_there_is_no_yield_and_one_reading_has_no_spread():
    values = calculate("measurement-statistics", {"readings": "648"}).values
    assert values["mean"] == 648
    for key in ("standard_deviation", "slope", "share_within", "capability"):
        assert key not in values


def test_places_must_pair_and_limits_must_not_cross():
    with pytest.raises(InvalidInput) as refusal:
        calculate("measurement-statistics", {"places": "1; 2", "lower_limit": 5, "upper_limit": 4})
    assert {key for key, _ in refusal.value.mistakes} == {"places", "upper_limit"}
