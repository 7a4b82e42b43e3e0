"""Setting up: school, terms, rooms, courses, sections and teams; the first page."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.scheduling import calendar
from app.interchange.closures import FoundDays, public_holidays, read_calendar
from app.models import MeetingState, Role, Section, Term
from app.sections.day_list import WORDS, read_blocks, read_days, write_days
from app.sections.forms import CourseForm, RequiredForm, RoomForm, RosterForm, SectionForm, TermForm
from app.store import accounts, library, sections
from app.store.plan import plans
from app.store.standard import standards
from app.web.access import for_roles, me
from app.web.clock import today_here
from app.web.fields import options
from app.web.request_session import db

bp = Blueprint("sections", __name__)

MOST_FOUND = 4000
DAY_KINDS = {
    "closed": "closed",
    "unplanned": "closed at short notice",
    "early-release": "early release",
    "assembly": "assembly",
    "testing": "testing",
    "delayed-start": "delayed start",
    "final-exam": "final examinations",
    "make-up": "make-up day",
}
SCHEDULE_FIELDS = ("regular", "early_release", "assembly", "testing", "two_hour_delay")


@bp.get("/")
def home() -> ResponseReturnValue:
    """My sections, or, while there is none, the way to the first one."""
    mine = sections.list_sections(db(), me())
    if not mine and me().role in (Role.ADMINISTRATOR, Role.TEACHER):
        return redirect(url_for("sections.show_school"))
    today = today_here()
    return render_template(
        "sections/home.html", cards=[_glance(section, today) for section in mine], today=today
    )


def _glance(section: Section, today: dt.date) -> dict[str, object]:
    meetings = sections.list_meetings(db(), section)
    held = [item for item in meetings if item.state is not MeetingState.LOST]
    taught = sum(item.state is MeetingState.TAUGHT for item in held)
    coming = next((item for item in held if item.state is MeetingState.PLANNED), None)
    return {
        "section": section,
        "meetings": len(held),
        "taught": taught,
        "next": coming,
        "plan": plans.current_plan(db(), section),
        "over": coming is None,
        "today": today,
    }


@bp.get("/school")
def show_school() -> ResponseReturnValue:
    """What this school has, and what is still missing before a plan can be made."""
    user = me()
    session = db()
    facts = {
        "departments": accounts.list_departments(session, user.school_id),
        "people": accounts.list_users(session, user.school_id),
        "terms": sections.list_terms(session, user.school_id),
        "rooms": accounts.list_rooms(session, user.school_id),
        "courses": sections.list_courses(session, user),
        "sections": sections.list_sections(session, user),
    }
    return render_template("sections/school.html", **facts)


# --- terms -------------------------------------------------------------------------------------


@bp.get("/terms/new")
def new_term() -> ResponseReturnValue:
    """A form for a term."""
    return render_template("sections/term_form.html", form=TermForm(), term=None)


@bp.post("/terms/new")
def add_term() -> ResponseReturnValue:
    """Create a term from its dates, holidays and list of other days."""
    session = db()
    form = TermForm()
    if form.validate():
        try:
            row = sections.create_term(session, me().school, _term_of(form))
        except calendar.CalendarError as error:
            form.refuse(*error.sentences)
        else:
            session.commit()
            return redirect(url_for("sections.show_term", term_id=row.id), 303)
    return render_template("sections/term_form.html", form=form, term=None), 422


def _term_of(form: TermForm) -> calendar.TermCalendar:
    """The term a valid form describes.

    Raises CalendarError.
    """
    assert form.first_day.data is not None  # noqa: S101 - validated
    assert form.last_day.data is not None  # noqa: S101
    term = calendar.TermCalendar(
        first_day=form.first_day.data,
        last_day=form.last_day.data,
        title=form.title.data or "",
        letters=tuple(form.letters.data or ""),
        letter_policy=calendar.LetterPolicy(form.letter_policy.data or "fixed"),
    )
    wrong = calendar.problems(term, calendar.MeetingPattern(ANY_BLOCK))
    if wrong:
        raise calendar.CalendarError(wrong)
    if form.holidays.data:
        term = calendar.amended(term, public_holidays("US", term.first_day, term.last_day))
    term = calendar.amended(term, read_days(form.days.data or ""))
    outside = [
        f"{item.date} lies outside the term; remove the line or change the term."
        for item in term.exceptions
        if not term.first_day <= item.date <= term.last_day
    ]
    if outside:
        raise calendar.CalendarError(outside)
    return term


# Whether a list of days makes sense is asked with a class that meets under every bell schedule.
ANY_BLOCK = (
    calendar.Block(start=dt.time(8), bells=tuple(calendar.BellTime(name, 45) for name in WORDS)),
)


@bp.get("/terms/<int:term_id>")
def show_term(term_id: int) -> ResponseReturnValue:
    """A term's school days and the days that differ."""
    row = sections.load_term(db(), me(), term_id)
    return _term_page(row, write_days(sections.term_value(row).exceptions))


