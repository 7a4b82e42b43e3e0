"""A framework from a table or from pasted lines, and back into a table.

A table has a header; code and statement are enough. Without a column of identifiers the code is
the identifier within the framework's key, so that the next table finds its standards again.
"""

import csv
import io
import re
import uuid
from collections.abc import Iterable

from app.interchange.files import BadFile, Mistake
from app.interchange.standard.draft import Draft, DraftItem, DraftProblem, grades_of, is_text
from app.interchange.standard.importing import NAMESPACE
from app.interchange.tables import csv_text, unmarked
from app.models import Framework

HEADER = ("code", "statement", "grades", "domain", "subject", "parent", "identifier", "address")
_NAMES = {
    "code": ("code", "standard", "human coding scheme", "humancodingscheme", "number", "id"),
    "statement": ("statement", "full statement", "fullstatement", "text", "description"),
    "grades": ("grades", "grade", "education level", "educationlevel", "level", "grade level"),
    "domain": ("domain", "strand", "category", "topic"),
    "subject": ("subject",),
    "parent": ("parent", "parent code"),
    "identifier": ("identifier", "guid", "uuid", "case identifier"),
    "address": ("address", "uri", "url"),
}
_COLUMN = {word: name for name, words in _NAMES.items() for word in words}
_DELIMITERS = ",;\t"
_LINE = re.compile(r"^\s*(\S+)\s+(?:[-–:]\s+)?(.+?)\s*$")


def read_table(raw: bytes, name: str, *, key: str, title: str, publisher: str = "") -> Draft:
    """The framework of a CSV or TSV file with a header.

    Raises BadFile.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        sentence = "is not UTF-8 text; save the table as “CSV UTF-8”"
        raise BadFile([Mistake(name, "", sentence)]) from error
    return read_text(text, name, key=key, title=title, publisher=publisher)


def read_text(text: str, name: str, *, key: str, title: str, publisher: str = "") -> Draft:
    """The framework of a table's text, or of lines that begin with a code.

    Raises BadFile where no line can be read.
    """
    draft = Draft(
        identifier=str(uuid.uuid5(NAMESPACE, key)),
        title=title,
        publisher=publisher,
        source={"table": name},
    )
    rows = list(_table(text, name)) or list(_lines(text, draft.problems))
    _add_items(draft, rows, key)
    if not draft.items:
        sentence = (
            "has no standard; give a header with “code” and “statement”, or one standard a line "
            "that begins with its code"
        )
        raise BadFile([Mistake(name, "", sentence)])
    return draft


def _table(text: str, name: str) -> Iterable[tuple[str, dict[str, str]]]:
    """Rows by column name with their places; nothing if the first line is no header."""
    first = text.lstrip().partition("\n")[0]
    delimiter = max(_DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text.lstrip()), delimiter=delimiter)
    try:
        header = [_COLUMN.get(cell.strip().lower(), "") for cell in next(reader, [])]
        if "code" not in header and not {"identifier", "statement"} <= set(header):
            return
        for cells in reader:
            if any(cell.strip() for cell in cells):
                pairs = zip(header, cells, strict=False)
                yield f"line {reader.line_num}", {n: unmarked(c) for n, c in pairs if n}
    except csv.Error as error:
        sentence = f"cannot be read as a table after line {reader.line_num} ({error})"
        raise BadFile([Mistake(name, "", sentence)]) from error


def _lines(text: str, problems: list[DraftProblem]) -> Iterable[tuple[str, dict[str, str]]]:
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        cells = [cell for cell in line.split("\t") if cell.strip()]
        match = _LINE.match(line)
        if len(cells) > 1:
            yield f"line {number}", dict(zip(("code", "statement", "grades"), cells, strict=False))
        elif match and any(c.isdigit() for c in match[1]):
            yield f"line {number}", {"code": match[1], "statement": match[2]}
        else:
            sentence = f"“{line.strip()[:60]}” does not begin with a code; write code, then text"
            problems.append(DraftProblem(f"line {number}", sentence, left_out=True))


def _add_items(draft: Draft, rows: list[tuple[str, dict[str, str]]], key: str) -> None:
    seen: set[str] = set()
    for place, row in rows:
        code = " ".join(row.get("code", "").split())
        given = row.get("identifier", "").strip()
        identifier = given or (str(uuid.uuid5(NAMESPACE, f"{key}\n{code}")) if code else "")
        wrong = ""
        if not identifier:
            wrong = "has neither a code nor an identifier"
        elif identifier in seen:
            wrong = f"{code or identifier} stands twice; the first is kept"
        elif not all(is_text(cell) for cell in row.values()):
            wrong = "has a character that cannot be kept"
        if wrong:
            draft.problems.append(DraftProblem(place, wrong, left_out=True))
            continue
        seen.add(identifier)
        draft.items.append(_item(row, identifier, code, place, draft.problems))
    codes = {item.code: item.identifier for item in draft.items if item.code}
    for item in draft.items:
        item.parent = codes.get(item.parent, "")


def _item(
    row: dict[str, str], identifier: str, code: str, place: str, problems: list[DraftProblem]
) -> DraftItem:
    levels = [part.strip() for part in re.split(r"[,;|/]", row.get("grades", "")) if part.strip()]
    low, high, unread = grades_of(levels)
    problems += [DraftProblem(place, f"“{level}” names no grade") for level in unread]
    return DraftItem(
        identifier=identifier,
        code=code,
        statement=row.get("statement", ""),
        place=place,
        uri=row.get("address", "").strip(),
        subject=row.get("subject", "").strip(),
        domain=row.get("domain", "").strip(),
        parent=" ".join(row.get("parent", "").split()),
        grade_low=low,
        grade_high=high,
        source={"humanCodingScheme": code, "educationLevel": levels},
    )


def standards_csv(framework: Framework) -> str:
    """A framework as a table that `read_table` takes in again. Formula-like text is marked."""
    return csv_text(
        HEADER,
        (
            (
                row.code,
                row.statement,
                row.grades,
                row.domain,
                row.subject,
                row.parent,
                row.identifier,
                row.uri,
            )
            for row in framework.standards
        ),
    )
