"""A small section whose best plan is found by hand, and what a new plan may not touch."""

import datetime as dt
from itertools import count

import pytest

from app.domain.scheduling import calendar
from app.jobs.planning import plan_section
from app.jobs.remedies import try_remedies
from app.models import (
    Activity,
    Build,
    Course,
    Meeting,
    MeetingState,
    Phase,
    Progress,
    Room,
    School,
    Section,
    Station,
    Step,
    Student,
    User,
)
from app.store import sections
from app.store.plan import plans

NOW = dt.datetime(2027, 3, 1, 8, tzinfo=dt.UTC)
MONDAY = dt.date(2027, 3, 1)


def step(key, station, after=(), **changes):
    values = {
        "position": 0,
        "key": key,
        "title": f"Step {key}",
        "purpose": "",
        "minutes_low": 20,
        "minutes_typical": 35,
        "minutes_high": 60,
        "minutes_per": "team",
        "hands": 1,
        "one_sitting": True,
        "minimum_sitting": 35,
        "whole_class": False,
        "station": station,
        "places": 1,
        "outside_class": False,
        "drying": None,
        "holds": [],
        "hazard_class": "desk",
        "hazards": [],
        "cautions": [],
        "protection": [],
        "supervision": "in-room",
        "permit": None,
        "grants": [],
        "substitute_safe": True,
        "hold_point": False,
        "after": list(after),
        "tools": [],
        "check": None,
        "ready_made": [],
        "catch_up": "",
    }
    return Step(**{**values, **changes})


def station(key, places):
    return Station(
        key=key,
        title=key.title(),
        places=places,
        hazard_class="desk",
        supervision="in-room",
        zone=None,
        permit=None,
        substitute_safe=True,
        level_dba=None,
    )


def small_section(session, *, glue_places=1, **glue):
    """Two teams, Monday to Friday, 35 bench minutes a day; glue (35 min) dries over night."""
    school = session.query(School).one()
    build = Build(
        school_id=school.id,
        key="small",
        version="1",
        title="Small build",
        summary="",
        band="9-12",
        team_size=1,
        currency="USD",
        note="",
        quantities=[],
        strings=[],
        no_treatment=[],
        phases=[
            Phase(
                position=0,
                key="only",
                title="Only phase",
                summary="",
                milestone="Done.",
                steps=[
                    step(
                        "glue",
                        "press",
                        drying={"hours": {"low": 8, "typical": 12, "high": 16}},
                        **glue,
                    ),
                    step("sand", "table", after=["glue"], position=1),
                ],
            )
        ],
    )
    room = Room(
        school=school,
        title="Small room",
        stations=[station("press", glue_places), station("table", 2)],
    )
    session.add_all([build, room])
    term = sections.create_term(
        session,
        school,
        calendar.TermCalendar(
            MONDAY + dt.timedelta(days=364), MONDAY + dt.timedelta(days=368), title="One week"
        ),
    )
    section = sections.create_section(
        session,
        sections.NewSection(
            key="small",
            title="Small section",
            starts_at=dt.time(9),
            pattern={"weekdays": [0, 1, 2, 3, 4]},
            bells={"regular": 47},
            opening_minutes=5,
            closing_minutes=7,
            routine={"lesson_minutes": 0},
        ),
        course=session.query(Course).first(),
        term=term,
        teacher=session.query(User).filter_by(email="teacher@demo.example").one(),
        room=room,
        build=build,
    )
    for number, code in enumerate(("T01", "T02"), 1):
        team = sections.create_team(session, section, code)
        session.add(Student(code=f"P-{number}", section_id=section.id, team_id=team.id))
    session.flush()
    return section


def placed(session, plan):
    """(team, step) → weekday number of the term, from 1, for a plan of one week."""
    session.flush()
    return {
        (row.team.code, row.step.key): row.meeting.number
        for row in plans.list_activities(session, plan)
    }


def make_plan(session, section, **options):
    return plan_section(session, section, by="test", now=NOW, **options)


def test_one_press_and_a_night_of_drying_make_three_days(session):
    # By hand: the press holds one team a day (35 of 35 minutes), so the second team glues on day 2,
    # its glue is dry after 12 hours, and it sands on day 3. No order is better.
    section = small_section(session)

    plan = make_plan(session, section)

    at = placed(session, plan)
    assert sorted(at[team, "glue"] for team in ("T01", "T02")) == [1, 2]
    assert all(at[team, "sand"] > at[team, "glue"] for team in ("T01", "T02"))
    assert plan.status == "optimal"
    assert plan.finish_date == section.meetings[2].date
    assert plan.broken_rules == []
    assert (plan.teams_complete, plan.teams, plan.gap_meetings) == (2, 2, 0)


def test_drying_longer_than_a_night_moves_the_sanding_a_day(session):
    # By hand: glued on day 2 at 9:40, 30 hours later is day 3 at 15:40, after the meeting.
    section = small_section(session)
    glue = section.build.phases[0].steps[0]
    glue.drying = {"hours": {"low": 24, "typical": 30, "high": 36}}

    plan = make_plan(session, section)

    assert plan.finish_date == section.meetings[3].date


