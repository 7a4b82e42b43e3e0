"""Re-planning and the fit check: run with `pytest -m benchmark -s tests/benchmarks/test_replanning.py`.

Figures are ratios within one run; absolute times are printed beside them. The baseline of a
re-plan is planning the same term from scratch with the same amount of search.
"""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import count
from time import perf_counter

import pytest

from app.domain.scheduling.axis import Axis
from app.domain.scheduling.chance import usual_chances
from app.domain.scheduling.check import check
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import Schedule, changed_keys
from app.domain.scheduling.search.replan import replanned
from app.domain.scheduling.search.solve import solve
from app.jobs.fit import play
from app.jobs.terms import Round
from tests.domain.scheduling.conftest import read_sample_electric
from tests.domain.scheduling.test_events import _carried, _taught

pytestmark = pytest.mark.benchmark

LOST = 39  # the meeting that is lost, in the middle of the term
TERMS = 200
LOOKS = 200


def _plan(problem: Problem) -> Schedule:
    looks = count()
    return solve(problem, should_stop=lambda: next(looks) >= LOOKS).schedule


def _one_day_lost() -> tuple[Problem, Schedule]:
    problem = read_sample_electric()
    plan = _plan(problem)
    meetings = problem.axis.meetings
    lost = meetings[LOST]
    axis = Axis(tuple(m for m in meetings if m is not lost))
    shorter = replace(problem, axis=axis, due_ticks={})
    known = _carried(problem, shorter, plan)
    return _taught(shorter, known, lost.start.date()), known


def test_one_lost_day_against_planning_from_scratch() -> None:
    problem, known = _one_day_lost()
    begun = perf_counter()
    first = replanned(problem, known, work=0)
    first_seconds = perf_counter() - begun
    begun = perf_counter()
    again = replanned(problem, known, work=1)
    again_seconds = perf_counter() - begun
    begun = perf_counter()
    looks = count()
    scratch = solve(problem, should_stop=lambda: next(looks) >= LOOKS)
    scratch_seconds = perf_counter() - begun
    moved = {
        name: len(changed_keys(problem, known, result.schedule))
        for name, result in (("first", first), ("again", again), ("scratch", scratch))
    }
    print(
        f"\nfirst checked plan {first_seconds:.2f} s, {len(problem.teams) - first.cost.unfinished} teams; "
        f"with search {again_seconds:.2f} s, {len(problem.teams) - again.cost.unfinished} teams; from scratch "
        f"{scratch_seconds:.2f} s, {len(problem.teams) - scratch.cost.unfinished} teams"
    )
    print(
        f"moved: first {moved['first']}, with search {moved['again']}, from scratch {moved['scratch']}: "
        f"{moved['first'] / moved['scratch']:.2f} and {moved['again'] / moved['scratch']:.2f} of it"
    )

    assert {v.rule for v in check(problem, first.schedule)} <= {"missing"}
    assert moved["first"] < moved["scratch"]
    assert moved["again"] < moved["scratch"]
    assert again.cost.unfinished <= scratch.cost.unfinished
    assert first_seconds < scratch_seconds


def test_two_processes_against_one() -> None:
    problem = read_sample_electric()
    chances = usual_chances(problem, {team.key: (0.07, 0.07) for team in problem.teams})
    asked = Round(problem, _plan(problem), chances)
    seconds = {}
    found = {}
    for workers in (1, 2):
        begun = perf_counter()
        found[workers] = play(asked, TERMS, workers=workers)
        seconds[workers] = perf_counter() - begun
    print(
        f"\n{TERMS} terms: one process {seconds[1]:.1f} s, two {seconds[2]:.1f} s, "
        f"{seconds[1] / seconds[2]:.2f} times as fast; {found[2].finished.share:.1%} of the teams finish"
    )

    assert found[1] == found[2]
    if (os.cpu_count() or 1) >= 2:
        assert seconds[2] < seconds[1]
