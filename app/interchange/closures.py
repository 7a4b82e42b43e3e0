"""Days without school: a country's public holidays, or a school's own calendar file."""

import datetime as dt

from app.domain.scheduling.calendar import DayException


def public_holidays(country: str, first: dt.date, last: dt.date) -> tuple[DayException, ...]:
    """Public holidays of a country on weekdays between two dates, both included.

    Raises ValueError with a sentence if the country code is unknown.
    """
    import holidays

    years = range(first.year, last.year + 1)
    try:
        found = holidays.country_holidays(country, years=years)
    except NotImplementedError as error:
        raise ValueError(
            f"There is no list of public holidays for {country}; use a two-letter country code "
            "such as US, or enter the days yourself."
        ) from error
    return tuple(
        DayException(date, label=found[date], closed=True)
        for date in sorted(found)
        if first <= date <= last and date.weekday() < 5
    )
