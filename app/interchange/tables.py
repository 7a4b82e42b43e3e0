"""Tables that leave the house as CSV or as a spreadsheet: no cell is ever a formula."""

import csv
import io
import re
from collections.abc import Iterable, Sequence

Cell = str | float | int | None
# A spreadsheet reads a text that starts so as a formula, whoever wrote it.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\N{FULLWIDTH EQUALS SIGN}")
_READING = re.compile(r"[-+]\d[\d.,]* [A-Za-z%°Ωµ]{1,8}")  # as in "-0.02 mm": nothing to work out


def neutral(cell: Cell) -> Cell:
    """A cell, marked as text where a spreadsheet would take it for a formula."""
    if not isinstance(cell, str):
        return cell
    kept = "".join(letter for letter in cell if letter.isprintable() or letter in "\n\t\r")
    formula = kept.startswith(FORMULA_STARTS) and not _READING.fullmatch(kept)
    return f"'{kept}" if formula else kept


def unmarked(text: str) -> str:
    """A text as it was before `neutral` marked it."""
    return text[1:] if text[:1] == "'" and text[1:].startswith(FORMULA_STARTS) else text


def csv_text(header: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> str:
    """A table as CSV; numbers to ten significant figures."""
    out = io.StringIO()
    writer = csv.writer(out)
    for row in (header, *rows):
        writer.writerow([_written(neutral(cell)) for cell in row])
    return out.getvalue()


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    return cell if isinstance(cell, str) else f"{cell:.10g}"
