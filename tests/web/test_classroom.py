"""The class day through its pages: recording, refusing, undoing, and what follows from it."""

import dataclasses
import datetime as dt
import html
import io
import json
import re
import zipfile

import pytest
import sqlalchemy as sa

from app import db
from app.models import (
    Absence,
    Activity,
    Framework,
    Mark,
    Measurement,
    Meeting,
    MeetingState,
    Plan,
    Progress,
    RoomAir,
    Section,
    SignOff,
    Step,
    Student,
    StudentName,
    Team,
)
from app.store import sections
from app.store.classroom import bench_work, evidence, readings
from tests.conftest import signed_in
from tests.pages import get, post

KEY = "/sections/period-3"


@pytest.fixture
def session(app):
    """A session that lets go of the database whenever a request comes in, and then reads afresh."""
    with db.session_factory(app.extensions["engine"])() as session:
        app.before_request_funcs.setdefault(None, []).insert(0, session.rollback)
        yield session


TODAY = dt.date(2027, 3, 1)


def ours(session):
    """The sample section."""
    return session.scalar(sa.select(Section).where(Section.key == "period-3"))


def meeting_of(session, date=TODAY):
    """The sample section's meeting on a day."""
    mine = sa.select(Meeting).where(Meeting.section_id == ours(session).id, Meeting.date == date)
    return session.scalar(mine)


def number_of_today(session):
    """The number of the sample section's meeting on the sample day."""
    return meeting_of(session).number


def newest_mark(session):
    """The newest mark of a sample student on an exit question."""
    mine = sa.select(Mark).join(Student).where(Student.section_id == ours(session).id)
    return session.scalar(mine.order_by(Mark.id.desc()).limit(1))


def planned(session, *, hold=False, permit=None):
    """An open activity of today: (team, step), with or without a hold point or a permit."""
    query = (
        sa.select(Activity)
        .join(Plan, Activity.plan_id == Plan.id)
        .join(Meeting)
        .where(Plan.current, Meeting.id == meeting_of(session).id)
        .order_by(Activity.id)
    )
    for row in session.scalars(query):
        fits = row.step.hold_point == hold and (permit is None or row.step.permit == permit)
        if fits:
            return row.team, row.step
    raise AssertionError("the sample plan has no such work today")


def step_address(session, team, step):
    return f"{KEY}/meetings/{number_of_today(session)}/steps/{team.id}/{step.id}"


def meeting_address(session):
    return f"{KEY}/meetings/{number_of_today(session)}"


def records(session, team, step):
    session.expire_all()
    query = sa.select(Progress).where(Progress.team_id == team.id, Progress.step_id == step.id)
    return list(session.scalars(query.order_by(Progress.id)))


# --- the page of the day -----------------------------------------------------------------------


def test_today_says_who_is_where_with_the_paper_the_cautions_and_who_was_away(teacher, session):
    page = get(teacher, f"{KEY}/today")
    team, step = planned(session)

    assert "Today, Monday 1 March 2027: who is where?" in page
    assert f"{step.key} {step.title}" in page
    assert team.students[0].code in page
    assert "Away last time:" in page
    assert 'class="caution"' in page
    assert "come first" in page


@pytest.mark.parametrize(
    ("page", "words"),
    [
        ("today", "Today"),
        ("progress", "Progress"),
        ("measurements", "Readings"),
        ("marks", "Marks"),
        ("sign-offs", "Sign-offs"),
        ("roster", "Class list"),
    ],
)
def test_the_section_menu_leads_to_every_class_page_and_marks_where_one_is(teacher, page, words):
    menu = get(teacher, f"{KEY}/{page}").split('<nav class="section"')[1].split("</nav>")[0]
    assert f'<a href="{KEY}/{page}" aria-current="page">{words}</a>' in menu
    assert menu.count("aria-current") == 1
    assert all(f"{KEY}/{name}" in menu for name in ("measurements", "marks", "roster"))


def test_a_lesson_day_links_the_paper_that_goes_with_the_lesson(teacher, session):
    from app.models import Lesson

    lesson = session.scalar(
        sa.select(Lesson)
        .join(Plan)
        .join(Meeting)
        .where(
            Plan.current,
            Plan.section_id == ours(session).id,
            Lesson.treatment_id.is_not(None),
            Meeting.state == MeetingState.PLANNED,
        )
        .limit(1)
    )
    page = get(teacher, f"{KEY}/meetings/{lesson.meeting.number}")

    address = re.search(rf"{KEY}/papers/worksheet\?concept=[a-z-]+", page)
    assert address
    get(teacher, address[0])


def count_queries(app, client, address):
    """How many statements a page sends to the database."""
    found = []

    def note(*_args):
        found.append(1)

    engine = app.extensions["engine"]
    sa.event.listen(engine, "before_cursor_execute", note)
    try:
        get(client, address)
    finally:
        sa.event.remove(engine, "before_cursor_execute", note)
    return len(found)


def grow(session, count):
    """More teams of two at work today, each with absences, records and sign-offs."""
    section = ours(session)
    plan = session.scalar(sa.select(Plan).where(Plan.section_id == section.id, Plan.current))
    meeting = meeting_of(session)
    _, step = planned(session)
    sections.add_students(session, section, [f"X{n:03d}" for n in range(count)])
    for number, team in enumerate(sections.make_teams(session, section, 2)):
        session.add(
            Activity(
                plan_id=plan.id, team_id=team.id, step_id=step.id, meeting_id=meeting.id,
                first_minute=5, minutes=10, part=1, parts=1,
            )
        )  # fmt: skip
        if number % 2:
            session.add(Absence(meeting_id=meeting.id, student_id=team.students[0].id))
    session.commit()


@pytest.mark.parametrize("page", ["today", "progress", "sign-offs", "measurements", "marks"])
def test_a_page_asks_the_database_as_often_for_120_students_as_for_22(app, teacher, session, page):
    get(teacher, f"{KEY}/{page}")
    before = count_queries(app, teacher, f"{KEY}/{page}")
    grow(session, 98)

    assert count_queries(app, teacher, f"{KEY}/{page}") == before


