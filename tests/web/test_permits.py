"""Sign-offs: the order of the parts, forms of the test, ending, suspension and the school's rules."""

import csv
import dataclasses
import datetime as dt
import json

import pytest
import sqlalchemy as sa

from app import db
from app.domain.scheduling.by_hand import filled
from app.domain.scheduling.check import check
from app.jobs.planning import plan_section
from app.models import (
    Activity,
    Meeting,
    MeetingState,
    PermitType,
    Plan,
    SchoolRule,
    Section,
    SignOff,
    Step,
    Student,
)
from app.store.classroom import sign_offs
from app.store.plan import recorded_events
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
    answer = record(teacher, "reinstatement", 422, note="talked it over")
    assert "S1-01 was suspended on Monday 1 March 2027: observe a check-out again" in answer.text
    assert 'value="talked it over"' in answer.text
    record(teacher, "check-out")
    assert "Still suspended: S1-01" in get(teacher, f"{KEY}/sign-offs")
    assert state(session).why_not == "suspended"
    record(teacher, "reinstatement", 422, date="2027-02-28")
    record(teacher, "reinstatement")

    assert state(session).signed_off
    strike(teacher, entry(session, "check-out"))
    assert state(session).why_not == "observed check-out missing"


def test_who_was_never_suspended_is_not_reinstated(teacher, session):
    signed(teacher)
    answer = record(teacher, "reinstatement", 422)

    assert "S1-01 is not suspended; there is nothing to reinstate." in answer.text


def test_a_check_out_dated_before_lesson_and_test_is_refused_and_kept_in_the_form(teacher, session):
    record(teacher, "lesson", date="2027-02-25")
    answer = record(teacher, "test", 422, score="100", date="2027-02-24")
    assert "before the lesson of Thursday 25 February 2027" in answer.text
    record(teacher, "test", score="100", date="2027-02-26")
    answer = record(teacher, "check-out", 422, date="2027-01-05", note="router table")

    assert (
        "S1-01 cannot have the observed check-out on Tuesday 5 January 2027, before the lesson of "
        "Thursday 25 February 2027 and the written test of Friday 26 February 2027: correct the "
        "date" in answer.text
    )
    assert 'value="2027-01-05"' in answer.text
    assert 'value="router table"' in answer.text
    assert "check-out" not in state(session).parts
    record(teacher, "check-out", date="2027-02-26")
    assert state(session).signed_off


def test_a_check_out_already_on_record_before_its_test_does_not_count(teacher, session):
    signed(teacher)
    session.get(SignOff, entry(session, "check-out")).date = dt.date(2027, 1, 5)
    session.commit()

    assert state(session).why_not == "observed check-out missing"


def planned_next(session):
    """The first step of the next meeting that a sign-off of the whole team stands behind."""
    query = (
        sa.select(Activity)
        .join(Activity.plan)
        .join(Activity.meeting)
        .join(Activity.step)
        .join(Section, Section.id == Plan.section_id)
        .where(
            Section.key == "period-3",
            Plan.current,
            Meeting.state == MeetingState.PLANNED,
            Step.permit.is_not(None),
        )
        .order_by(Meeting.date, Activity.first_minute, Activity.id)
    )
    return next(row for row in session.scalars(query) if row.step.permit not in row.step.grants)


def suspend_team(teacher, team, permit):
    """Suspend everybody of a team; returns the page that answers."""
    answer = teacher.post(
        f"{KEY}/sign-offs",
        data={
            "students": [student.code for student in team.students],
            "permit": permit,
            "part": "suspension",
            "note": "gloves at the machine",
        },
        follow_redirects=True,
    )
    assert answer.status_code == 200
    return answer.text


