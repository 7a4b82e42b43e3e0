"""What is wrong with a database that does not answer as it should, in a true sentence each."""

import datetime as dt
import enum
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from app import db


@dataclass(frozen=True)
class Words:
    """A fault in words: what it is, and what to do about it."""

    title: str
    advice: str


class Fault(enum.Enum):
    """What can be wrong between the program and its database."""

    BUSY = Words(
        "The database is busy",
        "Others are writing at this moment and did not finish in time. Try again in a moment.",
    )
    LOCKED = Words(
        "Another program holds the database",
        "A copying, checking or repairing program has it for itself. End that program or wait for "
        "it, then try again; `stringcourse backup` copies without holding it.",
    )
    CORRUPT = Words(
        "The database is damaged",
        "Stop the server now and keep the damaged file as it is. Restore the last good backup "
        "into an empty folder with `stringcourse restore`; what was saved after that backup "
        "may be lost.",
    )
    READ_ONLY = Words(
        "The database cannot be written",
        "It can be read only, or not be opened. Check that its file and folder belong to the user "
        "the server runs as, and that the disk is not mounted read-only.",
    )
    FULL = Words(
        "The disk of the database is full",
        "What was saved before is kept. Free some space on that disk, then try again.",
    )
    DISK = Words(
        "The disk of the database does not answer as it should",
        "Take a backup to another disk if you still can, and have the disk looked at.",
    )
    AWAY = Words(
        "The database does not answer",
        "Check that the database server runs and that STRINGCOURSE_DATABASE names it.",
    )
    VERSION = Words(
        "The database and this program are of different versions",
        "Stop the server, run `stringcourse upgrade` with the newest program, and start it again.",
    )


# Primary result codes of SQLite (https://www.sqlite.org/rescode.html).
_SQLITE = {
    3: Fault.READ_ONLY,  # PERM
    5: Fault.BUSY,
    6: Fault.BUSY,  # LOCKED: within one process
    8: Fault.READ_ONLY,
    10: Fault.DISK,  # IOERR
    11: Fault.CORRUPT,
    13: Fault.FULL,
    14: Fault.READ_ONLY,  # CANTOPEN
    26: Fault.CORRUPT,  # NOTADB
}
# Classes and codes of PostgreSQL (its manual, appendix "PostgreSQL Error Codes").
_POSTGRESQL = {
    "25006": Fault.READ_ONLY,
    "40001": Fault.BUSY,
    "40P01": Fault.BUSY,
    "42703": Fault.VERSION,  # undefined column
    "42P01": Fault.VERSION,  # undefined table
    "53100": Fault.FULL,
    "53300": Fault.BUSY,  # too many connections
    "55P03": Fault.BUSY,  # lock not available
    "57014": Fault.BUSY,  # statement timeout
    "58030": Fault.DISK,
    "XX001": Fault.CORRUPT,
    "XX002": Fault.CORRUPT,
}


def fault_of(error: sa.exc.DBAPIError, engine: Engine | None = None) -> Fault | None:
    """Which fault an error of the database is; None where it is no fault of the database.

    With the engine it is looked up whether a lock keeps readers out too, and which version the
    tables have.
    """
    code = getattr(error.orig, "sqlite_errorcode", None)
    if code is not None:
        fault = _SQLITE.get(code & 0xFF)
        if fault is None and engine is not None and _is_another_version(engine):
            return Fault.VERSION
        return Fault.LOCKED if fault is Fault.BUSY and _is_held(engine) else fault
    state = getattr(error.orig, "sqlstate", None)
    if state is None:
        return Fault.AWAY if isinstance(error, sa.exc.OperationalError) else None
    fault = _POSTGRESQL.get(state)
    if fault is Fault.VERSION and engine is not None and not _is_another_version(engine):
        return None
    return Fault.AWAY if fault is None and state.startswith(("08", "57P")) else fault


def _is_held(engine: Engine | None) -> bool:
    """Whether even readers are kept out; a writer at work keeps out writers only."""
    if engine is None:
        return False
    try:
        with engine.execution_options(reading=True).connect() as connection:
            connection.exec_driver_sql("PRAGMA busy_timeout = 0")
            try:
                connection.exec_driver_sql("SELECT 1 FROM sqlite_master")
            finally:
                connection.invalidate()
    except sa.exc.OperationalError:
        return True
    return False


def _is_another_version(engine: Engine) -> bool:
    try:
        return db.current_revision(engine) != db.newest_revision(str(engine.url))
    except sa.exc.DBAPIError:
        return False


def version_trouble(engine: Engine) -> str:
    """What is wrong with the version of a database, and what to do; empty where nothing is.

    A database without any table is none yet: nothing is wrong with it.
    """
    stands, url = db.current_revision(engine), str(engine.url)
    wanted = db.newest_revision(url)
    if stands == wanted:
        return ""
    if stands is None:
        if not sa.inspect(engine).get_table_names():
            return ""
        return (
            "the database holds tables of no released version of this program; name another place "
            "with STRINGCOURSE_DATA or STRINGCOURSE_DATABASE, or restore a backup into an empty one."
        )
    if stands not in db.known_revisions(url):
        return (
            f"the database was made by a newer program (version {stands}, this one knows up to "
            f"{wanted}); install that program. Nothing was changed."
        )
    return (
        f"the database is at version {stands}, this program needs {wanted}; run "
        "`stringcourse upgrade`. Nothing is lost: the database is copied first."
    )


MOST_CLOCK_DIFFERENCE = dt.timedelta(minutes=5)


def clock_trouble(engine: Engine, now: dt.datetime) -> str:
    """What to do about a clock that was set back since the database was last written.

    An embedded database is written by this computer's clock, a server tells its own. Empty where
    nothing is wrong. `now` is this computer's, in UTC.
    """
    known = _newest_known(engine)
    if known is None or now >= known - MOST_CLOCK_DIFFERENCE:
        return ""
    return (
        f"The clock of this computer says {now:%d %B %Y %H:%M} UTC, but its database was already "
        f"at work at {known:%d %B %Y %H:%M} UTC. Set the clock right: what is recorded now "
        "carries the wrong time."
    )


def _newest_known(engine: Engine) -> dt.datetime | None:
    if engine.dialect.name != "sqlite":
        with engine.connect() as connection:
            found: dt.datetime | None = connection.scalar(sa.text("SELECT now()"))
            return found
    path = Path(engine.url.database or "")
    written = [
        file.stat().st_mtime for file in (path, path.with_name(f"{path.name}-wal")) if file.exists()
    ]
    return dt.datetime.fromtimestamp(max(written), dt.UTC) if written else None
