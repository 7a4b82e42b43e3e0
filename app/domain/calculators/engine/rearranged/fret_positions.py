"""Rearrangements of fret-positions, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda divisions, fret, fret_distance, scale_length: fret_distance, lambda divisions, fret, fret_distance, scale_length: scale_length*(1 - 2**(-fret/divisions))),
    (lambda divisions, fret, remaining_length, scale_length: remaining_length, lambda divisions, fret, remaining_length, scale_length: 2**(-fret/divisions)*scale_length),
    (lambda divisions, fret, fret_spacing, scale_length: fret_spacing, lambda divisions, fret, fret_spacing, scale_length: 2**(-fret/divisions)*scale_length*(2**(1/divisions) - 1)),
    (lambda remaining_length, slot_error, slot_offset: slot_error, lambda remaining_length, slot_error, slot_offset: -1200*math.log(1 - slot_offset/remaining_length)/math.log(2)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "fret"): (lambda divisions, fret_distance, scale_length: divisions*math.log(-scale_length/(fret_distance - scale_length))/math.log(2),),
    (0, "fret_distance"): (lambda divisions, fret, scale_length: scale_length*(1 - 2**(-fret/divisions)),),
    (0, "scale_length"): (lambda divisions, fret, fret_distance: 2**(fret/divisions)*fret_distance/(2**(fret/divisions) - 1),),
    (1, "remaining_length"): (lambda divisions, fret, scale_length: 2**(-fret/divisions)*scale_length,),
    (1, "scale_length"): (lambda divisions, fret, remaining_length: 2**(fret/divisions)*remaining_length,),
    (2, "fret_spacing"): (lambda divisions, fret, scale_length: 2**(-fret/divisions)*scale_length*(2**(1/divisions) - 1),),
    (2, "scale_length"): (lambda divisions, fret, fret_spacing: 2**(fret/divisions)*fret_spacing/(2**(1/divisions) - 1),),
    (3, "slot_error"): (lambda remaining_length, slot_offset: -1200*math.log(1 - slot_offset/remaining_length)/math.log(2),),
    (3, "slot_offset"): (lambda remaining_length, slot_error: remaining_length - 2**(-1/1200*slot_error)*remaining_length,),
}
