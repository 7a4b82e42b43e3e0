"""What kit pages and files have in common: choices in the address, and files sent out."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import Response, request

from app.domain.document import Document, Paper
from app.domain.kit.kit_papers import Grid, PartLabel
from app.domain.kit.kits import USUAL_ASSURANCE
from app.interchange.kit_files import csv_text, xlsx_bytes
from app.print.compile import PrintError, print_documents
from app.print.labels import labels_pdf
from app.store import Missing

ASSURANCES = (0.8, 0.9, 0.95, 0.99)
SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
FILE_KINDS = ("pdf", "csv", "xlsx")


@dataclass(frozen=True, slots=True)
class Made:
    """A paper made: the document, its tables, and labels where it is a label sheet."""

    name: str
    document: Document
    grids: Sequence[Grid]
    labels: Sequence[PartLabel] | None = None


def assurance() -> float:
    """The assurance chosen in the address, or the usual one."""
    chosen = request.args.get("assurance", USUAL_ASSURANCE, type=float)
    return chosen if chosen in ASSURANCES else USUAL_ASSURANCE


def paper() -> Paper:
    """The paper chosen in the address."""
    return "a4" if request.args.get("paper") == "a4" else "letter"


def send(made: Made, kind: str) -> Response:
    """The paper as a PDF, CSV or spreadsheet.

    Raises Missing for any other kind, PrintError where there is nothing to print.
    """
    if kind == "csv":
        return _file(csv_text(made.grids).encode("utf-8-sig"), "text/csv", made, kind)
    if kind == "xlsx":
        return _file(xlsx_bytes(made.grids), SPREADSHEET, made, kind)
    if kind != "pdf":
        raise Missing(f"paper {made.name}.{kind}")
    if made.labels is not None:
        skip = request.args.get("skip", 0, type=int)
        pdf = labels_pdf(made.labels, paper(), skip=skip, title=made.document.title)
        return _file(pdf, "application/pdf", made, kind)
    printed = print_documents([made.document], paper=paper())
    answer = _file(printed.pdf, "application/pdf", made, kind)
    if printed.notice:
        answer.headers["X-Print-Notice"] = printed.notice
    return answer


def _file(content: bytes, mimetype: str, made: Made, kind: str) -> Response:
    place = "inline" if kind == "pdf" else "attachment"
    headers = {"Content-Disposition": f'{place}; filename="{made.name}.{kind}"'}
    return Response(content, mimetype=mimetype, headers=headers)


__all__ = ["ASSURANCES", "FILE_KINDS", "Made", "PrintError", "assurance", "paper", "send"]
