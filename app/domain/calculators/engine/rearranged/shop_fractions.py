"""Rearrangements of shop-fractions, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda length, length_sum, second_length: length_sum, lambda length, length_sum, second_length: length + second_length),
    (lambda length, length_difference, second_length: length_difference, lambda length, length_difference, second_length: length - second_length),
    (lambda half_length, length: half_length, lambda half_length, length: (1/2)*length),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "length_sum"): (lambda length, second_length: length + second_length,),
    (0, "second_length"): (lambda length, length_sum: -length + length_sum,),
    (1, "length"): (lambda length_difference, second_length: length_difference + second_length,),
    (1, "length_difference"): (lambda length, second_length: length - second_length,),
    (2, "half_length"): (lambda length: (1/2)*length,),
    (2, "length"): (lambda half_length: 2*half_length,),
}
