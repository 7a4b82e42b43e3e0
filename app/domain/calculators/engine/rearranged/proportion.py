"""Rearrangements of proportion, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda first, fourth, second, third: first*fourth, lambda first, fourth, second, third: second*third),
    (lambda first, ratio, second: ratio, lambda first, ratio, second: first/second),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "first"): (lambda fourth, second, third: second*third/fourth,),
    (0, "fourth"): (lambda first, second, third: second*third/first,),
    (0, "second"): (lambda first, fourth, third: first*fourth/third,),
    (0, "third"): (lambda first, fourth, second: first*fourth/second,),
    (1, "first"): (lambda ratio, second: ratio*second,),
    (1, "ratio"): (lambda first, second: first/second,),
    (1, "second"): (lambda first, ratio: first/ratio,),
}