def test_recording_a_step_asks_the_database_as_often_for_120_students(app, teacher, session):
    team, step = planned(session)
    address = step_address(session, team, step)
    found = []
    engine = app.extensions["engine"]

    def count(event):
        found.clear()
        sa.event.listen(engine, "before_cursor_execute", note)
        try:
            post(teacher, address, event=event, note=f"note {len(event)}")
        finally:
            sa.event.remove(engine, "before_cursor_execute", note)
        return len(found)

    def note(*_args):
        found.append(1)

    before = count("helped")
    grow(session, 98)

    assert count("spoiled") == before


# --- recording work ----------------------------------------------------------------------------


def test_a_step_done_is_on_record_and_can_be_taken_back(teacher, session):
    team, step = planned(session)
    post(teacher, step_address(session, team, step), event="done")
    (row,) = records(session, team, step)
    assert (row.event, row.recorded_by) == ("done", "A. Rowan")

    post(teacher, f"{KEY}/records/{row.id}/undo", meeting=number_of_today(session))

    assert records(session, team, step) == []


def test_done_twice_is_recorded_once_and_a_double_tap_spoils_one_part(teacher, session):
    team, step = planned(session)
    for event in ("spoiled", "spoiled", "done", "done"):
        post(teacher, step_address(session, team, step), event=event)

    assert sorted(row.event for row in records(session, team, step)) == ["done", "spoiled"]


def test_a_hold_point_wants_initials_and_keeps_what_was_entered(teacher, session):
    team, step = planned(session, hold=True)
    answer = post(
        teacher, step_address(session, team, step), 422, event="done", reading="0.04", note="rock"
    )

    assert "enter the initials of who checked" in answer.text
    assert 'value="0.04"' in answer.text
    assert ">rock</textarea>" in answer.text
    assert records(session, team, step) == []
    assert session.scalar(sa.select(Measurement).where(Measurement.team_id == team.id,
                                                       Measurement.step_id == step.id)) is None  # fmt: skip


def test_a_reading_out_of_limits_is_kept_says_what_to_do_and_holds_the_step_open(teacher, session):
    team, step = planned(session, hold=True)
    address = step_address(session, team, step)
    answer = post(teacher, address, 422, event="done", reading="0.08", initials="AR")

    assert (
        f"the reading 0.08 is kept and is out of its limits: {step.check['if_out']}" in answer.text
    )
    assert 'value="AR"' in answer.text
    assert 'value="0.08"' not in answer.text
    assert records(session, team, step) == []
    assert readings.last_reading(session, team, step).within is False

    post(teacher, address, 422, event="done", initials="AR")
    post(teacher, address, event="done", reading="0.03", initials="AR")
    assert [(row.event, row.note) for row in records(session, team, step)] == [("done", "")]


def test_work_goes_on_past_a_hold_point_only_by_a_tick_that_is_noted(teacher, session):
    team, step = planned(session, hold=True)
    address = step_address(session, team, step)
    answer = post(teacher, address, 422, event="done", initials="AR")
    assert f"enter the reading ({step.check['what']})" in answer.text
    assert "Go on all the same" in answer.text

    post(teacher, address, event="done", initials="AR", **{"go-on": "1"})
    (row,) = records(session, team, step)
    assert row.note == "Went on without a reading."


def test_what_a_second_adult_enters_is_kept_beside_the_first(teacher, session):
    team, step = planned(session, hold=True)
    address = step_address(session, team, step)
    post(teacher, address, event="done", reading="0.01", initials="AA", note="first")
    second = {"event": "done", "reading": "0.04", "initials": "BB", "note": "second"}
    for _ in range(2):
        post(teacher, address, **second)

    assert [(r.event, r.initials, r.note) for r in records(session, team, step)] == [
        ("done", "AA", "first"),
        ("checked", "BB", "second"),
    ]
    assert "was done already; what you entered is kept beside it" in get(
        teacher, meeting_address(session)
    )


def test_a_spoiled_part_and_help_can_be_one_students(teacher, session):
    team, step = planned(session)
    student = team.students[0]
    address = step_address(session, team, step)
    post(teacher, address, event="spoiled", student=str(student.id), note="tear-out")
    post(teacher, address, event="helped", student="99999")

    assert [(r.event, r.student_id) for r in records(session, team, step)] == [
        ("spoiled", student.id),
        ("helped", None),
    ]
    assert f"spare used: {student.code}" in get(teacher, meeting_address(session))


def test_a_reading_taken_back_leaves_the_instrument_as_it_was(teacher, session):
    team, step = planned(session, hold=True)
    key = step.check["quantity"]
    address = step_address(session, team, step)
    for reading in ("0.01", "0.02"):
        post(teacher, address, event="helped", reading=reading)

    def measured():
        session.expire_all()
        return next(row.measured for row in team.instrument.quantities if row.key == key)

    assert measured() == "0.02 mm"
    for left in ("0.01 mm", None):
        row = readings.last_reading(session, team, step)
        post(teacher, f"{KEY}/readings/{row.id}/take-back")
        assert measured() == left
    assert readings.last_reading(session, team, step) is None
    post(teacher, f"{KEY}/readings/99999/take-back", 404)


def test_another_reading_at_the_step_does_not_open_its_hold_point(teacher, session):
    team, step = planned(session, hold=True)
    address = step_address(session, team, step)
    post(teacher, address, 422, event="done", reading="0.08", initials="AR")
    by = evidence.By("A. Rowan", dt.datetime(2027, 3, 1, 11, tzinfo=dt.UTC))
    given = {"team": team, "step": step, "meeting": meeting_of(session), "by": by}
    for _ in range(2):
        readings.record_fret_positions(session, positions={12: 324.0}, **given)
    session.commit()

    assert readings.last_reading(session, team, step).written == "0.08"
    frets = sa.select(sa.func.count()).where(Measurement.quantity == "measured_fret_12")
    mine = frets.where(Measurement.team_id == team.id, Measurement.step_id == step.id)
    assert session.scalar(mine) == 1
    post(teacher, address, 422, event="done", initials="AR")
    assert records(session, team, step) == []


