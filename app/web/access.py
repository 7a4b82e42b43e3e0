"""Closed by default: who is signed in, and which pages are open to everyone."""

import datetime as dt
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar, cast

from flask import Flask, abort, current_app, g, redirect, request, session, url_for
from flask.typing import ResponseReturnValue

from app.models import Role, Section, User
from app.store import accounts
from app.web.request_session import db

P = ParamSpec("P")
R = TypeVar("R")

SIGNED_IN_FOR = dt.timedelta(hours=10)


def init_app(app: Flask) -> None:
    """Turn strangers away from every route that does not say it is public."""
    app.permanent_session_lifetime = SIGNED_IN_FOR
    app.before_request(turn_strangers_away)
    app.context_processor(lambda: {"user": g.get("user"), "may_see_marks": may_see_marks})


def public(view: Callable[P, R]) -> Callable[P, R]:
    """Open a view to people who are not signed in."""
    view.is_public = True  # type: ignore[attr-defined]
    return view


def for_roles(*roles: Role) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Keep a view for these roles and administrators; to others it does not exist."""

    def keep(view: Callable[P, R]) -> Callable[P, R]:
        @wraps(view)
        def kept(*args: P.args, **kwargs: P.kwargs) -> R:
            if me().role not in (*roles, Role.ADMINISTRATOR):
                abort(404)
            return view(*args, **kwargs)

        kept.roles = roles  # type: ignore[attr-defined]
        return kept

    return keep


def is_public(endpoint: str | None) -> bool:
    """Whether the endpoint's view is marked public; unknown addresses are (they give 404)."""
    if endpoint is None or endpoint == "static":
        return True
    view = current_app.view_functions.get(endpoint)
    return bool(getattr(view, "is_public", False))


def turn_strangers_away() -> ResponseReturnValue | None:
    """Load the signed-in user, or lead to the sign-in page (first run: to the first page)."""
    if request.endpoint == "static":
        return None
    user_id = session.get("user_id")
    g.user = accounts.load_user(db(), user_id) if user_id is not None else None
    if g.user is not None or is_public(request.endpoint):
        return None
    if request.method != "GET":
        abort(401)
    if not accounts.has_users(db()):
        return redirect(url_for("accounts.start"))
    return redirect(url_for("accounts.sign_in", next=request.full_path.rstrip("?")))


def me() -> User:
    """The signed-in user of this request."""
    user = g.get("user")
    if user is None:
        abort(401)
    return cast("User", user)


def may_see_marks(section: Section) -> bool:
    """Whether marks and evidence of single students are open to the signed-in user.

    They are to the section's teacher, the department head and administrators. A workshop lead
    needs to know who is signed off for the stations, and sees sign-offs only.
    """
    return me().role is not Role.WORKSHOP_LEAD or section.teacher_id == me().id


def begin(user: User) -> None:
    """Sign `user` in, in a fresh session."""
    session.clear()
    session["user_id"] = user.id
    session.permanent = True


def end() -> None:
    """Sign out."""
    session.clear()
