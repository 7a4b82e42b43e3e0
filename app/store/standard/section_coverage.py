"""A section's plan and records as coverage facts, in a fixed number of queries."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.standard import approval, depth
from app.models import (
    Activity,
    Exposure,
    Lesson,
    Mark,
    Measurement,
    Phase,
    Plan,
    Review,
    Section,
    Standard,
    Step,
    Student,
    Treatment,
)
from app.store import library, sections
from app.store.plan import plans
from app.store.plan.section_problem import standard_label


@dataclass(frozen=True)
class SectionFacts:
    """Coverage with what pages need beside it."""

    section: Section
    roster: tuple[str, ...]
    coverage: depth.SectionCoverage
    standards: dict[str, Standard]
    weeks: tuple[int, ...]
    plan: Plan | None
    lessons: dict[str, dict[str, str]]
    """By standard: the treatments that count for it, and how far."""
    only_phase: dict[str, str]
    """Treatments whose concept a single phase of the build shows: with it their lesson goes too."""


def section_facts(session: Session, section: Section, today: dt.date | None = None) -> SectionFacts:
    """Derive the coverage of a section from its current plan and what was recorded.

    With `today`, what was planned for a day gone by and never recorded is a gap too, and the
    students are those enrolled on it.
    """
    plan = plans.current_plan(session, section)
    meetings = sections.list_meetings(session, section)
    numbers = {meeting.id: meeting.number for meeting in meetings}
    school_id = section.course.department.school_id
    treatments = library.list_treatments(session, section.band, school_id)
    # A lesson placed and work marked before the school made the treatment its own count for it.
    instead = library.in_place_of(session, school_id, section.band)
    standards, links = _aligned(treatments)
    for row in section.course.required:
        standards.setdefault(standard_label(row.standard), row.standard)
    evidence = depth.evidence_of(
        links,
        [depth.MeetingFact(m.number, m.date, m.week, m.state) for m in meetings],
        _lessons(session, plan, numbers, instead),
        _activities(session, plan, treatments, numbers),
        [
            *_marks(session, section, numbers, instead),
            *_checks(session, section, treatments, numbers),
        ],
    )
    required = [
        depth.Required(standard_label(row.standard), row.by_date, row.priority)
        for row in section.course.required
    ]
    # Without a day the question is about the whole term: who stays to its end.
    roster = [
        student.code
        for student in section.students
        if (student.left is None if today is None else student.enrolled(today))
    ]
    return SectionFacts(
        section,
        tuple(roster),
        depth.cover(required, evidence, roster, today),
        standards,
        tuple(sorted({meeting.week for meeting in meetings})),
        plan,
        _counting(treatments),
        _only_phase(session, section, treatments),
    )


def _counting(treatments: Iterable[Treatment]) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for treatment in treatments:
        for item in treatment.alignments:
            far = approval.IN_FULL if item.strength == "strong" else "in part"
            words = f"{far}, as a practice" if item.practice else far
            found[standard_label(item.standard)][treatment.title] = words
    return found


def _only_phase(
    session: Session, section: Section, treatments: Iterable[Treatment]
) -> dict[str, str]:
    query = (
        sa.select(Exposure.concept_id, Phase.key)
        .join(Step, Exposure.step_id == Step.id)
        .join(Phase, Step.phase_id == Phase.id)
        .where(Phase.build_id == section.build_id)
        .distinct()
    )
    shown: dict[int, list[str]] = defaultdict(list)
    for concept_id, phase in session.execute(query):
        shown[concept_id].append(phase)
    return {
        str(item.id): shown[item.concept_id][0]
        for item in treatments
        if len(shown[item.concept_id]) == 1
    }


def _aligned(
    treatments: Iterable[Treatment],
) -> tuple[dict[str, Standard], list[depth.AlignedStandard]]:
    standards: dict[str, Standard] = {}
    links = []
    for treatment in treatments:
        for item in treatment.alignments:
            label = standard_label(item.standard)
            standards[label] = item.standard
            links.append(
                depth.AlignedStandard(
                    str(treatment.id),
                    label,
                    partial=item.strength == "partial",
                    practice=item.practice,
                )
            )
    return standards, links


def _lessons(
    session: Session, plan: Plan | None, numbers: dict[int, int], instead: dict[int, int]
) -> list[depth.LessonFact]:
    rows: list[Lesson] = plans.list_lessons(session, plan) if plan else []
    return [
        depth.LessonFact(
            str(instead.get(row.treatment_id, row.treatment_id)),
            numbers[row.meeting_id],
            f"Lesson: {row.title}",
        )
        for row in rows
        if row.treatment_id is not None
    ]


def _activities(
    session: Session,
    plan: Plan | None,
    treatments: list[Treatment],
    numbers: dict[int, int],
) -> list[depth.ActivityFact]:
    """Teams at a step whose worksheet carries questions of the concepts it shows."""
    asked = {item.concept_id: str(item.id) for item in treatments if item.questions}
    by_step: dict[int, tuple[str, ...]] = defaultdict(tuple)
    query = sa.select(Exposure.step_id, Exposure.concept_id).join(Step)
    for step_id, concept_id in session.execute(query):
        if concept_id in asked:
            by_step[step_id] = (*by_step[step_id], asked[concept_id])
    rows: list[Activity] = plans.list_activities(session, plan) if plan else []
    return [
        depth.ActivityFact(
            by_step[row.step_id],
            numbers[row.meeting_id],
            row.team.code,
            f"{row.step.phase.title} worksheet, {row.step.title}",
            phase=row.step.phase.key,
            step=row.step.key,
        )
        for row in rows
        if row.step_id in by_step
    ]


def _marks(
    session: Session, section: Section, numbers: dict[int, int], instead: dict[int, int]
) -> list[depth.AssessmentFact]:
    query = (
        sa.select(Treatment.id, Mark.meeting_id, Mark.artifact, Student.code, Treatment.title)
        .join(Student, Mark.student_id == Student.id)
        .join(Treatment, Mark.treatment_id == Treatment.id)
        .where(Student.section_id == section.id)
    )
    groups: dict[tuple[int, int, str, str], set[str]] = defaultdict(set)
    for treatment_id, meeting_id, artifact, code, title in session.execute(query):
        groups[instead.get(treatment_id, treatment_id), meeting_id, artifact, title].add(code)
    return [
        depth.AssessmentFact(
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
) -> list[depth.AssessmentFact]:
    """A recorded hold point assesses the concept whose reading it is."""
    by_concept = {item.concept_id: str(item.id) for item in treatments}
    query = (
        sa.select(
            Exposure.concept_id,
            Measurement.meeting_id,
            Step.title,
            Phase.key,
            Student.code,
            Exposure.quantity,
            Measurement.quantity,
        )
        .join(Step, Measurement.step_id == Step.id)
        .join(Phase, Step.phase_id == Phase.id)
        .join(Exposure, Exposure.step_id == Step.id)
        .join(Student, Student.team_id == Measurement.team_id)
        .where(Student.section_id == section.id)
    )
    groups: dict[tuple[str, int, str, str], set[str]] = defaultdict(set)
    for concept, meeting, title, phase, code, quantity, measured in session.execute(query):
        if concept in by_concept and quantity is not None and quantity == measured:
            groups[by_concept[concept], meeting, title, phase].add(code)
    return [
        depth.AssessmentFact(
            treatment,
            numbers[meeting],
            f"Hold point: {title}",
            done=True,
            students=frozenset(codes),
            phase=phase,
        )
        for (treatment, meeting, title, phase), codes in groups.items()
    ]


def standing(facts: SectionFacts, code: str) -> depth.StandardCoverage:
    """One standard's coverage; empty for one that is known and that nothing bears on."""
    found = facts.coverage.standards.get(code)
    if found is not None:
        return found
    return depth.cover([depth.Required(code)], (), facts.roster).standards[code]


