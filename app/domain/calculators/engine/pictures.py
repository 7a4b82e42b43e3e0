"""What a calculation looks and sounds like, as plain data: the rooms draw and play it.

A drawing is to true scale: every coordinate is in millimetres, x to the right, y down.
A chart is a Vega-Lite specification with its values inside. A sound is a list of partials.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

Stroke = Literal["thin", "thick", "dashed"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line between two points, in mm."""

    shape: ClassVar[str] = "line"
    start: Point
    end: Point
    line: Stroke = "thin"


@dataclass(frozen=True, slots=True)
class Outline:
    """A run of straight lines through the points, in mm; closed and filled if so marked."""

    shape: ClassVar[str] = "outline"
    points: tuple[Point, ...]
    closed: bool = False
    filled: bool = False
    line: Stroke = "thin"


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle, in mm."""

    shape: ClassVar[str] = "circle"
    centre: Point
    radius: float
    filled: bool = False
    line: Stroke = "thin"


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a point; ``anchor`` says which end of the words lies there."""

    shape: ClassVar[str] = "label"
    at: Point
    text: str
    anchor: Literal["start", "middle", "end"] = "middle"
    height_mm: float = 4.0


@dataclass(frozen=True, slots=True)
class Dimension:
    """A dimension line from point to point, moved sideways by ``offset_mm``, with its words."""

    shape: ClassVar[str] = "dimension"
    start: Point
    end: Point
    text: str
    offset_mm: float = 0.0


Shape = Line | Outline | Circle | Label | Dimension


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes to true scale in mm. ``description`` says in words what the picture shows.

    ``exaggerated`` is how many times larger heights are drawn than they are (1: true).
    """

    title: str
    description: str
    shapes: tuple[Shape, ...]
    exaggerated: float = 1.0

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom in mm of everything drawn, words not counted."""
        points = [point for shape in self.shapes for point in _corners(shape)]
        across = [x for x, _ in points]
        down = [y for _, y in points]
        return min(across), min(down), max(across), max(down)


def _corners(shape: Shape) -> Sequence[Point]:
    match shape:
        case Line(start=start, end=end):
            return start, end
        case Outline(points=points):
            return points
        case Circle(centre=(x, y), radius=radius):
            return (x - radius, y - radius), (x + radius, y + radius)
        case Label(at=at):
            return (at,)
        case Dimension(start=(x1, y1), end=(x2, y2), offset_mm=offset):
            # The offset is sideways: both corners moved each way cover it well enough.
            room = abs(offset)
            return (x1, y1 - room), (x2, y2 + room)


@dataclass(frozen=True, slots=True)
class Chart:
    """A Vega-Lite specification without addresses: the values stand inside it."""

    title: str
    description: str
    spec: Mapping[str, Any]


def chart(
    title: str,
    description: str,
    values: Sequence[Mapping[str, float | str]],
    *,
    mark: str | Mapping[str, Any],
    encoding: Mapping[str, Any],
) -> Chart:
    """A chart with one mark. Marks and axes carry words, so that grey print stays readable."""
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "title": title,
        "description": description,
        "width": 560,
        "height": 300,
        "data": {"values": [dict(value) for value in values]},
        "mark": mark,
        "encoding": dict(encoding),
    }
    return Chart(title, description, spec)


@dataclass(frozen=True, slots=True)
class Partial:
    """A pure tone: frequency in Hz and relative amplitude from 0 to 1."""

    frequency_hz: float
    amplitude: float


@dataclass(frozen=True, slots=True)
class Sound:
    """Pure tones played at once, or added one after the other. Nothing is recorded."""

    title: str
    partials: tuple[Partial, ...]
    one_by_one: bool = False


def line_chart(
    title: str, description: str, points: Sequence[Point], x_title: str, y_title: str
) -> Chart:
    """A curve through the points, both axes without a forced zero."""
    return chart(
        title,
        description,
        [{"x": x, "y": y} for x, y in points],
        mark={"type": "line", "color": "#0072B2", "strokeWidth": 2.5},
        encoding={
            "x": _axis("x", x_title),
            "y": _axis("y", y_title),
        },
    )


def _axis(field: str, title: str) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "title": title, "scale": {"zero": False}}


def bar_chart(
    title: str,
    description: str,
    bars: Sequence[tuple[str, float]],
    x_title: str,
    y_title: str,
) -> Chart:
    """One bar for each label, in the order given."""
    return chart(
        title,
        description,
        [{"label": label, "value": value} for label, value in bars],
        mark={"type": "bar", "color": "#0072B2"},
        encoding={
            "x": {
                "field": "label",
                "type": "ordinal",
                "title": x_title,
                "sort": None,
                "axis": {"labelAngle": 0},
            },
            "y": {"field": "value", "type": "quantitative", "title": y_title},
        },
    )
