"""Rearrangements of finish-coverage, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda area, coats, finish_volume, spreading_rate: finish_volume, lambda area, coats, finish_volume, spreading_rate: area*coats/spreading_rate),
    (lambda dry_film, solids, spreading_rate, transfer: spreading_rate, lambda dry_film, solids, spreading_rate, transfer: solids*transfer/dry_film),
    (lambda dry_film, solids, wet_film: wet_film, lambda dry_film, solids, wet_film: dry_film/solids),
    (lambda cost, finish_volume, price: cost, lambda cost, finish_volume, price: finish_volume*price),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "area"): (lambda coats, finish_volume, spreading_rate: finish_volume*spreading_rate/coats,),
    (0, "finish_volume"): (lambda area, coats, spreading_rate: area*coats/spreading_rate,),
    (0, "spreading_rate"): (lambda area, coats, finish_volume: area*coats/finish_volume,),
    (1, "dry_film"): (lambda solids, spreading_rate, transfer: solids*transfer/spreading_rate,),
    (1, "solids"): (lambda dry_film, spreading_rate, transfer: dry_film*spreading_rate/transfer,),
    (1, "spreading_rate"): (lambda dry_film, solids, transfer: solids*transfer/dry_film,),
    (1, "transfer"): (lambda dry_film, solids, spreading_rate: dry_film*spreading_rate/solids,),
    (2, "dry_film"): (lambda solids, wet_film: solids*wet_film,),
    (2, "solids"): (lambda dry_film, wet_film: dry_film/wet_film,),
    (2, "wet_film"): (lambda dry_film, solids: dry_film/solids,),
    (3, "cost"): (lambda finish_volume, price: finish_volume*price,),
    (3, "finish_volume"): (lambda cost, price: cost/price,),
    (3, "price"): (lambda cost, finish_volume: cost/finish_volume,),
}
