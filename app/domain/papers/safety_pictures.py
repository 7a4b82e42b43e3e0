"""Drawings of one mistake each, for the safety tests: schemes of our own, in millimetres.

Words name what is drawn and never what is wrong; the description tells a reader who cannot
see the drawing the same facts.
"""

from collections.abc import Callable

from app.domain.calculators.engine.pictures import (
    Circle,
    Drawing,
    Label,
    Line,
    Outline,
    Point,
    Shape,
)


def picture(key: str) -> Drawing:
    """The drawing of that key.

    Raises KeyError for a key that is not drawn.
    """
    return PICTURES[key]()


def _box(left: float, top: float, width: float, height: float, *, filled: bool = False) -> Outline:
    right, bottom = left + width, top + height
    points = ((left, top), (right, top), (right, bottom), (left, bottom))
    return Outline(points, closed=True, filled=filled)


def _arrow(start: Point, end: Point, barb: float = 2.5) -> tuple[Shape, ...]:
    """An arrow along one of the axes."""
    (x, y), flat = end, start[1] == end[1]
    back = -barb if (end[0] > start[0] if flat else end[1] > start[1]) else barb
    first, second = (
        ((x + back, y - barb / 2), (x + back, y + barb / 2))
        if flat
        else ((x - barb / 2, y + back), (x + barb / 2, y + back))
    )
    return (Line(start, end, "thick"), Line(end, first, "thick"), Line(end, second, "thick"))


def _hand(left: float, top: float) -> tuple[Shape, ...]:
    """A flat hand with its fingers to the left."""
    fingers = tuple(_box(left, top + 2.6 * n, 9, 2.2) for n in range(4))
    return (
        *fingers,
        _box(left + 9, top - 0.4, 9, 11.2),
        Line((left + 10, top + 11), (left + 5, top + 14)),
    )


def _way_out() -> Drawing:
    return Drawing(
        "Way out",
        "A door under a sign that says way out. On the floor right in front of it lies a bag. A "
        "stool stands at the wall to the side.",
        (
            Line((0, 60), (90, 60), "thick"),
            _box(30, 15, 24, 45),
            Circle((50, 40), 1.2),
            _box(30, 4, 24, 7),
            Label((42, 9), "WAY OUT"),
            Outline(((33, 60), (35, 48), (51, 48), (53, 60)), closed=True, filled=True),
            Label((66, 54), "bag", "start"),
            Line((54, 54), (65, 53)),
            _box(5, 44, 12, 2),
            Line((7, 46), (6, 60)),
            Line((15, 46), (16, 60)),
            Label((11, 41), "stool"),
        ),
    )


def _chisel() -> Drawing:
    return Drawing(
        "Chisel on a bench",
        "A board is clamped on a bench. A chisel lies on it, its edge pointing to the right. One "
        "hand holds the handle at the left; the other lies flat on the board to the right of the "
        "edge.",
        (
            _box(0, 40, 100, 8),
            _box(12, 32, 80, 8),
            Outline(((6, 27), (26, 27), (26, 31), (6, 31)), closed=True, filled=True),
            Outline(((26, 28), (50, 28), (56, 31), (26, 31)), closed=True),
            *_arrow((12, 22), (30, 22)),
            Label((20, 18), "push"),
            *_hand(60, 19),
            Label((82, 15), "hand"),
            _box(86, 24, 4, 24),
            Label((95, 30), "clamp", "start"),
        ),
    )


def _drill() -> Drawing:
    return Drawing(
        "Drill press",
        "A drill press from the side, standing still. The work lies on a scrap board and is "
        "clamped to the table. The bit points at the work. A key with a cross handle sits in the "
        "side of the chuck.",
        (
            _box(3.4, 0, 5.4, 47.6),
            _box(3.4, 0, 30.6, 9.5),
            _box(24.5, 9.5, 5.4, 5.4),
            Outline(((23.8, 15), (30.6, 15), (29.2, 20.4), (25.2, 20.4)), closed=True),
            Line((27.2, 20.4), (27.2, 28.6), "thick"),
            Line((30.6, 17.7), (39.4, 17.7), "thick"),
            Line((39.4, 15), (39.4, 20.4), "thick"),
            Label((41.5, 18.4), "key", "start"),
            _box(15, 31.3, 25.8, 2.7),
            Label((42.2, 33.3), "work", "start"),
            _box(15, 34, 25.8, 2, filled=True),
            _box(8.8, 36, 35.4, 2.7),
            Label((45.6, 38.8), "table", "start"),
            Line((38.1, 25.8), (38.1, 31.3), "thick"),
            Line((35.4, 25.8), (40.8, 25.8), "thick"),
            Label((42.2, 25.8), "clamp", "start"),
            _box(0, 47.6, 44.9, 2.7),
        ),
    )


def _bandsaw() -> Drawing:
    return Drawing(
        "Bandsaw",
        "A bandsaw from the front. A thin board lies flat on the table. The guard hangs a hand's "
        "length above the board; between them the blade is bare.",
        (
            _box(3.2, 0, 38.4, 7.7),
            _box(3.2, 0, 6.4, 49.9),
            _box(21.1, 7.7, 6.4, 7.7),
            Label((30.1, 12.8), "guard", "start"),
            Line((24.3, 15.4), (24.3, 39.7), "thick"),
            Label((26.9, 26.9), "blade", "start"),
            _box(12.8, 37.1, 28.2, 2.6, filled=True),
            Label((42.9, 39), "work", "start"),
            _box(9.6, 39.7, 35.2, 2.6),
            Label((46.7, 42.9), "table", "start"),
            _box(3.2, 42.2, 38.4, 7.7),
        ),
    )


