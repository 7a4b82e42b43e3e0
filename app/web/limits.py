"""How often a stranger may try, and how much one request may bring."""

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

from flask import Flask, current_app, request, session
from flask_limiter import Limiter
from flask_limiter.util import get_remote_address

P = ParamSpec("P")
R = TypeVar("R")

limiter = Limiter(get_remote_address, storage_uri="memory://", default_limits=[])

SIGN_IN = "10 per minute; 60 per hour"
PUBLIC = "240 per minute"

MEGABYTE = 1024 * 1024
LARGEST_BYTES = 16 * MEGABYTE
LARGEST_TYPED_BYTES = 2 * MEGABYTE
# A server puts this much aside on disk, so that the application can refuse it in words.
LARGEST_BODY_BYTES = 256 * MEGABYTE


def init_app(app: Flask) -> None:
    """Count tries per address, in memory; keep requests to their size."""
    limiter.init_app(app)
    app.config.update(MAX_CONTENT_LENGTH=LARGEST_BYTES, MAX_FORM_MEMORY_SIZE=LARGEST_TYPED_BYTES)
    # Before anything reads the form, and so before the check of its token.
    app.url_value_preprocessor(_make_room)


def takes_files_of(largest_bytes: int) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let a view take larger files than the rest of the application, from who is signed in."""

    def mark(view: Callable[P, R]) -> Callable[P, R]:
        view.largest_bytes = largest_bytes  # type: ignore[attr-defined]
        return view

    return mark


def _make_room(endpoint: str | None, _values: dict[str, Any] | None) -> None:
    view = current_app.view_functions.get(endpoint or "")
    largest = getattr(view, "largest_bytes", None)
    if largest is not None and "user_id" in session:
        # The file, and the fields that come with it.
        request.max_content_length = largest + LARGEST_TYPED_BYTES


def largest_file() -> str:
    """How large a file this request might have brought, in words."""
    view = current_app.view_functions.get(request.endpoint or "")
    return f"{getattr(view, 'largest_bytes', LARGEST_BYTES) // MEGABYTE} MB"
