"""Boards on a room's rack, and the wooden parts of a build at the size they are cut."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.calculators.cut_list import MOST_BOARDS
from app.domain.kit import board_cutting, kit_quantities
from app.domain.quantities import parse
from app.models import BoardStock, Build, Room
from app.store.missing import Missing

SMALLEST_SIZE_M, LARGEST_SIZE_M = 0.001, 20.0


def list_boards(session: Session, room: Room) -> list[BoardStock]:
    """The boards on the room's rack, as they were entered."""
    query = sa.select(BoardStock).where(BoardStock.room_id == room.id).order_by(BoardStock.id)
    return list(session.scalars(query))


def add_boards(
    session: Session,
    room: Room,
    *,
    label: str,
    count: int,
    length: str,
    width: str = "",
    thickness: str = "",
    species: str = "",
) -> BoardStock:
    """Put boards alike on the rack; sizes as written.

    Raises ValueError with a sentence for a size that cannot be read or a count that cannot be.
    """
    if not 1 <= count <= MOST_BOARDS:
        raise ValueError(f"The number of boards must be 1 to {MOST_BOARDS}.")
    for name, written in (("Length", length), ("Width", width), ("Thickness", thickness)):
        if written or name == "Length":
            size = parse(written, "length", name=name)
            if not SMALLEST_SIZE_M <= size <= LARGEST_SIZE_M:
                raise ValueError(f"{name}: enter a size between 1 mm and 20 m.")
    row = BoardStock(
        room_id=room.id,
        label=label.strip()[:60] or "Board",
        count=count,
        length=length.strip(),
        width=width.strip(),
        thickness=thickness.strip(),
        species=species.strip()[:60],
    )
    session.add(row)
    session.flush()
    return row


def remove_boards(session: Session, room: Room, board_id: int) -> None:
    """Take boards off the rack.

    Raises Missing.
    """
    row = session.get(BoardStock, board_id)
    if row is None or row.room_id != room.id:
        raise Missing(f"boards {board_id}")
    session.delete(row)
    session.flush()


def boards_of(rows: Sequence[BoardStock]) -> list[board_cutting.Board]:
    """Boards on the rack as the cutting's values."""
    return [
        board_cutting.Board(
            label=row.label,
            length_m=parse(row.length, "length"),
            count=row.count,
            width_m=parse(row.width, "length") if row.width else None,
            thickness_m=parse(row.thickness, "length") if row.thickness else None,
            species=row.species,
        )
        for row in rows
    ]


def blanks_of(
    build: Build, kit: kit_quantities.KitList, instruments: int
) -> list[board_cutting.PartBlank]:
    """The build's wooden parts at rough size: for the instruments still to come and their spares."""
    lines = {line.material: line for line in kit.lines}
    found = []
    for item in build.blanks:
        line = lines.get(item["material"] or "")
        count = instruments
        if line is not None:
            spares = round(line.spares_to_come / line.each) if line.each else 0
            count = line.places + spares
        if count:
            found.append(rough_blank(item, item["count"] * count))
    return found


def rough_blank(item: Mapping[str, Any], count: int) -> board_cutting.PartBlank:
    """A wooden part of a build at its rough size: finished, and what is added for machining."""

    def rough(name: str) -> float:
        return parse(item[name], "length") + parse(item[f"{name}_allowance"], "length")

    return board_cutting.PartBlank(
        key=item["key"],
        title=item["title"],
        count=count,
        length_m=rough("length"),
        width_m=rough("width"),
        thickness_m=rough("thickness"),
        along=item["along"],
        species=item["species"],
    )


def merged_blanks(
    groups: Iterable[Sequence[board_cutting.PartBlank]],
) -> list[board_cutting.PartBlank]:
    """Parts of several classes: those alike counted together."""
    counts: Counter[board_cutting.PartBlank] = Counter()
    for group in groups:
        for blank in group:
            counts[replace(blank, count=1)] += blank.count
    return [replace(blank, count=count) for blank, count in counts.items()]
