"""Rearrangements of saddle-set-back, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda fret, pitch_drop, scale_length, set_back: 2**(-1/12*fret)*2**((1/1200)*pitch_drop)*(scale_length + set_back), lambda fret, pitch_drop, scale_length, set_back: set_back + 2**(-1/12*fret)*scale_length),
    (lambda nut_to_saddle, scale_length, set_back: nut_to_saddle, lambda nut_to_saddle, scale_length, set_back: scale_length + set_back),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "pitch_drop"): (lambda fret, scale_length, set_back: 1200*math.log((2**((1/12)*fret)*set_back + scale_length)/(scale_length + set_back))/math.log(2),),
    (0, "set_back"): (lambda fret, pitch_drop, scale_length: scale_length*(2**((1/1200)*pitch_drop) - 1)/(2**((1/12)*fret) - 2**((1/1200)*pitch_drop)),),
    (1, "nut_to_saddle"): (lambda scale_length, set_back: scale_length + set_back,),
}
