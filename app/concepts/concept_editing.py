"""A school's own concepts, treatments, questions and alignments, beside the shipped ones."""

from collections.abc import Mapping
from typing import Any

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.concepts.forms import (
    ConceptForm,
    NewConceptForm,
    QuestionForm,
    TreatmentForm,
    calculators,
    question_data,
    question_tables,
    question_values,
    treatment_data,
    treatment_tables,
)
from app.concepts.routes import EDITORS, bp
from app.domain.bands import BANDS
from app.interchange import library_editing
from app.interchange import library_file as schema
from app.interchange.loading import save_treatment, treatment_file
from app.interchange.teaching import own_treatment_mistakes
from app.models import Concept, Treatment
from app.store import Missing, library
from app.store.standard import standards
from app.web.access import for_roles, me
from app.web.clock import today_here
from app.web.fields import options
from app.web.request_session import db
from app.web.rows import Rows
from app.web.schema_form import SchemaForm

BAND = '<any("3-5", "6-8", "9-12", college):band>'


def _concept(key: str) -> Concept:
    return library.find_concept(db(), key, me().school_id)


def _own_concept(key: str) -> Concept:
    concept = _concept(key)
    if concept.school_id != me().school_id:
        raise Missing(f"own concept {key}")
    return concept


def _seen(concept: Concept, band: str) -> Treatment | None:
    rows = library.treatments_seen(concept.treatments, me().school_id)
    return next((row for row in rows if row.band == band), None)


def _to_concept(key: str, anchor: str | None = None) -> ResponseReturnValue:
    return redirect(url_for("concepts.show_concept", key=key, _anchor=anchor), 303)


# --- concepts ----------------------------------------------------------------------------------


@bp.get("/concepts/new")
@for_roles(*EDITORS)
def new_concept() -> ResponseReturnValue:
    """A form for a concept of the school's own."""
    return render_template("concepts/concept_form.html", form=NewConceptForm(), concept=None)


@bp.post("/concepts/new")
@for_roles(*EDITORS)
def add_concept() -> ResponseReturnValue:
    """Add a concept of the school's own."""
    session, form = db(), NewConceptForm()
    if form.validate():
        if form.key.data in library.kinds(session, Concept, me().school_id):
            form.key.errors = [f"There is a concept {form.key.data} already; choose another key."]
        else:
            session.add(Concept(school_id=me().school_id, **form.sent()))
            session.commit()
            return _to_concept(form.key.data or "")
    return render_template("concepts/concept_form.html", form=form, concept=None), 422


@bp.get("/concepts/<key>/change")
@for_roles(*EDITORS)
def edit_concept(key: str) -> ResponseReturnValue:
    """A form for a concept of the school's own."""
    concept = _own_concept(key)
    form = ConceptForm(formdata=None, obj=concept)
    return render_template("concepts/concept_form.html", form=form, concept=concept)


@bp.post("/concepts/<key>/change")
@for_roles(*EDITORS)
def change_concept(key: str) -> ResponseReturnValue:
    """Save title, subject and summary."""
    concept, form = _own_concept(key), ConceptForm()
    if not form.validate():
        return render_template("concepts/concept_form.html", form=form, concept=concept), 422
    form.populate_obj(concept)
    db().commit()
    return _to_concept(key)


# --- treatments --------------------------------------------------------------------------------


def _treatment_form(**given: Any) -> TreatmentForm:
    form = TreatmentForm(**given)
    form.calculator.choices = options(calculators())
    return form


def _treatment_tables() -> dict[str, Rows]:
    rows = library.frameworks_named(db(), me().school_id)
    return treatment_tables([(row.key, row.title) for row in rows])


def _treatment_page(
    concept: Concept, band: str, form: TreatmentForm, tables: Mapping[str, Rows]
) -> str:
    return render_template(
        "concepts/treatment_form.html",
        concept=concept,
        band=band,
        form=form,
        tables=tables,
        row=_seen(concept, band),
    )


@bp.get(f"/concepts/<key>/{BAND}/treatment")
@for_roles(*EDITORS)
def edit_treatment(key: str, band: str) -> ResponseReturnValue:
    """A form for the treatment at a grade band, filled from the one in use, if there is one."""
    concept = _concept(key)
    row, tables = _seen(concept, band), _treatment_tables()
    form = _treatment_form(formdata=None)
    if row is not None:
        content = treatment_file(row)
        values = library_editing.plain(content)
        form = _treatment_form(formdata=None, data=treatment_data(content))
        tables["vocabulary"].fill(values["vocabulary"])
        # What the school decided by itself is not the treatment's to say; declined ones are gone.
        held = library.alignments_of(db(), [row.id], me().school_id).get(row.id, [])
        tables["alignments"].fill(
            [
                {**item, "practice": "true" if item["practice"] else ""}
                for item, aligned in zip(values["alignments"], row.alignments, strict=True)
                if aligned in held
            ]
        )
    return _treatment_page(concept, band, form, tables)


