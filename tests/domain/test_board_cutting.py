"""Boards cut into strips and parts: published optima, brute force, and a person with a tape."""

import itertools
import math
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.kit.board_cutting import (
    Board,
    BoardCutting,
    CuttingError,
    PartBlank,
    cut_from_rack,
    drawings,
)
from app.domain.papers.drawing import on_paper

KERF_M = 0.003


def broken_rules(found: BoardCutting, blanks: list[PartBlank], boards: list[Board]) -> list[str]:
    """What a person with a tape would object to; written apart from the cutting."""
    broken = []
    parts = {part.mark: part for part in found.parts}
    cut: Counter[str] = Counter()
    for board in found.boards:
        widths = [strip.width_m or 0.0 for strip in board.strips]
        across = sum(widths) + found.kerf_m * (len(widths) - 1)
        if board.width_m is not None and across > board.width_m + 1e-9:
            broken.append("a board is ripped beyond its edge")
        for strip in board.strips:
            broken += broken_on_strip(strip, board.length_m, parts, found.kerf_m)
            for piece in strip.pieces:
                cut[parts[piece.mark].blank.key] += board.count * strip.layers
    layers = max((strip.layers for b in found.boards for strip in b.strips), default=1)
    if found.status != "impossible":
        # Resawing gives whole sets of layers: fewer than one set may be left over.
        broken += [
            "not the parts that were asked for"
            for blank in blanks
            if not blank.count <= cut[blank.key] < blank.count + layers
        ]
    used: Counter[str] = Counter()
    for board in found.boards:
        used[board.label] += board.count
    return broken + [f"too many of {b.label}" for b in boards if used[b.label] > b.count]


def broken_on_strip(strip, length_m, parts, kerf_m):
    """The same for one strip."""
    broken = []
    end = -kerf_m
    for piece in strip.pieces:
        part = parts[piece.mark]
        if piece.start_m < end + kerf_m - 1e-9:
            broken.append("parts overlap")
        end = piece.start_m + piece.length_m
        if not math.isclose(piece.length_m, part.length_m):
            broken.append("a part has the wrong length")
        if (strip.width_m or 1) < (part.width_m or 0) - 1e-9:
            broken.append("a strip is too narrow")
        if part.blank.along == "length" and part.length_m != part.blank.length_m:
            broken.append("the grain runs across")
    if end > length_m + 1e-9:
        broken.append("a board is cut beyond its end")
    return broken


def blanks_of(counts: dict[float, int]) -> list[PartBlank]:
    return [PartBlank(f"p{n}", f"Part {n}", c, x / 1000) for n, (x, c) in enumerate(counts.items())]


@pytest.mark.parametrize(
    ("parts", "board", "kerf", "expected"),
    [
        # Fourer, Gay & Kernighan, AMPL 2nd ed., cut.dat; optimum 47 by HiGHS, LP bound 46.25.
        ({20: 48, 45: 35, 50: 24, 55: 10, 75: 8}, 110, 0, 47),
        # The same instance recast with a kerf of 3: sum (l + k) <= S + k.
        ({17: 48, 42: 35, 47: 24, 52: 10, 72: 8}, 107, 3, 47),
        # After W.L. Winston, Operations Research (from memory); optimum 19 by HiGHS.
        ({30: 25, 50: 20, 90: 15}, 170, 0, 19),
    ],
)
def test_published_optima_are_reached_and_proven(parts, board, kerf, expected):
    rack = [Board("rack", board / 1000, 60)]
    found = cut_from_rack(blanks_of(parts), rack, kerf / 1000)

    assert found.status == "optimal"
    assert found.boards_used == expected
    assert broken_rules(found, blanks_of(parts), rack) == []


