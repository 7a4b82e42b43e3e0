"""What happened, the ways on, by hand and the fit check, on the pages and the command line."""

import datetime as dt
import html
import json

import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from app import db
from app.jobs import fit, options, replanning, worker
from app.models import Activity, Event, Meeting, MeetingState, Plan, Section, Student
from app.store import jobs
from app.store.plan import plans, recorded_events
from tests.conftest import signed_in
from tests.pages import get, post

ROOT = "/sections/period-3/plan"
EVENTS = f"{ROOT}/events"
SNOW = {"first": "2027-03-04", "label": "Snow"}


@pytest.fixture
def session(app):
    """A session that looks and does not keep the application from writing."""
    engine = app.extensions["engine"].execution_options(reading=True)
    with db.session_factory(engine)() as session:
        yield session


@pytest.fixture
def later(monkeypatch):
    """Jobs that were asked for and wait to be carried out by the test."""
    asked = []
    monkeypatch.setattr(worker, "start", lambda url, job: asked.append((url, job.id)))
    monkeypatch.setattr(replanning, "FIRST_WORK", 0.02)
    monkeypatch.setattr(options, "OPTION_WORK", 0.02)
    monkeypatch.setattr(fit, "CHANGE_WORK", 0.02)
    monkeypatch.setattr(fit, "TERMS", 3)
    monkeypatch.setattr(fit, "TERMS_PER_CHANGE", 2)
    monkeypatch.setattr(fit, "_cores", lambda: 1)
    return asked


def section_of(session) -> Section:
    session.rollback()
    session.expire_all()
    return session.scalars(sa.select(Section).where(Section.key == "period-3")).one()


def current(session) -> Plan:
    plan = plans.current_plan(session, section_of(session))
    assert plan is not None
    return plan


def event_of(session) -> Event:
    session.rollback()
    return session.scalars(sa.select(Event)).one()


def record(client, kind, status=303, **data):
    return post(client, f"{EVENTS}?kind={kind}", status, **data)


def carry_out(later):
    for url, job in later:
        worker.run(url, job)
    later.clear()


# --- recording ----------------------------------------------------------------------------------


def test_the_page_offers_every_kind_and_its_form(teacher):
    page = get(teacher, EVENTS)
    for title in ("Closure", "Substitute", "Damp spell", "Parts late", "Team ahead or behind"):
        assert title in page
    for kind in ("closure", "bells", "station", "humid", "parts", "pace", "away", "suspended"):
        assert "Record it and plan again" in get(teacher, f"{EVENTS}?kind={kind}")


def test_a_closed_day_is_lost_and_the_plan_is_made_again_at_once(teacher, session, later):
    before = current(session)
    past = _rows(session, before, until=dt.date(2027, 3, 1))
    answer = record(teacher, "closure", **SNOW)
    after = current(session)

    assert after.id != before.id
    assert after.before_id == before.id
    lost = session.scalars(
        sa.select(Meeting).where(
            Meeting.section_id == after.section_id, Meeting.date == dt.date(2027, 3, 4)
        )
    ).one()
    assert lost.state is MeetingState.LOST
    assert not [r for r in after.activities if r.meeting_id == lost.id]
    assert _rows(session, after, until=dt.date(2027, 3, 1)) == past, "the past stays"
    assert all("has no place" in sentence for sentence in after.broken_rules)
    assert "what moves?" in get(teacher, answer.location)
    assert len(later) == 1, "the ways on are worked out outside the request"


def _rows(session, plan, *, until):
    query = (
        sa.select(Activity.team_id, Activity.step_id, Meeting.date, Activity.first_minute)
        .join(Meeting)
        .where(Activity.plan_id == plan.id, Meeting.date < until)
    )
    return sorted(tuple(row) for row in session.execute(query))


