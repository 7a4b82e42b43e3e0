"""What came of the class: catch-up slips, readings and their statistics, marks."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.classroom.blueprint import bp
from app.domain.classroom.class_data import (
    NARROW,
    DataSet,
    FretReading,
    Point,
    fret_residuals,
    limits_of,
    strip,
)
from app.domain.papers.catch_up import slip_document
from app.domain.papers.document import Document, answer_key
from app.domain.papers.statistics_paper import residual_rows, statistics_document
from app.domain.quantities import UnreadableValue, parse, plain_number
from app.interchange.evidence_export import evidence_csv, measurements_csv
from app.models import Measurement, Meeting, MeetingState, Section, Step, Team, Treatment
from app.print import print_documents
from app.print.page import document_html
from app.store import Missing, sections
from app.store.classroom import evidence, readings, sheet_marks
from app.store.paper import catch_up_slips as catch_up_store
from app.store.plan import plans
from app.web.access import may_see_marks, me
from app.web.clock import now_here, today_here
from app.web.downloads import paper_asked, send
from app.web.formatters import plural
from app.web.request_session import db


def _section(key: str) -> Section:
    return sections.load_section(db(), me(), key)


def _pdf(documents: list[Document], name: str) -> Response:
    printed = print_documents(documents, paper=paper_asked())
    return send(printed.pdf, name, notice=printed.notice)


# --- catch-up slips ----------------------------------------------------------------------------


@bp.get("/sections/<key>/meetings/<int:number>/catch-up")
def catch_up(key: str, number: int) -> ResponseReturnValue:
    """A slip for each absentee: what was missed, what to do, with whom."""
    section = _section(key)
    meeting = sections.load_meeting(db(), section, number)
    return render_template(
        "classroom/catch_up.html",
        section=section,
        meeting=meeting,
        slips=[document_html(item, heading=2) for item in _slips(section, meeting)],
    )


@bp.get("/sections/<key>/meetings/<int:number>/catch-up.pdf")
def catch_up_pdf(key: str, number: int) -> ResponseReturnValue:
    """The slips of a meeting as one PDF, each on its own page."""
    section = _section(key)
    meeting = sections.load_meeting(db(), section, number)
    slips = _slips(section, meeting)
    if not slips:
        raise Missing("slips")
    return _pdf(slips, f"{key}-catch-up-{meeting.date.isoformat()}.pdf")


def _slips(section: Section, meeting: Meeting) -> list[Document]:
    plan = plans.load_plan(db(), section)
    slips = catch_up_store.slips_of(db(), section, plan, meeting)
    return [slip_document(slip) for slip in slips]


# --- readings ----------------------------------------------------------------------------------


def _data_sets(section: Section, rows: Sequence[Measurement]) -> list[DataSet]:
    """The newest reading of each team at each check, in the order of steps."""
    newest: dict[tuple[int, int], Point] = {}
    checked: dict[int, Step] = {}
    used: dict[int, str] = {}
    for row in rows:
        if row.value is None or row.quantity.startswith(readings.FRET_POSITION):
            continue
        newest[row.step_id, row.team_id] = Point(row.team.code, row.value, row.within)
        checked[row.step_id], used[row.step_id] = row.step, row.instrument_used
    found = []
    for step in sections.load_steps(db(), section.build_id):
        if step.id not in checked:
            continue
        check = step.check or {}
        low, high = limits_of(check)
        points = [point for (step_id, _), point in newest.items() if step_id == step.id]
        found.append(
            DataSet(
                key=step.key,
                what=check.get("what", step.title),
                unit=check.get("unit", ""),
                points=tuple(sorted(points, key=lambda point: point.holder)),
                low=low,
                high=high,
                instrument=used[step.id],
                if_out=check.get("if_out", ""),
            )
        )
    return found


def _frets(rows: Sequence[Measurement], teams: Sequence[Team]) -> tuple[FretReading, ...]:
    """Every measured fret against the prediction from its team's own scale length."""
    read = [
        (row.team.code, int(row.quantity.removeprefix(readings.FRET_POSITION)), row.value)
        for row in rows
        if row.quantity.startswith(readings.FRET_POSITION) and row.value is not None
    ]
    lengths = {}
    for team in teams:
        length = _scale_length_m(team)
        if length is not None:
            lengths[team.code] = length
    return fret_residuals(read, lengths)


