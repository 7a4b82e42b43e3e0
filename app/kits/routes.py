"""What to buy for a section, and what is on hand."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.kits import KitError
from app.models import Section
from app.store import kits, sections
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.database import db

bp = Blueprint("kits", __name__)

ASSURANCES = (0.8, 0.9, 0.95, 0.99)


@bp.get("/sections/<key>/kit")
def kit(key: str) -> ResponseReturnValue:
    """The kit list: needed, spares, on hand, short, order by."""
    return _page(sections.load_section(db(), me(), key))


def _page(section: Section, wrong: tuple[str, ...] = ()) -> str:
    assurance = request.args.get("assurance", 0.95, type=float)
    assurance = assurance if assurance in ASSURANCES else 0.95
    try:
        found = kits.section_kit(db(), section, today=today_here(), assurance=assurance)
    except KitError as error:
        found, wrong = None, (*wrong, *error.sentences)
    return render_template(
        "kits/kit.html",
        section=section,
        kit=found,
        wrong=wrong,
        assurance=assurance,
        assurances=ASSURANCES,
        given=request.form,
    )


@bp.post("/sections/<key>/kit")
def count_stock(key: str) -> ResponseReturnValue:
    """Write down what is on hand."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    counts: dict[str, float] = {}
    wrong = []
    for name, text in request.form.items():
        if name.startswith("have-") and text.strip():
            try:
                counts[name.removeprefix("have-")] = float(text)
            except ValueError:
                wrong.append(f"“{text}” is no number; enter what is on hand, such as 12 or 1.5.")
    try:
        kits.count_stock(session, section.room, counts, by=me().name, now=now_here())
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        session.rollback()
        return _page(sections.load_own_section(session, me(), key), tuple(wrong)), 422
    session.commit()
    flash("The count is saved.")
    return redirect(url_for("kits.kit", key=key), 303)
