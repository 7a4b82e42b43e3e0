"""The mark sheet of a class set, in the order of its key: sheets down, questions across.

A row is a sheet, so of a team or of a student. What is entered for a team counts for each of
its students who was there. A measured value becomes the team's own.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from app.domain.classroom import class_data
from app.domain.papers import worksheets as sheet
from app.domain.papers.document import Answer
from app.domain.quantities import plain_number
from app.jobs.sheets import MOST_AT_ONCE, Worksheet
from app.models import InstrumentQuantity, Mark, Meeting, Student, Team
from app.store import sections
from app.store.classroom import evidence, sheet_marks

LONGEST_READING = 40
MOST_POINTS = 100.0
LONGEST_HEAD = 60
DIFFERS = "differs"
_NUMBER = re.compile(r"\s*[-+\N{MINUS SIGN}]?\d+(?:[.,]\d+)?\s*")


@dataclass(frozen=True)
class MarkColumn:
    """A question to be marked, as the key has it."""

    number: int
    title: str
    treatment_id: int | None
    question: str
    text: str
    tolerance: str
    points: str

    @property
    def key(self) -> str:
        return f"{self.treatment_id or 0}-{self.question}"

    @property
    def points_name(self) -> str:
        return f"of-{self.key}"

    def cell(self, row: "MarkRow") -> str:
        return f"m-{row.key}-{self.key}"


@dataclass(frozen=True)
class MarkReading:
    """A quantity of the instrument that questions of the sheet use; `after` is the first one."""

    quantity: str
    title: str
    after: int

    def cell(self, row: "MarkRow") -> str:
        return f"v-{row.key}-{self.quantity}"


@dataclass(frozen=True)
class MarkRow:
    """A sheet: of a team with all its students, or of one student."""

    key: str
    code: str
    students: tuple[Student, ...]
    team: Team | None = None
    answers: Mapping[int, str] = field(default_factory=dict)


@dataclass
class MarkSheet:
    """What the grid shows. `by_team` says what a row is; then its readings stand in it too."""

    artifact: str
    by_team: bool
    columns: list[MarkColumn]
    readings: list[MarkReading]
    rows: list[MarkRow]
    teams: list[MarkRow]
    without_team: int = 0
    cells: dict[str, str] = field(default_factory=dict)
    wrong: dict[str, str] = field(default_factory=dict)

    def across(self) -> list[MarkColumn | MarkReading]:
        """The columns in the order of the key, each reading after the first question on it."""
        found: list[MarkColumn | MarkReading] = []
        for column in self.columns:
            found.append(column)
            if self.by_team:
                found += [item for item in self.readings if item.after == column.number]
        return found


def artifact_of(request: sheet.WorksheetRequest) -> str:
    """How the marked sheet is named in the evidence; another seed is another sheet."""
    seed = f", seed {request.seed}" if request.seed != "1" else ""
    return f"worksheet {request.title[: 80 - len(seed) - 10]}{seed}"


def mark_sheet(made: Worksheet, *, with_answers: bool = True) -> MarkSheet:
    """The grid for a worksheet, filled with what is on record. Raises WorksheetError."""
    session, section, request = made.session, made.section, made.request
    items = made.questions()
    answers = sheet.generate(request).answers
    teams = [
        MarkRow(
            f"t{team.id}", team.code, tuple(s for s in team.students if s.enrolled(made.on)), team
        )
        for team in sections.load_teams(session, section)
    ]
    by_team = made.choice.per == "team" and bool(teams)
    present = [student for student in section.students if student.enrolled(made.on)]
    rows = teams if by_team else [MarkRow(f"s{s.id}", s.code, (s,), s.team) for s in present]
    if with_answers and len(rows) <= MOST_AT_ONCE:
        rows = [_with_answers(made, row, answers) for row in rows]
    artifact = artifact_of(request)
    held = sheet_marks.marks_on(session, section, artifact)
    points = {(mark.treatment_id, mark.question): f"{mark.out_of:g}" for mark in held.values()}
    grid = MarkSheet(
        artifact=artifact,
        by_team=by_team,
        columns=list(_columns(session, request, items, answers, points)),
        readings=list(_readings(request, items)),
        rows=rows,
        teams=teams,
        without_team=sum(student.team_id is None for student in present),
    )
    _fill(grid, held)
    return grid


def _with_answers(made: Worksheet, row: MarkRow, answers: Sequence[Answer]) -> MarkRow:
    """The row with what its own sheet's key says, by the numbers of the columns."""
    holder = next((holder for holder in made.holders if holder.code == row.code), None)
    if holder is None:
        return row
    try:
        own = sheet.generate(sheet.for_holder(made.request, holder)).answers
    except sheet.WorksheetError:
        return row
    by_question = {(answer.concept, answer.question_key): answer for answer in own}
    shown = {}
    for answer in answers:
        found = by_question.get((answer.concept, answer.question_key))
        if found is not None and (found.value is not None or found.letter):
            shown[answer.number] = f"{found.letter}: {found.text}" if found.letter else found.text
    return MarkRow(row.key, row.code, row.students, row.team, shown)