def _scroll() -> Drawing:
    return Drawing(
        "Scroll saw",
        "A scroll saw from the side. The work lies flat on the table with the blade through it. "
        "The hold-down foot stands high above the work and does not touch it.",
        (
            _box(0, 8, 70, 6),
            _box(0, 8, 8, 50),
            Line((56, 14), (56, 46), "thick"),
            Label((60, 36), "blade", "start"),
            Line((48, 14), (48, 24), "thick"),
            _box(43, 24, 20, 2, filled=True),
            Label((66, 26), "foot", "start"),
            _box(30, 42, 40, 4),
            Label((27, 45), "work", "end"),
            _box(24, 46, 50, 4),
            Label((77, 50), "table", "start"),
            _box(0, 56, 70, 4),
        ),
    )


def _disc() -> Drawing:
    return Drawing(
        "Disc sander",
        "A disc sander from the front. Arrows show that the disc turns down on the left and up on "
        "the right. The work lies on the table, against the right half of the disc.",
        (
            Circle((40, 32), 26),
            Line((40, 4), (40, 60), "dashed"),
            *_arrow((20, 24), (20, 40)),
            Label((22, 22), "down"),
            *_arrow((60, 32), (60, 16)),
            Label((58, 14), "up"),
            _box(48, 34, 16, 8, filled=True),
            Label((68, 39), "work", "start"),
            _box(6, 42, 68, 5),
            Label((77, 46), "table", "start"),
        ),
    )


def _router_table() -> Drawing:
    return Drawing(
        "Router table from above",
        "A router table from above. A fence runs from left to right. The bit stands a little in "
        "front of it, and the work is being pushed through the gap between bit and fence.",
        (
            _box(0, 0, 100, 56),
            _box(5, 8, 90, 6),
            Label((12, 12.5), "fence"),
            _box(18, 15, 52, 9, filled=True),
            Label((15, 21), "work", "end"),
            Circle((58, 29), 5),
            Label((66, 33), "bit", "start"),
            *_arrow((20, 32), (40, 32)),
            Label((30, 38), "feed"),
            Label((86, 52), "table"),
        ),
    )


def _bending() -> Drawing:
    return Drawing(
        "Bending form",
        "A heated bending form is clamped to a stone plate. Its cord runs to an outlet in the "
        "wall, where it is plugged in. A spray bottle stands right under the plug and sprays "
        "towards it.",
        (
            Line((0, 60), (100, 60), "thick"),
            _box(8, 56, 44, 4),
            Outline(((12, 56), (14, 42), (22, 34), (34, 34), (44, 44), (48, 56)), closed=True),
            Label((30, 50), "form, hot"),
            Outline(((48, 54), (60, 54), (66, 26), (80, 22))),
            _box(80, 14, 12, 14),
            Label((86, 10), "outlet"),
            _box(78, 44, 10, 16, filled=True),
            _box(80, 39, 8, 5),
            Line((80, 40), (78, 31), "dashed"),
            Line((80, 41), (83, 30), "dashed"),
            Label((91, 54), "spray", "start"),
        ),
    )


def _soldering() -> Drawing:
    return Drawing(
        "Soldering bench",
        "A soldering iron lies on a sheet of paper on the bench. Its stand, a coil on a foot, is "
        "empty beside it. The circuit is held in a clip.",
        (
            _box(0, 50, 100, 5),
            Line((18, 49), (62, 49), "thick"),
            Label((26, 46), "paper"),
            _box(42, 43, 22, 5, filled=True),
            Line((42, 45.5), (32, 46.5), "thick"),
            Label((53, 39), "iron"),
            Outline(((64, 46), (72, 44), (74, 50))),
            Outline(((78, 50), (80, 46), (92, 46), (94, 50)), closed=True),
            *(Circle((82 + 2.4 * n, 38 - 1.6 * n), 4) for n in range(4)),
            Label((88, 25), "stand"),
            _box(6, 40, 8, 10),
            Label((10, 36), "clip"),
        ),
    )


def _finishing() -> Drawing:
    return Drawing(
        "Finishing table",
        "A finishing table. An open can stands beside a heater that is switched on; its lid lies "
        "on the table. A metal can with a closed lid stands on the floor.",
        (
            _box(0, 42, 80, 4),
            Line((6, 46), (6, 70)),
            Line((74, 46), (74, 70)),
            Outline(((14, 24), (14, 42), (28, 42), (28, 24))),
            Label((21, 35), "finish"),
            Line((32, 41), (46, 41), "thick"),
            Label((39, 37), "lid"),
            _box(50, 18, 24, 24),
            *(Line((54 + 5 * n, 21), (54 + 5 * n, 39), "thick") for n in range(4)),
            Label((62, 14), "heater, on"),
            Line((0, 70), (100, 70), "thick"),
            _box(84, 54, 14, 16),
            _box(83, 51, 16, 3),
            Label((91, 47), "rag can"),
        ),
    )


PICTURES: dict[str, Callable[[], Drawing]] = {
    "way-out-blocked": _way_out,
    "hand-before-chisel": _chisel,
    "key-in-chuck": _drill,
    "guard-too-high": _bandsaw,
    "hold-down-raised": _scroll,
    "up-moving-side": _disc,
    "work-in-the-trap": _router_table,
    "spray-at-the-plug": _bending,
    "iron-on-the-bench": _soldering,
    "can-at-the-heater": _finishing,
}
