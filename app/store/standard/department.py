"""Coverage of a whole department: every section's depths in a fixed number of queries.

The rules are those of `app.domain.coverage`; here the database counts, so that a district of
thousands of sections is answered at once. A test holds both to the same depths.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from app.domain.standard.depth import CoverageState, Depth, DepthReached, GapCode, gap_codes
from app.models import (
    Activity,
    Alignment,
    Build,
    Course,
    Department,
    Exposure,
    Framework,
    Lesson,
    Mark,
    Measurement,
    Meeting,
    MeetingState,
    Phase,
    Plan,
    RequiredStandard,
    Section,
    Standard,
    Step,
    Student,
    Treatment,
    User,
)
from app.store import library, sections
from app.store.plan.section_problem import standard_label


@dataclass(frozen=True, slots=True)
class SectionHead:
    """A section as a column of the department's table."""

    id: int
    key: str
    title: str
    teacher: str
    build: str
    version: str
    band: str
    course: str
    course_id: int
    build_id: int
    plan: int | None
    roster: int


GAP_WORDS = {
    GapCode.ABSENT: "nothing in the plan",
    GapCode.NOT_INTRODUCED: "never introduced",
    GapCode.NOT_PRACTISED: "never practised",
    GapCode.NOT_ASSESSED: "never assessed",
    GapCode.LATE: "late",
    GapCode.PARTIAL: "in part",
}


@dataclass(slots=True)
class DepartmentStanding:
    """One standard in one section."""

    depths: Mapping[Depth, DepthReached]
    students: int = 0
    required: bool = False
    by: dt.date | None = None
    priority: bool = False

    @property
    def reached(self) -> bool:
        """Whether anything bears on it."""
        return any(depth.state is not None for depth in self.depths.values())

    @property
    def first(self) -> dt.date | None:
        """When it is first met."""
        return min((d.first for d in self.depths.values() if d.first is not None), default=None)

    def gaps(self) -> tuple[str, ...]:
        """What a required standard lacks, in words, the worst first."""
        if not self.required:
            return ()
        return tuple(GAP_WORDS[code] for code in gap_codes(self.depths, self.by))


NOTHING = DepartmentStanding({depth: DepthReached() for depth in Depth})


@dataclass(slots=True)
class _Tally:
    """Dates of full and partial evidence of one depth, and whether any of it is taught."""

    firsts: list[dt.date | None] = field(default_factory=lambda: [None, None])
    taught: list[bool] = field(default_factory=lambda: [False, False])

    def add(self, first: dt.date, *, taught: bool, partial: bool) -> None:
        known = self.firsts[partial]
        self.firsts[partial] = first if known is None or first < known else known
        self.taught[partial] |= taught

    def reached(self) -> DepthReached:
        partial = self.firsts[False] is None
        state = CoverageState.TAUGHT if self.taught[partial] else CoverageState.PLANNED
        return DepthReached(state, partial, self.firsts[partial])


@dataclass(frozen=True)
class DepartmentCoverage:
    """Sections side by side, standards down."""

    heads: tuple[SectionHead, ...]
    standings: Mapping[tuple[int, str], DepartmentStanding]
    codes: tuple[str, ...]
    required: frozenset[str]
    notices: tuple[str, ...]
    pacing: Mapping[str, tuple[str, dt.date]]

    def at(self, head: SectionHead, code: str) -> DepartmentStanding:
        """A cell of the table."""
        return self.standings.get((head.id, code), NOTHING)

    def gaps(self, head: SectionHead) -> list[tuple[str, bool, str]]:
        """A section's gaps: code, whether it has priority, and words; priorities first."""
        found = [
            (code, self.at(head, code).priority, ", ".join(self.at(head, code).gaps()))
            for code in self.codes
            if self.at(head, code).gaps()
        ]
        return sorted(found, key=lambda gap: (not gap[1], gap[0]))

    def only_here(self) -> list[tuple[str, SectionHead]]:
        """Standards that a single section bears on: lost to the department if it goes."""
        if len(self.heads) < 2:
            return []
        found = []
        for code in self.codes:
            where = [head for head in self.heads if self.at(head, code).reached]
            if len(where) == 1:
                found.append((code, where[0]))
        return found

    def in_several_courses(self) -> list[tuple[str, tuple[str, ...]]]:
        """Standards fully introduced in more than one course."""
        found = []
        for code in self.codes:
            courses = {
                head.course
                for head in self.heads
                if (reached := self.at(head, code).depths[Depth.INTRODUCED]).state is not None
                and not reached.partial
            }
            if len(courses) > 1:
                found.append((code, tuple(sorted(courses))))
        return found

    def against_pacing(self) -> list[tuple[str, SectionHead, dt.date, str, dt.date]]:
        """Standards first used before the course that paces them requires them."""
        found = []
        for code, (course, by) in self.pacing.items():
            for head in self.heads:
                first = self.at(head, code).first
                if first is not None and first < by and head.course != course:
                    found.append((code, head, first, course, by))
        return sorted(found, key=lambda item: (item[2], item[0]))


