"""The plan in a calendar program: a file for who is signed in, a secret address for the rest."""

from flask import Response, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from app.interchange.ics import CalendarFacts, calendar_file
from app.models import Section
from app.planning.blueprint import bp
from app.store import sections
from app.store.plan.feeds import close_feed, feed_facts, open_feed, section_of_feed
from app.web.access import me, public
from app.web.downloads import send
from app.web.request_session import db


@bp.get("/sections/<key>/plan.ics")
def calendar_download(key: str) -> ResponseReturnValue:
    """The plan as a calendar file."""
    return _calendar(sections.load_section(db(), me(), key))


@bp.get("/calendars/<token>.ics")
@public
def calendar_feed(token: str) -> ResponseReturnValue:
    """The plan for a calendar program that knows the secret address and cannot sign in."""
    return _calendar(section_of_feed(db(), token))


def _calendar(section: Section) -> Response:
    plan, term, milestones = feed_facts(db(), section)
    content = calendar_file(
        CalendarFacts(
            source=f"{section.room.school.name} {section.key}",
            title=section.title,
            room=section.room.title,
            made_at=plan.created_at,
            meetings=term.meetings,
            milestones=milestones,
        )
    )
    answer = send(content, f"{section.key}.ics")
    answer.headers["X-Robots-Tag"] = "noindex"
    answer.headers["Cache-Control"] = "private, max-age=900"
    return answer


@bp.post("/sections/<key>/plan/feed")
def start_feed(key: str) -> ResponseReturnValue:
    """Make a secret address for the feed; an earlier one ends."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    open_feed(section)
    session.commit()
    flash("The calendar feed has a new address. Who has it can read the plan, without names.")
    return redirect(url_for("planning.semester", key=key) + "#calendar", 303)


@bp.post("/sections/<key>/plan/feed/end")
def end_feed(key: str) -> ResponseReturnValue:
    """End the feed."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    close_feed(section)
    session.commit()
    flash("The calendar feed has ended; its address leads nowhere now.")
    return redirect(url_for("planning.semester", key=key) + "#calendar", 303)
