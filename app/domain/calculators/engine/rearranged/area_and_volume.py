"""Rearrangements of area-and-volume, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda length, rectangle_area, width: rectangle_area, lambda length, rectangle_area, width: length*width),
    (lambda length, rectangle_perimeter, width: rectangle_perimeter, lambda length, rectangle_perimeter, width: 2*length + 2*width),
    (lambda box_volume, height, rectangle_area: box_volume, lambda box_volume, height, rectangle_area: height*rectangle_area),
    (lambda circle_area, diameter: circle_area, lambda circle_area, diameter: (1/4)*math.pi*diameter**2),
    (lambda circumference, diameter: circumference, lambda circumference, diameter: math.pi*diameter),
    (lambda circle_area, cylinder_volume, height: cylinder_volume, lambda circle_area, cylinder_volume, height: circle_area*height),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "length"): (lambda rectangle_area, width: rectangle_area/width,),
    (0, "rectangle_area"): (lambda length, width: length*width,),
    (0, "width"): (lambda length, rectangle_area: rectangle_area/length,),
    (1, "length"): (lambda rectangle_perimeter, width: (1/2)*rectangle_perimeter - width,),
    (1, "rectangle_perimeter"): (lambda length, width: 2*length + 2*width,),
    (1, "width"): (lambda length, rectangle_perimeter: -length + (1/2)*rectangle_perimeter,),
    (2, "box_volume"): (lambda height, rectangle_area: height*rectangle_area,),
    (2, "height"): (lambda box_volume, rectangle_area: box_volume/rectangle_area,),
    (2, "rectangle_area"): (lambda box_volume, height: box_volume/height,),
    (3, "circle_area"): (lambda diameter: (1/4)*math.pi*diameter**2,),
    (3, "diameter"): (lambda circle_area: 2*math.sqrt(circle_area)/math.sqrt(math.pi),),
    (4, "circumference"): (lambda diameter: math.pi*diameter,),
    (4, "diameter"): (lambda circumference: circumference/math.pi,),
    (5, "circle_area"): (lambda cylinder_volume, height: cylinder_volume/height,),
    (5, "cylinder_volume"): (lambda circle_area, height: circle_area*height,),
    (5, "height"): (lambda circle_area, cylinder_volume: cylinder_volume/circle_area,),
}
