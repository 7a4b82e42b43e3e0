"""The department's sections side by side, and coverage as files."""

from flask import Response, render_template, request
from flask.typing import ResponseReturnValue

from app.coverage.routes import bp
from app.domain.papers.document import Paper
from app.interchange import coverage_export
from app.models import School
from app.print.compile import print_documents
from app.store import Missing, accounts, sections
from app.store.standard import department_losses as losses
from app.store.standard import section_coverage
from app.store.standard.department import NO_CUT, department_coverage
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.downloads import send
from app.web.request_session import db

KINDS = ("csv", "xlsx", "pdf")


@bp.get("/departments/<key>/coverage")
def department(key: str) -> ResponseReturnValue:
    """Gaps, what is found only here, what is done in several courses, and the table."""
    row = accounts.load_department(db(), me(), key)
    return render_template(
        "coverage/department.html",
        department=row,
        found=department_coverage(db(), me(), row, today=today_here()),
    )


@bp.get("/departments/<key>/losses")
def department_losses(key: str) -> ResponseReturnValue:
    """What the department loses if a phase is cut, or two weeks go, in all its sections."""
    session = db()
    row = accounts.load_department(session, me(), key)
    phase, monday = request.args.get("phase", ""), request.args.get("monday", "")
    cut = losses.cut_of(session, me(), row, phase, monday)
    asked = cut != NO_CUT
    return render_template(
        "coverage/department_losses.html",
        department=row,
        choice=losses.what_can_go(session, me(), row),
        phase=phase,
        monday=monday,
        asked=asked,
        lost=losses.department_losses(session, me(), row, cut) if asked else [],
    )


@bp.get("/sections/<key>/coverage.<kind>")
def export_section(key: str, kind: str) -> ResponseReturnValue:
    """A section's coverage as a file, with where it comes from."""
    row = sections.load_section(db(), me(), key)
    facts = section_coverage.section_facts(db(), row, today_here())
    approved = section_coverage.last_approval(facts, section_coverage.list_reviews(db(), row))
    export = coverage_export.section_export(facts, approved, me().name, now_here())
    return _file(export, kind, f"coverage-{row.key}")


@bp.get("/departments/<key>/coverage.<kind>")
def export_department(key: str, kind: str) -> ResponseReturnValue:
    """The department's coverage as a file, with where it comes from."""
    row = accounts.load_department(db(), me(), key)
    found = department_coverage(db(), me(), row, today=today_here())
    export = coverage_export.department_export(found, row.name, me().name, now_here())
    return _file(export, kind, f"coverage-{row.key}")


def _file(export: coverage_export.Export, kind: str, name: str) -> Response:
    if kind not in KINDS:
        raise Missing(f"coverage as {kind}")
    paper = _paper()
    content: str | bytes
    if kind == "csv":
        content = coverage_export.coverage_csv(export)
    elif kind == "xlsx":
        content = coverage_export.coverage_xlsx(export)
    else:
        content = print_documents([coverage_export.coverage_document(export, paper)]).pdf
    return send(content, f"{name}.{kind}")


def _paper() -> Paper:
    school = db().get(School, me().school_id)
    return "letter" if school is None or school.holiday_country in ("US", "CA") else "a4"
