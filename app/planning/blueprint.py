"""The room's blueprint, and what its pages share."""

from flask import Blueprint, Response, request

from app.domain.document import Document, Paper
from app.models import Role, Section
from app.print.compile import print_documents
from app.web.access import me

bp = Blueprint("planning", __name__)


def mine(section: Section) -> bool:
    """Whether the signed-in user may change the section's plan."""
    return section.teacher_id == me().id or me().role is Role.ADMINISTRATOR


def pdf(documents: list[Document], name: str) -> Response:
    """Documents as one PDF on the paper the address asks for."""
    paper: Paper = "a4" if request.args.get("paper") == "a4" else "letter"
    printed = print_documents(documents, paper=paper)
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    if printed.notice:
        headers["X-Print-Notice"] = printed.notice
    return Response(printed.pdf, mimetype="application/pdf", headers=headers)
