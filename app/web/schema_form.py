"""A form that is judged by a schema: each mistake goes beside the field or row it is about."""

from collections.abc import Mapping
from typing import Any

from wtforms import Field

from app.web.fields import Form
from app.web.rows import Rows

Place = tuple[int | str, ...]


class SchemaForm(Form):
    """A form whose mistakes come from outside as places and sentences."""

    def place(self, place: Place, sentence: str, tables: Mapping[str, Rows]) -> None:
        """Show a mistake where it belongs; one that belongs nowhere stands in the summary."""
        if len(place) > 1 and place[0] in tables and isinstance(place[1], int):
            name = str(place[2]) if len(place) > 2 else ""
            self.refuse(tables[str(place[0])].refuse(place[1], name, sentence))
            return
        field = self._field_of(place)
        if field is not None:
            field.errors = [*field.errors, f"{field.label.text}: {sentence}."]
        else:
            words = " ".join([*(str(part) for part in place), sentence])
            self.refuse(f"{words[:1].upper()}{words[1:]}.")

    def _field_of(self, place: Place) -> Field | None:
        words = [str(part) for part in place if part != "hours"]
        for name in ("_".join(words), words[0] if words else "", f"{'_'.join(words)}_typical"):
            if name in self:
                found: Field = self[name]
                return found
        return None

    def sent(self, *without: str) -> dict[str, Any]:
        """What was sent, empty text left out so that the schema's own default or refusal holds."""
        return {
            field.name: field.data
            for field in self
            if field.name not in {"csrf_token", *without} and field.data not in ("", None)
        }
