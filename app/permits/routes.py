"""Sign-offs: who may be at which station, the school's own rules, and the log that proves it."""

import datetime as dt

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.quantities import plain_number
from app.interchange.evidence_export import sign_offs_csv
from app.models import PermitType, Role, SchoolRule, Section, Step, Student
from app.store import Missing, library, sections
from app.store.classroom import sign_offs
from app.web.access import for_roles, me
from app.web.clock import today_here
from app.web.downloads import send
from app.web.request_session import db

bp = Blueprint("permits", __name__)

PARTS = {
    "lesson": "Lesson",
    "test": "Written test",
    "check-out": "Observed check-out",
    "suspension": "Suspend",
    "reinstatement": "Reinstate",
}
LOGGED = {
    **PARTS,
    "suspension": "Suspended",
    "reinstatement": "Reinstated",
    "attempt": "Written test, not passed",
}
HIGHEST_GRADE, HIGHEST_AGE = 13, 25
LONGEST_NAME = 80


@bp.get("/sections/<key>/sign-offs")
def log(key: str) -> ResponseReturnValue:
    """The wall list: students down, permits across; below it the form and the log."""
    return _page(sections.load_section(db(), me(), key))


def _page(section: Section, wrong: tuple[str, ...] = ()) -> str:
    session = db()
    kinds = sign_offs.permits_of(session, section)
    asked = sign_offs.asked_by_build(session, section)
    return render_template(
        "permits/log.html",
        section=section,
        students=[s for s in section.students if s.enrolled(today_here())],
        permits={key: kind for key, kind in kinds.items() if key in asked},
        states=sign_offs.sign_off_states(session, section, on=today_here()),
        rows=sign_offs.sign_off_log(session, section),
        titles={key: kind.title for key, kind in kinds.items()},
        rules=sign_offs.rules_of(session, section.course.department.school_id),
        parts=PARTS,
        logged=LOGGED,
        forms=sign_offs.FORMS,
        mine=sections.may_change(me(), section),
        wrong=wrong,
        given=request.form,
        longest=LONGEST_NAME,
        today=today_here(),
        nothing=sign_offs.NOTHING,
    )


