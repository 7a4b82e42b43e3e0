"""Rearrangements of noise-dose, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda level, niosh_time: niosh_time, lambda level, niosh_time: 28800*2**(85/3 - 1/3*level)),
    (lambda level, osha_time: osha_time, lambda level, osha_time: 28800*2**(18 - 1/5*level)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "level"): (lambda niosh_time: (-3*math.log(niosh_time) + 2*math.log(30399297484750848000))/math.log(2),),
    (0, "niosh_time"): (lambda level: 28800*2**(85/3 - 1/3*level),),
    (1, "level"): (lambda osha_time: 5*math.log(7549747200/osha_time)/math.log(2),),
    (1, "osha_time"): (lambda level: 28800*2**(18 - 1/5*level),),
}
