"""Plans: activities of teams and lessons of the class, placed on meetings; what upset them."""

import datetime as dt
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base
from app.models.library_tables import Step, Treatment
from app.models.section_tables import Meeting, Section, Team


class Plan(Base):
    """A planned semester. One plan of a section is current; earlier ones stay readable.

    `before_id` is the plan that this one took the place of: the way back for undo.
    """

    __tablename__ = "plan"

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    current: Mapped[bool] = mapped_column(default=True)
    reason: Mapped[str]
    created_at: Mapped[dt.datetime]
    created_by: Mapped[str]
    status: Mapped[str]
    finish_date: Mapped[dt.date | None]
    bound_date: Mapped[dt.date | None]
    gap_meetings: Mapped[int | None]
    teams: Mapped[int]
    teams_complete: Mapped[int]
    limiting: Mapped[str | None]
    broken_rules: Mapped[list[str]]
    uncovered: Mapped[list[dict[str, Any]]]
    facts: Mapped[dict[str, Any]]
    before_id: Mapped[int | None] = mapped_column(sa.ForeignKey("plan.id"), index=True)

    section: Mapped[Section] = relationship()
    activities: Mapped[list["Activity"]] = relationship(
        back_populates="plan", order_by="Activity.id", cascade="all, delete-orphan"
    )
    lessons: Mapped[list["Lesson"]] = relationship(
        back_populates="plan", order_by="Lesson.id", cascade="all, delete-orphan"
    )


class Activity(Base):
    """One sitting: a team's work on a step in one meeting, from minute to minute of it."""

    __tablename__ = "activity"

    plan_id: Mapped[int] = mapped_column(sa.ForeignKey("plan.id"), index=True)
    team_id: Mapped[int] = mapped_column(sa.ForeignKey("team.id"), index=True)
    step_id: Mapped[int] = mapped_column(sa.ForeignKey("step.id"), index=True)
    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    first_minute: Mapped[int]
    minutes: Mapped[int]
    part: Mapped[int]
    parts: Mapped[int]
    pinned: Mapped[bool] = mapped_column(default=False)

    plan: Mapped[Plan] = relationship(back_populates="activities")
    team: Mapped[Team] = relationship()
    step: Mapped[Step] = relationship()
    meeting: Mapped[Meeting] = relationship()


class Lesson(Base):
    """A treatment, or a safety briefing for a permit, taught to the class in a meeting."""

    __tablename__ = "lesson"

    plan_id: Mapped[int] = mapped_column(sa.ForeignKey("plan.id"), index=True)
    meeting_id: Mapped[int] = mapped_column(sa.ForeignKey("meeting.id"), index=True)
    treatment_id: Mapped[int | None] = mapped_column(sa.ForeignKey("treatment.id"), index=True)
    permit: Mapped[str | None]
    title: Mapped[str]
    minutes: Mapped[int]
    reason: Mapped[str] = mapped_column(default="")

    plan: Mapped[Plan] = relationship(back_populates="lessons")
    meeting: Mapped[Meeting] = relationship()
    treatment: Mapped[Treatment | None] = relationship()


class Event(Base):
    """Something that happened to a section's term: a closure, a station out, parts late.

    `details` holds what the kind needs; an undone event stays on record and has no effect.
    """

    __tablename__ = "event"

    section_id: Mapped[int] = mapped_column(sa.ForeignKey("section.id"), index=True)
    kind: Mapped[str]
    first_day: Mapped[dt.date]
    last_day: Mapped[dt.date]
    details: Mapped[dict[str, Any]]
    recorded_at: Mapped[dt.datetime]
    recorded_by: Mapped[str]
    undone_at: Mapped[dt.datetime | None]
    undone_by: Mapped[str] = mapped_column(default="")
    plan_before_id: Mapped[int | None] = mapped_column(sa.ForeignKey("plan.id"), index=True)
    plan_after_id: Mapped[int | None] = mapped_column(sa.ForeignKey("plan.id"), index=True)

    section: Mapped[Section] = relationship(back_populates="events")
