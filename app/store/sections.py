"""Terms, courses, sections with their teams and instruments, and the meetings of a section."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, contains_eager, joinedload, selectinload

from app.domain.classroom import roster_changes
from app.domain.scheduling import calendar, events
from app.models import (
    Build,
    Course,
    Department,
    Instrument,
    InstrumentQuantity,
    Measurement,
    Meeting,
    MeetingState,
    Phase,
    Progress,
    RequiredStandard,
    Role,
    Room,
    School,
    Section,
    Standard,
    Step,
    Student,
    Team,
    Term,
    TermDay,
    User,
)
from app.store.missing import LostMeeting, Missing
from app.store.plan import event_values

EXTRA = "extra"  # the kind of a meeting that is on no bell schedule


NOT_IN_CALENDAR = "No longer a school day"


@cache
def _visible(role: Role) -> sa.Select[Section]:
    query = sa.select(Section).join(Course).join(Department, Course.department_id == Department.id)
    query = query.where(Department.school_id == sa.bindparam("school"))
    if role is Role.TEACHER:
        return query.where(Section.teacher_id == sa.bindparam("user"))
    if role is Role.DEPARTMENT_HEAD:
        return query.where(Department.id == sa.bindparam("department"))
    return query


@cache
def _visible_by_key(role: Role) -> sa.Select[Section]:
    held = contains_eager(Section.course).contains_eager(Course.department)
    return _visible(role).where(Section.key == sa.bindparam("key")).options(held)


def _seen_by(user: User) -> dict[str, Any]:
    return {"school": user.school_id, "user": user.id, "department": user.department_id}


def visible(user: User) -> sa.Select[Section]:
    """The sections a user may see: own ones, the department's, or all of the school's."""
    return _visible(user.role).params(_seen_by(user))


def list_sections(session: Session, user: User) -> list[Section]:
    """The sections visible to `user`, by title."""
    query = visible(user).options(
        joinedload(Section.course), joinedload(Section.build), joinedload(Section.term)
    )
    return list(session.scalars(query.order_by(Section.title)))


def load_section(session: Session, user: User, key: str) -> Section:
    """A section visible to `user`.

    Raises Missing.
    """
    section = session.scalar(_visible_by_key(user.role), {**_seen_by(user), "key": key})
    if section is None:
        raise Missing(f"section {key}")
    return section


def may_change(user: User, section: Section) -> bool:
    """Whether `user` may change a section: its teacher may, and an administrator."""
    return section.teacher_id == user.id or user.role is Role.ADMINISTRATOR


def load_own_section(session: Session, user: User, key: str) -> Section:
    """A section that `user` may change.

    Raises Missing.
    """
    section = load_section(session, user, key)
    if not may_change(user, section):
        raise Missing(f"section {key}")
    return section


def find_section(session: Session, key: str) -> Section:
    """A section by key, for the command line.

    Raises Missing with the keys there are.
    """
    section = session.scalar(sa.select(Section).where(Section.key == key))
    if section is None:
        known = ", ".join(session.scalars(sa.select(Section.key).order_by(Section.key)))
        raise Missing(f"there is no section {key}; known: {known or 'none yet'}")
    return section


# --- terms -------------------------------------------------------------------------------------


def list_terms(session: Session, school_id: int) -> list[Term]:
    """The terms of a school, newest first."""
    query = sa.select(Term).where(Term.school_id == school_id).order_by(Term.first_day.desc())
    return list(session.scalars(query))


def load_term(session: Session, user: User, term_id: int) -> Term:
    """A term of the user's school, with its days.

    Raises Missing.
    """
    term = session.scalar(
        sa.select(Term)
        .where(Term.id == term_id, Term.school_id == user.school_id)
        .options(selectinload(Term.days))
    )
    if term is None:
        raise Missing(f"term {term_id}")
    return term


def list_sections_of_term(session: Session, term: Term) -> list[Section]:
    """Every section of a term, whoever teaches it."""
    return list(session.scalars(sa.select(Section).where(Section.term_id == term.id)))


def create_term(
    session: Session,
    school: School,
    term: calendar.TermCalendar,
) -> Term:
    """Save a calendar term with its exceptions.

    Raises calendar.CalendarError with a sentence per overlap with another term.
    """
    others = [term_value(other) for other in list_terms(session, school.id)]
    clashes = [text for text in calendar.overlapping([*others, term]) if term.title in text]
    if clashes:
        raise calendar.CalendarError(clashes)
    row = Term(
        school_id=school.id,
        title=term.title,
        first_day=term.first_day,
        last_day=term.last_day,
        letters="".join(term.letters),
        letter_policy=term.letter_policy.value,
        days=[_day_row(item) for item in term.exceptions],
    )
    session.add(row)
    session.flush()
    return row


def save_term_days(session: Session, row: Term, term: calendar.TermCalendar) -> None:
    """Replace the exceptions of a saved term by those of `term`."""
    row.days.clear()
    session.flush()
    row.days.extend(_day_row(item) for item in term.exceptions)
    session.flush()


def _day_row(item: calendar.DayException) -> TermDay:
    return TermDay(
        date=item.date,
        label=item.label,
        closed=item.closed,
        planned=item.planned,
        schedule=item.schedule,
        drill_minutes=item.drill_minutes,
        make_up=item.make_up,
        letter=item.letter,
    )


def term_value(row: Term) -> calendar.TermCalendar:
    """A saved term as the calendar's value."""
    return calendar.TermCalendar(
        first_day=row.first_day,
        last_day=row.last_day,
        title=row.title,
        letters=tuple(row.letters),
        letter_policy=calendar.LetterPolicy(row.letter_policy),
        exceptions=tuple(
            calendar.DayException(
                day.date,
                label=day.label,
                closed=day.closed,
                planned=day.planned,
                schedule=day.schedule,
                drill_minutes=day.drill_minutes,
                make_up=day.make_up,
                letter=day.letter,
            )
            for day in row.days
        ),
    )