def test_a_reading_put_right_is_no_longer_listed_as_out(teacher, session):
    team, step = planned(session, hold=True)
    address = step_address(session, team, step)
    post(teacher, address, 422, event="done", reading="0.08", initials="AR")
    here = f'<th scope="row">{team.code}</th><td>{step.key}, Mon 1 Mar</td>'
    assert here in get(teacher, f"{KEY}/progress")
    post(teacher, address, event="done", reading="0.03", initials="AR")
    assert here not in get(teacher, f"{KEY}/progress")


def test_a_lost_day_says_so_refuses_records_and_is_opened_again_from_its_page(teacher, session):
    team, step = planned(session)
    past = meeting_of(session, dt.date(2027, 2, 25))
    post(teacher, f"{KEY}/meetings/{past.number}", state="lost", note="flooded")
    page = get(teacher, f"{KEY}/meetings/{past.number}")
    assert "no class on Thursday 25 February 2027" in page

    answer = post(
        teacher, f"{KEY}/meetings/{past.number}/steps/{team.id}/{step.id}", 409, event="done"
    )
    assert "There is no class on Thursday 25 February 2027" in answer.text
    assert records(session, team, step) == []
    assert "Open Thursday again" in get(teacher, f"{KEY}/days/2027-02-25")
    post(teacher, f"{KEY}/days/2027-02-25/open-again")
    session.expire_all()
    assert (past.state, past.note) == (MeetingState.PLANNED, "flooded")


def test_a_refused_grid_keeps_what_it_showed_so_that_nobody_elses_mark_is_erased(teacher, session):
    mark = newest_mark(session)
    name = f"m-{mark.student_id}-{mark.treatment_id}"
    wrong = {"artifact": mark.artifact, "out-of": "10", f"shown-{name}": "", name: "", "m-x": "?"}
    page = post(teacher, f"{KEY}/marks?all=1", 422, **(wrong | {"out-of": "x"})).text
    shown = re.search(rf'name="shown-{name}" value="([^"]*)"', page)
    assert shown is not None
    assert shown[1] == ""


def test_a_step_is_not_recorded_into_a_meeting_to_come_unasked(teacher, session):
    section = ours(session)
    coming = next(m for m in section.meetings if m.date > TODAY and m.state is MeetingState.PLANNED)
    team, step = planned(session)
    address = f"{KEY}/meetings/{coming.number}/steps/{team.id}/{step.id}"
    assert "has not come yet" in post(teacher, address, 422, event="done").text
    assert records(session, team, step) == []
    post(teacher, address, event="done", early="1")
    assert [row.event for row in records(session, team, step)] == ["done"]


@pytest.mark.parametrize(
    ("reading", "question"),
    [
        ("0.8", "far outside"),
        ("12 mm", "far outside"),
        ("0.3", "was 0.03 mm meant"),
        ('1/2"', "asked in mm"),
    ],
)
def test_a_doubtful_reading_is_asked_about_and_kept_once_confirmed(
    teacher, session, reading, question
):
    team, step = planned(session, hold=True)
    address = step_address(session, team, step)
    answer = post(teacher, address, 422, event="done", reading=reading, initials="AR")
    assert question in answer.text
    assert "keep it" in answer.text

    both = {"confirmed": "1", "go-on": "1"}
    post(teacher, address, event="done", reading=reading, initials="AR", **both)
    session.expire_all()
    row = readings.last_reading(session, team, step)

    assert row.written == reading
    assert row.note == "Checked and kept."


@pytest.mark.parametrize("reading", ["abc", "4 kg", "1e999", "5 Hz", "=1+1", "x" * 500])
def test_a_reading_of_another_kind_is_refused_in_words(teacher, session, reading):
    team, step = planned(session, hold=True)
    answer = post(
        teacher, step_address(session, team, step), 422, event="done", reading=reading, initials="A"
    )

    assert "reading" in answer.text
    assert records(session, team, step) == []


def test_a_reading_becomes_the_teams_own_instrument(session, app):
    section = ours(session)
    step = next(
        s for s in sections.load_steps(session, section.build_id)
        if (s.check or {}).get("quantity") == "body_thickness"
    )  # fmt: skip
    team = section.teams[0]
    with app.test_request_context():
        readings.record_measurement(
            session, team=team, step=step, meeting=section.meetings[0], written="44,6",
            by=evidence.By("A. Rowan", dt.datetime.now(dt.UTC)),
        )  # fmt: skip
    own = {row.key: row.measured for row in team.instrument.quantities}

    assert own["body_thickness"] == "44.6 mm"


def test_a_team_without_a_sign_off_is_refused_unless_an_adult_did_the_work(teacher, session):
    team, step = planned(session, permit="P-DRILL")
    for student in team.students:
        session.add(
            SignOff(student=student, permit="P-DRILL", part="suspension", date=dt.date(2027, 2, 26),
                    person="A. Rowan", note="gloves at the spindle")
        )  # fmt: skip
    session.commit()
    page = get(teacher, f"{KEY}/today")
    assert f"Nobody present in {team.code} is signed off for Drill press." in page

    address = step_address(session, team, step)
    answer = post(teacher, address, 422, event="done")
    assert "Done by an adult" in answer.text
    assert records(session, team, step) == []

    post(teacher, address, **{"event": "done", "by-adult": "1"})
    rows = records(session, team, step)
    assert sorted(row.event for row in rows) == ["done", "helped"]
    assert "nobody present was signed off" in next(r.note for r in rows if r.event == "helped")


def test_work_does_not_go_on_past_a_hold_point_that_nobody_initialled(teacher, session):
    section = ours(session)
    steps = {step.key: step for step in sections.load_steps(session, section.build_id)}
    held = bench_work.progress_of(session, section)
    team, step = next(
        (team, step)
        for step in steps.values()
        for team in section.teams
        if any(
            steps[key].hold_point and not held.get((team.id, steps[key].id)) for key in step.after
        )
        and not held.get((team.id, step.id))
    )
    answer = post(teacher, step_address(session, team, step), 422, event="done", initials="AR")

    assert "ends at a hold point that is not initialled yet" in answer.text
    assert records(session, team, step) == []


