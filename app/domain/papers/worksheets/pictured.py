"""The four pictured steps of the version with sentence starters."""

from app.domain.calculators.engine.pictures import Circle, Label, Line, Outline, Point
from app.domain.papers.document import Figure
from app.domain.papers.drawing import Inked, Sheet

_PANEL_MM = 40.0
_HEIGHT_MM = 32.0
_ALTERNATIVE = (
    "Four pictures in a row. One, measure: a ruler on a piece of wood. Two, write the rule: a "
    "line of letters in a box. Three, put in your numbers: a calculator. Four, check: a number "
    "with its unit and a tick."
)


def pictured_steps() -> Figure:
    """Measure, write the rule, put in your numbers, check: one picture each."""
    panels = (_measure(), _write_the_rule(), _put_in_numbers(), _check())
    shapes: list[Inked] = []
    for index, panel in enumerate(panels):
        left = 1.0 + index * (_PANEL_MM + 3)
        shapes.append(_box((left, 1), _PANEL_MM, _HEIGHT_MM - 2, "thin"))
        shapes.extend(_shifted(panel, left))
    return Figure(Sheet(4 * _PANEL_MM + 11, _HEIGHT_MM, tuple(shapes)), _ALTERNATIVE)


def _box(corner: Point, width: float, height: float, line: str = "thick") -> Outline:
    x, y = corner
    points = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Outline(points, closed=True, line="thin" if line == "thin" else "thick")


def _title(words: str) -> Label:
    return Label((_PANEL_MM / 2, 28), words, "middle", 3.6)


def _measure() -> list[Inked]:
    ticks = [Line((7 + x, 14), (7 + x, 17 if x % 8 else 18.5)) for x in range(0, 27, 2)]
    return [_box((7, 8), 20, 5), _box((6, 14), 28, 7), *ticks, _title("1  Measure")]


def _write_the_rule() -> list[Inked]:
    rule = Label((_PANEL_MM / 2, 14), "f = v ÷ (2 L)", "middle", 4.4)
    return [_box((6, 8), 28, 12), rule, _title("2  Write the rule")]


def _put_in_numbers() -> list[Inked]:
    keys = [
        _box((14.5 + 4 * x, 12.5 + 3.2 * y), 3, 2.2, "thin") for x in range(3) for y in range(3)
    ]
    return [
        _box((12.5, 4.5), 15, 18.5),
        _box((14.5, 6.5), 11, 4),
        *keys,
        _title("3  Put in numbers"),
    ]


def _check() -> list[Inked]:
    tick = Outline(((27, 13), (29.5, 16.5), (33.5, 8.5)), line="thick")
    number = Label((13, 13), "324 mm", "middle", 4.4)
    return [
        number,
        Line((6, 17.5), (20, 17.5)),
        tick,
        Circle((30, 12.5), 7),
        _title("4  Check the unit"),
    ]


def _shifted(panel: list[Inked], by: float) -> list[Inked]:
    moved: list[Inked] = []
    for shape in panel:
        match shape:
            case Line(start=(x1, y1), end=(x2, y2)):
                moved.append(Line((x1 + by, y1), (x2 + by, y2), shape.line))
            case Outline():
                points = tuple((x + by, y) for x, y in shape.points)
                moved.append(Outline(points, shape.closed, shape.filled, shape.line))
            case Circle(centre=(x, y)):
                moved.append(Circle((x + by, y), shape.radius, shape.filled, shape.line))
            case Label(at=(x, y)):
                moved.append(Label((x + by, y), shape.text, shape.anchor, shape.height_mm))
    return moved
