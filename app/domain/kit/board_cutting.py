"""Parts cut from the boards on the rack: ripped into strips, strips crosscut, drawn to scale.

A board is ripped lengthwise into strips of one part's width each, with a kerf between; what is left
of its width stays on the rack. Every strip is then crosscut by the cut-list calculator, which
proves how little strip length suffices. A board thick enough for several of a thin part is resawn:
every piece then gives that many. Widest parts are served first. Lengths are in metres.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from app.domain.calculators.cut_list import (
    MOST_BOARDS,
    MOST_PIECES,
    CutList,
    Piece,
    Stick,
    cut_list,
)
from app.domain.calculators.engine.cutting_stock import Status
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Outline, Point, Shape
from app.domain.papers.drawing import PRINTABLE_HEIGHT_MM, SCALES

Along = Literal["length", "width", "any"]
MARKS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
KEPT_LENGTH_M = 0.1  # shorter off-cuts are firewood: common practice, no source
KEPT_WIDTH_M = 0.02
DRAWN_WIDTH_M = 0.1  # of a board whose width nobody measured
_WIDEST_PICTURE_MM = 150.0
_NEARLY = 1e-9


@dataclass(frozen=True, slots=True)
class Board:
    """Boards alike; a width or thickness of None was not measured and is taken to suffice."""

    label: str
    length_m: float
    count: int = 1
    width_m: float | None = None
    thickness_m: float | None = None
    species: str = ""


@dataclass(frozen=True, slots=True)
class PartBlank:
    """A part at its rough size, with how many are wanted and which edge lies along the grain."""

    key: str
    title: str
    count: int
    length_m: float
    width_m: float | None = None
    thickness_m: float | None = None
    along: Along = "length"
    species: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """A piece on a strip: which part, and where it starts and how long it is (m)."""

    mark: str
    start_m: float
    length_m: float


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip ripped from a board: where it lies across, its width, its pieces, what is left.

    Each piece is resawn into ``layers`` parts; 1 is not resawn.
    """

    across_m: float
    width_m: float | None
    pieces: tuple[Cut, ...]
    offcut_m: float
    layers: int = 1


@dataclass(frozen=True, slots=True)
class CutBoard:
    """Boards cut alike. ``width_left_m`` stays on the rack, full length."""

    label: str
    count: int
    length_m: float
    width_m: float | None
    strips: tuple[Strip, ...]
    width_left_m: float

    @property
    def pieces(self) -> Counter[str]:
        """How many of each mark come from one such board."""
        found: Counter[str] = Counter()
        for strip in self.strips:
            for piece in strip.pieces:
                found[piece.mark] += strip.layers
        return found


@dataclass(frozen=True, slots=True)
class Marked:
    """A part with its mark on the drawing, as it lies on the board (m), and how it came out.

    ``reason`` says why it could not be cut, and what would help.
    """

    mark: str
    blank: PartBlank
    length_m: float
    width_m: float | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BoardCutting:
    """All boards to cut.

    ``strip_length_m`` is taken, ``least_m`` is proven necessary. ``status`` is `optimal` when both
    are equal, `feasible` when not, `impossible` when parts are missing; ``reasons`` then say why.
    ``yield_share`` is the area of the rough parts over the area of the boards taken.
    """

    status: Status
    boards: tuple[CutBoard, ...]
    parts: tuple[Marked, ...]
    kerf_m: float
    strip_length_m: float
    least_m: float
    yield_share: float
    reasons: tuple[str, ...] = ()

    @property
    def boards_used(self) -> int:
        return sum(board.count for board in self.boards)

    @property
    def proof(self) -> str:
        """How good it is, in words."""
        if not self.boards:
            return "nothing is cut"
        if self.status == "impossible":
            return "not all parts can be cut from these boards"
        if self.status == "optimal":
            return "proven: no cutting takes less strip length"
        over = 100 * (self.strip_length_m / self.least_m - 1) if self.least_m else 0.0
        return f"at most {over:.1f} % above the least strip length that is proven necessary"

    @property
    def offcuts(self) -> list[tuple[int, float, float | None]]:
        """What is worth keeping: how many, length and width (m)."""
        kept: Counter[tuple[float, float | None]] = Counter()
        for board in self.boards:
            if board.width_left_m >= KEPT_WIDTH_M:
                kept[round(board.length_m, 4), round(board.width_left_m, 4)] += board.count
            for strip in board.strips:
                if strip.offcut_m >= KEPT_LENGTH_M:
                    width = None if strip.width_m is None else round(strip.width_m, 4)
                    kept[round(strip.offcut_m, 4), width] += board.count
        rows = [(count, length, width) for (length, width), count in kept.items()]
        return sorted(rows, key=lambda row: (-row[1], row[2] or 0.0))


