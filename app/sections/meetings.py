"""Which meetings carry lessons and tests, and which adults are in the room on which days."""

from typing import Any

from flask import flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.domain.scheduling import calendar
from app.models import MeetingState, Section
from app.sections.day_list import read_dates, read_staff, write_staff
from app.sections.forms import RoutineForm
from app.sections.routes import bp
from app.store import sections
from app.web.access import me
from app.web.request_session import db


@bp.get("/sections/<key>/meetings")
def show_meetings(key: str) -> ResponseReturnValue:
    """The section's meetings, its routine and the days with other adults."""
    section = sections.load_section(db(), me(), key)
    routine = section.routine
    form = RoutineForm(
        formdata=None,
        lesson_minutes=routine.get("lesson_minutes", 20),
        weekdays=routine.get("weekdays", []),
        every=routine.get("every"),
        first=routine.get("first", 1),
        dates="\n".join(routine.get("dates", [])),
        on_schedules=routine.get("on_schedules", []),
        unit_test_dates="\n".join(routine.get("unit_test_dates", [])),
        unit_test_minutes=routine.get("unit_test_minutes", 30),
        staff=write_staff(section.staff_changes),
    )
    return _page(section, form)


def _page(section: Section, form: RoutineForm) -> str:
    held = [m for m in sections.list_meetings(db(), section) if m.state is not MeetingState.LOST]
    return render_template(
        "sections/meetings.html",
        section=section,
        form=form,
        meetings=held,
        mine=sections.may_change(me(), section),
    )


@bp.post("/sections/<key>/meetings")
def change_meetings(key: str) -> ResponseReturnValue:
    """Save routine and adults; meetings not yet taught follow."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    form = RoutineForm()
    if form.validate():
        try:
            sections.change_routine(
                session,
                section,
                routine=_routine(form),
                staff_changes=read_staff(form.staff.data or ""),
            )
        except calendar.CalendarError as error:
            session.rollback()
            form.refuse(*error.sentences)
            section = sections.load_own_section(session, me(), key)
        else:
            session.commit()
            flash("Saved; the meetings not yet taught follow. Plan again to use it.")
            return redirect(url_for("sections.show_meetings", key=key), 303)
    return _page(section, form), 422


def _routine(form: RoutineForm) -> dict[str, Any]:
    """The routine as a section keeps it.

    Raises CalendarError.
    """
    routine = {
        "lesson_minutes": form.lesson_minutes.data,
        "weekdays": form.weekdays.data,
        "dates": read_dates(form.dates.data or ""),
        "on_schedules": form.on_schedules.data,
        "unit_test_dates": read_dates(form.unit_test_dates.data or ""),
        "unit_test_minutes": form.unit_test_minutes.data,
    }
    if form.every.data:
        routine |= {"every": form.every.data, "first": form.first.data or 1}
    return routine
