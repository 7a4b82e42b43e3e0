"""Whole copies of a database: taken while others write, checked by opening them, and put back."""

import os
import shutil
import sqlite3
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from app import db
from app.jobs.engine import SCHEMA
from app.settings import embedded_url

SQLITE_START, POSTGRESQL_START = b"SQLite format 3\x00", b"PGDMP"


class CopyError(ValueError):
    """A whole copy could not be made or put back; the text says what to do."""


@dataclass(frozen=True)
class WholeCopy:
    """A checked copy: its file, the version of its tables, and how many rows they hold."""

    file: Path
    version: str
    rows: int | None
    """None for the dump of a database server, which is checked by its list of contents."""


def back_up(url: str, file: Path) -> WholeCopy:
    """Copy the whole database into a new file and check the copy.

    Every write acknowledged before the call is in it. A copy that could not be finished is
    nowhere; one that a crash cut short lies beside it, ending in `.part`. Raises CopyError.
    """
    if file.exists():
        raise CopyError(f"{file} is there already; name a new file for the backup.")
    with _part_of(file) as part:
        if _is_embedded(url):
            _copy_sqlite(Path(sa.make_url(url).database or ""), part)
        else:
            _dump_postgresql(url, part)
        made = check(part)
        part.replace(file)
    return WholeCopy(file, made.version, made.rows)


def restore(file: Path, url: str) -> WholeCopy:
    """Put a checked backup into a place where no database is yet.

    Raises CopyError where something is there, the backup is damaged or of another kind, or was
    made by a newer program.
    """
    made = check(file)
    if made.version not in db.known_revisions(url):
        raise CopyError(
            f"{file} was made by a newer program (version {made.version}, this one knows up to "
            f"{db.newest_revision(url)}); install that program and restore with it."
        )
    if _is_embedded(url) != (made.rows is not None):
        kind = "an embedded database" if made.rows is not None else "a PostgreSQL server"
        raise CopyError(
            f"{file} is the backup of {kind}; set STRINGCOURSE_DATABASE to a place of that kind."
        )
    if _is_embedded(url):
        _put_back_sqlite(file, Path(sa.make_url(url).database or ""))
    else:
        _put_back_postgresql(file, url)
    return made


def check(file: Path) -> WholeCopy:
    """Open a copy and read it through.

    Raises CopyError where it is no backup, damaged, or cut short.
    """
    with file.open("rb") as opened:
        start = opened.read(16)
    if start == SQLITE_START:
        return _check_sqlite(file)
    if start.startswith(POSTGRESQL_START):
        return WholeCopy(file, _version_of_dump(file), None)
    raise CopyError(f"{file} is no backup of this program, or only the beginning of one.")


def _is_embedded(url: str) -> bool:
    return sa.make_url(url).get_backend_name() == "sqlite"


@contextmanager
def _part_of(file: Path) -> Iterator[Path]:
    """A file beside the wanted one, readable by its owner only, that goes if it is not finished."""
    handle, name = tempfile.mkstemp(prefix=f"{file.name}.", suffix=".part", dir=file.parent)
    os.close(handle)
    part = Path(name)
    try:
        yield part
    finally:
        part.unlink(missing_ok=True)


def _copy_sqlite(source: Path, part: Path) -> None:
    """Copy in one step, which sees one moment; writers go on meanwhile (write-ahead log)."""
    if not source.exists():
        raise CopyError(f"there is no database at {source} to copy.")
    try:
        with closing(sqlite3.connect(source)) as opened, closing(sqlite3.connect(part)) as made:
            opened.backup(made)
            made.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
    except sqlite3.DatabaseError as error:
        raise CopyError(_why_not(error, source, part)) from error
    with part.open("rb+") as written:
        os.fsync(written.fileno())


def _why_not(error: sqlite3.DatabaseError, source: Path, part: Path) -> str:
    code = error.sqlite_errorcode & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return f"the disk of {part.parent} is full; free some space or name another disk."
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return (
            f"{source} is damaged ({error}): keep it as it is, and restore the last good backup "
            "into an empty folder."
        )
    return f"{source} could not be copied to {part.parent} ({error}); try again in a moment."