def _scale_length_m(team: Team) -> float | None:
    for item in team.instrument.quantities:
        if item.key == "scale_length":
            try:
                return parse(item.measured or item.nominal, "length", unit="mm")
            except UnreadableValue:
                return None
    return None


@dataclass(frozen=True)
class _Entered:
    """The fret form as it was sent, and why it was not saved."""

    sentences: tuple[str, ...] = ()


@bp.get("/sections/<key>/measurements")
def measurements(key: str) -> ResponseReturnValue:
    """What the class measured: mean, spread, outliers, yield, and a chart for each check."""
    return _measurements_page(_section(key))


def _measurements_page(section: Section, entered: _Entered | None = None) -> str:
    rows = readings.measurements_of(db(), section)
    teams = sections.load_teams(db(), section)
    sets = _data_sets(section, rows)
    frets = _frets(rows, teams)
    return render_template(
        "classroom/measurements.html",
        section=section,
        sets=[
            (
                data,
                data.statistics(),
                strip(data.points, low=data.low, high=data.high),
                strip(data.points, low=data.low, high=data.high, width=NARROW),
            )
            for data in sets
        ],
        frets=frets,
        fret_rows=residual_rows(frets),
        residuals=strip(
            [Point(f"{f.holder} fret {f.fret}", f.residual_mm) for f in frets], apart=80
        )
        if frets
        else None,
        fret_statistics=DataSet(
            "frets", "Residual", "mm", tuple(Point(f.holder, f.residual_mm) for f in frets)
        ).statistics(),
        teams=teams,
        mine=sections.may_change(me(), section),
        entered=entered,
        given=request.form if entered else {},
    )


@bp.post("/sections/<key>/measurements/frets")
def record_frets(key: str) -> ResponseReturnValue:
    """Record measured fret positions of a team: lines of fret and distance from the nut."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    try:
        team = _team_given(section)
        positions = _positions(request.form.get("positions", ""), team)
        step, meeting = _fret_step(section), _meeting_now(section)
    except ValueError as error:
        session.rollback()
        section = sections.load_own_section(session, me(), key)
        return _measurements_page(section, _Entered(tuple(str(error).split("\n")))), 422
    readings.record_fret_positions(
        session,
        team=team,
        step=step,
        meeting=meeting,
        positions=positions,
        by=evidence.By(me().name, now_here()),
        instrument=request.form.get("instrument", ""),
    )
    session.commit()
    flash(f"{team.code}: {plural(len(positions), 'fret position')} recorded.")
    return redirect(url_for("classroom.measurements", key=key) + "#frets", 303)


def _team_given(section: Section) -> Team:
    code = request.form.get("team", "")
    for team in sections.load_teams(db(), section):
        if team.code == code:
            return team
    raise ValueError("Choose the team whose fretboard was measured.")


def _fret_step(section: Section) -> Step:
    """The step at which slots are measured: the one that shows the fret prediction's worst error."""
    steps = sections.load_steps(db(), section.build_id)
    for step in steps:
        if "slot" in step.title.lower() and step.check:
            return step
    for step in steps:
        if "fret" in step.title.lower():
            return step
    raise ValueError("This build has no step with frets; there is no position to predict.")


def _meeting_now(section: Section) -> Meeting:
    held = [m for m in sections.list_meetings(db(), section) if m.state is not MeetingState.LOST]
    past = [m for m in held if m.date <= today_here()]
    if not held:
        raise ValueError("The section has no meeting yet; set its days first.")
    return past[-1] if past else held[0]