def test_a_closed_day_says_why_there_is_no_class_and_where_that_is_undone(app, teacher, later):
    record(teacher, "closure", first="2027-03-01", label="Snow")
    assert "No class: Snow." in get(teacher, "/sections/period-3/weeks/9")
    page = get(teacher, "/sections/period-3/today")
    assert "The calendar no longer has this meeting: Snow." in page
    assert EVENTS in page
    assert "Open Monday again" not in page


def test_undoing_an_event_brings_the_old_plan_back(teacher, session, later):
    before = current(session).id
    record(teacher, "closure", **SNOW)
    event = event_of(session)
    post(teacher, f"{EVENTS}/{event.id}/undo")

    assert current(session).id == before
    states = session.scalars(sa.select(Meeting.state).where(Meeting.date == dt.date(2027, 3, 4)))
    assert MeetingState.LOST not in set(states)
    assert "undone by" in get(teacher, EVENTS)


def test_undoing_twice_is_refused_in_words(teacher, session, later):
    record(teacher, "closure", **SNOW)
    event = event_of(session)
    post(teacher, f"{EVENTS}/{event.id}/undo")
    answer = post(teacher, f"{EVENTS}/{event.id}/undo")
    assert "has undone this already" in get(teacher, answer.location)


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("bells", {"first": "2027-03-05", "schedule": "two_hour_delay"}),
        (
            "station",
            {"first": "2027-03-08", "last": "2027-03-12", "resource": "drill", "places": 1},
        ),
        ("substitute", {"first": "2027-03-09", "last": "2027-03-11"}),
        ("humid", {"first": "2027-04-05", "last": "2027-04-16"}),
        ("parts", {"first": "2027-03-02", "last": "2027-03-30", "steps": ["E44"]}),
        ("pace", {"first": "2027-03-02", "team": "T02", "step": "E30", "minutes": 20}),
        ("away", {"first": "2027-04-23", "teams": ["T01", "T02"]}),
        ("make-up", {"first": "2027-03-12"}),
        ("withdrawn", {"first": "2027-03-02", "student": "S1-09"}),
        ("enrolled", {"first": "2027-03-02", "student": "S1-99", "team": "T01"}),
        ("extra-meeting", {"first": "2027-03-04", "starts_at": "12:15", "minutes": 45}),
    ],
)
def test_every_kind_is_recorded_planned_and_undone(teacher, session, later, kind, data):
    before = current(session).id
    record(teacher, kind, **data)
    after = current(session)
    assert after.id != before
    assert all("has no place" in sentence for sentence in after.broken_rules), after.broken_rules[
        :3
    ]

    event = event_of(session)
    post(teacher, f"{EVENTS}/{event.id}/undo")
    assert current(session).id == before


def test_who_leaves_is_no_longer_in_the_class_until_undone(teacher, session, later):
    record(teacher, "withdrawn", first="2027-03-02", student="S1-09")
    student = sa.select(Student.left).where(Student.code == "S1-09")
    assert session.scalar(student) == dt.date(2027, 3, 2)
    event = event_of(session)
    post(teacher, f"{EVENTS}/{event.id}/undo")
    session.rollback()
    assert session.scalar(student) is None


@pytest.mark.parametrize(
    ("kind", "data", "says"),
    [
        ("closure", {"first": "2026-12-01"}, "outside the term"),
        ("closure", {"first": "2027-02-01"}, "past cannot move"),
        ("closure", {"first": ""}, "Choose a day"),
        ("closure", {"first": "2027-03-05", "last": "2027-03-04"}, "before it begins"),
        ("adult", {"first": "2027-03-15", "count": 1}, "record a substitute"),
        (
            "away",
            {"first": "2027-03-15", "teams": [f"T{n:02d}" for n in range(1, 12)]},
            "closed instead",
        ),
        ("away", {"first": "2027-03-15"}, "needs its teams"),
        (
            "station",
            {"first": "2027-03-01", "last": "2027-05-14", "resource": "bench"},
            "whole term",
        ),
        ("station", {"first": "2027-03-05", "resource": "drill", "places": 9}, "from 0 to 1"),
        ("enrolled", {"first": "2027-03-02", "student": "S1-01", "team": "T01"}, "is taken"),
    ],
)
def test_a_wrong_event_is_refused_in_a_sentence_and_nothing_changes(
    teacher, session, later, kind, data, says
):
    before = current(session).id
    answer = record(teacher, kind, 422, **data)
    assert says in answer.text
    assert current(session).id == before
    assert session.scalar(sa.select(sa.func.count()).select_from(Event)) == 0
    assert not later


