"""Rearrangements of tuner-gear-ratio, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda gear_ratio, knob_turns, post_diameter, take_up: take_up, lambda gear_ratio, knob_turns, post_diameter, take_up: math.pi*knob_turns*post_diameter/gear_ratio),
    (lambda core_diameter, stretched_length, take_up, tension_rise, youngs_modulus: tension_rise, lambda core_diameter, stretched_length, take_up, tension_rise, youngs_modulus: (1/4)*math.pi*core_diameter**2*take_up*youngs_modulus/stretched_length),
    (lambda pitch_rise, tension, tension_rise: pitch_rise, lambda pitch_rise, tension, tension_rise: 600*math.log(1 + tension_rise/tension)/math.log(2)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "gear_ratio"): (lambda knob_turns, post_diameter, take_up: math.pi*knob_turns*post_diameter/take_up,),
    (0, "knob_turns"): (lambda gear_ratio, post_diameter, take_up: gear_ratio*take_up/(math.pi*post_diameter),),
    (0, "post_diameter"): (lambda gear_ratio, knob_turns, take_up: gear_ratio*take_up/(math.pi*knob_turns),),
    (0, "take_up"): (lambda gear_ratio, knob_turns, post_diameter: math.pi*knob_turns*post_diameter/gear_ratio,),
    (1, "take_up"): (lambda core_diameter, stretched_length, tension_rise, youngs_modulus: 4*stretched_length*tension_rise/(math.pi*core_diameter**2*youngs_modulus),),
    (1, "tension_rise"): (lambda core_diameter, stretched_length, take_up, youngs_modulus: (1/4)*math.pi*core_diameter**2*take_up*youngs_modulus/stretched_length,),
    (2, "pitch_rise"): (lambda tension, tension_rise: 600*math.log(1 + tension_rise/tension)/math.log(2),),
    (2, "tension_rise"): (lambda pitch_rise, tension: tension*(2**((1/600)*pitch_rise) - 1),),
}
