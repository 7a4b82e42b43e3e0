"""A section and the versions of its build: what is new, and the move to it."""

from flask import flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.builds.build_view import hazard_lines
from app.builds.routes import bp
from app.interchange.loading import build_file, differences
from app.store import library, sections
from app.web.access import me
from app.web.request_session import db


@bp.get("/sections/<key>/newer-build")
def show_newer(key: str) -> ResponseReturnValue:
    """What a newer version of the section's build would change."""
    session = db()
    section = sections.load_section(session, me(), key)
    newer = library.newer_build(session, section)
    changes = (
        differences(build_file(section.build), build_file(newer)) if newer is not None else None
    )
    named = {step.key for step in changes.steps} if changes is not None else set()
    builds = [section.build, *([newer] if newer is not None else [])]
    steps = [s for build in builds for phase in build.phases for s in phase.steps if s.key in named]
    return render_template(
        "builds/newer.html",
        hazards=hazard_lines(steps),
        section=section,
        newer=newer,
        changes=changes,
        mine=sections.may_change(me(), section),
    )


@bp.post("/sections/<key>/newer-build")
def move_to_newer(key: str) -> ResponseReturnValue:
    """Let the section follow the newest version of its build."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    newer = library.newer_build(session, section)
    if newer is None:
        flash("This section follows the newest version already.")
        return redirect(url_for("sections.show_section", key=key), 303)
    library.move_section(session, section, newer)
    session.commit()
    flash(
        f"The section follows version {newer.version} now. Plan the term again to place what is new."
    )
    return redirect(url_for("sections.show_section", key=key), 303)
