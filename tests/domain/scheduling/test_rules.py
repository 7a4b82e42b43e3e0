"""Hand-solvable rooms: in each one rule alone decides, and one corrupted plan breaks that rule.

Every room is small enough to be solved on paper; the reasoning stands beside it. A finish is the
tick after the last one in use. Source: the rules of the planner, solved by hand.
"""

# ruff: noqa: DTZ001 - a class meets by the clock on its wall

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

import pytest

from app.domain.scheduling.check import check
from app.domain.scheduling.problem import (
    After,
    Axis,
    AxisMeeting,
    Done,
    FixtureHold,
    FixturePlaces,
    Outage,
    Problem,
    SafetyBriefing,
    Splitting,
    StationPlaces,
    StepWork,
    Supervision,
    TeamWork,
    Use,
)
from app.domain.scheduling.schedule import PlannedActivity, Schedule, Sitting, Status, TaskKey
from app.domain.scheduling.search.solve import solve

ONE = Splitting.ONE_SITTING
AT = Supervision.AT_THE_MACHINE
SIGHT = Supervision.LINE_OF_SIGHT


def daily(*ticks: int, adults: int = 1, power: tuple[bool, ...] = ()) -> Axis:
    """Meetings on the days from Monday 4 January 2027 on, at 10:00."""
    on = power or (True,) * len(ticks)
    return Axis(
        tuple(
            AxisMeeting(
                start=datetime(2027, 1, 4 + d, 10),
                ticks=n,
                offset_minutes=0,
                adults=adults,
                power=on[d],
            )
            for d, n in enumerate(ticks)
        )
    )


def plan(**places: tuple[tuple[int, int], ...]) -> Schedule:
    """A plan of `team_step=((tick, ticks), ...)`."""
    return Schedule(
        tuple(
            PlannedActivity(TaskKey("", *name.split("_")), tuple(Sitting(*run) for run in runs))
            for name, runs in places.items()
        )
    )


@dataclass(frozen=True)
class Room:
    rule: str
    problem: Problem
    finish: int
    broken: Schedule


