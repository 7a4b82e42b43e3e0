"""The database: declarative base, engine set-up, migrations, one session per request."""

import datetime as dt
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import event, orm
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.pool import ConnectionPoolEntry

from app.settings import shipped_folder

MIGRATIONS = shipped_folder("migrations")

SECONDS_BETWEEN_TRIES = 0.5
SECONDS_FOR_AN_UPGRADE = 60.0

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Moment(sa.TypeDecorator[dt.datetime]):
    """A point in time, kept in UTC and always aware, on SQLite as on PostgreSQL."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(
        self, value: dt.datetime | None, dialect: sa.Dialect
    ) -> dt.datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs a time zone")
        value = value.astimezone(dt.UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(
        self,
        value: dt.datetime | None,
        dialect: sa.Dialect,  # noqa: ARG002 - SQLAlchemy's signature
    ) -> dt.datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


class Base(orm.DeclarativeBase):
    """All tables. Singular names, integer keys, named constraints."""

    metadata = sa.MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        str: sa.Text(),
        dt.datetime: Moment(),
        list[str]: sa.JSON(),
        list[dict[str, Any]]: sa.JSON(),
        dict[str, Any]: sa.JSON(),
    }

    id: orm.Mapped[int] = orm.mapped_column(primary_key=True, sort_order=-1)


def make_engine(url: str) -> Engine:
    """Engine for `url`; SQLite gets WAL, foreign keys and real transactions."""
    # Parameters hold student codes and names: no error may carry them into a log.
    engine = sa.create_engine(url, pool_pre_ping=not url.startswith("sqlite"), hide_parameters=True)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _entry: ConnectionPoolEntry) -> None:
    # The driver's own transactions would leak savepoints; BEGIN is ours (see _begin_sqlite).
    connection.isolation_level = None
    for pragma in ("foreign_keys = ON", "busy_timeout = 5000", "synchronous = NORMAL"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    # A writer takes the lock before it reads: read-then-write under plain BEGIN fails when two
    # requests meet. A reader says so through the execution option and never waits for a writer.
    reading = connection.get_execution_options().get("reading", False)
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")


def use_wal(engine: Engine) -> None:
    """Let readers and one writer work at once on an embedded database."""
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            raw = connection.connection.driver_connection
            if raw is not None:
                raw.rollback()
                raw.execute("PRAGMA journal_mode = WAL")


@contextmanager
def alone(url: str, purpose: str, *, seconds: float) -> Iterator[None]:
    """Hold a right that one process of all has at a time, for this database and purpose.

    It goes with the process, however that ends. Raises TimeoutError where another one still has
    it after `seconds`.
    """
    at = sa.make_url(url)
    embedded = at.get_backend_name() == "sqlite"
    # The lock of a small file of its own: the database itself stays free for everybody.
    lock = at.set(database=f"{at.database}.{purpose}-lock") if embedded else at
    engine = sa.create_engine(lock, poolclass=sa.NullPool, isolation_level="AUTOCOMMIT")
    deadline = time.monotonic() + seconds
    with engine.connect() as connection:
        while not _take(connection, purpose):
            if time.monotonic() > deadline:
                raise TimeoutError(purpose)
            time.sleep(SECONDS_BETWEEN_TRIES)
        yield


def _take(connection: Connection, purpose: str) -> bool:
    if connection.dialect.name != "sqlite":
        take = sa.text("SELECT pg_try_advisory_lock(hashtext(:what))")
        return bool(connection.scalar(take, {"what": f"stringcourse {purpose}"}))
    try:
        connection.exec_driver_sql("PRAGMA busy_timeout = 0")
        connection.exec_driver_sql("BEGIN EXCLUSIVE")
    except sa.exc.OperationalError as error:
        if "locked" not in str(error.orig):
            raise
        return False
    return True


class HoldingSession(orm.Session):
    """A session whose objects live until it has let go of them all.

    CPython 3.11 may collect garbage while an attribute is stored. Letting go of an object stores
    one on its state; if the object itself was garbage, its weak reference stores another on the
    same state at that moment, and the interpreter crashes later. 3.12 collects between
    instructions only. Drop this class when 3.11 is no longer supported.
    """

    def expunge_all(self) -> None:
        """Let go of every object; closing the session does this too."""
        held = list(self)
        super().expunge_all()
        del held


def session_factory(engine: Engine) -> orm.sessionmaker[orm.Session]:
    """Sessions that keep their objects readable after the commit."""
    return orm.sessionmaker(engine, expire_on_commit=False, class_=HoldingSession)


def alembic_config(url: str) -> Any:
    """Alembic's configuration for `url`, independent of the working directory."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    config.attributes["url"] = url
    return config


def current_revision(engine: Engine) -> str | None:
    """Revision the database stands at; None for an empty one."""
    from alembic.migration import MigrationContext

    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def newest_revision(url: str) -> str | None:
    """Revision the code expects."""
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(alembic_config(url)).get_current_head()


def known_revisions(url: str) -> frozenset[str]:
    """Every revision this code can read or bring up to date."""
    from alembic.script import ScriptDirectory

    found = ScriptDirectory.from_config(alembic_config(url)).walk_revisions()
    return frozenset(script.revision for script in found)


def upgrade(url: str) -> None:
    """Bring the schema to the newest revision. Data stays."""
    from alembic import command

    command.upgrade(alembic_config(url), "head")
