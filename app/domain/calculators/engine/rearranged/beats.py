"""Rearrangements of beats, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda frequency, frequency_difference, harmonic, second_frequency, second_harmonic: frequency_difference, lambda frequency, frequency_difference, harmonic, second_frequency, second_harmonic: -frequency*harmonic + second_frequency*second_harmonic),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "frequency"): (lambda frequency_difference, harmonic, second_frequency, second_harmonic: (-frequency_difference + second_frequency*second_harmonic)/harmonic,),
    (0, "frequency_difference"): (lambda frequency, harmonic, second_frequency, second_harmonic: -frequency*harmonic + second_frequency*second_harmonic,),
    (0, "second_frequency"): (lambda frequency, frequency_difference, harmonic, second_harmonic: (frequency*harmonic + frequency_difference)/second_harmonic,),
}