class CuttingError(ValueError):
    """The lists cannot be read as they stand; ``sentences`` say what to change."""

    def __init__(self, sentences: Sequence[str]):
        super().__init__(" ".join(sentences))
        self.sentences = tuple(sentences)


@dataclass(slots=True)
class _OnRack:
    """One board while it is being cut."""

    board: Board
    place: int
    left_m: float | None  # width not yet ripped; None for a board of unknown width
    strips: list[Strip] = field(default_factory=list)

    def lanes(self, part: "Marked", kerf_m: float) -> int:
        """How many strips of the part's width it still gives."""
        blank = part.blank
        if blank.species and self.board.species.casefold() != blank.species.casefold():
            return 0
        thick, needed = self.board.thickness_m, blank.thickness_m
        if thick is not None and needed is not None and thick < needed - _NEARLY:
            return 0
        if self.left_m is None or part.width_m is None:
            return 0 if self.strips else 1
        return int((self.left_m + kerf_m) / (part.width_m + kerf_m) + _NEARLY)

    def layers(self, part: "Marked", kerf_m: float) -> int:
        """How many of the part lie one above the other in the board's thickness."""
        thick, needed = self.board.thickness_m, part.blank.thickness_m
        if thick is None or needed is None:
            return 1
        return max(1, int((thick + kerf_m) / (needed + kerf_m) + _NEARLY))

    def rip(self, width_m: float | None, kerf_m: float, strip: Strip) -> None:
        """Take one strip off."""
        if self.left_m is None or self.board.width_m is None:
            self.strips.append(strip)
            return
        across = self.board.width_m - self.left_m
        width = self.left_m if width_m is None else width_m
        self.strips.append(replace(strip, across_m=across, width_m=width))
        self.left_m = max(0.0, self.left_m - width - kerf_m)


def cut_from_rack(
    blanks: Sequence[PartBlank], boards: Sequence[Board], kerf_m: float, *, trim_m: float = 0.0
) -> BoardCutting:
    """Cut the blanks from the boards. ``trim_m`` is lost on each board for squaring its ends.

    Raises CuttingError where a size or a number cannot be. What the rack cannot yield is no error:
    the status is `impossible` and the reasons say what to add.
    """
    _refuse(blanks, boards, kerf_m, trim_m)
    usable = [replace(b, length_m=b.length_m - trim_m) for b in boards if b.length_m > trim_m]
    rack = [
        _OnRack(board, place, board.width_m)
        for place, board in enumerate(b for b in usable for _ in range(b.count))
    ]
    fresh = [_OnRack(row.board, row.place, row.board.width_m) for row in rack]
    parts = _marked(blanks, rack, kerf_m)
    taken = least = 0.0
    reasons: dict[str, str] = {}
    for group in _groups(parts):
        length, bound, reason = _cut_group(group, rack, fresh, kerf_m)
        taken, least = taken + length, least + bound
        if reason:
            reasons.update(dict.fromkeys((part.mark for part in group), reason))
    cut = tuple(_alike(rack, trim_m))
    done = [replace(part, reason=reasons.get(part.mark, "")) for part in parts]
    status: Status = "optimal" if math.isclose(taken, least, rel_tol=1e-9) else "feasible"
    return BoardCutting(
        "impossible" if reasons else status,
        cut,
        tuple(done),
        kerf_m,
        taken,
        least,
        _yield(cut, done),
        tuple(dict.fromkeys(reasons.values())),
    )


