"""Sections that share a room do not take the same clamp, rack place or mould twice."""

import datetime as dt

from app.domain.scheduling.axis import Axis, AxisMeeting
from app.store import sections
from app.store.plan import plans
from app.store.plan.section_problem import board_of
from app.store.plan.shared_room import _outages, taken_elsewhere


def at(day, hour, minute=0):
    return dt.datetime(2027, 1, day, hour, minute)  # noqa: DTZ001 - school time


def test_a_hold_of_another_class_leaves_fewer_until_it_ends():
    # By hand: two meetings of four ticks; 3 of 5 clamps are taken from the second tick of the
    # first meeting (10:05) until 10:30 the same day, so that only ticks 1 to 3 have 2 left.
    axis = Axis(
        (
            AxisMeeting(start=at(5, 10), ticks=4, offset_minutes=0),
            AxisMeeting(start=at(6, 10), ticks=4, offset_minutes=0),
        )
    )

    found = _outages(axis, [(at(5, 10, 5), at(5, 10, 30), 3)], 5)

    assert [(item.first_tick, item.end_tick, item.places) for item in found] == [(1, 4, 2)]


def test_sample_sections_know_what_the_others_hold(session):
    section = sections.find_section(session, "block-4")
    board = board_of(session, section)

    _, fixtures = taken_elsewhere(session, section, board.problem.axis)

    assert fixtures["store"]
    assert all(0 <= item.places < 48 for item in fixtures["store"])
    assert plans.current_plan(session, section).broken_rules == []