def _term_page(
    row: Term, text: str, *, found: FoundDays | None = None, wrong: Sequence[str] = ()
) -> str:
    value = sections.term_value(row)
    return render_template(
        "sections/term.html",
        term=row,
        days=calendar.school_days(value),
        text=text,
        found=found,
        wrong=wrong,
        kinds=DAY_KINDS,
        words=WORDS,
    )


@bp.post("/terms/<int:term_id>")
def change_term_days(term_id: int) -> ResponseReturnValue:
    """Replace the list of days that differ and bring the sections' meetings in line."""
    session = db()
    row = sections.load_term(session, me(), term_id)
    text = "\n".join([request.form.get("days", ""), *_chosen_lines(request.form)]).strip()
    value = sections.term_value(row)
    try:
        changed = calendar.amended(replace(value, exceptions=()), read_days(text))
        calendar.meetings(changed, calendar.MeetingPattern(ANY_BLOCK))
    except calendar.CalendarError as error:
        return _term_page(row, text, wrong=error.sentences), 422
    sections.save_term_days(session, row, changed)
    session.refresh(row, ["days"])
    wrong = []
    for section in sections.list_sections_of_term(session, row):
        try:
            sections.save_meetings(session, section)
        except calendar.CalendarError as error:
            wrong += [f"{section.title}: {sentence}" for sentence in error.sentences]
    if wrong:
        session.rollback()
        return _term_page(sections.load_term(session, me(), term_id), text, wrong=wrong), 422
    session.commit()
    flash("The days are saved; meetings follow. Plan again where a plan is affected.")
    return redirect(url_for("sections.show_term", term_id=term_id), 303)


@bp.post("/terms/<int:term_id>/calendar")
def read_term_calendar(term_id: int) -> ResponseReturnValue:
    """Read an .ics file and show what it would change; nothing is saved yet."""
    row = sections.load_term(db(), me(), term_id)
    text = request.form.get("days") or write_days(sections.term_value(row).exceptions)
    file = request.files.get("calendar")
    if file is None or not file.filename:
        return _term_page(row, text, wrong=["Choose an .ics file first."]), 422
    try:
        found = read_calendar(file.read(), row.first_day, row.last_day)
    except ValueError as error:
        return _term_page(row, text, wrong=[str(error)]), 422
    return _term_page(row, text, found=found)


def _chosen_lines(form: Mapping[str, str]) -> Iterator[str]:
    """The days taken over from a calendar file, as lines of the list, weekends left out."""
    for number in range(MOST_FOUND):
        if f"found-{number}-first" not in form:
            return
        first, last, what, label = (
            form.get(f"found-{number}-{name}", "") for name in ("first", "last", "what", "label")
        )
        try:
            begin, end = dt.date.fromisoformat(first), dt.date.fromisoformat(last)
        except ValueError:
            continue
        for n in range(min((end - begin).days + 1, 400) if what in DAY_KINDS else 0):
            day = begin + dt.timedelta(days=n)
            if day.weekday() in calendar.MONDAY_TO_FRIDAY or what == "make-up":
                yield f"{day.isoformat()} {what} {' '.join(label.split())}".rstrip()


# --- rooms -------------------------------------------------------------------------------------


@bp.get("/rooms/new")
def new_room() -> ResponseReturnValue:
    """A form for a room."""
    return render_template("sections/room_form.html", form=RoomForm())


@bp.post("/rooms/new")
def add_room() -> ResponseReturnValue:
    """Create a room with the usual stations, fixtures and one teacher."""
    session = db()
    form = RoomForm()
    if not form.validate():
        return render_template("sections/room_form.html", form=form), 422
    room = accounts.create_room(session, me().school, form.title.data or "")
    session.commit()
    flash("The room has the usual stations for 24 to 26 students; change the numbers to yours.")
    return redirect(url_for("sections.show_room", room_id=room.id), 303)


@bp.get("/rooms/<int:room_id>")
def show_room(room_id: int) -> ResponseReturnValue:
    """A room's stations, fixtures and adults."""
    return render_template(
        "sections/room.html", room=accounts.load_room(db(), me(), room_id), wrong=()
    )