def rooms() -> list[Room]:
    two = (StepWork("cut", ticks=3), StepWork("sand", ticks=2))
    chain = (StepWork("cut", ticks=3), StepWork("sand", ticks=2, after=("cut",)))
    saw = (StepWork("cut", ticks=3, stations=(Use("saw"),)),)
    return [
        # 3 + 2 ticks of one team, one after the other.
        Room(
            "team",
            Problem(axis=daily(6), teams=(TeamWork("A", two),)),
            5,
            plan(A_cut=((0, 3),), A_sand=((2, 2),)),
        ),
        # A team that may be in two places: only the order counts.
        Room(
            "precedence",
            Problem(axis=daily(6), teams=(TeamWork("A", chain, one_place=False),)),
            5,
            plan(A_cut=((0, 3),), A_sand=((1, 2),)),
        ),
        # Glue ends at 10:15 on Monday; 24 hours later is the fourth tick of Tuesday: 4 + 3 = 7.
        Room(
            "drying",
            Problem(
                axis=daily(4, 6),
                teams=(
                    TeamWork(
                        "A",
                        (
                            StepWork("glue", ticks=3, drying_minutes=1440),
                            StepWork("sand", ticks=2, after=("glue",)),
                        ),
                    ),
                ),
            ),
            9,
            plan(A_glue=((0, 3),), A_sand=((6, 2),)),
        ),
        # Two teams of 3 ticks at a saw with one place.
        Room(
            "station",
            Problem(
                axis=daily(8),
                stations=(StationPlaces("saw", 1),),
                teams=(TeamWork("A", saw), TeamWork("B", saw)),
            ),
            6,
            plan(A_cut=((0, 3),), B_cut=((2, 3),)),
        ),
        # The saw is out for ticks 0 to 2: two sittings of the rest start at 2.
        Room(
            "station",
            Problem(
                axis=daily(8),
                stations=(StationPlaces("saw", 1, outages=(Outage(0, 2),)),),
                teams=(TeamWork("A", saw),),
            ),
            5,
            plan(A_cut=((1, 3),)),
        ),
        # 4 ticks in sittings of 2 or more, meetings of 3, 1 and 3: 3, then 1 that remains, on day 2.
        # With 5 ticks: 3, nothing of 1 on day 2, 2 on day 3.
        Room(
            "minimum sitting",
            Problem(
                axis=daily(3, 1, 3),
                teams=(TeamWork("A", (StepWork("rout", ticks=5, minimum_sitting=2),)),),
            ),
            6,
            plan(A_rout=((0, 3), (3, 1), (4, 1))),
        ),
        # 3 ticks in one sitting do not fit the 2 of Monday.
        Room(
            "one sitting",
            Problem(
                axis=daily(2, 4),
                teams=(TeamWork("A", (StepWork("glue", ticks=3, splitting=ONE),)),),
            ),
            5,
            plan(A_glue=((0, 2), (2, 1))),
        ),
        # Unbroken work runs over the end of Monday, but not around the outage in tick 1.
        Room(
            "unbroken",
            Problem(
                axis=daily(3, 4),
                stations=(StationPlaces("saw", 1, outages=(Outage(1, 2),)),),
                teams=(
                    TeamWork(
                        "A",
                        (
                            StepWork(
                                "cut", ticks=3, splitting=Splitting.UNBROKEN, stations=(Use("saw"),)
                            ),
                        ),
                    ),
                ),
            ),
            5,
            plan(A_cut=((0, 1), (2, 1), (3, 1))),
        ),
        # One adult stands at one machine: 3 + 3 at two saws.
        Room(
            "supervision",
            Problem(
                axis=daily(8),
                stations=(StationPlaces("saw", 2),),
                teams=tuple(TeamWork(t, (replace(saw[0], supervision=AT),)) for t in "AB"),
            ),
            6,
            plan(A_cut=((0, 3),), B_cut=((2, 3),)),
        ),
        # Three zones cannot be watched by one adult: two at once, then the third.
        Room(
            "supervision",
            Problem(
                axis=daily(8),
                stations=tuple(StationPlaces(z, 2, zone=z) for z in "xyz"),
                teams=tuple(
                    TeamWork(
                        t,
                        (
                            StepWork(
                                "do", ticks=2, splitting=ONE, stations=(Use(z),), supervision=SIGHT
                            ),
                        ),
                    )
                    for t, z in zip("ABC", "xyz", strict=True)
                ),
            ),
            4,
            plan(A_do=((0, 2),), B_do=((0, 2),), C_do=((1, 2),)),
        ),
        # Power off on Monday: sawing waits for Tuesday.
        Room(
            "power",
            Problem(
                axis=daily(4, 4, power=(False, True)),
                teams=(TeamWork("A", (StepWork("cut", ticks=3),)),),
            ),
            7,
            plan(A_cut=((0, 3),)),
        ),
        # One clamp, held two hours after each glue-up: the second team glues on Tuesday.
        Room(
            "fixture",
            Problem(
                axis=daily(8, 8),
                fixtures=(FixturePlaces("clamp", 1),),
                teams=tuple(
                    TeamWork(
                        t, (StepWork("glue", ticks=2, holds=(FixtureHold("clamp", minutes=120),)),)
                    )
                    for t in "AB"
                ),
            ),
            10,
            plan(A_glue=((0, 2),), B_glue=((2, 2),)),
        ),
        # One mould from bending to closing: 2 + 2 ticks of A, then 2 + 2 of B.
        Room(
            "fixture",
            Problem(
                axis=daily(10),
                fixtures=(FixturePlaces("mould", 1),),
                teams=tuple(
                    TeamWork(
                        t,
                        (
                            StepWork("bend", ticks=2, holds=(FixtureHold("mould", until="close"),)),
                            StepWork("close", ticks=2, after=("bend",)),
                        ),
                    )
                    for t in "AB"
                ),
            ),
            8,
            plan(A_bend=((0, 2),), A_close=((6, 2),), B_bend=((2, 2),), B_close=((4, 2),)),
        ),
        # The class meets together only when the slower start is over: 3, then 2 together.
        Room(
            "whole class",
            Problem(
                axis=daily(6),
                teams=(
                    TeamWork("A", (StepWork("talk", ticks=2, whole_class=True, earliest_tick=3),)),
                    TeamWork("B", (StepWork("talk", ticks=2, whole_class=True),)),
                ),
            ),
            5,
            plan(A_talk=((3, 2),), B_talk=((0, 2),)),
        ),
        # Check-outs are one after another, whatever the number of machines.
        Room(
            "check-out",
            Problem(
                axis=daily(6),
                teams=tuple(TeamWork(t, (StepWork("show", ticks=2, observed=True),)) for t in "AB"),
            ),
            4,
            plan(A_show=((0, 2),), B_show=((1, 2),)),
        ),
        Room(
            "briefing",
            Problem(
                axis=daily(4, 4),
                stations=(StationPlaces("saw", 1),),
                briefings=(SafetyBriefing("", "saw", 4),),
                teams=(TeamWork("A", saw),),
            ),
            7,
            plan(A_cut=((0, 3),)),
        ),
        Room(
            "release",
            Problem(
                axis=daily(8), teams=(TeamWork("A", (StepWork("cut", ticks=3, earliest_tick=2),)),)
            ),
            5,
            plan(A_cut=((1, 3),)),
        ),
        # Both want the saw first; only B has a date.
        Room(
            "deadline",
            Problem(
                axis=daily(8),
                stations=(StationPlaces("saw", 1),),
                teams=(TeamWork("A", saw), TeamWork("B", (replace(saw[0], deadline_tick=3),))),
            ),
            6,
            plan(A_cut=((0, 3),), B_cut=((3, 3),)),
        ),
        # Two ticks were worked on Monday; two remain from now on.
        Room(
            "past",
            Problem(
                axis=daily(4, 4),
                now=4,
                done=(Done(TaskKey("", "A", "cut"), (Sitting(1, 2),), finished=False),),
                teams=(TeamWork("A", (StepWork("cut", ticks=4),)),),
            ),
            6,
            plan(A_cut=((0, 2), (4, 2))),
        ),
        Room(
            "pin",
            Problem(
                axis=daily(8),
                pins=(PlannedActivity(TaskKey("", "A", "cut"), (Sitting(4, 3),)),),
                teams=(TeamWork("A", (StepWork("cut", ticks=3),)),),
            ),
            7,
            plan(A_cut=((0, 3),)),
        ),
        # Done by an adult between meetings: what follows waits for Tuesday.
        Room(
            "drying",
            Problem(
                axis=daily(8, 8),
                teams=(
                    TeamWork(
                        "A",
                        (
                            StepWork("mark", ticks=2),
                            StepWork("plane", ticks=0, after=("mark",), outside_class=True),
                            StepWork("glue", ticks=2, after=("plane",)),
                        ),
                    ),
                ),
            ),
            10,
            plan(A_mark=((0, 2),), A_plane=((2, 0),), A_glue=((3, 2),)),
        ),
        # A lag of ticks between two pieces of work.
        Room(
            "drying",
            Problem(
                axis=daily(8),
                teams=(
                    TeamWork(
                        "A",
                        (
                            StepWork("a", ticks=2),
                            StepWork("b", ticks=2, after=(After("a", ticks=3),)),
                        ),
                    ),
                ),
            ),
            7,
            plan(A_a=((0, 2),), A_b=((3, 2),)),
        ),
        Room(
            "length",
            Problem(axis=daily(6), teams=(TeamWork("A", two[:1]),)),
            3,
            plan(A_cut=((0, 2),)),
        ),
        Room(
            "missing", Problem(axis=daily(6), teams=(TeamWork("A", two),)), 5, plan(A_cut=((0, 3),))
        ),
        Room(
            "meeting",
            Problem(axis=daily(2, 4), teams=(TeamWork("A", two[:1]),)),
            3,
            plan(A_cut=((1, 3),)),
        ),
    ]