def test_a_second_press_is_found_as_what_saves_a_day(session):
    section = small_section(session)
    make_plan(session, section)

    found = try_remedies(session, section, work=0.5)

    press = next(item for item in found["changes"] if "Press" in item["name"])
    assert found["base"]["finish_date"] == section.meetings[2].date.isoformat()
    assert press["meetings_sooner"] == 1
    assert press["finish_date"] == section.meetings[1].date.isoformat()


def test_a_new_plan_keeps_what_was_taught(session):
    section = small_section(session)
    first = make_plan(session, section)
    before = placed(session, first)
    monday = section.meetings[0]
    monday.state = MeetingState.TAUGHT
    for row in plans.list_activities(session, first, last=monday.date):
        session.add(
            Progress(
                team=row.team,
                step=row.step,
                meeting=monday,
                event="done",
                recorded_at=NOW,
                recorded_by="test",
            )
        )
    section.meetings[1].state = MeetingState.LOST

    second = make_plan(session, section, reason="Tuesday lost")

    after = placed(session, second)
    done = [key for key, number in before.items() if number == 1]
    assert done
    assert [after[key] for key in done] == [1] * len(done)
    assert 2 not in after.values()
    assert second.finish_date == section.meetings[3].date
    assert (first.current, second.current) == (False, True)


def test_the_same_section_and_search_give_the_same_plan(session):
    def rows():
        section = session.query(Section).filter_by(key="period-3").one()
        looks = count()
        plan = make_plan(session, section, should_stop=lambda: next(looks) >= 20)
        found = [
            (row.team.code, row.step.key, row.meeting.number, row.first_minute)
            for row in plans.list_activities(session, plan)
        ]
        session.rollback()
        return sorted(found)

    assert rows() == rows()


def test_a_team_without_students_or_record_is_not_planned_and_one_with_a_record_is(session):
    section = small_section(session)
    empty = sections.create_team(session, section, "T03")
    begun = sections.create_team(session, section, "T04")
    session.add(
        Progress(
            team=begun, step=section.build.phases[0].steps[0], meeting=section.meetings[0],
            event="spoiled", recorded_at=NOW, recorded_by="test",
        )
    )  # fmt: skip
    session.flush()

    plan = make_plan(session, section)

    assert plan.teams == 3
    planned = {team for team, _ in placed(session, plan)}
    assert empty.code not in planned
    assert begun.code in planned


def test_a_section_without_teams_is_refused_in_a_sentence(session):
    section = small_section(session)
    section.teams.clear()
    session.flush()

    with pytest.raises(ValueError, match="no teams yet"):
        make_plan(session, section)


def test_a_station_without_places_that_a_step_needs_is_refused_in_a_sentence(session):
    section = small_section(session, glue_places=0)

    with pytest.raises(ValueError, match=r"needs 1 places at press, which has 0: add places"):
        make_plan(session, section)


def test_drying_longer_than_the_term_is_a_result_with_reasons(session):
    section = small_section(session)
    section.build.phases[0].steps[0].drying = {"hours": {"low": 200, "typical": 300, "high": 400}}

    plan = make_plan(session, section)

    assert plan.teams_complete == 0
    assert plan.finish_date is None
    assert any("sand" in sentence for sentence in plan.broken_rules)
    assert plan.facts["reasons"]


def test_days_with_a_substitute_have_no_power_and_no_qualified_adult(session):
    section = small_section(session)
    day = section.meetings[1].date.isoformat()

    sections.change_routine(
        session,
        section,
        routine=section.routine,
        staff_changes=[{"first": day, "last": day, "qualified": 0, "machine_power": False}],
    )

    power = [m.machine_power for m in section.meetings]
    assert power == [power[0], False, *[power[0]] * 3]


def test_a_full_workshop_day_has_a_meeting_for_each_block(session):
    section = small_section(session)
    section.pattern = {**section.pattern, "more_blocks": [{"starts_at": "13:00", "minutes": 180}]}

    meetings = sections.save_meetings(session, section)

    first = sorted((m.date, m.starts_at, m.minutes) for m in meetings)[:2]
    assert first == [
        (section.term.first_day, dt.time(9), 47),
        (section.term.first_day, dt.time(13), 180),
    ]
    assert len(meetings) == 10


def test_a_meeting_without_class_stays_on_record_and_comes_back(session):
    section = small_section(session)
    day = section.meetings[2].date
    term = sections.term_value(section.term)

    sections.save_term_days(session, section.term, calendar.amended(term, calendar.closures(day)))
    session.refresh(section.term, ["days"])
    sections.save_meetings(session, section)
    row = session.query(Meeting).filter_by(section_id=section.id, date=day).one()
    assert row.state is MeetingState.LOST

    sections.save_term_days(session, section.term, term)
    session.refresh(section.term, ["days"])
    sections.save_meetings(session, section)
    assert row.state is MeetingState.PLANNED


def test_the_sample_sections_plan_holds_and_completes_every_team(session):
    section = session.query(Section).filter_by(key="period-3").one()
    plan = plans.current_plan(session, section)

    assert plan.broken_rules == []
    assert (plan.teams_complete, plan.teams) == (11, 11)
    assert session.query(Activity).filter_by(plan_id=plan.id).count() > 500
    weeks = {lesson.meeting.week for lesson in plans.list_lessons(session, plan)}
    assert len([week for week in weeks if week >= 9]) >= 5
