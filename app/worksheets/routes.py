"""The papers of a section: worksheets and their keys, and every other paper, on screen and PDF."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from flask import (
    Response,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)
from flask.typing import ResponseReturnValue

from app.domain.bands import BANDS
from app.domain.papers import worksheets as sheet
from app.domain.papers.document import Document, answer_key
from app.interchange.docx import docx_bytes
from app.interchange.items_csv import items_csv
from app.jobs.class_set_making import KIND as CLASS_SET
from app.jobs.sheets import LENGTHS, VERSIONS, Worksheet
from app.models import Meeting, Section
from app.print.compile import print_documents
from app.print.mathml import formula_mathml
from app.print.picture import sheet_png
from app.store import Missing, jobs, sections
from app.store.classroom import evidence
from app.store.paper import class_sets, handouts, saved_papers
from app.store.paper import worksheets as store
from app.store.plan import plans
from app.web.access import me, public
from app.web.clock import now_here, today_here
from app.web.downloads import paper_asked, send
from app.web.limits import PUBLIC, limiter
from app.web.request_session import db
from app.worksheets import hand, marks
from app.worksheets.blueprint import bp
from app.worksheets.paper_kinds import KINDS, PaperAsked, documents_of

PARTICULARS = frozenset({"phase", "permit", "form", "aloud", "team", "student", "key-of", "paper"})


def _public_address() -> str:
    address: str = current_app.config["STRINGCOURSE"].public_address
    return address


@bp.get("/sections/<key>/papers")
def list_papers(key: str) -> ResponseReturnValue:
    """Which paper for which phase; then every other paper, and those saved."""
    session = db()
    section = sections.load_section(session, me(), key)
    plan = plans.current_plan(session, section)
    spans: dict[int, list[dt.date]] = {}
    for row in plans.list_activities(session, plan) if plan else ():
        spans.setdefault(row.step.phase_id, []).append(row.meeting.date)
    steps = sections.load_steps(session, section.build_id)
    concepts = {e.concept.key: e.concept.title for step in steps for e in step.exposures}
    today = today_here()
    return render_template(
        "worksheets/papers.html",
        section=section,
        spans={phase: (min(dates), max(dates)) for phase, dates in spans.items()},
        now={phase for phase, dates in spans.items() if min(dates) <= today <= max(dates)},
        plan=plan,
        steps=steps,
        concepts=sorted(concepts.items(), key=lambda pair: pair[1]),
        permits=handouts.permits_asked(session, section),
        kinds=KINDS,
        saved=saved_papers.list_papers(session, section),
        templates=saved_papers.list_templates(session, me(), section),
        mine=sections.may_change(me(), section),
        teams=section.teams,
        files=class_sets.list_files(session, section, now_here()),
        job=jobs.open_job(session, section, CLASS_SET),
    )


# --- worksheets --------------------------------------------------------------------------------


def _worksheet(key: str) -> Worksheet:
    section = sections.load_section(db(), me(), key)
    return Worksheet(db(), section, request.args, _public_address(), on=today_here())


@bp.get("/sections/<key>/papers/worksheet")
def show_worksheet(key: str) -> ResponseReturnValue:
    """A worksheet by phase, step, concept or standard on screen, with what changes it."""
    section = sections.load_section(db(), me(), key)
    if not request.args:
        return redirect(url_for("worksheets.list_papers", key=key))
    made = Worksheet(db(), section, request.args, _public_address(), on=today_here())
    return _worksheet_page(made, made.one())


@bp.errorhandler(sheet.WorksheetError)
def show_no_worksheet(error: sheet.WorksheetError) -> ResponseReturnValue:
    """The page of the worksheet asked for says why there is none, and what to change."""
    made = _worksheet((request.view_args or {})["key"])
    return _worksheet_page(made, None, str(error)), 422


def _worksheet_page(made: Worksheet, document: Document | None, trouble: str = "") -> str:
    return render_template(
        "worksheets/worksheet.html",
        section=made.section,
        made=made,
        choice=made.choice,
        query=made.choice.query,
        document=document,
        trouble=trouble,
        offered=() if document else made.request.other_bands,
        codes=[holder.code for holder in made.holders],
        versions=VERSIONS,
        lengths=LENGTHS,
        bands=BANDS,
        public_address=_public_address(),
        mine=sections.may_change(me(), made.section),
    )


@bp.get("/sections/<key>/papers/worksheet.pdf")
def worksheet_pdf(key: str) -> ResponseReturnValue:
    """One worksheet."""
    made = _worksheet(key)
    return _pdf([made.one()], f"{key}-{made.choice.name}")


@bp.get("/sections/<key>/papers/worksheet/key")
def show_worksheet_key(key: str) -> ResponseReturnValue:
    """The answer key of one worksheet on screen."""
    made = _worksheet(key)
    document = answer_key(made.one())
    back = url_for("worksheets.show_worksheet", key=key, **made.choice.query)
    pdf = url_for("worksheets.worksheet_key_pdf", key=key, **made.choice.query)
    return render_template(
        "worksheets/paper.html",
        section=made.section,
        title=document.title,
        documents=[document],
        pdf=pdf,
        back=back,
    )


@bp.get("/sections/<key>/papers/worksheet/key.pdf")
def worksheet_key_pdf(key: str) -> ResponseReturnValue:
    """The answer key of one worksheet."""
    made = _worksheet(key)
    return _pdf([answer_key(made.one())], f"{key}-{made.choice.name}-key")


@bp.get("/sections/<key>/papers/worksheet/class-set.pdf")
def class_set_pdf(key: str) -> ResponseReturnValue:
    """One sheet per team or student in one PDF; a large set is made by the worker."""
    made = _worksheet(key)
    if made.is_large:
        return redirect(url_for("worksheets.show_class_set", key=key, **made.set_query))
    return _pdf(made.class_set(), f"{key}-{made.choice.name}-class-set")


@bp.get("/sections/<key>/papers/worksheet/class-set-key.pdf")
def class_set_key_pdf(key: str) -> ResponseReturnValue:
    """The one key for a class set; that of a large one is made with its sheets."""
    made = _worksheet(key)
    if made.is_large:
        return redirect(url_for("worksheets.show_class_set", key=key, **made.set_query))
    return _pdf([made.class_set_key()], f"{key}-{made.choice.name}-class-set-key")


@bp.get("/sections/<key>/papers/worksheet.docx")
def worksheet_docx(key: str) -> ResponseReturnValue:
    """One worksheet as a file for a word processor."""
    made = _worksheet(key)
    return _docx([made.one()], f"{key}-{made.choice.name}")


@bp.get("/sections/<key>/papers/worksheet/items.csv")
def worksheet_items(key: str) -> ResponseReturnValue:
    """The questions of one worksheet with their answers as CSV."""
    made = _worksheet(key)
    return send(items_csv([made.one()]), f"{key}-{made.choice.name}-items.csv")


# --- the teacher's hand ------------------------------------------------------------------------


def _hand(made: Worksheet) -> hand.Hand:
    return hand.offer(made.request.title, made.questions(), made.offered)


def _hand_page(made: Worksheet, shown: hand.Hand) -> str:
    return render_template(
        "worksheets/questions.html",
        section=made.section,
        made=made,
        hand=shown,
        query=made.choice.query,
        titles={t.concept: t.title for t in (*made.offered, *made.request.treatments)},
    )


@bp.get("/sections/<key>/papers/worksheet/questions")
def choose_questions(key: str) -> ResponseReturnValue:
    """Choose, reorder, edit or drop questions, add own ones; saving makes the paper's link."""
    section = sections.load_own_section(db(), me(), key)
    made = Worksheet(db(), section, request.args, on=today_here())
    return _hand_page(made, _hand(made))


