"""The sample school: created from its file, then played from its own plan up to a date.

The readings, marks and absences are invented by a seeded draw; they exist in the demo only.
"""

import datetime as dt
import random
from collections import defaultdict

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.scheduling import calendar
from app.interchange.sample_file import History, SampleSchool, SampleSection
from app.jobs.planning import plan_section
from app.models import (
    Absence,
    Activity,
    Course,
    Mark,
    Measurement,
    Meeting,
    MeetingState,
    Plan,
    Progress,
    Room,
    School,
    Section,
    SignOff,
    Step,
    Student,
    Team,
    Term,
    User,
)
from app.store import accounts, library, sections
from app.store.kit import kits, racks
from app.store.plan import plans
from app.store.plan.section_problem import TICK_MINUTES
from app.store.standard import standards

TEACHER = "A. Rowan"
STORE_KEEPER = "J. Alder"
LOOKS = 100  # plans a search looks at for the sample: its first page must not wait longer
MOST_LOOKS = 400  # unless not every team is finished by then


def create_sample(session: Session, sample: SampleSchool, *, now: dt.datetime) -> School:
    """Create the sample school with everything in its file; the caller commits."""
    school = accounts.create_school(session, sample.name)
    department = accounts.create_department(
        session, school, sample.department_key, sample.department
    )
    users = {
        person.email: accounts.create_user(
            session,
            school=school,
            email=person.email,
            name=person.name,
            role=person.role,
            password=sample.password,
            now=now,
            department=department,
        )
        for person in sample.people
    }
    room = accounts.create_room(session, school, sample.room)
    term = sections.create_term(session, school, _term(sample))
    courses = {}
    for item in sample.courses:
        course = sections.create_course(
            session, department, key=item.key, title=item.title, band=item.band
        )
        for code in item.required:
            found = standards.resolve(session, school.id, code.code)
            sections.require_standards(
                session, course, [found], by_date=code.by, priority=code.priority
            )
        courses[item.key] = course
    for given in sample.sections:
        section = _section(session, given, courses[given.course], term, users[given.teacher], room)
        _plan(session, section, now, "Planned before the term")
        if given.history is not None:
            _Player(session, section, given.history, now).play()
    _fill_store(session, sample, room)
    session.flush()
    return school


def _fill_store(session: Session, sample: SampleSchool, room: Room) -> None:
    """The materials counted before the first lesson, and the boards on the rack."""
    morning = dt.datetime.combine(sample.term.first_day, dt.time(6), dt.UTC)
    counts = {item.material: item.counted for item in sample.stock}
    kits.count_stock(session, room, counts, by=STORE_KEEPER, now=morning)
    for item in sample.stock:
        kits.keep(session, room, item.material, reorder_at=item.reorder_at, place=item.place)
    for board in sample.boards:
        racks.add_boards(session, room, **board.model_dump())


