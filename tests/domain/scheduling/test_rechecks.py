"""A team nobody of whom is signed off any more waits for a re-check; dates worked by hand.

The room is invented: one team, one bandsaw, meetings of 4 ticks on the days from Monday 4 January
2027 on. Source: the rules of the planner, solved by hand.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.scheduling.check import check
from app.domain.scheduling.problem import (
    Axis,
    AxisMeeting,
    Done,
    Problem,
    StationPlaces,
    StepWork,
    TeamWork,
    Use,
)
from app.domain.scheduling.rechecks import Held, Lapse, counted_on, held_back, lapse_of
from app.domain.scheduling.schedule import PlannedActivity, Schedule, Sitting, TaskKey
from app.domain.scheduling.search.solve import solve

MONDAY = date(2027, 1, 4)
PERMITS = {"saw": "P-SAW"}
SUSPENDED = Lapse("A", "P-SAW", "Bandsaw", MONDAY, suspended=True)


def room(days=4, now=0, teams=("A", "B"), done=()):
    """Each team saws for 2 ticks and sands for 2."""
    steps = (
        StepWork("saw", ticks=2, stations=(Use("bandsaw"),)),
        StepWork("sand", ticks=2),
    )
    meetings = tuple(
        AxisMeeting(start=datetime.combine(MONDAY + timedelta(days=n), time(10)), ticks=4)
        for n in range(days)
    )
    return Problem(
        axis=Axis(meetings),
        stations=(StationPlaces("bandsaw", places=1),),
        teams=tuple(TeamWork(team, steps) for team in teams),
        now=now,
        done=tuple(done),
    )


def plan(**places):
    return Schedule(
        tuple(
            PlannedActivity(TaskKey("", *name.split("_")), (Sitting(tick, 2),))
            for name, tick in places.items()
        )
    )


def earliest(problem, team, step="saw"):
    return problem.steps[TaskKey("", team, step)].earliest_tick


def test_only_the_team_and_the_steps_behind_the_sign_off_wait_for_the_meeting_after_the_next():
    held = held_back(room(), "", [SUSPENDED], PERMITS)
    second_meeting = 4
    assert earliest(held, "A") == second_meeting
    assert earliest(held, "A", "sand") == 0
    assert earliest(held, "B") == 0


def test_the_checker_names_who_and_why_where_a_plan_puts_the_step_into_the_next_meeting():
    held = held_back(room(teams=("A",)), "", [SUSPENDED], PERMITS)
    too_soon = check(held, plan(A_saw=0, A_sand=2))
    assert [violation.rule for violation in too_soon] == ["release"]
    assert (
        "nobody in A is signed off for Bandsaw until a re-check (suspended)" in too_soon[0].sentence
    )
    assert "5 Jan" in too_soon[0].sentence
    assert check(held, plan(A_sand=0, A_saw=4)) == []


def test_a_plan_is_made_around_it():
    held = held_back(room(), "", [SUSPENDED], PERMITS)
    schedule = solve(held, work=0.2).schedule
    assert check(held, schedule) == []
    assert schedule.by_key[TaskKey("", "A", "saw")].start >= 4
    assert schedule.by_key[TaskKey("", "B", "saw")].start < 4


def test_what_is_left_of_a_step_that_has_begun_waits_too():
    begun = Done(TaskKey("", "A", "saw"), (Sitting(0, 1),), finished=False)
    held = held_back(room(now=4, teams=("A",), done=[begun]), "", [SUSPENDED], PERMITS)

    def saw(tick):
        sittings = (Sitting(0, 1), Sitting(tick, 1))
        return plan(A_sand=6).replaced(PlannedActivity(TaskKey("", "A", "saw"), sittings))

    assert [violation.rule for violation in check(held, saw(4))] == ["release"]
    assert check(held, saw(8)) == []


def test_a_sign_off_that_ends_later_holds_nothing_back_yet():
    later = replace(SUSPENDED, since=MONDAY + timedelta(days=1), suspended=False)
    assert held_back(room(), "", [later], PERMITS) == room()
    on_the_day = replace(later, since=MONDAY)
    assert earliest(held_back(room(), "", [on_the_day], PERMITS), "A") == 4


def test_in_the_last_meeting_nothing_is_left_to_wait_for():
    held = held_back(room(days=2, now=4), "", [SUSPENDED], PERMITS)
    assert earliest(held, "A") == held.axis.ticks
    over = room(days=1, now=4)
    assert held_back(over, "", [SUSPENDED], PERMITS) == over


@pytest.mark.parametrize(
    ("held", "since", "suspended"),
    [
        ([], None, False),
        ([Held()], None, False),
        ([Held(suspended=True)], MONDAY, True),
        ([Held(suspended=True), Held()], None, False),
        ([Held(ends=date(2027, 2, 1)), Held(ends=date(2027, 3, 1))], date(2027, 3, 1), False),
        ([Held(ends=date(2027, 2, 1)), Held(suspended=True)], date(2027, 2, 1), False),
        ([Held(ends=date(2027, 2, 1), suspended=True)], MONDAY, True),
    ],
)
def test_a_team_lapses_with_the_last_of_its_sign_offs(held, since, suspended):
    found = lapse_of("A", "P-SAW", "Bandsaw", held, MONDAY)
    expected = None if since is None else Lapse("A", "P-SAW", "Bandsaw", since, suspended)
    assert found == expected


DAYS = st.dates(min_value=date(2027, 1, 1), max_value=date(2027, 12, 31))


def test_a_sign_off_that_lost_a_part_holds_the_team_back_until_a_re_check():
    found = lapse_of("A", "P-SAW", "Bandsaw", [Held(broken=True)], MONDAY)
    assert found is not None
    assert (found.since, found.why) == (MONDAY, "a part of it counts no more")
    assert lapse_of("A", "P-SAW", "Bandsaw", [Held(broken=True), Held()], MONDAY) is None
    ends = Held(ends=MONDAY + timedelta(days=30))
    later = lapse_of("A", "P-SAW", "Bandsaw", [Held(broken=True), ends], MONDAY)
    assert later is not None
    assert later.why == "ended on Wed 3 Feb"


@given(st.lists(st.builds(Held, st.none() | DAYS, st.booleans()), max_size=5), DAYS)
def test_one_more_sign_off_that_stays_keeps_the_team_signed_off(held, on):
    assert lapse_of("A", "P-SAW", "Bandsaw", [*held, Held()], on) is None


def test_a_plan_counts_on_a_re_check_by_the_first_day_it_is_needed():
    ends = replace(SUSPENDED, team="B", since=date(2027, 1, 6), suspended=False)
    planned = [
        ("A", "P-SAW", date(2027, 1, 7)),
        ("A", "P-SAW", date(2027, 1, 5)),
        ("B", "P-SAW", date(2027, 1, 5)),
        ("B", "P-SAW", date(2027, 1, 6)),
        ("B", "P-DRILL", date(2027, 1, 8)),
    ]
    found = counted_on([SUSPENDED, ends], planned)
    assert [(item.lapse.team, item.by) for item in found] == [
        ("A", date(2027, 1, 5)),
        ("B", date(2027, 1, 6)),
    ]
    assert counted_on([ends], planned[:3]) == ()
