"""Large class sets: made by the worker, watched, stopped, fetched, and replaced."""

import datetime as dt
import io
import re

import pikepdf
import pytest
import sqlalchemy as sa

from app.jobs import class_set_making as making
from app.jobs import sheets, worker
from app.models import ClassSetFile, Job, Section
from app.print import apart
from app.store import sections
from tests.conftest import signed_in
from tests.pages import get, post

SHEET = "/sections/period-3/papers/worksheet"
SET = f"{SHEET}/class-set"
PHASE = "phase=neck-and-fretboard"
SMALL = f"{PHASE}&per=student&minutes=10"


@pytest.fixture
def many(monkeypatch):
    """A class of a few counts as a large one."""
    monkeypatch.setattr(sheets, "MOST_AT_ONCE", 5)


def run_waiting(app, session):
    """Let the worker carry out the job that waits; the job as it is then."""
    newest = sa.select(sa.func.max(Job.id)).where(Job.kind == making.KIND)
    number = session.scalar(newest)
    session.rollback()  # an open session would keep the database from the worker
    worker.run(app.config["STRINGCOURSE"].database_url, number)
    job = session.get_one(Job, number, populate_existing=True)
    session.expunge(job)
    session.rollback()
    return job


def files_on(page):
    """Address and words of each file that a page offers."""
    return re.findall(r'href="(/sections/[^"]+/class-set-file/\d+\.pdf)">([^<]+)<', page)


def pages(content):
    with pikepdf.open(io.BytesIO(content)) as read:
        return len(read.pages)


def test_a_roster_of_400_comes_as_a_job_in_files_of_200_with_one_key(app, teacher, session):
    section = session.scalars(sa.select(Section).where(Section.key == "period-3")).one()
    more = 400 - len([student for student in section.students if student.left is None])
    sections.add_students(session, section, [f"X{n:03d}" for n in range(more)])
    session.commit()
    answer = teacher.get(f"{SHEET}/class-set.pdf?{SMALL}")
    assert answer.status_code == 302
    assert "the class set of 400" in get(teacher, answer.location)

    watched = post(teacher, answer.location).location
    assert "It begins in a moment." in get(teacher, watched)
    job = run_waiting(app, session)

    assert (job.state, job.error) == ("done", "")
    assert (job.progress["done"], job.progress["of"]) == (400, 400)
    there = teacher.get(watched)
    assert there.status_code == 303
    files = files_on(get(teacher, there.location))
    assert [words for _, words in files] == ["Sheets 1 to 200", "Sheets 201 to 400", "Answer key"]
    one, two, key = (teacher.get(address) for address, _ in files)
    assert one.mimetype == "application/pdf"
    assert pages(one.data) == pages(two.data) >= 200
    assert pages(one.data) % 200 == 0
    assert pages(key.data) > 1
    assert "Sheets 201 to 400" in get(teacher, "/sections/period-3/papers")


def test_the_job_prints_what_the_request_would_have_printed(app, teacher, session, monkeypatch):
    query = f"{PHASE}&per=student&seed=A17&version=pictured&paper=a4&minutes=15"
    asked = teacher.get(f"{SHEET}/class-set.pdf?{query}").data
    key = teacher.get(f"{SHEET}/class-set-key.pdf?{query}").data
    monkeypatch.setattr(sheets, "MOST_AT_ONCE", 5)
    post(teacher, f"{SET}?{query}")
    run_waiting(app, session)

    made = [teacher.get(address).data for address, _ in files_on(get(teacher, f"{SET}?{query}"))]

    assert made == [asked, key]


@pytest.mark.usefixtures("many")
def test_a_set_in_hand_is_shown_once_and_another_waits_its_turn(app, teacher, session):
    one = post(teacher, f"{SET}?{SMALL}").location
    assert post(teacher, f"{SET}?{SMALL}").location == one
    assert post(teacher, f"{SET}?{SMALL}&seed=2").location == one
    assert "still being made" in get(teacher, one)
    assert "is being made" in get(teacher, "/sections/period-3/papers")
    assert "see how far it is" in get(teacher, f"{SET}?{SMALL}&seed=2")
    run_waiting(app, session)
    assert not files_on(get(teacher, f"{SET}?{SMALL}&seed=2"))
    assert files_on(get(teacher, f"{SET}?{SMALL}"))


@pytest.mark.usefixtures("many")
def test_a_newer_set_takes_the_place_of_the_older_and_old_files_go(app, teacher, session):
    for seed in ("1", "2"):
        post(teacher, f"{SET}?{SMALL}&seed={seed}")
        run_waiting(app, session)
    rows = session.scalars(sa.select(ClassSetFile)).all()
    assert {row.query["seed"] for row in rows} == {"2"}
    ((address, _), *_) = files_on(get(teacher, f"{SET}?{SMALL}&seed=2"))
    for row in rows:
        row.made_at -= dt.timedelta(days=15)
    session.commit()
    get(teacher, address, status=404)
    assert "Make the class set" in get(teacher, f"{SET}?{SMALL}&seed=2")


@pytest.mark.usefixtures("many")
def test_a_stopped_set_keeps_nothing_and_can_be_made_again(app, teacher, session):
    waiting = post(teacher, f"{SET}?{SMALL}").location
    post(teacher, f"{waiting}/stop")
    assert "was stopped" in get(teacher, waiting)
    job = run_waiting(app, session)
    assert (job.state, job.error) == ("failed", making.STOPPED)
    assert session.scalar(sa.select(sa.func.count()).select_from(ClassSetFile)) == 0
    session.rollback()
    page = get(teacher, f"{SET}?{SMALL}")
    assert "was stopped" in page
    post(teacher, f"{SET}?{SMALL}")
    assert run_waiting(app, session).state == "done"


@pytest.mark.usefixtures("many")
def test_a_set_whose_worker_is_gone_can_be_given_up(teacher, session):
    watched = post(teacher, f"{SET}?{SMALL}").location
    job = session.scalars(sa.select(Job).where(Job.kind == making.KIND)).one()
    job.state = "running"
    session.commit()
    post(teacher, f"{watched}/stop")
    page = get(teacher, watched)
    assert "It stops after the file in hand" in page
    assert "Stop it at once" in page
    post(teacher, f"{watched}/stop")
    assert "was stopped" in get(teacher, watched)
    assert post(teacher, f"{SET}?{SMALL}").location != watched


@pytest.mark.usefixtures("many")
def test_only_the_teacher_has_a_set_made_and_who_may_see_the_section_may_fetch_it(
    app, teacher, session
):
    lead = signed_in(app, "workshop")
    assert lead.post(f"{SET}?{SMALL}").status_code == 404
    post(teacher, f"{SET}?{SMALL}")
    run_waiting(app, session)
    ((address, _), *_) = files_on(get(teacher, f"{SET}?{SMALL}"))
    assert lead.get(address).status_code == 200
    assert teacher.get(address.replace("period-3", "grade-5-box")).status_code == 404


def test_a_small_set_is_printed_at_once(teacher):
    page = get(teacher, f"{SET}?{PHASE}")
    assert "So few sheets print at once" in page
    assert "Make the class set" not in page
    answer = post(teacher, f"{SET}?{PHASE}")
    assert "/class-set.pdf?" in answer.location
    assert teacher.get(answer.location).mimetype == "application/pdf"


def test_a_print_apart_can_be_ended_and_says_what_is_wrong():
    documents = []
    with pytest.raises(apart.PrintError, match="choose at least one paper"):
        apart.compile_apart(documents)
    with pytest.raises(apart.Ended):
        apart.compile_apart(documents, should_stop=lambda: True)
