"""Rearrangements of fretting-stretch, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda fret_distance, nut_height, saddle_height, scale_length, strain: strain, lambda fret_distance, nut_height, saddle_height, scale_length, strain: -1 + (math.sqrt(fret_distance**2 + nut_height**2) + math.sqrt(saddle_height**2 + (-fret_distance + scale_length)**2))/math.sqrt(scale_length**2 + (-nut_height + saddle_height)**2)),
    (lambda core_diameter, strain, tension_rise, youngs_modulus: tension_rise, lambda core_diameter, strain, tension_rise, youngs_modulus: (1/4)*math.pi*core_diameter**2*strain*youngs_modulus),
    (lambda pitch_rise, tension, tension_rise: pitch_rise, lambda pitch_rise, tension, tension_rise: 600*math.log(1 + tension_rise/tension)/math.log(2)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "strain"): (lambda fret_distance, nut_height, saddle_height, scale_length: -1 + (math.sqrt(fret_distance**2 + nut_height**2) + math.sqrt(saddle_height**2 + (-fret_distance + scale_length)**2))/math.sqrt(scale_length**2 + (-nut_height + saddle_height)**2),),
    (1, "core_diameter"): (lambda strain, tension_rise, youngs_modulus: 2*math.sqrt(tension_rise)/(math.sqrt(math.pi)*math.sqrt(strain)*math.sqrt(youngs_modulus)),),
    (1, "tension_rise"): (lambda core_diameter, strain, youngs_modulus: (1/4)*math.pi*core_diameter**2*strain*youngs_modulus,),
    (1, "youngs_modulus"): (lambda core_diameter, strain, tension_rise: 4*tension_rise/(math.pi*core_diameter**2*strain),),
    (2, "pitch_rise"): (lambda tension, tension_rise: 600*math.log(1 + tension_rise/tension)/math.log(2),),
    (2, "tension"): (lambda pitch_rise, tension_rise: tension_rise/(2**((1/600)*pitch_rise) - 1),),
    (2, "tension_rise"): (lambda pitch_rise, tension: tension*(2**((1/600)*pitch_rise) - 1),),
}
