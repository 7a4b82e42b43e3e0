"""Pictures laid on paper to a stated scale.

A picture holds true lengths; a sheet holds the same shapes in millimetres on the paper,
x to the right and y down from its upper left corner, with dimension lines worked out
and words at a size that reads. Page and paper draw the sheet through one template.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.domain.calculators.engine.pictures import (
    Circle,
    Dimension,
    Drawing,
    Label,
    Line,
    Outline,
    Point,
    Shape,
)

# The width both Letter and A4 leave free, less a little for the printer's own margin.
PRINTABLE_WIDTH_MM = 172.0
PRINTABLE_HEIGHT_MM = 225.0
LABEL_MM = 3.4
ARROW_MM = 2.4
LETTER_WIDTH = 0.5  # mean width of a letter in type sizes, for judging room only
# Scales of drafting practice, largest first: paper millimetres for one true millimetre.
SCALES = (10.0, 5.0, 2.0, 1.0, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100)

Inked = Line | Outline | Circle | Label


@dataclass(frozen=True, slots=True)
class Sheet:
    """Shapes on paper, `width_mm` by `height_mm`; `scale` says it in words ("1 : 5")."""

    width_mm: float
    height_mm: float
    shapes: tuple[Inked, ...]
    scale: str = ""

    def __post_init__(self) -> None:
        if not (self.width_mm > 0 and self.height_mm > 0):
            raise ValueError("a drawing needs a width and a height above zero millimetres")


def on_paper(
    drawing: Drawing,
    *,
    width_mm: float = PRINTABLE_WIDTH_MM,
    height_mm: float = 80.0,
    label_mm: float = LABEL_MM,
) -> Sheet:
    """The picture at the largest usual scale that fits `width_mm` by `height_mm`.

    A picture without a dimension line is a scheme (a circuit, a row of times): it states
    no scale.

    Raises ValueError where not even 1 : 100 fits.
    """
    left, _, right, _ = drawing.bounds
    true_width = right - left
    for scale in SCALES:
        if true_width * scale > width_mm:
            continue  # without its words it is too wide already
        inked = _without_collisions(_inked(drawing.shapes, scale, label_mm))
        left, top, right, bottom = _bounds(inked)
        if right - left <= width_mm and bottom - top <= height_mm:
            inked.sort(key=lambda shape: isinstance(shape, Label))  # words over strokes
            moved = tuple(_moved(shape, -left, -top) for shape in inked)
            size = (max(right - left, 1.0), max(bottom - top, 1.0))
            measured = any(isinstance(shape, Dimension) for shape in drawing.shapes)
            words = scale_words(scale, drawing.exaggerated) if measured else ""
            return Sheet(*size, moved, words)
    raise ValueError(f"the drawing {drawing.title!r} is too large for the paper at 1 : 100")


def scale_words(scale: float, exaggerated: float = 1.0) -> str:
    """`1 : 5`, with a word on heights that are drawn larger than they are."""
    ratio = f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"
    if math.isclose(exaggerated, 1.0):
        return ratio
    return f"{ratio}, heights drawn {exaggerated:g} times as large"


def measuring_bar(length_mm: float = 100.0) -> Sheet:
    """A bar of known length, so that a copy's true size can be checked with a ruler."""
    base = 4.0
    ticks = (
        Line((0.5 + x, base - (3.0 if x % 50 == 0 else 1.8)), (0.5 + x, base))
        for x in range(0, int(length_mm) + 1, 10)
    )
    bar = Line((0.5, base), (0.5 + length_mm, base), "thick")
    words = Label((0.5, base + 3.2), f"This bar must be {length_mm:g} mm long.", "start", 3.0)
    return Sheet(length_mm + 1.0, base + 5.0, (bar, *ticks, words), "1 : 1")


def _inked(shapes: Iterable[Shape], scale: float, label_mm: float) -> list[Inked]:
    """The shapes in paper millimetres, dimension lines worked out into strokes and words."""
    inked: list[Inked] = []
    for shape in shapes:
        match shape:
            case Line():
                inked.append(Line(_at(shape.start, scale), _at(shape.end, scale), shape.line))
            case Outline():
                points = tuple(_at(point, scale) for point in shape.points)
                inked.append(Outline(points, shape.closed, shape.filled, shape.line))
            case Circle():
                centre, radius = _at(shape.centre, scale), shape.radius * scale
                inked.append(Circle(centre, radius, shape.filled, shape.line))
            case Label():
                inked.append(Label(_at(shape.at, scale), shape.text, shape.anchor, label_mm))
            case Dimension():
                start, end = _at(shape.start, scale), _at(shape.end, scale)
                inked.extend(dimension(start, end, shape.text, shape.offset_mm * scale, label_mm))
    return inked


def _at(point: Point, scale: float) -> Point:
    return point[0] * scale, point[1] * scale