def test_the_one_signed_off_being_away_is_a_no_go(teacher, session):
    team, step = planned(session, permit="P-DRILL")
    first, *others = team.students
    for student in others:
        session.add(
            SignOff(student=student, permit="P-DRILL", part="suspension", date=dt.date(2027, 2, 26),
                    person="A. Rowan", note="in the log")
        )  # fmt: skip
    session.commit()
    post(teacher, f"{meeting_address(session)}/away", away=first.code)

    post(teacher, step_address(session, team, step), 422, event="done")


@pytest.mark.parametrize(
    "data", [{"event": "finished"}, {"event": "done", "initials": "A" * 900}, {"event": ""}]
)
def test_nonsense_in_the_step_form_never_breaks_the_page(teacher, session, data):
    team, step = planned(session)
    answer = teacher.post(step_address(session, team, step), data=data)

    assert answer.status_code in (303, 422)
    assert all(len(row.initials) <= 8 for row in records(session, team, step))


def test_a_step_of_another_build_or_team_does_not_exist_here(teacher, session):
    team, _ = planned(session)
    other = session.scalar(
        sa.select(Step.id).where(Step.id.not_in([s.id for s in sections.load_steps(
            session, team.section.build_id)])).limit(1)
    )  # fmt: skip
    number = number_of_today(session)

    post(teacher, f"{KEY}/meetings/{number}/steps/{team.id}/{other}", 404, event="done")
    post(teacher, f"{KEY}/meetings/{number}/steps/99999/{other}", 404, event="done")


def test_a_head_reads_the_day_and_records_nothing(app, session):
    head = signed_in(app, "head")
    page = get(head, f"{KEY}/today")
    team, step = planned(session)

    assert "Record as taught" not in page
    post(head, step_address(session, team, step), 404, event="done")


# --- attendance, taught, lost ------------------------------------------------------------------


def test_two_adults_marking_absences_at_once_keep_both(app, teacher, session):
    other = signed_in(app, "admin")
    address = f"{meeting_address(session)}/away"
    # Both opened the page while nobody was marked.
    post(teacher, address, away="S1-01")
    post(other, address, away="S1-02")
    meeting = meeting_of(session)
    assert evidence.absent_codes(session, meeting) == {"S1-01", "S1-02"}

    post(teacher, address, **{"shown-away": ["S1-01", "S1-02"], "away": "S1-02"})
    session.expire_all()
    assert evidence.absent_codes(session, meeting) == {"S1-02"}


def test_an_unknown_code_is_not_marked_away(teacher, session):
    answer = post(teacher, f"{meeting_address(session)}/away", 422, away="S9-99")

    assert "is no code of this section" in answer.text


def test_a_meeting_is_recorded_as_taught_and_opened_again(teacher, session):
    address = meeting_address(session)
    post(teacher, address, state="taught", note="drill press 2 squeals")
    meeting = meeting_of(session)
    session.refresh(meeting)
    assert (meeting.state, meeting.note) == (MeetingState.TAUGHT, "drill press 2 squeals")

    post(teacher, address, **{"state": "planned", "note": meeting.note, "shown-note": meeting.note})
    session.refresh(meeting)
    assert meeting.state is MeetingState.PLANNED


def test_a_day_lost_by_mistake_is_opened_again(teacher, session):
    post(teacher, meeting_address(session), state="lost", note="alarm")
    page = get(teacher, f"{KEY}/today")
    assert "no class on Monday 1 March 2027" in page

    post(teacher, f"{KEY}/days/2027-03-01/open-again")

    assert "who is where?" in get(teacher, f"{KEY}/today")


def test_a_meeting_that_has_not_come_is_recorded_only_if_confirmed(teacher, session):
    later = meeting_of(session, dt.date(2027, 3, 5)).number
    answer = post(teacher, f"{KEY}/meetings/{later}", 422, state="taught", note="early")
    assert "has not come yet on this machine" in answer.text
    assert 'value="early"' in answer.text

    post(teacher, f"{KEY}/meetings/{later}", state="taught", early="1")


def test_a_clock_set_back_is_noticed(app, session):
    settings = app.config["STRINGCOURSE"]
    app.config["STRINGCOURSE"] = dataclasses.replace(settings, today=dt.date(2027, 1, 20))
    page = get(signed_in(app, "teacher"), f"{KEY}/today")

    assert "Check the machine’s clock" in page


def test_an_unknown_state_is_refused(teacher, session):
    answer = post(teacher, meeting_address(session), 422, state="postponed")

    assert "Choose whether the meeting was taught or lost." in answer.text


# --- air and labels ----------------------------------------------------------------------------


def test_cool_damp_air_is_a_no_go_for_a_coat_until_the_label_says_otherwise(teacher, session):
    number = number_of_today(session)
    page = get(teacher, f"{KEY}/today")
    assert "Coats due" in page
    post(teacher, f"{KEY}/meetings/{number}/air", temperature="17", humidity="70")
    page = get(teacher, f"{KEY}/today")
    assert "No-go.</strong> Leave the coat: 17 °C is below 18 °C" in page
    assert "common practice, no source" in page

    station = re.search(rf"{KEY}/meetings/{number}/labels/([\w-]+)", page)[1]
    post(
        teacher, f"{KEY}/meetings/{number}/labels/{station}",
        product="Water-based lacquer", lowest="15", highest="30", damp="75", hours="2",
    )  # fmt: skip
    page = get(teacher, f"{KEY}/today")
    assert "17 °C and 70 % humidity suit a coat." in page
    assert "as the label of Water-based lacquer says" in page


