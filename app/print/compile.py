"""The one call that turns documents into a PDF.

Typst compiles in this process with the fonts its wheel carries, so that a paper looks
the same on every machine. PDF/UA-1 and PDF/A-2a refuse a whole document for one letter
no font has; a class set must not stop for that, so the standards are given up step by
step and the result says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from app.domain.papers.document import Document, Paper
from app.print.payload import payload

TEMPLATES = Path(__file__).resolve().parent / "templates"
PAPER_NAMES: dict[Paper, str] = {"letter": "us-letter", "a4": "a4"}  # as Typst names them
PAPERS = tuple(PAPER_NAMES)
Standard = Literal["ua-1", "a-2a"]
STANDARDS: tuple[Standard, ...] = ("ua-1", "a-2a")
MISSING_LETTER_NOTICE = (
    "Some letters on this paper have no font on this computer and print as boxes; "
    "the file does not claim the PDF/UA standard."
)


class PrintError(ValueError):
    """The documents cannot be printed; the message says what to change."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A PDF with the standards it claims and, where letters were missing, a notice."""

    pdf: bytes
    standards: tuple[Standard, ...]
    notice: str = ""


@lru_cache(maxsize=2)
def fonts(*, system: bool = False) -> Any:
    """The wheel's own fonts, with this computer's added where `system` is asked for."""
    import typst

    return typst.Fonts(include_system_fonts=system)


def typst_pdf(
    template: str, data: str, *, standards: Sequence[Standard] = STANDARDS, system: bool = False
) -> bytes:
    """Compile one template of this package with `data` as its JSON input.

    Raises typst.TypstError where the template or a standard refuses.
    """
    import typst

    return typst.compile(
        str(TEMPLATES / template),
        root=str(TEMPLATES),
        font_paths=fonts(system=system),
        ignore_system_fonts=not system,
        sys_inputs={"data": data},
        pdf_standards=list(standards),
        timestamp=0,
        format="pdf",
    )


def print_documents(documents: Sequence[Document], *, paper: Paper | None = None) -> Printed:
    """Print documents, each starting on a new page, as one tagged PDF.

    `paper` defaults to the first document's. Raises PrintError where there is nothing
    to print or the paper is unknown.
    """
    import typst

    if not documents:
        raise PrintError("there is nothing to print: choose at least one paper")
    paper = paper or documents[0].paper
    if paper not in PAPERS:
        raise PrintError(f"paper is letter or a4, not {paper!r}")
    data = payload(documents, PAPER_NAMES[paper])
    # First the fonts every machine has; then this machine's; then without the standards.
    for system in (False, True):
        try:
            return Printed(typst_pdf("paper.typ", data, system=system), STANDARDS)
        except typst.TypstError as error:
            if "could not be displayed with font" not in str(error):
                raise
    data = payload(documents, PAPER_NAMES[paper], MISSING_LETTER_NOTICE)
    pdf = typst_pdf("paper.typ", data, standards=(), system=True)
    return Printed(pdf, (), MISSING_LETTER_NOTICE)


def compile_documents(documents: Sequence[Document], *, paper: Paper | None = None) -> bytes:
    """A set of documents as one PDF; see `print_documents`."""
    return print_documents(documents, paper=paper).pdf


def compile_pdf(document: Document, *, paper: Paper | None = None) -> bytes:
    """One document as a PDF; see `print_documents`."""
    return print_documents([document], paper=paper).pdf
