"""Rearrangements of joint-squareness, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda edge_error, edges, joint_gap, thickness: joint_gap, lambda edge_error, edges, joint_gap, thickness: edges*thickness*math.tan(edge_error)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "edge_error"): (lambda edges, joint_gap, thickness: math.atan(joint_gap/(edges*thickness)),),
    (0, "joint_gap"): (lambda edge_error, edges, thickness: edges*thickness*math.tan(edge_error),),
    (0, "thickness"): (lambda edge_error, edges, joint_gap: joint_gap/(edges*math.tan(edge_error)),),
}
