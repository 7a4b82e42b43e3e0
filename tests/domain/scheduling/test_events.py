"""What goes wrong in a term, planned through.

Counts: sample term, invented; counts worked by hand. The class is the sample electric section,
eleven teams of 57 steps, invented.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from itertools import count

import pytest

from app.domain.scheduling import calendar, events
from app.domain.scheduling.check import check
from app.domain.scheduling.explain import more_adults
from app.domain.scheduling.problem import (
    Axis,
    AxisMeeting,
    Done,
    FixtureHold,
    FixturePlaces,
    Problem,
    StationPlaces,
    StepWork,
    TeamWork,
    Use,
)
from app.domain.scheduling.schedule import (
    PlannedActivity,
    Schedule,
    Sitting,
    TaskKey,
    changed_keys,
)
from app.domain.scheduling.search.replan import replanned
from app.domain.scheduling.search.solve import solve
from tests.domain.scheduling.test_calendar import SAMPLE, _sample_pattern, _sample_term

SNOW = (
    events.Closure(first=date(2027, 1, 26), last=date(2027, 1, 26), label="Snow"),
    events.Closure(first=date(2027, 2, 3), last=date(2027, 2, 4), label="Snow"),
    events.NewBells(first=date(2027, 2, 5), last=date(2027, 2, 5), schedule="two_hour_delay"),
)
DRILL = (events.Out(first=date(2027, 2, 22), last=date(2027, 2, 26), resource="drill", places=1),)
HUMID = (
    events.Humid(
        first=date(2027, 4, 5),
        last=date(2027, 4, 16),
        # Recoat 24 h, cure doubled: common practice, no source.
        minutes={
            **dict.fromkeys(("E32", "E33", "E34", "E35", "E36", "E38", "E39"), 24 * 60),
            "E40": 2 * 120 * 60,
        },
    ),
)
SUBSTITUTE = (events.Substitute(first=date(2027, 3, 9), last=date(2027, 3, 11)),)
BANDSAW = (events.Out(first=date(2027, 2, 1), last=date(2027, 2, 4), resource="bandsaw"),)
TRIP = (
    events.Away(first=date(2027, 4, 23), last=date(2027, 4, 23), teams=("T01", "T02", "T03")),
    events.Away(first=date(2027, 5, 4), last=date(2027, 5, 4), teams=("T04", "T05")),
)
TESTING = (events.NewBells(first=date(2027, 4, 22), last=date(2027, 4, 23), schedule="testing"),)
SCENARIOS = {
    "three snow days and a delay": SNOW,
    "one drill press out for a week": DRILL,
    "a damp spell": HUMID,
    "a substitute for three days": SUBSTITUTE,
    "no bandsaw blade": BANDSAW,
    "two trips": TRIP,
    "a longer testing window": TESTING,
    "all at once": (*SNOW, *DRILL, *HUMID, *SUBSTITUTE),
}


def _meetings(happened: Iterable[events.TermEvent]) -> tuple[calendar.ClassMeeting, ...]:
    term, staffing = events.amended_calendar(
        _sample_term(drills=False), calendar.Staffing(), happened
    )
    pattern = _sample_pattern("daily")
    held = {m.date for m in calendar.meetings(term, pattern)}
    lessons = tuple(date.fromisoformat(text) for text in SAMPLE["daily_lesson_dates"])
    routine = calendar.LessonRoutine(
        20, dates=tuple(d for d in lessons if d in held), on_schedules=("regular",)
    )
    return calendar.meetings(term, pattern, routine, staffing)


def _on(problem: Problem, meetings: Iterable[calendar.ClassMeeting]) -> Problem:
    """The same work on another calendar; the showcase keeps its date."""
    showcase = problem.axis.clock(problem.due_ticks[""])
    axis = Axis(
        tuple(
            AxisMeeting(
                start=m.start,
                ticks=m.work_minutes // 5,
                offset_minutes=m.opening_minutes + m.lesson_minutes + m.test_minutes,
                adults=m.qualified_adults,
                power=m.machine_power,
            )
            for m in meetings
        )
    )
    return dataclasses.replace(problem, axis=axis, due_ticks={"": axis.tick_at(showcase)})


def _carried(old: Problem, new: Problem, plan: Schedule) -> Schedule:
    """A plan by its clock times on another axis; what has no tick there is left out."""
    starts = {new.axis.clock(tick): tick for tick in range(new.axis.ticks)}
    carried = []
    for activity in plan.activities:
        runs = [
            [old.axis.clock(t) for t in range(s.tick, s.end)] for s in activity.sittings if s.ticks
        ]
        if runs and all(moment in starts for run in runs for moment in run):
            carried.append(
                PlannedActivity(
                    activity.key, tuple(Sitting(starts[run[0]], len(run)) for run in runs)
                )
            )
    return Schedule(tuple(carried))


def _taught(problem: Problem, plan: Schedule, until: date) -> Problem:
    """What the plan has before a day has happened."""
    now = problem.axis.tick_at(datetime.combine(until, time()))
    done = []
    for activity in plan.activities:
        worked = tuple(s for s in activity.sittings if s.end <= now)
        if worked and activity.ticks:
            whole = sum(s.ticks for s in worked) == problem.steps[activity.key].ticks
            done.append(Done(activity.key, worked, finished=whole))
    return dataclasses.replace(problem, now=now, done=tuple(done))


@pytest.fixture(scope="module")
def base(sample_electric):
    """The section on the calendar's own axis, and a plan of it."""
    problem = _on(sample_electric, _meetings(()))
    looks = count()
    result = solve(problem, should_stop=lambda: next(looks) >= 200)
    assert result.complete
    return problem, result.schedule


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_disruption_is_planned_through_and_breaks_no_rule(base, name):
    problem, plan = base
    happened = SCENARIOS[name]
    changed = _on(problem, _meetings(happened))
    known = _carried(problem, changed, plan)
    changed = _taught(changed, known, min(event.first for event in happened))
    slow = events.coats_in_damp_air(changed, known, happened)
    again = replanned(events.amended(changed, happened, slow), known, work=0.2)
    more = events.coats_in_damp_air(changed, again.schedule, happened) | slow
    if more != slow:
        slow = more | events.coats(changed, happened)
        again = replanned(events.amended(changed, happened, slow), known, work=0.2)
    amended = events.amended(changed, happened, slow)

    broken = {violation.rule for violation in check(amended, again.schedule)}
    assert broken <= {"missing"}, "only what has no room in the term may be left out"
    for done in changed.done:
        assert set(done.sittings) <= set(again.schedule.by_key[done.key].sittings)
    mended = replanned(amended, known, work=0)
    assert again.cost[:2] <= mended.cost[:2], "a search never loses a team that repair keeps"


