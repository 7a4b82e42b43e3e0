"""Files sent to the browser: the paper they are for, their kind and their name."""

from pathlib import PurePath

from flask import Response, request

from app.domain.papers.document import Paper

TYPES = {
    ".csv": "text/csv; charset=utf-8",
    ".docx": "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
    ".ics": "text/calendar; charset=utf-8",
    ".json": "application/json",
    ".pdf": "application/pdf",
    ".toml": "application/toml",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
SHOWN = (".pdf", ".ics")  # the browser shows these; it keeps the others
LONGEST_NAME = 80


def paper_asked() -> Paper:
    """The paper that the address names."""
    return "a4" if request.args.get("paper") == "a4" else "letter"


def send(content: str | bytes, name: str, *, notice: str = "") -> Response:
    """A file under its name, whose ending says its kind; `notice` is what its printing left out."""
    path = PurePath(name)
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "-" for c in path.stem)
    place = "inline" if path.suffix in SHOWN else "attachment"
    headers = {
        "Content-Disposition": f'{place}; filename="{plain[:LONGEST_NAME]}{path.suffix}"',
        "Content-Type": TYPES[path.suffix],
    }
    if notice:
        headers["X-Print-Notice"] = notice
    return Response(content, headers=headers)