def test_the_same_event_twice_is_refused(teacher, session, later):
    record(teacher, "closure", **SNOW)
    answer = record(teacher, "closure", 422, **SNOW)
    assert "recorded already" in answer.text


def test_a_department_head_sees_and_does_not_record(app, later):
    head = signed_in(app, "head")
    page = get(head, EVENTS)
    assert "Record it and plan again" not in page
    assert head.post(f"{EVENTS}?kind=closure", data=SNOW).status_code in {403, 404}


def test_a_snow_day_is_recorded_for_the_other_classes_that_meet_on_it_too(teacher, session, later):
    page = get(teacher, f"{EVENTS}?kind=closure")
    assert "The same for my other classes" in page
    answer = record(teacher, "closure", **SNOW, others=["block-4", "grade-5-box"])
    said = html.unescape(get(teacher, answer.location))
    lost = session.scalars(
        sa.select(Section.key)
        .join(Meeting, Meeting.section_id == Section.id)
        .where(Meeting.date == dt.date(2027, 3, 4), Meeting.state == MeetingState.LOST)
    ).all()
    titles = dict(session.execute(sa.select(Section.key, Section.title)).all())
    assert "period-3" in lost
    for key in ("block-4", "grade-5-box"):
        assert f"Recorded for {titles[key]} too" in said
        assert (key not in lost) == (f"{titles[key]} too: nothing moves" in said)
    assert len(lost) == 2, "the ukulele class has no meeting on that Thursday"


def test_what_concerns_one_class_only_is_not_offered_for_the_others(teacher):
    assert "The same for my other classes" not in get(teacher, f"{EVENTS}?kind=pace")


# --- ways on ------------------------------------------------------------------------------------


def test_ways_on_have_finish_changes_and_price_and_one_click_adopts(teacher, session, later):
    record(teacher, "closure", **SNOW)
    carry_out(later)
    page = get(teacher, f"{ROOT}/options")
    assert "Move only what must move" in page
    section = section_of(session)
    job = jobs.last_job(session, section, "options", done=True)
    found = job.progress["options"]
    assert 2 <= len(found) <= 4
    number = next(n for n, option in enumerate(found) if option["events"])
    assert found[number]["name"] in page
    assert "what moves?" in get(teacher, f"{ROOT}/compare/{job.id}/options/{number}")

    post(teacher, f"{ROOT}/adopt/{job.id}/options/{number}")
    plan = current(session)
    assert plan.reason == found[number]["name"]
    assert plan.teams_complete == found[number]["teams_complete"]
    kept = [row for row in section_of(session).events if row.undone_at is None]
    assert [row.kind for row in kept[1:]] == [facts["kind"] for facts in found[number]["events"]]


def _option(name, *, teams=11, in_time=True, finish="2027-05-05", changes=10, **price):
    """An option with figures of the test's own."""
    values = {
        "cost": 0.0,
        "adult_minutes": 0.0,
        "class_minutes": 0.0,
        "standards_lost": [],
        **price,
    }
    return options.Option(
        name=name,
        events=[],
        finish_date=finish,
        teams_complete=teams,
        teams=11,
        changes=changes,
        broken=[],
        in_time=in_time,
        **values,
    )


def test_a_way_on_that_another_beats_in_every_respect_is_not_shown():
    first = _option("Move only what must move", teams=7, in_time=False, finish=None, changes=12)
    cheap = _option("Leave steps out", changes=40)
    worse = _option("A second adult", changes=40, adult_minutes=2000.0)
    fewer = _option("Extra meetings", changes=20, adult_minutes=180.0)
    shown = options.worth_showing([first, worse, cheap, fewer])
    assert shown == [first, cheap, fewer]


