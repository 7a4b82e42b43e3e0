"""Rearrangements of string-spacing, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda centre_spacing, edge_margin, nut_width, strings: centre_spacing, lambda centre_spacing, edge_margin, nut_width, strings: (-2*edge_margin + nut_width)/(strings - 1)),
    (lambda saddle_spacing, saddle_span, strings: saddle_spacing, lambda saddle_spacing, saddle_span, strings: saddle_span/(strings - 1)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "centre_spacing"): (lambda edge_margin, nut_width, strings: (-2*edge_margin + nut_width)/(strings - 1),),
    (0, "edge_margin"): (lambda centre_spacing, nut_width, strings: -1/2*centre_spacing*strings + (1/2)*centre_spacing + (1/2)*nut_width,),
    (0, "nut_width"): (lambda centre_spacing, edge_margin, strings: centre_spacing*strings - centre_spacing + 2*edge_margin,),
    (1, "saddle_spacing"): (lambda saddle_span, strings: saddle_span/(strings - 1),),
    (1, "saddle_span"): (lambda saddle_spacing, strings: saddle_spacing*(strings - 1),),
}