def _columns(
    session: Session,
    request: sheet.WorksheetRequest,
    items: Sequence[sheet.Item],
    answers: Sequence[Answer],
    points: Mapping[tuple[int | None, str], str],
) -> Iterator[MarkColumn]:
    numbers = {treatment.concept: treatment.number for treatment in request.treatments}
    # A lesson of a saved paper may be gone from the library; its marks are no evidence then.
    there = sheet_marks.lessons_there(session, numbers.values())
    for item, answer in zip(items, answers, strict=True):
        number = numbers.get(item.concept)
        treatment = number if number in there else None
        text = " ".join(answer.prompt.split())
        yield MarkColumn(
            number=answer.number,
            title=answer.concept,
            treatment_id=treatment,
            question=item.pattern.key,
            text=text
            if len(text) <= LONGEST_HEAD
            else f"{text[:LONGEST_HEAD].rsplit(' ', 1)[0]} …",
            tolerance=answer.tolerance,
            points=points.get((treatment, item.pattern.key), "1"),
        )


def _readings(
    request: sheet.WorksheetRequest, items: Sequence[sheet.Item]
) -> Iterator[MarkReading]:
    titles = {quantity.key: quantity.title for quantity in request.quantities}
    seen = set()
    for number, item in enumerate(items, 1):
        for parameter in item.pattern.parameters.values():
            key = parameter.quantity
            if key in titles and key not in seen:
                seen.add(key)
                yield MarkReading(key, titles[key], number)


def _fill(grid: MarkSheet, held: Mapping[sheet_marks.MarkKey, Mark]) -> None:
    for row in grid.rows:
        for column in grid.columns:
            keys = [(s.id, column.treatment_id, column.question) for s in row.students]
            scores = {held[key].score for key in keys if key in held}
            if scores:
                text = f"{scores.pop():g}" if len(scores) == 1 else DIFFERS
                grid.cells[column.cell(row)] = text
    for row in grid.teams:
        measured = _quantities(row)
        for reading in grid.readings:
            if reading.quantity in measured:
                grid.cells[reading.cell(row)] = measured[reading.quantity].measured or ""


def _quantities(row: MarkRow) -> dict[str, InstrumentQuantity]:
    return {item.key: item for item in row.team.instrument.quantities} if row.team else {}


def save(
    made: Worksheet,
    grid: MarkSheet,
    form: Mapping[str, str],
    *,
    meeting: Meeting,
    by: evidence.By,
) -> int:
    """Write the cells that were sent, one or all; what is wrong stays in `grid.wrong`.

    Returns how many marks and readings changed. Right cells are written although others are
    wrong. A team's mark is not given to a student who was away from the meeting.
    """
    session, section = made.session, made.section
    away = evidence.absent_codes(session, meeting) if grid.by_team else set()
    held = sheet_marks.marks_on(session, section, grid.artifact)
    given: dict[sheet_marks.MarkKey, sheet_marks.GivenMark] = {}
    for column in grid.columns:
        points = _points(grid, column, form)
        if points is None:
            continue
        given |= _same_marks_of(grid, column, points, held)
        for row in grid.rows:
            given |= _scores(grid, column, row, points, form, away)
    changed = sheet_marks.record_marks(
        session, section, given, meeting=meeting, artifact=grid.artifact, by=by
    )
    return changed + _save_readings(session, grid, form)