def test_at_least_two_and_at_most_four_ways_on_are_shown():
    first = _option("Move only what must move", changes=1)
    worse = [_option(f"W{n}", changes=10 + n) for n in range(3)]
    assert options.worth_showing([first, *worse]) == [first, worse[0]]
    apart = [_option(f"A{n}", changes=50 - n, adult_minutes=float(n)) for n in range(6)]
    late = _option("Move only what must move", teams=8, in_time=False, finish=None)
    assert len(options.worth_showing([late, *apart])) == 4


def test_steps_the_instrument_can_do_without_are_offered_as_a_smaller_scope(session):
    section = section_of(session)
    standing = recorded_events.standing_of(session, section)
    found = options.made_otherwise(session, section, standing, most=0)[0]
    assert found.name == "A smaller scope: E26, E35 and E36 left out"
    assert (found.cost, found.adult_minutes) == (0, 0)
    assert found.class_minutes < 0
    assert [new.details["by"] for new in found.events] == ["left-out"] * 3


def test_a_team_that_has_begun_a_step_finishes_it_itself_when_the_others_are_supplied(session):
    section = section_of(session)
    before = recorded_events.standing_of(session, section).problem
    begun = {key for key, done in before.done_by_key.items() if not done.finished}
    key = next(k for k in sorted(begun) if k.step == "E16")
    section.ready_made = [*section.ready_made, "E16"]
    session.flush()
    after = recorded_events.standing_of(session, section).problem
    minutes = {k.team: step.ticks for k, step in after.steps.items() if k.step == "E16"}
    assert minutes[key.team] == before.steps[key].ticks
    assert {minutes[k.team] for k in before.steps if k.step == "E16" and k not in begun} == {0}
    session.rollback()


def test_an_option_for_an_older_plan_is_not_adopted_and_the_page_says_what_changed(
    teacher, session, later
):
    record(teacher, "closure", **SNOW)
    carry_out(later)
    job = jobs.last_job(session, section_of(session), "options", done=True)
    record(teacher, "closure", first="2027-03-09", label="Snow")
    newest = current(session).id
    answer = post(teacher, f"{ROOT}/adopt/{job.id}/options/0", 409)
    assert "someone was quicker" in answer.text
    assert current(session).id == newest


# --- by hand ------------------------------------------------------------------------------------


def _movable(session) -> tuple[Plan, Activity]:
    plan = current(session)
    row = next(
        r
        for r in plans.list_activities(session, plan, first=dt.date(2027, 3, 10))
        if r.part == r.parts == 1 and not r.step.whole_class
    )
    return plan, row


def _by_hand(client, plan, row, status=303, **data):
    given = {"team": row.team.code, "step": row.step.key, "seen": plan.id, "meeting": row.meeting_id,
             "rest_meeting": row.meeting_id, **data}  # fmt: skip
    return post(client, f"{ROOT}/by-hand", status, **given)


def test_a_move_that_breaks_rules_names_them_all_and_changes_nothing(teacher, session, later):
    plan, row = _movable(session)
    first = next(
        m
        for m in section_of(session).meetings
        if m.state is MeetingState.PLANNED and m.work_minutes
    )
    at = dt.datetime.combine(first.date, first.starts_at) + dt.timedelta(
        minutes=first.opening_minutes + first.lesson_minutes + first.test_minutes
    )
    answer = _by_hand(teacher, plan, row, 422, action="move", meeting=first.id, at=f"{at:%H:%M}")
    assert "This would break" in answer.text
    assert "Nothing has been changed" in answer.text
    assert current(session).id == plan.id

    _by_hand(teacher, plan, row, action="move", meeting=first.id, at=f"{at:%H:%M}", anyway="y")
    moved = current(session)
    assert moved.id != plan.id
    assert moved.broken_rules


