"""Rearrangements of tone-circuit, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda corner_frequency, tone_capacitance, tone_resistance: corner_frequency, lambda corner_frequency, tone_capacitance, tone_resistance: (1/2)/(math.pi*tone_capacitance*tone_resistance)),
    (lambda cable_capacitance, pickup_capacitance, pickup_inductance, resonance_frequency: resonance_frequency, lambda cable_capacitance, pickup_capacitance, pickup_inductance, resonance_frequency: (1/2)/(math.pi*math.sqrt(pickup_inductance)*math.sqrt(cable_capacitance + pickup_capacitance))),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "corner_frequency"): (lambda tone_capacitance, tone_resistance: (1/2)/(math.pi*tone_capacitance*tone_resistance),),
    (0, "tone_capacitance"): (lambda corner_frequency, tone_resistance: (1/2)/(math.pi*corner_frequency*tone_resistance),),
    (0, "tone_resistance"): (lambda corner_frequency, tone_capacitance: (1/2)/(math.pi*corner_frequency*tone_capacitance),),
    (1, "cable_capacitance"): (lambda pickup_capacitance, pickup_inductance, resonance_frequency: -pickup_capacitance + (1/4)/(math.pi**2*pickup_inductance*resonance_frequency**2),),
    (1, "pickup_inductance"): (lambda cable_capacitance, pickup_capacitance, resonance_frequency: (1/4)/(math.pi**2*resonance_frequency**2*(cable_capacitance + pickup_capacitance)),),
    (1, "resonance_frequency"): (lambda cable_capacitance, pickup_capacitance, pickup_inductance: (1/2)/(math.pi*math.sqrt(pickup_inductance)*math.sqrt(cable_capacitance + pickup_capacitance)),),
}