@bp.post(f"/concepts/<key>/{BAND}/treatment")
@for_roles(*EDITORS)
def change_treatment(key: str, band: str) -> ResponseReturnValue:
    """Save the treatment as the school's own."""
    concept, form, tables = _concept(key), _treatment_form(), _treatment_tables()
    for table in tables.values():
        table.read(request.form)
    if form.validate():
        row = _seen(concept, band)
        questions = (
            library_editing.plain(treatment_file(row))["questions"] if row is not None else []
        )
        prerequisites = [k.strip() for k in (form.prerequisites.data or "").split(",") if k.strip()]
        values = {
            **form.sent(),
            "band": band,
            "prerequisites": prerequisites,
            "vocabulary": tables["vocabulary"].entries(),
            "alignments": tables["alignments"].entries(),
            "questions": questions,
        }
        found = _find_codes(values["alignments"])
        unknown = [
            k for k in prerequisites if k not in library.kinds(db(), Concept, me().school_id)
        ]
        found += [(("prerequisites",), f"there is no concept {name}") for name in unknown]
        if _save(concept, values, form, tables, found):
            db().commit()
            flash("The treatment is saved as your school’s own.")
            return _to_concept(key, f"band-{band}")
        db().rollback()
    return _treatment_page(_concept(key), band, form, tables), 422


def _find_codes(rows: list[dict[str, str]]) -> list[tuple[library_editing.Place, str]]:
    """Put official framework and code into each row; say which codes nobody knows."""
    session, school_id = db(), me().school_id
    wrong: list[tuple[library_editing.Place, str]] = []
    seen: set[tuple[str, str]] = set()
    for place, row in enumerate(rows):
        named = row.get("framework", ""), row.get("code", "")
        if not named[1]:
            continue
        try:
            standard = library.find_standard(session, school_id, *named) or standards.resolve(
                session, school_id, named[1]
            )
        except ValueError as error:
            wrong.append((("alignments", place, "code"), str(error).rstrip(".")))
            continue
        row["framework"], row["code"] = standard.framework.key, standard.code
        if (row["framework"], row["code"]) in seen:
            wrong.append((("alignments", place, "code"), f"{standard.code} stands twice; keep one"))
        seen.add((row["framework"], row["code"]))
    return wrong


def _save(
    concept: Concept,
    values: dict[str, Any],
    form: SchemaForm,
    tables: Mapping[str, Rows],
    found: list[tuple[library_editing.Place, str]],
) -> bool:
    """Save a checked treatment as the school's own; otherwise show every mistake on the form."""
    session, user = db(), me()
    wrong = list(found)
    try:
        treatment = library_editing.entry(schema.TreatmentEntry, values)
    except library_editing.WrongValues as error:
        wrong += [item for item in error.places if item not in wrong]
    else:
        if not wrong:
            wrong += [
                (("minutes",) if "the lesson takes" in text else (), text)
                for text in own_treatment_mistakes(session, treatment, user.school_id)
            ]
    if wrong:
        for place, sentence in wrong:
            form.place(place, sentence, tables)
        return False
    save_treatment(
        session,
        concept,
        treatment,
        user.school_id,
        position=list(BANDS).index(treatment.band),
        decided=(user.name, today_here().isoformat()),
    )
    session.flush()
    return True


@bp.post(f"/concepts/<key>/{BAND}/treatment/drop")
@for_roles(*EDITORS)
def drop_treatment(key: str, band: str) -> ResponseReturnValue:
    """Remove the school's own treatment; a shipped one it replaced is seen again."""
    session, row = db(), _seen(_concept(key), band)
    if row is None or row.school_id != me().school_id:
        raise Missing(f"own treatment {key} {band}")
    try:
        library.drop_treatment(session, row)
    except ValueError as error:
        session.rollback()
        flash(str(error), "refused")
        return _to_concept(key, f"band-{band}")
    session.commit()
    flash("Your school’s treatment is removed.")
    return _to_concept(key)


# --- questions ---------------------------------------------------------------------------------


