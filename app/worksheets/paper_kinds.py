"""The papers that are no worksheets: what each is for, and how it is made from the facts."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.domain.papers.coverage_statement import coverage_statement
from app.domain.papers.document import Document
from app.domain.papers.hold_point_sheet import hold_point_sheet
from app.domain.papers.letter_home import letter_home
from app.domain.papers.phase_card import phase_card
from app.domain.papers.progress_note import progress_note
from app.domain.papers.safety_test import form_named, safety_test
from app.domain.papers.showcase_card import showcase_card
from app.domain.papers.sign_off_log import sign_off_log
from app.domain.papers.worksheets import Holder
from app.models import Section
from app.store import Missing
from app.store.paper import handouts
from app.store.paper import worksheets as store


@dataclass(frozen=True)
class PaperAsked:
    """Which paper exactly: only what its kind needs is looked at."""

    phase: str = ""
    permit: str = ""
    form: str = "A"
    read_aloud: bool = False
    band: str = ""
    team: str = ""
    student: str = ""


Builder = Callable[[Session, Section, PaperAsked, dt.date], list[Document]]


@dataclass(frozen=True)
class PaperKind:
    """A paper: its title, what it is for, what must be chosen, and its builder."""

    title: str
    purpose: str
    needs: tuple[str, ...]
    build: Builder


def _per_team(session: Session, section: Section, team: str) -> list[Holder]:
    """The team asked for, or all; where there are no teams yet, one for anyone."""
    found = store.team_holders(session, section)
    if team:
        found = [holder for holder in found if holder.code == team]
        if not found:
            raise Missing(f"team {team}")
    return found or [Holder("", store.nominal_values(section.build))]


def _phase_cards(
    session: Session, section: Section, asked: PaperAsked, _today: dt.date
) -> list[Document]:
    phase, steps = handouts.phase_steps(session, section, asked.phase)
    return [
        phase_card(handouts.head(section, holder=holder.code), phase.title, phase.milestone, steps)
        for holder in _per_team(session, section, asked.team)
    ]


def _hold_points(
    session: Session, section: Section, asked: PaperAsked, _today: dt.date
) -> list[Document]:
    phase, steps = handouts.phase_steps(session, section, asked.phase)
    return [
        hold_point_sheet(handouts.head(section, holder=holder.code), phase.title, steps)
        for holder in _per_team(session, section, asked.team)
    ]


def _safety_tests(
    session: Session, section: Section, asked: PaperAsked, _today: dt.date
) -> list[Document]:
    station = handouts.station_of(session, section, asked.permit)
    try:
        form = form_named(asked.form)
    except ValueError as error:
        raise Missing(str(error)) from error
    band = asked.band or section.band
    head = handouts.head(section)
    return [safety_test(head, station, band, form, read_aloud=asked.read_aloud)]


def _log(session: Session, section: Section, _asked: PaperAsked, today: dt.date) -> list[Document]:
    permits, rows = handouts.sign_off_rows(session, section, today)
    hazards = handouts.course_facts(session, section).hazards
    return [sign_off_log(handouts.head(section, today), permits, rows, hazards)]


def _letter(
    session: Session, section: Section, _asked: PaperAsked, today: dt.date
) -> list[Document]:
    return [letter_home(handouts.head(section, today), handouts.course_facts(session, section))]


def _notes(session: Session, section: Section, asked: PaperAsked, today: dt.date) -> list[Document]:
    found = handouts.standings(session, section, today, asked.student)
    if not found:
        raise ValueError("Nobody is enrolled yet: add students first.")
    return [
        progress_note(handouts.head(section, today, code), standing) for code, standing in found
    ]


def _statement(
    session: Session, section: Section, _asked: PaperAsked, today: dt.date
) -> list[Document]:
    rows, gaps, notices = handouts.coverage_rows(session, section)
    return [coverage_statement(handouts.head(section, today), rows, gaps, notices)]


def _cards(
    session: Session, section: Section, asked: PaperAsked, _today: dt.date
) -> list[Document]:
    goals = handouts.goals_of(session, section)
    return [
        showcase_card(
            handouts.head(section, section.showcase, holder.code), holder.quantities, goals
        )
        for holder in _per_team(session, section, asked.team)
    ]


KINDS = {
    "phase-card": PaperKind(
        "Phase card",
        "a team’s route through the phase, with hold points and initials",
        ("phase", "team"),
        _phase_cards,
    ),
    "hold-points": PaperKind(
        "Hold-point data sheet",
        "what is measured in the phase, with cells for every reading",
        ("phase", "team"),
        _hold_points,
    ),
    "safety-test": PaperKind(
        "Safety test",
        "the written test of a sign-off in two forms, also to be read aloud",
        ("permit", "form"),
        _safety_tests,
    ),
    "sign-off-log": PaperKind(
        "Sign-off log", "who is signed off for what, with dates, to hang on the wall", (), _log
    ),
    "letter-home": PaperKind(
        "Letter home", "what the class builds, when, and what keeps it safe", (), _letter
    ),
    "progress-note": PaperKind(
        "Progress note",
        "one page per student: the instrument, readings, sign-offs, marked work",
        ("student",),
        _notes,
    ),
    "coverage-statement": PaperKind(
        "Coverage statement", "each standard, how deep, with how much evidence", (), _statement
    ),
    "showcase-card": PaperKind(
        "Showcase card", "one card per instrument for the guests", ("team",), _cards
    ),
}


def documents_of(
    session: Session, section: Section, kind: str, asked: PaperAsked, today: dt.date
) -> list[Document]:
    """The paper asked for, one document per team or student where it has several.

    Raises Missing for an unknown kind, phase, permit, team or student, and ValueError with
    a sentence where there is nothing to print or something is still to be chosen.
    """
    if kind not in KINDS:
        raise Missing(f"paper {kind}; known: {', '.join(KINDS)}")
    needs = KINDS[kind].needs
    if "phase" in needs and not asked.phase:
        raise ValueError("Choose a phase: this paper is made for one.")
    if "permit" in needs and not asked.permit:
        raise ValueError("Choose a sign-off: each has a safety test of its own.")
    return KINDS[kind].build(session, section, asked, today)
