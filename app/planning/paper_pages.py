"""The semester, a week, a day and a substitute's day, on screen and on paper."""

import datetime as dt

from flask import render_template
from flask.typing import ResponseReturnValue

from app.domain.papers.class_plan import day_document, week_document
from app.domain.papers.semester_plan import semester_document
from app.domain.papers.substitute_plan import substitute_document
from app.models import Meeting, MeetingState, Section
from app.planning.blueprint import bp, pdf
from app.store import Missing, sections
from app.store.paper import papers
from app.store.plan import plans
from app.store.plan.semester import semester_plan
from app.store.plan.substitute import substitute_papers, substitute_plan
from app.web.access import me
from app.web.request_session import db


@bp.get("/sections/<key>/plan.pdf")
def semester_pdf(key: str) -> ResponseReturnValue:
    """The semester at a glance on paper."""
    section = sections.load_section(db(), me(), key)
    facts = semester_plan(db(), section, plans.load_plan(db(), section))
    return pdf([semester_document(facts)], f"{key}-semester.pdf")


@bp.get("/sections/<key>/weeks/<int:number>")
def week(key: str, number: int) -> ResponseReturnValue:
    """The week plan on screen."""
    section = sections.load_section(db(), me(), key)
    numbers = sorted({m.week for m in sections.list_meetings(db(), section)})
    if number not in numbers:
        raise Missing(f"week {number}")
    facts = papers.week_plan(db(), section, plans.load_plan(db(), section), number)
    return render_template(
        "planning/week.html", section=section, week=facts, number=number, numbers=numbers
    )


@bp.get("/sections/<key>/weeks/<int:number>.pdf")
def week_pdf(key: str, number: int) -> ResponseReturnValue:
    """The week plan on paper."""
    section = sections.load_section(db(), me(), key)
    facts = papers.week_plan(db(), section, plans.load_plan(db(), section), number)
    if not facts.meetings:
        raise Missing(f"week {number}")
    return pdf([week_document(facts)], f"{key}-week-{number:02d}.pdf")


def _on(section: Section, date: dt.date) -> list[Meeting]:
    """The section's meetings on a date: more than one on a full workshop day.

    Raises Missing.
    """
    found = [m for m in sections.list_meetings(db(), section) if m.date == date]
    if not found:
        raise Missing(f"meeting on {date}")
    return found


def _reopens(meeting: Meeting) -> bool:
    return meeting.state is MeetingState.LOST and not sections.by_calendar(meeting)


@bp.get("/sections/<key>/days/<date:date>")
def day(key: str, date: dt.date) -> ResponseReturnValue:
    """One day on screen."""
    section = sections.load_section(db(), me(), key)
    meetings = _on(section, date)
    facts = papers.day_plan(db(), section, plans.load_plan(db(), section), *meetings)
    return render_template(
        "planning/day.html",
        section=section,
        week=facts,
        meeting=meetings[0],
        reopens=any(_reopens(meeting) for meeting in meetings),
        mine=sections.may_change(me(), section),
    )


@bp.get("/sections/<key>/days/<date:date>.pdf")
def day_pdf(key: str, date: dt.date) -> ResponseReturnValue:
    """One day on paper."""
    section = sections.load_section(db(), me(), key)
    facts = papers.day_plan(db(), section, plans.load_plan(db(), section), *_on(section, date))
    return pdf(
        [day_document(facts, meeting) for meeting in facts.meetings],
        f"{key}-{date.isoformat()}.pdf",
    )


@bp.get("/sections/<key>/days/<date:date>/substitute")
def substitute(key: str, date: dt.date) -> ResponseReturnValue:
    """The day in a substitute's hands: machine power off, hand work and paper only."""
    section = sections.load_section(db(), me(), key)
    meeting = _on(section, date)[0]
    facts = substitute_plan(db(), section, plans.load_plan(db(), section), meeting)
    return render_template(
        "planning/substitute.html",
        section=section,
        meeting=meeting,
        document=substitute_document(facts),
        worksheets=sum(bool(item.phase) for item in facts.teams),
    )


@bp.get("/sections/<key>/days/<date:date>/substitute.pdf")
def substitute_pdf(key: str, date: dt.date) -> ResponseReturnValue:
    """The substitute's day on paper, with the worksheets it hands out."""
    section = sections.load_section(db(), me(), key)
    meeting = _on(section, date)[0]
    documents = substitute_papers(db(), section, plans.load_plan(db(), section), meeting)
    return pdf(documents, f"{key}-{date.isoformat()}-substitute.pdf")