# --- meetings ----------------------------------------------------------------------------------


def pattern_value(section: Section) -> calendar.MeetingPattern:
    """A section's weekly pattern as the calendar's value."""
    bells = tuple(
        calendar.BellTime(schedule, int(minutes)) for schedule, minutes in section.bells.items()
    )
    blocks = tuple(
        calendar.Block(
            start=start,
            bells=minutes,
            weekdays=tuple(section.pattern.get("weekdays") or calendar.MONDAY_TO_FRIDAY),
            letters=tuple(section.pattern.get("letters") or ()),
        )
        for start, minutes in ((section.starts_at, bells), *_more_blocks(section, bells))
    )
    return calendar.MeetingPattern(
        blocks,
        opening_minutes=section.opening_minutes,
        closing_minutes=section.closing_minutes,
    )


def _more_blocks(
    section: Section, bells: tuple[calendar.BellTime, ...]
) -> Iterator[tuple[dt.time, tuple[calendar.BellTime, ...]]]:
    """Later blocks of the same day: full length on regular days, none where the day is short."""
    for item in section.pattern.get("more_blocks", ()):
        minutes = int(item["minutes"])
        yield (
            dt.time.fromisoformat(item["starts_at"]),
            tuple(
                calendar.BellTime(
                    bell.schedule, minutes if bell.schedule == calendar.REGULAR else 0
                )
                for bell in bells
            ),
        )


def routine_value(section: Section) -> calendar.LessonRoutine:
    """A section's lesson routine as the calendar's value."""
    routine = section.routine

    def dates(name: str) -> tuple[dt.date, ...]:
        return tuple(dt.date.fromisoformat(text) for text in routine.get(name, ()))

    return calendar.LessonRoutine(
        lesson_minutes=int(routine.get("lesson_minutes", 20)),
        every=routine.get("every"),
        first=int(routine.get("first", 1)),
        weekdays=tuple(routine.get("weekdays", ())),
        dates=dates("dates"),
        on_schedules=tuple(routine.get("on_schedules", ())),
        unit_test_dates=dates("unit_test_dates"),
        unit_test_minutes=int(routine.get("unit_test_minutes", 30)),
    )


def staffing_value(section: Section) -> calendar.Staffing:
    """The qualified adults and helpers of the section's room as the calendar's value."""
    present = [adult for adult in section.room.adults if adult.in_class]
    qualified = sum(adult.machine_qualified for adult in present)
    return calendar.Staffing(
        qualified=qualified,
        assistants=len(present) - qualified,
        changes=tuple(
            calendar.StaffChange(
                dt.date.fromisoformat(item["first"]),
                dt.date.fromisoformat(item["last"]),
                qualified=int(item["qualified"]),
                assistants=int(item.get("assistants", 0)),
                machine_power=bool(item["machine_power"]),
            )
            for item in section.staff_changes
        ),
    )


