"""Rearrangements of neck-geometry, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda bridge_distance, bridge_height, neck_angle: bridge_height, lambda bridge_distance, bridge_height, neck_angle: bridge_distance*math.tan(neck_angle)),
    (lambda neck_angle, pocket_length, shim_thickness: shim_thickness, lambda neck_angle, pocket_length, shim_thickness: pocket_length*math.tan(neck_angle)),
    (lambda break_angle, post_distance, post_drop: post_drop, lambda break_angle, post_distance, post_drop: post_distance*math.tan(break_angle)),
    (lambda bend_radius, relief, relief_span: bend_radius, lambda bend_radius, relief, relief_span: (1/2)*(relief**2 + (1/4)*relief_span**2)/relief),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "bridge_distance"): (lambda bridge_height, neck_angle: bridge_height/math.tan(neck_angle),),
    (0, "bridge_height"): (lambda bridge_distance, neck_angle: bridge_distance*math.tan(neck_angle),),
    (0, "neck_angle"): (lambda bridge_distance, bridge_height: math.atan(bridge_height/bridge_distance),),
    (1, "neck_angle"): (lambda pocket_length, shim_thickness: math.atan(shim_thickness/pocket_length),),
    (1, "pocket_length"): (lambda neck_angle, shim_thickness: shim_thickness/math.tan(neck_angle),),
    (1, "shim_thickness"): (lambda neck_angle, pocket_length: pocket_length*math.tan(neck_angle),),
    (2, "break_angle"): (lambda post_distance, post_drop: math.atan(post_drop/post_distance),),
    (2, "post_distance"): (lambda break_angle, post_drop: post_drop/math.tan(break_angle),),
    (2, "post_drop"): (lambda break_angle, post_distance: post_distance*math.tan(break_angle),),
    (3, "bend_radius"): (lambda relief, relief_span: (1/2)*(relief**2 + (1/4)*relief_span**2)/relief,),
    (3, "relief"): (lambda bend_radius, relief_span: bend_radius - 1/2*math.sqrt(4*bend_radius**2 - relief_span**2), lambda bend_radius, relief_span: bend_radius + (1/2)*math.sqrt(4*bend_radius**2 - relief_span**2)),
    (3, "relief_span"): (lambda bend_radius, relief: 2*math.sqrt(relief)*math.sqrt(2*bend_radius - relief),),
}
