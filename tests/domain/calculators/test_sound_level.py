"""Sound level against OpenStax and decibel arithmetic.

UP1: OpenStax, University Physics Volume 1, chapter 17. CP2e: OpenStax, College Physics 2e,
chapter 17. Both CC BY 4.0.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import calculate


def answer(key: str, **given_values: object) -> float:
    return calculate("sound-level", given_values, key).values[key]


@pytest.mark.parametrize(
    ("key", "given_values", "expected", "tolerance"),
    [
        # UP1 Example 17.2.
        pytest.param("level", {"intensity": "5.04e-4 W/m2"}, 87, 0.5, id="C263"),
        # CP2e Problem 12.
        pytest.param("intensity", {"level": "85.0 dB"}, 0.000316, 5e-7, id="C266"),
        # CP2e Problem 16.
        pytest.param("level", {"intensity": "4.00e-2 W/m2"}, 106, 0.5, id="C267"),
        # UP1 Problem 65.
        pytest.param("intensity", {"level": "-8.00 dB"}, 1.58e-13, 5e-16, id="C268"),
        # CP2e Problem 22.
        pytest.param("total_level", {"level": 40, "sources": 1000}, 70.0, 0.05, id="C269"),
        # UP1 Problem 67.
        pytest.param("level", {"total_level": 120, "sources": 10}, 110, 1e-9, id="C270"),
        # CP2e Problem 24.
        pytest.param("pressure_factor", {"level_change": 40}, 100, 1e-9, id="C272"),
        # 10 log₁₀ Σ 10^(L/10), recomputed with NumPy.
        pytest.param("sum_level", {"levels": "85 dB, 80 dB"}, 86.19, 0.01, id="C273"),
        # IEC 61672-1:2013 Table 3 (from memory), verified with librosa.
        pytest.param("a_weighting", {"frequency": "10 kHz"}, -2.5, 0.05, id="C275"),
    ],
)
def test_published_levels(key, given_values, expected, tolerance):
    assert abs(answer(key, **given_values) - expected) <= tolerance


# IEC 61672-1:2013 Table 3 (from memory), at the exact base-ten frequencies.
@pytest.mark.parametrize(("frequency", "expected"), [(100, -19.1), (1000, 0.0)])
def test_a_weighting_at_exact_frequencies(frequency, expected):
    assert answer("a_weighting", frequency=frequency) == pytest.approx(expected, abs=0.05)


@given(st.lists(st.floats(30, 120), min_size=1, max_size=12))
def test_a_sum_is_never_less_than_the_loudest_source(levels):
    text = ", ".join(repr(level) for level in levels)
    total = answer("sum_level", levels=text)
    assert max(levels) - 1e-9 <= total <= max(levels) + 10 * math.log10(len(levels)) + 1e-9


@given(st.floats(0, 140))
def test_level_and_intensity_solve_each_other(level):
    there = answer("intensity", level=level)
    assert answer("level", intensity=f"{there!r} W/m²") == pytest.approx(level, abs=1e-9)