def _treatment(key: str, band: str) -> tuple[Concept, schema.TreatmentEntry]:
    concept = _concept(key)
    row = _seen(concept, band)
    if row is None:
        raise Missing(f"treatment {key} {band}")
    return concept, treatment_file(row)


def _question(treatment: schema.TreatmentEntry, name: str) -> schema.QuestionEntry:
    for question in treatment.questions:
        if question.key == name:
            return question
    raise Missing(f"question {name}")


def _question_form(**given: Any) -> QuestionForm:
    form = QuestionForm(**given)
    form.computed_calculator.choices = options(calculators())
    return form


def _question_page(
    concept: Concept, band: str, form: QuestionForm, tables: Mapping[str, Rows], name: str | None
) -> str:
    return render_template(
        "concepts/question_form.html",
        concept=concept,
        band=band,
        form=form,
        tables=tables,
        name=name,
    )


@bp.get(f"/concepts/<key>/{BAND}/questions/new")
@for_roles(*EDITORS)
def new_question(key: str, band: str) -> ResponseReturnValue:
    """A form for a question pattern."""
    concept, _ = _treatment(key, band)
    return _question_page(concept, band, _question_form(formdata=None), question_tables(), None)


@bp.post(f"/concepts/<key>/{BAND}/questions/new")
@for_roles(*EDITORS)
def add_question(key: str, band: str) -> ResponseReturnValue:
    """Add a question pattern to the school's own treatment."""
    return _take_question(key, band, None)


@bp.get(f"/concepts/<key>/{BAND}/questions/change/<name>")
@for_roles(*EDITORS)
def edit_question(key: str, band: str, name: str) -> ResponseReturnValue:
    """A form for a question pattern, filled from the one in use."""
    concept, treatment = _treatment(key, band)
    data, rows = question_data(_question(treatment, name))
    tables = {table: item.fill(rows[table]) for table, item in question_tables().items()}
    return _question_page(concept, band, _question_form(formdata=None, data=data), tables, name)


@bp.post(f"/concepts/<key>/{BAND}/questions/change/<name>")
@for_roles(*EDITORS)
def change_question(key: str, band: str, name: str) -> ResponseReturnValue:
    """Save a question pattern in the school's own treatment."""
    return _take_question(key, band, name)


def _take_question(key: str, band: str, name: str | None) -> ResponseReturnValue:
    concept, treatment = _treatment(key, band)
    before = _question(treatment, name) if name is not None else None
    form = _question_form()
    tables = {table: item.read(request.form) for table, item in question_tables().items()}
    if form.validate():
        values = library_editing.plain(treatment)
        sent = question_values(form, tables, before)
        places = [item["key"] for item in values["questions"]]
        taken = sent.get("key") in places and sent.get("key") != name
        found: list[tuple[library_editing.Place, str]] = (
            [(("key",), f"there is a question {sent['key']} already")] if taken else []
        )
        try:
            library_editing.entry(schema.QuestionEntry, sent)
        except library_editing.WrongValues as error:
            found += [(_row_of(place, tables), sentence) for place, sentence in error.places]
        if found:
            for place, sentence in found:
                form.place(place, sentence, tables)
        else:
            at = places.index(name) if name is not None else len(places)
            values["questions"][at : at + 1] = [sent]
            if _save(concept, values, form, tables, []):
                db().commit()
                flash("The question is saved in your school’s own treatment.")
                return _to_concept(key, f"{band}-{sent['key']}")
        db().rollback()
    return _question_page(_concept(key), band, form, tables, name), 422


def _row_of(place: library_editing.Place, tables: Mapping[str, Rows]) -> library_editing.Place:
    """Parameters are named in the schema and numbered on the form."""
    if len(place) > 1 and place[0] == "parameters":
        names = [row["name"] for row in tables["parameters"].values]
        if place[1] in names:
            return ("parameters", names.index(str(place[1])), *place[2:])
    return place


@bp.post(f"/concepts/<key>/{BAND}/questions/drop/<name>")
@for_roles(*EDITORS)
def drop_question(key: str, band: str, name: str) -> ResponseReturnValue:
    """Take a question pattern out of the school's own treatment."""
    concept, treatment = _treatment(key, band)
    _question(treatment, name)
    left = [question for question in treatment.questions if question.key != name]
    save_treatment(
        db(),
        concept,
        treatment.model_copy(update={"questions": left}),
        me().school_id,
        position=list(BANDS).index(band),
    )
    db().commit()
    flash("The question is out of your school’s treatment.")
    return _to_concept(key, f"band-{band}")
