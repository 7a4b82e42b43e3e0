"""Find a standard in any spelling, and where this week's standard is in the build."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from app.domain import alignment
from app.store import lookup as lookup_store
from app.store import sections, standards
from app.web.access import me
from app.web.database import db

bp = Blueprint("standards", __name__)


@bp.get("/standards")
def search() -> ResponseReturnValue:
    """Search by code in any customary spelling, by words, by framework."""
    text = request.args.get("q", "").strip()[:200]
    framework = request.args.get("framework") or None
    index = standards.index_of(db(), me().school_id)
    hits = alignment.search(text, index, framework=framework, limit=40) if text else ()
    rows = standards.load_standards(db(), [int(hit.entry.key) for hit in hits])
    return render_template(
        "standards/search.html",
        text=text,
        framework=framework or "",
        frameworks=standards.list_frameworks(db(), me().school_id),
        hits=[(hit, rows[int(hit.entry.key)]) for hit in hits],
        sections=sections.list_sections(db(), me()),
    )


@bp.get("/sections/<key>/standard")
def lookup(key: str) -> ResponseReturnValue:
    """I must cover this standard this week: where in the build is it, and what do I hand out?"""
    session = db()
    section = sections.load_section(session, me(), key)
    text = request.args.get("q", "").strip()[:200]
    answer = lookup_store.look_up(session, section, text, me().school_id) if text else None
    return render_template("standards/lookup.html", section=section, text=text, answer=answer)
