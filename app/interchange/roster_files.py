"""Class lists from files: OneRoster CSV (zip or folder), plain CSV, typed codes.

OneRoster 1.1 is read as the 1EdTech tables name its columns; of 1.2 what is the same, with roles
from roles.csv. Demographics, passwords, addresses and telephone numbers are never read.
"""

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from app.domain.classroom.roster_changes import RosterEntry, code_problem, grade_problem, read_grade
from app.interchange.files import BadFile, Mistake

LARGEST_BYTES = 64 * 1024 * 1024
MOST_ROWS = 200_000
NEEDED = {
    "classes": ("sourcedId", "title"),
    "enrollments": ("classSourcedId", "userSourcedId", "role"),
    "users": ("sourcedId",),
}
REFUSED = {"demographics", "userprofiles", "userresources"}
HEADINGS = {
    "code": "code",
    "studentcode": "code",
    "studentid": "code",
    "student": "code",
    "id": "code",
    "identifier": "code",
    "grade": "grade",
    "gradelevel": "grade",
    "year": "grade",
    "team": "team",
    "group": "team",
    "name": "name",
    "fullname": "name",
    "entered": "entered",
    "begindate": "entered",
    "from": "entered",
    "left": "left",
    "enddate": "left",
    "until": "left",
    "status": "status",
    "sourcedid": "source_id",
    "sourceid": "source_id",
}


@dataclass(frozen=True)
class ClassChoice:
    """A class of a file."""

    source_id: str
    title: str
    students: int


@dataclass(frozen=True)
class ClassList:
    """What a file holds for one section. `whole` means it is the whole class."""

    entries: tuple[RosterEntry, ...] = ()
    format: str = ""
    whole: bool = False
    classes: tuple[ClassChoice, ...] = ()
    notes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()


Row = Mapping[str, str]


def read_path(path: Path, *, wanted: str = "", names: bool = False) -> ClassList:
    """A class list from a folder or file.

    Raises BadFile.
    """
    try:
        if path.is_dir():
            files = {
                str(item.relative_to(path)): _sized(item)
                for item in sorted(path.rglob("*"))
                if item.is_file() and item.suffix.lower() == ".csv" and not _refused(item.name)
            }
            refused = any(_refused(item.name) for item in path.rglob("*.csv"))
            return _read_folder(path.name, files, wanted, names=names, refused=refused)
        return read_bytes(_sized(path), path.name, wanted=wanted, names=names)
    except OSError as error:
        sentence = f"cannot be read ({error.strerror}); name a file or folder that exists"
        raise BadFile([Mistake(str(path), "", sentence)]) from error


def _sized(path: Path) -> bytes:
    if path.stat().st_size > LARGEST_BYTES:
        raise BadFile([Mistake(path.name, "", "is larger than 64 MB; export one school only")])
    return path.read_bytes()


def read_bytes(raw: bytes, name: str, *, wanted: str = "", names: bool = False) -> ClassList:
    """A class list from an uploaded file: a OneRoster zip, or a plain list.

    `wanted` chooses a class by its sourcedId or title. Raises BadFile.
    """
    if len(raw) > LARGEST_BYTES:
        raise BadFile([Mistake(name, "", "is larger than 64 MB; export one school only")])
    if raw[:4] == b"PK\x03\x04":
        files, refused = _unzipped(raw, name)
        return _read_folder(name, files, wanted, names=names, refused=refused)
    if _refused(name):
        sentence = "holds demographics, which are never read; send the class list only"
        raise BadFile([Mistake(name, "", sentence)])
    text, notes = decoded(raw, name)
    found = read_text(text, name, names=names)
    return replace(found, notes=(*notes, *found.notes))