@bp.post("/rooms/<int:room_id>")
def change_room(room_id: int) -> ResponseReturnValue:
    """Save the numbers of places, fixtures and adults."""
    session = db()
    room = accounts.load_room(session, me(), room_id)
    wrong = []
    for kind, rows, name in (
        ("station", room.stations, "places"),
        ("fixture", room.fixtures, "count"),
    ):
        for row in rows:
            text = request.form.get(f"{kind}-{row.key}", str(getattr(row, name))).strip()
            if text.isdecimal() and int(text) <= 999:
                setattr(row, name, int(text))
            else:
                wrong.append(f"{row.title}: enter a whole number from 0 to 999, not “{text}”.")
    adults = request.form.get("qualified", "1").strip()
    if adults.isdecimal() and 0 <= int(adults) <= 9:
        accounts.set_qualified_adults(session, room, int(adults))
    else:
        wrong.append(f"Adults qualified for machines: enter 0 to 9, not “{adults}”.")
    if wrong:
        session.rollback()
        return render_template(
            "sections/room.html", room=accounts.load_room(session, me(), room_id), wrong=wrong
        ), 422
    session.commit()
    flash("The room is saved. Plans made before keep the old numbers until you plan again.")
    return redirect(url_for("sections.show_room", room_id=room_id), 303)


# --- courses -----------------------------------------------------------------------------------


@bp.get("/courses/new")
def new_course() -> ResponseReturnValue:
    """A form for a course."""
    return render_template("sections/course_form.html", form=_course_form())


def _course_form() -> CourseForm:
    form = CourseForm()
    departments = accounts.list_departments(db(), me().school_id)
    form.department.choices = options(
        (item.id, item.name) for item in departments if accounts.sees_department(me(), item.id)
    )
    return form


@bp.post("/courses/new")
def add_course() -> ResponseReturnValue:
    """Create a course."""
    session = db()
    form = _course_form()
    if form.validate():
        department = next(
            item
            for item in accounts.list_departments(session, me().school_id)
            if item.id == form.department.data
        )
        taken = {item.key for item in sections.list_courses(session, me())}
        if form.key.data in taken:
            form.refuse(f"There is already a course with the key {form.key.data}.")
        else:
            course = sections.create_course(
                session,
                department,
                key=form.key.data or "",
                title=form.title.data or "",
                band=form.band.data or "9-12",
            )
            session.commit()
            return redirect(url_for("sections.show_course", course_id=course.id), 303)
    return render_template("sections/course_form.html", form=form), 422


@bp.get("/courses/<int:course_id>")
def show_course(course_id: int) -> ResponseReturnValue:
    """A course's required standards, and the form to add some."""
    course = sections.load_course(db(), me(), course_id)
    return render_template(
        "sections/course.html",
        course=course,
        form=RequiredForm(formdata=None),
        offered=standards.offered(db(), course.band, me().school_id),
    )


@bp.post("/courses/<int:course_id>/standards")
def require(course_id: int) -> ResponseReturnValue:
    """Add required standards by their codes."""
    session = db()
    course = sections.load_course(session, me(), course_id)
    form = RequiredForm()
    if form.validate():
        wrong = []
        for line in (form.codes.data or "").splitlines():
            if line.strip():
                try:
                    code, by_date = standards.read_required(line)
                    found = standards.resolve(session, me().school_id, code)
                except ValueError as error:
                    wrong.append(str(error))
                else:
                    sections.require_standards(session, course, [found], by_date=by_date)
        if not wrong:
            session.commit()
            flash("The required standards are saved.")
            return redirect(url_for("sections.show_course", course_id=course_id), 303)
        form.refuse(*wrong)
        session.rollback()
        course = sections.load_course(session, me(), course_id)
    offered = standards.offered(session, course.band, me().school_id)
    return render_template("sections/course.html", course=course, form=form, offered=offered), 422


@bp.post("/courses/<int:course_id>/standards/<int:required_id>/drop")
def drop_required(course_id: int, required_id: int) -> ResponseReturnValue:
    """Require a standard no longer."""
    session = db()
    course = sections.load_course(session, me(), course_id)
    course.required[:] = [item for item in course.required if item.id != required_id]
    session.commit()
    return redirect(url_for("sections.show_course", course_id=course_id), 303)


# --- sections ----------------------------------------------------------------------------------


def _section_form() -> SectionForm:
    session, user = db(), me()
    form = SectionForm()
    form.course.choices = options((c.id, c.title) for c in sections.list_courses(session, user))
    form.term.choices = options(
        (t.id, t.title) for t in sections.list_terms(session, user.school_id)
    )
    form.room.choices = options(
        (r.id, r.title) for r in accounts.list_rooms(session, user.school_id)
    )
    form.build.choices = options(
        (b.id, f"{b.title}, version {b.version}")
        for b in library.list_builds(session, user.school_id)
    )
    teachers = [
        person
        for person in accounts.list_users(session, user.school_id)
        if person.role in (Role.TEACHER, Role.ADMINISTRATOR)
        and (user.role is Role.ADMINISTRATOR or person.id == user.id)
    ]
    form.teacher.choices = options((person.id, person.name) for person in teachers)
    return form


