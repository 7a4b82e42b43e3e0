"""Rearrangements of ohms-law, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda current, resistance, voltage: voltage, lambda current, resistance, voltage: current*resistance),
    (lambda current, power, voltage: power, lambda current, power, voltage: current*voltage),
    (lambda current, power, resistance: power, lambda current, power, resistance: current**2*resistance),
    (lambda power, resistance, voltage: power, lambda power, resistance, voltage: voltage**2/resistance),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "current"): (lambda resistance, voltage: voltage/resistance,),
    (0, "resistance"): (lambda current, voltage: voltage/current,),
    (0, "voltage"): (lambda current, resistance: current*resistance,),
    (1, "current"): (lambda power, voltage: power/voltage,),
    (1, "power"): (lambda current, voltage: current*voltage,),
    (1, "voltage"): (lambda current, power: power/current,),
    (2, "current"): (lambda power, resistance: math.sqrt(power)/math.sqrt(resistance),),
    (2, "resistance"): (lambda current, power: power/current**2,),
    (3, "resistance"): (lambda power, voltage: voltage**2/power,),
    (3, "voltage"): (lambda power, resistance: math.sqrt(power)*math.sqrt(resistance),),
}
