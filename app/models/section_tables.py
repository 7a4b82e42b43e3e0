"""Terms, courses, sections, teams and their instruments, and the class meetings."""

import datetime as dt
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base
from app.domain.standard.depth import MeetingState
from app.models.library_tables import Build, Standard
from app.models.people_tables import Department, Room, School, User

if TYPE_CHECKING:
    from app.models.plan_tables import Event


class Term(Base):
    """First to last day; `letters` are given out in turn over school days ("AB" or none)."""

    __tablename__ = "term"

    school_id: Mapped[int] = mapped_column(sa.ForeignKey("school.id"), index=True)
    title: Mapped[str]
    first_day: Mapped[dt.date]
    last_day: Mapped[dt.date]
    letters: Mapped[str] = mapped_column(default="")
    letter_policy: Mapped[str] = mapped_column(default="fixed")

    school: Mapped[School] = relationship()
    days: Mapped[list["TermDay"]] = relationship(
        back_populates="term", order_by="TermDay.date", cascade="all, delete-orphan"
    )


class TermDay(Base):
    """A day that differs from the pattern: closed, another bell schedule, or a make-up day."""

    __tablename__ = "term_day"
    __table_args__ = (sa.UniqueConstraint("term_id", "date"),)

    term_id: Mapped[int] = mapped_column(sa.ForeignKey("term.id"), index=True)
    date: Mapped[dt.date]
    label: Mapped[str] = mapped_column(default="")
    closed: Mapped[bool] = mapped_column(default=False)
    planned: Mapped[bool] = mapped_column(default=True)
    schedule: Mapped[str | None]
    drill_minutes: Mapped[int] = mapped_column(default=0)
    make_up: Mapped[bool] = mapped_column(default=False)
    letter: Mapped[str | None]

    term: Mapped[Term] = relationship(back_populates="days")


class Course(Base):
    __tablename__ = "course"
    __table_args__ = (sa.UniqueConstraint("department_id", "key"),)

    department_id: Mapped[int] = mapped_column(sa.ForeignKey("department.id"), index=True)
    key: Mapped[str]
    title: Mapped[str]
    band: Mapped[str]

    department: Mapped[Department] = relationship()
    required: Mapped[list["RequiredStandard"]] = relationship(
        back_populates="course", order_by="RequiredStandard.id", cascade="all, delete-orphan"
    )


class RequiredStandard(Base):
    __tablename__ = "required_standard"
    __table_args__ = (sa.UniqueConstraint("course_id", "standard_id"),)

    course_id: Mapped[int] = mapped_column(sa.ForeignKey("course.id"), index=True)
    standard_id: Mapped[int] = mapped_column(sa.ForeignKey("standard.id"), index=True)
    by_date: Mapped[dt.date | None]
    priority: Mapped[bool] = mapped_column(default=False)

    course: Mapped[Course] = relationship(back_populates="required")
    standard: Mapped[Standard] = relationship()


class Section(Base):
    """A class that meets: its pattern, its routine, its build and its room.

    `pattern` is {"weekdays": [0..4]} or {"letters": ["B"]}, with "more_blocks" for the second
    and third block of a full day; `bells` gives the minutes from bell to bell under each bell
    schedule; `routine` says how lessons and tests fall. `staff_changes` are the dates on which
    other adults are in the room than the room's own; `feed_token` is the secret part of the
    calendar feed's address, None while there is no feed.
    """

    __tablename__ = "section"

    course_id: Mapped[int] = mapped_column(sa.ForeignKey("course.id"), index=True)
    term_id: Mapped[int] = mapped_column(sa.ForeignKey("term.id"), index=True)
    teacher_id: Mapped[int] = mapped_column(sa.ForeignKey("user.id"), index=True)
    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    build_id: Mapped[int] = mapped_column(sa.ForeignKey("build.id"), index=True)
    key: Mapped[str] = mapped_column(unique=True)
    title: Mapped[str]
    band: Mapped[str]
    starts_at: Mapped[dt.time]
    pattern: Mapped[dict[str, Any]]
    bells: Mapped[dict[str, Any]]
    opening_minutes: Mapped[int]
    closing_minutes: Mapped[int]
    routine: Mapped[dict[str, Any]]
    showcase: Mapped[dt.date | None]
    ready_made: Mapped[list[str]]
    keep_until: Mapped[dt.date | None]
    staff_changes: Mapped[list[dict[str, Any]]] = mapped_column(default=list)
    feed_token: Mapped[str | None] = mapped_column(unique=True)

    course: Mapped[Course] = relationship()
    term: Mapped[Term] = relationship()
    teacher: Mapped[User] = relationship()
    room: Mapped[Room] = relationship()
    build: Mapped[Build] = relationship()
    teams: Mapped[list["Team"]] = relationship(
        back_populates="section", order_by="Team.code", cascade="all, delete-orphan"
    )
    students: Mapped[list["Student"]] = relationship(
        back_populates="section", order_by="Student.code", cascade="all, delete-orphan"
    )
    meetings: Mapped[list["Meeting"]] = relationship(
        back_populates="section", order_by="Meeting.number", cascade="all, delete-orphan"
    )
    events: Mapped[list["Event"]] = relationship(
        back_populates="section", order_by="Event.id", cascade="all, delete-orphan"
    )


