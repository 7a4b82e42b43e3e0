"""Which standards are introduced, practised and assessed; every cell opens its evidence."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.coverage.forms import ReviewForm
from app.models import Review, Role
from app.store import Missing, coverage, people, sections
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.database import db

bp = Blueprint("coverage", __name__)


@bp.get("/sections/<key>/coverage")
def section(key: str) -> ResponseReturnValue:
    """Standard by week: gaps first, then the table."""
    return _section_page(key, ReviewForm(formdata=None))


def _section_page(key: str, form: ReviewForm) -> str:
    row = sections.load_section(db(), me(), key)
    facts = coverage.section_facts(db(), row)
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
        reviews=coverage.list_reviews(db(), row),
        form=form,
        heads=me().role in (Role.DEPARTMENT_HEAD, Role.ADMINISTRATOR),
        mine=row.teacher_id == me().id,
        today=today_here(),
    )


@bp.get("/sections/<key>/coverage/<path:code>")
def evidence(key: str, code: str) -> ResponseReturnValue:
    """Everything that bears on one standard in this section."""
    row = sections.load_section(db(), me(), key)
    facts = coverage.section_facts(db(), row)
    item = facts.coverage.standards.get(code)
    if item is None:
        raise Missing(f"standard {code}")
    return render_template(
        "coverage/evidence.html",
        section=row,
        item=item,
        standard=facts.standards[code],
        week=request.args.get("week", type=int),
        gaps=[gap for gap in facts.coverage.gaps if gap.standard == code],
    )


@bp.post("/sections/<key>/coverage/reviews")
def add_review(key: str) -> ResponseReturnValue:
    """A head comments, asks for a change, or approves this version of the coverage."""
    session = db()
    row = sections.load_section(session, me(), key)
    if me().role not in (Role.DEPARTMENT_HEAD, Role.ADMINISTRATOR):
        raise Missing("review")
    form = ReviewForm()
    if not form.validate():
        return _section_page(key, form), 422
    facts = coverage.section_facts(session, row)
    approved = None
    if form.kind.data == "approval":
        approved = {
            "plan": facts.plan.id if facts.plan else None,
            "standards": {
                code: [item.introduced, item.practised, item.assessed, item.partial]
                for code, item in facts.coverage.standards.items()
            },
            "gaps": [gap.sentence for gap in facts.coverage.gaps],
        }
    session.add(
        Review(
            section_id=row.id,
            standard_id=None,
            kind=form.kind.data or "comment",
            body=form.body.data or "",
            author=me().name,
            created_at=now_here(),
            approved=approved,
        )
    )
    session.commit()
    flash("Recorded; the teacher sees it on this page.")
    return redirect(url_for("coverage.section", key=key), 303)


@bp.post("/sections/<key>/coverage/reviews/<int:review_id>/answer")
def answer_review(key: str, review_id: int) -> ResponseReturnValue:
    """The teacher answers a comment or request."""
    session = db()
    row = sections.load_own_section(session, me(), key)
    for review in coverage.list_reviews(session, row):
        if review.id == review_id:
            review.answer = request.form.get("answer", "").strip()[:2000]
            session.commit()
            return redirect(url_for("coverage.section", key=key), 303)
    raise Missing("review")


@bp.get("/departments/<key>/coverage")
def department(key: str) -> ResponseReturnValue:
    """The department's sections side by side."""
    row = people.load_department(db(), me(), key)
    found = [
        coverage.section_facts(db(), item) for item in coverage.department_sections(db(), me(), row)
    ]
    codes = sorted(
        {
            code
            for facts in found
            for code, item in facts.coverage.standards.items()
            if item.required or item.evidence
        },
        key=lambda code: (not any(_is_required(facts, code) for facts in found), code),
    )
    return render_template(
        "coverage/department.html",
        department=row,
        found=found,
        codes=codes,
        required={code for code in codes if any(_is_required(facts, code) for facts in found)},
    )


def _is_required(facts: coverage.SectionFacts, code: str) -> bool:
    item = facts.coverage.standards.get(code)
    return item is not None and item.required