IDS = [f"{n:02d}-{room.rule.replace(' ', '-')}" for n, room in enumerate(rooms())]


@pytest.mark.parametrize("room", rooms(), ids=IDS)
def test_the_rule_decides_the_finish_as_on_paper(room: Room) -> None:
    result = solve(room.problem, work=1)

    assert check(room.problem, result.schedule) == []
    assert (result.cost.finish, result.status) == (room.finish, Status.OPTIMAL)


@pytest.mark.parametrize("room", rooms(), ids=IDS)
def test_a_corrupted_plan_is_reported_as_exactly_that_rule(room: Room) -> None:
    violations = check(room.problem, room.broken)

    assert [violation.rule for violation in violations] == [room.rule]
    assert violations[0].sentence.endswith((".", ")"))


def test_an_activity_of_no_known_step_is_reported() -> None:
    problem = Problem(axis=daily(6), teams=(TeamWork("A", (StepWork("cut", ticks=3),)),))
    strange = plan(A_cut=((0, 3),), A_fly=((3, 1),))

    assert [violation.rule for violation in check(problem, strange)] == ["unknown"]


def test_two_adults_stand_at_two_machines_at_once() -> None:
    step = StepWork("cut", ticks=3, supervision=AT)
    problem = Problem(
        axis=daily(8, adults=2), teams=(TeamWork("A", (step,)), TeamWork("B", (step,)))
    )

    assert solve(problem, work=1).cost.finish == 3


def test_a_zone_is_watched_once_however_many_work_in_it() -> None:
    step = StepWork("solder", ticks=3, stations=(Use("iron"),), supervision=SIGHT)
    problem = Problem(
        axis=daily(8),
        stations=(StationPlaces("iron", 4, zone="electronics"),),
        teams=tuple(TeamWork(t, (step,)) for t in "ABCD"),
    )

    assert solve(problem, work=1).cost.finish == 3


