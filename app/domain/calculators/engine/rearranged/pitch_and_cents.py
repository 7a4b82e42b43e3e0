"""Rearrangements of pitch-and-cents, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda frequency, interval, second_frequency: interval, lambda frequency, interval, second_frequency: 1200*math.log(second_frequency/frequency)/math.log(2)),
    (lambda frequency, frequency_ratio, second_frequency: frequency_ratio, lambda frequency, frequency_ratio, second_frequency: second_frequency/frequency),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "frequency"): (lambda interval, second_frequency: 2**(-1/1200*interval)*second_frequency,),
    (0, "interval"): (lambda frequency, second_frequency: 1200*math.log(second_frequency/frequency)/math.log(2),),
    (0, "second_frequency"): (lambda frequency, interval: 2**((1/1200)*interval)*frequency,),
    (1, "frequency"): (lambda frequency_ratio, second_frequency: second_frequency/frequency_ratio,),
    (1, "frequency_ratio"): (lambda frequency, second_frequency: second_frequency/frequency,),
    (1, "second_frequency"): (lambda frequency, frequency_ratio: frequency*frequency_ratio,),
}
