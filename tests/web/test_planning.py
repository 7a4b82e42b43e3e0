"""Planning on the page: who may plan, how the search runs, what pages and papers carry."""

import datetime as dt
import io
from itertools import count

import pdfplumber
import pytest
import sqlalchemy as sa
import vobject

from app import db
from app.domain.papers.class_plan import day_document
from app.domain.papers.document import DEFERRAL
from app.jobs import worker
from app.models import Job, Meeting, MeetingState, Plan, Section, Term
from app.store import sections
from app.store.paper import papers
from app.store.plan import plans
from tests.conftest import signed_in
from tests.pages import get, post

PLAN = "/sections/period-3/plan"
DAY = "/sections/period-3/days/2027-03-02"


@pytest.fixture
def inline(monkeypatch):
    """The worker carries a job out at once, in this process."""
    monkeypatch.setattr(worker, "start", lambda url, job: worker.run(url, job.id))


@pytest.fixture
def quick(monkeypatch):
    """A search that looks at a few plans only."""
    from app.domain.scheduling import explain
    from app.domain.scheduling.search.solve import solve
    from app.jobs import planning, remedies

    def short(problem, **given):
        looks = count()
        return solve(problem, **{**given, "should_stop": lambda: next(looks) >= 3})

    for room in (explain, planning, remedies):
        monkeypatch.setattr(room, "solve", short)
    monkeypatch.setattr(remedies, "STEPS_TRIED", 1)


@pytest.fixture
def session(app):
    """A session that looks and does not keep the application from writing."""
    engine = app.extensions["engine"].execution_options(reading=True)
    with db.session_factory(engine)() as session:
        yield session


def pdf_text(client, address):
    """The words of a PDF, page by page."""
    answer = client.get(address)
    assert answer.status_code == 200, address
    assert answer.mimetype == "application/pdf"
    with pdfplumber.open(io.BytesIO(answer.data)) as document:
        return [page.extract_text() for page in document.pages]


def flat(text):
    return " ".join(text.replace("’", "'").split())


def section_of(session, key="period-3"):
    return session.query(Section).filter_by(key=key).one()


# --- planning ----------------------------------------------------------------------------------


def test_the_teacher_plans_and_the_new_plan_is_current(teacher, session, inline, quick):
    before = plans.current_plan(session, section_of(session)).id

    session.rollback()
    answer = post(teacher, PLAN)

    job = session.query(Job).order_by(Job.id.desc()).first()
    assert answer.location.endswith(f"/plan/jobs/{job.id}")
    assert (job.state, job.error) == ("done", "")
    session.rollback()
    plan = plans.current_plan(session, section_of(session))
    assert plan.id == job.progress["plan"] != before
    assert plan.reason == "Planned again"
    assert session.get(Plan, before).current is False
    assert teacher.get(answer.location).location.endswith(PLAN)


def test_a_new_plan_repeats_every_taught_minute(teacher, session, inline, quick):
    def taught(plan):
        return {
            (row.team.code, row.step.key, row.meeting.number, row.first_minute)
            for row in plans.list_activities(session, plan)
            if row.meeting.state is MeetingState.TAUGHT
        }

    before = taught(plans.current_plan(session, section_of(session)))
    post(teacher, PLAN)
    session.rollback()

    after = taught(plans.current_plan(session, section_of(session)))
    # What was worked and is not done is planned anew; nothing else of the past may change.
    assert after <= before
    assert len(after) > 0.9 * len(before)


@pytest.mark.parametrize(("who", "status"), [("head", 404), ("workshop", 404), ("admin", 303)])
def test_only_the_teacher_and_an_administrator_plan(app, inline, quick, who, status):
    assert signed_in(app, who).post(PLAN).status_code == status


def test_a_head_sees_the_plan_without_a_button(app):
    page = get(signed_in(app, "head"), PLAN)

    assert "Plan again from here" not in page
    assert "Make a feed address" not in page


def test_a_section_without_teams_is_led_to_its_teams(teacher, session):
    empty = section_of(session)
    session.add(
        Section(
            **{
                column.name: getattr(empty, column.name)
                for column in Section.__table__.columns
                if column.name not in ("id", "key", "feed_token")
            },
            key="empty",
        )
    )
    session.commit()

    answer = post(teacher, "/sections/empty/plan")

    assert answer.location.endswith("/sections/empty/teams")
    assert "no plan yet" in get(teacher, "/sections/empty/plan")


