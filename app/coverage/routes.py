"""Which standards are introduced, practised and assessed; every cell opens its evidence."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.coverage.forms import CellForm, ReviewForm
from app.models import Review, Role, Section
from app.store import Missing, sections
from app.store.standard import section_coverage
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.request_session import db

bp = Blueprint("coverage", __name__)


def _reviews() -> bool:
    return me().role in (Role.DEPARTMENT_HEAD, Role.ADMINISTRATOR)


@bp.get("/sections/<key>/coverage")
def section(key: str) -> ResponseReturnValue:
    """Standard by week: gaps first, then the table."""
    return _section_page(key, ReviewForm(formdata=None))


def _section_page(key: str, form: ReviewForm, unanswered: tuple[int, str] = (0, "")) -> str:
    row = sections.load_section(db(), me(), key)
    facts = section_coverage.section_facts(db(), row, today_here())
    reviews = section_coverage.list_reviews(db(), row)
    on_standards: dict[int, int] = {}
    for review in reviews:
        if review.standard_id is not None:
            on_standards[review.standard_id] = on_standards.get(review.standard_id, 0) + 1
    required = [item for item in facts.coverage.standards.values() if item.required]
    others = [item for item in facts.coverage.standards.values() if not item.required]
    return render_template(
        "coverage/section.html",
        section=row,
        facts=facts,
        required=required,
        others=others,
        notices=sorted(
            {
                facts.standards[item.standard].framework.notice
                for item in (*required, *others)
                if item.standard in facts.standards
            }
            - {""}
        ),
        reviews=reviews,
        on_standards=on_standards,
        approved=section_coverage.last_approval(facts, reviews),
        form=form,
        heads=_reviews(),
        mine=row.teacher_id == me().id,
        today=today_here(),
        unanswered=unanswered,
    )


@bp.get("/sections/<key>/coverage/<path:code>")
def evidence(key: str, code: str) -> ResponseReturnValue:
    """Everything that bears on one standard in this section, or in one week of it."""
    row = sections.load_section(db(), me(), key)
    return _evidence_page(row, code, request.args.get("week", type=int), CellForm(formdata=None))


def _evidence_page(row: Section, code: str, week: int | None, form: CellForm) -> str:
    facts = section_coverage.section_facts(db(), row, today_here())
    if code not in facts.standards:
        raise Missing(f"standard {code}")
    standard = facts.standards[code]
    item = section_coverage.standing(facts, code)
    return render_template(
        "coverage/evidence.html",
        section=row,
        item=item,
        standard=standard,
        week=week,
        shown=section_coverage.grouped(e for e in item.evidence if week is None or e.week == week),
        groups=section_coverage.subgroups(facts, item),
        gaps=[gap for gap in facts.coverage.gaps if gap.standard == code],
        reviews=[
            review
            for review in section_coverage.list_reviews(db(), row, standard)
            if week is None or review.week in (None, week)
        ],
        form=form,
        heads=_reviews(),
        mine=row.teacher_id == me().id,
        unanswered=(0, ""),
    )


@bp.get("/sections/<key>/losses")
def losses(key: str) -> ResponseReturnValue:
    """What falls back if a phase is cut, or two weeks go."""
    row = sections.load_section(db(), me(), key)
    facts = section_coverage.section_facts(db(), row, today_here())
    phases = [phase.key for phase in row.build.phases]
    phase = request.args.get("phase", "")
    week = request.args.get("week", 0, type=int)
    weeks = (week, week + 1) if week in facts.weeks else ()
    chosen = (phase,) if phase in phases else ()
    found = section_coverage.losses(facts, phases=chosen, weeks=weeks) if chosen or weeks else ()
    wanted = {item.standard for item in facts.coverage.standards.values() if item.required}
    return render_template(
        "coverage/losses.html",
        section=row,
        facts=facts,
        phase=phase,
        week=week,
        asked=bool(chosen or weeks),
        lost=sorted(found, key=lambda loss: loss.standard not in wanted),
        wanted=wanted,
    )


# --- reviews -------------------------------------------------------------------------------------


@bp.post("/sections/<key>/coverage/reviews")
def add_review(key: str) -> ResponseReturnValue:
    """A head comments, asks for a change, or approves this version of the coverage."""
    session = db()
    row = sections.load_section(session, me(), key)
    if not _reviews():
        raise Missing("review")
    form = ReviewForm()
    if not form.validate():
        return _section_page(key, form), 422
    facts = section_coverage.section_facts(session, row, today_here())
    approval = form.kind.data == "approval"
    session.add(
        Review(
            section_id=row.id,
            standard_id=None,
            week=None,
            kind=form.kind.data or "comment",
            body=form.body.data or "",
            author=me().name,
            created_at=now_here(),
            approved=section_coverage.snapshot_of(facts) if approval else None,
        )
    )
    session.commit()
    flash("Recorded; the teacher sees it on this page.")
    return redirect(url_for("coverage.section", key=key), 303)


@bp.post("/sections/<key>/coverage/<path:code>/reviews")
def add_cell_review(key: str, code: str) -> ResponseReturnValue:
    """A head comments on one standard, or on one week of it."""
    session = db()
    row = sections.load_section(session, me(), key)
    if not _reviews():
        raise Missing("review")
    form = CellForm()
    given = form.week.data or ""
    week = int(given) if given.isdecimal() and len(given) < 4 else None
    facts = section_coverage.section_facts(session, row, today_here())
    if code not in facts.standards:
        raise Missing(f"standard {code}")
    if not form.validate():
        return _evidence_page(row, code, week, form), 422
    session.add(
        Review(
            section_id=row.id,
            standard_id=facts.standards[code].id,
            week=week if week in facts.weeks else None,
            kind=form.kind.data or "comment",
            body=form.body.data or "",
            author=me().name,
            created_at=now_here(),
        )
    )
    session.commit()
    flash("Recorded; the teacher sees it here and on the coverage page.")
    return redirect(url_for("coverage.evidence", key=key, code=code, week=week), 303)


@bp.post("/sections/<key>/coverage/reviews/<int:review_id>/answer")
def answer_review(key: str, review_id: int) -> ResponseReturnValue:
    """The teacher answers a comment or request."""
    session = db()
    row = sections.load_own_section(session, me(), key)
    for review in section_coverage.list_reviews(session, row):
        if review.id == review_id:
            text = request.form.get("answer", "").strip()[:2000]
            if not text:
                wrong = (review_id, "Write an answer.")
                return _section_page(key, ReviewForm(formdata=None), wrong), 422
            review.answer, review.answered_at = text, now_here()
            session.commit()
            return redirect(url_for("coverage.section", key=key), 303)
    raise Missing("review")
