"""What day it is: the machine's, or the sample school's own."""

import datetime as dt

from flask import Flask, current_app, flash, request

from app.store.faults import clock_trouble


def today_here() -> dt.date:
    """The school's calendar day."""
    settings = current_app.config["STRINGCOURSE"]
    return settings.today or dt.date.today()  # noqa: DTZ011 - local by intent


def now_here() -> dt.datetime:
    """The moment for records, in UTC; in the demo on the sample school's day."""
    now = dt.datetime.now(dt.UTC)
    settings = current_app.config["STRINGCOURSE"]
    return dt.datetime.combine(settings.today, now.timetz()) if settings.today else now


def init_app(app: Flask) -> None:
    """Warn whoever records something while this computer's clock is behind its database."""
    app.before_request(_warn)


def _warn() -> None:
    if request.method == "POST":
        trouble = clock_trouble(current_app.extensions["engine"], dt.datetime.now(dt.UTC))
        if trouble:
            flash(trouble, "refused")