@bp.post("/sections/<key>/papers/worksheet/questions")
def save_questions(key: str) -> ResponseReturnValue:
    """Save the chosen questions as a paper, with the instruments' values as they are now."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    made = Worksheet(session, section, request.args, on=today_here())
    shown = hand.read(_hand(made), request.form)
    choice = made.choice.query
    kept = {name: choice[name] for name in (made.choice.scope, "band", "version", "minutes")}
    try:
        recipe = None if shown.mistakes else _recipe(made, shown, kept)
    except sheet.WorksheetError as error:
        shown.wrong.append(str(error))
        recipe = None
    if recipe is None:
        return _hand_page(made, shown), 422
    row = saved_papers.save_paper(
        session,
        section,
        title=shown.title,
        seed=made.choice.seed,
        recipe=recipe,
        now=now_here(),
        row=None if request.form.get("as-new") else made.row,
    )
    session.commit()
    flash(f"“{row.title}” is saved; its address prints the same paper next year.")
    return redirect(url_for("worksheets.show_worksheet", key=key, saved=row.id), 303)


def _recipe(made: Worksheet, shown: hand.Hand, kept: dict[str, str]) -> saved_papers.Recipe:
    """What prints the paper again: its questions, what it teaches of them, today's values.

    Questions added to a saved paper bring the library's words of today for their lesson; the
    lessons that were on it keep theirs.
    """
    items = shown.items()
    held = {treatment.concept: treatment for treatment in made.request.treatments}
    offered = {treatment.concept: treatment for treatment in made.offered}
    lessons = tuple(replace(treatment, patterns=()) for treatment in ({**offered, **held}).values())
    request = replace(made.request, items=items, treatments=lessons, room=None)
    holders = tuple(store.team_holders(made.session, made.section))
    return saved_papers.Recipe(kept, items, holders, saved_papers.taught_by(request))


@bp.post("/sections/<key>/papers/saved")
def take_over(key: str) -> ResponseReturnValue:
    """Use a paper saved in another section here, with this section's own values."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    wanted = request.form.get("paper", "")
    for row in saved_papers.list_templates(session, me(), section):
        if str(row.id) == wanted:
            copy = saved_papers.take_over(session, section, row, now_here())
            session.commit()
            return redirect(url_for("worksheets.show_worksheet", key=key, saved=copy.id), 303)
    raise Missing("paper")


