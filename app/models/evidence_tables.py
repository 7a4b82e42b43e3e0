"""What happened: attendance, progress, measurements, marks, sign-offs, reviews, papers, jobs."""

import datetime as dt
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base
from app.models.library_tables import Material, Standard, Step, Treatment
from app.models.section_tables import Meeting, Section, Student, Team


class Absence(Base):
    __tablename__ = "absence"
    __table_args__ = (sa.UniqueConstraint("meeting_id", "student_id"),)

    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    student_id: Mapped[int] = mapped_column(sa.ForeignKey("student.id"), index=True)

    meeting: Mapped[Meeting] = relationship()
    student: Mapped[Student] = relationship()


class Progress(Base):
    """An event in a team's work on a step: done, checked again, spoiled (spare used) or helped.

    A step of a team is done once, whoever records it first. `student_id` says whose part was spoiled
    or who was helped, where that is one student of the team.
    """

    __tablename__ = "progress"
    __table_args__ = (
        sa.Index(
            "uq_progress_done",
            "team_id",
            "step_id",
            unique=True,
            sqlite_where=sa.text("event = 'done'"),
            postgresql_where=sa.text("event = 'done'"),
        ),
    )

    team_id: Mapped[int] = mapped_column(sa.ForeignKey("team.id"), index=True)
    step_id: Mapped[int] = mapped_column(sa.ForeignKey("step.id"), index=True)
    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    student_id: Mapped[int | None] = mapped_column(sa.ForeignKey("student.id"), index=True)
    event: Mapped[str]
    initials: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    recorded_at: Mapped[dt.datetime]
    recorded_by: Mapped[str]

    team: Mapped[Team] = relationship()
    step: Mapped[Step] = relationship()
    meeting: Mapped[Meeting] = relationship()


class Measurement(Base):
    """A reading at a hold point, as written and in SI; it becomes the team's instrument."""

    __tablename__ = "measurement"

    team_id: Mapped[int] = mapped_column(sa.ForeignKey("team.id"), index=True)
    step_id: Mapped[int] = mapped_column(sa.ForeignKey("step.id"), index=True)
    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    student_id: Mapped[int | None] = mapped_column(sa.ForeignKey("student.id"), index=True)
    quantity: Mapped[str]
    written: Mapped[str]
    value: Mapped[float | None]
    unit: Mapped[str] = mapped_column(default="")
    within: Mapped[bool | None]
    instrument_used: Mapped[str] = mapped_column(default="")
    resolution: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    recorded_at: Mapped[dt.datetime]
    recorded_by: Mapped[str]

    team: Mapped[Team] = relationship()
    step: Mapped[Step] = relationship()
    meeting: Mapped[Meeting] = relationship()


class Mark(Base):
    """A marked artifact of one student: a worksheet, exit question, test or report on one treatment.

    Of a worksheet marked by the key, each question has its own row: `question` is its key.
    A teacher's own question belongs to no treatment and so to no standard.
    """

    __tablename__ = "mark"
    __table_args__ = (
        sa.UniqueConstraint("student_id", "treatment_id", "artifact", "question"),
        sa.Index(
            "uq_mark_own_question",
            "student_id",
            "artifact",
            "question",
            unique=True,
            sqlite_where=sa.text("treatment_id IS NULL"),
            postgresql_where=sa.text("treatment_id IS NULL"),
        ),
    )

    student_id: Mapped[int] = mapped_column(sa.ForeignKey("student.id"), index=True)
    treatment_id: Mapped[int | None] = mapped_column(sa.ForeignKey("treatment.id"), index=True)
    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    artifact: Mapped[str]
    question: Mapped[str] = mapped_column(default="", server_default="")
    score: Mapped[float]
    out_of: Mapped[float]
    recorded_at: Mapped[dt.datetime]
    recorded_by: Mapped[str]

    student: Mapped[Student] = relationship()
    treatment: Mapped[Treatment | None] = relationship()
    meeting: Mapped[Meeting] = relationship()


class SignOff(Base):
    """One part of a permit: lesson, written test or observed check-out, or a suspension.

    An entry made by mistake stays in the log, struck out: `struck_out` says by whom, when and why.
    """

    __tablename__ = "sign_off"

    student_id: Mapped[int] = mapped_column(sa.ForeignKey("student.id"), index=True)
    permit: Mapped[str]
    part: Mapped[str]
    date: Mapped[dt.date]
    person: Mapped[str]
    test_version: Mapped[str] = mapped_column(default="")
    score: Mapped[float | None]
    note: Mapped[str] = mapped_column(default="")
    struck_out: Mapped[str] = mapped_column(default="", server_default="")

    student: Mapped[Student] = relationship()


class SchoolRule(Base):
    """A school's own rule for one sign-off: from which grade, and what else it says.

    Never a statement of law; the school writes it and answers for it.
    """

    __tablename__ = "school_rule"
    __table_args__ = (sa.UniqueConstraint("school_id", "permit"),)

    school_id: Mapped[int] = mapped_column(sa.ForeignKey("school.id"), index=True)
    permit: Mapped[str]
    lowest_grade: Mapped[int | None]
    lowest_age: Mapped[int | None]
    rule: Mapped[str] = mapped_column(default="")