def _check_sqlite(file: Path) -> WholeCopy:
    address = f"{file.resolve().as_uri()}?mode=ro&immutable=1"
    try:
        with closing(sqlite3.connect(address, uri=True)) as opened:
            found = [row[0] for row in opened.execute("PRAGMA integrity_check(1)")]
            if found != ["ok"]:
                raise CopyError(f"{file} is damaged ({found[0]}); use another backup.")
            tables = [
                row[0]
                for row in opened.execute("SELECT name FROM sqlite_master WHERE type='table'")
            ]
            if "alembic_version" not in tables:
                raise CopyError(f"{file} is no database of this program, or an unfinished copy.")
            version = opened.execute("SELECT version_num FROM alembic_version").fetchone()
            rows = sum(
                opened.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - a name the file itself lists
                for name in tables
            )
    except sqlite3.DatabaseError as error:
        raise CopyError(f"{file} is damaged ({error}); use another backup.") from error
    return WholeCopy(file, version[0], rows)


def _put_back_sqlite(file: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    with _part_of(target) as part:
        shutil.copyfile(file, part)
        _check_sqlite(part)
        with db.alone(embedded_url(target), "upgrade", seconds=db.SECONDS_FOR_AN_UPGRADE):
            if target.exists():
                raise CopyError(
                    f"{target} is there already; set STRINGCOURSE_DATA to an empty folder, or move "
                    "that file away first."
                )
            # A log left beside a file that is gone belongs to no database: it would damage this one.
            for ending in ("-wal", "-shm"):
                target.with_name(target.name + ending).unlink(missing_ok=True)
            part.replace(target)
    engine = db.make_engine(embedded_url(target))
    db.use_wal(engine)
    engine.dispose()


def _dump_postgresql(url: str, part: Path) -> None:
    _run(
        "pg_dump",
        url,
        "--format=custom",
        "--no-owner",
        f"--exclude-schema={SCHEMA}",
        "--file",
        part,
    )


def _version_of_dump(file: Path) -> str:
    """The version in a dump, which is read to its end for it."""
    read = _run("pg_restore", None, "--data-only", "--file=-", file)
    lines = iter(read.splitlines())
    for line in lines:
        if line.startswith("COPY public.alembic_version "):
            return next(lines, "")
    raise CopyError(f"{file} is no dump of this program's database.")


def _put_back_postgresql(file: Path, url: str) -> None:
    engine = db.make_engine(url)
    with db.alone(url, "upgrade", seconds=db.SECONDS_FOR_AN_UPGRADE):
        there = sa.inspect(engine).get_table_names()
        engine.dispose()
        if there:
            raise CopyError(
                f"the database {sa.make_url(url).database} is not empty; make a new one (createdb) "
                "and name it in STRINGCOURSE_DATABASE."
            )
        _run("pg_restore", url, "--no-owner", "--exit-on-error", "--single-transaction", file)


def _run(tool: str, url: str | None, *options: str | Path) -> str:
    """Run one of PostgreSQL's own programs.

    Raises CopyError with its own words where it fails, or a sentence where it is missing.
    """
    program = shutil.which(tool)
    if program is None:
        raise CopyError(
            f"{tool}, PostgreSQL's own program, is not on this machine; install PostgreSQL's "
            "client programs (postgresql-client), or have the server's administrator do it."
        )
    environment = dict(os.environ)
    place: tuple[str, ...] = ()
    if url is not None:
        at = sa.make_url(url)
        plain = sa.URL.create(
            "postgresql", at.username, None, at.host, at.port, at.database, at.query
        )
        place = (f"--dbname={plain.render_as_string()}",)
        if at.password:
            environment["PGPASSWORD"] = str(at.password)  # not on the command line: others see it
    done = subprocess.run(  # noqa: S603 - a fixed program, options of our own, no shell
        [program, *place, *map(str, options)],
        env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise CopyError(f"{tool} failed: {last}")
    return done.stdout