def test_two_sections_share_a_fixture_between_their_meetings() -> None:
    # Section 1 glues at 10:00 and holds the only mould for four hours; section 2 meets at 13:00
    # and can glue only on the next day.
    meetings = tuple(
        AxisMeeting(start=datetime(2027, 1, day, hour), ticks=3, offset_minutes=0, section=section)
        for day in (4, 5)
        for section, hour in (("one", 10), ("two", 13))
    )
    steps = (StepWork("glue", ticks=2, holds=(FixtureHold("mould", minutes=240),)),)
    problem = Problem(
        axis=Axis(meetings),
        fixtures=(FixturePlaces("mould", 1),),
        teams=(TeamWork("A", steps, "one"), TeamWork("A", steps, "two")),
    )
    result = solve(problem, work=1)

    starts = {a.key.section: a.start for a in result.schedule.activities}
    assert (check(problem, result.schedule), result.status) == ([], Status.OPTIMAL)
    # One of the two glues on Monday, the other at the earliest on Tuesday.
    assert sorted(starts.values())[1] >= 6


def test_two_sections_in_the_room_at_once_share_its_stations() -> None:
    meetings = tuple(
        AxisMeeting(
            start=datetime(2027, 1, 4, 10, minute), ticks=6, offset_minutes=0, section=section
        )
        for section, minute in (("one", 0), ("two", 15))
    )
    steps = (StepWork("cut", ticks=3, stations=(Use("saw"),)),)
    problem = Problem(
        axis=Axis(meetings),
        stations=(StationPlaces("saw", 1),),
        teams=tuple(TeamWork(t, steps, section) for section in ("one", "two") for t in "A"),
    )
    result = solve(problem, work=1)

    assert problem.axis.ticks == 9
    assert (check(problem, result.schedule), result.cost.finish) == ([], 6)


@pytest.mark.parametrize(
    ("build", "sentence"),
    [
        (
            lambda: TeamWork("A", (StepWork("a", 1, after=("b",)), StepWork("b", 1, after=("a",)))),
            "circle: a → b → a",
        ),
        (lambda: TeamWork("A", (StepWork("a", 1, after=("c",)),)), "refers to c"),
        (
            lambda: Problem(
                axis=daily(3), teams=(TeamWork("A", (StepWork("a", 1, stations=(Use("saw"),)),)),)
            ),
            "needs station saw",
        ),
        (
            lambda: Problem(
                axis=daily(3),
                stations=(StationPlaces("saw", 0),),
                teams=(TeamWork("A", (StepWork("a", 1, stations=(Use("saw"),)),)),),
            ),
            "has 0",
        ),
        (
            lambda: TeamWork(
                "A", (StepWork("a", 1, holds=(FixtureHold("mould", until="b"),)), StepWork("b", 1))
            ),
            "does not follow it",
        ),
        (lambda: daily(0, 0), "bench time"),
        (
            lambda: Problem(
                axis=daily(3, 3),
                teams=(TeamWork("A", (StepWork("a", 2),)),),
                pins=(PlannedActivity(TaskKey("", "A", "a"), (Sitting(5, 2),)),),
            ),
            "does not meet",
        ),
        (lambda: Problem(axis=daily(3), teams=(), due_ticks={"": 0}), "before its first meeting"),
        (
            lambda: Problem(
                axis=daily(3),
                teams=(TeamWork("A", (StepWork("a", 2),)),),
                now=1,
                done=(Done(TaskKey("", "A", "a"), (Sitting(0, 2),)),),
            ),
            "only the past",
        ),
    ],
)
def test_nonsense_is_refused_with_a_sentence(build: Callable[[], object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        build()


def test_drying_longer_than_the_term_is_a_result_with_reasons() -> None:
    steps = (
        StepWork("glue", ticks=1, drying_minutes=90 * 24 * 60),
        StepWork("sand", ticks=1, after=("glue",)),
    )
    result = solve(Problem(axis=daily(3, 3), teams=(TeamWork("A", steps),)), work=1)

    assert result.status is Status.IMPOSSIBLE
    assert result.cost.missing == 1
    assert any("sand" in reason for reason in result.reasons)


def test_a_sitting_longer_than_any_meeting_is_a_result_with_reasons() -> None:
    problem = Problem(
        axis=daily(3, 3), teams=(TeamWork("A", (StepWork("glue", ticks=4, splitting=ONE),)),)
    )
    result = solve(problem, work=1)

    assert result.status is Status.IMPOSSIBLE
    assert "one sitting" in result.reasons[0]