@dataclass(frozen=True)
class ShownCoverage:
    """Evidence of one kind from one source: the days, and the students with an artifact."""

    first: depth.Evidence
    dates: tuple[dt.date, ...]
    students: frozenset[str]


def grouped(evidence: Iterable[depth.Evidence]) -> list[ShownCoverage]:
    """Evidence for reading: the same work on many days, by many teams, is one line."""
    groups: dict[tuple[object, ...], list[depth.Evidence]] = defaultdict(list)
    for item in evidence:
        groups[item.depth, item.state, item.partial, item.reference].append(item)
    return sorted(
        (
            ShownCoverage(
                items[0],
                tuple(sorted({item.date for item in items})),
                frozenset().union(*(item.students for item in items)),
            )
            for items in groups.values()
        ),
        key=lambda shown: (shown.dates[0], shown.first.depth.letter, shown.first.reference),
    )


# --- reviews -------------------------------------------------------------------------------------


def list_reviews(
    session: Session, section: Section, standard: Standard | None = None
) -> list[Review]:
    """Comments, requests and approvals, newest first; with `standard` those on its cells alone."""
    query = sa.select(Review).where(Review.section_id == section.id).order_by(Review.id.desc())
    if standard is not None:
        query = query.where(Review.standard_id == standard.id)
    return list(session.scalars(query.options(joinedload(Review.standard))))