def test_a_second_adult_sees_every_team_through_all_of_it_at_once(base):
    problem, plan = base
    happened = SCENARIOS["all at once"]
    changed = _on(problem, _meetings(happened))
    known = _carried(problem, changed, plan)
    changed = _taught(changed, known, SNOW[0].first)
    amended = events.amended(changed, happened, events.coats(changed, happened))
    alone = replanned(amended, known, work=0.2)
    together = replanned(more_adults(amended), known, work=0.2)

    assert together.cost[:2] <= alone.cost[:2]


def test_three_snow_days_and_a_delay_leave_the_counts_of_the_sample_term():
    # Sample term, invented; counts worked by hand, drills included.
    term, _ = events.amended_calendar(_sample_term(), calendar.Staffing(), SNOW)
    sums = calendar.totals(calendar.meetings(term, _sample_pattern("daily")))
    assert (sums.meetings, sums.minutes, sums.bench_minutes) == (81, 3496, 2524)
    sums = calendar.totals(calendar.meetings(term, _sample_pattern("block")))
    assert (sums.meetings, sums.minutes, sums.bench_minutes) == (41, 3303, 2688)


def test_a_make_up_day_gives_one_meeting_back():
    # Sample term, invented; counts worked by hand, drills included.
    make_up = events.MakeUpDay(first=date(2027, 2, 15), last=date(2027, 2, 15))
    term, _ = events.amended_calendar(_sample_term(), calendar.Staffing(), (*SNOW, make_up))
    sums = calendar.totals(calendar.meetings(term, _sample_pattern("daily")))
    assert (sums.meetings, sums.minutes, sums.bench_minutes) == (82, 3543, 2559)