@bp.post("/sections/<key>/sign-offs")
def record(key: str) -> ResponseReturnValue:
    """Record a part of a permit for the students chosen."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    codes = set(request.form.getlist("students"))
    permit = request.form.get("permit", "")
    students = [student for student in section.students if student.code in codes]
    wrong = []
    if not students:
        wrong.append("Choose at least one student.")
    if permit not in sign_offs.permits_of(session, section):
        wrong.append("Choose what the sign-off is for.")
    part = _part_given(wrong)
    kept = []
    for student in () if wrong else students:
        try:
            kept.append(sign_offs.record_sign_off(session, student, permit, part))
        except ValueError as error:
            wrong.append(str(error))
    if wrong:
        session.rollback()
        return _page(sections.load_own_section(session, me(), key), tuple(wrong)), 422
    session.commit()
    if any(row.part == "attempt" for row in kept):
        flash(
            "Recorded as not passed: the written test counts at 100 % only. Teach the missed "
            "items again and use the other form.",
            "refused",
        )
    else:
        who = ", ".join(student.code for student in students)
        done = part.part in ("suspension", "reinstatement")
        then = _what_then(part.part, permit, students)
        flash(f"{LOGGED[part.part]}{':' if done else ' recorded for'} {who}.{then}")
    return redirect(url_for("permits.log", key=key), 303)


def _what_then(part: str, permit: str, students: list[Student]) -> str:
    """What a suspension asks next, and a check-out of somebody who is suspended."""
    if part == "suspension":
        return (
            " Plan again, so that the plan waits for the re-check; reinstating needs a check-out "
            "observed from that day on."
        )
    if part != "check-out":
        return ""
    states = sign_offs.sign_off_states(db(), students[0].section, on=today_here())
    still = [item.code for item in students if states[item.code][permit].suspended]
    return f" Still suspended: {', '.join(still)}; reinstate them now." if still else ""


def _part_given(wrong: list[str]) -> sign_offs.SignOffPart:
    """The part as the form gives it; what cannot be read is added to `wrong`."""
    given = request.form
    part = given.get("part", "")
    if part not in PARTS:
        wrong.append("Choose which part is done.")
    date = today_here()
    if given.get("date", "").strip():
        try:
            date = dt.date.fromisoformat(given["date"].strip())
        except ValueError:
            wrong.append("Enter the date as year-month-day, such as 2027-03-01.")
        if date > today_here():
            wrong.append(
                f"{date.isoformat()} has not come yet on this machine’s clock "
                f"({today_here().isoformat()}); correct the date, or the clock."
            )
    score = None
    if part == "test":
        try:
            score = plain_number(given.get("score", "").rstrip("% "))
        except ValueError:
            wrong.append("Enter the score as a percentage from 0 to 100.")
    aloud = sign_offs.READ_ALOUD if given.get("read-aloud") else ""
    return sign_offs.SignOffPart(
        part=part,
        date=date,
        person=_observer(wrong),
        test_version=f"{given.get('version', '')}{aloud}",
        score=score,
        note=given.get("note", ""),
    )


def _observer(wrong: list[str]) -> str:
    """Who taught, tested or observed, as typed; a form without the field means its sender."""
    name = request.form.get("person", me().name).strip()
    if not name:
        wrong.append("Enter who observed it.")
    elif len(name) > LONGEST_NAME:
        wrong.append(
            f"Observed by: enter at most {LONGEST_NAME} characters; these are {len(name)}."
        )
    return name


@bp.get("/sections/<key>/sign-offs/entries/<int:entry_id>")
def show_entry(key: str, entry_id: int) -> ResponseReturnValue:
    """One entry of the log, to be struck out if it is wrong."""
    return _entry_page(sections.load_own_section(db(), me(), key), entry_id)


def _entry_page(section: Section, entry_id: int, wrong: str = "") -> str:
    row = sign_offs.load_entry(db(), section, entry_id)
    return render_template(
        "permits/entry.html",
        section=section,
        row=row,
        title=_title(section, row.permit),
        logged=LOGGED,
        longest=sign_offs.LONGEST_REASON,
        wrong=wrong,
        given=request.form,
    )


def _title(section: Section, permit: str) -> str:
    kind = sign_offs.permits_of(db(), section).get(permit)
    return kind.title if kind is not None else permit


@bp.post("/sections/<key>/sign-offs/entries/<int:entry_id>")
def strike_out(key: str, entry_id: int) -> ResponseReturnValue:
    """Strike out a wrong entry; say what the student is signed off for without it."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    row = sign_offs.load_entry(session, section, entry_id)
    reason = request.form.get("reason", "")
    try:
        sign_offs.strike_out(session, row, by=me().name, on=today_here(), reason=reason)
    except ValueError as error:
        session.rollback()
        section = sections.load_own_section(session, me(), key)
        return _entry_page(section, entry_id, str(error)), 422
    states = sign_offs.sign_off_states(session, section, on=today_here())
    state = states.get(row.student.code, {}).get(row.permit, sign_offs.NOTHING)
    title, code = _title(section, row.permit), row.student.code
    session.commit()
    flash(
        f"The entry is struck out. {code} is signed off for {title} without it."
        if state.signed_off
        else f"The entry is struck out. {code} is not signed off for {title}: {state.why_not}. "
        "Record what is right, and plan again if the team needs the station."
    )
    return redirect(url_for("permits.log", key=key) + "#log", 303)


