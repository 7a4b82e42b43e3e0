"""Rearrangements of sound-level, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda level, sources, total_level: total_level, lambda level, sources, total_level: level + 10*math.log(sources)/math.log(10)),
    (lambda intensity, level: level, lambda intensity, level: 10*math.log(1000000000000*intensity)/math.log(10)),
    (lambda level, sound_pressure: level, lambda level, sound_pressure: 20*math.log(50000*sound_pressure)/math.log(10)),
    (lambda level_change, pressure_factor: level_change, lambda level_change, pressure_factor: 20*math.log(pressure_factor)/math.log(10)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "level"): (lambda sources, total_level: total_level - 10*math.log(sources)/math.log(10),),
    (0, "sources"): (lambda level, total_level: 10**(-1/10*level + (1/10)*total_level),),
    (0, "total_level"): (lambda level, sources: level + 10*math.log(sources)/math.log(10),),
    (1, "intensity"): (lambda level: 10**((1/10)*level - 12),),
    (1, "level"): (lambda intensity: 10*math.log(1000000000000*intensity)/math.log(10),),
    (2, "level"): (lambda sound_pressure: 20*math.log(50000*sound_pressure)/math.log(10),),
    (2, "sound_pressure"): (lambda level: (1/50000)*10**((1/20)*level),),
    (3, "level_change"): (lambda pressure_factor: 20*math.log(pressure_factor)/math.log(10),),
    (3, "pressure_factor"): (lambda level_change: 10**((1/20)*level_change),),
}
