"""Rearrangements of percent-difference, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda difference, measured, reference: difference, lambda difference, measured, reference: measured - reference),
    (lambda measured, percent_error, reference: percent_error, lambda measured, percent_error, reference: (measured - reference)/reference),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "difference"): (lambda measured, reference: measured - reference,),
    (0, "measured"): (lambda difference, reference: difference + reference,),
    (0, "reference"): (lambda difference, measured: -difference + measured,),
    (1, "measured"): (lambda percent_error, reference: reference*(percent_error + 1),),
    (1, "percent_error"): (lambda measured, reference: (measured - reference)/reference,),
    (1, "reference"): (lambda measured, percent_error: measured/(percent_error + 1),),
}
