"""Harmonics against tables, an eigenproblem, and a summed Fourier series."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh_tridiagonal

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.harmonics import deviation_cents, pluck_amplitude


def answer(key: str, **given_values: object) -> float:
    return calculate("harmonics", given_values).values[key]


# 1200 log₂ n against the nearest hundred; tabulated in Rossing, Moore and Wheeler, The Science
# of Sound, third edition.
@pytest.mark.parametrize(
    ("harmonic", "expected"),
    [
        pytest.param(3, 1.955, id="C059"),
        pytest.param(9, 3.910, id="C062"),
        pytest.param(11, -48.682, id="C063"),
        pytest.param(13, 40.528, id="C064"),
        pytest.param(15, -11.731, id="C065"),
    ],
)
def test_partials_lie_off_the_tempered_notes(harmonic, expected):
    assert abs(answer("deviation", harmonic=harmonic) - expected) <= 0.0006


# OpenStax, University Physics Volume 1, equation 16.15.
def test_c066_wavelength_of_the_third_mode():
    assert answer("wavelength", scale_length="2.00 m", harmonic=3) == pytest.approx(
        1.3333, abs=1e-4
    )


# Nodes at k L / n; OpenStax, University Physics Volume 1, section 16.6.
def test_c067_touch_point_of_the_fifth_harmonic():
    assert answer("node_distance", scale_length="650 mm", harmonic=5) == pytest.approx(
        0.130, abs=1e-12
    )


# The vibrating string as an eigenproblem of 4000 equal masses (SciPy).
def test_the_modes_of_a_string_are_whole_multiples():
    count = 4000
    values = eigh_tridiagonal(
        np.full(count - 1, 2.0), np.full(count - 2, -1.0), select="i", select_range=(0, 11)
    )[0]
    ratios = np.sqrt(values / values[0])
    partials = calculate("harmonics", {"harmonics": 12, "frequency": 110}).result.partials
    for partial, ratio in zip(partials, ratios, strict=True):
        assert partial.frequency_hz / 110 == pytest.approx(ratio, rel=2e-5)


# The Fourier sine series of a plucked (triangular) shape, integrated by NumPy.
@pytest.mark.parametrize("share", [0.5, 0.2, 0.137])
def test_the_spectrum_is_that_of_a_plucked_shape(share):
    x = np.linspace(0, 1, 200001)
    shape = np.where(x < share, x / share, (1 - x) / (1 - share))
    displacement = [2 * abs(np.trapezoid(shape * np.sin(n * np.pi * x), x)) for n in range(1, 9)]
    velocity = [n * amplitude for n, amplitude in enumerate(displacement, start=1)]
    expected = [pluck_amplitude(n, share) for n in range(1, 9)]
    scale = velocity[0] / expected[0]
    assert velocity == pytest.approx([scale * value for value in expected], abs=1e-6)


def test_a_string_plucked_in_the_middle_has_no_even_harmonics():
    partials = calculate("harmonics", {"pluck_distance": "324 mm"}).result.partials
    assert all(p.pluck_level_db == -60 for p in partials if p.number % 2 == 0)
    assert all(p.pluck_level_db > -60 for p in partials if p.number % 2)


def test_a_pickup_at_a_node_does_not_hear_that_harmonic():
    calculation = calculate("harmonics", {"pickup_distance": "162 mm"})
    deaf = [p.number for p in calculation.result.partials if p.pickup_level_db == -60]
    assert {4, 8, 12, 16} <= set(deaf)
    assert "4" in calculation.notes[0]


@given(st.integers(1, 200))
def test_a_deviation_is_at_most_half_a_semitone(harmonic):
    assert -50 <= deviation_cents(harmonic) <= 50
    assert deviation_cents(2 * harmonic) == pytest.approx(deviation_cents(harmonic), abs=1e-9)


# By hand: half the string rests at fret 12, a third at fret 7.02.
def test_nodes_lie_near_frets():
    assert answer("node_fret", harmonic=2) == pytest.approx(12)
    assert answer("node_fret", harmonic=3) == pytest.approx(12 * math.log2(1.5))
    assert "node_fret" not in calculate("harmonics", {"harmonic": 3, "node": 3}).values


def test_pluck_and_pickup_must_lie_on_the_string():
    with pytest.raises(InvalidInput) as refusal:
        calculate("harmonics", {"pluck_distance": 700, "pickup_distance": 650})
    assert {key for key, _ in refusal.value.mistakes} == {"pluck_distance", "pickup_distance"}