@pytest.mark.parametrize(
    ("temperature", "humidity", "sentence"),
    [("70", "45", "write an F"), ("", "45", "enter a number"), ("21", "145", "from 1 to 100")],
)
def test_air_that_cannot_be_is_refused_and_kept_in_the_form(
    teacher, session, temperature, humidity, sentence
):
    number = number_of_today(session)
    answer = post(
        teacher, f"{KEY}/meetings/{number}/air", 422, temperature=temperature, humidity=humidity
    )

    assert sentence in answer.text
    assert f'value="{humidity}"' in answer.text
    assert session.scalar(sa.select(RoomAir)) is None


def test_degrees_fahrenheit_are_read_with_an_f(teacher, session):
    post(
        teacher, f"{KEY}/meetings/{number_of_today(session)}/air", temperature="70 F", humidity="45"
    )

    assert session.scalar(sa.select(RoomAir.temperature_c)) == pytest.approx(21.1)


# --- progress and catch-up ---------------------------------------------------------------------


def test_progress_has_a_spread_with_a_table_and_opens_each_record(teacher, session):
    page = get(teacher, f"{KEY}/progress")
    assert 'role="img"' in page
    assert "The same as a table" in page
    team = session.scalar(sa.select(Team).where(Team.section_id == ours(session).id).limit(1))
    _, step = planned(session)

    get(teacher, f"{KEY}/progress/{team.id}/{step.id}")


def test_a_team_behind_is_behind_by_the_minutes_of_what_it_left_open(teacher, session):
    from app.store.classroom import class_day
    from app.store.plan import plans

    section = ours(session)
    plan = plans.current_plan(session, section)
    before, _ = class_day.spread_minutes(session, section, plan)
    row = session.scalar(
        sa.select(Progress).join(Step).join(Team, Progress.team_id == Team.id).where(Progress.event == "done", Team.section_id == section.id).order_by(Step.minutes_typical.desc()).limit(1)
    )  # fmt: skip
    asked = {
        (item.team_id, item.step_id)
        for item in plans.list_activities(session, plan)
        if item.meeting.state is MeetingState.TAUGHT and item.part == item.parts
    }
    assert (row.team_id, row.step_id) in asked
    team_id, minutes = row.team_id, row.step.minutes_typical
    bench_work.undo_step(session, row)

    after, _ = class_day.spread_minutes(session, section, plan)

    assert after[team_id] == pytest.approx(before[team_id] - minutes)


def test_a_slip_tells_the_absent_what_was_missed_and_with_whom(teacher, session):
    number = number_of_today(session)
    team, step = planned(session)
    first, second = team.students[:2]
    post(teacher, f"{KEY}/meetings/{number}/away", away=first.code)
    page = get(teacher, f"{KEY}/meetings/{number}/catch-up")

    assert f"{step.key} {step.title}" in page
    assert f"Ask {second.code} to show you the work" in page
    assert "come first" in page
    pdf = teacher.get(f"{KEY}/meetings/{number}/catch-up.pdf")
    assert pdf.data.startswith(b"%PDF")


def test_a_slip_names_nobody_who_was_away_too(teacher, session):
    number = number_of_today(session)
    team, _ = planned(session)
    codes = [student.code for student in team.students]
    post(teacher, f"{KEY}/meetings/{number}/away", away=codes)
    page = get(teacher, f"{KEY}/meetings/{number}/catch-up")

    assert page.count("Nobody of your team was there: ask the teacher.") == len(codes)
    for code in codes:
        assert f"Ask {code}" not in page
        assert f"or {code}" not in page


def test_a_week_and_a_day_carry_the_owners_notice_of_the_codes_they_show(teacher, session):
    notice = session.scalar(sa.select(Framework.notice).where(Framework.key == "CCSS-M"))
    assert notice
    week = html.unescape(get(teacher, f"{KEY}/weeks/{meeting_of(session).week}"))
    assert "HSA.CED.A.4" in week
    assert notice in week
    assert notice in html.unescape(get(teacher, f"{KEY}/days/{TODAY.isoformat()}"))


def test_without_absentees_there_is_no_slip_to_print(teacher, session):
    number = number_of_today(session)

    assert "Nobody is recorded as away" in get(teacher, f"{KEY}/meetings/{number}/catch-up")
    get(teacher, f"{KEY}/meetings/{number}/catch-up.pdf", 404)


# --- readings and marks ------------------------------------------------------------------------


def test_readings_come_with_statistics_a_worksheet_and_csv(teacher, session):
    page = get(teacher, f"{KEY}/measurements")
    step = re.search(r"/measurements/(E\d+)\.pdf", page)[1]
    for tail in (".pdf", "/key.pdf"):
        assert teacher.get(f"{KEY}/measurements/{step}{tail}").data.startswith(b"%PDF")
    text = get(teacher, f"{KEY}/measurements.csv")
    assert text.startswith("date,team,step,what,quantity,written,value,unit")
    held = sa.select(sa.func.count()).select_from(Measurement).join(Team)
    mine = held.where(Team.section_id == ours(session).id)
    assert text.count("\n") == 1 + session.scalar(mine)


def test_fret_positions_are_compared_with_the_prediction(teacher, session):
    # The twelfth fret of a 648 mm scale stands at 324 mm: half the string.
    data = {"team": "T01", "positions": "12 324.2\n5 162.6", "instrument": "steel rule, 0.5 mm"}
    post(teacher, f"{KEY}/measurements/frets", **data)
    page = get(teacher, f"{KEY}/measurements")

    assert re.search(
        r"<td class=\"num\">12</td><td class=\"num\">324\.2\d?</td><td class=\"num\">324", page
    )
    assert re.search(r"<td class=\"num\">0\.20?</td>", page)


@pytest.mark.parametrize("positions", ["", "12", "twelve 324", "12 32.42", "99 324", "12 324 kg"])
def test_fret_positions_that_cannot_be_are_asked_about(teacher, session, positions):
    answer = post(
        teacher,
        f"{KEY}/measurements/frets",
        422,
        team="T01",
        positions=positions,
        instrument="rule",
    )

    assert "What you entered is still here".lower() in answer.text.lower()


