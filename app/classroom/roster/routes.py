"""The class list: from a file or typed, names apart, moves, leaving, erasing; and making teams."""

import datetime as dt
import json
from dataclasses import dataclass

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.classroom.blueprint import bp
from app.domain.classroom.roster_changes import keeping, read_grade
from app.domain.classroom.team_making import PACES, Teams, Wishes, make_teams, read_pairs
from app.interchange.evidence_export import student_record
from app.interchange.files import BadFile
from app.interchange.roster_files import ClassList, plain_csv, read_bytes, read_text
from app.models import Section, Student
from app.store import sections
from app.store.classroom import roster, sign_offs
from app.web.access import me
from app.web.clock import today_here
from app.web.downloads import send
from app.web.formatters import plural
from app.web.request_session import db

LEAVE_WORK = "Make these teams all the same"


@dataclass(frozen=True)
class _Shown:
    """What a page shows beside the list: a preview, teams proposed, or why a form was refused."""

    wrong: tuple[str, ...] = ()
    preview: roster.RosterChange | None = None
    given: ClassList | None = None
    names: bool = False
    teams: Teams | None = None
    placings: tuple[roster.Placing, ...] = ()
    left_behind: tuple[str, ...] = ()


def _own(key: str) -> Section:
    return sections.load_own_section(db(), me(), key)


def _page(section: Section, shown: _Shown | None = None) -> str:
    session = db()
    shown = shown or _Shown()
    mine = sections.may_change(me(), section)
    kinds = sign_offs.permits_of(session, section)
    asked = sign_offs.asked_by_build(session, section)
    return render_template(
        "classroom/roster.html",
        section=section,
        students=section.students,
        teams=sections.load_teams(session, section),
        empty_teams=roster.empty_teams(session, section) if mine else {},
        names=roster.names_of(session, section) if mine else {},
        mine=mine,
        keep=keeping(section.keep_until, today_here()),
        today=today_here(),
        paces=PACES,
        permits={key: kind.title for key, kind in kinds.items() if key in asked},
        leave_work=LEAVE_WORK,
        shown=shown,
        rows=plain_csv(shown.given.entries) if shown.given else "",
        given=request.form,
    )


def _refuse(key: str, *sentences: str) -> ResponseReturnValue:
    db().rollback()
    return _page(_own(key), _Shown(wrong=sentences)), 422


def _back(key: str, anchor: str = "") -> ResponseReturnValue:
    return redirect(url_for("classroom.show_roster", key=key) + anchor, 303)


@bp.get("/sections/<key>/roster")
def show_roster(key: str) -> ResponseReturnValue:
    """Who is in the class and in which team; lists in, teams made, records out."""
    return _page(sections.load_section(db(), me(), key))


@bp.post("/sections/<key>/roster/preview")
def preview_roster(key: str) -> ResponseReturnValue:
    """Read a file or typed codes and say what they would change; nothing is saved yet."""
    section = _own(key)
    keep_names = bool(request.form.get("names"))
    try:
        found = _list_given(names=keep_names)
    except BadFile as error:
        return _refuse(key, *(str(mistake) for mistake in error.mistakes))
    change = roster.import_list(
        db(), section, found.entries, today=today_here(), whole=found.whole, preview=True
    )
    return _page(section, _Shown(preview=change, given=found, names=keep_names))


def _list_given(*, names: bool) -> ClassList:
    upload = request.files.get("file")
    if upload is not None and upload.filename:
        return read_bytes(
            upload.read(), upload.filename, wanted=request.form.get("class", ""), names=names
        )
    return read_text(request.form.get("codes", ""), "the typed list", names=names)


@bp.post("/sections/<key>/roster")
def import_roster(key: str) -> ResponseReturnValue:
    """Take over a list that was previewed."""
    session = db()
    section = _own(key)
    try:
        found = read_text(
            request.form.get("rows", ""), "the list", names=bool(request.form.get("names"))
        )
    except BadFile as error:
        return _refuse(key, *(str(mistake) for mistake in error.mistakes))
    change = roster.import_list(
        session,
        section,
        found.entries,
        today=today_here(),
        whole=bool(request.form.get("whole")),
    )
    session.commit()
    what = change.comparison
    added, changed = len(what.added), len(what.changed) + len(what.gone)
    flash(f"The list is taken over: {added} added, {changed} changed.")
    return _back(key)


