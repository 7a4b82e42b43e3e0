"""Rearrangements of pressure, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda glue_area, joint_length, joint_width: glue_area, lambda glue_area, joint_length, joint_width: joint_length*joint_width),
    (lambda force, glue_area, pressure: force, lambda force, glue_area, pressure: glue_area*pressure),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "glue_area"): (lambda joint_length, joint_width: joint_length*joint_width,),
    (0, "joint_length"): (lambda glue_area, joint_width: glue_area/joint_width,),
    (0, "joint_width"): (lambda glue_area, joint_length: glue_area/joint_length,),
    (1, "force"): (lambda glue_area, pressure: glue_area*pressure,),
    (1, "glue_area"): (lambda force, pressure: force/pressure,),
    (1, "pressure"): (lambda force, glue_area: force/glue_area,),
}