def calendar_meetings(section: Section) -> tuple[calendar.ClassMeeting, ...]:
    """The meetings the calendar gives this section, with what happened to it laid over.

    A lesson or test set for a date that has been closed since falls away.
    Raises calendar.CalendarError with every problem as a sentence.
    """
    pattern = pattern_value(section)
    term, staffing = events.amended_calendar(
        term_value(section.term),
        staffing_value(section),
        event_values.standing_events(section.events),
    )
    open_dates = {meeting.date for meeting in calendar.meetings(term, pattern)}
    routine = routine_value(section)
    routine = replace(
        routine,
        dates=tuple(day for day in routine.dates if day in open_dates),
        unit_test_dates=tuple(day for day in routine.unit_test_dates if day in open_dates),
    )
    return calendar.meetings(term, pattern, routine, staffing)


def by_calendar(meeting: Meeting) -> bool:
    """Whether a meeting is lost because the calendar no longer has it, and not by a record."""
    return meeting.state is MeetingState.LOST and meeting.note == NOT_IN_CALENDAR


def why_lost(meeting: Meeting) -> str:
    """Why a meeting is lost, in the words of whoever said so."""
    if by_calendar(meeting):
        return meeting.label or NOT_IN_CALENDAR
    return meeting.note or meeting.label


def _closed_because(section: Section, date: dt.date) -> str:
    """What the closure of a day was recorded with."""
    closures = (
        row.details.get("label", "")
        for row in section.events
        if row.kind == "closure" and row.undone_at is None and row.first_day <= date <= row.last_day
    )
    return next(closures, "")


def save_meetings(session: Session, section: Section) -> list[Meeting]:
    """Bring the section's meetings in line with its calendar; recorded ones keep their state.

    A meeting that the calendar no longer has is kept as lost, so that what pointed to it stays
    readable. Raises calendar.CalendarError.
    """
    given = {meeting.start: meeting for meeting in calendar_meetings(section)}
    rows = {row.start: row for row in section.meetings}
    for start, row in rows.items():
        if start not in given and row.state is MeetingState.PLANNED:
            row.state, row.note = MeetingState.LOST, NOT_IN_CALENDAR
            row.label = _closed_because(section, row.date) or row.label
    for start, meeting in given.items():
        values = _meeting_values(meeting)
        if start in rows:
            row = rows[start]
            # What is recorded keeps the minutes it had; only its place in the term may change.
            recorded = row.state is not MeetingState.PLANNED and row.note != NOT_IN_CALENDAR
            kept = ("number", "week", "letter") if recorded else values
            for name in kept:
                setattr(row, name, values[name])
            if row.state is MeetingState.LOST and row.note == NOT_IN_CALENDAR:
                row.state, row.note = MeetingState.PLANNED, ""
        else:
            section.meetings.append(Meeting(**values))
    _save_extra_meetings(section)
    session.flush()
    return list(section.meetings)


def _save_extra_meetings(section: Section) -> None:
    """Meetings beside the bell schedule; with them all are numbered by date and time again."""
    wanted = {}
    for event in section.events:
        if event.kind == "extra-meeting" and event.undone_at is None:
            starts_at = dt.time.fromisoformat(event.details["starts_at"])
            for text in event.details["dates"]:
                wanted[dt.date.fromisoformat(text), starts_at] = int(event.details["minutes"])
    rows = {(row.date, row.starts_at): row for row in section.meetings if row.kind == EXTRA}
    for place, row in rows.items():
        if row.state is not MeetingState.TAUGHT:
            row.state = MeetingState.PLANNED if place in wanted else MeetingState.LOST
    weeks = {row.date - dt.timedelta(days=row.date.weekday()): row.week for row in section.meetings}
    staffing = staffing_value(section)
    for (date, starts_at), minutes in wanted.items():
        if (date, starts_at) not in rows:
            monday = date - dt.timedelta(days=date.weekday())
            section.meetings.append(
                Meeting(
                    number=0,
                    date=date,
                    starts_at=starts_at,
                    minutes=minutes,
                    kind=EXTRA,
                    letter=None,
                    week=weeks.get(monday, max(weeks.values())),
                    opening_minutes=section.opening_minutes,
                    closing_minutes=section.closing_minutes,
                    lesson_minutes=0,
                    qualified_adults=staffing.qualified,
                    machine_power=staffing.qualified > 0,
                    label="Extra meeting",
                    state=MeetingState.PLANNED,
                )
            )
    if rows or wanted:
        held = (row for row in section.meetings if row.state is not MeetingState.LOST)
        for number, row in enumerate(sorted(held, key=lambda r: (r.date, r.starts_at)), 1):
            row.number = number


