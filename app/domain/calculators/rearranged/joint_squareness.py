"""Rearrangements of joint-squareness, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda edge_error, edges, gap, thickness: gap, lambda edge_error, edges, gap, thickness: edges*thickness*math.tan(edge_error)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "edge_error"): (lambda edges, gap, thickness: math.atan(gap/(edges*thickness)),),
    (0, "gap"): (lambda edge_error, edges, thickness: edges*thickness*math.tan(edge_error),),
    (0, "thickness"): (lambda edge_error, edges, gap: gap/(edges*math.tan(edge_error)),),
}
