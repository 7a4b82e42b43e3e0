"""A school's own builds: copied from the library, changed part by part, kept in versions.

A version that a section follows never changes: the first change makes a new version.
"""

from collections.abc import Callable, Iterable

from flask import abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.builds.build_view import hazard_lines
from app.builds.forms import (
    CopyForm,
    FactsForm,
    NewPhaseForm,
    PhaseForm,
    StepForm,
    facts_tables,
    step_tables,
)
from app.builds.routes import EDITORS, bp
from app.builds.stepping import step_data, step_values
from app.interchange import library_editing
from app.interchange.files import BadFile
from app.interchange.library_file import BuildEntry as BuildFile
from app.interchange.library_file import StepEntry
from app.interchange.loading import add_build, build_file, free_version, require_known, save_build
from app.models import Build, Concept, FixtureType, Material, PermitType, StationType
from app.store import Missing, library
from app.web.access import for_roles, me
from app.web.fields import options
from app.web.request_session import db
from app.web.rows import Rows


def _own(build_id: int) -> Build:
    return library.load_own_build(db(), me().school_id, build_id)


def _labels(key: str) -> list[str]:
    return [row.version for row in library.list_versions(db(), me().school_id, key)]


def save(row: Build, changed: library_editing.Plain) -> Build:
    """Check the whole build and save it: in place, or as a new version if a section follows it.

    Raises BadFile with every mistake.
    """
    session = db()
    content = library_editing.checked(changed)
    require_known(session, content, name=content.title, school_id=row.school_id)
    if not library.is_used(session, row):
        save_build(session, row, content)
        return row
    version = content.version
    if version == row.version:
        version = free_version(version, _labels(row.key))
    flash(
        f"A section follows version {row.version}, so the change is in the new version {version}."
    )
    return add_build(session, content.model_copy(update={"version": version}), row.school_id)


def _to_build(row: Build, anchor: str | None = None) -> ResponseReturnValue:
    return redirect(url_for("builds.edit_build", build_id=row.id, _anchor=anchor), 303)


def _act(
    build_id: int, change: Callable[[library_editing.Plain], None], anchor: str
) -> ResponseReturnValue:
    """Change the build by one button; a refusal comes back as a message on the build's page."""
    row = _own(build_id)
    changed = library_editing.plain(build_file(row))
    try:
        change(changed)
        row = save(row, changed)
    except LookupError:
        abort(404)
    except BadFile as error:
        db().rollback()
        return _overview(_own(build_id), library_editing.sentences(error)), 422
    db().commit()
    return _to_build(row, anchor)


# --- the build ---------------------------------------------------------------------------------


@bp.get("/builds/<key>/copy")
@for_roles(*EDITORS)
def new_copy(key: str) -> ResponseReturnValue:
    """A form for the school's own copy of a build."""
    build = library.find_build(db(), me().school_id, key, request.args.get("version"))
    label = free_version(build.version, _labels(key))
    form = CopyForm(formdata=None, title=build.title, key=key, version=label)
    return render_template("builds/copy.html", build=build, form=form)


@bp.post("/builds/<key>/copy")
@for_roles(*EDITORS)
def copy(key: str) -> ResponseReturnValue:
    """Copy a build into the school's own."""
    session, school_id = db(), me().school_id
    build = library.find_build(session, school_id, key, request.args.get("version"))
    form = CopyForm()
    if form.validate():
        wanted = form.key.data or key
        taken = [row for row in library.list_builds(session, school_id) if row.key == wanted]
        if any(row.version == form.version.data for row in taken):
            form.version.errors = [
                f"There is a version {form.version.data} already; choose another."
            ]
        else:
            values = {"title": form.title.data, "key": wanted, "version": form.version.data}
            content = build_file(build).model_copy(update=values)
            row = add_build(session, content, school_id)
            session.commit()
            flash("The copy is your school’s own; change it here. Nothing else changes.")
            return _to_build(row)
    return render_template("builds/copy.html", build=build, form=form), 422


