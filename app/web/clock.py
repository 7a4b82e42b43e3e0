"""What day it is: the machine's, or the sample school's own."""

import datetime as dt

from flask import current_app


def today_here() -> dt.date:
    """The school's calendar day."""
    settings = current_app.config["STRINGCOURSE"]
    return settings.today or dt.date.today()  # noqa: DTZ011 - local by intent


def now_here() -> dt.datetime:
    """The moment for records, in UTC; in the demo on the sample school's day."""
    now = dt.datetime.now(dt.UTC)
    settings = current_app.config["STRINGCOURSE"]
    return dt.datetime.combine(settings.today, now.timetz()) if settings.today else now
