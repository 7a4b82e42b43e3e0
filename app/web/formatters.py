"""How dates, numbers and names of things are written on pages."""

import datetime as dt

from flask import Flask

from app.domain.bands import BANDS
from app.domain.cautions import HAZARD, HAZARDOUS, PROTECTION, SUPERVISION
from app.domain.dates import long_date, short_date
from app.domain.papers.document import DEFERRAL


def init_app(app: Flask) -> None:
    """Make the formatters known to templates."""
    app.jinja_env.filters.update(
        day=long_date,
        day_short=short_date,
        clock=clock,
        band=BANDS.__getitem__,
        supervision=SUPERVISION.__getitem__,
        hazard=HAZARD.__getitem__,
        protection=PROTECTION.__getitem__,
        plural=plural,
        number=number,
        share=share,
    )
    app.jinja_env.globals.update(deferral=DEFERRAL, hazardous=HAZARDOUS)


def clock(time: dt.time | dt.datetime) -> str:
    """10:20."""
    return f"{time:%H:%M}"


def plural(count: int, one: str, many: str = "") -> str:
    """1 meeting, 84 meetings."""
    return f"{number(count)} {one if count == 1 else many or one + 's'}"


def number(value: float, digits: int = 0) -> str:
    """3,654, with a real minus sign."""
    return f"{value:,.{digits}f}".replace("-", "\N{MINUS SIGN}")


def share(value: float) -> str:
    """93 %, with a thin space."""
    return f"{100 * value:.0f}\N{NARROW NO-BREAK SPACE}%"