def _overview(row: Build, wrong: list[str] | None = None) -> str:
    shipped_or_own = library.list_versions(db(), me().school_id, row.key)
    return render_template(
        "builds/edit.html",
        build=row,
        wrong=wrong or [],
        used=library.is_used(db(), row),
        hazards=hazard_lines(step for phase in row.phases for step in phase.steps),
        versions=shipped_or_own,
        stations={
            key: kind.title
            for key, kind in library.kinds(db(), StationType, me().school_id).items()
        },
    )


@bp.get("/own-builds/<int:build_id>")
@for_roles(*EDITORS)
def edit_build(build_id: int) -> ResponseReturnValue:
    """A build of the school's own with everything that can be changed in it."""
    return _overview(_own(build_id))


@bp.post("/own-builds/<int:build_id>/drop")
@for_roles(*EDITORS)
def drop_build(build_id: int) -> ResponseReturnValue:
    """Remove a version that nobody follows."""
    session = db()
    row = _own(build_id)
    key, version = row.key, row.version
    try:
        library.drop_build(session, row)
    except ValueError as error:
        session.rollback()
        return _overview(_own(build_id), [str(error)]), 422
    session.commit()
    flash(f"Version {version} of your build is removed.")
    left = [item for item in library.list_builds(session, me().school_id) if item.key == key]
    where = url_for("builds.show_build", key=key) if left else url_for("builds.list_builds")
    return redirect(where, 303)


def _facts_tables(content: BuildFile) -> dict[str, Rows]:
    rows = library.kinds(db(), Material, me().school_id).values()
    materials = sorted(((row.key, row.title) for row in rows), key=lambda pair: pair[1])
    tables = facts_tables([(phase.key, phase.title) for phase in content.phases], materials)
    values = library_editing.plain(content)
    return {name: table.fill(values[name]) for name, table in tables.items()}


@bp.get("/own-builds/<int:build_id>/facts")
@for_roles(*EDITORS)
def edit_facts(build_id: int) -> ResponseReturnValue:
    """A form for title, summary, quantities, strings and blanks."""
    row = _own(build_id)
    content = build_file(row)
    form = FactsForm(formdata=None, data={**library_editing.plain(content)})
    tables = _facts_tables(content)
    return render_template("builds/facts_form.html", build=row, form=form, tables=tables)


@bp.post("/own-builds/<int:build_id>/facts")
@for_roles(*EDITORS)
def change_facts(build_id: int) -> ResponseReturnValue:
    """Save title, summary, quantities, strings and blanks."""
    row = _own(build_id)
    content = build_file(row)
    form, tables = FactsForm(), _facts_tables(content)
    for table in tables.values():
        table.read(request.form)
    if form.validate():
        values = {
            **library_editing.plain(content),
            "note": "",
            "summary": "",
            **form.sent(),
            **{name: table.entries() for name, table in tables.items()},
        }
        taken = [label for label in _labels(row.key) if label != row.version]
        if values["version"] in taken:
            sentence = f"Version {values['version']} exists already; choose another label."
            form.version.errors = [sentence]
        else:
            try:
                library_editing.entry(BuildFile, values)
                row = save(row, values)
            except library_editing.WrongValues as error:
                for place, sentence in error.places:
                    form.place(place, sentence, tables)
            except BadFile as error:
                form.refuse(*library_editing.sentences(error))
            else:
                db().commit()
                return _to_build(row)
        db().rollback()
    page = render_template("builds/facts_form.html", build=_own(build_id), form=form, tables=tables)
    return page, 422


# --- phases ------------------------------------------------------------------------------------


@bp.get("/own-builds/<int:build_id>/phases/new")
@for_roles(*EDITORS)
def new_phase(build_id: int) -> ResponseReturnValue:
    """A form for a phase with its first step."""
    return render_template(
        "builds/phase_form.html", build=_own(build_id), form=NewPhaseForm(), phase=None
    )