@dataclass(frozen=True, slots=True)
class CoverageCut:
    """What is thought away: phases of builds, and the days from `first` to `last`."""

    phase_ids: tuple[int, ...] = ()
    first: dt.date | None = None
    last: dt.date | None = None

    def keeps_meeting(self) -> sa.ColumnElement[bool]:
        """The condition on `Meeting` that it is not on one of the days."""
        if self.first is None or self.last is None:
            return sa.true()
        return ~Meeting.date.between(self.first, self.last)

    def keeps_step(self) -> sa.ColumnElement[bool]:
        """The condition on `Step` that its phase is not cut."""
        return Step.phase_id.not_in(self.phase_ids) if self.phase_ids else sa.true()


NO_CUT = CoverageCut()


def department_coverage(
    session: Session,
    user: User | None,
    department: Department,
    cut: CoverageCut = NO_CUT,
    *,
    today: dt.date | None = None,
) -> DepartmentCoverage:
    """The coverage of the department's sections that `user` may see; without a user, of all.

    With a `cut` it is the coverage that would be left; with `today` the students are those
    enrolled on it, else those who stay to the end of the term.
    """
    every = sections.visible(user) if user is not None else sa.select(Section).join(Course)
    visible = every.where(Course.department_id == department.id).order_by(Section.title)
    heads = _heads(session, visible, today)
    ids = visible.order_by(None).with_only_columns(Section.id).scalar_subquery()
    by_id = {head.id: head for head in heads}
    rules = _Rules(session, department.school_id, heads, cut)
    tallies: dict[tuple[int, str, Depth], _Tally] = defaultdict(_Tally)
    students: dict[tuple[int, str], set[int]] = defaultdict(set)
    marked = [
        *_marks(session, ids, by_id, rules, today),
        *_checks(session, ids, by_id, rules, today),
    ]
    shown = {(section, treatment) for section, treatment, _, _ in marked}
    placed = [
        *((Depth.INTRODUCED, *row) for row in _lessons(session, ids, by_id, rules)),
        *((Depth.PRACTISED, *row) for row in _activities(session, ids, by_id, rules)),
        *((Depth.ASSESSED, s, t, MeetingState.TAUGHT, d) for s, t, d, _ in marked),
    ]
    for depth, section, treatment, state, first in placed:
        for label, partial, practice in rules.aligned.get(treatment, ()):
            if not practice or (section, treatment) in shown:
                taught = state == MeetingState.TAUGHT
                tallies[section, label, depth].add(first, taught=taught, partial=partial)
    for section, treatment, _, student in marked:
        for label, partial, _practice in rules.aligned.get(treatment, ()):
            if not partial and student is not None:
                students[section, label].add(student)
    standings: dict[tuple[int, str], DepartmentStanding] = {}
    for (section, label, depth), tally in tallies.items():
        standing = standings.setdefault((section, label), DepartmentStanding(dict(NOTHING.depths)))
        assert isinstance(standing.depths, dict)  # noqa: S101 - made a line above
        standing.depths[depth] = tally.reached()
    for pair, found in students.items():
        if pair in standings:
            standings[pair].students = len(found)
    required = _require(session, heads, standings, rules)
    codes = {label for _, label in standings}
    return DepartmentCoverage(
        heads=tuple(heads),
        standings=standings,
        codes=tuple(sorted(codes, key=lambda code: (code not in required, code))),
        required=frozenset(required),
        notices=tuple(sorted(rules.notices - {""})),
        pacing=_pacing(session, department, codes),
    )


def _in_class(today: dt.date | None) -> sa.ColumnElement[bool]:
    return Student.left.is_(None) if today is None else Student.enrolled_rows(today)


def _heads(
    session: Session, visible: sa.Select[Section], today: dt.date | None
) -> list[SectionHead]:
    enrolled = (
        sa.select(sa.func.count(Student.id))
        .where(Student.section_id == Section.id, _in_class(today))
        .correlate(Section)
        .scalar_subquery()
    )
    query = (
        visible.join(User, Section.teacher_id == User.id)
        .join(Build, Section.build_id == Build.id)
        .outerjoin(Plan, sa.and_(Plan.section_id == Section.id, Plan.current.is_(True)))
        .with_only_columns(
            Section.id,
            Section.key,
            Section.title,
            User.name,
            Build.title.label("build"),
            Build.version,
            Section.band,
            Course.title.label("course"),
            Section.course_id,
            Section.build_id,
            Plan.id.label("plan"),
            enrolled,
        )
    )
    return [SectionHead(*tuple(row)) for row in session.execute(query)]