def test_marks_are_saved_cell_by_cell_and_evidence_names_the_standard(teacher, session):
    mark = newest_mark(session)
    name = f"m-{mark.student_id}-{mark.treatment_id}"
    data = {
        "artifact": "exit question",
        "out-of": "10",
        f"shown-{name}": f"{mark.score:g}",
        name: "9.5",
    }
    post(teacher, f"{KEY}/marks", **data)
    session.refresh(mark)
    assert mark.score == 9.5

    text = get(teacher, f"{KEY}/evidence.csv")
    assert text.splitlines()[0].startswith("student,standard,alignment,treatment,artifact")
    assert f"{mark.student.code}," in text


def test_a_cell_nobody_touched_keeps_what_another_adult_wrote(teacher, session):
    mark = newest_mark(session)
    shown, mark.score = f"{mark.score:g}", 3.0
    session.commit()
    name = f"m-{mark.student_id}-{mark.treatment_id}"

    post(teacher, f"{KEY}/marks", **{"out-of": "10", f"shown-{name}": shown, name: shown})

    session.refresh(mark)
    assert mark.score == 3.0


@pytest.mark.parametrize(("out_of", "score"), [("10", "11"), ("10", "x"), ("0", "5"), ("", "5")])
def test_marks_out_of_range_are_refused_and_stay_in_the_grid(teacher, session, out_of, score):
    mark = newest_mark(session)
    name = f"m-{mark.student_id}-{mark.treatment_id}"
    answer = post(
        teacher, f"{KEY}/marks", 422, **{"out-of": out_of, f"shown-{name}": "", name: score}
    )

    assert f'value="{score}"' in answer.text
    session.refresh(mark)
    assert mark.score <= mark.out_of == 10


def test_a_worksheet_on_record_as_a_whole_stays_in_reach(teacher, session):
    mark = newest_mark(session)
    assert not re.search(r"<option[^>]*>worksheet", get(teacher, f"{KEY}/marks"))
    mark.artifact, mark.score = "worksheet", 7.25
    session.commit()
    name = f"m-{mark.student_id}-{mark.treatment_id}"

    page = get(teacher, f"{KEY}/marks?artifact=worksheet")

    assert "<option selected>worksheet</option>" in page
    assert f'name="{name}" inputmode="decimal" size="4" value="7.25"' in page
    changed = {"artifact": "worksheet", f"shown-{name}": "7.25", name: "8"}
    post(teacher, f"{KEY}/marks", **changed)
    session.refresh(mark)
    assert mark.score == 8


def test_a_paper_nobody_knows_takes_no_marks(teacher, session):
    mark = newest_mark(session)
    name = f"m-{mark.student_id}-{mark.treatment_id}"

    answer = post(
        teacher, f"{KEY}/marks", 422, **{"artifact": "essay", f"shown-{name}": "", name: "1"}
    )

    assert "choose one that is marked as a whole" in answer.text


# --- the class list ----------------------------------------------------------------------------


def test_typed_codes_are_previewed_then_taken_over(teacher, session):
    page = post(teacher, f"{KEY}/roster/preview", 200, codes="S1-23\nS1-24, T01\nS1-01").text
    assert "2 added" in page
    assert session.scalar(sa.select(Student).where(Student.code == "S1-23")) is None

    rows = re.search(r'name="rows" value="([^"]*)"', page)[1]
    post(teacher, f"{KEY}/roster", rows=rows.replace("&#34;", '"'))

    student = session.scalar(sa.select(Student).where(Student.code == "S1-24"))
    assert student.team.code == "T01"


def test_one_code_for_two_students_is_said_and_the_rest_comes_in(teacher, session):
    typed = "code,sourcedId\nZ-01,u1\nZ-01,u2\nZ-02,u3\n"
    page = post(teacher, f"{KEY}/roster/preview", 200, codes=typed).text
    assert "Z-01 stands for two students, sourcedId u1 and u2" in page

    post(teacher, f"{KEY}/roster", rows=typed)

    new = sa.select(Student.code, Student.source_id).where(Student.code.like("Z-%"))
    assert {tuple(row) for row in session.execute(new)} == {("Z-01", "u1"), ("Z-02", "u3")}


def test_a_write_the_database_refuses_still_gets_our_own_page(app, teacher, monkeypatch):
    def broken(session, section, *_, **__):
        session.add(Student(section_id=section.id, code=section.students[0].code))
        session.flush()

    monkeypatch.setattr("app.classroom.roster.routes.roster.import_list", broken)
    app.config.update(TESTING=False)

    answer = post(teacher, f"{KEY}/roster", 500, rows="Z-01")

    assert "Something went wrong on our side" in answer.text


def test_a_oneroster_zip_comes_in_by_codes_and_names_only_if_asked(teacher, session):
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as bundle:
        bundle.writestr("classes.csv", "sourcedId,title\nc1,Guitar\n")
        bundle.writestr(
            "users.csv",
            "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,"
            "givenName,familyName,grades\nu1,,,true,o1,student,x@demo.example,,Ada,Sample,10\n",
        )
        bundle.writestr("enrollments.csv", "classSourcedId,userSourcedId,role\nc1,u1,student\n")
        bundle.writestr("demographics.csv", "sourcedId,birthDate\nu1,2011-01-01\n")
    raw = archive.getvalue()
    page = post(
        teacher, f"{KEY}/roster/preview", 200, file=(io.BytesIO(raw), "roster.zip"), codes=""
    ).text
    assert "S1-23" in page
    assert "Demographics and profiles in the file were not read." in page
    assert "Ada" not in page

    page = post(
        teacher, f"{KEY}/roster/preview", 200, file=(io.BytesIO(raw), "roster.zip"), names="1"
    ).text
    rows = re.search(r'name="rows" value="([^"]*)"', page)[1]
    post(teacher, f"{KEY}/roster", rows=rows, names="1")
    assert session.scalar(sa.select(StudentName.name)) == "Ada Sample"
    assert "Ada Sample" in get(teacher, f"{KEY}/roster")

    post(teacher, f"{KEY}/roster/names/remove")
    session.expire_all()
    assert session.scalar(sa.select(StudentName.name)) is None
    assert session.scalar(sa.select(Student).where(Student.code == "S1-23")) is not None