@bp.post("/own-builds/<int:build_id>/phases/new")
@for_roles(*EDITORS)
def add_phase(build_id: int) -> ResponseReturnValue:
    """Go on to the first step: a phase without a step is none."""
    row, form = _own(build_id), NewPhaseForm()
    if form.validate():
        if any(phase.key == form.key.data for phase in row.phases):
            form.key.errors = [f"There is a phase {form.key.data} already; choose another key."]
        else:
            query = form.sent()
            where = url_for(
                "builds.new_step", build_id=build_id, new_phase=query.pop("key"), **query
            )
            return redirect(where, 303)
    return render_template("builds/phase_form.html", build=row, form=form, phase=None), 422


@bp.get("/own-builds/<int:build_id>/phases/<phase>")
@for_roles(*EDITORS)
def edit_phase(build_id: int, phase: str) -> ResponseReturnValue:
    """A form for what a phase is called."""
    row = _own(build_id)
    found = next((item for item in row.phases if item.key == phase), None) or abort(404)
    form = PhaseForm(formdata=None, obj=found)
    return render_template("builds/phase_form.html", build=row, form=form, phase=found)


@bp.post("/own-builds/<int:build_id>/phases/<phase>")
@for_roles(*EDITORS)
def change_phase(build_id: int, phase: str) -> ResponseReturnValue:
    """Save what a phase is called."""
    row, form = _own(build_id), PhaseForm()
    found = next((item for item in row.phases if item.key == phase), None) or abort(404)
    if not form.validate():
        return render_template("builds/phase_form.html", build=row, form=form, phase=found), 422
    values = {"summary": "", "milestone": "", **form.sent()}
    return _act(build_id, lambda build: library_editing.put_phase(build, phase, values), phase)


@bp.post("/own-builds/<int:build_id>/phases/<phase>/<any(up, down):way>")
@for_roles(*EDITORS)
def move_phase(build_id: int, phase: str, way: str) -> ResponseReturnValue:
    """Move a phase one place."""
    by = -1 if way == "up" else 1
    return _act(build_id, lambda build: library_editing.move_phase(build, phase, by), phase)


@bp.post("/own-builds/<int:build_id>/phases/<phase>/drop")
@for_roles(*EDITORS)
def drop_phase(build_id: int, phase: str) -> ResponseReturnValue:
    """Take a phase out with its steps."""
    return _act(build_id, lambda build: library_editing.drop_phase(build, phase), "phases")


# --- steps -------------------------------------------------------------------------------------


def _step_tables() -> dict[str, Rows]:
    session, school_id = db(), me().school_id

    def named(rows: Iterable[Concept | Material | FixtureType]) -> list[tuple[str, str]]:
        return sorted(((row.key, row.title) for row in rows), key=lambda item: item[1])

    return step_tables(
        named(library.kinds(session, Concept, school_id).values()),
        named(library.kinds(session, Material, school_id).values()),
        named(library.kinds(session, FixtureType, school_id).values()),
    )


def _choices(form: StepForm, row: Build) -> StepForm:
    session, school_id = db(), me().school_id
    stations = library.kinds(session, StationType, school_id).values()
    permits = library.kinds(session, PermitType, school_id).values()
    form.station.choices = options((kind.key, kind.title) for kind in stations)
    form.permit.choices = options([("", "none"), *((kind.key, kind.title) for kind in permits)])
    phases = [(phase.key, phase.title) for phase in row.phases]
    coming = request.args.get("new_phase")
    if coming:
        phases.append((coming, f"{request.args.get('title', coming)} (new)"))
    form.phase.choices = options(phases)
    return form


