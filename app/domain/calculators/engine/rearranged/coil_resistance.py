"""Rearrangements of coil-resistance, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda mean_turn, turns, wire_length: wire_length, lambda mean_turn, turns, wire_length: mean_turn*turns),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "mean_turn"): (lambda turns, wire_length: wire_length/turns,),
    (0, "turns"): (lambda mean_turn, wire_length: wire_length/mean_turn,),
    (0, "wire_length"): (lambda mean_turn, turns: mean_turn*turns,),
}
