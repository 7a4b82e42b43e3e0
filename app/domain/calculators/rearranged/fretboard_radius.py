"""Rearrangements of fretboard-radius, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda edge_drop, radius, width: radius, lambda edge_drop, radius, width: (1/2)*(edge_drop**2 + (1/4)*width**2)/edge_drop),
    (lambda end_fret, end_radius, fret, fret_radius, radius: fret_radius, lambda end_fret, end_radius, fret, fret_radius, radius: radius + (1 - 2**(-1/12*fret))*(end_radius - radius)/(1 - 2**(-1/12*end_fret))),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "edge_drop"): (lambda radius, width: radius - 1/2*math.sqrt(4*radius**2 - width**2), lambda radius, width: radius + (1/2)*math.sqrt(4*radius**2 - width**2)),
    (0, "radius"): (lambda edge_drop, width: (1/2)*(edge_drop**2 + (1/4)*width**2)/edge_drop,),
    (0, "width"): (lambda edge_drop, radius: 2*math.sqrt(edge_drop)*math.sqrt(-edge_drop + 2*radius),),
    (1, "end_radius"): (lambda end_fret, fret, fret_radius, radius: 2**(-1/12*end_fret)*(-2**((1/12)*end_fret)*radius - 2**((1/12)*fret)*fret_radius + 2**((1/12)*fret)*radius + 2**((1/12)*end_fret + (1/12)*fret)*fret_radius)/(2**((1/12)*fret) - 1),),
    (1, "fret_radius"): (lambda end_fret, end_radius, fret, radius: radius + (1 - 2**(-1/12*fret))*(end_radius - radius)/(1 - 2**(-1/12*end_fret)),),
}