class _Looks:
    """When a search for the sample ends: counted, not timed, so that every machine gets the same."""

    def __init__(self, section: Section) -> None:
        held = [m for m in section.meetings if m.state is not MeetingState.LOST]
        self.term = sum(m.work_minutes // TICK_MINUTES for m in held)
        self.finish = self.term + 1
        self.looks = 0

    def note(self, finish: int, _bound: int) -> None:
        """Remember when the best plan so far ends."""
        self.finish = finish

    def enough(self) -> bool:
        """Whether the search has looked at enough plans."""
        self.looks += 1
        return self.looks > (LOOKS if self.finish <= self.term else MOST_LOOKS)


def _plan(session: Session, section: Section, now: dt.datetime, reason: str) -> None:
    session.flush()
    looks = _Looks(section)
    plan_section(
        session,
        section,
        by=TEACHER,
        now=now,
        reason=reason,
        on_progress=looks.note,
        should_stop=looks.enough,
    )


def _term(sample: SampleSchool) -> calendar.TermCalendar:
    return calendar.TermCalendar(
        first_day=sample.term.first_day,
        last_day=sample.term.last_day,
        title=sample.term.title,
        letters=tuple(sample.term.letters),
        exceptions=tuple(
            calendar.DayException(
                day.date,
                label=day.label,
                closed=day.closed,
                planned=day.planned,
                schedule=day.schedule,
                drill_minutes=day.drill_minutes,
            )
            for day in sample.term.days
        ),
    )


def _section(
    session: Session, item: SampleSection, course: Course, term: Term, teacher: User, room: Room
) -> Section:
    pattern = {"weekdays": item.weekdays} if item.weekdays else {"letters": item.letters}
    section = sections.create_section(
        session,
        sections.NewSection(
            key=item.key,
            title=item.title,
            starts_at=item.starts_at,
            pattern=pattern,
            bells=item.bells,
            opening_minutes=item.opening_minutes,
            closing_minutes=item.closing_minutes,
            routine=item.routine,
            showcase=item.showcase,
            ready_made=item.ready_made,
        ),
        course=course,
        term=term,
        teacher=teacher,
        room=room,
        build=library.find_build(session, None, item.build),
    )
    students = sections.add_students(
        session,
        section,
        [student.code for student in item.students],
        grades={student.code: student.grade for student in item.students},
        absence_rates={student.code: student.absence_rate for student in item.students},
    )
    teams = {
        code: sections.create_team(session, section, code)
        for code in sorted({student.team for student in item.students})
    }
    for student, given in zip(students, item.students, strict=True):
        student.team = teams[given.team]
    session.flush()
    return section


class _Player:
    """Plays a section's past: what the plan says happens, except where it did not."""

    def __init__(
        self, session: Session, section: Section, history: History, now: dt.datetime
    ) -> None:
        self.session = session
        self.section = section
        self.history = history
        self.now = now
        self.draw = random.Random(history.seed)  # noqa: S311 - invented data, not a secret
        self.steps = {step.key: step for step in sections.load_steps(session, section.build_id)}
        self.done: set[tuple[int, int]] = set()

    def play(self) -> None:
        """Teach up to each lost day, lose it, plan again; then teach up to today."""
        for lost in sorted(self.history.lost, key=lambda item: item.date):
            self._teach(lost.date - dt.timedelta(days=1))
            self._lose(lost.date, lost.note)
            self._plan(f"{lost.note}, {lost.date:%A} {lost.date.day} {lost.date:%B}")
        self._teach(self.history.until)
        if self.history.slow_teams:
            behind = " and ".join(self.history.slow_teams)
            self._plan(f"{behind} behind; planned again from here")

    def _plan(self, reason: str) -> None:
        _plan(self.session, self.section, self.now, reason)

    def _lose(self, date: dt.date, note: str) -> None:
        for meeting in sections.list_meetings(self.session, self.section):
            if meeting.date == date:
                meeting.state = MeetingState.LOST
                meeting.note = note

    def _teach(self, until: dt.date) -> None:
        plan = plans.current_plan(self.session, self.section)
        assert plan is not None  # noqa: S101 - just planned
        rows = plans.list_activities(self.session, plan, last=until)
        by_meeting: dict[int, list[Activity]] = defaultdict(list)
        for row in rows:
            by_meeting[row.meeting_id].append(row)
        for meeting in sections.list_meetings(self.session, self.section):
            if meeting.date <= until and meeting.state is MeetingState.PLANNED:
                meeting.state = MeetingState.TAUGHT
                self._record_absences(meeting)
                self._record_work(meeting, by_meeting[meeting.id], until)
                self._record_marks(meeting, plan)

    def _record_absences(self, meeting: Meeting) -> None:
        for student in self.section.students:
            if self.draw.random() < student.absence_rate:
                self.session.add(Absence(meeting=meeting, student=student))

    def _record_work(self, meeting: Meeting, rows: list[Activity], until: dt.date) -> None:
        recent = (until - meeting.date).days <= 10
        for row in rows:
            key = (row.team_id, row.step_id)
            behind = recent and row.team.code in self.history.slow_teams
            if row.part != row.parts or key in self.done or behind:
                continue
            if not self._ready(row.team, row.step):
                continue
            self.done.add(key)
            self._finish(row.team, row.step, meeting)

    def _ready(self, team: Team, step: Step) -> bool:
        """Whether the class steps before it are done; adult work outside class just happens."""

        def finished(key: str) -> bool:
            before = self.steps[key]
            if before.outside_class or key in self.section.ready_made:
                return all(finished(other) for other in before.after)
            return (team.id, before.id) in self.done

        return all(finished(key) for key in step.after)

    def _finish(self, team: Team, step: Step, meeting: Meeting) -> None:
        moment = dt.datetime.combine(meeting.date, meeting.starts_at, tzinfo=dt.UTC)
        self.session.add(
            Progress(
                team=team,
                step=step,
                meeting=meeting,
                event="done",
                initials="AR" if step.hold_point else "",
                recorded_at=moment,
                recorded_by=TEACHER,
            )
        )
        if step.hold_point and step.check:
            self._measure(team, step, meeting, moment)
        for permit in step.grants:
            for student in team.students:
                self._sign_off(student, permit, meeting)

    def _measure(self, team: Team, step: Step, meeting: Meeting, moment: dt.datetime) -> None:
        check = step.check or {}
        spread = check.get("maximum_absolute")
        low, high = check.get("minimum"), check.get("maximum")
        if spread is not None:
            value = round(self.draw.gauss(0, spread / 2), 2)
            within = abs(value) <= spread
        elif low == 0 and high is not None:
            value = abs(round(self.draw.gauss(0, high / 2), 2))
            within = value <= high
        elif low is not None and high is not None:
            value = round(self.draw.gauss((low + high) / 2, (high - low) / 5), 2)
            value = min(max(value, low - 0.05 * abs(low)), high + 0.05 * abs(high))
            within = low <= value <= high
        else:
            return
        self.session.add(
            Measurement(
                team=team,
                step=step,
                meeting=meeting,
                student_id=team.students[0].id if team.students else None,
                quantity=check.get("quantity") or step.key,
                written=f"{value:g} {check.get('unit', '')}".strip(),
                value=value,
                unit=check.get("unit", ""),
                within=within,
                instrument_used=check.get("measure_with", ""),
                recorded_at=moment,
                recorded_by=TEACHER,
            )
        )

    def _sign_off(self, student: Student, permit: str, meeting: Meeting) -> None:
        for part, score in (("lesson", None), ("test", 100.0), ("check-out", None)):
            self.session.add(
                SignOff(
                    student=student,
                    permit=permit,
                    part=part,
                    date=meeting.date,
                    person=TEACHER,
                    test_version="form A" if part == "test" else "",
                    score=score,
                )
            )

    def _record_marks(self, meeting: Meeting, plan: Plan) -> None:
        away = set(
            self.session.scalars(
                sa.select(Absence.student_id).where(Absence.meeting_id == meeting.id)
            )
        )
        moment = dt.datetime.combine(meeting.date, meeting.starts_at, tzinfo=dt.UTC)
        for lesson in plans.list_lessons(self.session, plan):
            if lesson.meeting_id != meeting.id or lesson.treatment_id is None:
                continue
            for student in self.section.students:
                missing = self.draw.random() < self.history.missing_marks_share
                if student.id not in away and not missing:
                    self._mark(student, lesson.treatment_id, meeting, moment)

    def _mark(
        self, student: Student, treatment_id: int, meeting: Meeting, moment: dt.datetime
    ) -> None:
        exists = sa.select(Mark.id).where(
            Mark.student_id == student.id,
            Mark.treatment_id == treatment_id,
            Mark.artifact == "exit question",
        )
        if self.session.scalar(exists) is None:
            self.session.add(
                Mark(
                    student=student,
                    treatment_id=treatment_id,
                    meeting=meeting,
                    artifact="exit question",
                    score=float(self.draw.choice((6, 7, 8, 8, 9, 10))),
                    out_of=10.0,
                    recorded_at=moment,
                    recorded_by=TEACHER,
                )
            )
