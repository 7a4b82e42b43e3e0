"""Inharmonicity against Fletcher, Young, and a finite-element eigenproblem."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh

from app.domain.calculators import calculate
from app.domain.calculators.stiffness import clamped, stretch


def answer(key: str, **given_values: object) -> float:
    return calculate("stiffness", given_values, key).values[key]


def beam_modes(stiffness: float, *, ends: str, elements: int = 120, modes: int = 10) -> np.ndarray:
    """Frequency ratios to the flexible string of a stiff string (Hermite finite elements).

    Unit length, tension and mass; the bending stiffness is B/π² so that pinned partials are
    n √(1 + B n²) of the flexible fundamental.
    """
    h = 1 / elements
    bending = stiffness / math.pi**2
    bend = (bending / h**3) * np.array(
        [
            [12, 6 * h, -12, 6 * h],
            [6 * h, 4 * h**2, -6 * h, 2 * h**2],
            [-12, -6 * h, 12, -6 * h],
            [6 * h, 2 * h**2, -6 * h, 4 * h**2],
        ]
    )
    pull = (1 / (30 * h)) * np.array(
        [
            [36, 3 * h, -36, 3 * h],
            [3 * h, 4 * h**2, -3 * h, -(h**2)],
            [-36, -3 * h, 36, -3 * h],
            [3 * h, -(h**2), -3 * h, 4 * h**2],
        ]
    )
    mass = (h / 420) * np.array(
        [
            [156, 22 * h, 54, -13 * h],
            [22 * h, 4 * h**2, 13 * h, -3 * h**2],
            [54, 13 * h, 156, -22 * h],
            [-13 * h, -3 * h**2, -22 * h, 4 * h**2],
        ]
    )
    size = 2 * (elements + 1)
    stiff, heavy = np.zeros((size, size)), np.zeros((size, size))
    for element in range(elements):
        here = slice(2 * element, 2 * element + 4)
        stiff[here, here] += bend + pull
        heavy[here, here] += mass
    held = [0, size - 2] if ends == "pinned" else [0, 1, size - 2, size - 1]
    free = [index for index in range(size) if index not in held]
    values = eigh(
        stiff[np.ix_(free, free)],
        heavy[np.ix_(free, free)],
        eigvals_only=True,
        subset_by_index=[0, modes - 1],
    )
    return np.sqrt(values) / math.pi


@pytest.mark.parametrize("coefficient", [1e-4, 1e-3, 1e-2])
def test_pinned_partials_agree_with_a_finite_element_eigenproblem(coefficient):
    modes = beam_modes(coefficient, ends="pinned")
    for number, ratio in enumerate(modes, start=1):
        assert number * stretch(coefficient, number) == pytest.approx(ratio, rel=3e-6)


# The series for clamped ends is good to 0.02 cents up to B = 10⁻³ (finite elements).
@pytest.mark.parametrize("coefficient", [1e-4, 1e-3])
def test_clamped_ends_agree_with_a_finite_element_eigenproblem(coefficient):
    first = beam_modes(coefficient, ends="clamped", elements=240, modes=1)[0]
    series = stretch(coefficient, 1) * clamped(coefficient)
    assert abs(1200 * math.log2(series / first)) < 0.03


# Young, JASA 24 (1952) 267, abstract: cents = 3.4e13 n² d² / (f₀² l⁴) in cgs, E/ρ = 25.5e10.
def test_c070_youngs_constant():
    values = calculate(
        "stiffness",
        {
            "youngs_modulus": "200 GPa",
            "density": f"{200e9 / 25.5e6!r} kg/m3",
            "diameter": "0.2 mm",
            "scale_length": "1000 mm",
            "frequency": "200 Hz",
            "harmonic": 1,
        },
    ).values
    constant = values["deviation"] * 200**2 * 100**4 / 0.02**2
    assert constant == pytest.approx(3.4e13, abs=0.05e13)


# Schuck and Young, JASA 15 (1943) 1, abstract: partial 15 where harmonic 16 would be.
def test_c072_inharmonicity_where_partial_15_is_harmonic_16():
    value = answer("inharmonicity", partial_frequency="1600 Hz", frequency="100 Hz", harmonic=15)
    assert value == pytest.approx(0.000612, abs=1e-6)


# 600 log₂(1 + B n²), recomputed with NumPy.
def test_c073_partial_10_is_29_53_cents_sharp():
    assert answer("deviation", inharmonicity=3.47e-4, harmonic=10) == pytest.approx(29.53, abs=0.02)


# Fletcher, JASA 36 (1964) 203; finite-element eigenproblem with 400 elements.
def test_c074_partial_8_to_partial_1():
    eighth, first = (
        answer("partial_frequency", inharmonicity=1e-3, harmonic=harmonic) for harmonic in (8, 1)
    )
    assert eighth / first == pytest.approx(8.247907130174, abs=1e-5)


# B = π² E d² / (64 ρ L⁴ f²), recomputed with NumPy.
def test_c077_plain_steel_0_017_in_at_g3():
    value = answer(
        "inharmonicity",
        youngs_modulus="200 GPa",
        density="7850 kg/m3",
        scale_length="648 mm",
        frequency="196.00 Hz",
        diameter="0.017 in",
    )
    assert value == pytest.approx(0.000108152, abs=1e-9)


# Morse and Fletcher's series, as cited by Varieschi and Gower 2010.
def test_c085_clamping_sharpens_the_fundamental():
    value = answer("clamped_deviation", inharmonicity=1e-4, harmonic=1)
    assert value == pytest.approx(11.14, abs=0.006)


@given(st.floats(0.1, 2), st.floats(50, 800), st.integers(1, 30))
def test_diameter_is_found_again_from_the_deviation(diameter, frequency, harmonic):
    base = {"frequency": frequency, "harmonic": harmonic}
    there = calculate("stiffness", {**base, "diameter": diameter}).values
    back = calculate("stiffness", {**base, "deviation": there["deviation"]}, "diameter")
    assert back.values["diameter"] == pytest.approx(diameter / 1000, rel=1e-6)


@given(st.integers(1, 100), st.floats(1e-6, 1e-3))
def test_higher_partials_lie_higher(harmonic, coefficient):
    assert stretch(coefficient, harmonic + 1) > stretch(coefficient, harmonic) > 1