@pytest.fixture
def unplanned(app, session):
    """The sample section as it was before it was planned; how to sign in, and its feed."""
    from app.store.plan.feeds import open_feed

    with db.session_factory(app.extensions["engine"])() as writing:
        section = writing.scalar(sa.select(Section).where(Section.key == "period-3"))
        writing.execute(sa.update(Plan).where(Plan.section_id == section.id).values(current=False))
        token = open_feed(section)
        writing.commit()
    return token


@pytest.mark.parametrize(
    "address",
    ["weeks/9", "weeks/9.pdf", "days/2027-03-02", "days/2027-03-02.pdf",
     "days/2027-03-02/substitute", "days/2027-03-02/substitute.pdf", "meetings/30",
     "meetings/30/catch-up", "meetings/30/catch-up.pdf", "plan.pdf", "plan.ics",
     "plan/by-hand", "plan/remedies", "kit/pull-list", "kit/papers/pull-list.pdf"],
)  # fmt: skip
def test_what_follows_from_a_plan_leads_to_planning_where_there_is_none(
    teacher, unplanned, address
):
    page = get(teacher, f"/sections/period-3/{address}", 404)

    assert "there is no plan yet" in page
    assert "Plan the term</button>" in page


def test_without_a_plan_others_learn_who_plans_and_strangers_nothing(app, client, unplanned):
    page = get(signed_in(app, "head"), "/sections/period-3/weeks/9", 404)
    assert "Its teacher plans the term." in page
    assert "<button>Plan the term" not in page

    feed = client.get(f"/calendars/{unplanned}.ics")
    assert feed.status_code == 404
    assert "There is nothing at this address" in feed.text


def test_a_second_wish_joins_the_search_that_runs(teacher, session, monkeypatch):
    monkeypatch.setattr(worker, "start", lambda *_: None)

    first, second = post(teacher, PLAN), post(teacher, PLAN)

    assert first.location == second.location
    page = get(teacher, first.location)
    assert "Stop and keep the best plan" in page


def test_a_stop_keeps_the_best_plan(app, teacher, session, monkeypatch):
    monkeypatch.setattr(worker, "start", lambda *_: None)
    where = post(teacher, PLAN).location
    post(teacher, f"{where}/stop")
    job = session.query(Job).order_by(Job.id.desc()).first()
    assert job.stop_asked

    worker.run(app.config["STRINGCOURSE"].database_url, job.id)

    session.rollback()
    assert session.get(Job, job.id).state == "done"
    assert plans.current_plan(session, section_of(session)).id == job.progress["plan"]


def test_a_search_that_cannot_begin_says_why(app, teacher, session, inline):
    section = section_of(session)
    for row in section.room.stations:
        row.places = 0
    session.commit()

    where = post(teacher, PLAN).location

    page = get(teacher, where)
    assert "which has 0: add places" in page
    assert "Traceback" not in page


# --- pages and papers --------------------------------------------------------------------------


def test_the_semester_page_names_every_week_team_and_what_is_uncovered(teacher, session):
    page = get(teacher, PLAN)
    plan = plans.current_plan(session, section_of(session))

    for week in range(1, 19):
        assert f"/sections/period-3/weeks/{week}" in page
    for team in range(1, 12):
        assert f"T{team:02d}" in page
    for item in plan.uncovered:
        assert item["standard"] in page
    assert "Showcase" in page


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_semester_plan_takes_two_pages_at_most(teacher, session, paper):
    pages = pdf_text(teacher, f"{PLAN}.pdf?paper={paper}")
    text = flat(" ".join(pages))

    assert len(pages) <= 2
    assert "Semester plan: Spring 2027" in text
    assert "Showcase" in text
    plan = plans.current_plan(session, section_of(session))
    for lesson in plans.list_lessons(session, plan):
        assert lesson.title.split()[0] in text
    for team in range(1, 12):
        assert f"T{team:02d}" in text


def test_the_week_on_paper_carries_dates_teams_cautions_and_the_deferral(teacher, session):
    text = flat(" ".join(pdf_text(teacher, "/sections/period-3/weeks/9.pdf")))

    for day in ("Monday 1 March 2027", "Tuesday 2 March 2027", "Friday 5 March 2027"):
        assert day in text
    assert "Caution" in text
    assert flat(DEFERRAL) in text
    rows = plans.list_activities(
        session,
        plans.current_plan(session, section_of(session)),
        first=dt.date(2027, 3, 1),
        last=dt.date(2027, 3, 5),
    )
    for code in {row.team.code for row in rows}:
        assert code in text


