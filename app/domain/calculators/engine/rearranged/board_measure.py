"""Rearrangements of board-measure, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda board_measure, length, pieces, stock_allowance, thickness, width: board_measure, lambda board_measure, length, pieces, stock_allowance, thickness, width: length*pieces*thickness*width*(stock_allowance + 1)),
    (lambda board_measure, cost, price: cost, lambda board_measure, cost, price: board_measure*price),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "board_measure"): (lambda length, pieces, stock_allowance, thickness, width: length*pieces*thickness*width*(stock_allowance + 1),),
    (0, "length"): (lambda board_measure, pieces, stock_allowance, thickness, width: board_measure/(pieces*thickness*width*(stock_allowance + 1)),),
    (0, "stock_allowance"): (lambda board_measure, length, pieces, thickness, width: board_measure/(length*pieces*thickness*width) - 1,),
    (0, "thickness"): (lambda board_measure, length, pieces, stock_allowance, width: board_measure/(length*pieces*width*(stock_allowance + 1)),),
    (0, "width"): (lambda board_measure, length, pieces, stock_allowance, thickness: board_measure/(length*pieces*thickness*(stock_allowance + 1)),),
    (1, "board_measure"): (lambda cost, price: cost/price,),
    (1, "cost"): (lambda board_measure, price: board_measure*price,),
    (1, "price"): (lambda board_measure, cost: cost/board_measure,),
}
