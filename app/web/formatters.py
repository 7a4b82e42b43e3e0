"""How dates, numbers and names of things are written on pages."""

import datetime as dt

from flask import Flask

BAND_TITLES = {
    "3-5": "Grades 3–5",
    "6-8": "Grades 6–8",
    "9-12": "Grades 9–12",
    "college": "First-year college",
}
SUPERVISION_TITLES = {
    "in-room": "adult in the room",
    "check-in": "adult checks the set-up",
    "line-of-sight": "adult in line of sight",
    "at-the-machine": "adult at the machine",
    "adult-only": "adult operates",
}
HAZARD_TITLES = {
    "desk": "desk work",
    "hand": "hand tools and adhesives",
    "edge": "edge tools and stored energy",
    "machine": "guarded power machine",
    "severe-machine": "high-severity power machine",
    "heat": "heat",
    "chemical": "finishes and chemicals",
}
PROTECTION_TITLES = {
    "eyes": "eye protection marked ANSI/ISEA Z87.1",
    "hearing": "hearing protection at or above 85 dBA",
    "dust": "extraction on; filtering mask as the school rules",
    "gloves": "nitrile gloves (never at rotating machines)",
    "heat-gloves": "heat-resistant gloves",
}
HAZARDOUS = frozenset({"edge", "machine", "severe-machine", "heat", "chemical"})
DEFERRAL = "Local codes, the school’s own rules, the tool’s own manual and qualified supervision come first."


def init_app(app: Flask) -> None:
    """Make the formatters known to templates."""
    app.jinja_env.filters.update(
        day=day,
        day_short=day_short,
        clock=clock,
        band=BAND_TITLES.__getitem__,
        supervision=SUPERVISION_TITLES.__getitem__,
        hazard=HAZARD_TITLES.__getitem__,
        protection=PROTECTION_TITLES.__getitem__,
        plural=plural,
        number=number,
        share=share,
    )
    app.jinja_env.globals.update(deferral=DEFERRAL, hazardous=HAZARDOUS)


def day(date: dt.date) -> str:
    """Tuesday 9 February 2027."""
    return f"{date:%A} {date.day} {date:%B} {date.year}"


def day_short(date: dt.date) -> str:
    """Tue 9 Feb."""
    return f"{date:%a} {date.day} {date:%b}"


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
