"""Where things stand in the plan's pictures. Units are SVG user units (1 = 1 px at 100 %)."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GridCell:
    """A team's meeting: which phase (from 1) it works on, and whether it is taught."""

    column: int
    phase: int
    taught: bool


@dataclass(frozen=True, slots=True)
class TimelineRow:
    team: str
    cells: tuple[GridCell, ...]


@dataclass(frozen=True, slots=True)
class LoadRow:
    """A station's load by week, 1 = every place taken in every work minute."""

    title: str
    places: int
    weeks: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PictureGrid:
    """Sizes of a picture with rows down and columns across."""

    rows: int
    columns: int
    left: float = 52
    top: float = 34
    column_width: float = 13
    row_height: float = 18

    @property
    def width(self) -> float:
        return self.left + self.columns * self.column_width + 1

    @property
    def height(self) -> float:
        return self.top + self.rows * self.row_height + 1

    def x(self, column: float) -> float:
        """Left edge of a column."""
        return self.left + column * self.column_width

    def y(self, row: float) -> float:
        """Upper edge of a row."""
        return self.top + row * self.row_height


def runs(cells: Sequence[GridCell]) -> list[tuple[int, int, int, bool]]:
    """Neighbouring cells of one phase and state joined: (first column, columns, phase, taught)."""
    joined: list[tuple[int, int, int, bool]] = []
    for cell in sorted(cells, key=lambda item: item.column):
        if joined:
            first, length, phase, taught = joined[-1]
            if (phase, taught, first + length) == (cell.phase, cell.taught, cell.column):
                joined[-1] = (first, length + 1, phase, taught)
                continue
        joined.append((cell.column, 1, cell.phase, cell.taught))
    return joined