def _positions(text: str, team: Team) -> dict[int, float]:
    """Fret → distance from the nut in mm; every doubtful line is asked about at once.

    Raises ValueError with a sentence per line.
    """
    length = _scale_length_m(team)
    found: dict[int, float] = {}
    wrong = []
    for line in text.splitlines():
        words = line.replace(":", " ").replace("\t", " ").split(maxsplit=1)
        if not words:
            continue
        try:
            found |= _position(words, line, length)
        except ValueError as error:
            wrong.append(str(error))
    if not found and not wrong:
        wrong.append("Enter at least one line: the fret and its distance from the nut, “12 324.1”.")
    if wrong:
        raise ValueError("\n".join(wrong))
    return found


def _position(words: list[str], line: str, length_m: float | None) -> dict[int, float]:
    if len(words) != 2 or not words[0].isdecimal() or not 1 <= int(words[0]) <= 36:
        raise ValueError(f"“{line.strip()}”: write a fret from 1 to 36 and a distance, “12 324.1”.")
    fret = int(words[0])
    distance = 1000 * parse(words[1].replace(",", "."), "length", unit="mm", name=f"Fret {fret}")
    if length_m is not None and not request.form.get("confirmed"):
        predicted = fret_residuals([("", fret, distance)], {"": length_m})[0].predicted_mm
        if abs(distance - predicted) > max(0.1 * predicted, 5.0):
            raise ValueError(
                f"Fret {fret}: {distance:g} mm is far from the predicted {predicted:.1f} mm; "
                "measure from the nut, in mm, or tick “keep them as they are”."
            )
    return {fret: distance}


@bp.get("/sections/<key>/measurements.csv")
def measurements_file(key: str) -> ResponseReturnValue:
    """Every reading as CSV."""
    return send(measurements_csv(db(), _section(key)), f"{key}-measurements.csv")


@bp.get("/sections/<key>/measurements/<step>.pdf")
def statistics_pdf(key: str, step: str) -> ResponseReturnValue:
    """A statistics worksheet on the class's own readings at one check."""
    return _pdf([_statistics(key, step)], f"{key}-{step}-readings.pdf")


@bp.get("/sections/<key>/measurements/<step>/key.pdf")
def statistics_key_pdf(key: str, step: str) -> ResponseReturnValue:
    """The answer key of the statistics worksheet."""
    return _pdf([answer_key(_statistics(key, step))], f"{key}-{step}-readings-key.pdf")


def _statistics(key: str, step: str) -> Document:
    section = _section(key)
    for data in _data_sets(section, readings.measurements_of(db(), section)):
        if data.key == step:
            try:
                return statistics_document(data, section.title)
            except ValueError as error:
                raise Missing(str(error)) from error
    raise Missing(f"readings at {step}")


# --- marks -------------------------------------------------------------------------------------

ARTIFACTS = ("exit question", "test", "report")  # a worksheet has its own mark sheet
SHOWN_LESSONS = 6
MOST_POINTS = 1000.0
USUAL_POINTS = 10.0  # until a paper has been marked once


def _taught(section: Section) -> list[Treatment]:
    """Treatments taught so far, newest last."""
    plan = plans.current_plan(db(), section)
    found: dict[int, Treatment] = {}
    for row in plans.list_lessons(db(), plan) if plan else ():
        if row.treatment is not None and row.meeting.state is MeetingState.TAUGHT:
            found[row.treatment.id] = row.treatment
    return list(found.values())


@bp.get("/sections/<key>/marks")
def marks(key: str) -> ResponseReturnValue:
    """Marks by student and lesson: a grid to fill."""
    return _marks_page(_marked(key))


def _marked(key: str) -> Section:
    """A section whose marks are open to the signed-in user."""
    section = _section(key)
    if not may_see_marks(section):
        raise Missing("marks")
    return section


@dataclass(frozen=True)
class _Papers:
    """The papers whose marks can be seen, and what there is of the one chosen.

    One marked question by question is added up and only shown: its marks are the mark sheet's.
    """

    titles: list[str]
    chosen: str
    by_question: bool
    work: list[sheet_marks.MarkedWork]

    @property
    def out_of(self) -> float:
        """How many points the paper has: as it was marked last."""
        return self.work[-1].out_of if self.work else USUAL_POINTS