def _refuse(
    blanks: Sequence[PartBlank], boards: Sequence[Board], kerf_m: float, trim_m: float
) -> None:
    found = []
    if not blanks:
        found.append("There is no part to cut: give at least one.")
    if not 0 <= kerf_m <= 0.02 or not 0 <= trim_m <= 1:
        found.append("The kerf must lie between 0 and 20 mm, the trim between 0 and 1 m.")
    named: list[tuple[str, PartBlank | Board]] = [(f"part “{b.title}”", b) for b in blanks]
    named += [(f"board “{b.label}”", b) for b in boards]
    for name, item in named:
        sizes = [item.length_m, *(x for x in (item.width_m, item.thickness_m) if x is not None)]
        if not all(0.0005 <= size <= 20 for size in sizes):
            found.append(f"The {name} needs sizes between 0.5 mm and 20 m.")
        if item.count < 1:
            found.append(f"The {name} needs a count of 1 or more.")
    if sum(blank.count for blank in blanks) > MOST_PIECES:
        found.append(f"At most {MOST_PIECES} parts at a time: split the list.")
    if sum(board.count for board in boards) > MOST_BOARDS:
        found.append(f"At most {MOST_BOARDS} boards at a time: leave some out.")
    if len(blanks) > len(MARKS):
        found.append(f"At most {len(MARKS)} kinds of part at a time: split the list.")
    if found:
        raise CuttingError(found)


def _marked(blanks: Sequence[PartBlank], rack: Sequence[_OnRack], kerf_m: float) -> list[Marked]:
    """Give each part its mark, and turn those that may lie across if only so they fit."""
    parts = []
    for mark, blank in zip(MARKS, blanks, strict=False):
        as_is = Marked(mark, blank, blank.length_m, blank.width_m)
        if blank.width_m is None:
            parts.append(as_is)
            continue
        turned = Marked(mark, blank, blank.width_m, blank.length_m)
        if blank.along == "width":
            parts.append(turned)
        elif blank.along == "any" and not _fits(as_is, rack, kerf_m):
            parts.append(turned if _fits(turned, rack, kerf_m) else as_is)
        else:
            parts.append(as_is)
    return parts


def _fits(part: Marked, rack: Iterable[_OnRack], kerf_m: float) -> bool:
    return any(
        row.lanes(part, kerf_m) and row.board.length_m >= part.length_m - _NEARLY for row in rack
    )


def _groups(parts: Iterable[Marked]) -> list[list[Marked]]:
    """Parts that may share a strip: same width, thickness and wood; the widest first."""
    found: dict[tuple[float, float, str], list[Marked]] = defaultdict(list)
    for part in parts:
        key = (part.width_m or 0.0, part.blank.thickness_m or 0.0, part.blank.species.casefold())
        found[key].append(part)
    order = sorted(found, key=lambda key: (-key[0], -key[1], key[2]))
    return [found[key] for key in order]


def _cut_group(
    group: Sequence[Marked], rack: Sequence[_OnRack], fresh: Sequence[_OnRack], kerf_m: float
) -> tuple[float, float, str]:
    """Cut one group; strip length taken, least strip length, and why not if it cannot be.

    The boards that give the fewest layers are taken, thicker ones only when those do not yield
    all parts.
    """
    first = group[0]
    lanes = [row.lanes(first, kerf_m) for row in rack]
    inside = sum(part.length_m * part.blank.count for part in group)
    reason = _cannot(group, rack, lanes)
    if reason:
        return 0.0, inside, reason
    remedy = ""
    for layers in sorted({row.layers(first, kerf_m) for row in rack}):
        offered = _of_layers(rack, first, layers, kerf_m)
        found = _calculated(group, rack, offered, layers, kerf_m)
        if found is not None and found.boards:
            # Wider parts may have taken boards before; the least must hold whoever is first.
            whole = _of_layers(fresh, first, layers, kerf_m)
            free = found if whole == offered else _calculated(group, fresh, whole, layers, kerf_m)
            _take(group, found, rack, offered, layers, kerf_m)
            return found.length_used_m, free.least_length_m if free else 0.0, ""
        remedy = found.reason if found and found.reason else remedy
    names = ", ".join(part.blank.title for part in group)
    remedy = remedy.replace("board", "strip")
    return 0.0, inside, f"{names}{_rough(first)}: {remedy[:1].lower()}{remedy[1:]}"