@bp.post("/sections/<key>/papers/saved/<int:paper_id>/delete")
def delete_saved(key: str, paper_id: int) -> ResponseReturnValue:
    """Drop a saved paper."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    row = saved_papers.load_paper(session, section, paper_id)
    title = row.title
    saved_papers.delete_paper(session, row)
    session.commit()
    flash(f"“{title}” is dropped.")
    return redirect(url_for("worksheets.list_papers", key=key), 303)


# --- marks -------------------------------------------------------------------------------------


def _meetings(section: Section) -> list[Meeting]:
    """The meetings a mark can belong to, the latest first."""
    today = today_here()
    return [m for m in reversed(sections.list_meetings(db(), section)) if m.date <= today]


def _marks_page(
    made: Worksheet, grid: marks.MarkSheet, meetings: Sequence[Meeting], number: int | None
) -> str:
    return render_template(
        "worksheets/marks.html",
        section=made.section,
        made=made,
        grid=grid,
        meetings=meetings,
        number=number,
        query=made.choice.query,
    )


def _own_worksheet(key: str) -> Worksheet:
    return Worksheet(
        db(), sections.load_own_section(db(), me(), key), request.args, on=today_here()
    )


@bp.get("/sections/<key>/papers/worksheet/marks")
def show_marks(key: str) -> ResponseReturnValue:
    """The mark sheet: sheets down, questions across in the order of the key."""
    made = _own_worksheet(key)
    return _marks_page(made, marks.mark_sheet(made), _meetings(made.section), None)


@bp.post("/sections/<key>/papers/worksheet/marks")
def save_marks(key: str) -> ResponseReturnValue:
    """Save all cells sent, or the one cell a script sends as soon as it is left."""
    session = db()
    made = _own_worksheet(key)
    meetings = _meetings(made.section)
    number = request.form.get("meeting", type=int)
    meeting = next((m for m in meetings if m.number == number), None)
    one_cell = request.headers.get("X-Part") == "cell"
    grid = marks.mark_sheet(made, with_answers=not one_cell)
    if meeting is None:
        flash("Choose the meeting in which the sheets were written.", "refused")
        return _marks_page(made, grid, meetings, None), 422
    by = evidence.By(me().name, now_here())
    changed = marks.save(made, grid, request.form, meeting=meeting, by=by)
    session.commit()
    if one_cell:
        trouble = next(iter(grid.wrong.values()), "")
        return Response(trouble or "saved", 422 if trouble else 200, mimetype="text/plain")
    if grid.wrong:
        return _marks_page(made, grid, meetings, number), 422
    flash(f"{changed} cells saved." if changed else "Nothing had changed.")
    return redirect(url_for("worksheets.show_marks", key=key, **made.choice.query), 303)


# --- every other paper -------------------------------------------------------------------------


def _other(key: str, kind: str) -> tuple[Section, list[Document]]:
    given = request.args
    section = sections.load_section(db(), me(), key)
    asked = PaperAsked(
        phase=given.get("phase", ""),
        permit=given.get("permit", ""),
        form=given.get("form", "A"),
        read_aloud=bool(given.get("aloud")),
        team=given.get("team", ""),
        student=given.get("student", ""),
    )
    if kind == "progress-note" and not sections.may_change(me(), section):
        raise Missing("progress note")  # marks and tests of a student are the teacher's to show
    documents = documents_of(db(), section, kind, asked, today_here())
    return section, [answer_key(documents[0])] if given.get("key-of") else documents


@bp.get("/sections/<key>/papers/<kind>")
def show_paper(key: str, kind: str) -> ResponseReturnValue:
    """A paper on screen; of a set for many the first ones."""
    try:
        section, documents = _other(key, kind)
    except ValueError as error:
        return _nothing(key, str(error))
    shared: dict[str, Any] = {n: v for n, v in request.args.items() if n in PARTICULARS}
    return render_template(
        "worksheets/paper.html",
        section=section,
        title=KINDS[kind].title,
        documents=documents,
        pdf=url_for("worksheets.paper_pdf", key=key, kind=kind, **shared),
        docx=url_for("worksheets.paper_docx", key=key, kind=kind, **shared),
        back=url_for("worksheets.list_papers", key=key),
    )


def _nothing(key: str, sentence: str) -> ResponseReturnValue:
    section = sections.load_section(db(), me(), key)
    page = render_template(
        "worksheets/nothing.html", section=section, sentence=sentence, title="Papers"
    )
    return page, 422


@bp.get("/sections/<key>/papers/<kind>.pdf")
def paper_pdf(key: str, kind: str) -> ResponseReturnValue:
    """A paper as PDF."""
    try:
        _, documents = _other(key, kind)
    except ValueError as error:
        return _nothing(key, str(error))
    return _pdf(documents, f"{key}-{kind}")


@bp.get("/sections/<key>/papers/<kind>.docx")
def paper_docx(key: str, kind: str) -> ResponseReturnValue:
    """A paper as a file for a word processor."""
    try:
        _, documents = _other(key, kind)
    except ValueError as error:
        return _nothing(key, str(error))
    return _docx(documents, f"{key}-{kind}")


# --- from paper to screen ----------------------------------------------------------------------


@bp.get("/go/<int:section_id>/<int:team_id>/<int:treatment_id>")
@public
@limiter.limit(PUBLIC)
def open_calculator(section_id: int, team_id: int, treatment_id: int) -> ResponseReturnValue:
    """The short address on a sheet: its calculator with this instrument's values."""
    calculator, given = store.calculator_of_sheet(db(), section_id, team_id, treatment_id)
    entries: dict[str, Any] = dict(given)
    return redirect(url_for("calculators.show_calculator", key=calculator, **entries))


def _pdf(documents: Sequence[Document], name: str) -> Response:
    printed = print_documents(documents, paper=paper_asked())
    return send(printed.pdf, f"{name}.pdf", notice=printed.notice)


def _docx(documents: Sequence[Document], name: str) -> Response:
    content = docx_bytes(documents, mathml=formula_mathml, picture=sheet_png, paper=paper_asked())
    return send(content, f"{name}.docx")