class RoomAir(Base):
    """Temperature and relative humidity of the room, read in a meeting."""

    __tablename__ = "room_air"

    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    temperature_c: Mapped[float]
    humidity_percent: Mapped[float]
    recorded_at: Mapped[dt.datetime]
    recorded_by: Mapped[str]

    meeting: Mapped[Meeting] = relationship()


class ProductLabel(Base):
    """What the label of the product in use says; it overrides the library's estimate."""

    __tablename__ = "product_label"
    __table_args__ = (sa.UniqueConstraint("section_id", "station"),)

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    station: Mapped[str]
    lowest_temperature_c: Mapped[float | None]
    highest_temperature_c: Mapped[float | None]
    highest_humidity_percent: Mapped[float | None]
    recoat_hours: Mapped[float | None]
    product: Mapped[str] = mapped_column(default="")


class Paper(Base):
    """A printed paper: what makes it again next year, seed and all."""

    __tablename__ = "paper"

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    kind: Mapped[str]
    title: Mapped[str]
    seed: Mapped[str]
    recipe: Mapped[dict[str, Any]]
    created_at: Mapped[dt.datetime]

    section: Mapped[Section] = relationship()


class Stock(Base):
    """A material a room keeps: where it lies and from which level it is reordered."""

    __tablename__ = "stock"
    __table_args__ = (sa.UniqueConstraint("room_id", "material_id"),)

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    material_id: Mapped[int] = mapped_column(sa.ForeignKey("material.id"), index=True)
    reorder_at: Mapped[float | None]
    place: Mapped[str] = mapped_column(default="")

    material: Mapped[Material] = relationship()
    counts: Mapped[list["StockCount"]] = relationship(
        back_populates="stock", order_by="StockCount.id", cascade="all, delete-orphan"
    )


class StockCount(Base):
    """A count of what is on hand. The last one holds; taking it back brings the one before."""

    __tablename__ = "stock_count"

    stock_id: Mapped[int] = mapped_column(sa.ForeignKey("stock.id"), index=True)
    quantity: Mapped[float]
    counted_at: Mapped[dt.datetime] = mapped_column(index=True)
    counted_by: Mapped[str]

    stock: Mapped[Stock] = relationship(back_populates="counts")


class BoardStock(Base):
    """Boards on a room's rack, alike and free of faults; sizes as written ("8 ft"), "" if unknown."""

    __tablename__ = "board_stock"

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    label: Mapped[str]
    count: Mapped[int]
    length: Mapped[str]
    width: Mapped[str] = mapped_column(default="")
    thickness: Mapped[str] = mapped_column(default="")
    species: Mapped[str] = mapped_column(default="")


class BladeChange(Base):
    """A fresh blade or bit at a station: what is done there is counted from then on."""

    __tablename__ = "blade_change"

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    station: Mapped[str]
    changed_at: Mapped[dt.datetime]
    changed_by: Mapped[str]


class Review(Base):
    """A head's comment, request or approval of a section's coverage, and the answer to it."""

    __tablename__ = "review"

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    standard_id: Mapped[int | None] = mapped_column(sa.ForeignKey("standard.id"), index=True)
    week: Mapped[int | None]
    kind: Mapped[str]
    body: Mapped[str]
    author: Mapped[str]
    created_at: Mapped[dt.datetime]
    approved: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON(none_as_null=True))
    answer: Mapped[str] = mapped_column(default="")
    answered_at: Mapped[dt.datetime | None]

    section: Mapped[Section] = relationship()
    standard: Mapped[Standard | None] = relationship()


class Job(Base):
    """A long operation: its state and progress, readable from any process."""

    __tablename__ = "job"
    __table_args__ = (
        # One open job of a kind for a section, whoever asks at the same moment.
        sa.Index(
            "uq_job_open",
            *("section_id", "kind"),
            unique=True,
            sqlite_where=sa.text("state IN ('waiting', 'running')"),
            postgresql_where=sa.text("state IN ('waiting', 'running')"),
        ),
    )

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    kind: Mapped[str]
    state: Mapped[str]
    progress: Mapped[dict[str, Any]]
    error: Mapped[str] = mapped_column(default="")
    stop_asked: Mapped[bool] = mapped_column(default=False)
    created_at: Mapped[dt.datetime]
    created_by: Mapped[str]

    section: Mapped[Section] = relationship()


class ClassSetFile(Base):
    """A file of a large class set, kept for some days to be fetched: its sheets, or its key.

    `query` is the address the set was made for; it makes the same set again.
    """

    __tablename__ = "class_set_file"

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    paper: Mapped[str]
    title: Mapped[str]
    name: Mapped[str]
    query: Mapped[dict[str, Any]]
    made_at: Mapped[dt.datetime]
    size: Mapped[int]
    content: Mapped[bytes] = mapped_column(deferred=True)