def _of_layers(rack: Sequence[_OnRack], part: Marked, layers: int, kerf_m: float) -> list[int]:
    """The strips each board gives, if it gives just so many layers."""
    return [row.lanes(part, kerf_m) if row.layers(part, kerf_m) == layers else 0 for row in rack]


def _calculated(
    group: Sequence[Marked],
    rack: Sequence[_OnRack],
    lanes: Sequence[int],
    layers: int,
    kerf_m: float,
) -> CutList | None:
    """The calculator's cutting of the strips offered; None where the longest part fits none."""
    supply: Counter[float] = Counter()
    for row, count in zip(rack, lanes, strict=True):
        if count:
            supply[row.board.length_m] += count
    if max(part.length_m for part in group) > max(supply, default=0.0) + _NEARLY:
        return None
    return cut_list(
        [Stick(part.mark, part.length_m, -(-part.blank.count // layers)) for part in group],
        [Stick("", length, count) for length, count in supply.items()],
        kerf_m,
    )


def _take(
    group: Sequence[Marked],
    found: CutList,
    rack: Sequence[_OnRack],
    lanes: list[int],
    layers: int,
    kerf_m: float,
) -> None:
    """Rip what the calculator found from the boards."""
    pool = {part.mark: -(-part.blank.count // layers) for part in group}
    for stick in found.boards:
        row = _next_board(rack, lanes, stick.length_m)
        cuts = tuple(_named(piece, pool) for piece in stick.pieces)
        width = group[0].width_m
        row.rip(width, kerf_m, Strip(0.0, width, cuts, stick.offcut_m, layers))
        lanes[row.place] -= 1


def _next_board(rack: Sequence[_OnRack], lanes: Sequence[int], length_m: float) -> _OnRack:
    """The board to rip next: one begun already, else the narrowest that will do."""
    offered = [
        row
        for row in rack
        if lanes[row.place] and math.isclose(row.board.length_m, length_m, abs_tol=1e-8)
    ]
    return min(offered, key=lambda row: (not row.strips, lanes[row.place], row.place))


def _named(piece: Piece, pool: dict[str, int]) -> Cut:
    """The piece under one mark: parts of one length come back from the calculator together."""
    mark = next(name for name in piece.label.split(" / ") if pool[name])
    pool[mark] -= 1
    return Cut(mark, piece.start_m, piece.length_m)


def _cannot(group: Sequence[Marked], rack: Sequence[_OnRack], lanes: Sequence[int]) -> str:
    """Why no board will do for this group, or nothing."""
    first = group[0]
    names = ", ".join(part.blank.title for part in group)
    if not rack:
        return f"{names}: there is no board on the rack; enter the boards you have."
    if not any(lanes):
        wood = f" of {first.blank.species}" if first.blank.species else ""
        return f"{names}: no board{wood} is left that is wide and thick enough{_rough(first)}."
    longest = max(part.length_m for part in group)
    reach = max(row.board.length_m for row, n in zip(rack, lanes, strict=True) if n)
    if longest <= reach + _NEARLY:
        return ""
    title = next(part.blank.title for part in group if part.length_m == longest)
    return (
        f"{title} is {_mm(longest)} mm long, longer than the longest board that would do "
        f"({_mm(reach)} mm): add a longer board or shorten the part."
    )


def _rough(part: Marked) -> str:
    sizes = [_mm(x) for x in (part.blank.thickness_m, part.width_m) if x is not None]
    return f" (rough {' × '.join(sizes)} mm)" if sizes else ""


def _mm(length_m: float) -> str:
    return f"{round(1000 * length_m, 1):g}"


def _alike(rack: Iterable[_OnRack], trim_m: float) -> Iterator[CutBoard]:
    """The boards that are cut, those cut alike together."""
    counts: Counter[CutBoard] = Counter()
    for row in rack:
        if row.strips:
            board = row.board
            counts[
                CutBoard(
                    board.label,
                    1,
                    board.length_m + trim_m,
                    board.width_m,
                    tuple(row.strips),
                    row.left_m or 0.0,
                )
            ] += 1
    for cut, count in counts.items():
        yield replace(cut, count=count)


def _yield(boards: Iterable[CutBoard], parts: Iterable[Marked]) -> float:
    """Area of the parts that were cut over the area of the boards they came from."""
    widths = {part.mark: part.width_m for part in parts}
    inside = outside = 0.0
    for board in boards:
        # A board nobody measured across is as wide as the widest part that comes from it.
        wide = board.width_m or max((widths[m] or 1.0) for m in board.pieces)
        outside += board.count * board.length_m * wide
        inside += board.count * sum(
            piece.length_m * (widths[piece.mark] or wide)
            for strip in board.strips
            for piece in strip.pieces
        )
    return inside / outside if outside else 0.0


# --- drawn to scale ------------------------------------------------------------------------------


def drawings(cutting: BoardCutting) -> list[Drawing]:
    """The boards to scale, as many to a drawing as a sheet of paper holds; lengths in mm."""
    if not cutting.boards:
        return []
    longest = max(board.length_m for board in cutting.boards) * 1000
    scale = next((s for s in SCALES if longest * s <= _WIDEST_PICTURE_MM), SCALES[-1])
    room = (PRINTABLE_HEIGHT_MM - 30) / scale
    gap = 7 / scale
    sheets: list[list[tuple[int, CutBoard]]] = [[]]
    used = 0.0
    for number, board in enumerate(cutting.boards, 1):
        high = _height(board) + gap
        if sheets[-1] and used + high > room:
            sheets.append([])
            used = 0.0
        sheets[-1].append((number, board))
        used += high
    return [_sheet(rows, len(sheets) > 1, gap, longest) for rows in sheets]


def _height(board: CutBoard) -> float:
    return 1000 * (board.width_m or DRAWN_WIDTH_M)


def _sheet(
    rows: Sequence[tuple[int, CutBoard]], several: bool, gap: float, longest: float
) -> Drawing:
    shapes: list[Shape] = []
    top = 0.0
    for number, board in rows:
        times = f" (× {board.count})" if board.count > 1 else ""
        middle = top + _height(board) / 2
        shapes.append(Label((-gap / 3, middle), f"{number}{times}", "end"))
        shapes += _board_shapes(board, top)
        top += _height(board) + gap
    shapes.append(Dimension((0, top), (longest, top), f"{longest:g} mm"))
    first, last = rows[0][0], rows[-1][0]
    title = f"Boards {first} to {last}, cut" if several else "The boards, cut"
    count = sum(board.count for _, board in rows)
    return Drawing(
        title,
        f"{count} boards to scale, each with its strips and parts by letter; saw kerfs are gaps, "
        "dashed lines what is left of a board.",
        tuple(shapes),
    )


def _board_shapes(board: CutBoard, top: float) -> Iterator[Shape]:
    high = _height(board)
    yield _box(0, 1000 * board.length_m, top, high, "dashed")
    for strip in board.strips:
        y = top + 1000 * strip.across_m
        wide = 1000 * strip.width_m if strip.width_m and board.width_m else high
        for piece in strip.pieces:
            start = 1000 * piece.start_m
            yield _box(start, start + 1000 * piece.length_m, y, wide, "thick")
            yield Label((start + 500 * piece.length_m, y + wide / 2), piece.mark)


def _box(
    left: float, right: float, top: float, high: float, line: Literal["thick", "dashed"]
) -> Outline:
    corners: tuple[Point, ...] = (
        (left, top),
        (right, top),
        (right, top + high),
        (left, top + high),
    )
    return Outline(corners, closed=True, line=line)