def decoded(raw: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """Text of a file in UTF-8, UTF-16 or the older Western encoding, with what was assumed.

    Raises BadFile for a file that is no text.
    """
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if raw.startswith(mark):
            try:
                return raw.decode(encoding), ()
            except UnicodeDecodeError:
                break
    if b"\x00" in raw[:4096]:
        raise BadFile([Mistake(name, "", "is no text; send a CSV file or a OneRoster zip")])
    try:
        return raw.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        note = f"{name} is not UTF-8; it was read as Windows-1252. Look at names with accents."
        return raw.decode("cp1252", errors="replace"), (note,)


# --- plain lists -------------------------------------------------------------------------------


def read_text(text: str, name: str = "the list", *, names: bool = False) -> ClassList:
    """Typed codes, one per line, or a table with a header row in any order of columns."""
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_ROWS:
        raise BadFile([Mistake(name, "", f"has more than {MOST_ROWS} lines; send one class")])
    if not lines:
        raise BadFile(
            [Mistake(name, "", "is empty; give one student code per line, such as S1-01")]
        )
    rows = _table(text)
    header, notes = _header(rows[0][1])
    problems: list[str] = []
    if "code" in header or "source_id" in header:
        entries = list(_named_columns(rows, header, problems, names=names))
        kind = "plain CSV"
    elif max(len(row) for _, row in rows) <= 2 and not any(header) and _code_and_team(rows[0][1]):
        entries = [
            RosterEntry(code=row[0].strip(), team="".join(row[1:]).strip(), row=f"line {line}")
            for line, row in rows
            if row[0].strip()
        ]
        kind = "codes"
    else:
        seen = ", ".join(cell.strip() for cell in rows[0][1])[:80]
        sentence = f"has no column “code” (it has: {seen}); name the column with the codes so"
        raise BadFile([Mistake(name, "header", sentence)])
    return ClassList(
        entries=tuple(entries), format=kind, notes=tuple(notes), problems=tuple(problems)
    )


def _code_and_team(row: Sequence[str]) -> bool:
    """Whether a row of at most two cells is a code with its team, and no header."""
    return len(row) < 2 or not row[1].strip() or not code_problem(row[1].strip())


def _table(text: str) -> list[tuple[int, list[str]]]:
    """The rows with anything in them, each with its line."""
    first = next(line for line in text.splitlines() if line.strip())
    separator = max((",", ";", "\t"), key=first.count)
    rows = csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=separator)
    return [(rows.line_num, row) for row in rows if any(cell.strip() for cell in row)]


def _bare(text: str) -> str:
    return "".join(c for c in text.strip().lstrip("\ufeff").casefold() if c.isalnum())


def _header(cells: Sequence[str]) -> tuple[list[str], list[str]]:
    """What each column is, and notes on columns left out.

    Of several for one thing the one that HEADINGS names first is read: code before identifier.
    """
    bare = [_bare(cell) for cell in cells]
    order = list(HEADINGS)
    best: dict[str, int] = {}
    for place in sorted((n for n, cell in enumerate(bare) if cell in HEADINGS),
                        key=lambda n: order.index(bare[n])):  # fmt: skip
        best.setdefault(HEADINGS[bare[place]], place)
    notes = [
        f"The column “{cells[n].strip()}” was not read; “{cells[best[HEADINGS[cell]]].strip()}” "
        "was taken instead."
        for n, cell in enumerate(bare)
        if cell in HEADINGS and best[HEADINGS[cell]] != n
    ]
    if any(map(_refused_heading, cells)):
        notes.append("Columns that are no part of a class list were not read.")
    taken = {place: thing for thing, place in best.items()}
    return [taken.get(n, "") for n in range(len(bare))], notes


def _refused_heading(cell: str) -> bool:
    return _bare(cell) in {
        "birthdate", "dateofbirth", "sex", "gender", "race", "ethnicity", "email", "phone", "sms",
        "password", "address",
    }  # fmt: skip


def _named_columns(
    rows: Sequence[tuple[int, Sequence[str]]],
    header: Sequence[str],
    problems: list[str],
    *,
    names: bool,
) -> Iterator[RosterEntry]:
    """The entries of a table; what cannot be read goes to `problems`, with its line."""
    for line, row in rows[1:]:
        cells = {key: cell.strip() for key, cell in zip(header, row, strict=False) if key}
        if not cells.get("code") and not cells.get("source_id"):
            problems.append(f"line {line}: there is no code; give the student one. Left out.")
            continue
        try:
            # Without its date a line would say something else: that a leaver stays.
            entered, left = (_date(cells.get(key, ""), key) for key in ("entered", "left"))
        except ValueError as error:
            problems.append(f"line {line}: {error} Left out.")
            continue
        yield RosterEntry(
            code=cells.get("code", ""),
            source_id=cells.get("source_id", ""),
            grade=_grade(cells.get("grade", ""), f"line {line}", problems),
            team=cells.get("team", ""),
            name=cells.get("name", "") if names else "",
            entered=entered,
            left=left,
            row=f"line {line}",
            gone=_deleted(cells),
        )


