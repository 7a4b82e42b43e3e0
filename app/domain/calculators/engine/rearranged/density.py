"""Rearrangements of density, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda length, thickness, volume, width: volume, lambda length, thickness, volume, width: length*thickness*width),
    (lambda density, mass, volume: density, lambda density, mass, volume: mass/volume),
    (lambda density, moisture_content, specific_gravity: density, lambda density, moisture_content, specific_gravity: 1000*specific_gravity*(moisture_content + 1)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "length"): (lambda thickness, volume, width: volume/(thickness*width),),
    (0, "thickness"): (lambda length, volume, width: volume/(length*width),),
    (0, "volume"): (lambda length, thickness, width: length*thickness*width,),
    (0, "width"): (lambda length, thickness, volume: volume/(length*thickness),),
    (1, "density"): (lambda mass, volume: mass/volume,),
    (1, "mass"): (lambda density, volume: density*volume,),
    (1, "volume"): (lambda density, mass: mass/density,),
    (2, "density"): (lambda moisture_content, specific_gravity: 1000*specific_gravity*(moisture_content + 1),),
    (2, "moisture_content"): (lambda density, specific_gravity: ((1/1000)*density - specific_gravity)/specific_gravity,),
    (2, "specific_gravity"): (lambda density, moisture_content: (1/1000)*density/(moisture_content + 1),),
}