def test_a_testing_day_of_thirty_minutes_leaves_eighteen_at_the_bench():
    # Sample term, invented: 30 minutes less 5 to open and 7 to clean up.
    held = {m.date: m for m in _meetings(TESTING)}
    assert [held[date(2027, 4, day)].bench_minutes for day in (22, 23)] == [18, 18]


def test_no_machine_runs_on_a_substitutes_days(base):
    problem, plan = base
    changed = _on(problem, _meetings(SUBSTITUTE))
    again = replanned(changed, _carried(problem, changed, plan), work=0.1)
    dark = {t for t in range(changed.axis.ticks) if not changed.axis.power(t)}
    assert len({changed.axis.clock(t).date() for t in dark}) == 3
    for activity in again.schedule.activities:
        if not changed.steps[activity.key].substitute_safe:
            assert not dark & {t for s in activity.sittings for t in range(s.tick, s.end)}


# --- small rooms --------------------------------------------------------------------------------


@pytest.fixture
def small(days) -> Problem:
    steps = (
        StepWork("cut", ticks=2, stations=(Use("saw"),)),
        StepWork(
            "coat",
            ticks=1,
            after=("cut",),
            drying_minutes=240,
            holds=(FixtureHold("rack", minutes=240),),
        ),
        StepWork("sand", ticks=2, after=("coat",)),
    )
    return Problem(
        axis=days(4, 4, 4, 4, 4),
        stations=(StationPlaces("saw", 2),),
        fixtures=(FixturePlaces("rack", 4),),
        teams=(TeamWork("A", steps), TeamWork("B", steps)),
    )


MONDAY = date(2027, 1, 4)


def _day(n: int) -> date:
    return MONDAY + timedelta(days=n)


def test_without_an_event_nothing_moves(base):
    problem, plan = base
    again = replanned(problem, plan, work=1)
    assert changed_keys(problem, plan, again.schedule) == ()


def test_an_event_that_touches_nothing_moves_nothing(small):
    plan = solve(small).schedule
    out = events.amended(small, [events.Out(first=_day(4), last=_day(4), resource="saw")])
    again = replanned(out, plan, work=1)
    assert changed_keys(small, plan, again.schedule) == ()


def test_a_station_out_lets_only_what_is_left_be_used(small):
    out = events.amended(small, [events.Out(first=_day(0), last=_day(1), resource="saw", places=1)])
    again = replanned(out, solve(small).schedule, work=1)
    assert check(out, again.schedule) == []
    cuts = sorted(a.start for a in again.schedule.activities if a.key.step == "cut")
    assert cuts == [0, 2]


def test_late_parts_hold_back_only_their_step(small):
    late = events.amended(small, [events.PartsLate(first=_day(0), last=_day(1), steps=("coat",))])
    again = replanned(late, solve(small).schedule, work=1)
    starts = {a.key.step: a.start for a in again.schedule.activities if a.key.team == "A"}
    assert starts["cut"] == 0
    assert starts["coat"] == 8  # Wednesday's first tick


def test_a_coat_dries_slowly_only_on_damp_days(small):
    damp = events.Humid(first=_day(0), last=_day(0), minutes={"coat": 3 * 24 * 60})
    plan = solve(small).schedule
    slow = events.coats_in_damp_air(small, plan, [damp])
    assert {key.step for key in slow} == {"coat"}
    changed = events.amended(small, [damp], slow)
    assert {changed.steps[key].drying_minutes for key in slow} == {3 * 24 * 60}
    assert {h.minutes for key in slow for h in changed.steps[key].holds} == {3 * 24 * 60}
    later = events.Humid(first=_day(4), last=_day(4), minutes={"coat": 3 * 24 * 60})
    assert events.coats_in_damp_air(small, plan, [later]) == frozenset()


def test_a_suspended_sign_off_stops_one_team_and_not_the_other(small):
    stop = events.Suspended(first=_day(0), last=_day(0), team="A", steps=("cut",))
    again = replanned(events.amended(small, [stop]), solve(small).schedule, work=1)
    starts = {a.key.team: a.start for a in again.schedule.activities if a.key.step == "cut"}
    assert starts == {"A": 4, "B": 0}


def test_a_team_that_is_gone_frees_its_places(small):
    gone = events.amended(small, [events.TeamGone(first=_day(0), last=_day(0), team="A")])
    assert [team.key for team in gone.teams] == ["B"]
    with pytest.raises(ValueError, match="No team is left"):
        events.amended(gone, [events.TeamGone(first=_day(0), last=_day(0), team="B")])


