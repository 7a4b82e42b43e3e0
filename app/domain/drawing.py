"""Drawings to scale as plain values: strokes and labels, in millimetres on the paper.

The page and the paper render the same drawing through one template. x runs to the
right and y runs down from the upper left corner. Strokes follow drafting practice:
visible edges 0.5 mm, dimension and centre lines 0.18 mm, hidden edges dashed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

Stroke = Literal["edge", "thin", "hidden", "centre"]
Anchor = Literal["start", "middle", "end"]
Fill = Literal["none", "ink", "paper", "wood"]

# The width both Letter and A4 leave free, less a little for the printer's own margin.
PRINTABLE_WIDTH_MM = 172.0
PRINTABLE_HEIGHT_MM = 225.0
LABEL_MM = 3.4
ARROW_MM = 2.4


@dataclass(frozen=True, slots=True)
class Line:
    kind: ClassVar[str] = "line"
    x1: float
    y1: float
    x2: float
    y2: float
    stroke: Stroke = "edge"


@dataclass(frozen=True, slots=True)
class Polyline:
    """A path through the points; `closed` returns to the first and may be filled."""

    kind: ClassVar[str] = "polyline"
    points: tuple[tuple[float, float], ...]
    stroke: Stroke = "edge"
    closed: bool = False
    fill: Fill = "none"

    @property
    def path(self) -> str:
        return " ".join(f"{x:.4f},{y:.4f}" for x, y in self.points)


@dataclass(frozen=True, slots=True)
class Circle:
    kind: ClassVar[str] = "circle"
    x: float
    y: float
    radius: float
    stroke: Stroke = "edge"
    fill: Fill = "none"


@dataclass(frozen=True, slots=True)
class Label:
    """Text whose middle line stands at `y`; `turn_deg` turns it about its own place."""

    kind: ClassVar[str] = "label"
    x: float
    y: float
    text: str
    anchor: Anchor = "middle"
    size: float = LABEL_MM
    turn_deg: float = 0.0
    italic: bool = False

    @property
    def baseline(self) -> float:
        """The y of the baseline: figures are about 0.66 of the type size high."""
        return self.y + 0.33 * self.size


Shape = Line | Polyline | Circle | Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a sheet `width_mm` by `height_mm`; `scale` says it in words ("1 : 5")."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    scale: str = ""

    def __post_init__(self) -> None:
        if not (self.width_mm > 0 and self.height_mm > 0):
            raise ValueError("a drawing needs a width and a height above zero millimetres")


def rectangle(
    x: float, y: float, width: float, height: float, *, stroke: Stroke = "edge", fill: Fill = "none"
) -> Polyline:
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Polyline(corners, stroke, closed=True, fill=fill)


def _arrow(x: float, y: float, along_x: float, along_y: float) -> Polyline:
    """A filled arrow head with its point at x, y, pointing along the unit vector given."""
    base_x, base_y = x - ARROW_MM * along_x, y - ARROW_MM * along_y
    half = ARROW_MM / 6
    left = (base_x - half * along_y, base_y + half * along_x)
    right = (base_x + half * along_y, base_y - half * along_x)
    return Polyline(((x, y), left, right), "thin", closed=True, fill="ink")


def dimension(
    x1: float, x2: float, y: float, text: str, *, size: float = LABEL_MM
) -> Iterator[Shape]:
    """A horizontal dimension line from x1 to x2 with the number in the gap.

    Where the gap leaves no room for the number, it stands beyond the right arrow.
    """
    left, right = min(x1, x2), max(x1, x2)
    room = 0.52 * size * len(text) + 2.0
    if right - left >= room + 2 * ARROW_MM:
        middle = (left + right) / 2
        yield Line(left, y, middle - room / 2, y, "thin")
        yield Line(middle + room / 2, y, right, y, "thin")
        yield Label(middle, y, text, size=size)
    else:
        yield Line(left, y, right, y, "thin")
        yield Label(right + 1.2, y, text, anchor="start", size=size)
    if right - left >= 2 * ARROW_MM:
        yield _arrow(left, y, -1, 0)
        yield _arrow(right, y, 1, 0)


def vertical_dimension(
    y1: float, y2: float, x: float, text: str, *, size: float = LABEL_MM
) -> Iterator[Shape]:
    """A vertical dimension line from y1 to y2; the number stands to its right."""
    top, bottom = min(y1, y2), max(y1, y2)
    yield Line(x, top, x, bottom, "thin")
    if bottom - top >= 2 * ARROW_MM:
        yield _arrow(x, top, 0, -1)
        yield _arrow(x, bottom, 0, 1)
    yield Label(x + 1.4, (top + bottom) / 2, text, anchor="start", size=size)


def measuring_bar(x: float, y: float, length_mm: float = 100.0) -> Iterator[Shape]:
    """A bar of known length, so that a copy's true size can be checked with a ruler."""
    yield Line(x, y, x + length_mm, y)
    tick = 0
    while tick * 10 <= length_mm:
        height = 3.0 if tick % 5 == 0 else 1.8
        yield Line(x + tick * 10, y - height, x + tick * 10, y, "thin")
        tick += 1
    words = f"This bar must be {length_mm:g} mm long"
    yield Label(x, y + 3.4, words, anchor="start", size=3.0)
