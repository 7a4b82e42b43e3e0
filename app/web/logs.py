"""Logging to standard output, without personal data: endpoint, status, time, user number."""

import logging
import sys
import time

import sqlalchemy as sa
from flask import Flask, Response, g, request

log = logging.getLogger("app.requests")


def init_app(app: Flask) -> None:
    """Log one line per request that changes something or fails."""
    app.before_request(start_clock)
    app.after_request(note)


def configure(level: int = logging.INFO) -> None:
    """Set the format once, for the server and the command line."""
    logging.basicConfig(
        stream=sys.stdout, level=level, format="%(asctime)s %(levelname)s %(name)s %(message)s"
    )
    logging.getLogger("alembic").setLevel(logging.WARNING)


def start_clock() -> None:
    """Remember when the request came."""
    g.started = time.perf_counter()


def note(response: Response) -> Response:
    """One line for a write or an error; addresses and bodies are never logged."""
    if request.method not in ("GET", "HEAD") or response.status_code >= 500:
        user = g.get("user")
        log.info(
            "%s %s -> %s, user %s, %.0f ms",
            request.method,
            request.endpoint,
            response.status_code,
            # By its key: after a failed write the session can no longer load the user.
            sa.inspect(user).identity[0] if user is not None else "-",
            1000 * (time.perf_counter() - g.get("started", time.perf_counter())),
        )
    return response