def _papers(section: Section) -> _Papers:
    """The paper asked for, or the one marked last; every paper on record can be chosen."""
    marks = sheet_marks.marks_of(db(), section)
    titles = [*ARTIFACTS, *sorted({row.artifact for row in marks} - set(ARTIFACTS))]
    chosen = request.values.get("artifact", "")
    if chosen not in titles:
        chosen = marks[-1].artifact if marks else ARTIFACTS[0]
    own = [row for row in marks if row.artifact == chosen]
    by_question = any(row.question for row in own)
    return _Papers(titles, chosen, by_question, sheet_marks.marked_work(own))


def _marks_page(section: Section, wrong: tuple[str, ...] = ()) -> str:
    papers = _papers(section)
    held = {(work.student.id, work.treatment.id): work for work in papers.work if work.treatment}
    lessons = _taught(section)
    if papers.by_question:
        lessons = list({t.id: t for work in papers.work if (t := work.treatment)}.values())
    shown = lessons if request.args.get("all") == "1" else lessons[-SHOWN_LESSONS:]
    return render_template(
        "classroom/marks.html",
        section=section,
        students=[s for s in section.students if s.enrolled(today_here())],
        treatments=shown,
        more=len(lessons) - len(shown),
        held=held,
        papers=papers,
        mine=sections.may_change(me(), section),
        wrong=wrong,
        given=request.form,
    )


@bp.post("/sections/<key>/marks")
def record_marks(key: str) -> ResponseReturnValue:
    """Save the grid; an emptied cell takes its mark back, an untouched one stays."""
    session = db()
    section = sections.load_own_section(session, me(), key)
    wrong: list[str] = []
    papers = _papers(section)
    if papers.by_question or request.form.get("artifact", papers.chosen) != papers.chosen:
        wrong.append("Paper: choose one that is marked as a whole, such as an exit question.")
    out_of = _score(request.form.get("out-of", "10"), "Out of", wrong)
    if not wrong and not out_of:
        wrong.append("Out of: enter how many points the paper has, such as 10.")
    given = _cells(section, out_of or MOST_POINTS, wrong)
    try:
        meeting = _meeting_now(section)
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        return _marks_page(section, tuple(wrong)), 422
    changed = sheet_marks.record_marks(
        session,
        section,
        given,
        meeting=meeting,
        artifact=papers.chosen,
        by=evidence.By(me().name, now_here()),
    )
    session.commit()
    flash(f"{changed} marks saved." if changed != 1 else "1 mark saved.")
    every = request.args.get("all")
    return redirect(url_for("classroom.marks", key=key, artifact=papers.chosen, all=every), 303)


def _cells(
    section: Section, out_of: float, wrong: list[str]
) -> dict[sheet_marks.MarkKey, sheet_marks.GivenMark]:
    """The cells of the grid that differ from what the form showed."""
    found: dict[sheet_marks.MarkKey, sheet_marks.GivenMark] = {}
    taught = _taught(section)
    for student in section.students:
        for treatment in taught:
            name = f"m-{student.id}-{treatment.id}"
            if name not in request.form:
                continue
            text = request.form[name].strip()
            if text != request.form.get(f"shown-{name}", "").strip():
                score = _score(text, f"{student.code}, {treatment.title}", wrong, out_of)
                found[student.id, treatment.id, ""] = sheet_marks.GivenMark(score, out_of)
    return found


def _score(text: str, name: str, wrong: list[str], most: float = MOST_POINTS) -> float | None:
    if not text.strip():
        return None
    try:
        value = plain_number(text)
    except ValueError:
        value = float("nan")
    if not 0 <= value <= most:
        wrong.append(f"{name}: “{text.strip()[:20]}” is no number of points from 0 to {most:g}.")
        return None
    return value


@bp.get("/sections/<key>/evidence.csv")
def evidence_file(key: str) -> ResponseReturnValue:
    """Evidence per student per standard as CSV."""
    return send(evidence_csv(db(), _marked(key)), f"{key}-evidence.csv")
