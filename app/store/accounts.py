"""Schools, departments, users and rooms."""

import datetime as dt

import sqlalchemy as sa
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError
from sqlalchemy.orm import Session, selectinload

from app.models import (
    Adult,
    Department,
    Fixture,
    FixtureType,
    Role,
    Room,
    School,
    Station,
    StationType,
    User,
)
from app.store import library
from app.store.missing import Missing

MINIMUM_PASSWORD_LENGTH = 10

_hasher = PasswordHasher()
# Verified when no such account exists, so that an unknown address takes as long as a wrong password.
_NOBODY = _hasher.hash("nobody has this password")


def has_users(session: Session) -> bool:
    """Whether anybody has an account yet."""
    return session.scalar(sa.select(sa.exists(sa.select(User.id)))) or False


def check_sign_in(session: Session, email: str, password: str) -> User | None:
    """The active user with this address and password, or None."""
    user = session.scalar(sa.select(User).where(User.email == email.strip().lower()))
    usable = user is not None and user.active
    try:
        _hasher.verify(user.password_hash if user and usable else _NOBODY, password)
    except (VerifyMismatchError, InvalidHashError):
        return None
    return user if usable else None


def load_user(session: Session, user_id: int) -> User | None:
    """The active user with this id, or None."""
    user = session.get(User, user_id)
    return user if user is not None and user.active else None


def create_school(session: Session, name: str) -> School:
    """A new school without departments."""
    school = School(name=name.strip())
    session.add(school)
    session.flush()
    return school


def find_school(session: Session, name: str) -> School:
    """A school by its name, for the command line.

    Raises ValueError with the names there are.
    """
    schools = list(session.scalars(sa.select(School).order_by(School.name)))
    for school in schools:
        if school.name == name:
            return school
    known = ", ".join(school.name for school in schools) or "none yet"
    raise ValueError(f"there is no school “{name}”; known: {known}")


def create_department(session: Session, school: School, key: str, name: str) -> Department:
    """A department of `school`; `key` is used in addresses and on the command line."""
    department = Department(school_id=school.id, key=key, name=name.strip())
    session.add(department)
    session.flush()
    return department


def create_user(
    session: Session,
    *,
    school: School,
    email: str,
    name: str,
    role: Role,
    password: str,
    now: dt.datetime,
    department: Department | None = None,
) -> User:
    """A new account.

    Raises ValueError with a sentence if the address is taken or the password too short.
    """
    email = email.strip().lower()
    if len(password) < MINIMUM_PASSWORD_LENGTH:
        raise ValueError(f"The password needs at least {MINIMUM_PASSWORD_LENGTH} characters.")
    if session.scalar(sa.select(User.id).where(User.email == email)) is not None:
        raise ValueError(f"{email} already has an account.")
    user = User(
        school_id=school.id,
        department_id=department.id if department else None,
        email=email,
        name=name.strip(),
        role=role,
        password_hash=_hasher.hash(password),
        created_at=now,
    )
    session.add(user)
    session.flush()
    return user


def list_users(session: Session, school_id: int) -> list[User]:
    """All accounts of a school, by name."""
    return list(
        session.scalars(
            sa.select(User)
            .where(User.school_id == school_id)
            .options(selectinload(User.department))
            .order_by(User.name)
        )
    )


def list_departments(session: Session, school_id: int) -> list[Department]:
    """The departments of a school, by name."""
    query = sa.select(Department).where(Department.school_id == school_id)
    return list(session.scalars(query.order_by(Department.name)))


def load_department(session: Session, user: User, key: str) -> Department:
    """A department of the user's school; heads and teachers see only their own.

    Raises Missing.
    """
    department = session.scalar(
        sa.select(Department).where(Department.school_id == user.school_id, Department.key == key)
    )
    if department is None or not sees_department(user, department.id):
        raise Missing(f"department {key}")
    return department


def sees_department(user: User, department_id: int) -> bool:
    """Administrators see every department of their school, everyone else their own."""
    return user.role is Role.ADMINISTRATOR or user.department_id == department_id


def list_rooms(session: Session, school_id: int) -> list[Room]:
    """The rooms of a school, by title."""
    query = sa.select(Room).where(Room.school_id == school_id).order_by(Room.title)
    return list(session.scalars(query))


def load_room(session: Session, user: User, room_id: int) -> Room:
    """A room of the user's school with stations, fixtures and adults.

    Raises Missing.
    """
    room = session.scalar(
        sa.select(Room)
        .where(Room.school_id == user.school_id, Room.id == room_id)
        .options(
            selectinload(Room.stations), selectinload(Room.fixtures), selectinload(Room.adults)
        )
    )
    if room is None:
        raise Missing(f"room {room_id}")
    return room


def create_room(session: Session, school: School, title: str) -> Room:
    """A room with the library's usual stations and fixtures and one qualified teacher."""
    room = Room(school_id=school.id, title=title.strip())
    for kind in library.kinds(session, StationType, school.id).values():
        room.stations.append(station_of(kind))
    for kind_ in library.kinds(session, FixtureType, school.id).values():
        room.fixtures.append(Fixture(key=kind_.key, title=kind_.title, count=kind_.count))
    room.adults.append(Adult(title="Teacher, machine-qualified", machine_qualified=True))
    session.add(room)
    session.flush()
    return room


def station_of(kind: StationType) -> Station:
    """A room's station of a library kind, with its usual number of places."""
    return Station(
        key=kind.key,
        title=kind.title,
        places=kind.places,
        hazard_class=kind.hazard_class,
        supervision=kind.supervision,
        zone=kind.zone,
        permit=kind.permit,
        substitute_safe=kind.substitute_safe,
        level_dba=kind.level_dba,
    )


def add_station_kind(session: Session, school_id: int, kind: StationType) -> None:
    """Give every room of the school the new kind of station, with its usual places."""
    for room in session.scalars(sa.select(Room).where(Room.school_id == school_id)):
        if all(station.key != kind.key for station in room.stations):
            room.stations.append(station_of(kind))
    session.flush()


def add_fixture_kind(session: Session, school_id: int, kind: FixtureType) -> None:
    """Give every room of the school the new kind of fixture, in its usual number."""
    for room in session.scalars(sa.select(Room).where(Room.school_id == school_id)):
        if all(fixture.key != kind.key for fixture in room.fixtures):
            room.fixtures.append(Fixture(key=kind.key, title=kind.title, count=kind.count))
    session.flush()


def set_qualified_adults(session: Session, room: Room, count: int) -> None:
    """Bring the number of machine-qualified adults present in class to `count`."""
    present = [adult for adult in room.adults if adult.in_class and adult.machine_qualified]
    for adult in present[count:]:
        room.adults.remove(adult)
    for _ in range(count - len(present)):
        room.adults.append(Adult(title="Adult, machine-qualified", machine_qualified=True))
    session.flush()


def load_teacher(session: Session, user: User, teacher_id: int | None) -> User:
    """The teacher of a new section: oneself, or anyone of the school for an administrator.

    Raises Missing.
    """
    teacher = session.get(User, teacher_id) if teacher_id is not None else None
    mine = teacher is not None and (
        teacher.id == user.id
        or (user.role is Role.ADMINISTRATOR and teacher.school_id == user.school_id)
    )
    if teacher is None or not mine:
        raise Missing(f"teacher {teacher_id}")
    return teacher
