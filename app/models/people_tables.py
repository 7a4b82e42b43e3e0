"""Who works with Stringcourse, and the room they share."""

import datetime as dt
import enum

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base


class Role(enum.StrEnum):
    """What a user may do; an administrator also does what the others do."""

    TEACHER = "teacher"
    DEPARTMENT_HEAD = "department-head"
    WORKSHOP_LEAD = "workshop-lead"
    ADMINISTRATOR = "administrator"


class School(Base):
    __tablename__ = "school"

    name: Mapped[str]
    holiday_country: Mapped[str] = mapped_column(default="US")
    approval_days: Mapped[int] = mapped_column(default=5)  # open days from requisition to order

    departments: Mapped[list["Department"]] = relationship(back_populates="school")
    rooms: Mapped[list["Room"]] = relationship(back_populates="school")


class Department(Base):
    __tablename__ = "department"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str]
    name: Mapped[str]

    school: Mapped[School] = relationship(back_populates="departments")


class User(Base):
    __tablename__ = "user"

    school_id: Mapped[int] = mapped_column(sa.ForeignKey("school.id"), index=True)
    department_id: Mapped[int | None] = mapped_column(sa.ForeignKey("department.id"), index=True)
    email: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    role: Mapped[Role] = mapped_column(
        sa.Enum(
            Role,
            native_enum=False,
            length=30,
            values_callable=lambda roles: [r.value for r in roles],
        )
    )
    password_hash: Mapped[str]
    active: Mapped[bool] = mapped_column(default=True)
    created_at: Mapped[dt.datetime]

    school: Mapped[School] = relationship()
    department: Mapped[Department | None] = relationship()


class Room(Base):
    """A workshop: its stations, fixtures and the adults present."""

    __tablename__ = "room"

    school_id: Mapped[int] = mapped_column(sa.ForeignKey("school.id"), index=True)
    title: Mapped[str]

    school: Mapped[School] = relationship(back_populates="rooms")
    stations: Mapped[list["Station"]] = relationship(
        back_populates="room", order_by="Station.title", cascade="all, delete-orphan"
    )
    fixtures: Mapped[list["Fixture"]] = relationship(
        back_populates="room", order_by="Fixture.title", cascade="all, delete-orphan"
    )
    adults: Mapped[list["Adult"]] = relationship(
        back_populates="room", order_by="Adult.id", cascade="all, delete-orphan"
    )


class Station(Base):
    """A station of a room; its kind (hazard, supervision, zone) is the library's."""

    __tablename__ = "station"
    __table_args__ = (sa.UniqueConstraint("room_id", "key"),)

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    key: Mapped[str]
    title: Mapped[str]
    places: Mapped[int]
    hazard_class: Mapped[str]
    supervision: Mapped[str]
    zone: Mapped[str | None]
    permit: Mapped[str | None]
    substitute_safe: Mapped[bool]
    level_dba: Mapped[float | None]

    room: Mapped[Room] = relationship(back_populates="stations")


class Fixture(Base):
    """A mould, clamp or rack place that stays taken after the student walks away."""

    __tablename__ = "fixture"
    __table_args__ = (sa.UniqueConstraint("room_id", "key"),)

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    key: Mapped[str]
    title: Mapped[str]
    count: Mapped[int]

    room: Mapped[Room] = relationship(back_populates="fixtures")


class Adult(Base):
    """An adult of the room. Capacity 1 supervises one machine or two zones; 0 helps at benches."""

    __tablename__ = "adult"

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id"), index=True)
    title: Mapped[str]
    machine_qualified: Mapped[bool]
    in_class: Mapped[bool] = mapped_column(default=True)
    outside_minutes_per_week: Mapped[int] = mapped_column(default=0)

    room: Mapped[Room] = relationship(back_populates="adults")