def brute_force(parts: list[int], boards: list[tuple[int, int]], kerf: int, width: int):
    """The least strip length for parts of one width: every way to give each part a strip."""
    strips = [length for length, wide in boards for _ in range((wide + kerf) // (width + kerf))]
    best = None
    for places in itertools.product(range(len(strips)), repeat=len(parts)):
        used = sum(strips[i] for i in set(places))
        if best is not None and used >= best:
            continue
        loads = Counter()
        for part, place in zip(parts, places, strict=True):
            loads[place] += part + kerf
        if all(load <= strips[i] + kerf for i, load in loads.items()):
            best = used
    return best


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(20, 90), min_size=1, max_size=5),
    st.lists(st.tuples(st.integers(60, 160), st.integers(10, 45)), min_size=1, max_size=3),
    st.integers(0, 4),
)
def test_small_racks_agree_with_brute_force(parts, boards, kerf):
    width = 20
    blanks = [
        PartBlank(f"p{n}", f"Part {x}", count, x / 1000, width / 1000)
        for n, (x, count) in enumerate(Counter(parts).items())
    ]
    rack = [Board(f"b{n}", x / 1000, 1, w / 1000) for n, (x, w) in enumerate(boards)]
    found = cut_from_rack(blanks, rack, kerf / 1000)
    expected = brute_force(parts, boards, kerf, width)

    if expected is None:
        assert found.status == "impossible"
        assert all(reason.endswith(".") for reason in found.reasons)
    else:
        assert found.status == "optimal"
        assert 1000 * found.strip_length_m == pytest.approx(expected)
        assert broken_rules(found, blanks, rack) == []


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(200, 900), st.integers(40, 190), st.integers(5, 48), st.integers(1, 8)
        ),
        min_size=1,
        max_size=4,
    ),
    st.lists(
        st.tuples(
            st.integers(600, 2500), st.integers(60, 260), st.integers(6, 52), st.integers(1, 6)
        ),
        min_size=1,
        max_size=4,
    ),
)
def test_mixed_parts_keep_every_rule_and_the_bound_never_lies(parts, boards):
    blanks = [
        PartBlank(f"p{n}", f"Part {n}", c, x / 1000, w / 1000, t / 1000)
        for n, (x, w, t, c) in enumerate(parts)
    ]
    rack = [
        Board(f"b{n}", x / 1000, c, w / 1000, t / 1000) for n, (x, w, t, c) in enumerate(boards)
    ]
    found = cut_from_rack(blanks, rack, KERF_M)

    assert broken_rules(found, blanks, rack) == []
    if found.status != "impossible":
        assert found.least_m <= found.strip_length_m + 1e-9
        assert 0 < found.yield_share <= 1 + 1e-9
    for drawing in drawings(found):
        sheet = on_paper(drawing, height_mm=225)
        assert sheet.width_mm <= 172


def test_body_halves_from_two_by_eights_worked_by_hand():
    # A board 2438.4 mm long less 20 mm for square ends holds four of 520 mm: 4 * 520 + 3 * 3 =
    # 2089 mm, and not five. 22 halves take six boards, the last with two.
    blanks = [PartBlank("half", "Body half", 22, 0.520, 0.185, 0.048)]
    rack = [Board("2 x 8", 2.4384, 8, 0.2032, 0.0508)]
    found = cut_from_rack(blanks, rack, KERF_M, trim_m=0.020)

    assert found.status == "optimal"
    assert found.boards_used == 6
    assert {(b.count, len(b.strips[0].pieces)) for b in found.boards} == {(5, 4), (1, 2)}


def test_two_strips_side_by_side_need_a_kerf_between():
    blanks = [PartBlank("fb", "Fretboard", 2, 0.5, 0.07, 0.007)]
    assert cut_from_rack(blanks, [Board("b", 0.51, 1, 0.143, 0.01)], KERF_M).boards_used == 1
    assert cut_from_rack(blanks, [Board("b", 0.51, 1, 0.142, 0.01)], KERF_M).reasons


def test_grain_along_the_length_is_never_turned_and_any_may_be():
    rack = [Board("wide", 0.3, 1, 0.6, 0.01)]
    along = PartBlank("a", "Plate", 1, 0.5, 0.2, 0.003)
    assert cut_from_rack([along], rack, KERF_M).reasons
    free = PartBlank("a", "Plate", 1, 0.5, 0.2, 0.003, along="any")
    assert cut_from_rack([free], rack, KERF_M).status == "optimal"
    across = PartBlank("a", "Plate", 1, 0.5, 0.2, 0.003, along="width")
    assert cut_from_rack([across], rack, KERF_M).status == "optimal"


def test_thin_parts_come_from_the_thinnest_board_that_will_do():
    rack = [Board("thick", 2.4, 1, 0.2, 0.05), Board("thin", 2.4, 1, 0.2, 0.01)]
    found = cut_from_rack([PartBlank("fb", "Fretboard", 2, 0.5, 0.07, 0.007)], rack, KERF_M)
    assert [board.label for board in found.boards] == ["thin"]