@bp.get("/sections/<key>/roster/students/<int:student_id>")
def show_student(key: str, student_id: int) -> ResponseReturnValue:
    """One student: team, grade, entering and leaving; everything on record out, or erased."""
    section = _own(key)
    return _student_page(section, roster.load_student(db(), section, student_id))


def _student_page(section: Section, student: Student, *wrong: str) -> str:
    session = db()
    return render_template(
        "classroom/student.html",
        section=section,
        student=student,
        teams=section.teams,
        names=roster.names_of(session, section),
        wrong=wrong,
        given=request.form,
        new_team=roster.new_team(section, request.form.get("team", "")),
    )


def _refuse_student(key: str, student_id: int, sentence: str) -> ResponseReturnValue:
    """The student's page again with what was entered; nothing of it is saved."""
    session = db()
    session.rollback()
    section = _own(key)
    student = roster.load_student(session, section, student_id)
    return _student_page(section, student, sentence), 422


@bp.post("/sections/<key>/roster/students/<int:student_id>")
def change_student(key: str, student_id: int) -> ResponseReturnValue:
    """Move a student to another team, or note grade, entering and leaving."""
    session = db()
    section = _own(key)
    student = roster.load_student(session, section, student_id)
    given = request.form
    try:
        if "team" in given:
            # The tick belongs to the code it was shown with.
            made = given.get("new-team", "") == roster.new_team(section, given["team"])
            roster.move(session, section, student, given["team"], make=made)
        if "grade" in given:
            student.grade = _grade_given(given["grade"])
        if "entered" in given or "left" in given:
            roster.set_dates(student, _date("entered", student), _date("left", student))
        if "name" in given:
            roster.set_name(session, student, given["name"])
    except ValueError as error:
        return _refuse_student(key, student_id, str(error))
    session.commit()
    flash(f"{student.code} is saved. Plan again if a team has changed.")
    return _back(key, f"#s{student_id}")


def _grade_given(text: str) -> str:
    grade = read_grade(text)
    if text.strip() and not grade:
        raise ValueError(f"“{text.strip()[:20]}” is no grade; write K or a number from 1 to 13.")
    return grade


def _date(name: str, student: Student) -> dt.date | None:
    text = request.form.get(name, "").strip()
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError(
            f"{student.code}, {name}: “{text[:20]}” is no date; write 2027-03-01."
        ) from None


@bp.get("/sections/<key>/roster/students/<int:student_id>.json")
def export_student(key: str, student_id: int) -> ResponseReturnValue:
    """Everything on record about one student, as JSON."""
    section = sections.load_section(db(), me(), key)
    if not sections.may_change(me(), section):
        section = _own(key)
    student = roster.load_student(db(), section, student_id)
    text = json.dumps(student_record(db(), student), indent=2, ensure_ascii=False)
    return send(text, f"{key}-student-{student_id}.json")


@bp.post("/sections/<key>/roster/students/<int:student_id>/erase")
def erase_student(key: str, student_id: int) -> ResponseReturnValue:
    """Erase a student and every personal record; the code must be typed to confirm."""
    session = db()
    section = _own(key)
    student = roster.load_student(session, section, student_id)
    code = student.code
    if request.form.get("confirm", "").strip().casefold() != code.casefold():
        sentence = f"To erase {code} and every record of it, type the code {code}."
        return _refuse_student(key, student_id, sentence)
    roster.erase_student(session, student)
    session.commit()
    flash(f"{code} and every record of it are erased.")
    return _back(key)


@bp.post("/sections/<key>/roster/names/remove")
def remove_names(key: str) -> ResponseReturnValue:
    """Remove every name by one act; codes stay."""
    session = db()
    count = roster.remove_names(session, _own(key))
    session.commit()
    flash(f"{plural(count, 'name')} removed; codes stay.")
    return _back(key)


