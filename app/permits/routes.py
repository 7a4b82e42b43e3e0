"""Sign-offs: who may be at which station, and the log that proves it."""

import csv
import io

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.models import Section
from app.store import Missing, evidence, sections
from app.web.access import me
from app.web.clock import today_here
from app.web.database import db

bp = Blueprint("permits", __name__)

PARTS = {
    "lesson": "Lesson",
    "test": "Written test",
    "check-out": "Observed check-out",
    "suspension": "Suspend",
    "reinstatement": "Reinstate",
}


@bp.get("/sections/<key>/sign-offs")
def log(key: str) -> ResponseReturnValue:
    """The wall list: students down, permits across; below it the form and the log."""
    return _page(sections.load_section(db(), me(), key))


def _page(section: Section, wrong: tuple[str, ...] = ()) -> str:
    session = db()
    titles = evidence.permit_titles(session)
    asked = {step.permit for step in sections.load_steps(session, section.build_id) if step.permit}
    return render_template(
        "permits/log.html",
        section=section,
        permits={key: title for key, title in titles.items() if key in asked},
        states=evidence.sign_off_states(session, section),
        rows=evidence.sign_off_log(session, section),
        titles=titles,
        parts=PARTS,
        mine=section.teacher_id == me().id,
        wrong=wrong,
        given=request.form,
        today=today_here(),
    )


@bp.post("/sections/<key>/sign-offs")
def record(key: str) -> ResponseReturnValue:
    """Record a part of a permit for the students chosen."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    codes = set(request.form.getlist("students"))
    permit, part = request.form.get("permit", ""), request.form.get("part", "")
    students = [student for student in section.students if student.code in codes]
    wrong = []
    if not students:
        wrong.append("Choose at least one student.")
    if permit not in evidence.permit_titles(session):
        wrong.append("Choose what the sign-off is for.")
    if part not in PARTS:
        wrong.append("Choose which part is done.")
    if not wrong:
        score = request.form.get("score", type=float) if part == "test" else None
        for student in students:
            try:
                evidence.record_sign_off(
                    session,
                    student,
                    permit,
                    part,
                    date=today_here(),
                    person=me().name,
                    test_version=request.form.get("version", "")[:40] if part == "test" else "",
                    score=score,
                    note=request.form.get("note", ""),
                )
            except ValueError as error:
                wrong.append(str(error))
    if wrong:
        session.rollback()
        return _page(sections.load_own_section(session, me(), key), tuple(wrong)), 422
    session.commit()
    flash(f"{PARTS[part]} recorded for {', '.join(s.code for s in students)}.")
    return redirect(url_for("permits.log", key=key), 303)


@bp.get("/sections/<key>/sign-offs.csv")
def export(key: str) -> ResponseReturnValue:
    """The log as CSV; cells that could be read as formulas are made text."""
    section = sections.load_section(db(), me(), key)
    if section.teacher_id != me().id and me().role == "workshop-lead":
        raise Missing("sign-offs")
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(
        ["date", "student", "permit", "part", "test version", "score", "person", "note"]
    )
    for row in evidence.sign_off_log(db(), section):
        cells = [
            row.date.isoformat(),
            row.student.code,
            row.permit,
            row.part,
            row.test_version,
            "" if row.score is None else f"{row.score:g}",
            row.person,
            row.note,
        ]
        writer.writerow(
            [f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell for cell in cells]
        )
    return Response(
        out.getvalue(),
        mimetype="text/csv",
        headers={"Content-Disposition": f'attachment; filename="{key}-sign-offs.csv"'},
    )
