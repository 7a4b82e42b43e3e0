"""Form fields that explain themselves: help, errors and their links for screen readers."""

from collections.abc import Iterable
from typing import Any

from flask import Flask
from flask_wtf import FlaskForm
from wtforms import Field, SelectMultipleField, StringField, widgets
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]
from wtforms.validators import StopValidation


def init_app(app: Flask) -> None:
    """Let templates describe fields."""
    app.jinja_env.globals["described"] = described


def described(field: Field) -> dict[str, str]:
    """Attributes that tie a field to its help and error text."""
    notes = [f"{field.id}-{kind}" for kind, there in _notes(field) if there]
    attributes = {"aria-describedby": " ".join(notes)} if notes else {}
    if field.errors:
        attributes["aria-invalid"] = "true"
    return attributes


def _notes(field: Field) -> list[tuple[str, bool]]:
    return [("help", bool(field.description)), ("error", bool(field.errors))]


def options(pairs: Iterable[tuple[Any, str]]) -> list[Any]:
    """Choices of a select field from (value, text) pairs."""
    return [SelectChoice(value, text) for value, text in pairs]


class Form(FlaskForm):
    """A form whose whole-form mistakes stand in the summary beside the fields' own."""

    def refuse(self, *sentences: str) -> None:
        """Add sentences that belong to no one field."""
        self.form_errors: list[str] = [*self.form_errors, *sentences]


class GivenField:
    """Refuse an empty field with a sentence that says what to enter."""

    field_flags: dict[str, Any] = {"required": True}

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence

    def __call__(self, _form: FlaskForm, field: Field) -> None:
        if not field.raw_data or not str(field.raw_data[0]).strip():
            raise StopValidation(self.sentence)


class MultiCheckboxField(SelectMultipleField):
    """Several choices as checkboxes, one under the other."""

    widget = widgets.ListWidget(prefix_label=False)
    option_widget = widgets.CheckboxInput()


class KeyField(StringField):
    """A short key used in addresses and on the command line."""

    def process_formdata(self, valuelist: list[str]) -> None:
        super().process_formdata([value.strip().lower() for value in valuelist])
