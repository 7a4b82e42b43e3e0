"""Frameworks: look through one, take one in by preview, hand one on."""

import datetime as dt
import json

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.interchange.files import BadFile
from app.interchange.standard import importing as case_import
from app.interchange.standard.case_export import case_package
from app.interchange.standard.file import LARGEST_BYTES
from app.interchange.standard.table import standards_csv
from app.jobs import imports
from app.standards.forms import ImportForm
from app.standards.routes import bp
from app.store import Missing
from app.store.standard import standards
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.downloads import send
from app.web.limits import takes_files_of
from app.web.request_session import db

PROBLEMS_SHOWN = 200


@bp.get("/standards/frameworks/<int:framework_id>")
def show_framework(framework_id: int) -> ResponseReturnValue:
    """A framework in its own order, retired standards last."""
    row = standards.load_framework(db(), me().school_id, framework_id)
    first = max(0, request.args.get("first", 0, type=int))
    rows = standards.page_of(db(), row, first)
    return render_template(
        "standards/framework.html",
        framework=row,
        count=standards.count_standards(db(), [row]).get(row.id, 0),
        rows=rows[: standards.PAGE],
        first=first,
        following=first + standards.PAGE if len(rows) > standards.PAGE else None,
        before=max(0, first - standards.PAGE) if first else None,
    )


@bp.get("/standards/frameworks/<int:framework_id>/package.json")
def export_package(framework_id: int) -> ResponseReturnValue:
    """The framework and the school's alignments to it as a CASE package."""
    row = standards.load_framework(db(), me().school_id, framework_id)
    package = case_package(db(), row, me().school_id, now_here())
    text = json.dumps(package, indent=1, ensure_ascii=False, allow_nan=False)
    return send(text, f"{row.key}.json")


@bp.get("/standards/frameworks/<int:framework_id>/table.csv")
def export_table(framework_id: int) -> ResponseReturnValue:
    """The framework as a table."""
    row = standards.load_framework(db(), me().school_id, framework_id)
    return send(standards_csv(row), f"{row.key}.csv")


# --- importing -----------------------------------------------------------------------------------


@bp.get("/standards/import")
def import_form() -> ResponseReturnValue:
    """Choose a file, or paste."""
    return render_template("standards/import.html", form=ImportForm(formdata=None))


@bp.post("/standards/import")
@takes_files_of(LARGEST_BYTES)
def upload() -> ResponseReturnValue:
    """Read a file and keep it for the preview; nothing of it is imported yet."""
    session = db()
    form = ImportForm()
    given = imports.GivenFile(
        title=(form.title.data or "").strip(),
        key=(form.key.data or "").strip(),
        publisher=(form.publisher.data or "").strip(),
    )
    file = request.files.get("file")
    if file is not None and file.filename:
        raw, name = file.read(), file.filename
    else:
        raw, name = (form.text.data or "").encode(errors="replace"), "pasted text"
    if form.validate():
        if not raw.strip():
            form.refuse("Choose a file, or paste at least one standard.")
        elif name == "pasted text" and not given.title:
            form.refuse("Give the pasted standards a title, such as “State mathematics 2026”.")
        else:
            try:
                imports.preview_file(session, me().school_id, raw, name, given, today_here())
            except BadFile as error:
                form.refuse(*map(str, error.mistakes))
    if form.errors:
        return render_template("standards/import.html", form=form), 422
    imports.keep_upload(session, me().id, raw, name, given, now_here())
    session.commit()
    return redirect(url_for("standards.preview"), 303)


@bp.get("/standards/import/preview")
def preview() -> ResponseReturnValue:
    """What the kept file will add, change and retire, and what of it is not sound."""
    row = imports.upload_of(db(), me().id)
    if row is None:
        return redirect(url_for("standards.import_form"), 303)
    try:
        found = imports.preview_upload(db(), me().school_id, row, today_here())
    except BadFile as error:
        form = ImportForm(formdata=None)
        form.refuse(*map(str, error.mistakes))
        return render_template("standards/import.html", form=form), 422
    return render_template(
        "standards/preview.html",
        found=found,
        name=row.name,
        shown=PROBLEMS_SHOWN,
        ended=sum(item.retired for item in found.added),
    )


@bp.post("/standards/import/apply")
def apply_import() -> ResponseReturnValue:
    """Import the kept file: all that is sound of it, or nothing."""
    session = db()
    row = imports.upload_of(session, me().id)
    if row is None:
        raise Missing("uploaded file")
    now: dt.datetime = now_here()
    try:
        found = imports.preview_upload(session, me().school_id, row, today_here())
    except BadFile as error:
        flash(" ".join(map(str, error.mistakes)), "refused")
        return redirect(url_for("standards.import_form"), 303)
    framework = case_import.apply(session, me().school_id, found, me().name, now)
    session.delete(row)
    session.commit()
    flash(
        f"{framework.title}: {len(found.added)} added, {len(found.changed)} changed, "
        f"{len(found.retired)} retired."
    )
    return redirect(url_for("standards.show_framework", framework_id=framework.id), 303)


@bp.post("/standards/import/discard")
def discard() -> ResponseReturnValue:
    """Forget the kept file."""
    session = db()
    row = imports.upload_of(session, me().id)
    if row is not None:
        session.delete(row)
        session.commit()
    return redirect(url_for("standards.search"), 303)