def change_routine(
    session: Session,
    section: Section,
    *,
    routine: dict[str, Any],
    staff_changes: list[dict[str, Any]],
) -> None:
    """Save a section's routine and days with other adults; open meetings follow.

    Raises calendar.CalendarError with a sentence per date on which the class does not meet.
    """
    section.routine = routine
    section.staff_changes = staff_changes
    calendar.meetings(
        term_value(section.term),
        pattern_value(section),
        routine_value(section),
        staffing_value(section),
    )
    save_meetings(session, section)


def _meeting_values(meeting: calendar.ClassMeeting) -> dict[str, Any]:
    return {
        "number": meeting.number,
        "date": meeting.date,
        "starts_at": meeting.start.time(),
        "minutes": meeting.minutes,
        "kind": meeting.kind,
        "letter": meeting.letter,
        "week": meeting.week,
        "opening_minutes": meeting.opening_minutes,
        "closing_minutes": meeting.closing_minutes,
        "lesson_minutes": meeting.lesson_minutes,
        "test_minutes": meeting.test_minutes,
        "qualified_adults": meeting.qualified_adults,
        "machine_power": meeting.machine_power,
        "label": meeting.label,
    }


def list_meetings(session: Session, section: Section) -> list[Meeting]:
    """The meetings of a section by number."""
    query = sa.select(Meeting).where(Meeting.section_id == section.id)
    return list(session.scalars(query.order_by(Meeting.date, Meeting.starts_at)))


def load_meeting(session: Session, section: Section, number: int) -> Meeting:
    """A meeting of the section by its number.

    Raises Missing, or LostMeeting where the number is only a lost one's.
    """
    query = sa.select(Meeting).where(Meeting.section_id == section.id, Meeting.number == number)
    found = list(session.scalars(query.order_by(Meeting.date)))
    held = [meeting for meeting in found if meeting.state is not MeetingState.LOST]
    if not found:
        raise Missing(f"meeting {number}")
    if not held:
        raise LostMeeting(found[-1])
    return held[0]


# --- courses -----------------------------------------------------------------------------------


def list_courses(session: Session, user: User) -> list[Course]:
    """The courses of the user's department, or of the school for an administrator."""
    query = sa.select(Course).join(Department).where(Department.school_id == user.school_id)
    if user.role is not Role.ADMINISTRATOR and user.department_id is not None:
        query = query.where(Department.id == user.department_id)
    return list(session.scalars(query.order_by(Course.title)))


def load_course(session: Session, user: User, course_id: int) -> Course:
    """A course of the user's department or school.

    Raises Missing.
    """
    for course in list_courses(session, user):
        if course.id == course_id:
            return course
    raise Missing(f"course {course_id}")


def create_course(
    session: Session, department: Department, *, key: str, title: str, band: str
) -> Course:
    """A new course of a department."""
    course = Course(department_id=department.id, key=key, title=title.strip(), band=band)
    session.add(course)
    session.flush()
    return course


def require_standards(
    session: Session,
    course: Course,
    standards: Iterable[Standard],
    *,
    by_date: dt.date | None = None,
    priority: bool = False,
) -> None:
    """Add required standards to a course; one already required takes the new date."""
    held = {item.standard_id: item for item in course.required}
    for standard in standards:
        item = held.get(standard.id)
        if item is None:
            item = RequiredStandard(standard_id=standard.id, priority=priority)
            course.required.append(item)
        item.by_date = by_date
        item.priority = priority
    session.flush()


# --- sections, teams, instruments --------------------------------------------------------------


@dataclass(frozen=True)
class NewSection:
    """What a new section needs; minutes bell to bell per bell schedule."""

    key: str
    title: str
    starts_at: dt.time
    pattern: Mapping[str, Any]
    bells: Mapping[str, int]
    opening_minutes: int
    closing_minutes: int
    routine: Mapping[str, Any]
    showcase: dt.date | None = None
    ready_made: Sequence[str] = ()


def create_section(
    session: Session,
    new: NewSection,
    *,
    course: Course,
    term: Term,
    teacher: User,
    room: Room,
    build: Build,
) -> Section:
    """A section with its meetings; teams follow.

    Raises calendar.CalendarError, or ValueError if the key is taken.
    """
    if session.scalar(sa.select(Section.id).where(Section.key == new.key)) is not None:
        raise ValueError(f"There is already a section with the key {new.key}; choose another.")
    section = Section(
        course=course,
        term=term,
        teacher=teacher,
        room=room,
        build=build,
        key=new.key,
        title=new.title,
        band=course.band,
        starts_at=new.starts_at,
        pattern=dict(new.pattern),
        bells=dict(new.bells),
        opening_minutes=new.opening_minutes,
        closing_minutes=new.closing_minutes,
        routine=dict(new.routine),
        showcase=new.showcase,
        ready_made=list(new.ready_made),
    )
    session.add(section)
    session.flush()
    save_meetings(session, section)
    return section


