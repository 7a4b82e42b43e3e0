"""A problem compiled to integers: jobs, tick masks and tables for the search.

A job is a task that still needs ticks, or all teams' tasks of a whole-class step together. Steps
of zero ticks and finished work are folded into the waits between jobs. Sets of ticks are Python
integers, one bit per tick, so that "free at every place it needs" is a handful of `&`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import gcd

from app.domain.scheduling.axis import Axis
from app.domain.scheduling.problem import Outage, Problem, Splitting, StepWork, Supervision
from app.domain.scheduling.schedule import Sitting, TaskKey

# A wait: ticks of work, minutes of clock, and whether to go on to the section's next meeting.
Wait = tuple[int, int, bool]
Table = tuple[int, ...]
NO_WAIT: Wait = (0, 0, False)


@dataclass
class Resource:
    """Places that are counted: `capacity` units per tick, `taken` units gone before planning."""

    name: str
    capacity: int
    taken: list[int]
    unit: int = 1


@dataclass(slots=True)
class InstanceJob:
    """One unit of placing. Waits are tables from an end tick to the earliest start tick."""

    keys: tuple[TaskKey, ...]
    ticks: int
    minimum: int
    splitting: Splitting
    teams: tuple[int, ...]
    section: str
    uses: tuple[tuple[int, int], ...] = ()
    zone: int = -1
    adult_units: int = 0
    holds: tuple[tuple[int, int, Table], ...] = ()
    spans: tuple[tuple[int, int, int, Table], ...] = ()
    waits: list[tuple[int, Table | None]] = field(default_factory=list)
    followers: list[int] = field(default_factory=list)
    release: int = 0
    deadline: int | None = None
    pinned: tuple[Sitting, ...] | None = None
    began: int | None = None
    free_ticks: int = 0
    together: int = 0
    run_end: list[int] = field(default_factory=list)
    closes: tuple[tuple[int, int], ...] = ()


@dataclass
class Instance:
    """Everything the search reads; nothing in it changes."""

    problem: Problem
    axis: Axis
    term: int
    jobs: list[InstanceJob]
    resources: list[Resource]
    zones: list[str]
    zone_capacity: list[int]
    adult_capacity: int
    adult_taken: list[int]
    reserved: list[tuple[int, int, int]]
    order: list[int]
    movable: list[int] = field(default_factory=list)
    wait_counts: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.movable = [n for n in self.order if self.jobs[n].pinned is None]
        self.wait_counts = [len({before for before, _ in job.waits}) for job in self.jobs]

    @property
    def ticks(self) -> int:
        """Length of the axis the search may use, beyond the term if need be."""
        return self.axis.ticks


def compile_problem(problem: Problem, extra_ticks: int = 0) -> Instance:
    """Compile a problem; `extra_ticks` lets plans that do not fit run on beyond the term."""
    return _Compiler(problem, extra_ticks).instance()


def mask_of(sittings: Iterable[Sitting]) -> int:
    """The set of ticks of some sittings."""
    mask = 0
    for tick, ticks in sittings:
        mask |= ((1 << ticks) - 1) << tick
    return mask


class _Compiler:
    def __init__(self, problem: Problem, extra_ticks: int) -> None:
        self.problem = problem
        self.axis = problem.axis.extended(extra_ticks) if extra_ticks else problem.axis
        self.size = self.axis.ticks
        self.tables: dict[tuple[str, tuple[Wait, ...]], Table] = {}
        self.resources: list[Resource] = []
        self.resource_index: dict[tuple[str, str], int] = {}
        self.zones = sorted({s.zone for s in problem.stations if s.zone is not None})
        self.team_index = {(t.section, t.key): n for n, t in enumerate(problem.teams)}
        self.masks: dict[tuple[str, bool], int] = {}
        self.together = {s: self._together(s) for s in self.axis.sections}
        self.run_end = {s: self._run_end(s) for s in self.axis.sections}
        self.pins = {pin.key: pin for pin in problem.pins}

    def instance(self) -> Instance:
        nodes = self._nodes()
        self._count_resources(nodes)
        jobs: list[InstanceJob] = []
        job_of: dict[TaskKey, int] = {}
        for members in nodes:
            if self._needs_ticks(members):
                for key in members:
                    job_of[key] = len(jobs)
                jobs.append(self._job(members))
        for number, job in enumerate(jobs):
            self._link(number, job, jobs, job_of)
        reserved = self._reserved()
        self._open_spans(jobs, job_of, reserved)
        adults = [2 * self.axis.adults(tick) for tick in range(self.size)]
        peak = max([*adults, 2])
        return Instance(
            problem=self.problem,
            axis=self.axis,
            term=self.problem.axis.ticks,
            jobs=jobs,
            resources=self.resources,
            zones=self.zones,
            zone_capacity=[self._zone_peak()] * len(self.zones),
            adult_capacity=peak,
            adult_taken=[peak - halves for halves in adults],
            reserved=reserved,
            order=_topological(jobs),
        )

    def _nodes(self) -> list[tuple[TaskKey, ...]]:
        """Tasks, with the unfinished teams of a whole-class step taken as one."""
        groups: dict[tuple[str, str, str], list[TaskKey]] = {}
        for key, step in self.problem.steps.items():
            done = self.problem.done_by_key.get(key)
            joint = step.whole_class and not (done and done.finished) and key not in self.pins
            groups.setdefault((key.section, "" if joint else key.team, key.step), []).append(key)
        return [tuple(keys) for keys in groups.values()]

    def _needs_ticks(self, members: tuple[TaskKey, ...]) -> bool:
        done = self.problem.done_by_key.get(members[0])
        return self.problem.steps[members[0]].ticks > 0 and not (done and done.finished)

    # -- resources ---------------------------------------------------------------------------

    def _count_resources(self, nodes: list[tuple[TaskKey, ...]]) -> None:
        demands: dict[tuple[str, str], dict[tuple[str, str], list[int]]] = {}
        for members in nodes:
            for key in members:
                step = self.problem.steps[key]
                wants = [("station", u.station, u.places) for u in step.stations if step.ticks]
                wants += [("fixture", h.fixture, h.quantity) for h in step.holds]
                wants += [("check-out", "", 1)] if step.observed and step.ticks else []
                for kind, name, quantity in wants:
                    by_team = demands.setdefault((kind, name), {})
                    by_team.setdefault(key[:2], []).append(quantity)
        for (kind, name), by_team in sorted(demands.items()):
            capacity, outages = self._capacity(kind, name)
            if capacity is not None and not self._never_binds(kind, by_team, capacity, outages):
                unit = gcd(*(q for quantities in by_team.values() for q in quantities))
                self._add_resource(kind, name, capacity, outages, unit)

    def _capacity(self, kind: str, name: str) -> tuple[int | None, tuple[Outage, ...]]:
        if kind == "station":
            return self.problem.station[name].places, self.problem.station[name].outages
        if kind == "fixture":
            return self.problem.fixture[name].count, self.problem.fixture[name].outages
        return 1, ()

    def _never_binds(
        self,
        kind: str,
        by_team: dict[tuple[str, str], list[int]],
        capacity: int,
        outages: tuple[Outage, ...],
    ) -> bool:
        if outages:
            return False
        one_place = {
            (t.section, t.key) for t in self.problem.teams if t.one_place and kind != "fixture"
        }
        return (
            sum(max(q) if team in one_place else sum(q) for team, q in by_team.items()) <= capacity
        )

    def _add_resource(
        self, kind: str, name: str, capacity: int, outages: tuple[Outage, ...], unit: int
    ) -> None:
        units = (
            max(capacity, *(o.places for o in outages), 0) // unit if outages else capacity // unit
        )
        taken = [units - capacity // unit] * self.size
        for outage in outages:
            for tick in range(outage.first_tick, min(outage.end_tick, self.size)):
                taken[tick] = max(taken[tick], units - outage.places // unit)
        self.resource_index[kind, name] = len(self.resources)
        self.resources.append(Resource(name or kind, units, taken, unit))

    def _zone_peak(self) -> int:
        """No more steps than teams (or tasks, where a team may do several) run at once."""
        return sum(1 if t.one_place else len(t.steps) for t in self.problem.teams)

    # -- tables ------------------------------------------------------------------------------

    def table(self, section: str, waits: tuple[Wait, ...]) -> Table | None:
        """From end tick to the earliest start tick; None when nothing is waited for."""
        waits = tuple(wait for wait in waits if wait != NO_WAIT)
        if not waits:
            return None
        if (section, waits) not in self.tables:
            self.tables[section, waits] = tuple(
                self._after(section, end, waits) for end in range(self.size + 1)
            )
        return self.tables[section, waits]

    def _after(self, section: str, end: int, waits: tuple[Wait, ...]) -> int:
        minute = self.axis.end_minute(end)
        for ticks, minutes, next_meeting in waits:
            if next_meeting:
                end = max(end, self.axis.next_meeting_tick(section, minute))
                minute = max(minute, self.axis.end_minute(end))
            minute += minutes
            end = max(end + ticks, self.axis.first_tick_from(minute))
            if ticks:
                minute = max(minute, self.axis.end_minute(end))
        return min(end, self.size)

    def _mask(self, section: str, *, needs_power: bool) -> int:
        if (section, needs_power) not in self.masks:
            self.masks[section, needs_power] = sum(
                1 << tick
                for tick in range(self.size)
                if self.axis.meeting_at(section, tick) is not None
                and (not needs_power or self.axis.power(tick))
            )
        return self.masks[section, needs_power]

    def _together(self, section: str) -> int:
        """Ticks whose next tick belongs to the same meeting of the section."""
        at = self.axis.meeting_at
        return sum(
            1 << tick
            for tick in range(self.size - 1)
            if at(section, tick) is not None and at(section, tick) == at(section, tick + 1)
        )

    def _run_end(self, section: str) -> list[int]:
        """For each tick the end (exclusive) of its meeting; the tick itself outside meetings."""
        ends = list(range(self.size))
        for meeting, (first, end) in zip(self.axis.meetings, self.axis.spans, strict=True):
            if meeting.section == section:
                ends[first:end] = [end] * (end - first)
        return ends

    # -- jobs --------------------------------------------------------------------------------

    def _job(self, members: tuple[TaskKey, ...]) -> InstanceJob:
        step = self.problem.steps[members[0]]
        section = members[0].section
        worked = [self.problem.done_by_key[k] for k in members if k in self.problem.done_by_key]
        pin = self.pins.get(members[0])
        teams = [self.team_index[key[:2]] for key in members]
        deadlines = [d for k in members if (d := self.problem.steps[k].deadline_tick) is not None]
        job = InstanceJob(
            keys=members,
            ticks=step.ticks - min((sum(s.ticks for s in d.sittings) for d in worked), default=0),
            minimum=step.minimum_sitting,
            splitting=step.splitting,
            teams=tuple(n for n in teams if self.problem.teams[n].one_place),
            section=section,
            uses=self._uses(members),
            deadline=min(deadlines, default=None),
            pinned=pin.sittings if pin else None,
            began=min((s.tick for d in worked for s in d.sittings), default=None),
            free_ticks=self._mask(section, needs_power=not step.substitute_safe),
            together=self.together[section],
            run_end=self.run_end[section],
        )
        if step.supervision is Supervision.AT_THE_MACHINE:
            job.adult_units = 2
        elif step.supervision is Supervision.LINE_OF_SIGHT:
            zone = self.problem.zone(step)
            job.adult_units = 1
            job.zone = self.zones.index(zone) if zone is not None else -1
        job.holds = self._holds(members, step)
        job.release = max(self._release(key) for key in members)
        return job

    def _uses(self, members: tuple[TaskKey, ...]) -> tuple[tuple[int, int], ...]:
        totals: dict[int, int] = {}
        for key in members:
            step = self.problem.steps[key]
            wants = [("station", use.station, use.places) for use in step.stations]
            wants += [("check-out", "", 1)] if step.observed else []
            for kind, name, quantity in wants:
                index = self.resource_index.get((kind, name))
                if index is not None:
                    totals[index] = totals.get(index, 0) + quantity // self.resources[index].unit
        return tuple(totals.items())

    def _holds(
        self, members: tuple[TaskKey, ...], step: StepWork
    ) -> tuple[tuple[int, int, Table], ...]:
        holds = []
        for hold in step.holds:
            index = self.resource_index.get(("fixture", hold.fixture))
            if index is not None and hold.until is None:
                table = self._hold_table(hold.minutes)
                units = len(members) * (hold.quantity // self.resources[index].unit)
                holds.append((index, units, table))
        return tuple(holds)

    def _hold_table(self, minutes: int) -> Table:
        """From end tick to the first tick in which a fixture is free again."""
        table = self.table("", ((0, minutes, False),))
        return table if table is not None else tuple(range(self.size + 1))

    def _release(self, key: TaskKey) -> int:
        step = self.problem.steps[key]
        stations = {use.station for use in step.stations}
        briefed = [
            b.tick
            for b in self.problem.briefings
            if b.section == key.section and b.station in stations
        ]
        return max([step.earliest_tick, self.problem.now, *briefed])

    def _link(
        self, number: int, job: InstanceJob, jobs: list[InstanceJob], job_of: dict[TaskKey, int]
    ) -> None:
        """Turn links, through steps of zero ticks and finished work, into waits between jobs."""
        found: dict[tuple[int, tuple[Wait, ...]], None] = {}
        for key in job.keys:
            self._walk_back(key, (), job, job_of, found)
        for before, waits in found:
            table = self.table(job.section, waits)
            if before != number and (before, table) not in job.waits:
                job.waits.append((before, table))
        for before in sorted({b for b, _ in job.waits}):
            jobs[before].followers.append(number)

    def _walk_back(
        self,
        key: TaskKey,
        waits: tuple[Wait, ...],
        job: InstanceJob,
        job_of: dict[TaskKey, int],
        found: dict[tuple[int, tuple[Wait, ...]], None],
    ) -> None:
        for link in self.problem.steps[key].links:
            other = TaskKey(key.section, key.team, link.step)
            step = self.problem.steps[other]
            wait = (link.ticks, max(step.drying_minutes, link.minutes), step.outside_class)
            chain = (wait, *waits)
            if other in job_of:
                found[job_of[other], chain] = None
            elif (start := self._settled(other)) is not None:
                job.release = max(job.release, self._after(job.section, start, chain))
            else:
                earliest = max(step.earliest_tick, self.problem.now)
                job.release = max(job.release, self._after(job.section, earliest, chain))
                self._walk_back(other, chain, job, job_of, found)

    def _settled(self, key: TaskKey) -> int | None:
        """The end tick of a task that is finished or pinned outside class."""
        done = self.problem.done_by_key.get(key)
        if done is not None and done.finished:
            return done.sittings[-1].end if done.sittings else 0
        pin = self.pins.get(key)
        return pin.end if pin is not None else None

    # -- what is taken before planning ---------------------------------------------------------

    def _reserved(self) -> list[tuple[int, int, int]]:
        """Fixtures still held by work of the past: (resource, units, ticks)."""
        reserved = []
        for done in self.problem.done:
            if not done.sittings:
                continue
            for index, units, table in self._holds((done.key,), self.problem.steps[done.key]):
                if done.finished:
                    held = range(self.problem.now, table[done.sittings[-1].end])
                    if held:
                        reserved.append((index, units, mask_of([Sitting(held.start, len(held))])))
        return reserved

    def _open_spans(
        self,
        jobs: list[InstanceJob],
        job_of: dict[TaskKey, int],
        reserved: list[tuple[int, int, int]],
    ) -> None:
        """Holds from one step to a later one: opened by the first job, closed by the other."""
        for key, step in self.problem.steps.items():
            for hold in step.holds:
                index = self.resource_index.get(("fixture", hold.fixture))
                if hold.until is None or index is None:
                    continue
                units = hold.quantity // self.resources[index].unit
                closer = job_of.get(TaskKey(key.section, key.team, hold.until))
                table = self._hold_table(hold.minutes)
                opener = job_of.get(key)
                if closer is None:
                    self._span_already_closed(
                        key, hold.until, index, units, table, reserved, opener, jobs
                    )
                elif opener is None:
                    if self._has_begun(key):
                        held = Sitting(self.problem.now, self.size - self.problem.now)
                        reserved.append((index, units, mask_of([held])))
                        number = len(reserved) - 1
                        jobs[closer].spans += ((-1 - number, index, units, table),)
                else:
                    jobs[closer].spans += ((opener, index, units, table),)
                    jobs[opener].closes += ((index, units),)

    def _has_begun(self, key: TaskKey) -> bool:
        done = self.problem.done_by_key.get(key)
        return done is not None and bool(done.sittings)

    def _span_already_closed(
        self,
        key: TaskKey,
        until: str,
        index: int,
        units: int,
        table: Table,
        reserved: list[tuple[int, int, int]],
        opener: int | None,
        jobs: list[InstanceJob],
    ) -> None:
        """The later step is finished: only its minutes of holding may reach past now."""
        done = self.problem.done_by_key.get(TaskKey(key.section, key.team, until))
        if done is not None and done.sittings and opener is None:
            held = range(self.problem.now, table[done.sittings[-1].end])
            if held:
                reserved.append((index, units, mask_of([Sitting(held.start, len(held))])))
        elif opener is not None:
            jobs[opener].holds += ((index, units, table),)


def _topological(jobs: list[InstanceJob]) -> list[int]:
    missing = [len({b for b, _ in job.waits}) for job in jobs]
    ready = [n for n, count in enumerate(missing) if count == 0]
    order = []
    while ready:
        number = ready.pop(0)
        order.append(number)
        for follower in jobs[number].followers:
            missing[follower] -= 1
            if missing[follower] == 0:
                ready.append(follower)
    return order