def dimension(
    start: Point, end: Point, text: str, offset: float = 0.0, label_mm: float = LABEL_MM
) -> Iterator[Inked]:
    """A dimension line, moved sideways by `offset`, with extension lines and arrows.

    The number stands in the gap of a level line that is long enough, else beside the line.
    """
    (x1, y1), (x2, y2) = start, end
    length = math.hypot(x2 - x1, y2 - y1)
    if length == 0:
        yield Label(start, text, "start", label_mm)
        return
    along = ((x2 - x1) / length, (y2 - y1) / length)
    side = (-along[1] * offset, along[0] * offset)
    (a_x, a_y), (b_x, b_y) = (x1 + side[0], y1 + side[1]), (x2 + side[0], y2 + side[1])
    if offset:
        yield Line(start, (a_x, a_y))
        yield Line(end, (b_x, b_y))
    room = LETTER_WIDTH * label_mm * len(text) + 2.4
    middle = ((a_x + b_x) / 2, (a_y + b_y) / 2)
    level = abs(along[1]) < 0.1
    if level and length >= room + 2 * ARROW_MM:
        half = (along[0] * room / 2, along[1] * room / 2)
        yield Line((a_x, a_y), (middle[0] - half[0], middle[1] - half[1]))
        yield Line((middle[0] + half[0], middle[1] + half[1]), (b_x, b_y))
        yield Label(middle, text, "middle", label_mm)
    else:
        yield Line((a_x, a_y), (b_x, b_y))
        if level or abs(along[0]) < 0.1:
            beside = (max(a_x, b_x) + 1.4, b_y if level else middle[1])
            yield Label(beside, text, "start", label_mm)
        else:
            yield _beside_slope(middle, along, text, label_mm, -1 if side[0] < 0 else 1)
    if length >= 2 * ARROW_MM:
        yield _arrow((a_x, a_y), (-along[0], -along[1]))
        yield _arrow((b_x, b_y), along)


def _beside_slope(middle: Point, along: Point, text: str, label_mm: float, outward: int) -> Label:
    """A number beside a sloping line, on the side away from what is measured."""
    lift = math.copysign(0.8 * label_mm, along[0] * along[1])
    at = (middle[0] + 1.4 * outward, middle[1] - lift * outward)
    return Label(at, text, "start" if outward > 0 else "end", label_mm)


def _arrow(point: Point, along: Point) -> Outline:
    """A filled arrow head with its point at `point`, pointing along the unit vector."""
    base = (point[0] - ARROW_MM * along[0], point[1] - ARROW_MM * along[1])
    half = ARROW_MM / 6
    left = (base[0] - half * along[1], base[1] + half * along[0])
    right = (base[0] + half * along[1], base[1] - half * along[0])
    return Outline((point, left, right), closed=True, filled=True)


def _label_box(label: Label) -> tuple[float, float, float, float]:
    width = LETTER_WIDTH * label.height_mm * len(label.text)
    x, y = label.at
    left = {"start": x, "middle": x - width / 2, "end": x - width}[label.anchor]
    return left, y - label.height_mm / 2, left + width, y + label.height_mm / 2


def _overlap(
    one: tuple[float, float, float, float], other: tuple[float, float, float, float]
) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _without_collisions(shapes: list[Inked]) -> list[Inked]:
    """The shapes less the labels that would be printed over an earlier one."""
    kept: list[Inked] = []
    taken: list[tuple[float, float, float, float]] = []
    for shape in shapes:
        if isinstance(shape, Label):
            box = _label_box(shape)
            if any(_overlap(box, other) for other in taken):
                continue
            taken.append(box)
        kept.append(shape)
    return kept


def _bounds(shapes: Iterable[Inked]) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of everything drawn, words and half a stroke counted."""
    boxes: list[tuple[float, float, float, float]] = []
    for shape in shapes:
        match shape:
            case Label():
                boxes.append(_label_box(shape))
            case Circle(centre=(x, y), radius=radius):
                boxes.append((x - radius, y - radius, x + radius, y + radius))
            case Line():
                boxes.extend((x, y, x, y) for x, y in (shape.start, shape.end))
            case Outline():
                boxes.extend((x, y, x, y) for x, y in shape.points)
    if not boxes:
        raise ValueError("a drawing needs at least one shape")
    stroke = 0.5
    return (
        min(box[0] for box in boxes) - stroke,
        min(box[1] for box in boxes) - stroke,
        max(box[2] for box in boxes) + stroke,
        max(box[3] for box in boxes) + stroke,
    )


def _moved(shape: Inked, by_x: float, by_y: float) -> Inked:
    def there(point: Point) -> Point:
        return point[0] + by_x, point[1] + by_y

    match shape:
        case Line():
            return Line(there(shape.start), there(shape.end), shape.line)
        case Outline():
            points = tuple(there(point) for point in shape.points)
            return Outline(points, shape.closed, shape.filled, shape.line)
        case Circle():
            return Circle(there(shape.centre), shape.radius, shape.filled, shape.line)
        case Label():
            return Label(there(shape.at), shape.text, shape.anchor, shape.height_mm)