class Team(Base):
    __tablename__ = "team"
    __table_args__ = (sa.UniqueConstraint("section_id", "code"),)

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    code: Mapped[str]

    section: Mapped[Section] = relationship(back_populates="teams")
    students: Mapped[list["Student"]] = relationship(back_populates="team", order_by="Student.code")
    instrument: Mapped["Instrument"] = relationship(
        back_populates="team", cascade="all, delete-orphan"
    )


class Student(Base):
    """A code in a section. No name is needed anywhere.

    `source_id` is the roster file's own identifier, so that the next file finds the student again.
    """

    __tablename__ = "student"
    __table_args__ = (sa.UniqueConstraint("section_id", "code"),)

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    team_id: Mapped[int | None] = mapped_column(sa.ForeignKey("team.id"), index=True)
    code: Mapped[str]
    grade: Mapped[str] = mapped_column(default="")
    absence_rate: Mapped[float] = mapped_column(default=0.07)
    entered: Mapped[dt.date | None]
    left: Mapped[dt.date | None]
    source_id: Mapped[str | None]

    section: Mapped[Section] = relationship(back_populates="students")
    team: Mapped[Team | None] = relationship(back_populates="students")

    def enrolled(self, on: dt.date) -> bool:
        """Whether the student is in the class on a day: entered by then and not yet gone."""
        return (self.entered is None or self.entered <= on) and (
            self.left is None or self.left > on
        )

    @classmethod
    def enrolled_rows(cls, on: dt.date) -> sa.ColumnElement[bool]:
        """The same rule for a query."""
        return sa.and_(
            sa.or_(cls.entered.is_(None), cls.entered <= on),
            sa.or_(cls.left.is_(None), cls.left > on),
        )


class StudentName(Base):
    """A student's name, only if the teacher wants one; kept apart so that one act removes all."""

    __tablename__ = "student_name"

    student_id: Mapped[int] = mapped_column(
        sa.ForeignKey("student.id", ondelete="CASCADE"), unique=True
    )
    name: Mapped[str]

    student: Mapped[Student] = relationship()


class Instrument(Base):
    """A team's own instrument."""

    __tablename__ = "instrument"

    team_id: Mapped[int] = mapped_column(sa.ForeignKey("team.id"), unique=True)

    team: Mapped[Team] = relationship(back_populates="instrument")
    quantities: Mapped[list["InstrumentQuantity"]] = relationship(
        back_populates="instrument",
        order_by="InstrumentQuantity.key",
        cascade="all, delete-orphan",
    )


class InstrumentQuantity(Base):
    """One quantity: nominal as written ('648 mm') and measured as written, if it was."""

    __tablename__ = "instrument_quantity"
    __table_args__ = (sa.UniqueConstraint("instrument_id", "key"),)

    instrument_id: Mapped[int] = mapped_column(sa.ForeignKey("instrument.id"), index=True)
    key: Mapped[str]
    nominal: Mapped[str]
    measured: Mapped[str | None]

    instrument: Mapped[Instrument] = relationship(back_populates="quantities")


class Meeting(Base):
    """One class period on one date, as the calendar gives it; `state` is what became of it."""

    __tablename__ = "meeting"
    __table_args__ = (sa.UniqueConstraint("section_id", "date", "starts_at"),)

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    number: Mapped[int]
    date: Mapped[dt.date] = mapped_column(index=True)
    starts_at: Mapped[dt.time]
    minutes: Mapped[int]
    kind: Mapped[str]
    letter: Mapped[str | None]
    week: Mapped[int]
    opening_minutes: Mapped[int]
    closing_minutes: Mapped[int]
    lesson_minutes: Mapped[int]
    test_minutes: Mapped[int] = mapped_column(default=0)
    qualified_adults: Mapped[int] = mapped_column(default=1)
    machine_power: Mapped[bool] = mapped_column(default=True)
    label: Mapped[str] = mapped_column(default="")
    state: Mapped[MeetingState] = mapped_column(
        sa.Enum(
            MeetingState,
            native_enum=False,
            length=20,
            values_callable=lambda states: [s.value for s in states],
        ),
        default=MeetingState.PLANNED,
    )
    note: Mapped[str] = mapped_column(default="")

    section: Mapped[Section] = relationship(back_populates="meetings")

    @property
    def start(self) -> dt.datetime:
        """When the bell rings, in the school's own time."""
        return dt.datetime.combine(self.date, self.starts_at)

    @property
    def bench_minutes(self) -> int:
        """Minutes between opening and clean-up."""
        return max(0, self.minutes - self.opening_minutes - self.closing_minutes)

    @property
    def work_minutes(self) -> int:
        """Bench minutes left after the lesson or test."""
        return max(0, self.bench_minutes - self.lesson_minutes - self.test_minutes)
