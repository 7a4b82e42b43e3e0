"""When drying work is out of hand: the record before the plan, and never in a meeting not held."""

# ruff: noqa: DTZ001 - a class meets by the clock on its wall

import datetime as dt

import pytest

from app.models import MeetingState
from app.store.plan.plan_days import End, PlanDay, out_of_hand

MONDAY = dt.date(2027, 3, 1)


def day(number, state):
    date = MONDAY + dt.timedelta(days=number)
    return PlanDay(number, number, date, dt.time(9), 50, state)


END = End(team_id=7, team="T07", step_id=3, meeting_id=0, minutes=30)


@pytest.mark.parametrize("state", [MeetingState.TAUGHT, MeetingState.LOST])
def test_unrecorded_work_of_a_meeting_taught_or_lost_is_not_out_of_hand(state):
    assert list(out_of_hand([END], [day(0, state)], {})) == []


def test_work_still_to_come_is_out_of_hand_when_the_plan_ends_it():
    found = list(out_of_hand([END], [day(0, MeetingState.PLANNED)], {}))
    assert found == [(END, dt.datetime(2027, 3, 1, 9, 30))]


def test_work_recorded_in_another_meeting_is_out_of_hand_at_its_end():
    days = [day(0, MeetingState.LOST), day(1, MeetingState.TAUGHT)]
    found = list(out_of_hand([END], days, {(7, 3): 1}))
    assert found == [(END, dt.datetime(2027, 3, 2, 9, 50))]
