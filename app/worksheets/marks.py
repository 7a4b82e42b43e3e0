"""The mark sheet of a class set: students down, concepts across, one cell at a time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from app.domain import worksheets as sheet
from app.models import Meeting, Section, Student, Team
from app.store import evidence, sections

LONGEST_READING = 40


@dataclass(frozen=True)
class Column:
    """The questions of a sheet on one concept, marked together."""

    treatment_id: int
    title: str
    questions: tuple[int, ...]

    @property
    def out_of(self) -> int:
        return len(self.questions)


@dataclass
class MarkSheet:
    """What the grid shows: marks by student and concept, readings by team and quantity."""

    artifact: str
    columns: list[Column]
    students: list[Student]
    teams: list[Team]
    quantities: list[tuple[str, str]]
    cells: dict[str, str]
    wrong: dict[str, str] = field(default_factory=dict)


def artifact_of(request: sheet.WorksheetRequest) -> str:
    """How the marked sheet is named in the evidence."""
    return f"worksheet {request.title}"[:80]


def mark_sheet(
    session: Session,
    section: Section,
    request: sheet.WorksheetRequest,
    items: Sequence[sheet.Item],
) -> MarkSheet:
    """The grid for a worksheet, filled with what is on record."""
    by_concept = {treatment.concept: treatment for treatment in request.treatments}
    asked: dict[str, list[int]] = {}
    used: list[str] = []
    for number, item in enumerate(items, 1):
        if item.concept in by_concept:
            asked.setdefault(item.concept, []).append(number)
        used += [p.quantity for p in item.pattern.parameters.values() if p.quantity]
    columns = [
        Column(by_concept[key].number, by_concept[key].title, tuple(numbers))
        for key, numbers in asked.items()
    ]
    artifact = artifact_of(request)
    titles = {quantity.key: quantity.title for quantity in request.quantities}
    teams = sections.load_teams(session, section)
    cells = {
        f"m-{mark.student_id}-{mark.treatment_id}": f"{mark.score:g}"
        for mark in evidence.marks_of(session, section)
        if mark.artifact == artifact
    }
    for team in teams:
        for row in team.instrument.quantities:
            if row.measured:
                cells[f"v-{team.id}-{row.key}"] = row.measured
    return MarkSheet(
        artifact=artifact,
        columns=columns,
        students=[student for student in section.students if student.left is None],
        teams=teams,
        quantities=[(key, titles[key]) for key in dict.fromkeys(used) if key in titles],
        cells=cells,
    )


def save(
    session: Session,
    section: Section,
    grid: MarkSheet,
    form: Mapping[str, str],
    *,
    meeting: Meeting,
    by: evidence.By,
) -> int:
    """Write the cells that were sent, one or all; what is wrong stays in `grid.wrong`.

    Returns how many cells changed. Right cells are written although others are wrong.
    """
    changed = 0
    for column in grid.columns:
        given = _scores(grid, column, form)
        changed += evidence.record_marks(
            session,
            section,
            given,
            meeting=meeting,
            artifact=grid.artifact,
            out_of=column.out_of,
            by=by,
        )
    return changed + _save_readings(session, grid, form)


def _scores(
    grid: MarkSheet, column: Column, form: Mapping[str, str]
) -> dict[tuple[int, int], float | None]:
    scores: dict[tuple[int, int], float | None] = {}
    for student in grid.students:
        cell = f"m-{student.id}-{column.treatment_id}"
        if cell not in form:
            continue
        text = form[cell].strip()[:LONGEST_READING]
        grid.cells[cell] = text
        if not text:
            scores[student.id, column.treatment_id] = None
            continue
        try:
            score = float(text.replace(",", "."))
        except ValueError:
            score = -1.0
        if not 0 <= score <= column.out_of:
            grid.wrong[cell] = (
                f"{student.code}, {column.title}: enter a number from 0 to {column.out_of}, "
                "or leave it empty."
            )
            continue
        scores[student.id, column.treatment_id] = score
    return scores


def _save_readings(session: Session, grid: MarkSheet, form: Mapping[str, str]) -> int:
    changed = 0
    for team in grid.teams:
        held = {row.key: row for row in team.instrument.quantities}
        for key, title in grid.quantities:
            cell = f"v-{team.id}-{key}"
            if cell not in form or key not in held:
                continue
            text = form[cell].replace("\x00", "").strip()
            grid.cells[cell] = text
            if len(text) > LONGEST_READING or (text and not any(c.isdigit() for c in text)):
                grid.wrong[cell] = (
                    f"{team.code}, {title}: enter a number with its unit, such as "
                    f"{held[key].nominal}, or leave it empty."
                )
            elif (held[key].measured or "") != text:
                held[key].measured = text or None
                changed += 1
    session.flush()
    return changed
