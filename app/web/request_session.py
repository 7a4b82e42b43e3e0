"""One database session per request: reading requests read, writing ones commit once."""

from typing import cast

from flask import Flask, g, request
from sqlalchemy import event
from sqlalchemy.engine import Engine
from sqlalchemy.orm import Session, UOWTransaction, sessionmaker

from app.db import HoldingSession, session_factory

READING_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


def init_app(app: Flask, engine: Engine) -> None:
    """Open a session when a request first asks for one and close it afterwards."""
    app.extensions["reading"] = sessionmaker(
        engine.execution_options(reading=True), expire_on_commit=False, class_=ReadingSession
    )
    app.extensions["writing"] = session_factory(engine)
    app.extensions["engine"] = engine
    app.teardown_appcontext(close)


class ReadingSession(HoldingSession):
    """A session of a GET request, which never writes."""


@event.listens_for(ReadingSession, "before_flush")
def _refuse_writing(session: Session, _context: UOWTransaction, _instances: object) -> None:
    if session.new or session.dirty or session.deleted:
        raise RuntimeError("a GET request tried to write to the database")


def db() -> Session:
    """The session of this request."""
    if "db" not in g:
        from flask import current_app

        kind = "reading" if request.method in READING_METHODS else "writing"
        g.db = current_app.extensions[kind]()
    return cast("Session", g.db)


def close(_error: BaseException | None = None) -> None:
    """Roll back what was not committed and give the connection back."""
    session = g.pop("db", None)
    if session is not None:
        session.close()
