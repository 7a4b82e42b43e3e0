"""Rearrangements of speed-of-sound, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda linear_speed, temperature: linear_speed, lambda linear_speed, temperature: 0.606*temperature + 165.7711),
    (lambda root_speed, temperature: root_speed, lambda root_speed, temperature: (331/273)*math.sqrt(273)*math.sqrt(temperature)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "linear_speed"): (lambda temperature: 0.606*temperature + 165.7711,),
    (0, "temperature"): (lambda linear_speed: 1.65016501650165*linear_speed - 273.549669966997,),
    (1, "root_speed"): (lambda temperature: (331/273)*math.sqrt(273)*math.sqrt(temperature),),
    (1, "temperature"): (lambda root_speed: (273/109561)*root_speed**2,),
}