@bp.get("/sections/new")
@for_roles(Role.TEACHER)
def new_section() -> ResponseReturnValue:
    """A form for a section, filled with the defaults of a daily period."""
    return render_template("sections/section_form.html", form=_section_form())


@bp.post("/sections/new")
@for_roles(Role.TEACHER)
def add_section() -> ResponseReturnValue:
    """Create a section and its meetings."""
    session, user = db(), me()
    form = _section_form()
    if not form.validate():
        return render_template("sections/section_form.html", form=form), 422
    try:
        section = sections.create_section(
            session,
            _new_section(form),
            course=sections.load_course(session, user, form.course.data),
            term=sections.load_term(session, user, form.term.data),
            teacher=accounts.load_teacher(session, user, form.teacher.data),
            room=accounts.load_room(session, user, form.room.data),
            build=library.load_build(session, user.school_id, form.build.data),
        )
    except calendar.CalendarError as error:
        form.refuse(*error.sentences)
    except ValueError as error:
        form.refuse(str(error))
    else:
        session.commit()
        return redirect(url_for("sections.show_teams", key=section.key), 303)
    session.rollback()
    return render_template("sections/section_form.html", form=form), 422


def _new_section(form: SectionForm) -> sections.NewSection:
    pattern: dict[str, Any] = {"weekdays": form.weekdays.data}
    if form.letter.data:
        pattern["letters"] = [form.letter.data]
    if form.more_blocks.data:
        pattern["more_blocks"] = read_blocks(form.more_blocks.data)
    assert form.starts_at.data is not None  # noqa: S101 - validated
    return sections.NewSection(
        key=form.key.data or "",
        title=form.title.data or "",
        starts_at=form.starts_at.data,
        pattern=pattern,
        bells={**{name: form[name].data for name in SCHEDULE_FIELDS}, "final_exam": 0},
        opening_minutes=form.opening_minutes.data or 0,
        closing_minutes=form.closing_minutes.data or 0,
        routine={
            "lesson_minutes": form.lesson_minutes.data or 0,
            "weekdays": form.lesson_days.data,
            "on_schedules": ["regular"],
        },
        showcase=form.showcase.data,
    )


@bp.get("/sections/<key>")
def show_section(key: str) -> ResponseReturnValue:
    """One section: its numbers, its room, its next steps."""
    section = sections.load_section(db(), me(), key)
    held = [m for m in sections.list_meetings(db(), section) if m.state is not MeetingState.LOST]
    return render_template(
        "sections/section.html",
        section=section,
        meetings=held,
        scheduled=sum(item.minutes for item in held),
        bench=sum(item.bench_minutes for item in held),
        work=sum(item.work_minutes for item in held),
        teams=sections.load_teams(db(), section),
        plan=plans.current_plan(db(), section),
        newer=library.newer_build(db(), section),
        mine=sections.may_change(me(), section),
    )


@bp.get("/sections/<key>/teams")
def show_teams(key: str) -> ResponseReturnValue:
    """Teams, students and instruments; the form to add students."""
    section = sections.load_section(db(), me(), key)
    return _teams_page(section, RosterForm(formdata=None, size=section.build.team_size))


def _teams_page(section: Section, form: RosterForm) -> str:
    return render_template(
        "sections/teams.html",
        section=section,
        teams=sections.load_teams(db(), section),
        titles={item["key"]: item["title"] for item in section.build.quantities},
        form=form,
    )


@bp.post("/sections/<key>/teams")
def add_students(key: str) -> ResponseReturnValue:
    """Add students by code and put them into teams."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    form = RosterForm()
    if form.validate():
        try:
            sections.add_students(session, section, (form.codes.data or "").splitlines())
            sections.make_teams(session, section, form.size.data or 1)
        except ValueError as error:
            session.rollback()
            form.refuse(str(error))
            section = sections.load_own_section(session, me(), key)
        else:
            session.commit()
            flash("The teams are made; each has an instrument with the build’s nominal values.")
            return redirect(url_for("sections.show_teams", key=key), 303)
    return _teams_page(section, form), 422


@bp.get("/sections/<key>/ready-made")
def show_ready_made(key: str) -> ResponseReturnValue:
    """Which steps students make, and which an adult makes or the school buys ready."""
    section = sections.load_section(db(), me(), key)
    steps = [step for step in sections.load_steps(db(), section.build_id) if step.ready_made]
    return render_template("sections/ready_made.html", section=section, steps=steps)


@bp.post("/sections/<key>/ready-made")
def choose_ready_made(key: str) -> ResponseReturnValue:
    """Save the make-or-supply choices."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    known = {s.key for s in sections.load_steps(session, section.build_id) if s.ready_made}
    section.ready_made = [step for step in request.form.getlist("ready_made") if step in known]
    session.commit()
    flash("Saved. Plan the term again to use these choices.")
    return redirect(url_for("sections.show_ready_made", key=key), 303)
