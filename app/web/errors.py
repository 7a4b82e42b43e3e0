"""Error pages that need neither database nor session."""

import errno
import logging

import sqlalchemy.exc
from flask import Flask, current_app, make_response, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException, MethodNotAllowed

from app.store import Missing
from app.store.faults import Fault, fault_of
from app.web import limits
from app.web.request_session import READING_METHODS

log = logging.getLogger(__name__)

WORDS = {
    400: ("That request could not be read", "Go back, reload the page and try again."),
    401: ("Please sign in first", "Your sign-in has ended. Sign in and repeat the last action."),
    403: ("That is not open to you", "Ask the administrator of your school if you need it."),
    404: (
        "There is nothing at this address",
        "It may have been removed, or it belongs to somebody else. Start from the first page.",
    ),
    405: ("That address takes another kind of request", "Go back and use the button on the page."),
    413: (
        "That is too large",
        "Send a file of at most {largest}; text in a field may have 2 MB, a longer one is a file.",
    ),
    422: ("That could not be done", "Change what the message names and try again."),
    429: ("Too many tries", "Wait a minute, then try again."),
    503: ("The server cannot answer just now", "Try again in a moment."),
}


def init_app(app: Flask) -> None:
    """Register the handlers."""
    app.register_error_handler(HTTPException, show_http_error)
    app.register_error_handler(Missing, show_missing)
    app.register_error_handler(CSRFError, show_stale_form)
    app.register_error_handler(sqlalchemy.exc.DBAPIError, show_database_error)
    app.register_error_handler(sqlalchemy.exc.TimeoutError, show_busy)
    app.register_error_handler(Exception, show_our_error)


def page(code: int, title: str, advice: str) -> ResponseReturnValue:
    """A self-contained page: no user, no menu, no queries."""
    if request.path.endswith(".json") or request.path.startswith("/api/"):
        return {"error": title, "advice": advice}, code
    return render_template("errors/error.html", code=code, title=title, advice=advice), code


def show_http_error(error: HTTPException) -> ResponseReturnValue:
    """A page for what the web server refuses."""
    code = error.code or 500
    title, advice = WORDS.get(code, (error.name, "Go back and try again."))
    answer = make_response(page(code, title, advice.format(largest=limits.largest_file())))
    if isinstance(error, MethodNotAllowed) and error.valid_methods is not None:
        answer.allow.update(error.valid_methods)  # RFC 9110, 15.5.6: a 405 names what is allowed
    return answer


def show_missing(_error: Missing) -> ResponseReturnValue:
    """A thing that does not exist, or is not yours."""
    return page(404, *WORDS[404])


def show_stale_form(_error: CSRFError) -> ResponseReturnValue:
    """A form that was open too long."""
    return page(
        400,
        "This form was open too long",
        "Go back (what you typed is still there), reload the page in another tab and send it again.",
    )


def show_database_error(error: sqlalchemy.exc.DBAPIError) -> ResponseReturnValue:
    """A database that is busy, held, damaged, full, read-only, away or of another version."""
    fault = fault_of(error, current_app.extensions["engine"])
    if fault is None:
        return show_our_error(error)
    log.error("database %s: %s", fault.name.lower(), error.orig)
    return fault_page(fault)


def show_busy(error: sqlalchemy.exc.TimeoutError) -> ResponseReturnValue:
    """No connection came free in time."""
    log.error("database busy: %s", type(error).__name__)
    return fault_page(Fault.BUSY)


def fault_page(fault: Fault) -> ResponseReturnValue:
    """A fault in words; to who sent something, also what became of it."""
    advice = fault.value.advice
    if request.method not in READING_METHODS:
        advice = (
            f"Nothing of this entry was saved; go back (what you typed is still there). {advice}"
        )
    return page(503, fault.value.title, advice)


def show_our_error(error: Exception) -> ResponseReturnValue:
    """A mistake of ours, logged without personal data."""
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        log.error("disk full at %s", request.endpoint)
        return fault_page(Fault.FULL)
    log.error("unexpected %s at %s", type(error).__name__, request.endpoint, exc_info=error)
    return page(
        500,
        "Something went wrong on our side",
        "Nothing you had saved is lost. Go back and try again; if it happens again, tell the "
        "administrator the time it happened.",
    )
