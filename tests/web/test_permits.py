"""Sign-offs: the order of the parts, forms of the test, ending, suspension and the school's rules."""

import csv
import dataclasses
import datetime as dt

import pytest
import sqlalchemy as sa

from app import db
from app.models import PermitType, SchoolRule, Section, SignOff, Student
from app.store import sign_offs
from tests.conftest import signed_in
from tests.pages import get, post

KEY = "/sections/period-3"
# The router is signed off by the step that teaches it, which the sample class has begun.
PERMIT = "P-SCROLL"


@pytest.fixture
def session(app):
    """A session that lets go of the database whenever a request comes in, and then reads afresh."""
    with db.session_factory(app.extensions["engine"])() as session:
        app.before_request_funcs.setdefault(None, []).insert(0, session.rollback)
        yield session


def record(client, part, status=303, **more):
    """Send the sign-off form for student S1-01 and a permit nobody has yet."""
    data = {"students": "S1-01", "permit": PERMIT, "part": part, "version": "form A", **more}
    return post(client, f"{KEY}/sign-offs", status, **data)


def state(session, on=dt.date(2027, 3, 1)):
    """The state of S1-01 for the permit."""
    section = session.scalar(sa.select(Section).where(Section.key == "period-3"))
    return sign_offs.sign_off_states(session, section, on=on)["S1-01"].get(PERMIT)


def test_lesson_test_and_check_out_in_this_order_sign_a_student_off(teacher, session):
    record(teacher, "check-out", 422)
    record(teacher, "test", 422, score="100")
    record(teacher, "lesson")
    assert not state(session).signed_off
    record(teacher, "check-out", 422)
    record(teacher, "test", score="100")
    record(teacher, "check-out")

    assert state(session).signed_off


def test_a_test_below_100_is_an_attempt_and_the_next_takes_the_other_form(teacher, session):
    record(teacher, "lesson")
    record(teacher, "test", score="96")
    assert "test" not in state(session).parts
    answer = record(teacher, "test", 422, score="100")
    assert "use form B for the next try" in answer.text

    record(teacher, "test", version="form B", score="100", **{"read-aloud": "1"})

    last = session.scalar(sa.select(SignOff).order_by(SignOff.id.desc()).limit(1))
    assert (last.part, last.test_version) == ("test", "form B, read aloud")


@pytest.mark.parametrize(
    "more",
    [
        {"score": ""}, {"score": "all"}, {"score": "101"}, {"score": "100", "version": "form C"},
        {"score": "100", "date": "2027-03-02"}, {"score": "100", "date": "yesterday"},
        {"score": "100", "students": "S9-99"}, {"score": "100", "permit": "P-NONE"},
    ],
)  # fmt: skip
def test_a_form_that_cannot_be_is_refused_and_nothing_is_recorded(teacher, session, more):
    record(teacher, "lesson")
    before = session.scalar(sa.select(sa.func.count()).select_from(SignOff))
    session.rollback()
    answer = record(teacher, "test", 422, **more)

    assert "Not recorded yet" in answer.text
    assert session.scalar(sa.select(sa.func.count()).select_from(SignOff)) == before


def test_one_wrong_student_keeps_the_whole_form_from_being_recorded(teacher, session):
    record(teacher, "lesson")
    before = session.scalar(sa.select(sa.func.count()).select_from(SignOff))
    session.rollback()
    record(teacher, "test", 422, students=["S1-01", "S1-02"], score="100")

    assert session.scalar(sa.select(sa.func.count()).select_from(SignOff)) == before


def signed(teacher):
    """Sign S1-01 off."""
    record(teacher, "lesson")
    record(teacher, "test", score="100")
    record(teacher, "check-out")


def test_a_suspension_needs_a_reason_and_ends_with_reinstatement(teacher, session):
    signed(teacher)
    record(teacher, "suspension", 422)
    record(teacher, "suspension", note="reached over the blade")
    assert state(session).why_not == "suspended"
    record(teacher, "reinstatement")

    assert state(session).signed_off


def test_a_sign_off_ends_after_the_permits_days_and_not_a_day_before(teacher, session):
    signed(teacher)
    days = session.scalar(sa.select(PermitType.renew_after_days).where(PermitType.key == PERMIT))
    last = dt.date(2027, 3, 1) + dt.timedelta(days=days)

    assert state(session, last - dt.timedelta(days=1)).signed_off
    assert not state(session, last).signed_off
    assert "renew" in state(session, last).why_not


def test_renewing_every_part_signs_off_again(app, teacher, session):
    signed(teacher)
    later = dt.date(2028, 3, 6)
    app.config["STRINGCOURSE"] = dataclasses.replace(app.config["STRINGCOURSE"], today=later)
    assert not state(session, later).signed_off
    signed(signed_in(app, "teacher"))

    assert state(session, later).signed_off


def test_the_station_page_lists_go_and_no_go_with_reasons_and_cautions(teacher, session):
    signed(teacher)
    page = get(teacher, f"{KEY}/sign-offs/stations/{PERMIT}")
    go, stop = page.split("No-go: not signed off")

    assert "<strong>S1-01</strong>" in go
    assert "<strong>S1-02</strong>" in stop
    assert "lesson and written test and observed check-out missing" in stop
    assert "It is" not in go
    assert "come first" in page
    get(teacher, f"{KEY}/sign-offs/stations/P-NONE", 404)


def test_the_schools_rule_keeps_a_younger_grade_from_the_test(app, teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-05"))
    assert student.grade == "9"
    head = signed_in(app, "head")
    post(head, "/sign-off-rules", **{f"grade-{PERMIT}": "10", f"rule-{PERMIT}": "parent letter in"})
    record(teacher, "lesson", students="S1-05")
    answer = record(teacher, "test", 422, students="S1-05", score="100")

    assert "the school’s rule: from grade 10" in answer.text
    page = get(teacher, f"{KEY}/sign-offs/stations/{PERMIT}")
    assert "parent letter in" in page
    assert "law" not in page


def test_the_schools_rules_are_changed_and_cleared_and_not_by_a_teacher(app, teacher, session):
    head = signed_in(app, "head")
    post(head, "/sign-off-rules", **{f"grade-{PERMIT}": "9", f"age-{PERMIT}": "16"})
    assert session.scalar(sa.select(SchoolRule.lowest_age)) == 16
    post(teacher, "/sign-off-rules", 404, **{f"grade-{PERMIT}": ""})
    answer = post(head, "/sign-off-rules", 422, **{f"grade-{PERMIT}": "-1"})
    assert "whole number from 0 to 13" in answer.text
    post(head, "/sign-off-rules", **{f"grade-{PERMIT}": ""})

    assert session.scalar(sa.select(SchoolRule)) is None
    assert "It states no law" in get(teacher, "/sign-off-rules")


def test_no_page_calls_a_sign_off_permitted_or_allowed(teacher):
    for address in (f"{KEY}/sign-offs", f"{KEY}/sign-offs/stations/P-DRILL", "/sign-off-rules"):
        page = get(teacher, address).lower()
        assert "permitted" not in page
        assert "allowed" not in page


def test_the_log_comes_out_as_csv_and_no_cell_is_a_formula(teacher, session):
    record(teacher, "lesson", note="=HYPERLINK(1)")
    rows = list(csv.reader(get(teacher, f"{KEY}/sign-offs.csv").splitlines()))

    assert rows[0][:4] == ["date", "student", "permit", "part"]
    assert rows[-1][-1] == "'=HYPERLINK(1)"
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)
