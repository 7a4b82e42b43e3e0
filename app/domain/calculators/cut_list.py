"""Cut list: which part from which board, with saw kerf, to a proven least length of board."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    InvalidInput,
    Quantity,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.cutting_stock import (
    NANOMETRES,
    CuttingProblem,
    Status,
    solve,
    surely_fits,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Outline, Shape
from app.domain.quantities import UnreadableValue, parse

BETWEEN = "between"
EVERY = "every"
MOST_PIECES = 2_000
MOST_BOARDS = 400
MOST_KINDS = 60
DRAWN_BOARD_MM = 60.0
_LINE = re.compile(r"(?:(?P<label>[^:]*):)?(?P<length>.+?)(?:\s*[x×*]\s*(?P<count>[0-9]{1,6}))?")


@dataclass(frozen=True, slots=True)
class Stick:
    """A part to cut or a board on the rack: name, length (m) and how many."""

    label: str
    length_m: float
    count: int


@dataclass(frozen=True, slots=True)
class Piece:
    """One part on a board: where it starts and how long it is (m)."""

    label: str
    start_m: float
    length_m: float


@dataclass(frozen=True, slots=True)
class BoardCut:
    """One board with its parts in order from the left end, and what is left over (m)."""

    label: str
    length_m: float
    pieces: tuple[Piece, ...]
    offcut_m: float


@dataclass(frozen=True, slots=True)
class CutList:
    """Boards to take. `least_length_m` is proven: no cutting needs less board than that.

    `status` is `optimal` when the length used equals it, `feasible` when a better cutting is
    neither found nor excluded, `impossible` when the rack cannot yield the parts, `unknown` when
    the search ended before it knew; `reason` then says why and what would help.
    """

    status: Status
    boards: tuple[BoardCut, ...]
    length_used_m: float
    least_length_m: float
    offcut_share: float
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Inputs:
    parts: str
    boards: str
    kerf_m: float
    kerf_rule: str


@dataclass(frozen=True, slots=True)
class Result:
    length_used_m: float
    boards_used: int
    least_length_m: float
    offcut_share: float
    proof: str
    cut_list: CutList


def cut_list(
    parts: Sequence[Stick],
    boards: Sequence[Stick],
    kerf_m: float,
    *,
    last_part_costs_kerf: bool = False,
) -> CutList:
    """Choose boards and cuts: the least length of board, then the fewest boards.

    Lengths and kerf (m) are taken to the nanometre, so inch fractions are exact. Without
    `last_part_costs_kerf`, n parts cost n − 1 kerfs: the last part ends at the board's end or
    is parted from an offcut. Same input, same list.
    """
    parts, boards = _merged(parts), _merged(boards)
    too_long = [p for p in parts if p.length_m > max(b.length_m for b in boards) + 1e-12]
    if too_long:
        return _impossible(_too_long_sentence(too_long[0], boards))
    problem = _problem(parts, boards, kerf_m, last_part_costs_kerf=last_part_costs_kerf)
    if problem is None:
        return _impossible("With its kerf a part is longer than every board: add a longer board.")
    cutting = solve(problem)
    if not cutting.boards:
        return replace(_impossible(_remedy(problem, boards, cutting.status)), status=cutting.status)
    laid = tuple(
        _lay(problem, kind, counts, parts, boards, kerf_m) for kind, counts in cutting.boards
    )
    used = sum(board.length_m for board in laid)
    inside = sum(part.length_m * part.count for part in parts)
    bound = cutting.bound / NANOMETRES
    return CutList(cutting.status, laid, used, bound, 1 - inside / used)


def _merged(sticks: Sequence[Stick]) -> list[Stick]:
    """Sticks of one length together, longest first; names joined."""
    counts: Counter[int] = Counter()
    names: dict[int, list[str]] = {}
    for stick in sticks:
        size = round(stick.length_m * NANOMETRES)
        counts[size] += stick.count
        if stick.label and stick.label not in names.setdefault(size, []):
            names[size].append(stick.label)
    return [
        Stick(" / ".join(names.get(size, [])), size / NANOMETRES, counts[size])
        for size in sorted(counts, reverse=True)
    ]


def _problem(
    parts: Sequence[Stick], boards: Sequence[Stick], kerf_m: float, *, last_part_costs_kerf: bool
) -> CuttingProblem | None:
    """The kerf taken into the lengths; None where a part then fits no board."""
    kerf = round(kerf_m * NANOMETRES)
    lengths = tuple(round(board.length_m * NANOMETRES) for board in boards)
    sizes = tuple(round(part.length_m * NANOMETRES) + kerf for part in parts)
    capacities = tuple(length + (0 if last_part_costs_kerf else kerf) for length in lengths)
    if max(sizes) > max(capacities):
        return None
    return CuttingProblem(
        sizes,
        tuple(part.count for part in parts),
        lengths,
        capacities,
        tuple(board.count for board in boards),
    )


def _lay(
    problem: CuttingProblem,
    kind: int,
    counts: Sequence[int],
    parts: Sequence[Stick],
    boards: Sequence[Stick],
    kerf_m: float,
) -> BoardCut:
    at = 0.0
    pieces: list[Piece] = []
    for part, count in zip(parts, counts, strict=True):
        for _ in range(count):
            pieces.append(Piece(part.label, at, part.length_m))
            at += part.length_m + kerf_m
    used = sum(size * n for size, n in zip(problem.sizes, counts, strict=True))
    offcut = max(0.0, (problem.capacities[kind] - used) / NANOMETRES)
    return BoardCut(boards[kind].label, boards[kind].length_m, tuple(pieces), offcut)


def _impossible(reason: str) -> CutList:
    return CutList("impossible", (), 0.0, 0.0, 0.0, reason)


def _too_long_sentence(part: Stick, boards: Sequence[Stick]) -> str:
    name = f"“{part.label}”, " if part.label else ""
    return (
        f"The part {name}{1000 * part.length_m:g} mm long, is longer than the longest board "
        f"({1000 * max(b.length_m for b in boards):g} mm): add a longer board or shorten the part."
    )


def _remedy(problem: CuttingProblem, boards: Sequence[Stick], status: Status) -> str:
    """How many more of the longest board would do, found by filling again with more of them."""
    more = 1
    while more <= MOST_BOARDS:
        supply = (problem.supply[0] + more, *problem.supply[1:])
        if surely_fits(replace(problem, supply=supply)):
            break
        more *= 2
    low = more // 2
    while more - low > 1:
        middle = (low + more) // 2
        supply = (problem.supply[0] + middle, *problem.supply[1:])
        if surely_fits(replace(problem, supply=supply)):
            more = middle
        else:
            low = middle
    noun = "board" if more == 1 else "boards"
    finding = (
        "The boards do not yield all parts"
        if status == "impossible"
        else "No way was found to cut all parts from these boards, though none is ruled out"
    )
    return f"{finding}: add {more} {noun} of {1000 * boards[0].length_m:g} mm, or cut fewer parts."


def read_sticks(text: str, key: str, name: str) -> list[Stick]:
    """Lines such as ``neck: 720 mm x 60; 510 mm``. Raises InvalidInput with every mistake."""
    sticks: list[Stick] = []
    mistakes: list[tuple[str, str]] = []
    for line in (part.strip() for part in re.split(r"[;\n]", text)):
        if not line:
            continue
        match = _LINE.fullmatch(line)
        if match is None:
            mistakes.append((key, f"{name}: write a length and a count, such as 720 mm x 60."))
            continue
        try:
            length = parse(match["length"].strip(), "length", name=name)
        except UnreadableValue as mistake:
            mistakes.append((key, str(mistake)))
            continue
        count = int(match["count"] or 1)
        if not (1e-3 <= length <= 20 and 1 <= count <= MOST_PIECES):
            sentence = f"{name} must be 1 mm to 20 m long and 1 to {MOST_PIECES} in number."
            mistakes.append((key, sentence))
            continue
        sticks.append(Stick((match["label"] or "").strip(), length, count))
    if not sticks and not mistakes:
        mistakes.append((key, f"{name}: give at least one length, such as 720 mm x 60."))
    if mistakes:
        raise InvalidInput(mistakes)
    return sticks


def _limits(parts: Sequence[Stick], boards: Sequence[Stick]) -> None:
    """Refuse more than the search is made for. Raises InvalidInput."""
    mistakes = []
    if sum(part.count for part in parts) > MOST_PIECES or len(parts) > MOST_KINDS:
        sentence = f"Parts: at most {MOST_PIECES} parts of {MOST_KINDS} lengths; split the list."
        mistakes.append(("parts", sentence))
    if sum(board.count for board in boards) > MOST_BOARDS or len(boards) > MOST_KINDS:
        sentence = f"Boards: at most {MOST_BOARDS} boards of {MOST_KINDS} lengths; leave some out."
        mistakes.append(("boards", sentence))
    if mistakes:
        raise InvalidInput(mistakes)


def compute(inputs: Inputs) -> Result:
    parts = read_sticks(inputs.parts, "parts", "Parts")
    boards = read_sticks(inputs.boards, "boards", "Boards")
    _limits(parts, boards)
    found = cut_list(parts, boards, inputs.kerf_m, last_part_costs_kerf=inputs.kerf_rule == EVERY)
    if not found.boards:
        raise InvalidInput([("boards", found.reason)])
    return Result(
        found.length_used_m,
        len(found.boards),
        found.least_length_m,
        found.offcut_share,
        _proof(found),
        found,
    )


def _proof(found: CutList) -> str:
    if found.status == "optimal":
        return "proven: no cutting takes less board"
    over = found.length_used_m / found.least_length_m - 1
    return f"at most {100 * over:.1f} % above the least possible length"


def show(_inputs: Inputs, result: Result) -> ShownValue:
    rows = tuple(
        (i, board.label or None, board.length_m, _pieces_text(board), board.offcut_m)
        for i, board in enumerate(result.cut_list.boards, 1)
    )
    columns = (
        ResultColumn("board", "Board"),
        ResultColumn("name", "Name"),
        ResultColumn("length", "Length", "length", "mm", "in", (1, 3)),
        ResultColumn("parts", "Cut from the left"),
        ResultColumn("offcut", "Left over", "length", "mm", "in", (1, 3)),
    )
    return ShownValue(
        table=ResultTable("Cut list", columns, rows), drawing=_drawing(result.cut_list)
    )


def _pieces_text(board: BoardCut) -> str:
    counts = Counter((piece.label, piece.length_m) for piece in board.pieces)
    return ", ".join(
        f"{n} × {f'{label} ' if label else ''}{1000 * length:g} mm"
        for (label, length), n in counts.items()
    )


def _drawing(found: CutList) -> Drawing:
    shapes: list[Shape] = []
    longest = 1000 * max(board.length_m for board in found.boards)
    high = max(DRAWN_BOARD_MM, longest / 40)
    for row, board in enumerate(found.boards):
        top = row * high * 1.6
        end = 1000 * board.length_m
        shapes.append(_bar(0, end, top, high, "dashed"))
        shapes.append(Label((-high / 2, top + high / 2), str(row + 1), "end", high / 2))
        for piece in board.pieces:
            start = 1000 * piece.start_m
            shapes.append(_bar(start, start + 1000 * piece.length_m, top, high, "thick"))
            words = f"{1000 * piece.length_m:g}"
            middle = (start + 500 * piece.length_m, top + high / 2)
            shapes.append(Label(middle, words, "middle", high / 3))
    below = len(found.boards) * high * 1.6 + high / 2
    shapes.append(Dimension((0, below), (longest, below), f"{longest:g} mm"))
    return Drawing(
        "The boards, cut",
        f"{len(found.boards)} boards to scale, parts from the left with their lengths in "
        f"millimetres, saw kerfs as gaps, {100 * found.offcut_share:.1f} % kerf and offcut.",
        tuple(shapes),
    )


def _bar(
    left: float, right: float, top: float, high: float, line: Literal["thick", "dashed"]
) -> Outline:
    corners = ((left, top), (right, top), (right, top + high), (left, top + high))
    return Outline(corners, closed=True, line=line)


CALCULATOR = Calculator(
    key="cut-list",
    title="Cut list",
    question="Which parts come out of which boards, with the least board used?",
    quantities=(
        Quantity(
            "parts",
            'upright("parts")',
            "parts",
            "number",
            default="neck: 720 mm x 8; body half: 520 mm x 16; brace: 180 mm x 12",
            form="text",
            note="name: length x count; next part",
        ),
        Quantity(
            "boards",
            'upright("boards")',
            "boards on the rack",
            "number",
            default="2440 mm x 6; 1830 mm x 4",
            form="text",
            note="length x count; next length",
        ),
        Quantity("kerf", "k", "saw kerf", "length", 0, 20, 3.2),
        Quantity(
            "kerf_rule",
            'upright("rule")',
            "kerf of the last part",
            "number",
            default=BETWEEN,
            form="choice",
            choices=(
                (BETWEEN, "kerfs only between parts: the last part costs none"),
                (EVERY, "every part costs a kerf, the last one too"),
            ),
        ),
        Quantity("length_used", "L", "length of board used", "length", 1, 1e7, digits=6),
        Quantity("boards_used", "n", "boards used", "count", 0, 1000, form="whole"),
        Quantity(
            "least_length", 'L_"min"', "least length proven necessary", "length", 1, 1e7, digits=6
        ),
        Quantity("offcut_share", "w", "kerf and offcut", "percentage", 0, 100, digits=3),
        Quantity("proof", 'upright("proof")', "how good it is", "number", form="text"),
    ),
    answers=("length_used", "boards_used", "least_length", "offcut_share", "proof"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "offcut_share": "{offcut_share} = 1 - frac(sum_i n_i l_i, {length_used})",
    },
    limits=(
        (
            "Lengths only: widths, grain and knots are yours to judge. Mark bad places and give the "
            "board as two shorter ones."
        ),
        "Add the length for squaring the first end to the parts or take it off the boards.",
    ),
    conventions=(
        "n parts cost n − 1 kerfs unless the other rule is chosen: sum l + (n − 1) k ≤ S.",
        "The least length of board wins, then the fewest boards.",
        "The search stops after counted work, not after a time: the same list every time.",
    ),
    source="Cutting-stock problem with kerf: Gilmore and Gomory, Operations Research 9 (1961) 849",
    example=CalculatorExample(
        given={
            "parts": "20 mm x 48; 45 mm x 35; 50 mm x 24; 55 mm x 10; 75 mm x 8",
            "boards": "110 mm x 60",
            "kerf": "0 mm",
        },
        expected={"boards_used": 47, "length_used": "5170 mm"},
        source="Fourer, Gay and Kernighan, AMPL, 2nd edition, cut.dat; optimum 47 by HiGHS",
    ),
)
