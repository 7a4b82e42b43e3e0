"""The planner's figures: run with `pytest -m benchmark -s tests/benchmarks/test_planner.py`.

The baseline is the plain CP-SAT model of the same rules with default parameters: no start, no
bounds, no cuts of ours. Published instances (PSPLIB, Kolisch and Sprecher 1996) are read from the
folder in STRINGCOURSE_PSPLIB, any .sm files with a bounds.csv; they are not part of the project.
STRINGCOURSE_PSPLIB_SET narrows them (for example j30).
"""

# ruff: noqa: DTZ001 - a class meets by the clock on its wall

from __future__ import annotations

import csv
import os
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest

from app.domain.scheduling.check import check
from app.domain.scheduling.instance import compile_problem
from app.domain.scheduling.problem import (
    Axis,
    AxisMeeting,
    Problem,
    Splitting,
    StationPlaces,
    StepWork,
    TeamWork,
    Use,
)
from app.domain.scheduling.schedule import Status
from app.domain.scheduling.search.bounds import Windows
from app.domain.scheduling.search.constraint_model import ConstraintModel
from app.domain.scheduling.search.solve import solve
from tests.domain.scheduling.conftest import read_sample_electric, read_trial

pytestmark = pytest.mark.benchmark

BASELINE_SECONDS = 60.0
CLASS_OF_24 = 24


def read_psplib(path: Path) -> Problem:
    """A single-mode PSPLIB file as one team that may do several things at once."""
    lines = path.read_text().splitlines()

    def rows(title: str, skip: int) -> list[list[int]]:
        first = next(n for n, line in enumerate(lines) if line.startswith(title)) + skip
        found = []
        for line in lines[first:]:
            if line.startswith("*"):
                break
            found.append([int(word) for word in line.split()])
        return found

    horizon = next(int(line.split(":")[1]) for line in lines if line.startswith("horizon"))
    after = {row[0]: row[3:] for row in rows("PRECEDENCE", 2)}
    places = rows("RESOURCEAVAIL", 2)[0]
    steps = tuple(
        StepWork(
            str(job),
            ticks=ticks,
            after=tuple(str(other) for other, following in after.items() if job in following),
            stations=tuple(Use(f"R{n}", units) for n, units in enumerate(demands) if units),
            splitting=Splitting.ONE_SITTING,
        )
        for job, _, ticks, *demands in rows("REQUESTS", 3)
    )
    meeting = AxisMeeting(start=datetime(2027, 1, 4), ticks=horizon, offset_minutes=0)
    return Problem(
        axis=Axis((meeting,), tick_minutes=1),
        stations=tuple(StationPlaces(f"R{n}", units) for n, units in enumerate(places)),
        teams=(TeamWork("project", steps, one_place=False),),
    )


def baseline_seconds(
    problem: Problem, finish: int | None, seconds: float = BASELINE_SECONDS
) -> float | None:
    """Time the plain model takes to reach a finish, or without one to prove its optimum.

    None if it does not within the limit.
    """
    begun = perf_counter()
    instance = compile_problem(problem, extra_ticks=1)
    model = ConstraintModel(instance, Windows(instance), instance.term, 0)
    if not model.build():
        return None
    reached: list[float] = []

    class Watch(model.cp_model.CpSolverSolutionCallback):  # type: ignore[name-defined, misc]
        def on_solution_callback(self) -> None:
            if finish is not None and self.objective_value <= finish and not reached:
                reached.append(perf_counter() - begun)
                self.stop_search()

    solver = model.cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(1.0, seconds - (perf_counter() - begun))
    solver.parameters.num_workers = 2
    status = solver.solve(model.model, Watch())
    if finish is None and status == model.cp_model.OPTIMAL:
        return perf_counter() - begun
    return reached[0] if reached else None


