"""Rearrangements of fretboard-radius, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda edge_drop, fretboard_radius, fretboard_width: fretboard_radius, lambda edge_drop, fretboard_radius, fretboard_width: (1/2)*(edge_drop**2 + (1/4)*fretboard_width**2)/edge_drop),
    (lambda end_fret, end_radius, fret, fret_radius, fretboard_radius: fret_radius, lambda end_fret, end_radius, fret, fret_radius, fretboard_radius: fretboard_radius + (1 - 2**(-1/12*fret))*(end_radius - fretboard_radius)/(1 - 2**(-1/12*end_fret))),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "edge_drop"): (lambda fretboard_radius, fretboard_width: fretboard_radius - 1/2*math.sqrt(4*fretboard_radius**2 - fretboard_width**2), lambda fretboard_radius, fretboard_width: fretboard_radius + (1/2)*math.sqrt(4*fretboard_radius**2 - fretboard_width**2)),
    (0, "fretboard_radius"): (lambda edge_drop, fretboard_width: (1/2)*(edge_drop**2 + (1/4)*fretboard_width**2)/edge_drop,),
    (0, "fretboard_width"): (lambda edge_drop, fretboard_radius: 2*math.sqrt(edge_drop)*math.sqrt(-edge_drop + 2*fretboard_radius),),
    (1, "end_radius"): (lambda end_fret, fret, fret_radius, fretboard_radius: 2**(-1/12*end_fret)*(-2**((1/12)*end_fret)*fretboard_radius - 2**((1/12)*fret)*fret_radius + 2**((1/12)*fret)*fretboard_radius + 2**((1/12)*end_fret + (1/12)*fret)*fret_radius)/(2**((1/12)*fret) - 1),),
    (1, "fret_radius"): (lambda end_fret, end_radius, fret, fretboard_radius: fretboard_radius + (1 - 2**(-1/12*fret))*(end_radius - fretboard_radius)/(1 - 2**(-1/12*end_fret)),),
}
