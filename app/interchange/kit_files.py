"""Kit lists and cut lists as files: cut-list files in, CSV, spreadsheets and JSON out."""

import io
import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError

from app.domain.kit.board_cutting import Board, BoardCutting, CutBoard, PartBlank
from app.domain.kit.kit_batches import Batch
from app.domain.kit.kit_quantities import KitLine
from app.domain.papers.kit_papers import KitGrid
from app.domain.quantities import UnreadableValue, parse
from app.interchange.files import BadFile, Mistake
from app.interchange.library_file import LibraryEntry
from app.interchange.tables import Cell, csv_text, neutral

LONGEST_SHEET_NAME = 31
LARGEST_FILE = 1_000_000


def grids_csv(grids: Iterable[KitGrid]) -> str:
    """Tables as one CSV; where there are several, each under its title, a line apart."""
    grids, lines = list(grids), list[Sequence[Cell]]()
    for number, grid in enumerate(grids):
        lines += [()] if number else []
        lines += [(grid.title,)] if len(grids) > 1 else []
        lines += [grid.header, *grid.rows]
    return csv_text(lines[0], lines[1:]) if lines else ""


def xlsx_bytes(grids: Iterable[KitGrid]) -> bytes:
    """Tables as one spreadsheet file, a sheet each; no cell is a formula."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    book.remove(book.worksheets[0])
    taken: set[str] = set()
    for grid in grids:
        sheet = book.create_sheet(_sheet_name(grid.title, taken))
        sheet.append([neutral(name) for name in grid.header])
        for row in grid.rows:
            sheet.append([neutral(cell) for cell in row])
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        sheet.freeze_panes = "A2"
        for place in range(len(grid.header)):
            texts = [grid.header[place], *(row[place] for row in grid.rows)]
            longest = max(len(str(text)) for text in texts if text is not None)
            sheet.column_dimensions[get_column_letter(place + 1)].width = min(60, longest + 2)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _sheet_name(title: str, taken: set[str]) -> str:
    kept = "".join(letter for letter in title if letter.isprintable())
    plain = "".join(" " if letter in "[]:*?/\\" else letter for letter in kept).strip("' ")
    plain = plain[:LONGEST_SHEET_NAME].strip("' ") or "Sheet"
    name = plain
    number = 2
    while name.casefold() in taken:
        name = f"{plain[: LONGEST_SHEET_NAME - 4]} {number}"
        number += 1
    taken.add(name.casefold())
    return name


# --- cut-list files ------------------------------------------------------------------------------


def _written(value: Any) -> Any:
    # TOML and JSON writers put a bare number where we read text; it is in millimetres.
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


Size = Annotated[str, BeforeValidator(_written)]


class CutPart(LibraryEntry):
    """A part at its rough size, for one instrument."""

    label: str = ""
    count: int = Field(1, ge=1, le=2000)
    length: Size
    width: Size = ""
    thickness: Size = ""
    along: Literal["length", "width", "any"] = "length"
    species: str = ""


class RackBoard(LibraryEntry):
    """Boards alike on the rack, free of faults."""

    label: str = ""
    count: int = Field(1, ge=1, le=400)
    length: Size
    width: Size = ""
    thickness: Size = ""
    species: str = ""


class CutFile(LibraryEntry):
    """A cut-list file: parts, boards, kerf; a bare number is in millimetres."""

    parts: list[CutPart]
    boards: list[RackBoard]
    kerf: Size = "3 mm"
    trim: Size = "0 mm"
    instruments: int = Field(1, ge=1, le=2000)


@dataclass(frozen=True, slots=True)
class CutTask:
    """What a cut-list file asks for, in metres."""

    blanks: tuple[PartBlank, ...]
    boards: tuple[Board, ...]
    kerf_m: float
    trim_m: float


def read_cut_list(path: Path) -> CutTask:
    """The parts and boards of a TOML or JSON file.

    Raises BadFile with every mistake.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        sentence = f"cannot be read ({error.strerror}); name a file that exists and is yours"
        raise BadFile([Mistake(str(path), "", sentence)]) from error
    return parse_cut_list(raw, path.name)


def parse_cut_list(raw: bytes, name: str) -> CutTask:
    """The parts and boards of a file's content, JSON if `name` ends so, otherwise TOML.

    Raises BadFile with every mistake.
    """
    if len(raw) > LARGEST_FILE:
        raise BadFile([Mistake(name, "", "is larger than 1 MB; split it")])
    try:
        text = raw.decode("utf-8-sig")
        data = json.loads(text) if name.lower().endswith(".json") else tomllib.loads(text)
        content = CutFile.model_validate(data)
    except UnicodeDecodeError as error:
        raise BadFile([Mistake(name, "", "is not UTF-8 text; save it as UTF-8")]) from error
    except (tomllib.TOMLDecodeError, json.JSONDecodeError) as error:
        raise BadFile(
            [Mistake(name, "", f"is neither TOML nor JSON by its name: {error}")]
        ) from error
    except ValidationError as error:
        mistakes = [
            Mistake(name, ".".join(str(part) for part in item["loc"]), item["msg"])
            for item in error.errors()
        ]
        raise BadFile(mistakes) from error
    return _task(content, name)