def test_the_day_says_the_same_on_screen_and_on_paper(teacher, session):
    page = get(teacher, DAY)
    text = flat(" ".join(pdf_text(teacher, f"{DAY}.pdf")))
    day = dt.date(2027, 3, 2)
    plan = plans.current_plan(session, section_of(session))
    rows = plans.list_activities(session, plan, first=day, last=day)

    assert rows
    for row in rows:
        assert row.step.key in page
        assert row.step.key in text
        assert row.team.code in text
    assert "Tuesday 2 March 2027" in text
    assert flat(DEFERRAL) in text
    assert DEFERRAL.replace("'", "&#39;") in page


def test_a_day_without_class_is_no_page(teacher):
    get(teacher, "/sections/period-3/days/2027-03-13", 404)
    get(teacher, "/sections/period-3/weeks/40", 404)
    assert teacher.get("/sections/period-3/weeks/40.pdf").status_code == 404


# --- a substitute's day ------------------------------------------------------------------------


def test_a_substitute_gets_machines_off_seats_by_code_and_no_key(teacher, session):
    pages = pdf_text(teacher, f"{DAY}/substitute.pdf")
    first = flat(pages[0])

    assert "Machine power is off today" in first
    assert "nurse's plan" in first
    assert flat(DEFERRAL) in first
    for student in section_of(session).students:
        assert student.code in first
    assert "Answer key" not in " ".join(pages)


def test_the_day_plan_goes_team_by_team_in_the_order_of_the_day(session):
    section = section_of(session)
    day = next(m for m in sections.list_meetings(session, section) if m.date == dt.date(2027, 3, 2))
    week = papers.day_plan(session, section, plans.current_plan(session, section), day)
    document = day_document(week, week.meetings[0])
    (table,) = [b for b in document.blocks if getattr(b, "caption", "") == "Who is where"]
    order = [(row[0], row[1]) for row in table.rows]
    assert order == sorted(order)
    assert {team for team, _ in order} == {team.code for team in section.teams}


def test_a_step_left_out_does_not_let_a_team_skip_what_comes_before_it(teacher, session):
    section = session.scalars(sa.select(Section).where(Section.key == "period-3")).one()
    section.ready_made = ["E35", "E36"]  # no team has its first coat on yet
    session.commit()
    page = get(teacher, f"{DAY}/substitute")
    assert "E40 Cure" not in page


def test_a_substitute_is_given_no_step_that_needs_a_machine(teacher, session):
    page = get(teacher, f"{DAY}/substitute")
    table = page[page.index("Who sits where") : page.index("Who may not do what")]
    table = table[: table.index("</table>")]
    steps = sections.load_steps(session, section_of(session).build_id)

    for step in steps:
        if not step.substitute_safe or step.hazard_class in ("machine", "heat", "chemical"):
            assert f"{step.key} {step.title}" not in table
    assert "Worksheet" in table


def test_the_lesson_of_the_day_can_be_read_aloud(teacher, session):
    plan = plans.current_plan(session, section_of(session))
    lesson = next(
        item
        for item in plans.list_lessons(session, plan)
        if item.treatment and item.meeting.state is MeetingState.PLANNED
    )

    page = get(teacher, f"/sections/period-3/days/{lesson.meeting.date}/substitute")

    assert "to be read aloud" in page
    assert flat(lesson.treatment.explanation)[:25] in flat(page)


# --- calendar ----------------------------------------------------------------------------------


def test_the_calendar_file_holds_every_meeting(teacher, session):
    answer = teacher.get(f"{PLAN}.ics")
    calendar = vobject.readOne(answer.text)
    meetings = session.query(Meeting).filter_by(section_id=section_of(session).id).all()

    starts = [event.dtstart.value for event in calendar.vevent_list]
    for meeting in meetings:
        assert dt.datetime.combine(meeting.date, meeting.starts_at) in starts
    assert dt.date(2027, 5, 6) in starts
    assert answer.mimetype == "text/calendar"


def test_a_feed_is_open_to_who_knows_its_address_until_it_is_ended(teacher, client, session):
    assert client.get(f"{PLAN}.ics").status_code == 302
    post(teacher, f"{PLAN}/feed")
    session.rollback()
    token = section_of(session).feed_token

    assert len(token) >= 32
    assert f"/calendars/{token}.ics" in get(teacher, PLAN)
    assert client.get(f"/calendars/{token}.ics").text.startswith("BEGIN:VCALENDAR")
    assert client.get(f"/calendars/{token[:-1]}.ics").status_code == 404

    post(teacher, f"{PLAN}/feed")
    assert client.get(f"/calendars/{token}.ics").status_code == 404
    session.rollback()
    newer = section_of(session).feed_token
    post(teacher, f"{PLAN}/feed/end")
    assert client.get(f"/calendars/{newer}.ics").status_code == 404


