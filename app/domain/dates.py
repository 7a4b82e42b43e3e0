"""How days are written in sentences, on pages and on paper."""

import datetime as dt


def long_date(day: dt.date) -> str:
    """A date as people say it: "Tuesday 9 February 2027"."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def short_date(day: dt.date) -> str:
    """A date of a term that is known: "Tue 9 Feb"."""
    return f"{day:%a} {day.day} {day:%b}"