def add_students(
    session: Session,
    section: Section,
    codes: Sequence[str],
    *,
    grades: Mapping[str, str] | None = None,
    absence_rates: Mapping[str, float] | None = None,
) -> list[Student]:
    """Students by code, in the order given.

    Raises ValueError with a sentence if a code stands twice or is in the section already.
    """
    codes = [code.strip() for code in codes if code.strip()]
    if not codes:
        raise ValueError("Give at least one student code, one per line, such as S1-01.")
    held = {student.code for student in section.students}
    twice = sorted({code for code in codes if codes.count(code) > 1 or code in held})
    if twice:
        raise ValueError(
            f"These codes stand twice: {', '.join(twice)}. Each student needs one code."
        )
    students = [
        Student(
            code=code,
            grade=(grades or {}).get(code, ""),
            absence_rate=(absence_rates or {}).get(code, 0.07),
        )
        for code in codes
    ]
    section.students.extend(students)
    session.flush()
    return students


def make_teams(session: Session, section: Section, size: int) -> list[Team]:
    """Put students without a team into new teams of `size`, dealt in turn like cards.

    Every team gets an instrument with the nominal quantities of the build.
    """
    free = [student for student in section.students if student.team_id is None]
    if size < 1:
        raise ValueError("A team needs at least one student.")
    count = -(-len(free) // size)
    codes = roster_changes.next_team_codes([team.code for team in section.teams], count)
    teams = [create_team(session, section, code) for code in codes]
    for place, student in enumerate(free):
        student.team = teams[place % count]
    session.flush()
    return teams


def create_team(session: Session, section: Section, code: str) -> Team:
    """A team with an instrument of nominal quantities."""
    team = Team(code=code, instrument=Instrument(quantities=nominal_quantities(section.build)))
    section.teams.append(team)
    session.flush()
    return team


def nominal_quantities(build: Build) -> list[InstrumentQuantity]:
    """The build's nominal quantities as rows of an instrument."""
    return [
        InstrumentQuantity(key=item["key"], nominal=item["nominal"]) for item in build.quantities
    ]


def set_quantity(session: Session, team: Team, key: str, written: str, *, measured: bool) -> None:
    """Write a team's quantity: its nominal by choice, or its measured value from a reading.

    An empty reading takes the measured value back.
    """
    rows = {row.key: row for row in team.instrument.quantities}
    row = rows.get(key)
    if row is None:
        row = InstrumentQuantity(key=key, nominal=written)
        team.instrument.quantities.append(row)
    if measured:
        row.measured = written or None
    else:
        row.nominal = written
    session.flush()


def forget_measured(session: Session, team: Team, key: str) -> None:
    """Take a team's measured value away; the nominal stands again."""
    for row in team.instrument.quantities:
        if row.key == key:
            row.measured = None
    session.flush()


def load_teams(session: Session, section: Section) -> list[Team]:
    """Teams with students and instruments, in a fixed number of queries."""
    query = (
        sa.select(Team)
        .where(Team.section_id == section.id)
        .order_by(Team.code)
        .options(
            selectinload(Team.students),
            joinedload(Team.instrument).selectinload(Instrument.quantities),
        )
    )
    return list(session.scalars(query))


def teams_with_a_record(session: Session, section: Section) -> set[int]:
    """The ids of teams that have done, spoiled or measured something."""
    mine = sa.select(Team.id).where(Team.section_id == section.id)
    return {
        team_id
        for table in (Progress, Measurement)
        for team_id in session.scalars(
            sa.select(table.team_id).where(table.team_id.in_(mine)).distinct()
        )
    }


def load_steps(session: Session, build_id: int) -> list[Step]:
    """The steps of a build in order, each with its phase, exposures and materials."""
    query = (
        sa.select(Step)
        .join(Phase)
        .where(Phase.build_id == build_id)
        .order_by(Phase.position, Step.position)
        .options(joinedload(Step.phase), selectinload(Step.exposures), selectinload(Step.materials))
    )
    return list(session.scalars(query))
