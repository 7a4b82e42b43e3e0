"""Parts of addresses beyond Flask's own: a date as year-month-day."""

import datetime as dt

from flask import Flask
from werkzeug.routing import BaseConverter, ValidationError


class DateConverter(BaseConverter):
    """2027-02-09 in an address; anything else is no such page."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> dt.date:
        try:
            return dt.date.fromisoformat(value)
        except ValueError as error:
            raise ValidationError from error

    def to_url(self, value: dt.date) -> str:
        return value.isoformat()


def init_app(app: Flask) -> None:
    """Teach the application to read dates in addresses."""
    app.url_map.converters["date"] = DateConverter
