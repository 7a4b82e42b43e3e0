"""The papers of a section: worksheets and keys by phase, on screen and as PDF."""

import datetime as dt
from dataclasses import replace

from flask import Blueprint, Response, render_template, request
from flask.typing import ResponseReturnValue

from app.domain import worksheets as sheet
from app.domain.bands import BANDS
from app.domain.document import Document, Paper, Version
from app.models import Section
from app.print.compile import print_documents
from app.store import Missing, plans, sections
from app.store import worksheets as store
from app.web.access import me
from app.web.database import db

bp = Blueprint("worksheets", __name__)

VERSIONS: dict[str, tuple[Version, str]] = {
    "standard": ("standard", "Standard"),
    "pictured": ("pictured", "Pictured steps and sentence starters"),
    "large": ("large", "Large print, figures described"),
}
LENGTHS = (10, 15, 20, 25, 30, 40, 60)


@bp.get("/sections/<key>/papers")
def list_papers(key: str) -> ResponseReturnValue:
    """Which paper for which phase; the phase at the bench this week comes first."""
    session = db()
    section = sections.load_section(session, me(), key)
    plan = plans.current_plan(session, section)
    spans: dict[int, list[dt.date]] = {}
    for row in plans.list_activities(session, plan) if plan else ():
        spans.setdefault(row.step.phase_id, []).append(row.meeting.date)
    return render_template(
        "worksheets/papers.html",
        section=section,
        spans={phase: (min(dates), max(dates)) for phase, dates in spans.items()},
        plan=plan,
    )


class _Choice:
    """What the address says of a paper; unknown words fall back to the plain ones."""

    def __init__(self, section: Section) -> None:
        given = request.args
        self.band = given.get("band") if given.get("band") in BANDS else section.band
        self.version = VERSIONS.get(given.get("version", ""), VERSIONS["standard"])[0]
        length = given.get("minutes", "25")
        self.minutes = int(length) if length.isdecimal() and 5 <= int(length) <= 120 else 25
        self.seed = given.get("seed", "").strip()[:40] or "1"
        self.paper: Paper = "a4" if given.get("paper") == "a4" else "letter"
        self.team = given.get("team", "")


@bp.get("/sections/<key>/papers/<phase>")
def show_worksheet(key: str, phase: str) -> ResponseReturnValue:
    """A phase's worksheet on screen, with the choices that change it."""
    session = db()
    section = sections.load_section(session, me(), key)
    choice = _Choice(section)
    trouble, document = "", None
    try:
        document = _documents(section, phase, choice, one=True)[0]
    except sheet.WorksheetError as error:
        trouble = str(error)
    return render_template(
        "worksheets/worksheet.html",
        section=section,
        phase=store.find_phase(section.build, phase),
        document=document,
        trouble=trouble,
        choice=choice,
        teams=sections.load_teams(session, section),
        versions=VERSIONS,
        lengths=LENGTHS,
        bands=BANDS,
    ), (422 if trouble else 200)


@bp.get("/sections/<key>/papers/<phase>.pdf")
def worksheet_pdf(key: str, phase: str) -> ResponseReturnValue:
    """One worksheet."""
    documents, choice = _made(key, phase, one=True)
    return _pdf(documents, choice, f"{key}-{phase}.pdf")


@bp.get("/sections/<key>/papers/<phase>/key.pdf")
def worksheet_key_pdf(key: str, phase: str) -> ResponseReturnValue:
    """The answer key of one worksheet."""
    documents, choice = _made(key, phase, one=True)
    return _pdf([sheet.answer_key(documents[0])], choice, f"{key}-{phase}-key.pdf")


@bp.get("/sections/<key>/papers/<phase>/class-set.pdf")
def class_set_pdf(key: str, phase: str) -> ResponseReturnValue:
    """One sheet per team in one PDF."""
    documents, choice = _made(key, phase, one=False)
    return _pdf(documents, choice, f"{key}-{phase}-class-set.pdf")


@bp.get("/sections/<key>/papers/<phase>/class-set-key.pdf")
def class_set_key_pdf(key: str, phase: str) -> ResponseReturnValue:
    """The one key for a class set."""
    documents, choice = _made(key, phase, one=False)
    return _pdf([sheet.class_set_key(documents)], choice, f"{key}-{phase}-class-set-key.pdf")


def _made(key: str, phase: str, *, one: bool) -> tuple[list[Document], _Choice]:
    """The documents of an address; a band that offers nothing is no such paper."""
    section = sections.load_section(db(), me(), key)
    choice = _Choice(section)
    try:
        return _documents(section, phase, choice, one=one), choice
    except sheet.WorksheetError as error:
        raise Missing(str(error)) from error


def _documents(section: Section, phase: str, choice: _Choice, *, one: bool) -> list[Document]:
    """The worksheets asked for: one (for a team, or for anyone), or one per team.

    Raises WorksheetError where the band has nothing to offer, Missing for an unknown phase.
    """
    made = store.phase_request(
        db(),
        section,
        phase,
        seed=choice.seed,
        band=choice.band,
        minutes=choice.minutes,
        version=choice.version,
    )
    teams = sections.load_teams(db(), section)
    holders = [(team.code, store.team_values(team, section.build)) for team in teams]
    if not one:
        return sheet.class_set(made, holders)
    for holder, quantities in holders:
        if holder == choice.team:
            return [sheet.generate(replace(made, holder=holder, quantities=quantities))]
    return [sheet.generate(made)]


def _pdf(documents: list[Document], choice: _Choice, name: str) -> Response:
    printed = print_documents(documents, paper=choice.paper)
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    if printed.notice:
        headers["X-Print-Notice"] = printed.notice
    return Response(printed.pdf, mimetype="application/pdf", headers=headers)
