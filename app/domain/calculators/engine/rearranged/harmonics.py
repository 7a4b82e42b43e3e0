"""Rearrangements of harmonics, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda frequency, harmonic, harmonic_frequency: harmonic_frequency, lambda frequency, harmonic, harmonic_frequency: frequency*harmonic),
    (lambda harmonic, scale_length, wavelength: wavelength, lambda harmonic, scale_length, wavelength: 2*scale_length/harmonic),
    (lambda harmonic, node, node_distance, scale_length: node_distance, lambda harmonic, node, node_distance, scale_length: node*scale_length/harmonic),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "frequency"): (lambda harmonic, harmonic_frequency: harmonic_frequency/harmonic,),
    (0, "harmonic_frequency"): (lambda frequency, harmonic: frequency*harmonic,),
    (1, "scale_length"): (lambda harmonic, wavelength: (1/2)*harmonic*wavelength,),
    (1, "wavelength"): (lambda harmonic, scale_length: 2*scale_length/harmonic,),
    (2, "node_distance"): (lambda harmonic, node, scale_length: node*scale_length/harmonic,),
    (2, "scale_length"): (lambda harmonic, node, node_distance: harmonic*node_distance/node,),
}