def test_the_plan_waits_for_the_re_check_of_a_team_that_is_suspended(teacher, session):
    row = planned_next(session)
    team, step, day = row.team, row.step, row.meeting.date
    section = session.scalar(sa.select(Section).where(Section.key == "period-3"))
    assert "Re-checks the plan counts on" not in get(teacher, f"{KEY}/plan")

    assert "Plan again" in suspend_team(teacher, team, step.permit)

    page = get(teacher, f"{KEY}/plan")
    assert "too soon for a re-check: plan again" in page
    session.expire_all()
    standing = recorded_events.standing_of(session, section)
    broken = check(standing.problem, filled(standing.problem, standing.schedule))
    assert any(
        f"{team.code} {step.key} may not begin before" in item.sentence
        and f"nobody in {team.code} is signed off" in item.sentence
        for item in broken
    )

    plan = plan_section(
        session, section, by="T", now=dt.datetime(2027, 3, 1, tzinfo=dt.UTC), work=0.2
    )
    session.commit()
    days = [
        item.meeting.date
        for item in plan.activities
        if (item.team_id, item.step.permit) == (team.id, step.permit)
        and item.meeting.state is MeetingState.PLANNED
    ]
    assert days
    assert min(days) > day
    assert not any("signed off" in sentence for sentence in plan.broken_rules)
    page = get(teacher, f"{KEY}/plan")
    assert f"{team.code} by {min(days):%A} {min(days).day}" in page
    assert "too soon for a re-check" not in page


def test_one_member_signed_off_keeps_the_team_at_the_station(teacher, session):
    row = planned_next(session)
    one, *_others = row.team.students
    data = {"students": one.code, "permit": row.step.permit, "part": "suspension", "note": "late"}
    post(teacher, f"{KEY}/sign-offs", **data)
    assert "Re-checks the plan counts on" not in get(teacher, f"{KEY}/plan")


def test_a_sign_off_that_ends_within_the_term_is_a_re_check_with_its_day(teacher, session):
    permit = planned_next(session).step.permit
    session.scalar(sa.select(PermitType).where(PermitType.key == permit)).renew_after_days = 60
    session.commit()
    page = get(teacher, f"{KEY}/plan")
    assert "Re-checks the plan counts on" in page
    assert "(ends on " in page


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
    assert rows[-1][rows[0].index("note")] == "'=HYPERLINK(1)"
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)


def test_who_observed_is_named_as_typed_and_is_the_account_by_default(teacher, session):
    name = teacher_name(session)
    session.rollback()
    assert f'name="person" maxlength="80" autocomplete="off" value="{name}"' in get(
        teacher, f"{KEY}/sign-offs"
    )
    record(teacher, "lesson")
    record(teacher, "test", score="100", person=" Mr. O’Dell, room 12 ")
    assert session.get(SignOff, entry(session, "lesson")).person == name
    assert session.get(SignOff, entry(session, "test")).person == "Mr. O’Dell, room 12"
    session.rollback()
    assert "Mr. O’Dell, room 12" in get(teacher, f"{KEY}/sign-offs")

    long = "x" * 81
    answer = record(teacher, "check-out", 422, person=long)
    assert "at most 80 characters; these are 81" in answer.text
    assert f'value="{long}"' in answer.text
    assert "Enter who observed it." in record(teacher, "check-out", 422, person=" ").text
    record(teacher, "check-out", person="y" * 80)
    assert session.get(SignOff, entry(session, "check-out")).person == "y" * 80


@pytest.mark.parametrize(
    ("who", "marks"), [("teacher", 200), ("head", 200), ("admin", 200), ("workshop", 404)]
)
def test_a_workshop_lead_sees_sign_offs_and_no_marks_and_no_link_leads_nowhere(app, who, marks):
    client = signed_in(app, who)
    page = get(client, f"{KEY}/sign-offs")
    assert f'href="{KEY}/sign-offs.csv"' in page
    assert get(client, f"{KEY}/sign-offs.csv").startswith("date,student,permit")
    get(client, f"{KEY}/marks", marks)
    get(client, f"{KEY}/evidence.csv", marks)
    for name in ("sign-offs", "progress", "today", "measurements", "roster"):
        assert (f'href="{KEY}/marks"' in get(client, f"{KEY}/{name}")) == (marks == 200)


# --- wrong entries ------------------------------------------------------------------------------


def entry(session, part):
    """The number of the newest entry of a part for S1-01 and the permit."""
    query = (
        sa.select(sa.func.max(SignOff.id))
        .join(Student)
        .where(Student.code == "S1-01", SignOff.permit == PERMIT, SignOff.part == part)
    )
    found = session.scalar(query)
    session.rollback()
    return found


def strike(client, number, status=303, reason="wrong student"):
    """Strike out an entry."""
    return post(client, f"{KEY}/sign-offs/entries/{number}", status, reason=reason)


