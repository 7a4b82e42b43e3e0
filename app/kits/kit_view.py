"""What kit pages and files have in common: choices in the address, and files sent out."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import Response, request

from app.domain.kit.kit_quantities import USUAL_ASSURANCE
from app.domain.papers.document import Document
from app.domain.papers.kit_papers import KitGrid, PartLabel
from app.interchange.kit_files import grids_csv, xlsx_bytes
from app.print.compile import print_documents
from app.print.labels import labels_pdf
from app.store import Missing
from app.web import downloads

ASSURANCES = (0.8, 0.9, 0.95, 0.99)
FILE_KINDS = ("pdf", "csv", "xlsx")


@dataclass(frozen=True, slots=True)
class Made:
    """A paper made: the document, its tables, and labels where it is a label sheet."""

    name: str
    document: Document
    grids: Sequence[KitGrid]
    labels: Sequence[PartLabel] | None = None


def assurance() -> float:
    """The assurance chosen in the address, or the usual one."""
    chosen = request.args.get("assurance", USUAL_ASSURANCE, type=float)
    return chosen if chosen in ASSURANCES else USUAL_ASSURANCE


def send(made: Made, kind: str) -> Response:
    """The paper as a PDF, CSV or spreadsheet.

    Raises Missing for any other kind, PrintError where there is nothing to print.
    """
    name = f"{made.name}.{kind}"
    if kind == "csv":
        return downloads.send(grids_csv(made.grids).encode("utf-8-sig"), name)
    if kind == "xlsx":
        return downloads.send(xlsx_bytes(made.grids), name)
    if kind != "pdf":
        raise Missing(f"paper {name}")
    paper = downloads.paper_asked()
    if made.labels is not None:
        skip = request.args.get("skip", 0, type=int)
        return downloads.send(
            labels_pdf(made.labels, paper, skip=skip, title=made.document.title), name
        )
    printed = print_documents([made.document], paper=paper)
    return downloads.send(printed.pdf, name, notice=printed.notice)
