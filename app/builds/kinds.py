"""Stations and materials of a school's own, beside the shipped ones."""

from typing import Any

from flask import abort, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.builds.forms import MaterialForm, StationForm
from app.builds.routes import EDITORS, bp
from app.interchange import editing
from app.interchange import library as schema
from app.interchange.loading import kind_file, load
from app.models import Material, PermitType, StationType
from app.store import library, people
from app.web.access import for_roles, me
from app.web.database import db
from app.web.fields import options


@bp.get("/own-kinds")
@for_roles(*EDITORS)
def list_kinds() -> ResponseReturnValue:
    """Which stations and materials steps can name."""
    session, school_id = db(), me().school_id
    return render_template(
        "builds/kinds.html",
        stations=library.kinds(session, StationType, school_id).values(),
        materials=sorted(
            library.kinds(session, Material, school_id).values(), key=lambda row: row.title
        ),
    )


def _form(kind: str, **given: Any) -> StationForm | MaterialForm:
    if kind == "material":
        return MaterialForm(**given)
    form = StationForm(**given)
    permits = library.kinds(db(), PermitType, me().school_id).values()
    form.permit.choices = options([("", "none"), *((row.key, row.title) for row in permits)])
    return form


def _known(kind: str) -> dict[str, StationType] | dict[str, Material]:
    session, school_id = db(), me().school_id
    if kind == "material":
        return library.kinds(session, Material, school_id)
    return library.kinds(session, StationType, school_id)


def _row(kind: str, key: str) -> StationType | Material:
    rows = _known(kind)
    return rows[key] if key in rows else abort(404)


def _page(kind: str, form: StationForm | MaterialForm, key: str | None) -> str:
    return render_template("builds/kind_form.html", kind=kind, form=form, key=key)


@bp.get("/own-kinds/<any(station, material):kind>/new")
@for_roles(*EDITORS)
def new_kind(kind: str) -> ResponseReturnValue:
    """A form for a station or material of the school's own."""
    return _page(kind, _form(kind, formdata=None), None)


@bp.get("/own-kinds/<any(station, material):kind>/change/<key>")
@for_roles(*EDITORS)
def edit_kind(kind: str, key: str) -> ResponseReturnValue:
    """A form for a station or material; a shipped one becomes the school's own by saving it."""
    values = {
        name: "" if value is None else value for name, value in kind_file(_row(kind, key)).items()
    }
    return _page(kind, _form(kind, formdata=None, data=values), key)


@bp.post("/own-kinds/<any(station, material):kind>/new")
@for_roles(*EDITORS)
def add_kind(kind: str) -> ResponseReturnValue:
    """Add a station or material of the school's own."""
    return _take(kind, None)


@bp.post("/own-kinds/<any(station, material):kind>/change/<key>")
@for_roles(*EDITORS)
def change_kind(kind: str, key: str) -> ResponseReturnValue:
    """Save a station or material as the school's own."""
    _row(kind, key)
    return _take(kind, key)


def _take(kind: str, key: str | None) -> ResponseReturnValue:
    session = db()
    form = _form(kind)
    if form.validate():
        if key is None and form.key.data in _known(kind):
            form.key.errors = [f"There is a {kind} {form.key.data} already; choose another key."]
        elif key is not None and form.key.data != key:
            form.key.errors = [f"The key stays {key}, because steps name it."]
        else:
            entry_type = schema.StationType if kind == "station" else schema.Material
            try:
                # What the form does not show stays as it was.
                unseen = kind_file(_row(kind, key)) if key is not None else {}
                values = {name: value for name, value in unseen.items() if name not in form}
                entry = editing.entry(entry_type, {**values, **form.sent()})
            except editing.WrongValues as error:
                for place, sentence in error.places:
                    form.place(place, sentence, {})
            else:
                _save(kind, entry)
                session.commit()
                flash(f"The {kind} is saved as your school’s own.")
                return redirect(url_for("builds.list_kinds"), 303)
    return _page(kind, form, key), 422


def _save(kind: str, entry: schema.Entry) -> None:
    session, user = db(), me()
    workshop = schema.Workshop.model_validate(
        {
            "kind": "workshop",
            "schema_version": schema.SCHEMA_VERSION,
            "key": "own",
            "title": user.school.name,
            f"{kind}s": [entry],
        }
    )
    load(session, workshop, name="form", school_id=user.school_id)
    if isinstance(entry, schema.StationType):
        row = library.kinds(session, StationType, user.school_id)[entry.key]
        people.add_station_kind(session, user.school_id, row)