def test_an_entry_struck_out_stays_in_the_log_and_its_exports_and_counts_no_more(teacher, session):
    signed(teacher)
    assert "Strike out" in get(teacher, f"{KEY}/sign-offs")
    number = entry(session, "check-out")
    assert "wrong?" in get(teacher, f"{KEY}/sign-offs/entries/{number}")
    strike(teacher, number, reason="=wrong  student")

    assert state(session).why_not == "observed check-out missing"
    struck = f"{teacher_name(session)}, 2027-03-01: =wrong student"
    assert session.get(SignOff, number).struck_out == struck
    page = get(teacher, f"{KEY}/sign-offs")
    assert "S1-01 is not signed off for" in page
    assert f"<strong>Struck out</strong> by {struck}" in page
    go, stop = get(teacher, f"{KEY}/sign-offs/stations/{PERMIT}").split("No-go: not signed off")
    assert "<strong>S1-01</strong>" not in go
    assert "<strong>S1-01</strong>" in stop
    rows = csv.DictReader(get(teacher, f"{KEY}/sign-offs.csv").splitlines())
    assert [row["part"] for row in rows if row["struck out"] == struck] == ["check-out"]
    student = session.scalar(sa.select(Student).where(Student.code == "S1-01"))
    facts = json.loads(get(teacher, f"{KEY}/roster/students/{student.id}.json"))
    assert [row["part"] for row in facts["sign_offs"] if row["struck_out"]] == ["check-out"]


def teacher_name(session):
    """Who teaches the sample section."""
    return session.scalar(sa.select(Section).where(Section.key == "period-3")).teacher.name


def test_a_suspension_or_a_failed_try_recorded_by_mistake_is_struck_out(teacher, session):
    record(teacher, "lesson")
    record(teacher, "test", score="96")
    strike(teacher, entry(session, "attempt"))
    record(teacher, "test", score="100")  # form A once more: the struck try counts no more
    record(teacher, "check-out")
    record(teacher, "suspension", note="took the wrong row")
    assert not state(session).signed_off

    strike(teacher, entry(session, "suspension"))

    assert state(session).signed_off
    assert "is signed off for" in get(teacher, f"{KEY}/sign-offs")


def test_an_earlier_part_struck_out_is_asked_for_before_the_next(teacher, session):
    record(teacher, "lesson")
    strike(teacher, entry(session, "lesson"))

    assert "has not had the lesson yet" in record(teacher, "test", 422, score="100").text


def test_striking_out_needs_a_reason_keeps_it_and_is_done_once(teacher, session):
    record(teacher, "lesson")
    number = entry(session, "lesson")
    assert "Say why" in strike(teacher, number, 422, reason="  ").text
    long = "x" * 301
    page = strike(teacher, number, 422, reason=long).text
    assert "at most 300 characters; these are 301" in page
    assert f'value="{long}"' in page
    assert state(session).parts

    strike(teacher, number, reason="first")
    page = strike(teacher, number, 422, reason="second").text

    assert "It is struck out already" in page
    assert 'value="second"' in page
    assert session.get(SignOff, number).struck_out.endswith("2027-03-01: first")


def test_only_who_may_record_strikes_out_and_only_entries_of_the_section(app, teacher, session):
    record(teacher, "lesson")
    number = entry(session, "lesson")
    for who in ("head", "workshop"):
        other = signed_in(app, who)
        get(other, f"{KEY}/sign-offs/entries/{number}", 404)
        strike(other, number, 404)
        assert "Strike out" not in get(other, f"{KEY}/sign-offs")
    post(teacher, f"/sections/block-4/sign-offs/entries/{number}", 404, reason="not mine")
    get(teacher, f"{KEY}/sign-offs/entries/99999", 404)

    assert session.get(SignOff, number).struck_out == ""


def test_today_and_the_plan_follow_check_outs_struck_out_of_a_whole_team(teacher, session):
    row = planned_next(session)
    team, permit, number = row.team, row.step.permit, row.meeting.number
    codes = [student.code for student in team.students]
    query = sa.select(SignOff.id).join(Student).where(Student.code.in_(codes))
    held = list(session.scalars(query.where(SignOff.permit == permit, SignOff.part == "check-out")))
    session.rollback()
    refused = f"Nobody present in {team.code} is signed off for"
    assert refused not in get(teacher, f"{KEY}/meetings/{number}")
    for item in held:
        strike(teacher, item)

    assert refused in get(teacher, f"{KEY}/meetings/{number}")
    page = get(teacher, f"{KEY}/plan")
    assert "(a part of it counts no more)" in page
    assert "too soon for a re-check: plan again" in page
