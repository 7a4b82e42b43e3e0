"""Concepts: what can be taught with the builds, at which grade band, and how."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from app.concepts.examples import by_build, examples
from app.domain.bands import BANDS
from app.models import Concept, Role, Treatment
from app.store import library
from app.web.access import me
from app.web.request_session import db

bp = Blueprint("concepts", __name__)

EDITORS = (Role.TEACHER, Role.WORKSHOP_LEAD)


def may_edit() -> bool:
    """Whether the signed-in user may change the school's own library."""
    return me().role in (*EDITORS, Role.ADMINISTRATOR)


@bp.get("/concepts")
def list_concepts() -> ResponseReturnValue:
    """Concepts by subject, and which grade bands have a treatment."""
    school_id = me().school_id
    subjects: dict[str, list[tuple[Concept, dict[str, Treatment]]]] = {}
    for concept in library.list_concepts(db(), school_id):
        seen = library.treatments_seen(concept.treatments, school_id)
        subjects.setdefault(concept.subject, []).append((concept, {row.band: row for row in seen}))
    return render_template(
        "concepts/list.html", subjects=subjects, bands=BANDS, may_edit=may_edit()
    )


@bp.get("/concepts/<key>")
def show_concept(key: str) -> ResponseReturnValue:
    """One concept: its treatments band by band, and where builds show it."""
    session, school_id = db(), me().school_id
    concept = library.find_concept(session, key, school_id)
    rows = library.treatments_seen(concept.treatments, school_id)
    library.show_alignments(session, rows, school_id)
    treatments = sorted(rows, key=lambda row: list(BANDS).index(row.band))
    places = by_build(library.list_exposures(session, concept.id, school_id))
    concepts = {row.key: row.title for row in library.list_concepts(session, school_id)}
    frameworks = {
        item.standard.framework.key: item.standard.framework
        for row in treatments
        for item in row.alignments
    }
    return render_template(
        "concepts/concept.html",
        concept=concept,
        treatments=[(row, examples(row, places)) for row in treatments],
        missing=[band for band in BANDS if band not in {row.band for row in treatments}],
        places=places,
        titles=concepts,
        frameworks=frameworks,
        may_edit=may_edit(),
    )
