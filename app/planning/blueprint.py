"""The room's blueprint, and what its pages share."""

from flask import Blueprint, Response

from app.domain.papers.document import Document
from app.print.compile import print_documents
from app.web.downloads import paper_asked, send

bp = Blueprint("planning", __name__)


def pdf(documents: list[Document], name: str) -> Response:
    """Documents as one PDF on the paper the address asks for."""
    printed = print_documents(documents, paper=paper_asked())
    return send(printed.pdf, name, notice=printed.notice)