def test_a_feed_names_no_student(teacher, client, session):
    post(teacher, f"{PLAN}/feed")
    session.rollback()
    section = section_of(session)

    text = client.get(f"/calendars/{section.feed_token}.ics").text.replace("\r\n ", "")

    assert not [student.code for student in section.students if student.code in text]


def test_only_who_plans_opens_a_feed(app):
    assert signed_in(app, "head").post(f"{PLAN}/feed").status_code == 404


# --- does it fit -------------------------------------------------------------------------------


def fits(client, status=200, **given):
    query = "&".join(f"{name}={value}" for name, value in given.items())
    return flat(get(client, f"/sections/period-3/fits?{query}", status))


def test_a_glue_up_of_25_minutes_does_not_fit_in_18(teacher):
    # By hand: the bell at 10:20 and 47 minutes give clean-up at 11:00; 10:42 leaves 18 minutes.
    page = fits(teacher, step="E11", date="2027-03-01", at="10:42")

    assert "<strong>No.</strong>" in page
    assert "25 minutes, and 18 minutes are left" in page


def test_a_glue_up_begun_early_fits_and_dries_too_late_for_the_next_day(teacher):
    # By hand: done at 10:51, dry 24 hours later; on Tuesday the benches open at 10:25.
    page = fits(teacher, step="E11", date="2027-03-01", at="10:26")

    assert "It fits, but it is not dry in time" in page
    assert "25 minutes of the 34 left" in page
    assert "Dry on Tuesday 2 March 2027 at 10:51, too late for the next meeting" in page
    assert "the label of the product in use overrides them" in page


def test_over_a_weekend_the_glue_is_dry(teacher):
    page = fits(teacher, step="E11", date="2027-03-05", at="10:26")

    assert "<strong>Yes.</strong>" in page
    assert "in time for the next meeting" in page


def test_minutes_of_the_teachers_own_replace_the_typical_ones(teacher):
    assert "<strong>No.</strong>" not in fits(
        teacher, step="E11", date="2027-03-01", at="10:42", minutes=18
    )


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"step": "E99"}, "no step “E99”"),
        ({"step": "E11", "at": "noon"}, "“noon” is no time"),
        ({"step": "E11", "date": "2027-03-13"}, "does not meet on “2027-03-13”"),
        ({"step": "E11", "minutes": "-5"}, "no number of minutes"),
        ({"step": "E11", "minutes": "9999"}, "no number of minutes"),
    ],
)
def test_a_question_that_makes_no_sense_is_answered_with_what_to_change(teacher, given, sentence):
    assert sentence in fits(teacher, 422, **given)


# --- what would make it fit --------------------------------------------------------------------


def test_changes_are_tried_outside_the_request_and_stay_with_the_plan(
    teacher, session, inline, quick
):
    assert "What holds the end up" in get(teacher, f"{PLAN}/remedies")

    where = post(teacher, f"{PLAN}/remedies").location

    assert teacher.get(where).location.endswith("/plan/remedies")
    page = get(teacher, f"{PLAN}/remedies")
    assert "A second qualified adult" in page
    assert "As it is" in page
    session.rollback()
    found = plans.current_plan(session, section_of(session)).facts["remedies"]
    assert {"base", "changes", "stopped"} == set(found)


def test_a_head_reads_the_findings_and_starts_nothing(app):
    head = signed_in(app, "head")

    assert "Try what would make it fit" not in get(head, f"{PLAN}/remedies")
    assert head.post(f"{PLAN}/remedies").status_code == 404


# --- calendar set-up ---------------------------------------------------------------------------

