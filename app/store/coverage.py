"""A section's plan and records as coverage facts, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain import coverage
from app.models import (
    Activity,
    Department,
    Exposure,
    Lesson,
    Mark,
    Measurement,
    Plan,
    Review,
    Section,
    Standard,
    Step,
    Student,
    Treatment,
    User,
)
from app.store import library, plans, sections
from app.store.planning import standard_label


@dataclass(frozen=True)
class SectionFacts:
    """Coverage with what pages need beside it."""

    section: Section
    coverage: coverage.SectionCoverage
    standards: dict[str, Standard]
    weeks: tuple[int, ...]
    plan: Plan | None


def section_facts(session: Session, section: Section) -> SectionFacts:
    """Derive the coverage of a section from its current plan and what was recorded."""
    plan = plans.current_plan(session, section)
    meetings = sections.list_meetings(session, section)
    numbers = {meeting.id: meeting.number for meeting in meetings}
    treatments = library.list_treatments(session, section.band, section.course.department.school_id)
    standards, links = _aligned(treatments)
    for row in section.course.required:
        standards.setdefault(standard_label(row.standard), row.standard)
    evidence = coverage.evidence_of(
        links,
        [
            coverage.MeetingFact(m.number, m.date, m.week, coverage.MeetingState(m.state.value))
            for m in meetings
        ],
        _lessons(session, plan, numbers),
        _activities(session, plan, treatments, numbers),
        [
            *_marks(session, section, numbers),
            *_checks(session, section, treatments, numbers),
        ],
    )
    required = [
        coverage.Required(standard_label(row.standard), row.by_date, row.priority)
        for row in section.course.required
    ]
    roster = [student.code for student in section.students if student.left is None]
    return SectionFacts(
        section,
        coverage.cover(required, evidence, roster),
        standards,
        tuple(sorted({meeting.week for meeting in meetings})),
        plan,
    )


def _aligned(
    treatments: Iterable[Treatment],
) -> tuple[dict[str, Standard], list[coverage.AlignedStandard]]:
    standards: dict[str, Standard] = {}
    links = []
    for treatment in treatments:
        for item in treatment.alignments:
            label = standard_label(item.standard)
            standards[label] = item.standard
            links.append(
                coverage.AlignedStandard(
                    str(treatment.id),
                    label,
                    partial=item.strength == "partial",
                    practice=item.practice,
                )
            )
    return standards, links


def _lessons(
    session: Session, plan: Plan | None, numbers: dict[int, int]
) -> list[coverage.LessonFact]:
    rows: list[Lesson] = plans.list_lessons(session, plan) if plan else []
    return [
        coverage.LessonFact(str(row.treatment_id), numbers[row.meeting_id], f"Lesson: {row.title}")
        for row in rows
        if row.treatment_id is not None
    ]


def _activities(
    session: Session,
    plan: Plan | None,
    treatments: list[Treatment],
    numbers: dict[int, int],
) -> list[coverage.ActivityFact]:
    """Teams at a step whose worksheet carries questions of the concepts it shows."""
    asked = {item.concept_id: str(item.id) for item in treatments if item.questions}
    by_step: dict[int, tuple[str, ...]] = defaultdict(tuple)
    query = sa.select(Exposure.step_id, Exposure.concept_id).join(Step)
    for step_id, concept_id in session.execute(query):
        if concept_id in asked:
            by_step[step_id] = (*by_step[step_id], asked[concept_id])
    rows: list[Activity] = plans.list_activities(session, plan) if plan else []
    return [
        coverage.ActivityFact(
            by_step[row.step_id],
            numbers[row.meeting_id],
            row.team.code,
            f"{row.step.phase.title} worksheet, {row.step.title}",
            phase=row.step.phase.key,
        )
        for row in rows
        if row.step_id in by_step
    ]


def _marks(
    session: Session, section: Section, numbers: dict[int, int]
) -> list[coverage.AssessmentFact]:
    query = (
        sa.select(Mark.treatment_id, Mark.meeting_id, Mark.artifact, Student.code, Treatment.title)
        .join(Student, Mark.student_id == Student.id)
        .join(Treatment, Mark.treatment_id == Treatment.id)
        .where(Student.section_id == section.id)
    )
    groups: dict[tuple[int, int, str, str], set[str]] = defaultdict(set)
    for treatment_id, meeting_id, artifact, code, title in session.execute(query):
        groups[treatment_id, meeting_id, artifact, title].add(code)
    return [
        coverage.AssessmentFact(
            str(treatment_id),
            numbers[meeting_id],
            f"Marked {artifact}: {title}",
            done=True,
            students=frozenset(codes),
        )
        for (treatment_id, meeting_id, artifact, title), codes in groups.items()
    ]


def _checks(
    session: Session, section: Section, treatments: list[Treatment], numbers: dict[int, int]
) -> list[coverage.AssessmentFact]:
    """A recorded hold point assesses the concept whose reading it is."""
    by_concept = {item.concept_id: str(item.id) for item in treatments}
    query = (
        sa.select(
            Exposure.concept_id,
            Measurement.meeting_id,
            Step.title,
            Student.code,
            Exposure.quantity,
            Measurement.quantity,
        )
        .join(Step, Measurement.step_id == Step.id)
        .join(Exposure, Exposure.step_id == Step.id)
        .join(Student, Student.team_id == Measurement.team_id)
        .where(Student.section_id == section.id)
    )
    groups: dict[tuple[str, int, str], set[str]] = defaultdict(set)
    for concept, meeting, title, code, quantity, measured in session.execute(query):
        if concept in by_concept and quantity is not None and quantity == measured:
            groups[by_concept[concept], meeting, title].add(code)
    return [
        coverage.AssessmentFact(
            treatment,
            numbers[meeting],
            f"Hold point: {title}",
            done=True,
            students=frozenset(codes),
        )
        for (treatment, meeting, title), codes in groups.items()
    ]


def department_sections(session: Session, user: User, department: Department) -> list[Section]:
    """The department's sections that `user` may see."""
    return [
        section
        for section in sections.list_sections(session, user)
        if section.course.department_id == department.id
    ]


def list_reviews(session: Session, section: Section) -> list[Review]:
    """Comments, requests and approvals on a section's coverage, newest first."""
    query = sa.select(Review).where(Review.section_id == section.id).order_by(Review.id.desc())
    return list(session.scalars(query))