def test_the_wood_asked_for_is_the_wood_cut():
    rack = [Board("a", 2.4, 1, 0.2, 0.05, "ash"), Board("b", 2.4, 1, 0.2, 0.05, "Hard maple")]
    found = cut_from_rack(
        [PartBlank("n", "Neck", 1, 0.7, 0.07, 0.02, species="hard maple")], rack, 0
    )
    assert [board.label for board in found.boards] == ["b"]


def test_a_part_longer_than_any_board_is_told_and_the_others_are_cut():
    blanks = [PartBlank("n", "Neck", 1, 3.0, 0.07), PartBlank("f", "Fretboard", 1, 0.5, 0.06)]
    found = cut_from_rack(blanks, [Board("b", 2.4, 1, 0.2)], KERF_M)

    assert found.status == "impossible"
    assert "Neck is 3000 mm long, longer than the longest board" in found.reasons[0]
    assert found.boards_used == 1
    assert [part.mark for part in found.parts if part.reason] == ["A"]


def test_no_board_at_all_is_told():
    found = cut_from_rack([PartBlank("n", "Neck", 1, 0.7)], [], KERF_M)
    assert found.reasons == ("Neck: there is no board on the rack; enter the boards you have.",)
    assert drawings(found) == []


def test_too_few_boards_say_how_many_more():
    found = cut_from_rack(
        [PartBlank("h", "Body half", 22, 0.52, 0.185)], [Board("b", 2.44, 3, 0.2)], KERF_M
    )
    # Four to a board: three boards hold 12, ten more need three boards.
    assert "add 3 strips of 2440 mm" in found.reasons[0]


@pytest.mark.parametrize(
    ("blanks", "boards", "kerf", "words"),
    [
        ([], [Board("b", 1.0)], 0, "no part"),
        ([PartBlank("a", "A", 1, 0.5)], [Board("b", 1.0)], 0.05, "kerf"),
        ([PartBlank("a", "A", 0, 0.5)], [Board("b", 1.0)], 0, "count"),
        ([PartBlank("a", "A", 1, -1)], [Board("b", 1.0)], 0, "sizes"),
        ([PartBlank("a", "A", 1, 0.5, 0.0)], [Board("b", 1.0)], 0, "sizes"),
        ([PartBlank("a", "A", 1, 0.5)], [Board("b", math.inf)], 0, "sizes"),
        ([PartBlank("a", "A", 1, 0.5)], [Board("b", 1.0, 401)], 0, "400 boards"),
        ([PartBlank("a", "A", 2001, 0.5)], [Board("b", 1.0)], 0, "2000 parts"),
        ([PartBlank(str(n), "A", 1, 0.5) for n in range(27)], [Board("b", 1.0)], 0, "26 kinds"),
    ],
)
def test_odd_lists_are_refused_in_a_sentence(blanks, boards, kerf, words):
    with pytest.raises(CuttingError, match=words):
        cut_from_rack(blanks, boards, kerf)


def test_the_same_lists_give_the_same_cutting():
    blanks = [PartBlank("h", "Half", 9, 0.52, 0.185), PartBlank("f", "Fretboard", 7, 0.5, 0.07)]
    rack = [Board("b", 2.44, 6, 0.2), Board("c", 1.83, 4, 0.15)]
    assert cut_from_rack(blanks, rack, KERF_M) == cut_from_rack(blanks, rack, KERF_M)


def test_thin_plates_are_resawn_from_a_thick_board():
    # 48 mm with a 3 mm kerf give seven layers of 3.5 mm: 7 * 3.5 + 6 * 3 = 42.5, and eight take 49.
    plates = [PartBlank("plate", "Plate half", 52, 0.330, 0.120, 0.0035)]
    found = cut_from_rack(plates, [Board("2 in", 2.4384, 3, 0.2032, 0.048)], KERF_M)

    # 52 plates take eight pieces of seven; seven pieces fill one board: 7 * 330 + 6 * 3 = 2328 mm.
    assert [len(board.strips[0].pieces) for board in found.boards] == [7, 1]
    assert {strip.layers for board in found.boards for strip in board.strips} == {7}
    assert found.status == "optimal"


def test_a_board_of_the_right_thickness_is_taken_before_a_thick_one_is_resawn():
    plates = [PartBlank("plate", "Plate half", 4, 0.330, 0.120, 0.0035)]
    rack = [Board("2 in", 2.4, 1, 0.2, 0.048), Board("thin", 2.4, 1, 0.2, 0.004)]
    assert [board.label for board in cut_from_rack(plates, rack, KERF_M).boards] == ["thin"]
