"""A process in which a teacher works without a pause until it is killed, and says what it did.

Each line it sends is one thing begun, or one thing the pages acknowledged.
"""

import datetime as dt
import random
from multiprocessing.connection import Connection
from pathlib import Path

import sqlalchemy as sa

from app import db
from app.jobs import class_set_making, sheets, worker
from app.models import Event, Job, Section
from app.settings import embedded_url
from app.web import limits
from tests.conftest import make_app, signed_in

KEY = "/sections/period-3"
SET = f"{KEY}/papers/worksheet/class-set?phase=neck-and-fretboard&per=student&minutes=10"
STUDENTS_AT_ONCE = 5
DAYS = [dt.date(2027, 3, day) for day in (4, 9, 16, 23)]


class Teacher:
    """Does one thing after the other over the pages of the sample school."""

    def __init__(self, path: Path, number: int, told: Connection) -> None:
        self.path, self.number, self.told = path, number, told
        self.random = random.Random(number)
        limits.limiter.enabled = False
        sheets.MOST_AT_ONCE = 5  # a class of a few counts as a large one
        worker.start = lambda *_: None
        self.app = make_app(path)
        self.app.config.update(TESTING=True, WTF_CSRF_ENABLED=False)
        self.client = signed_in(self.app, "teacher")
        engine = self.app.extensions["engine"].execution_options(reading=True)
        self.sessions = db.session_factory(engine)

    def work(self, kind: str) -> None:
        """Do things of a kind until the process is killed."""
        count = 0
        while True:
            name = f"K{self.number}-{count}"
            self.told.send(("begun", kind, name))
            getattr(self, kind)(name)
            self.told.send(("done", kind, name))
            count += 1

    def imports(self, name: str) -> None:
        """A class list of five."""
        rows = "code\n" + "".join(f"{name}-{n}\n" for n in range(STUDENTS_AT_ONCE))
        self._post(f"{KEY}/roster", rows=rows)

    def sign_offs(self, name: str) -> None:
        """A safety lesson for five students."""
        students = [f"S1-{n:02d}" for n in range(1, STUDENTS_AT_ONCE + 1)]
        self._post(
            f"{KEY}/sign-offs",
            students=students,
            permit="P-SCROLL",
            part="lesson",
            note=name,
        )

    def plans(self, _name: str) -> None:
        """A day is lost, with a new plan, or found again, with the old one."""
        with self.sessions() as session:
            query = sa.select(Event).where(Event.undone_at.is_(None), Event.kind == "closure")
            standing = session.scalars(query).first()
            number = standing.id if standing is not None else None
        if number is not None:
            self._post(f"{KEY}/plan/events/{number}/undo")
        else:
            day = self.random.choice(DAYS).isoformat()
            self._post(f"{KEY}/plan/events?kind=closure", first=day, label="Snow")

    def class_sets(self, name: str) -> None:
        """A class set is asked for and printed; one that a killed process left is printed again."""
        self._post(f"{SET}&seed={name}")
        with self.sessions() as session:
            query = sa.select(Job.id).where(
                Job.kind == class_set_making.KIND, Job.state.in_(("waiting", "running"))
            )
            number = session.scalars(query).one()
        worker.run(embedded_url(self.path), number)
        with self.sessions() as session:
            job = session.get_one(Job, number)
            assert job.state == "done", job.error

    def _post(self, address: str, **data: object) -> None:
        answer = self.client.post(address, data=data)
        assert answer.status_code == 303, f"{address}: {answer.status_code} {answer.text[-1500:]}"


def work(path: Path, kind: str, number: int, told: Connection) -> None:
    """The whole life of the process."""
    Teacher(path, number, told).work(kind)


def section_of(session: sa.orm.Session) -> Section:
    """The section the teacher works for."""
    return session.scalars(sa.select(Section).where(Section.key == "period-3")).one()
