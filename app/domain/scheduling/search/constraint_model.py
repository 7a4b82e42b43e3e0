"""The exact model for CP-SAT: every rule of the problem, the finish as the aim.

A job that may be split, or that is watched as part of a zone, is a set of ticks (one literal per
tick); any other job is one interval. Solver types never leave this file, and OR-Tools is loaded
only when a model is built.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Event, Thread
from typing import Any

from app.domain.scheduling.instance import Instance, InstanceJob, Table, mask_of
from app.domain.scheduling.problem import Splitting
from app.domain.scheduling.schedule import Sitting
from app.domain.scheduling.search.bounds import Windows
from app.domain.scheduling.search.list_schedule import ListState, lowest

LARGEST_MODEL = 40_000  # literals beyond which building the model costs more than it brings


@dataclass(frozen=True)
class SolverAnswer:
    """What the solver reached: tick sets by job (None: nothing better), and a proven bound."""

    masks: list[int] | None
    bound: int
    proven: bool
    work: float


@dataclass
class _Variables:
    start: Any
    end: Any
    ticks: dict[int, Any]
    interval: Any


class ConstraintModel:
    """A model over the windows that a finish before `limit` leaves to every job."""

    def __init__(self, instance: Instance, windows: Windows, limit: int, bound: int) -> None:
        from ortools.sat.python import cp_model

        self.cp_model = cp_model
        self.instance = instance
        self.model = cp_model.CpModel()
        self.early = windows.earliest_start
        self.late_start, self.late_end = windows.latest(limit)
        self.limit = limit
        self.finish = self.model.new_int_var(bound, limit, "finish")
        self.jobs: list[_Variables] = []

    @staticmethod
    def size(instance: Instance, windows: Windows, limit: int) -> int:
        """How many literals the model would need."""
        _, ends = windows.latest(limit)
        starts = windows.earliest_start
        return sum(
            max(0, ends[n] - starts[n]) if _is_ticked(job) else 10
            for n, job in enumerate(instance.jobs)
        )

    def build(self) -> bool:
        """Add every rule; False when some job has no room before the limit."""
        if any(s > e for s, e in zip(self.early, self.late_start, strict=True)):
            return False
        for number, job in enumerate(self.instance.jobs):
            variables = (
                self._ticked(number, job) if _is_ticked(job) else self._one_interval(number, job)
            )
            if variables is None:
                return False
            self.jobs.append(variables)
        self._waits()
        self._teams()
        self._places()
        self._adults()
        self._alike_teams()
        for number, job in enumerate(self.instance.jobs):
            if not job.followers:
                self.model.add(self.finish >= self.jobs[number].end)
        self.model.minimize(self.finish)
        return True

    # -- jobs --------------------------------------------------------------------------------

    def _one_interval(self, number: int, job: InstanceJob) -> _Variables | None:
        model = self.model
        low, high = self.early[number], self.late_start[number]
        if job.pinned is not None:
            low = high = job.pinned[0].tick
        starts = [t for t in range(low, high + 1) if self._can_start(job, t)]
        if not starts:
            return None
        domain = self.cp_model.Domain.from_values(starts)
        start = model.new_int_var_from_domain(domain, f"s{number}")
        interval = model.new_fixed_size_interval_var(start, job.ticks, f"i{number}")
        return _Variables(start, start + job.ticks, {}, interval)

    def _can_start(self, job: InstanceJob, tick: int) -> bool:
        if job.pinned is not None:
            return True
        run = ((1 << job.ticks) - 1) << tick
        if run & ~job.free_ticks:
            return False
        joined = run >> 1 & run
        return job.splitting is Splitting.UNBROKEN or not joined & ~job.together

    def _ticked(self, number: int, job: InstanceJob) -> _Variables | None:
        model = self.model
        low, high = self.early[number], self.late_end[number]
        free = (
            sum(1 << s.tick + k for s in job.pinned for k in range(s.ticks))
            if job.pinned
            else job.free_ticks
        )
        if job.pinned:
            low, high = job.pinned[0].tick, job.pinned[-1].end
        ticks = {t: model.new_bool_var(f"x{number}.{t}") for t in range(low, high) if free >> t & 1}
        if len(ticks) < job.ticks:
            return None
        start = model.new_int_var(low, high - 1, f"s{number}")
        end = model.new_int_var(low + 1, high, f"e{number}")
        model.add(sum(ticks.values()) == job.ticks)
        model.add(end >= start + job.ticks)
        for tick, literal in ticks.items():
            model.add(start <= tick).only_enforce_if(literal)
            model.add(end >= tick + 1).only_enforce_if(literal)
        if job.pinned is None:
            self._runs(number, job, ticks)
        return _Variables(start, end, ticks, None)

    def _runs(self, number: int, job: InstanceJob, ticks: dict[int, Any]) -> None:
        """No sitting shorter than the minimum or what remains; one run where it must be one."""
        model = self.model
        one_run = job.splitting is not Splitting.SITTINGS
        across = job.splitting is Splitting.UNBROKEN
        need = min(job.minimum, job.ticks)
        if need == 1 and not one_run:
            return
        done = {t: model.new_bool_var(f"d{number}.{t}") for t in ticks}
        begins = []
        order = sorted(ticks)
        for before, tick in zip([None, *order], order, strict=False):
            if before is not None:
                model.add_implication(done[before], done[tick])
            model.add_implication(done[tick], ticks[tick].negated())
            begin = model.new_bool_var(f"b{number}.{tick}")
            joined = before is not None and (
                across or (before == tick - 1 and job.together >> before & 1)
            )
            if joined and before is not None:
                model.add_bool_or(begin, ticks[tick].negated(), ticks[before])
            else:
                model.add_implication(ticks[tick], begin)
            begins.append(begin)
            self._long_enough(job, ticks, done, tick, begin, need)
        if one_run:
            model.add(sum(begins) == 1)

    def _long_enough(
        self,
        job: InstanceJob,
        ticks: dict[int, Any],
        done: dict[int, Any],
        tick: int,
        begin: Any,
        need: int,
    ) -> None:
        for k in range(1, need):
            inside = tick + k < job.run_end[tick] and tick + k in ticks
            later = [t for t in range(tick + k, max(ticks) + 1) if t in ticks]
            literals = [begin.negated()]
            if inside:
                literals.append(ticks[tick + k])
            if later:
                self.model.add_bool_or(*literals, done[later[0]])
            # With nothing later the job is over anyway: a short last sitting is what remained.

    # -- rules -------------------------------------------------------------------------------

    def _waits(self) -> None:
        for number, job in enumerate(self.instance.jobs):
            if job.pinned is not None:
                continue
            for before, table in job.waits:
                after = self.jobs[number].start
                end = self.jobs[before].end
                if table is None:
                    self.model.add(after >= end)
                else:
                    self._wait_by_clock(number, before, table)

    def _wait_by_clock(self, number: int, before: int, table: Table) -> None:
        """A shortest wait that always holds, and one literal where the clock asks for more."""
        after, end = self.jobs[number].start, self.jobs[before].end
        low = self.early[before] + self.instance.jobs[before].ticks
        ends = range(low, max(low, self.late_end[before]) + 1)
        shortest = min(table[e] - e for e in ends)
        self.model.add(after >= end + shortest)
        floor = self.early[number]
        for e in ends:
            if table[e] - e > shortest and table[e] > max(floor, table[e - 1]):
                reached = self.model.new_bool_var(f"w{before}.{number}.{e}")
                self.model.add(end <= e - 1).only_enforce_if(reached.negated())
                self.model.add(after >= table[e]).only_enforce_if(reached)

    def _intervals(self, number: int) -> list[Any]:
        """The job as intervals: itself, or one optional interval per tick."""
        variables = self.jobs[number]
        if variables.interval is not None:
            return [variables.interval]
        return [
            self.model.new_optional_fixed_size_interval_var(tick, 1, literal, f"o{number}.{tick}")
            for tick, literal in variables.ticks.items()
        ]

    def _teams(self) -> None:
        by_team: dict[int, list[Any]] = defaultdict(list)
        for number, job in enumerate(self.instance.jobs):
            for team in job.teams:
                by_team[team] += self._intervals(number)
        for intervals in by_team.values():
            self.model.add_no_overlap(intervals)

    def _places(self) -> None:
        used: dict[int, list[tuple[Any, int]]] = defaultdict(list)
        for number, job in enumerate(self.instance.jobs):
            for index, units in job.uses:
                used[index] += [(interval, units) for interval in self._intervals(number)]
            for index, units, table in job.holds:
                used[index].append((self._held(number, table), units))
        for number, job in enumerate(self.instance.jobs):
            for opener, index, units, table in job.spans:
                used[index].append((self._spanned(opener, number, table), units))
        for index, units, mask in self.instance.reserved:
            closed = any(
                -1 - k == s[0]
                for k in range(len(self.instance.reserved))
                for j in self.instance.jobs
                for s in j.spans
            )
            if not closed:
                used[index] += [(i, units) for i in self._fixed_intervals(mask)]
        for index, demands in used.items():
            resource = self.instance.resources[index]
            demands += [
                (interval, units)
                for units, mask in _by_units(resource.taken[: self.limit])
                for interval in self._fixed_intervals(mask)
            ]
            self.model.add_cumulative(
                [i for i, _ in demands], [u for _, u in demands], resource.capacity
            )

    def _held(self, number: int, table: Table) -> Any:
        variables = self.jobs[number]
        job = self.instance.jobs[number]
        free = self.model.new_int_var(0, self.instance.ticks, f"h{number}")
        self._at_least_table(variables.end, free, table, number)
        begin = variables.start if job.began is None else min(job.began, self.early[number])
        size = self.model.new_int_var(0, self.instance.ticks, "")
        return self.model.new_interval_var(begin, size, free, f"held{number}")

    def _at_least_table(self, end: Any, free: Any, table: Table, number: int) -> None:
        low = self.early[number]
        for e in range(low, self.late_end[number] + 1):
            if e == low or table[e] > table[e - 1]:
                reached = self.model.new_bool_var("")
                self.model.add(end <= e - 1).only_enforce_if(reached.negated())
                self.model.add(free >= table[e]).only_enforce_if(reached)
        self.model.add(free >= end)

    def _spanned(self, opener: int, closer: int, table: Table) -> Any:
        free = self.model.new_int_var(0, self.instance.ticks, "")
        self._at_least_table(self.jobs[closer].end, free, table, closer)
        begin = self.jobs[opener].start if opener >= 0 else self.instance.problem.now
        size = self.model.new_int_var(0, self.instance.ticks, "")
        return self.model.new_interval_var(begin, size, free, "")

    def _fixed_intervals(self, mask: int) -> list[Any]:
        runs = []
        while mask:
            tick = lowest(mask)
            length = lowest(~(mask >> tick))
            runs.append(self.model.new_fixed_size_interval_var(tick, length, ""))
            mask &= -1 << (tick + length)
        return runs

    def _adults(self) -> None:
        demands: list[tuple[Any, int]] = []
        zones: dict[tuple[int, int], list[Any]] = defaultdict(list)
        for number, job in enumerate(self.instance.jobs):
            if not job.adult_units:
                continue
            if job.zone >= 0:
                for tick, literal in self.jobs[number].ticks.items():
                    zones[job.zone, tick].append(literal)
            else:
                demands += [(i, job.adult_units) for i in self._intervals(number)]
        for (zone, tick), literals in zones.items():
            active = self.model.new_bool_var(f"z{zone}.{tick}")
            for literal in literals:
                self.model.add_implication(literal, active)
            interval = self.model.new_optional_fixed_size_interval_var(tick, 1, active, "")
            demands.append((interval, 1))
        if demands:
            demands += [
                (interval, units)
                for units, mask in _by_units(self.instance.adult_taken[: self.limit])
                for interval in self._fixed_intervals(mask)
            ]
            capacity = self.instance.adult_capacity
            self.model.add_cumulative([i for i, _ in demands], [u for _, u in demands], capacity)

    def _alike_teams(self) -> None:
        """Teams with the very same work are interchangeable: number them by their first use of
        the scarcest station, so that the solver does not try every renaming."""
        instance = self.instance
        groups: dict[tuple[object, ...], list[list[int]]] = defaultdict(list)
        for index, team in enumerate(instance.problem.teams):
            own = [n for n, job in enumerate(instance.jobs) if job.teams == (index,)]
            if own and {id(s) for s in team.steps} and not instance.problem.pins:
                shape = tuple(
                    (j.keys[0].step, j.ticks, j.release, j.began)
                    for j in (instance.jobs[n] for n in own)
                )
                groups[(id(team.steps), team.section, shape)].append(own)
        for own_jobs in groups.values():
            if len(own_jobs) < 2 or any(len(j.teams) > 1 for j in instance.jobs):
                continue
            position = self._scarcest(own_jobs[0])
            for first, second in itertools.pairwise(own_jobs):
                self.model.add(
                    self.jobs[first[position]].start <= self.jobs[second[position]].start
                )

    def _scarcest(self, own: list[int]) -> int:
        def capacity(number: int) -> int:
            job = self.instance.jobs[number]
            return min((self.instance.resources[r].capacity for r, _ in job.uses), default=1000)

        return min(range(len(own)), key=lambda k: (capacity(own[k]), k))

    # -- solving -----------------------------------------------------------------------------

    def hint(self, state: ListState) -> None:
        """Start from a plan (its finish need not lie before the limit)."""
        for number, variables in enumerate(self.jobs):
            if variables.interval is not None:
                self.model.add_hint(variables.start, state.starts[number])
            for tick, literal in variables.ticks.items():
                self.model.add_hint(literal, bool(state.masks[number] >> tick & 1))

    def solve(
        self,
        work: float,
        seed: int,
        on_progress: Callable[[int, int], None] | None,
        should_stop: Callable[[], bool] | None,
        *,
        relaxed: bool = False,
    ) -> SolverAnswer:
        """Search for `work` units of deterministic time; repeatable for the same seed.

        `relaxed` reasons on the linear relaxation too, for a better bound.
        """
        solver = self.cp_model.CpSolver()
        parameters = solver.parameters
        # One worker, or two taking turns, are repeatable, and on these models they proved more in
        # the same time than a portfolio of eight.
        if relaxed:
            parameters.subsolvers.extend(["no_lp", "reduced_costs"])
            parameters.num_workers = 2
            parameters.interleave_search = True
        else:
            parameters.num_workers = 1
            parameters.linearization_level = 0
        parameters.max_deterministic_time = work
        parameters.random_seed = seed
        parameters.symmetry_level = 0
        callback = self._callback(on_progress)
        with _Watch(solver, should_stop):
            status = solver.solve(self.model, callback)
        names = {self.cp_model.OPTIMAL, self.cp_model.FEASIBLE}
        masks = [self._mask(solver, n) for n in range(len(self.jobs))] if status in names else None
        if status == self.cp_model.INFEASIBLE:
            return SolverAnswer(
                None, self.limit + 1, proven=True, work=solver.response_proto.deterministic_time
            )
        return SolverAnswer(
            masks,
            round(solver.best_objective_bound),
            proven=status == self.cp_model.OPTIMAL,
            work=solver.response_proto.deterministic_time,
        )

    def _callback(self, on_progress: Callable[[int, int], None] | None) -> Any:
        class Report(self.cp_model.CpSolverSolutionCallback):  # type: ignore[name-defined, misc]
            def on_solution_callback(self) -> None:
                if on_progress is not None:
                    on_progress(round(self.objective_value), round(self.best_objective_bound))

        return Report()

    def _mask(self, solver: Any, number: int) -> int:
        variables = self.jobs[number]
        if variables.interval is not None:
            start = int(solver.value(variables.start))
            return ((1 << self.instance.jobs[number].ticks) - 1) << start
        return mask_of(
            Sitting(tick, 1) for tick, literal in variables.ticks.items() if solver.value(literal)
        )


class _Watch:
    """Asks now and then whether someone wants to stop, and tells the solver."""

    def __init__(self, solver: Any, should_stop: Callable[[], bool] | None) -> None:
        self.solver = solver
        self.should_stop = should_stop
        self.over = Event()
        self.thread: Thread | None = None

    def __enter__(self) -> None:
        if self.should_stop is not None:
            self.thread = Thread(target=self._ask, daemon=True)
            self.thread.start()

    def _ask(self) -> None:
        while not self.over.wait(0.1):
            if self.should_stop is not None and self.should_stop():
                self.solver.stop_search()

    def __exit__(self, *_: object) -> None:
        self.over.set()
        if self.thread is not None:
            self.thread.join()


def _is_ticked(job: InstanceJob) -> bool:
    """Whether a job needs one literal per tick."""
    if job.splitting is Splitting.SITTINGS and job.ticks > 1:
        return True
    if job.splitting is Splitting.UNBROKEN and (job.minimum > 1 or job.zone >= 0):
        return True
    return job.zone >= 0


def _by_units(taken: list[int]) -> list[tuple[int, int]]:
    """Ticks by how many units are gone in them."""
    masks: dict[int, int] = defaultdict(int)
    for tick, units in enumerate(taken):
        if units:
            masks[units] |= 1 << tick
    return list(masks.items())