@bp.get("/own-builds/<int:build_id>/steps/new")
@for_roles(*EDITORS)
def new_step(build_id: int) -> ResponseReturnValue:
    """A form for a step, in the phase named by the address."""
    row = _own(build_id)
    phase = request.args.get("new_phase") or request.args.get("phase") or row.phases[-1].key
    form = _choices(StepForm(formdata=None, phase=phase), row)
    return _step_page(row, form, _step_tables(), None)


@bp.get("/own-builds/<int:build_id>/steps/<step>")
@for_roles(*EDITORS)
def edit_step(build_id: int, step: str) -> ResponseReturnValue:
    """A form for everything about a step."""
    row = _own(build_id)
    content, phase = _step_of(row, step)
    form = _choices(StepForm(formdata=None, data=step_data(content, phase)), row)
    values = library_editing.plain(content)
    tables = {name: table.fill(values[name]) for name, table in _step_tables().items()}
    return _step_page(row, form, tables, content)


def _step_of(row: Build, step: str) -> tuple[StepEntry, str]:
    for phase in build_file(row).phases:
        for item in phase.steps:
            if item.key == step:
                return item, phase.key
    raise Missing(f"step {step}")


def _step_page(row: Build, form: StepForm, tables: dict[str, Rows], step: StepEntry | None) -> str:
    return render_template(
        "builds/step_form.html",
        build=row,
        form=form,
        tables=tables,
        step=step,
        used=library.is_used(db(), row),
        query=request.args.to_dict(),
    )


@bp.post("/own-builds/<int:build_id>/steps/new")
@for_roles(*EDITORS)
def add_step(build_id: int) -> ResponseReturnValue:
    """Add a step at the end of its phase, and the phase if it is new."""
    return _take_step(build_id, None)


@bp.post("/own-builds/<int:build_id>/steps/<step>")
@for_roles(*EDITORS)
def change_step(build_id: int, step: str) -> ResponseReturnValue:
    """Save everything about a step."""
    return _take_step(build_id, step)


def _take_step(build_id: int, key: str | None) -> ResponseReturnValue:
    row = _own(build_id)
    before = _step_of(row, key)[0] if key is not None else None
    form = _choices(StepForm(), row)
    tables = {name: table.read(request.form) for name, table in _step_tables().items()}
    changed = library_editing.plain(build_file(row))
    if form.validate():
        try:
            step = library_editing.entry(StepEntry, step_values(form, tables, before))
            _with_new_phase(changed)
            put = library_editing.add_step if before is None else library_editing.put_step
            put(changed, step, form.phase.data or "")
            row = save(row, changed)
        except library_editing.WrongValues as error:
            for place, sentence in error.places:
                form.place(place, sentence, tables)
        except BadFile as error:
            for item in error.mistakes:
                about = ("after",) if "after" in item.sentence or "wait" in item.sentence else ()
                form.place((*about, item.place), item.sentence, {})
        else:
            db().commit()
            return _to_build(row, step.key)
        db().rollback()
        row = _own(build_id)
    return _step_page(row, form, tables, before), 422


def _with_new_phase(changed: library_editing.Plain) -> None:
    coming = request.args.get("new_phase")
    if coming and all(phase["key"] != coming for phase in changed["phases"]):
        named = {name: request.args.get(name, "") for name in ("title", "summary", "milestone")}
        library_editing.put_phase(changed, coming, named)


@bp.post("/own-builds/<int:build_id>/steps/<step>/<any(up, down):way>")
@for_roles(*EDITORS)
def move_step(build_id: int, step: str, way: str) -> ResponseReturnValue:
    """Move a step one place, over the end of a phase into the next."""
    by = -1 if way == "up" else 1
    return _act(build_id, lambda build: library_editing.move_step(build, step, by), step)


@bp.post("/own-builds/<int:build_id>/steps/<step>/drop")
@for_roles(*EDITORS)
def drop_step(build_id: int, step: str) -> ResponseReturnValue:
    """Take a step out; what waited for it waits for what it waited for."""
    return _act(build_id, lambda build: library_editing.drop_step(build, step), "phases")
