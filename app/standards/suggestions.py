"""Alignment work: what a framework's standards may have to do with the treatments."""

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.bands import BANDS
from app.standards.routes import bp
from app.store import Missing
from app.store.standard import alignments, standards
from app.web.access import me
from app.web.clock import now_here
from app.web.request_session import db


@bp.get("/standards/frameworks/<int:framework_id>/alignments")
def suggest(framework_id: int) -> ResponseReturnValue:
    """Suggestions for a grade band, and what was decided about earlier ones."""
    return _page(framework_id, request.args.get("band", "9-12"))


def _page(framework_id: int, band: str, mistake: str = "", wrong: tuple[int, int] = (0, 0)) -> str:
    row = standards.load_framework(db(), me().school_id, framework_id)
    words = alignments.band_words(band)
    found = alignments.suggestions(db(), me().school_id, row, band)
    carried = sum(item.exact for item in found)
    return render_template(
        "standards/alignments.html",
        framework=row,
        band=band,
        words=words,
        bands=BANDS,
        found=found,
        carried=carried,
        came=alignments.list_library(db(), me().school_id, row, band),
        decisions=alignments.list_decisions(db(), me().school_id, row, band),
        mistake=mistake,
        wrong=wrong,
        typed=request.form,
    )


@bp.post("/standards/frameworks/<int:framework_id>/alignments")
def decide(framework_id: int) -> ResponseReturnValue:
    """Accept or decline one alignment, with a reason."""
    session = db()
    row = standards.load_framework(session, me().school_id, framework_id)
    band = request.form.get("band", "")
    alignments.band_words(band)
    pair = (
        request.form.get("treatment", 0, type=int),
        request.form.get("standard", 0, type=int),
    )
    verdict = alignments.AlignmentVerdict(
        accepted=request.form.get("verdict") == "accept",
        reason=request.form.get("reason", "")[:1000],
        strength=request.form.get("strength", "partial"),
        condition=request.form.get("condition", "")[:1000],
        origin=request.form.get("origin", "person")[:20],
        shown=request.form.get("shown", "")[:500],
    )
    try:
        made = alignments.decide(
            session, me().school_id, row, pair, verdict, (me().name, now_here())
        )
    except ValueError as error:
        session.rollback()
        return _page(framework_id, band, str(error), pair), 422
    session.commit()
    flash(f"{made.standard.code}: {'accepted' if made.accepted else 'declined'}.")
    return redirect(url_for("standards.suggest", framework_id=framework_id, band=band), 303)


@bp.post("/standards/frameworks/<int:framework_id>/alignments/carried")
def accept_carried(framework_id: int) -> ResponseReturnValue:
    """Accept all that an exact match or the same code carries over."""
    session = db()
    row = standards.load_framework(session, me().school_id, framework_id)
    band = request.form.get("band", "")
    alignments.band_words(band)
    try:
        count = alignments.accept_carried(
            session,
            me().school_id,
            row,
            band,
            request.form.get("reason", "")[:500],
            (me().name, now_here()),
        )
    except (ValueError, Missing) as error:
        session.rollback()
        return _page(framework_id, band, str(error)), 422
    session.commit()
    flash(f"{count} alignments carried over.")
    return redirect(url_for("standards.suggest", framework_id=framework_id, band=band), 303)