def _points(grid: MarkSheet, column: MarkColumn, form: Mapping[str, str]) -> float | None:
    """How many points the question has; None where what was sent is no such number."""
    name = column.points_name
    text = form.get(name, column.points).strip()[:LONGEST_READING] or "1"
    grid.cells[name] = text
    points = _number(text)
    if points is None or not 0 < points <= MOST_POINTS:
        grid.wrong[name] = (
            f"Question {column.number}: the points are a number up to {MOST_POINTS:g}, such as 2."
        )
        return None
    return points


def _same_marks_of(
    grid: MarkSheet,
    column: MarkColumn,
    points: float,
    held: Mapping[sheet_marks.MarkKey, Mark],
) -> dict[sheet_marks.MarkKey, sheet_marks.GivenMark]:
    """The marks on record for a question, out of the points it has now."""
    own = {
        key: mark
        for key, mark in held.items()
        if key[1:] == (column.treatment_id, column.question) and mark.out_of != points
    }
    highest = max((mark.score for mark in own.values()), default=0.0)
    if highest > points:
        grid.wrong[column.points_name] = (
            f"Question {column.number}: a mark of {highest:g} is on record; enter at least as "
            "many points, or change that mark first."
        )
        return {}
    return {key: sheet_marks.GivenMark(mark.score, points) for key, mark in own.items()}


def _scores(
    grid: MarkSheet,
    column: MarkColumn,
    row: MarkRow,
    points: float,
    form: Mapping[str, str],
    away: set[str],
) -> dict[sheet_marks.MarkKey, sheet_marks.GivenMark]:
    cell = column.cell(row)
    if cell not in form or form[cell].strip() == DIFFERS:
        return {}
    text = form[cell].strip()[:LONGEST_READING]
    grid.cells[cell] = text
    score = _number(text)
    if text and (score is None or not 0 <= score <= points):
        grid.wrong[cell] = (
            f"{row.code}, question {column.number}: enter a number from 0 to {points:g}, or leave "
            "it empty."
        )
        return {}
    return {
        (student.id, column.treatment_id, column.question): sheet_marks.GivenMark(score, points)
        for student in row.students
        if score is None or student.code not in away
    }


def _number(text: str) -> float | None:
    try:
        return plain_number(text)
    except ValueError:
        return None


def _as_reading(title: str, nominal: str, written: str) -> str:
    """The reading with its unit; a plain number has the unit of the nominal.

    Raises ValueError with a sentence where it is no number, or one of another kind.
    """
    unit = _NUMBER.sub("", nominal, count=1).strip()
    class_data.read_reading({"what": title, "unit": unit}, written)
    plain = _NUMBER.fullmatch(written)
    return f"{written.replace(',', '.')} {unit}".strip() if plain else written


def _save_readings(session: Session, grid: MarkSheet, form: Mapping[str, str]) -> int:
    changed = 0
    for row in grid.teams:
        held = _quantities(row)
        for reading in grid.readings:
            cell = reading.cell(row)
            if row.team is None or cell not in form or reading.quantity not in held:
                continue
            quantity = held[reading.quantity]
            text = form[cell].replace("\x00", "").strip()
            grid.cells[cell] = text
            if text == (quantity.measured or ""):
                continue
            try:
                measured = _as_reading(reading.title, quantity.nominal, text) if text else ""
            except ValueError as error:
                grid.wrong[cell] = f"{row.code}, {error}"
                continue
            sections.set_quantity(session, row.team, reading.quantity, measured, measured=True)
            grid.cells[cell] = measured
            changed += 1
    return changed
