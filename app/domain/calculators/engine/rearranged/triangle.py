"""Rearrangements of triangle, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda diagonal, leg_a, leg_b: diagonal**2, lambda diagonal, leg_a, leg_b: leg_a**2 + leg_b**2),
    (lambda corner_angle, leg_a, leg_b, measured_diagonal: measured_diagonal**2, lambda corner_angle, leg_a, leg_b, measured_diagonal: leg_a**2 - 2*leg_a*leg_b*math.cos(corner_angle) + leg_b**2),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "diagonal"): (lambda leg_a, leg_b: math.sqrt(leg_a**2 + leg_b**2),),
    (0, "leg_a"): (lambda diagonal, leg_b: math.sqrt(diagonal**2 - leg_b**2),),
    (0, "leg_b"): (lambda diagonal, leg_a: math.sqrt(diagonal**2 - leg_a**2),),
    (1, "measured_diagonal"): (lambda corner_angle, leg_a, leg_b: math.sqrt(leg_a**2 - 2*leg_a*leg_b*math.cos(corner_angle) + leg_b**2),),
}