def _date(text: str, what: str) -> dt.date | None:
    """The date of a value, with or without a time; None where there is none.

    Raises ValueError with what to write.
    """
    plain = text.strip()
    if not plain:
        return None
    try:
        if plain[10:11] in ("", " ", "T"):
            return dt.date.fromisoformat(plain[:10])
    except ValueError:
        pass
    raise ValueError(f"{what} “{plain[:20]}” is no date; write year-month-day, such as 2027-03-15.")


def _grade(text: str, where: str, problems: list[str]) -> str:
    problem = grade_problem(text)
    if problem:
        problems.append(f"{where}: {problem} Taken without a grade.")
    return read_grade(text)


# --- OneRoster ---------------------------------------------------------------------------------


def _refused(name: str) -> bool:
    return PurePosixPath(name.replace("\\", "/")).stem.casefold() in REFUSED


def _unzipped(raw: bytes, name: str) -> tuple[dict[str, bytes], bool]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(raw))
    except zipfile.BadZipFile as error:
        raise BadFile([Mistake(name, "", "is a damaged zip; export it again")]) from error
    files: dict[str, bytes] = {}
    refused, left = False, LARGEST_BYTES
    for item in archive.infolist():
        if item.is_dir() or not item.filename.lower().endswith(".csv"):
            continue
        if _refused(item.filename):
            refused = True
            continue
        left -= item.file_size
        if left < 0 or item.flag_bits & 1:
            sentence = "unpacks to more than 64 MB, or is locked with a password; send it plain"
            raise BadFile([Mistake(name, item.filename, sentence)])
        try:
            files[item.filename] = archive.read(item)
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
            raise BadFile([Mistake(name, item.filename, "cannot be unpacked")]) from error
    return files, refused


