"""Tables of a form whose rows can be filled, added and removed, with and without JavaScript."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class RowsColumn:
    """One cell of each row. `size` is "short", "" or "long" (a text area)."""

    name: str
    label: str
    choices: Sequence[tuple[str, str]] = ()
    size: str = ""


@dataclass
class Rows:
    """A table of a form. Filled rows come back; empty ones and removed ones do not."""

    name: str
    title: str
    columns: tuple[RowsColumn, ...]
    help: str = ""
    spare: int = 2
    values: list[dict[str, str]] = field(default_factory=list)
    wrong: dict[int, list[str]] = field(default_factory=dict)

    def fill(self, rows: Sequence[Mapping[str, Any]]) -> "Rows":
        """Show these rows."""
        self.values = [
            {column.name: _text(row.get(column.name)) for column in self.columns} for row in rows
        ]
        return self

    def read(self, form: Mapping[str, str]) -> "Rows":
        """Take the rows that were sent."""
        pattern = re.compile(rf"{re.escape(self.name)}-(\d+)-")
        numbers = sorted({int(match[1]) for name in form if (match := pattern.match(name))})
        self.values = []
        for number in numbers:
            row = {
                column.name: form.get(f"{self.name}-{number}-{column.name}", "").strip()
                for column in self.columns
            }
            if any(row.values()) and not form.get(f"{self.name}-{number}-remove"):
                self.values.append(row)
        return self

    def entries(self) -> list[dict[str, str]]:
        """The rows as values of the schema: empty cells are left out, so defaults hold."""
        return [{name: text for name, text in row.items() if text} for row in self.values]

    def refuse(self, number: int, name: str, sentence: str) -> str:
        """Mark a row as wrong; the sentence for the summary comes back."""
        label = next((c.label for c in self.columns if c.name == name), "")
        words = f"{label}: {sentence}." if label else f"{sentence}."
        self.wrong.setdefault(number, []).append(words)
        return f"{self.title}, row {number + 1}: {words}"

    def shown(self) -> list[dict[str, str]]:
        """The rows and some empty ones to fill."""
        return [*self.values, *({c.name: "" for c in self.columns} for _ in range(self.spare))]


def _text(value: Any) -> str:
    if value is None:
        return ""
    return str(int(value) if isinstance(value, float) and value.is_integer() else value)