def test_a_student_moves_leaves_and_is_away_from_later_lists(teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-09"))
    post(
        teacher, f"{KEY}/roster/students/{student.id}",
        team="T03", grade="11", entered="", left="2027-02-12",
    )  # fmt: skip
    session.refresh(student)
    assert (student.team.code, student.left) == ("T03", dt.date(2027, 2, 12))
    assert 'value="S1-09"' not in get(teacher, f"{KEY}/today")
    assert "S1-09" in get(teacher, f"{KEY}/roster")


@pytest.mark.parametrize(
    "data",
    [
        {"grade": "99"},
        {"team": "no code!"},
        {"entered": "2027-02-30", "left": ""},
        {"entered": "2027-03-01", "left": "2027-02-01"},
    ],
)
def test_a_student_is_not_changed_by_what_cannot_be(teacher, session, data):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-09"))
    answer = post(teacher, f"{KEY}/roster/students/{student.id}", 422, **data)
    for entered in data.values():
        assert f'value="{entered}"' in answer.text
    assert "what you entered is still here" in answer.text


def test_a_team_code_in_another_case_is_the_team_of_the_class(teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-09"))
    count = (
        sa.select(sa.func.count()).select_from(Team).where(Team.section_id == student.section_id)
    )
    before = session.scalar(count)

    post(teacher, f"{KEY}/roster/students/{student.id}", team="t10")
    post(teacher, f"{KEY}/roster", rows="S1-05,t05")

    session.expire_all()
    assert student.team.code == "T10"
    assert session.scalar(sa.select(Student).where(Student.code == "S1-05")).team.code == "T05"
    assert session.scalar(count) == before


def test_a_new_team_is_asked_for_before_it_is_made_and_can_be_removed(teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-09"))
    address, old = f"{KEY}/roster/students/{student.id}", student.team.code
    named = sa.select(Team).where(Team.section_id == student.section_id, Team.code == "T77")

    page = post(teacher, address, 422, team="T77", grade="12").text
    assert "tick “Make the new team T77”" in page
    assert 'name="new-team" value="T77"' in page
    assert 'value="12"' in page
    assert session.scalar(named) is None
    # A tick shown for one code makes no other team.
    post(teacher, address, 422, **{"team": "T78", "new-team": "T77"})

    post(teacher, address, **{"team": "T77", "new-team": "T77"})
    team_id = session.scalar(named).id
    post(teacher, f"{KEY}/roster/teams/{team_id}/remove", 422)
    assert "Remove T77" not in get(teacher, f"{KEY}/roster")

    post(teacher, address, team=old)
    assert "Remove T77" in get(teacher, f"{KEY}/roster")
    post(teacher, f"{KEY}/roster/teams/{team_id}/remove")
    assert session.scalar(named) is None


def test_a_team_with_work_on_record_is_not_removed(teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-09"))
    team = student.team
    for member in list(team.students):
        member.team = None
    session.commit()

    answer = post(teacher, f"{KEY}/roster/teams/{team.id}/remove", 422)
    assert f"{team.code} has work on record" in answer.text
    assert f"Nobody is in {team.code}; what is on record stays" in answer.text


def test_names_for_students_already_on_the_list_are_kept_if_asked(teacher, session):
    typed = "code,name,entered\nS1-01,Cy Reed,2027-01-06\n"
    named = sa.select(StudentName.name).join(Student).where(Student.code == "S1-01")
    page = post(teacher, f"{KEY}/roster/preview", 200, codes=typed, names="1").text
    assert "its name is added; entered on 2027-01-06" in page
    rows = html.unescape(re.search(r'name="rows" value="([^"]*)"', page)[1])

    post(teacher, f"{KEY}/roster", rows=rows, names="1")

    assert session.scalar(named) == "Cy Reed"
    entered = sa.select(Student.entered).where(Student.code == "S1-01")
    assert session.scalar(entered) == dt.date(2027, 1, 6)
    again = post(teacher, f"{KEY}/roster/preview", 200, codes=typed, names="1").text
    assert "0 changed, 1 as they are" in again


def test_what_cannot_be_read_in_a_list_is_named_and_the_list_stays_to_be_corrected(teacher):
    typed = "code,grade,left\nS1-01,Freshman,\nS1-02,11,03/15/2027"
    page = html.unescape(post(teacher, f"{KEY}/roster/preview", 200, codes=typed).text)

    assert "line 2: “Freshman” is no grade; write K or a number from 1 to 13." in page
    assert "line 3: left “03/15/2027” is no date; write year-month-day" in page
    assert f">{typed}</textarea>" in page.replace("\r\n", "\n")


def test_a_preview_names_the_teams_a_list_would_make(teacher):
    page = post(teacher, f"{KEY}/roster/preview", 200, codes="S1-05,T99\nS1-06,t99\nS1-07,t01").text

    assert "<strong>New teams:</strong> T99." in page


def test_a_students_page_shows_what_is_on_record_to_the_teacher_alone(app, teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-09"))
    address = f"{KEY}/roster/students/{student.id}"
    assert address in get(teacher, f"{KEY}/roster")
    page = get(teacher, address)
    assert f'value="{student.team.code}"' in page
    assert "Type S1-09 to erase" in page
    assert signed_in(app, "head").get(address).status_code == 404
    assert teacher.get(f"{KEY}/roster/students/99999").status_code == 404


def test_todays_lists_have_who_leaves_later_and_not_who_has_left_or_comes_later(teacher, session):
    day = dt.timedelta(days=1)
    by_code = {student.code: student for student in ours(session).students}
    by_code["S1-07"].entered = TODAY + day
    by_code["S1-08"].left = TODAY
    by_code["S1-09"].left = dt.date(2027, 3, 20)
    session.commit()
    marks = get(teacher, f"{KEY}/marks")
    cells = get(teacher, f"{KEY}/papers/worksheet/marks?phase=neck-and-fretboard&per=student")
    today, wall = get(teacher, f"{KEY}/today"), get(teacher, f"{KEY}/sign-offs")
    maker = get(teacher, f"{KEY}/roster")

    for code, here in (("S1-09", True), ("S1-08", False), ("S1-07", False)):
        student = by_code[code]
        assert (f'name="m-{student.id}-' in marks) is here
        assert (f">{code}</th>" in cells) is here
        assert (f'name="away" value="{code}"' in today) is here
        assert (f'<tr><th scope="row">{code}' in wall) is here  # the log below names it either way
        assert (f'name="pace-{code}"' in maker) is here


def test_everything_about_a_student_comes_out_and_can_be_erased(teacher, session):
    student = session.scalar(sa.select(Student).where(Student.code == "S1-02"))
    student_id = student.id
    facts = json.loads(teacher.get(f"{KEY}/roster/students/{student_id}.json").text)
    assert facts["code"] == "S1-02"
    assert facts["sign_offs"]
    assert facts["marks"]
    address = f"{KEY}/roster/students/{student_id}/erase"
    post(teacher, address, 422, confirm="S1-03")

    post(teacher, address, confirm="s1-02")

    session.expire_all()
    for table in (Absence, Mark, SignOff, StudentName):
        held = sa.select(sa.func.count()).where(table.student_id == student_id)
        assert session.scalar(held) == 0, table
    assert session.scalar(sa.select(sa.func.count()).select_from(Progress)) > 0


def test_all_records_go_together_only_once_their_date_is_past(teacher, session):
    post(teacher, f"{KEY}/roster/erase", 422, confirm="period-3")
    post(teacher, f"{KEY}/roster/keep", **{"keep-until": "2027-02-28"})
    post(teacher, f"{KEY}/roster/erase", 422, confirm="period-4")

    post(teacher, f"{KEY}/roster/erase", confirm="period-3")

    session.expire_all()
    held = sa.select(sa.func.count()).select_from(SignOff).join(Student)
    assert session.scalar(held.where(Student.section_id == ours(session).id)) == 0


def test_teams_are_proposed_with_wishes_then_used(teacher, session):
    data = {
        "size": "2",
        "who": "all",
        "apart": "S1-01 S1-12",
        "together": "S1-01 S1-02",
        "permits": "P-DRILL",
    }
    page = post(teacher, f"{KEY}/roster/teams/preview", 200, **data).text
    groups = re.findall(r'name="team" value="([^"]+)"', page)
    assert len(groups) == 11
    assert "S1-01 S1-02" in groups

    answer = post(teacher, f"{KEY}/roster/teams", 422, team=groups)
    assert re.findall(r'name="team" value="([^"]+)"', answer.text) == groups
    assert "would leave an instrument with work on record" in answer.text
    post(teacher, f"{KEY}/roster/teams", team=groups, **{"leave-work": "1"})

    session.expire_all()
    team = {s.code: s.team_id for s in session.scalars(sa.select(Student))}
    assert team["S1-01"] == team["S1-02"]
    assert team["S1-01"] != team["S1-12"]


def teams_with(session, *codes):
    """The teams these students are in."""
    rows = session.execute(
        sa.select(Student.code, Team.code).join(Student.team).where(Student.code.in_(codes))
    )
    return {student: team for student, team in rows}  # noqa: C416


def test_teams_made_again_as_they_are_stay_with_their_instruments_unasked(teacher, session):
    codes = [s.code for s in ours(session).students]
    before = teams_with(session, *codes)
    # Named backwards, and one group of a single student first: most of a group decides.
    groups = [
        " ".join(code for code in codes if before[code] == team)
        for team in sorted(set(before.values()), reverse=True)
    ]

    post(teacher, f"{KEY}/roster/teams", team=groups)

    assert teams_with(session, *codes) == before


def test_an_instrument_nobody_is_at_any_more_is_used_again_before_a_new_one(teacher, session):
    members = [s for s in ours(session).students if s.team.code == "T09"]
    for student in members:
        student.left = TODAY
    newcomers = [Student(code=code, section_id=ours(session).id) for code in ("Z-01", "Z-02")]
    session.add_all(newcomers)
    session.commit()
    count = sa.select(sa.func.count()).select_from(Team)
    before = session.scalar(count)

    page = post(teacher, f"{KEY}/roster/teams/preview", 200, size="2", who="free").text
    assert "<strong>T09</strong>: Z-01, Z-02" in page
    post(teacher, f"{KEY}/roster/teams", team="Z-01 Z-02")

    assert teams_with(session, "Z-01", "Z-02") == {"Z-01": "T09", "Z-02": "T09"}
    assert session.scalar(count) == before


def test_teams_that_leave_an_instrument_to_nobody_say_so_before(teacher, session):
    members = [s for s in ours(session).students if s.team.code in ("T09", "T10")]
    group = " ".join(student.code for student in members)

    answer = post(teacher, f"{KEY}/roster/teams", 422, team=group)

    assert "Tick “Make these teams all the same” below" in answer.text
    assert "(T10) would leave an instrument with work on record" in answer.text
    assert "Nobody would be left to finish the instrument of T10." in answer.text


@pytest.mark.parametrize(
    "data",
    [{"size": "0"}, {"size": "x"}, {"size": "2", "who": "all", "apart": "S1-01 S9-99"},
     {"size": "2"}],
)  # fmt: skip
def test_the_team_maker_says_what_to_change(teacher, session, data):
    answer = post(teacher, f"{KEY}/roster/teams/preview", 422, **data)

    assert "Not saved; change this" in answer.text


def test_a_file_that_is_no_list_is_refused_in_words(teacher):
    for raw, name, words in (
        (b"\x89PNG\r\n\x1a\n\x00\x00", "class.csv", "is no text"),
        (b"PK\x03\x04broken", "roster.zip", "damaged zip"),
        (b"sourcedId,birthDate\n1,2011-01-01\n", "demographics.csv", "never read"),
        (b"", "empty.csv", "is empty"),
        (b"mass,colour,size\n1,2,3\n3,4,5\n", "other.csv", "no column"),
    ):
        answer = post(teacher, f"{KEY}/roster/preview", 422, file=(io.BytesIO(raw), name))
        assert words in answer.text, name