@dataclass
class _Bundle:
    """The tables of a OneRoster bundle, by lower-case table name."""

    name: str
    tables: dict[str, list[Row]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    version: str = ""

    def rows(self, table: str) -> list[Row]:
        """The rows of a table that are not to be deleted."""
        return [row for row in self.tables.get(table, []) if not _deleted(row)]

    def deletions(self, table: str) -> list[Row]:
        """What a delta takes away; in a bulk file a row to be deleted says no more than none."""
        rows = [row for row in self.tables.get(table, []) if _deleted(row)]
        return rows if self.mode(table) == "delta" else []

    def mode(self, table: str) -> str:
        """How the manifest says a table was made; without a word, rows to be deleted tell a delta."""
        for row in self.tables.get("manifest", []):
            if row.get("propertyname", "").strip().casefold() == f"file.{table}":
                return row.get("value", "").strip().casefold()
        return "delta" if any(map(_deleted, self.tables.get(table, []))) else ""


def _deleted(row: Row) -> bool:
    return row.get("status", "").strip().casefold() == "tobedeleted"


def _read_folder(
    name: str, files: Mapping[str, bytes], wanted: str, *, names: bool, refused: bool
) -> ClassList:
    bundle = _Bundle(name)
    if refused:
        bundle.notes.append("Demographics and profiles in the file were not read.")
    for path, raw in files.items():
        table = PurePosixPath(path.replace("\\", "/")).stem.casefold()
        if table in {*NEEDED, "roles", "manifest"}:
            text, notes = decoded(raw, path)
            bundle.notes += notes
            bundle.tables[table] = _rows(text)
    bundle.version = _version(bundle)
    _require(bundle)
    classes = _classes(bundle)
    chosen = _chosen(bundle, classes, wanted)
    bulk = bundle.mode("enrollments") != "delta"
    entries, problems = _students(bundle, chosen.source_id, names=names)
    return ClassList(
        entries=tuple(entries),
        format=f"OneRoster {bundle.version}",
        whole=bulk,
        classes=tuple(classes),
        notes=tuple(bundle.notes),
        problems=tuple(problems),
    )


def _rows(text: str) -> list[Row]:
    """Rows by column name; names lose case and the spelling sourceId is sourcedId."""
    table = csv.reader(io.StringIO(text.lstrip("\ufeff")))
    try:
        header = [_column(cell) for cell in next(table)]
    except StopIteration:
        return []
    return [dict(zip(header, row, strict=False)) for row in table if any(row)]


def _column(cell: str) -> str:
    bare = cell.strip().lstrip("\ufeff").casefold()
    return bare.replace("sourceid", "sourcedid") if "sourcedid" not in bare else bare


def _version(bundle: _Bundle) -> str:
    stated = {
        row.get("propertyname", "").strip().casefold(): row.get("value", "").strip()
        for row in bundle.tables.get("manifest", [])
    }
    version = stated.get("oneroster.version", "")
    shape = "1.2" if "roles" in bundle.tables else "1.1"
    if not bundle.tables.get("manifest"):
        bundle.notes.append(f"There is no manifest.csv; the file was read as OneRoster {shape}.")
    elif version not in {"1.1", "1.2"}:
        bundle.notes.append(
            f"manifest.csv names version “{version or 'none'}”; the file was read as {shape}."
        )
        version = ""
    return version or shape


def _require(bundle: _Bundle) -> None:
    mistakes = []
    for table, columns in NEEDED.items():
        if table not in bundle.tables:
            sentence = "is missing; a OneRoster export has classes, users and enrollments"
            mistakes.append(Mistake(bundle.name, f"{table}.csv", sentence))
            continue
        rows = bundle.tables[table]
        for column in columns if rows else ():
            if column.casefold() not in rows[0]:
                sentence = f"has no column {column}; export it with the columns of OneRoster"
                mistakes.append(Mistake(bundle.name, f"{table}.csv", sentence))
    if mistakes:
        raise BadFile(mistakes)


def _classes(bundle: _Bundle) -> list[ClassChoice]:
    named: dict[str, set[str]] = {}
    for row in (*bundle.rows("enrollments"), *bundle.deletions("enrollments")):
        if row.get("role", "").strip().casefold() == "student":
            key = row.get("classsourcedid", "").strip()
            named.setdefault(key, set()).add(row.get("usersourcedid", "").strip())
    return [
        ClassChoice(
            row.get("sourcedid", "").strip(),
            row.get("title", "").strip(),
            len(named.get(row.get("sourcedid", "").strip(), ())),
        )
        for row in bundle.rows("classes")
    ]


def _chosen(bundle: _Bundle, classes: Sequence[ClassChoice], wanted: str) -> ClassChoice:
    """The class asked for, or the only one with students.

    Raises BadFile naming the classes where the choice is open.
    """
    asked = wanted.strip().casefold()
    named = [
        item for item in classes if asked in (item.source_id.casefold(), item.title.casefold())
    ]
    full = [item for item in classes if item.students]
    found = named if asked else full
    if len(found) == 1:
        return found[0]
    offered = "; ".join(
        f"{item.title} ({item.source_id}, {item.students} students)"
        for item in (named or full)[:20]
    )
    if not offered:
        sentence = "has no class with students; export the enrollments too"
    elif asked and not named:
        sentence = f"has no class “{wanted.strip()}”; choose one of: {offered}"
    else:
        sentence = f"has several classes; choose one by its sourcedId: {offered}"
    raise BadFile([Mistake(bundle.name, "classes.csv", sentence)])


def _students(
    bundle: _Bundle, class_id: str, *, names: bool
) -> tuple[list[RosterEntry], list[str]]:
    users = {row.get("sourcedid", "").strip(): row for row in bundle.rows("users")}
    problems: list[str] = []
    classes = {row.get("sourcedid", "").strip() for row in bundle.rows("classes")}
    known = _is_student(bundle)
    entries = []
    strays = 0
    for row in bundle.rows("enrollments"):
        if row.get("classsourcedid", "").strip() not in classes:
            strays += 1
            continue
        if row.get("classsourcedid", "").strip() != class_id:
            continue
        if row.get("role", "").strip().casefold() != "student":
            continue
        user_id = row.get("usersourcedid", "").strip()
        user = users.get(user_id)
        if user is None:
            problems.append(
                f"enrollments.csv: the student {user_id} is not in users.csv; left out."
            )
        elif not known(user_id, user):
            problems.append(
                f"enrollments.csv: {user_id} is enrolled as a student but users.csv says otherwise; "
                "left out."
            )
        else:
            entries.append(_entry(row, user, user_id, problems, names=names))
    if strays:
        problems.append(f"enrollments.csv: {strays} rows name a class that classes.csv lacks.")
    return _as_now([*entries, *_gone(bundle, class_id, problems)]), problems


def _gone(bundle: _Bundle, class_id: str, problems: list[str]) -> Iterator[RosterEntry]:
    """Whom a delta takes off the class: by their enrolment, or altogether."""
    for row in bundle.deletions("enrollments"):
        if row.get("classsourcedid", "").strip() == class_id:
            user_id = row.get("usersourcedid", "").strip()
            left = _enrolment_date(row, "endDate", problems)
            yield RosterEntry(source_id=user_id, left=left, row=f"user {user_id}", gone=True)
    for row in bundle.deletions("users"):
        user_id = row.get("sourcedid", "").strip()
        yield RosterEntry(source_id=user_id, row=f"user {user_id}", gone=True)


def _as_now(entries: Iterable[RosterEntry]) -> list[RosterEntry]:
    """One entry per student: of several enrolments the one that lasts longest, then began last."""

    def rank(entry: RosterEntry) -> tuple[bool, dt.date, dt.date]:
        return not entry.gone, entry.left or dt.date.max, entry.entered or dt.date.min

    found: dict[str, RosterEntry] = {}
    for entry in entries:
        held = found.setdefault(entry.source_id, entry)
        if rank(entry) > rank(held):
            found[entry.source_id] = entry
    return list(found.values())


def _is_student(bundle: _Bundle) -> Callable[[str, Row], bool]:
    """Whether a user is a student: by users.csv in 1.1, by roles.csv in 1.2."""
    if bundle.tables.get("roles"):
        students = {
            row.get("usersourcedid", "").strip()
            for row in bundle.rows("roles")
            if row.get("role", "").strip().casefold() == "student"
        }
        return lambda user_id, _user: user_id in students
    return lambda _user_id, user: user.get("role", "student").strip().casefold() in ("student", "")


def _enrolment_date(row: Row, column: str, problems: list[str]) -> dt.date | None:
    """A date of an enrolment; one that is none is said, since without the row one would be gone."""
    try:
        return _date(row.get(column.casefold(), ""), column)
    except ValueError as error:
        user_id = row.get("usersourcedid", "").strip()
        problems.append(f"enrollments.csv, user {user_id}: {error} Taken without it.")
        return None


def _entry(row: Row, user: Row, user_id: str, problems: list[str], *, names: bool) -> RosterEntry:
    name = ""
    if names:
        given = user.get("preferredgivenname", "").strip() or user.get("givenname", "").strip()
        family = user.get("preferredfamilyname", "").strip() or user.get("familyname", "").strip()
        name = f"{given} {family}".strip()
    return RosterEntry(
        source_id=user_id,
        grade=_grade(user.get("grades", "").split(",")[0], f"users.csv, user {user_id}", problems),
        name=name,
        entered=_enrolment_date(row, "beginDate", problems),
        left=_enrolment_date(row, "endDate", problems),
        row=f"user {user_id}",
    )


def plain_csv(entries: Iterable[RosterEntry]) -> str:
    """Entries as a plain list, to be sent again after a preview."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("code", "sourcedId", "grade", "team", "name", "entered", "left", "status"))
    for item in entries:
        dates = (value.isoformat() if value else "" for value in (item.entered, item.left))
        status = "tobedeleted" if item.gone else ""
        writer.writerow(
            (item.code, item.source_id, item.grade, item.team, item.name, *dates, status)
        )
    return out.getvalue()
