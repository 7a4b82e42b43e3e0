"""Builds to read: which to choose, what its steps ask for and show, and what it teaches."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from app.builds import build_view
from app.domain.bands import BANDS
from app.models import Role, StationType
from app.store import library
from app.web.access import me
from app.web.request_session import db

bp = Blueprint("builds", __name__)

EDITORS = (Role.TEACHER, Role.WORKSHOP_LEAD)


def may_edit() -> bool:
    """Whether the signed-in user may change the school's own library."""
    return me().role in (*EDITORS, Role.ADMINISTRATOR)


@bp.get("/builds")
def list_builds() -> ResponseReturnValue:
    """The builds side by side, so that one can be chosen."""
    builds = library.newest_builds(db(), me().school_id)
    return render_template(
        "builds/list.html",
        rows=[(build, build_view.build_sums(build)) for build in builds],
        may_edit=may_edit(),
    )


@bp.get("/builds/<key>")
def show_build(key: str) -> ResponseReturnValue:
    """One build: its phases and steps, what they need, what they show."""
    session, school_id = db(), me().school_id
    build = library.find_build(session, school_id, key, request.args.get("version"))
    return render_template(
        "builds/build.html",
        build=build,
        sums=build_view.build_sums(build),
        phases=build_view.phase_sums(build),
        materials=build_view.material_lines(build),
        picture=build_view.picture(build),
        versions=library.list_versions(session, school_id, key),
        stations={
            k: row.title for k, row in library.kinds(session, StationType, school_id).items()
        },
        titles={step.key: step.title for phase in build.phases for step in phase.steps},
        may_edit=may_edit(),
    )


@bp.get("/builds/<key>/network")
def show_network(key: str) -> ResponseReturnValue:
    """The step network as a picture that prints on one page."""
    build = library.find_build(db(), me().school_id, key, request.args.get("version"))
    return render_template(
        "builds/network.html",
        build=build,
        picture=build_view.picture(build),
        hazards=build_view.hazard_lines(step for phase in build.phases for step in phase.steps),
    )


@bp.get("/builds/<key>/what-it-teaches")
def show_teaching(key: str) -> ResponseReturnValue:
    """How many treatments and questions each phase reaches at each grade band."""
    session, school_id = db(), me().school_id
    build = library.find_build(session, school_id, key, request.args.get("version"))
    return render_template(
        "builds/teaching.html",
        build=build,
        bands=BANDS,
        table=library.taught_by_phase(session, build, school_id, tuple(BANDS)),
        reasons={(item["phase"], item["band"]): item["reason"] for item in build.no_treatment},
    )