def test_a_team_away_does_nothing_and_the_others_go_on(small):
    away = events.Away(first=_day(0), last=_day(0), teams=("A",))
    changed = events.amended(small, [away])
    again = replanned(changed, solve(small).schedule, work=1)
    assert check(changed, again.schedule) == []
    shown = events.shown(again.schedule)
    assert min(a.start for a in shown.activities if a.key.team == "A") == 4
    assert min(a.start for a in shown.activities if a.key.team == "B") == 0


@pytest.mark.parametrize(("minutes", "ticks"), [(10, 4), (-5, 1), (-500, 1)])
def test_a_team_ahead_or_behind_has_other_minutes(small, minutes, ticks):
    pace = events.Pace(first=_day(0), last=_day(0), team="A", step="cut", minutes=minutes)
    changed = events.amended(small, [pace])
    assert changed.steps[TaskKey("", "A", "cut")].ticks == ticks
    assert changed.steps[TaskKey("", "B", "cut")].ticks == 2


def test_an_adult_less_lets_nobody_at_the_machines():
    _, staffing = events.amended_calendar(
        _sample_term(),
        calendar.Staffing(qualified=2),
        [events.Adults(first=date(2027, 2, 1), last=date(2027, 2, 2), change=-1)],
    )
    assert [staffing.on(date(2027, 2, day)).qualified for day in (1, 2, 3)] == [1, 1, 2]
    _, staffing = events.amended_calendar(
        _sample_term(),
        calendar.Staffing(),
        [events.Adults(first=date(2027, 2, 1), last=date(2027, 2, 1), change=-1)],
    )
    assert not staffing.on(date(2027, 2, 1)).machine_power


# --- refused ------------------------------------------------------------------------------------

SITUATION = events.Situation(
    first_day=date(2027, 1, 5),
    last_day=date(2027, 5, 14),
    taught=frozenset({date(2027, 1, 5), date(2027, 1, 6)}),
    next_open=date(2027, 1, 7),
    places={"drill": 2},
    needed=frozenset({"drill"}),
    teams=frozenset({"T01", "T02"}),
    qualified={date(2027, 1, 7): 1, date(2027, 1, 8): 2},
    events=(events.Closure(first=date(2027, 1, 11), last=date(2027, 1, 11), label="Snow"),),
)


@pytest.mark.parametrize(
    ("event", "says"),
    [
        (events.Closure(first=date(2026, 12, 1), last=date(2026, 12, 1)), "outside the term"),
        (events.Closure(first=date(2027, 1, 6), last=date(2027, 1, 8)), "past cannot move"),
        (
            events.Closure(first=date(2027, 1, 11), last=date(2027, 1, 11), label="Snow"),
            "recorded already",
        ),
        (
            events.Out(first=date(2027, 1, 5), last=date(2027, 5, 14), resource="drill"),
            "out for the whole term",
        ),
        (
            events.Out(first=date(2027, 1, 8), last=date(2027, 1, 8), resource="drill", places=2),
            "from 0 to 1",
        ),
        (
            events.Out(first=date(2027, 1, 8), last=date(2027, 1, 8), resource="lathe"),
            "lists no lathe",
        ),
        (
            events.Out(first=date(2027, 1, 5), last=date(2027, 1, 6), resource="drill"),
            "changes nothing",
        ),
        (
            events.Adults(first=date(2027, 1, 7), last=date(2027, 1, 8), change=-1),
            "no class: record a substitute",
        ),
        (
            events.Away(first=date(2027, 1, 8), last=date(2027, 1, 8), teams=("T01", "T02")),
            "record the day as closed",
        ),
        (
            events.Pace(
                first=date(2027, 1, 8), last=date(2027, 1, 8), team="T09", step="x", minutes=5
            ),
            "no team T09",
        ),
    ],
)
def test_what_cannot_be_recorded_is_refused_in_a_sentence(event, says):
    assert any(says in sentence for sentence in events.problems(event, SITUATION))


def test_days_in_the_wrong_order_are_refused():
    with pytest.raises(ValueError, match="before it begins"):
        events.Closure(first=date(2027, 2, 2), last=date(2027, 2, 1))
