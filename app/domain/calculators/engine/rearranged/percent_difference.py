"""Rearrangements of percent-difference, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda difference, measured_value, reference_value: difference, lambda difference, measured_value, reference_value: measured_value - reference_value),
    (lambda measured_value, percent_error, reference_value: percent_error, lambda measured_value, percent_error, reference_value: (measured_value - reference_value)/reference_value),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "difference"): (lambda measured_value, reference_value: measured_value - reference_value,),
    (0, "measured_value"): (lambda difference, reference_value: difference + reference_value,),
    (0, "reference_value"): (lambda difference, measured_value: -difference + measured_value,),
    (1, "measured_value"): (lambda percent_error, reference_value: reference_value*(percent_error + 1),),
    (1, "percent_error"): (lambda measured_value, reference_value: (measured_value - reference_value)/reference_value,),
    (1, "reference_value"): (lambda measured_value, percent_error: measured_value/(percent_error + 1),),
}