class _Rules:
    """The library as far as coverage needs it: what treatments teach, and steps ask."""

    def __init__(
        self, session: Session, school_id: int, heads: Iterable[SectionHead], cut: CoverageCut
    ) -> None:
        self.cut = cut
        self.gone = _concepts_gone(session, {head.build_id for head in heads}, cut)
        query = (
            sa.select(Treatment)
            .where(
                Treatment.band.in_({head.band for head in heads}),
                library.shared_or_own(Treatment.school_id, school_id),
            )
            .order_by(Treatment.id)
            .options(joinedload(Treatment.concept), selectinload(Treatment.questions))
        )
        treatments = library.treatments_seen(session.scalars(query), school_id)
        self.concept_of = {row.id: row.concept_id for row in treatments}
        self.of_concept = {(row.band, row.concept_id): row.id for row in treatments}
        self.asked = {row.id for row in treatments if row.questions}
        known = {row.id for row in treatments}
        self.aligned: dict[int, list[tuple[str, bool, bool]]] = defaultdict(list)
        self.notices: set[str] = set()
        # A lesson placed and work marked before the school made the treatment its own count for it.
        self.instead = library.in_place_of(session, school_id)
        links = (
            sa.select(Alignment)
            .where(library.holding(school_id))
            .options(joinedload(Alignment.standard).joinedload(Standard.framework))
        )
        for item in session.scalars(links):
            if item.treatment_id in known:
                label = standard_label(item.standard)
                partial = item.strength == "partial"
                self.aligned[item.treatment_id].append((label, partial, item.practice))
                self.notices.add(item.standard.framework.notice)
        shows = sa.select(Exposure.step_id, Exposure.concept_id, Exposure.quantity)
        self.exposed: dict[int, list[tuple[int, str | None]]] = defaultdict(list)
        for step_id, concept_id, quantity in session.execute(shows):
            self.exposed[step_id].append((concept_id, quantity))

    def seen(self, head: SectionHead, treatment: int | None) -> int | None:
        """The treatment that counts in a section; None where its concept goes with a cut phase."""
        counted = self.instead.get(treatment or 0, treatment)
        concept = self.concept_of.get(counted or 0)
        return None if concept in self.gone[head.build_id] else counted


def _concepts_gone(session: Session, builds: set[int], cut: CoverageCut) -> dict[int, set[int]]:
    """By build: the concepts that only the phases cut show."""
    gone: dict[int, set[int]] = {build: set() for build in builds}
    if not cut.phase_ids:
        return gone
    query = (
        sa.select(Phase.build_id, Exposure.concept_id, Step.phase_id)
        .join(Step, Exposure.step_id == Step.id)
        .join(Phase, Step.phase_id == Phase.id)
        .where(Phase.build_id.in_(builds))
        .distinct()
    )
    shown: dict[tuple[int, int], set[int]] = defaultdict(set)
    for build, concept, phase in session.execute(query):
        shown[build, concept].add(phase)
    for (build, concept), phases in shown.items():
        if phases <= set(cut.phase_ids):
            gone[build].add(concept)
    return gone


_Row = tuple[int, int, MeetingState, dt.date]


def _lessons(
    session: Session, ids: sa.ScalarSelect[int], heads: dict[int, SectionHead], rules: _Rules
) -> list[_Row]:
    query = (
        sa.select(Plan.section_id, Lesson.treatment_id, Meeting.state, sa.func.min(Meeting.date))
        .join(Plan, Lesson.plan_id == Plan.id)
        .join(Meeting, Lesson.meeting_id == Meeting.id)
        .where(
            Plan.current.is_(True),
            Plan.section_id.in_(ids),
            Lesson.treatment_id.is_not(None),
            Meeting.state != MeetingState.LOST,
            rules.cut.keeps_meeting(),
        )
        .group_by(Plan.section_id, Lesson.treatment_id, Meeting.state)
    )
    return [
        (section, seen, state, first)
        for section, treatment, state, first in session.execute(query)
        if (seen := rules.seen(heads[section], treatment)) is not None
    ]


def _activities(
    session: Session, ids: sa.ScalarSelect[int], heads: dict[int, SectionHead], rules: _Rules
) -> list[_Row]:
    """Bench work whose worksheet asks about the concepts its step shows."""
    query = (
        sa.select(Plan.section_id, Activity.step_id, Meeting.state, sa.func.min(Meeting.date))
        .join(Plan, Activity.plan_id == Plan.id)
        .join(Meeting, Activity.meeting_id == Meeting.id)
        .where(
            Plan.current.is_(True),
            Plan.section_id.in_(ids),
            Meeting.state != MeetingState.LOST,
            rules.cut.keeps_meeting(),
        )
        .group_by(Plan.section_id, Activity.step_id, Meeting.state)
    )
    if rules.cut.phase_ids:
        query = query.join(Step, Activity.step_id == Step.id).where(rules.cut.keeps_step())
    found = []
    for section, step, state, first in session.execute(query):
        band = heads[section].band
        for concept, _quantity in rules.exposed.get(step, ()):
            treatment = rules.seen(heads[section], rules.of_concept.get((band, concept)))
            if treatment in rules.asked and treatment is not None:
                found.append((section, treatment, state, first))
    return found