def _task(content: CutFile, name: str) -> CutTask:
    reader = _Sizes(name)
    blanks = [
        PartBlank(
            key=f"part-{number}",
            title=part.label or f"part {number}",
            count=part.count * content.instruments,
            length_m=reader.size(f"parts, row {number}, length", part.length),
            width_m=reader.optional(f"parts, row {number}, width", part.width),
            thickness_m=reader.optional(f"parts, row {number}, thickness", part.thickness),
            along=part.along,
            species=part.species,
        )
        for number, part in enumerate(content.parts, 1)
    ]
    boards = [
        Board(
            label=board.label or f"board {number}",
            length_m=reader.size(f"boards, row {number}, length", board.length),
            count=board.count,
            width_m=reader.optional(f"boards, row {number}, width", board.width),
            thickness_m=reader.optional(f"boards, row {number}, thickness", board.thickness),
            species=board.species,
        )
        for number, board in enumerate(content.boards, 1)
    ]
    kerf, trim = reader.size("kerf", content.kerf), reader.size("trim", content.trim)
    if reader.mistakes:
        raise BadFile(reader.mistakes)
    return CutTask(tuple(blanks), tuple(boards), kerf, trim)


class _Sizes:
    """Reads lengths and keeps what could not be read."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.mistakes: list[Mistake] = []

    def size(self, place: str, written: str) -> float:
        try:
            return parse(written, "length", name=place.rpartition(", ")[2].capitalize())
        except UnreadableValue as error:
            self.mistakes.append(Mistake(self.name, place, str(error)))
            return 1.0

    def optional(self, place: str, written: str) -> float | None:
        return self.size(place, written) if written.strip() else None


# --- plain data for JSON -------------------------------------------------------------------------


def kit_data(lines: Iterable[KitLine]) -> list[dict[str, Any]]:
    """The lines of a kit list as plain values."""
    return [
        {
            "part": line.title,
            "key": line.material,
            "unit": line.unit,
            "needed": line.needed,
            "spares": line.spares,
            "used": line.used,
            "on_hand": line.on_hand,
            "short": line.short,
            "order": line.order,
            "needed_on": line.needed_on.isoformat() if line.needed_on else None,
            "order_by": line.order_by.isoformat() if line.order_by else None,
            "cost_low": line.cost_low,
            "cost_high": line.cost_high,
            "currency": line.currency,
            "notes": list(line.sentences),
        }
        for line in lines
    ]


def batch_data(batch: Batch) -> dict[str, Any]:
    """A batch as plain values."""
    return {
        "classes": [
            {
                "section": item.key,
                "build": item.build,
                "version": item.version,
                "teams": list(item.teams),
            }
            for item in batch.classes
        ],
        "instruments": batch.instruments,
        "lines": kit_data(batch.lines),
        "costs": {name: {"low": low, "high": high} for name, (low, high) in batch.costs.items()},
        "adult_minutes": batch.adult_minutes,
        "set_ups": [
            {
                "set_up": row.title,
                "minutes": row.minutes,
                "needed_on": row.needed_on.isoformat() if row.needed_on else None,
                "tasks": [
                    {
                        "section": task.section,
                        "step": task.step,
                        "instruments": task.instruments,
                        "minutes": task.minutes,
                    }
                    for task in row.tasks
                ],
            }
            for row in batch.set_ups
        ],
        "handouts": [
            {
                "section": row.section,
                "part": row.title,
                "quantity": row.quantity,
                "unit": row.unit,
                "needed_on": row.needed_on.isoformat() if row.needed_on else None,
            }
            for row in batch.handouts
        ],
        "notes": list(batch.sentences),
    }


def cutting_data(cutting: BoardCutting) -> dict[str, Any]:
    """A cutting as plain values; lengths in millimetres."""
    titles = {part.mark: part.blank.title for part in cutting.parts}
    return {
        "unit": "mm",
        "status": cutting.status,
        "proof": cutting.proof,
        "boards_used": cutting.boards_used,
        "length_used": _mm(cutting.strip_length_m),
        "least_length": _mm(cutting.least_m),
        "kerf": _mm(cutting.kerf_m),
        "yield": round(cutting.yield_share, 6),
        "parts": [
            {
                "mark": part.mark,
                "part": part.blank.title,
                "count": part.blank.count,
                "length": _mm(part.length_m),
                "width": _mm(part.width_m),
                "reason": part.reason,
            }
            for part in cutting.parts
        ],
        "boards": [_board_data(board, titles) for board in cutting.boards],
        "offcuts": [
            {"count": count, "length": _mm(length), "width": _mm(width)}
            for count, length, width in cutting.offcuts
        ],
        "reasons": list(cutting.reasons),
    }


def _board_data(board: CutBoard, titles: Mapping[str, str]) -> dict[str, Any]:
    return {
        "board": board.label,
        "count": board.count,
        "length": _mm(board.length_m),
        "width": _mm(board.width_m),
        "width_left": _mm(board.width_left_m),
        "strips": [
            {
                "across": _mm(strip.across_m),
                "width": _mm(strip.width_m),
                "layers": strip.layers,
                "offcut": _mm(strip.offcut_m),
                "pieces": [
                    {
                        "part": titles[piece.mark],
                        "start": _mm(piece.start_m),
                        "length": _mm(piece.length_m),
                    }
                    for piece in strip.pieces
                ],
            }
            for strip in board.strips
        ],
    }


def _mm(length_m: float | None) -> float | None:
    return None if length_m is None else round(1000 * length_m, 4)
