"""The schema of a sample school: invented people, terms, rooms, sections, and a recorded past."""

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, ValidationError

from app.interchange.files import BadFile, Mistake
from app.interchange.library_file import Key, LibraryEntry
from app.models import Role


class SampleDay(LibraryEntry):
    date: dt.date
    label: str = ""
    closed: bool = False
    planned: bool = True
    schedule: str | None = None
    drill_minutes: int = 0


class SampleTerm(LibraryEntry):
    title: str
    first_day: dt.date
    last_day: dt.date
    letters: str = ""
    days: list[SampleDay] = []


class Person(LibraryEntry):
    name: str
    email: str
    role: Role


class Code(LibraryEntry):
    framework: Key
    code: str
    by: dt.date | None = None
    priority: bool = False


class SampleCourse(LibraryEntry):
    key: Key
    title: str
    band: str
    required: list[Code] = []


class SampleStudent(LibraryEntry):
    code: str
    grade: str
    absence_rate: float
    team: str


class LostDay(LibraryEntry):
    date: dt.date
    note: str


class History(LibraryEntry):
    """What has happened by `until`: played from the plan with invented readings and marks."""

    until: dt.date
    seed: str
    lost: list[LostDay] = []
    slow_teams: list[str] = []
    missing_marks_share: float = Field(0.1, ge=0, le=1)


class SampleSection(LibraryEntry):
    key: Key
    title: str
    course: Key
    build: Key
    teacher: str
    starts_at: dt.time
    weekdays: list[int] = []
    letters: list[str] = []
    bells: dict[str, int]
    opening_minutes: int
    closing_minutes: int
    routine: dict[str, Any]
    showcase: dt.date | None = None
    ready_made: list[str] = []
    students: list[SampleStudent]
    history: History | None = None


class SampleStock(LibraryEntry):
    """What was counted of a material on the first day of term."""

    material: Key
    counted: float = Field(ge=0)
    reorder_at: float | None = Field(None, ge=0)
    place: str = ""


class SampleBoard(LibraryEntry):
    label: str
    count: int
    length: str
    width: str = ""
    thickness: str = ""
    species: str = ""


class SampleSchool(LibraryEntry):
    kind: Literal["school"]
    schema_version: Literal[1]
    name: str
    department_key: Key
    department: str
    room: str
    today: dt.date
    password: str
    people: list[Person]
    term: SampleTerm
    courses: list[SampleCourse]
    sections: list[SampleSection]
    stock: list[SampleStock] = []
    boards: list[SampleBoard] = []


def read_school(path: Path) -> SampleSchool:
    """A checked sample school.

    Raises BadFile.
    """
    try:
        return SampleSchool.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadFile([Mistake(path.name, "", f"is not TOML: {error}")]) from error
    except ValidationError as error:
        raise BadFile(
            Mistake(path.name, ".".join(map(str, item["loc"])), item["msg"])
            for item in error.errors(include_url=False)
        ) from error
