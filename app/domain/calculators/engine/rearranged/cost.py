"""Rearrangements of cost, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda amount, amount_each, pieces, waste: amount, lambda amount, amount_each, pieces, waste: amount_each*pieces*(waste + 1)),
    (lambda amount, cost, unit_price: cost, lambda amount, cost, unit_price: amount*unit_price),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "amount"): (lambda amount_each, pieces, waste: amount_each*pieces*(waste + 1),),
    (0, "amount_each"): (lambda amount, pieces, waste: amount/(pieces*(waste + 1)),),
    (0, "waste"): (lambda amount, amount_each, pieces: amount/(amount_each*pieces) - 1,),
    (1, "amount"): (lambda cost, unit_price: cost/unit_price,),
    (1, "cost"): (lambda amount, unit_price: amount*unit_price,),
    (1, "unit_price"): (lambda amount, cost: cost/amount,),
}