@bp.post("/sections/<key>/roster/keep")
def keep_until(key: str) -> ResponseReturnValue:
    """Set until when the records of the section are kept."""
    session = db()
    section = _own(key)
    text = request.form.get("keep-until", "").strip()
    try:
        section.keep_until = dt.date.fromisoformat(text) if text else None
    except ValueError:
        return _refuse(key, "Keep until: enter a date as year-month-day, such as 2027-08-31.")
    session.commit()
    flash("The date is saved.")
    return _back(key)


@bp.post("/sections/<key>/roster/erase")
def erase_all(key: str) -> ResponseReturnValue:
    """Erase all students of a section after its records need not be kept any longer."""
    session = db()
    section = _own(key)
    if not keeping(section.keep_until, today_here()):
        return _refuse(key, "Records can be erased together once their date is past; set it first.")
    if request.form.get("confirm", "").strip() != section.key:
        return _refuse(
            key, f"To erase every student’s records, type the section’s key {section.key}."
        )
    count = roster.erase_all(session, section)
    session.commit()
    flash(f"The records of {count} students are erased.")
    return _back(key)


# --- making teams ------------------------------------------------------------------------------


def _movable(section: Section) -> list[Student]:
    """Students the team maker may place: all, or only those without a team."""
    present = [student for student in section.students if student.enrolled(today_here())]
    if request.form.get("who") == "all":
        return present
    return [student for student in present if student.team_id is None]


@bp.post("/sections/<key>/roster/teams/preview")
def preview_teams(key: str) -> ResponseReturnValue:
    """Propose teams by size, pace, who is kept apart, and sign-offs; nothing is saved yet."""
    session = db()
    section = _own(key)
    given = request.form
    students = _movable(section)
    codes = [student.code for student in students]
    size = given.get("size", "").strip()
    try:
        if not size.isdecimal() or not 1 <= int(size) <= 8:
            raise ValueError("Students in a team: enter a number from 1 to 8.")  # noqa: TRY301
        if not students:
            raise ValueError("Every student has a team; choose to make all teams again.")  # noqa: TRY301
        wishes = Wishes(
            apart=read_pairs(given.get("apart", ""), codes),
            together=read_pairs(given.get("together", ""), codes),
            permits=frozenset(given.getlist("permits")),
        )
        paces = {code: PACES.get(given.get(f"pace-{code}", "even"), 0) for code in codes}
    except ValueError as error:
        return _refuse(key, str(error))
    people = roster.candidates(session, section, students, paces)
    return _proposal(section, make_teams(people, int(size), wishes))


def _proposal(section: Section, teams: Teams, *wrong: str) -> str:
    """The page with teams proposed, and what they would leave behind."""
    session = db()
    placings = roster.place_groups(session, section, teams.teams, today_here())
    left = roster.left_behind(session, section, placings, today_here())
    shown = _Shown(wrong=wrong, teams=teams, placings=tuple(placings), left_behind=tuple(left))
    return _page(section, shown)


@bp.post("/sections/<key>/roster/teams")
def use_teams(key: str) -> ResponseReturnValue:
    """Use the teams that were proposed."""
    session = db()
    section = _own(key)
    groups = [tuple(line.split()) for line in request.form.getlist("team") if line.strip()]
    if not groups:
        return _refuse(key, "Make teams first, then use them.")
    try:
        placings = roster.place_groups(session, section, groups, today_here())
    except ValueError as error:
        return _refuse(key, str(error))
    left = roster.left_behind(session, section, placings, today_here())
    if left and not request.form.get("leave-work"):
        sentence = f"Tick “{LEAVE_WORK}” below, or leave the teams as they are."
        return _proposal(section, Teams(tuple(groups)), sentence), 422
    roster.assign_teams(session, section, placings)
    session.commit()
    flash(f"In use: {plural(len(placings), 'team')}. Plan again so that the plan knows them.")
    return _back(key)


@bp.post("/sections/<key>/roster/teams/<int:team_id>/remove")
def remove_team(key: str, team_id: int) -> ResponseReturnValue:
    """Remove a team that nobody is in and that has done nothing."""
    session = db()
    try:
        code = roster.remove_team(session, _own(key), team_id)
    except ValueError as error:
        return _refuse(key, str(error))
    session.commit()
    flash(f"Team {code} is removed. Plan again if the plan had it.")
    return _back(key)
