"""Build packages: one file out, one file in, with a look at what it would change."""

from collections.abc import Sequence

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.builds.forms import PackageForm
from app.builds.routes import EDITORS, bp
from app.interchange import packages
from app.interchange.files import BadFile, parse
from app.interchange.loading import LoadedChange, load
from app.interchange.teaching import long_lessons, require_teachable
from app.store import library
from app.web.access import for_roles, me
from app.web.downloads import send
from app.web.request_session import db


@bp.get("/builds/<key>/package.<any(json, toml):kind>")
def download_package(key: str, kind: packages.FileKind) -> ResponseReturnValue:
    """The build with all it needs, in one file."""
    session, school_id = db(), me().school_id
    build = library.find_build(session, school_id, key, request.args.get("version"))
    text = packages.write(packages.package_of(session, build, school_id), kind)
    return send(text, f"{build.key}-{build.version}.{kind}")


@bp.get("/packages")
@for_roles(*EDITORS)
def choose_package() -> ResponseReturnValue:
    """A form for a file to import."""
    return _page()


def _page(
    mistakes: tuple[str, ...] = (),
    changes: list[LoadedChange] | None = None,
    text: str = "",
    title: str = "",
    long: Sequence[str] = (),
) -> str:
    return render_template(
        "builds/import.html",
        form=PackageForm(formdata=None),
        mistakes=mistakes,
        changes=changes,
        text=text,
        title=title,
        long=long,
    )


@bp.post("/packages")
@for_roles(*EDITORS)
def check_package() -> ResponseReturnValue:
    """Show what the file would add or change; nothing is kept yet."""
    upload = request.files.get("file")
    if upload is None or not upload.filename:
        return _page(("Choose a file first.",)), 422
    session, school_id = db(), me().school_id
    try:
        with upload.stream as stream:
            content = parse(stream.read(), upload.filename)
        require_teachable(session, content, name=upload.filename, school_id=school_id)
        changes = packages.preview(session, content, name=upload.filename, school_id=school_id)
    except BadFile as error:
        return _page(tuple(str(mistake) for mistake in error.mistakes)), 422
    return _page(
        changes=changes,
        text=packages.write(content, "json", compact=True),
        title=content.title,
        long=long_lessons(session, content, school_id),
    )


@bp.post("/packages/load")
@for_roles(*EDITORS)
def load_package() -> ResponseReturnValue:
    """Import what was shown, checked again."""
    session, school_id = db(), me().school_id
    try:
        content = parse(request.form.get("content", "").encode(), "package.json")
        require_teachable(session, content, name="package", school_id=school_id)
        changes = load(session, content, name="package", school_id=school_id)
    except BadFile as error:
        session.rollback()
        return _page(tuple(str(mistake) for mistake in error.mistakes)), 422
    session.commit()
    new = sum(change.what != "unchanged" for change in changes)
    flash(f"{content.title} is imported: {new} parts added or changed.")
    builds = [change.key for change in changes if change.kind == "build"]
    where = url_for("builds.show_build", key=builds[0]) if builds else url_for("builds.list_builds")
    return redirect(where, 303)
