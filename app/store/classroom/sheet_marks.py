"""Marks of a paper as a whole or by question, and what they come to for a lesson."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.models import Mark, Meeting, Section, Student, Treatment
from app.store.classroom import evidence

MarkKey = tuple[int, int | None, str]  # student, treatment, question ("": the whole paper)


@dataclass(frozen=True)
class GivenMark:
    """A mark as it was entered: so many of so many points; None takes a mark back."""

    score: float | None
    out_of: float = 1.0


@dataclass(frozen=True)
class MarkedWork:
    """What one student reached in one paper on one lesson, all its questions together.

    `treatment` is None for the teacher's own questions, which belong to no standard.
    """

    student: Student
    treatment: Treatment | None
    artifact: str
    score: float
    out_of: float
    date: dt.date


def marks_of(session: Session, section: Section) -> list[Mark]:
    """All marks of a section, in the order of their recording."""
    query = (
        sa.select(Mark)
        .join(Student)
        .where(Student.section_id == section.id)
        .order_by(Mark.id)
        .options(joinedload(Mark.student), joinedload(Mark.treatment))
    )
    return list(session.scalars(query))


def lessons_there(session: Session, ids: Collection[int]) -> set[int]:
    """Which of these treatments the library still has."""
    return set(session.scalars(sa.select(Treatment.id).where(Treatment.id.in_(ids))))


def marks_on(session: Session, section: Section, artifact: str) -> dict[MarkKey, Mark]:
    """The marks of a paper by student, treatment and question."""
    query = (
        sa.select(Mark)
        .join(Student)
        .where(Student.section_id == section.id, Mark.artifact == artifact)
    )
    return {(row.student_id, row.treatment_id, row.question): row for row in session.scalars(query)}


def record_marks(
    session: Session,
    section: Section,
    given: Mapping[MarkKey, GivenMark],
    *,
    meeting: Meeting,
    artifact: str,
    by: evidence.By,
) -> int:
    """Write marks of a paper; returns how many changed. The scores are checked by the caller."""
    held = marks_on(session, section, artifact)
    changed = 0
    for key, value in given.items():
        row = held.get(key)
        if value.score is None:
            if row is not None:
                session.delete(row)
                changed += 1
            continue
        if row is not None and (row.score, row.out_of) == (value.score, value.out_of):
            continue
        if row is None:
            student, treatment, question = key
            row = Mark(
                student_id=student,
                treatment_id=treatment,
                question=question,
                artifact=artifact,
                meeting_id=meeting.id,
            )
            session.add(row)
        row.score, row.out_of = value.score, value.out_of
        row.recorded_at, row.recorded_by = by.now, by.name
        changed += 1
    session.flush()
    return changed


def marked_work(marks: Iterable[Mark]) -> list[MarkedWork]:
    """Marks as `marks_of` gives them, added up by student, paper and lesson, in the order of their recording.

    A paper marked question by question counts by its questions alone, even where a mark for
    the whole of it stands beside them.
    """
    groups: dict[tuple[int, int | None, str], list[Mark]] = defaultdict(list)
    for mark in marks:
        groups[mark.student_id, mark.treatment_id, mark.artifact].append(mark)
    return [_added_up(rows) for rows in groups.values()]


def _added_up(rows: list[Mark]) -> MarkedWork:
    counted = [row for row in rows if row.question] or rows
    return MarkedWork(
        student=counted[0].student,
        treatment=counted[0].treatment,
        artifact=counted[0].artifact,
        score=sum(row.score for row in counted),
        out_of=sum(row.out_of for row in counted),
        date=max(row.recorded_at for row in counted).date(),
    )