_Marked = tuple[int, int, dt.date, int | None]


def _marks(
    session: Session,
    ids: sa.ScalarSelect[int],
    heads: dict[int, SectionHead],
    rules: _Rules,
    today: dt.date | None,
) -> list[_Marked]:
    """Section, treatment, first date, and the student if still enrolled."""
    query = (
        sa.select(
            Student.section_id,
            Mark.treatment_id,
            sa.func.min(Meeting.date),
            sa.case((_in_class(today), Student.id)),
        )
        .join(Student, Mark.student_id == Student.id)
        .join(Meeting, Mark.meeting_id == Meeting.id)
        .where(
            Student.section_id.in_(ids), Mark.treatment_id.is_not(None), rules.cut.keeps_meeting()
        )
        .group_by(Student.section_id, Mark.treatment_id, Student.id)
    )
    return [
        (section, seen, first, student)
        for section, treatment, first, student in session.execute(query)
        if (seen := rules.seen(heads[section], treatment)) is not None
    ]


def _checks(
    session: Session,
    ids: sa.ScalarSelect[int],
    heads: dict[int, SectionHead],
    rules: _Rules,
    today: dt.date | None,
) -> list[_Marked]:
    """Recorded hold points: they assess the concept whose reading they are."""
    query = (
        sa.select(
            Student.section_id,
            Measurement.step_id,
            Measurement.quantity,
            sa.func.min(Meeting.date),
            sa.case((_in_class(today), Student.id)),
        )
        .join(Student, Student.team_id == Measurement.team_id)
        .join(Meeting, Measurement.meeting_id == Meeting.id)
        .where(Student.section_id.in_(ids), rules.cut.keeps_meeting())
        .group_by(Student.section_id, Measurement.step_id, Measurement.quantity, Student.id)
    )
    if rules.cut.phase_ids:
        query = query.join(Step, Measurement.step_id == Step.id).where(rules.cut.keeps_step())
    found: list[_Marked] = []
    for section, step, measured, first, student in session.execute(query):
        for concept, quantity in rules.exposed.get(step, ()):
            head = heads[section]
            treatment = rules.seen(head, rules.of_concept.get((head.band, concept)))
            if treatment is not None and quantity is not None and quantity == measured:
                found.append((section, treatment, first, student))
    return found


def _require(
    session: Session,
    heads: list[SectionHead],
    standings: dict[tuple[int, str], DepartmentStanding],
    rules: _Rules,
) -> set[str]:
    """Mark what the courses require; a required standard has a standing even without evidence."""
    query = (
        sa.select(RequiredStandard)
        .where(RequiredStandard.course_id.in_({head.course_id for head in heads}))
        .options(joinedload(RequiredStandard.standard).joinedload(Standard.framework))
    )
    by_course: dict[int, list[tuple[str, RequiredStandard]]] = defaultdict(list)
    for row in session.scalars(query):
        by_course[row.course_id].append((standard_label(row.standard), row))
        rules.notices.add(row.standard.framework.notice)
    for head in heads:
        for label, row in by_course[head.course_id]:
            standing = standings.setdefault(
                (head.id, label), DepartmentStanding(dict(NOTHING.depths))
            )
            standing.required, standing.by, standing.priority = True, row.by_date, row.priority
    return {label for rows in by_course.values() for label, _ in rows}


def _pacing(
    session: Session, department: Department, codes: set[str]
) -> dict[str, tuple[str, dt.date]]:
    """By standard: the course elsewhere in the school that requires it first, and by when."""
    query = (
        sa.select(RequiredStandard, Course.title)
        .join(Course, RequiredStandard.course_id == Course.id)
        .join(Department, Course.department_id == Department.id)
        .join(Standard, RequiredStandard.standard_id == Standard.id)
        .join(Framework, Standard.framework_id == Framework.id)
        .where(
            Department.school_id == department.school_id,
            Department.id != department.id,
            RequiredStandard.by_date.is_not(None),
        )
        .order_by(RequiredStandard.by_date.desc(), Course.title)
        .options(joinedload(RequiredStandard.standard).joinedload(Standard.framework))
    )
    found = {}
    for row, title in session.execute(query):
        label = standard_label(row.standard)
        if label in codes and row.by_date is not None:
            found[label] = (title, row.by_date)
    return found