def snapshot_of(facts: SectionFacts) -> dict[str, Any]:
    """Coverage as it stands, for an approval to keep."""
    plan, build = facts.plan, facts.section.build
    required = [
        depth.Required(standard_label(row.standard), row.by_date, row.priority)
        for row in facts.section.course.required
    ]
    return approval.snapshot(
        facts.coverage,
        required,
        approval.Basis(
            {"number": plan.id, "reason": plan.reason, "made": plan.created_at.date().isoformat()}
            if plan is not None
            else None,
            {"key": build.key, "title": build.title, "version": build.version},
            facts.lessons,
        ),
    )


@dataclass(frozen=True)
class Approved:
    """The last approval, its version, and what is different since."""

    review: Review
    version: int
    differences: tuple[approval.ApprovalDifference, ...]


def last_approval(facts: SectionFacts, reviews: Iterable[Review]) -> Approved | None:
    """The newest approval among a section's reviews, compared with how it stands now."""
    approvals = [row for row in reviews if row.kind == "approval" and row.approved is not None]
    if not approvals:
        return None
    newest = max(approvals, key=lambda row: row.id)
    kept = newest.approved or {}
    return Approved(newest, len(approvals), approval.differences(kept, snapshot_of(facts)))


# --- losses and subgroups ------------------------------------------------------------------------


def losses(
    facts: SectionFacts,
    *,
    phases: Iterable[str] = (),
    weeks: Iterable[int] = (),
    steps: Iterable[str] = (),
) -> tuple[depth.Loss, ...]:
    """What falls back if phases are cut or weeks go: their lessons, bench work and marks.

    With `steps`: what falls back when teams no longer do these.
    """
    evidence = [
        item for standard in facts.coverage.standards.values() for item in standard.evidence
    ]
    cut = set(phases)
    return depth.lost(
        [replace(item, phase=facts.only_phase.get(item.treatment, item.phase)) for item in evidence]
        if cut
        else evidence,
        phases=cut,
        weeks=set(weeks),
        steps=set(steps),
    )


def subgroups(facts: SectionFacts, item: depth.StandardCoverage) -> dict[str, str]:
    """Students with an artifact by grade, in words; small groups and what would reveal them hidden."""
    groups: dict[str, list[str]] = defaultdict(list)
    for student in facts.section.students:
        if student.code in facts.roster and student.grade:
            groups[student.grade].append(student.code)
    if len(groups) < 2:
        return {}
    shares = dict(depth.subgroup_shares(item, groups))
    hidden = [name for name, share in shares.items() if share is None]
    if len(hidden) == 1:
        # The whole less the others would give the hidden one away: hide the smallest other too.
        shown = [name for name in shares if name not in hidden]
        if shown:
            shares[min(shown, key=lambda name: (len(groups[name]), name))] = None
    smallest = depth.SMALLEST_SUBGROUP
    return {
        f"grade {name}": f"{share.full} of {share.roster}"
        if share is not None
        else f"not shown (a group under {smallest} students could be recognised)"
        for name, share in sorted(shares.items(), key=lambda item: (len(item[0]), item[0]))
    }
