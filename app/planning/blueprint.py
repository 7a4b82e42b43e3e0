"""The room's blueprint, and what its pages share."""

from flask import Blueprint, Response

from app.domain.document import Document
from app.models import Role, Section
from app.print.compile import print_documents
from app.web.access import me
from app.web.files import paper_asked, send

bp = Blueprint("planning", __name__)


def mine(section: Section) -> bool:
    """Whether the signed-in user may change the section's plan."""
    return section.teacher_id == me().id or me().role is Role.ADMINISTRATOR


def pdf(documents: list[Document], name: str) -> Response:
    """Documents as one PDF on the paper the address asks for."""
    printed = print_documents(documents, paper=paper_asked())
    return send(printed.pdf, name, notice=printed.notice)