def test_sample_section_against_the_plain_model() -> None:
    problem = read_sample_electric()
    times: dict[int, list[float]] = {}
    result = solve(problem, work=0)
    for seed in range(5):
        begun = perf_counter()
        seen: list[tuple[float, int]] = []
        result = solve(
            problem,
            seed=seed,
            work=6,
            on_progress=lambda finish, _, seen=seen, begun=begun: seen.append(
                (perf_counter() - begun, finish)
            ),  # type: ignore[misc]
        )
        assert check(problem, result.schedule) == []
        for goal in (problem.axis.ticks, 451, 447, 440, 435):
            hit = [at for at, finish in seen if finish <= goal]
            times.setdefault(goal, []).append(hit[0] if hit else float("inf"))
    print()
    for goal, found in times.items():
        print(
            f"finish {goal} or better: median {median(found):.2f} s of {[round(t, 2) for t in found]}"
        )
    print(
        f"last seed: finish {result.needed}, bound {result.bound}, gap {result.gap:.1%}, limit {result.limiting}"
    )
    base = baseline_seconds(problem, 451)
    ours = median(times[451])
    if base is None:
        print(
            f"plain CP-SAT: no plan of 451 in {BASELINE_SECONDS:.0f} s; at least {BASELINE_SECONDS / ours:.0f} times"
        )
    else:
        print(f"plain CP-SAT: {base:.1f} s, {base / ours:.0f} times")
    assert (base or BASELINE_SECONDS) >= 10 * ours


def test_trial_instance_is_proven() -> None:
    problem = read_trial()
    begun = perf_counter()
    result = solve(problem, work=20)
    print(
        f"\ntrial 6 x 43: {result.status}, {result.needed}, bound {result.bound}, {perf_counter() - begun:.1f} s"
    )

    # Source: the instance file, optimum 405.
    assert (result.status, result.needed) == (Status.OPTIMAL, 405)


def test_published_instances() -> None:
    folder = os.environ.get("STRINGCOURSE_PSPLIB")
    if not folder:
        pytest.skip("set STRINGCOURSE_PSPLIB to a folder of PSPLIB .sm files with a bounds.csv")
    rows = list(csv.DictReader((Path(folder) / "bounds.csv").read_text().splitlines()))
    wanted = os.environ.get("STRINGCOURSE_PSPLIB_SET")
    solved = proven = count = 0
    deviation = ours = slowest = plain = 0.0
    for row in rows:
        if wanted and row["set"] != wanted:
            continue
        problem = read_psplib(Path(folder) / row["set"] / row["instance"])
        begun = perf_counter()
        result = solve(problem, work=60)
        spent = perf_counter() - begun
        plain += baseline_seconds(problem, None) or BASELINE_SECONDS
        best = int(row["upper_bound"])
        count += 1
        ours += spent
        slowest = max(slowest, spent)
        solved += result.needed <= best
        proven += result.status is Status.OPTIMAL
        deviation += (result.needed - best) / best
        assert check(problem, result.schedule) == []
        assert result.bound <= best
        assert result.needed >= int(row["lower_bound"])
    assert count
    print(
        f"\nPSPLIB {wanted or 'all'}: {count} instances, {solved} at the best known, {proven} proven, "
        f"mean deviation {deviation / count:.2%}, {ours:.1f} s in sum, slowest {slowest:.1f} s; plain CP-SAT "
        f"(at most {BASELINE_SECONDS:.0f} s each) {plain:.1f} s in sum, ratio {ours / plain:.2f}"
    )
    assert ours <= 1.2 * plain


def test_a_class_of_single_students() -> None:
    problem = read_sample_electric()
    team = problem.teams[0]
    students = tuple(replace(team, key=f"S{n:02d}") for n in range(CLASS_OF_24))
    single = replace(problem, teams=students)
    begun = perf_counter()
    result = solve(single, work=2)
    spent = perf_counter() - begun
    broken = {violation.rule for violation in check(single, result.schedule)}
    print(
        f"\n24 students: {result.status}, {CLASS_OF_24 - result.cost.unfinished} finish in the term, all by tick "
        f"{result.needed} of {problem.axis.ticks}, bound {result.bound}, gap {result.gap:.1%}, {spent:.1f} s"
    )

    assert broken <= {"missing"}


@pytest.mark.parametrize("factor", [1, 2, 4, 10])
def test_growth_with_teams_and_term(factor: int) -> None:
    problem = read_sample_electric()
    team = problem.teams[0]
    axis = problem.axis.extended(problem.axis.ticks * (factor - 1)) if factor > 1 else problem.axis
    grown = replace(
        problem,
        axis=axis,
        due_ticks={},
        teams=tuple(replace(team, key=f"T{n}") for n in range(11 * factor)),
    )
    begun = perf_counter()
    result = solve(grown, work=0)
    print(
        f"\n{11 * factor} teams, {axis.ticks} ticks: first checked plan in {perf_counter() - begun:.2f} s, {result.status}"
    )

    broken = {violation.rule for violation in check(grown, result.schedule)}
    assert broken == (set() if result.complete else {"missing"})
