"""Stations, fixtures, sign-offs and materials of a school's own, beside the shipped ones."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from flask import abort, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from app.builds.forms import FixtureForm, MaterialForm, PermitForm, StationForm
from app.builds.routes import EDITORS, bp
from app.interchange import library_editing
from app.interchange import library_file as schema
from app.interchange.loading import kind_file, load
from app.models import FixtureType, Material, PermitType, StationType
from app.store import accounts, library
from app.web.access import for_roles, me
from app.web.fields import options
from app.web.request_session import db
from app.web.schema_form import SchemaForm

Row = StationType | FixtureType | PermitType | Material


@dataclass(frozen=True)
class EntryKind:
    """What steps can name: its word, form, table, place in a workshop's file and in the rooms."""

    word: str
    form: type[SchemaForm]
    row: type[Row]
    entry: type[schema.LibraryEntry]
    place: str
    into_rooms: Callable[[Session, int, Any], None] | None = None


KINDS: Mapping[str, EntryKind] = {
    "station": EntryKind(
        "station",
        StationForm,
        StationType,
        schema.StationTypeEntry,
        "stations",
        accounts.add_station_kind,
    ),
    "fixture": EntryKind(
        "fixture",
        FixtureForm,
        FixtureType,
        schema.FixtureTypeEntry,
        "fixtures",
        accounts.add_fixture_kind,
    ),
    "permit": EntryKind("sign-off", PermitForm, PermitType, schema.PermitTypeEntry, "permits"),
    "material": EntryKind("material", MaterialForm, Material, schema.MaterialEntry, "materials"),
}
KIND = "<any(station, fixture, permit, material):kind>"


@bp.get("/own-kinds")
@for_roles(*EDITORS)
def list_kinds() -> ResponseReturnValue:
    """Which stations, fixtures, sign-offs and materials steps can name."""
    known = {name: list(_known(kind).values()) for name, kind in KINDS.items()}
    known["material"].sort(key=lambda row: row.title)
    return render_template("builds/kinds.html", known=known)


def _form(kind: EntryKind, **given: Any) -> SchemaForm:
    form = kind.form(**given)
    if isinstance(form, StationForm):
        permits = library.kinds(db(), PermitType, me().school_id).values()
        form.permit.choices = options([("", "none"), *((row.key, row.title) for row in permits)])
    return form


def _known(kind: EntryKind) -> dict[str, Any]:
    return library.kinds(db(), kind.row, me().school_id)


def _row(kind: EntryKind, key: str) -> Any:
    rows = _known(kind)
    return rows[key] if key in rows else abort(404)


def _page(name: str, form: SchemaForm, key: str | None) -> str:
    return render_template(
        "builds/kind_form.html", kind=name, word=KINDS[name].word, form=form, key=key
    )


@bp.get(f"/own-kinds/{KIND}/new")
@for_roles(*EDITORS)
def new_kind(kind: str) -> ResponseReturnValue:
    """A form for a station, fixture, sign-off or material of the school's own."""
    return _page(kind, _form(KINDS[kind], formdata=None), None)


@bp.get(f"/own-kinds/{KIND}/change/<key>")
@for_roles(*EDITORS)
def edit_kind(kind: str, key: str) -> ResponseReturnValue:
    """A form for one that is there; a shipped one becomes the school's own by saving it."""
    found = kind_file(_row(KINDS[kind], key))
    values = {name: "" if value is None else value for name, value in found.items()}
    return _page(kind, _form(KINDS[kind], formdata=None, data=values), key)


@bp.post(f"/own-kinds/{KIND}/new")
@for_roles(*EDITORS)
def add_kind(kind: str) -> ResponseReturnValue:
    """Add one of the school's own."""
    return _take(kind, None)


@bp.post(f"/own-kinds/{KIND}/change/<key>")
@for_roles(*EDITORS)
def change_kind(kind: str, key: str) -> ResponseReturnValue:
    """Save one as the school's own."""
    _row(KINDS[kind], key)
    return _take(kind, key)


def _take(name: str, key: str | None) -> ResponseReturnValue:
    kind = KINDS[name]
    form: Any = _form(kind)
    if form.validate():
        if key is None and form.key.data in _known(kind):
            form.key.errors = [
                f"There is a {kind.word} {form.key.data} already; choose another key."
            ]
        elif key is not None and form.key.data != key:
            form.key.errors = [f"The key stays {key}, because steps name it."]
        else:
            try:
                # What the form does not show stays as it was.
                unseen = kind_file(_row(kind, key)) if key is not None else {}
                values = {field: value for field, value in unseen.items() if field not in form}
                entry = library_editing.entry(kind.entry, {**values, **form.sent()})
            except library_editing.WrongValues as error:
                for place, sentence in error.places:
                    form.place(place, sentence, {})
            else:
                _save(kind, entry)
                db().commit()
                flash(f"The {kind.word} is saved as your school’s own.")
                return redirect(url_for("builds.list_kinds"), 303)
    return _page(name, form, key), 422


def _save(kind: EntryKind, entry: Any) -> None:
    session, user = db(), me()
    workshop = schema.Workshop.model_validate(
        {
            "kind": "workshop",
            "schema_version": schema.SCHEMA_VERSION,
            "key": "own",
            "title": user.school.name,
            kind.place: [entry],
        }
    )
    load(session, workshop, name="form", school_id=user.school_id)
    if kind.into_rooms is not None:
        kind.into_rooms(session, user.school_id, _known(kind)[entry.key])