@bp.get("/sections/<key>/sign-offs/stations/<permit>")
def station(key: str, permit: str) -> ResponseReturnValue:
    """Go or no-go at a station: who is signed off today, and what the others lack."""
    session = db()
    section = sections.load_section(session, me(), key)
    kind = sign_offs.permits_of(session, section).get(permit)
    if kind is None:
        raise Missing(f"permit {permit}")
    states = sign_offs.sign_off_states(session, section, on=today_here())
    students = [s for s in section.students if s.enrolled(today_here())]
    found = {
        student: states.get(student.code, {}).get(permit, sign_offs.NOTHING) for student in students
    }
    steps = [
        step for step in sections.load_steps(session, section.build_id) if step.permit == permit
    ]
    stations = [item for item in section.room.stations if item.permit == permit]
    return render_template(
        "permits/station.html",
        section=section,
        permit=kind,
        stations=stations,
        go=[(student, state) for student, state in found.items() if state.signed_off],
        stop=[(student, state) for student, state in found.items() if not state.signed_off],
        cautions=_cautions(steps),
        protection=tuple(dict.fromkeys(item for step in steps for item in step.protection)),
        rule=sign_offs.rules_of(session, section.course.department.school_id).get(permit),
        today=today_here(),
    )


def _cautions(steps: list[Step]) -> list[str]:
    """Each caution of the steps at a station once."""
    found = [caution["text"] for step in steps for caution in step.cautions or ()]
    return list(dict.fromkeys(found or [item for step in steps for item in step.hazards]))


@bp.get("/sections/<key>/sign-offs.csv")
def export(key: str) -> ResponseReturnValue:
    """The log as CSV; cells that could be read as formulas are made text."""
    section = sections.load_section(db(), me(), key)
    return send(sign_offs_csv(db(), section), f"{key}-sign-offs.csv")


# --- the school's own rules --------------------------------------------------------------------


@bp.get("/sign-off-rules")
def show_rules() -> ResponseReturnValue:
    """From which grade or age the school lets students work at each station."""
    rows = sign_offs.rules_of(db(), me().school_id)
    return _rules_page(
        {
            key: {
                "grade": row.lowest_grade if row.lowest_grade is not None else "",
                "age": row.lowest_age if row.lowest_age is not None else "",
                "rule": row.rule,
            }
            for key, row in rows.items()
        }
    )


def _rules_page(values: dict[str, dict[str, object]], wrong: tuple[str, ...] = ()) -> str:
    return render_template(
        "permits/rules.html",
        kinds=library.kinds(db(), PermitType, me().school_id),
        values=values,
        wrong=wrong,
        editable=me().role is not Role.TEACHER,
    )


@bp.post("/sign-off-rules")
@for_roles(Role.DEPARTMENT_HEAD, Role.WORKSHOP_LEAD)
def save_rules() -> ResponseReturnValue:
    """Save the school's own rules."""
    session = db()
    wrong: list[str] = []
    rows: list[SchoolRule] = []
    values: dict[str, dict[str, object]] = {}
    for key, kind in library.kinds(session, PermitType, me().school_id).items():
        given = {name: request.form.get(f"{name}-{key}", "") for name in ("grade", "age", "rule")}
        values[key] = dict(given)
        rows.append(
            SchoolRule(
                permit=key,
                lowest_grade=_whole(given["grade"], f"{kind.title}, grade", HIGHEST_GRADE, wrong),
                lowest_age=_whole(given["age"], f"{kind.title}, age", HIGHEST_AGE, wrong),
                rule=given["rule"].strip()[:500],
            )
        )
    if wrong:
        session.rollback()
        return _rules_page(values, tuple(wrong)), 422
    sign_offs.save_rules(session, me().school, rows)
    session.commit()
    flash("The school’s rules are saved; sign-offs follow them from now on.")
    return redirect(url_for("permits.show_rules"), 303)


def _whole(text: str, name: str, highest: int, wrong: list[str]) -> int | None:
    plain = text.strip()
    if not plain:
        return None
    if not (plain.isascii() and plain.isdecimal() and int(plain) <= highest):
        wrong.append(f"{name}: enter a whole number from 0 to {highest}, or leave it empty.")
        return None
    return int(plain)
