"""Rearrangements of tool-speed, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda cutter_diameter, spindle_speed, surface_speed: surface_speed, lambda cutter_diameter, spindle_speed, surface_speed: math.pi*cutter_diameter*spindle_speed),
    (lambda chip_load, feed_speed, spindle_speed, teeth: chip_load, lambda chip_load, feed_speed, spindle_speed, teeth: feed_speed/(spindle_speed*teeth)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "cutter_diameter"): (lambda spindle_speed, surface_speed: surface_speed/(math.pi*spindle_speed),),
    (0, "spindle_speed"): (lambda cutter_diameter, surface_speed: surface_speed/(math.pi*cutter_diameter),),
    (0, "surface_speed"): (lambda cutter_diameter, spindle_speed: math.pi*cutter_diameter*spindle_speed,),
    (1, "chip_load"): (lambda feed_speed, spindle_speed, teeth: feed_speed/(spindle_speed*teeth),),
    (1, "feed_speed"): (lambda chip_load, spindle_speed, teeth: chip_load*spindle_speed*teeth,),
    (1, "spindle_speed"): (lambda chip_load, feed_speed, teeth: feed_speed/(chip_load*teeth),),
}
