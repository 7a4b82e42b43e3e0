"""A fretboard at true size, tiled over Letter or A4 with register marks.

Fret n stands L (1 − 2^(−n/12)) from the nut: the calculator `fret-positions` computes it.
"""

import json
from typing import Any

from app.domain.calculators.fret_positions import CHROMATIC, distance_m, steps_of
from app.domain.papers.document import Paper
from app.domain.quantities import INCH_M, decimals
from app.print.compile import PAPER_NAMES, PAPERS, PrintError, typst_pdf

TILE_MM = 210.0  # fits between the heads and bars of both papers
SHORTEST_M, LONGEST_M = 0.1, 2.0
MOST_FRETS = 48
LETTERS = "ABCDEFGHIJ"
CHECK = (
    "Print at actual size (100 %). Both bars must be 100 mm long; if not, this template is not "
    "true. Mark slots on wood from the nut with a rule, and use the paper to check."
)


def fret_template_pdf(
    scale_length_m: float, frets: int, paper: Paper = "letter", pattern: str = CHROMATIC
) -> bytes:
    """The template for a scale length in m as a tagged PDF, one tile a page.

    ``pattern`` is one of the calculator's: every semitone, or the diatonic frets by their names.

    Raises PrintError for a scale length outside 0.1 m to 2 m, for fewer than 1 or more
    than 48 frets, and for an unknown paper.
    """
    if not SHORTEST_M <= scale_length_m <= LONGEST_M:
        raise PrintError("the scale length of a template lies between 100 mm and 2000 mm")
    if not 1 <= frets <= MOST_FRETS:
        raise PrintError(f"a template has 1 to {MOST_FRETS} frets, not {frets}")
    if paper not in PAPERS:
        raise PrintError(f"paper is letter or a4, not {paper!r}")
    marks = _marks(scale_length_m, steps_of(pattern, frets))
    length_mm = scale_length_m * 1000
    starts = [0.0]
    while starts[-1] + TILE_MM < length_mm:
        starts.append(starts[-1] + TILE_MM)
    title = (
        f"Fret template: scale length {decimals(length_mm, 1)} mm "
        f"({decimals(scale_length_m / INCH_M, 3)} in), "
        f"{frets} {'' if pattern == CHROMATIC else f'{pattern} '}frets"
    )
    pages = [
        _page(index, len(starts), start, min(TILE_MM, length_mm - start), marks, title)
        for index, start in enumerate(starts)
    ]
    data = {
        "title": title,
        "paper": PAPER_NAMES[paper],
        "tile_mm": TILE_MM,
        "check": CHECK,
        "pages": pages,
    }
    return typst_pdf("fret_template.typ", json.dumps(data, allow_nan=False))


def _marks(scale_length_m: float, frets: list[tuple[str, int]]) -> list[tuple[float, str, bool]]:
    """Distance from the nut in mm, words, and whether the line is thick."""
    marks = [(0.0, "Nut, front edge", True)]
    for name, step in frets:
        at = distance_m(scale_length_m, step) * 1000
        marks.append((at, f"{name}:  {decimals(at, 2)} mm", False))
    saddle = scale_length_m * 1000
    words = f"Saddle without set-back:  {decimals(saddle, 2)} mm"
    return [*marks, (saddle, words, True)]


def _page(
    index: int,
    count: int,
    start: float,
    length: float,
    marks: list[tuple[float, str, bool]],
    title: str,
) -> dict[str, Any]:
    here = [mark for mark in marks if start - 1e-9 <= mark[0] <= start + length + 1e-9]
    opens = LETTERS[index - 1] if index else ""
    closes = LETTERS[index] if index + 1 < count else ""
    join = f"Lay line {opens} on line {opens} of sheet {index}." if opens else ""
    part = f"Sheet {index + 1} of {count}: from {decimals(start, 2)} mm to "
    part += f"{decimals(start + length, 2)} mm from the nut. {join}"
    named = ", ".join(words.replace("  ", " ") for _, words, _ in here) or "no fret"
    return {
        "title": title if index == 0 else f"Sheet {index + 1}",
        "note": part.strip(),
        "alternative": f"Part of the fretboard at true size, centre line dashed. Lines: {named}.",
        "length_mm": length,
        "opens": opens,
        "closes": closes,
        "marks": [
            {"at_mm": at - start, "words": words, "thick": thick} for at, words, thick in here
        ],
    }
