"""What happened in class as files: sign-off log, readings, evidence per standard, one student."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.interchange.tables import Cell, csv_text
from app.models import (
    Absence,
    Mark,
    Measurement,
    Progress,
    Section,
    SignOff,
    Student,
    StudentName,
)
from app.store import library
from app.store.classroom import readings, sheet_marks, sign_offs
from app.store.plan.section_problem import standard_label

SIGN_OFF_HEADER = (
    "date",
    "student",
    "permit",
    "part",
    "test version",
    "score",
    "person",
    "note",
    "struck out",
)


def sign_offs_csv(session: Session, section: Section) -> str:
    """The sign-off log, oldest first; an entry struck out says by whom, when and why."""
    return csv_text(
        SIGN_OFF_HEADER,
        (
            (
                row.date.isoformat(),
                row.student.code,
                row.permit,
                row.part,
                row.test_version,
                row.score,
                row.person,
                row.note,
                row.struck_out,
            )
            for row in sign_offs.sign_off_log(session, section)
        ),
    )


MEASUREMENT_HEADER = (
    "date",
    "team",
    "step",
    "what",
    "quantity",
    "written",
    "value",
    "unit",
    "within limits",
    "instrument",
    "resolution",
    "recorded by",
    "note",
)


def measurements_csv(session: Session, section: Section) -> str:
    """Every reading in the order of recording, as written and in the check's unit."""
    return csv_text(
        MEASUREMENT_HEADER,
        (
            (
                row.meeting.date.isoformat(),
                row.team.code,
                row.step.key,
                (row.step.check or {}).get("what", row.step.title),
                row.quantity,
                row.written,
                row.value,
                row.unit,
                {True: "yes", False: "no", None: ""}[row.within],
                row.instrument_used,
                row.resolution,
                row.recorded_by,
                row.note,
            )
            for row in readings.measurements_of(session, section)
        ),
    )


EVIDENCE_HEADER = (
    "student",
    "standard",
    "alignment",
    "treatment",
    "artifact",
    "score",
    "out of",
    "share",
    "date",
)


def evidence_csv(session: Session, section: Section) -> str:
    """One row per student, standard and marked artifact; partial alignments say so."""
    school_id = section.course.department.school_id
    treatments = {
        item.id: item for item in library.list_treatments(session, section.band, school_id)
    }
    rows: list[tuple[Cell, ...]] = []
    for work in sheet_marks.marked_work(sheet_marks.marks_of(session, section)):
        treatment = treatments.get(work.treatment.id) if work.treatment else None
        if treatment is None:
            continue
        rows.extend(
            (
                work.student.code,
                standard_label(link.standard),
                link.strength,
                treatment.title,
                work.artifact,
                work.score,
                work.out_of,
                round(work.score / work.out_of, 4) if work.out_of else None,
                work.date.isoformat(),
            )
            for link in treatment.alignments
        )
    rows.sort(key=lambda row: (str(row[0]), str(row[1]), str(row[4]), str(row[8])))
    return csv_text(EVIDENCE_HEADER, rows)


def student_record(session: Session, student: Student) -> dict[str, Any]:
    """Everything on record about one student, for a request to see it."""
    name = session.scalar(sa.select(StudentName).where(StudentName.student_id == student.id))
    absences = session.scalars(
        sa.select(Absence)
        .where(Absence.student_id == student.id)
        .options(joinedload(Absence.meeting))
    )
    signed = session.scalars(sa.select(SignOff).where(SignOff.student_id == student.id))
    marks = session.scalars(
        sa.select(Mark).where(Mark.student_id == student.id).options(joinedload(Mark.treatment))
    )
    readings = session.scalars(sa.select(Measurement).where(Measurement.student_id == student.id))
    return {
        "code": student.code,
        "name": name.name if name else None,
        "section": student.section.key,
        "team": student.team.code if student.team else None,
        "grade": student.grade,
        "entered": student.entered.isoformat() if student.entered else None,
        "left": student.left.isoformat() if student.left else None,
        "absent": sorted(row.meeting.date.isoformat() for row in absences),
        "sign_offs": [
            {
                "date": row.date.isoformat(),
                "permit": row.permit,
                "part": row.part,
                "test_version": row.test_version,
                "score": row.score,
                "person": row.person,
                "note": row.note,
                "struck_out": row.struck_out,
            }
            for row in signed
        ],
        "marks": [
            {
                "treatment": row.treatment.title if row.treatment else None,
                "artifact": row.artifact,
                "question": row.question,
                "score": row.score,
                "out_of": row.out_of,
                "recorded": row.recorded_at.date().isoformat(),
            }
            for row in marks
        ],
        "work": _work_of(session, student),
        "readings": [{"quantity": row.quantity, "written": row.written} for row in readings],
    }


def _work_of(session: Session, student: Student) -> list[dict[str, str]]:
    """The student's own spoiled parts and helps; what the team did is no one student's."""
    rows = session.scalars(
        sa.select(Progress)
        .where(Progress.student_id == student.id)
        .order_by(Progress.id)
        .options(joinedload(Progress.step), joinedload(Progress.meeting))
    )
    return [
        {
            "date": row.meeting.date.isoformat(),
            "step": f"{row.step.key} {row.step.title}",
            "event": row.event,
            "note": row.note,
        }
        for row in rows
    ]
