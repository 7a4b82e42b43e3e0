"""Find a standard in any spelling, and where this week's standard is in the build."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from app.domain.bands import grade_number
from app.domain.standard import alignment
from app.store import sections
from app.store.standard import lookup as lookup_store
from app.store.standard import standards
from app.web.access import me
from app.web.request_session import db

bp = Blueprint("standards", __name__)

GRADES = ("K", *map(str, range(1, 13)), "college")
SHOWN = 40


@bp.get("/standards")
def search() -> ResponseReturnValue:
    """Search by code in any customary spelling, by words, by framework, by grade."""
    text = request.args.get("q", "").strip()[:200]
    framework = request.args.get("framework") or None
    grade = request.args.get("grade", "")
    number = grade_number(grade) if grade in GRADES else None
    hits: tuple[alignment.Hit, ...] = ()
    if text:
        hits = alignment.search(
            text,
            standards.index_of(db(), me().school_id),
            framework=framework,
            grades=(number, number) if number is not None else None,
            limit=SHOWN,
        )
    rows = standards.load_standards(db(), [int(hit.entry.key) for hit in hits])
    part = request.headers.get("X-Part") == "found"
    frameworks = standards.list_frameworks(db(), me().school_id)
    return render_template(
        "standards/found.html" if part else "standards/search.html",
        text=text,
        framework=framework or "",
        grade=grade,
        grades=GRADES,
        frameworks=frameworks,
        counts={} if part else standards.count_standards(db(), frameworks),
        hits=[(hit, rows[int(hit.entry.key)]) for hit in hits],
        shown=SHOWN,
        sections=sections.list_sections(db(), me()),
    )


@bp.get("/standards/<int:standard_id>")
def show_standard(standard_id: int) -> ResponseReturnValue:
    """One standard: its statement with source and notice, what it is linked to, where it is used."""
    row = standards.load_standard(db(), me().school_id, standard_id)
    aligned, courses = standards.used_in(db(), me().school_id, row)
    return render_template(
        "standards/standard.html",
        standard=row,
        linked=standards.linked(db(), me().school_id, row),
        instead=standards.replacements(db(), me().school_id, row) if row.retired else [],
        aligned=aligned,
        courses=courses,
        sections=sections.list_sections(db(), me()),
    )


@bp.get("/sections/<key>/standard")
def lookup(key: str) -> ResponseReturnValue:
    """I must cover this standard this week: where in the build is it, and what do I hand out?"""
    session = db()
    section = sections.load_section(session, me(), key)
    text = request.args.get("q", "").strip()[:200]
    framework = request.args.get("framework") or None
    answer = (
        lookup_store.look_up(session, section, text, me().school_id, framework) if text else None
    )
    return render_template(
        "standards/lookup.html",
        section=section,
        text=text,
        answer=answer,
        required=[row.standard for row in section.course.required],
    )
