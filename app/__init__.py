"""Stringcourse: a whole class builds a stringed instrument, and the build teaches."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Blueprint, Flask

    from app.settings import Settings


def create_app(settings: "Settings") -> "Flask":
    """The application: a contents page. Imports are late so that `import app.domain` is light."""
    from flask import Flask
    from flask_wtf.csrf import CSRFProtect
    from jinja2 import StrictUndefined
    from markupsafe import Markup

    from app.db import make_engine
    from app.print.mathml import formula_mathml
    from app.web import (
        access,
        addresses,
        clock,
        errors,
        fields,
        formatters,
        headers,
        limits,
        logs,
        request_session,
    )

    app = Flask(__name__)
    app.config.update(
        SECRET_KEY=settings.secret_key,
        SESSION_COOKIE_SECURE=settings.secure_cookies,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        # A form may stay open for a long class: its token lasts as long as the sign-in does.
        WTF_CSRF_TIME_LIMIT=None,
        STRINGCOURSE=settings,
    )
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    # Only the catalogue's own formulas reach this filter, and it returns nothing but <math>.
    app.jinja_env.filters["mathml"] = lambda formula, **how: Markup(formula_mathml(formula, **how))  # noqa: S704

    request_session.init_app(app, make_engine(settings.database_url))
    CSRFProtect(app)
    for part in (addresses, logs, access, limits, headers, errors, formatters, fields, clock):
        part.init_app(app)
    for room in _rooms():
        app.register_blueprint(room)
    return app


def _rooms() -> "Iterator[Blueprint]":
    """One room per thing a user does."""
    from app import (
        accounts,
        builds,
        calculators,
        classroom,
        concepts,
        coverage,
        kits,
        permits,
        planning,
        sections,
        standards,
        worksheets,
    )

    for room in (accounts, sections, builds, concepts, calculators, standards, planning):
        yield room.bp
    for room in (worksheets, classroom, permits, kits, coverage):
        yield room.bp