CLOSED = (
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:1\r\n"
    "DTSTART;VALUE=DATE:20270316\r\nDTEND;VALUE=DATE:20270318\r\nSUMMARY:No school\r\n"
    "END:VEVENT\r\nBEGIN:VEVENT\r\nUID:2\r\nSUMMARY:Lost\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)


def test_a_calendar_file_is_shown_before_it_changes_anything(teacher, session):
    term = session.query(Term).first()
    before = len(term.days)
    answer = teacher.post(
        f"/terms/{term.id}/calendar",
        data={"calendar": (io.BytesIO(CLOSED.encode()), "school.ics")},
        content_type="multipart/form-data",
    )

    assert answer.status_code == 200
    assert "No school" in answer.text
    assert "“Lost” is left out: it has no date." in answer.text
    session.rollback()
    assert len(session.query(Term).first().days) == before


def test_chosen_days_close_the_meetings(teacher, session):
    from app.sections.day_list import write_days

    term = session.query(Term).first()
    listed = write_days(sections.term_value(term).exceptions)
    post(
        teacher,
        f"/terms/{term.id}",
        **{
            "days": listed,
            "found-0-first": "2027-03-16",
            "found-0-last": "2027-03-17",
            "found-0-what": "closed",
            "found-0-label": "No school",
        },
    )

    session.rollback()
    days = {m.date: m.state for m in section_of(session).meetings}
    assert days[dt.date(2027, 3, 16)] is MeetingState.LOST
    assert days[dt.date(2027, 3, 17)] is MeetingState.LOST
    assert days[dt.date(2027, 3, 18)] is MeetingState.PLANNED


def test_saving_the_list_of_days_unchanged_changes_nothing(teacher, session):
    from app.sections.day_list import write_days

    term = session.query(Term).first()
    before = sections.term_value(term)
    post(teacher, f"/terms/{term.id}", days=write_days(before.exceptions))

    session.rollback()
    assert sections.term_value(session.query(Term).first()) == before


def test_a_list_of_days_is_written_in_the_words_it_is_read_in(teacher, session):
    from app.sections.day_list import SCHEDULES, read_days, write_days

    text = "\n".join(f"2027-03-{n:02d} {word} Day" for n, word in enumerate(SCHEDULES, 1))
    assert write_days(read_days(text)) == text
    assert [day.schedule for day in read_days(text)] == list(SCHEDULES.values())

    page = get(teacher, f"/terms/{session.query(Term).first().id}")
    assert " early-release" in page
    assert "– early release" in page
    for key in ("early_release", "two_hour_delay", "final_exam"):
        assert key not in page


@pytest.mark.parametrize("content", [b"", b"\x00\xff", b"not a calendar"])
def test_rubbish_is_refused_and_the_list_stays(teacher, session, content):
    term = session.query(Term).first()
    answer = teacher.post(
        f"/terms/{term.id}/calendar",
        data={"days": "2027-03-02 closed Mine", "calendar": (io.BytesIO(content), "x.ics")},
        content_type="multipart/form-data",
    )

    assert answer.status_code == 422
    assert "no calendar file" in answer.text
    assert "2027-03-02 closed Mine" in answer.text


def routine(**changes):
    return {
        "lesson_minutes": 20,
        "dates": "2027-03-04",
        "unit_test_dates": "",
        "unit_test_minutes": 30,
        "staff": "2027-03-09 substitute\n2027-03-15 to 2027-03-19 adults 2 helpers 1",
        **changes,
    }


def test_substitute_days_and_second_adults_reach_the_meetings(teacher, session):
    post(teacher, "/sections/period-3/meetings", **routine())

    session.rollback()
    by_date = {m.date: m for m in section_of(session).meetings}
    assert by_date[dt.date(2027, 3, 9)].machine_power is False
    assert by_date[dt.date(2027, 3, 16)].qualified_adults == 2
    assert by_date[dt.date(2027, 3, 4)].lesson_minutes == 20
    assert "machine power off in 1 meeting" in get(teacher, "/sections/period-3/meetings")


def test_a_new_routine_leaves_taught_meetings_as_they_were(teacher, session):
    before = {m.number: m.lesson_minutes for m in section_of(session).meetings if m.week <= 8}
    post(teacher, "/sections/period-3/meetings", **routine(every=3, first=1, dates=""))

    session.rollback()
    meetings = section_of(session).meetings
    assert {m.number: m.lesson_minutes for m in meetings if m.week <= 8} == before
    assert all((m.lesson_minutes > 0) == (m.number % 3 == 1) for m in meetings if m.week == 9)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"dates": "2027-03-13"}, "falls on no meeting"),
        ({"dates": "soon"}, "is no date"),
        ({"staff": "2027-03-09 maybe"}, "then “substitute” or “adults 2”"),
        ({"staff": "2027-03-09 to 2027-03-01 substitute"}, "swap them"),
        ({"lesson_minutes": "-1"}, "from 0 to 120"),
    ],
)
def test_a_routine_that_cannot_be_is_refused_with_nothing_lost(teacher, session, changes, sentence):
    answer = post(teacher, "/sections/period-3/meetings", 422, **routine(**changes))

    assert sentence in answer.text
    for value in changes.values():
        assert value.split("\n")[0] in answer.text
