"""Rearrangements of string-tension, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda frequency, scale_length, tension, unit_weight: tension, lambda frequency, scale_length, tension, unit_weight: 4*frequency**2*scale_length**2*unit_weight),
    (lambda density, diameter, unit_weight: unit_weight, lambda density, diameter, unit_weight: (1/4)*math.pi*density*diameter**2),
    (lambda sample_length, sample_mass, unit_weight: unit_weight, lambda sample_length, sample_mass, unit_weight: sample_mass/sample_length),
    (lambda frequency, scale_length, wave_speed: wave_speed, lambda frequency, scale_length, wave_speed: 2*frequency*scale_length),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "frequency"): (lambda scale_length, tension, unit_weight: (1/2)*math.sqrt(tension)/(scale_length*math.sqrt(unit_weight)),),
    (0, "scale_length"): (lambda frequency, tension, unit_weight: (1/2)*math.sqrt(tension)/(frequency*math.sqrt(unit_weight)),),
    (0, "tension"): (lambda frequency, scale_length, unit_weight: 4*frequency**2*scale_length**2*unit_weight,),
    (0, "unit_weight"): (lambda frequency, scale_length, tension: (1/4)*tension/(frequency**2*scale_length**2),),
    (1, "density"): (lambda diameter, unit_weight: 4*unit_weight/(math.pi*diameter**2),),
    (1, "diameter"): (lambda density, unit_weight: 2*math.sqrt(unit_weight)/(math.sqrt(math.pi)*math.sqrt(density)),),
    (1, "unit_weight"): (lambda density, diameter: (1/4)*math.pi*density*diameter**2,),
    (2, "sample_length"): (lambda sample_mass, unit_weight: sample_mass/unit_weight,),
    (2, "sample_mass"): (lambda sample_length, unit_weight: sample_length*unit_weight,),
    (2, "unit_weight"): (lambda sample_length, sample_mass: sample_mass/sample_length,),
    (3, "frequency"): (lambda scale_length, wave_speed: (1/2)*wave_speed/scale_length,),
    (3, "scale_length"): (lambda frequency, wave_speed: (1/2)*wave_speed/frequency,),
    (3, "wave_speed"): (lambda frequency, scale_length: 2*frequency*scale_length,),
}