def test_a_change_by_hand_is_undone_and_done_again(teacher, session, later):
    plan, row = _movable(session)
    _by_hand(teacher, plan, row, action="drop", anyway="y")
    dropped = current(session)
    assert not recorded_events.rows_of(session, dropped, row.team.code, row.step.key)
    post(teacher, f"{ROOT}/undo", seen=dropped.id)
    assert current(session).id == plan.id
    post(teacher, f"{ROOT}/redo", seen=plan.id)
    assert current(session).id == dropped.id


def test_what_is_pinned_stays_when_the_term_is_planned_again(teacher, session, later):
    plan, row = _movable(session)
    _by_hand(teacher, plan, row, action="pin")
    pinned = current(session)
    place = [
        (r.meeting_id, r.first_minute, r.minutes)
        for r in recorded_events.rows_of(session, pinned, row.team.code, row.step.key)
    ]
    assert all(
        r.pinned for r in recorded_events.rows_of(session, pinned, row.team.code, row.step.key)
    )
    record(teacher, "closure", **SNOW)
    rows = recorded_events.rows_of(session, current(session), row.team.code, row.step.key)
    assert [(r.meeting_id, r.first_minute, r.minutes) for r in rows] == place


def test_a_change_on_an_old_page_loses_nothing(teacher, session, later):
    plan, row = _movable(session)
    _by_hand(teacher, plan, row, action="pin")
    newest = current(session).id
    answer = _by_hand(teacher, plan, row, 409, action="drop", anyway="y")
    assert "someone was quicker" in answer.text
    assert current(session).id == newest


# --- fit and losses -----------------------------------------------------------------------------


def test_the_fit_check_says_the_share_its_interval_and_what_helps(teacher, session, later):
    assert "A plan that only fits when nobody is ill does not fit" in get(teacher, f"{ROOT}/fit")
    post(teacher, f"{ROOT}/fit")
    carry_out(later)
    page = get(teacher, f"{ROOT}/fit")
    assert "95 % interval" in page
    assert "As planned" in page
    job = jobs.last_job(session, section_of(session), "fit", done=True)
    gains = [row["gain"] for row in job.progress["changes"]]
    assert gains == sorted(gains, reverse=True)


# --- command line -------------------------------------------------------------------------------


@pytest.fixture
def run(app, monkeypatch):
    from app.cli import command

    monkeypatch.setenv("STRINGCOURSE_DATABASE", app.config["STRINGCOURSE"].database_url)
    return lambda *words: CliRunner().invoke(command, words)


def test_fit_on_the_command_line_is_the_same_with_one_and_two_processes(run):
    words = ("fit", "--section", "period-3", "--terms", "12", "--json")
    one = run(*words, "--workers", "1")
    two = run(*words, "--workers", "2")
    assert one.exit_code == 0, one.output
    assert json.loads(one.stdout) == json.loads(two.stdout)


def test_replan_on_the_command_line_gives_options_and_records_nothing(
    run, later, session, tmp_path
):
    file = tmp_path / "event.json"
    file.write_text(
        json.dumps({"kind": "closure", "first": "2027-03-04", "details": {"label": "Snow"}})
    )
    before = current(session).id
    answer = run("replan", "--section", "period-3", "--event", str(file), "--json")
    assert answer.exit_code == 0, answer.output
    options = json.loads(answer.stdout)["options"]
    assert {"finish_date", "changes", "cost", "standards_lost"} <= set(options[0])
    assert current(session).id == before
    assert session.scalar(sa.select(sa.func.count()).select_from(Event)) == 0


@pytest.mark.parametrize(
    "text", ["not json", "{}", '{"kind": "flood", "first": "2027-03-04"}', "[1]"]
)
def test_a_file_that_is_no_event_is_refused(run, later, tmp_path, text):
    file = tmp_path / "event.json"
    file.write_text(text)
    assert run("replan", "--section", "period-3", "--event", str(file)).exit_code != 0
