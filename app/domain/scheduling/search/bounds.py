"""Lower bounds: how early can everything possibly be finished?

Destructive bounds (Klein and Scholl 1999): suppose the plan ends by a tick and look for a
contradiction. Heads and tails come from the waits by the clock, from what fits in the meetings
and from each team's being in one place (Carlier 1982, Jackson's pre-emptive rule); then, for
every station, fixture and for the adults, the work that must lie inside a window is compared
with the capacity of that window.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate

from app.domain.scheduling.instance import Instance, InstanceJob
from app.domain.scheduling.search.list_schedule import fit


@dataclass(frozen=True)
class Bottleneck:
    """Why no plan can end earlier: a resource, a window of ticks, its work and its room.

    `resource` is None when the longest chain of waits and work decides. `work` and `room` are
    in ticks of the whole resource.
    """

    resource: str | None
    first_tick: int = 0
    end_tick: int = 0
    work: int = 0
    room: int = 0


@dataclass(frozen=True)
class Bound:
    """No plan ends before `finish`; `because` is what forbids one tick less."""

    finish: int
    because: Bottleneck


@dataclass(frozen=True)
class _Group:
    """Jobs that share a capacity: units of work per job, and the room before each tick."""

    name: str
    work: dict[int, int]
    room: list[int]
    scale: int


class Windows:
    """Earliest and latest times of every job, by calendar, waits and its own team's work."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        jobs = instance.jobs
        self.end_from = self._end_tables()
        before: list[set[int]] = [set() for _ in jobs]
        after: list[set[int]] = [set() for _ in jobs]
        for number in instance.order:
            for other, _ in jobs[number].waits:
                before[number] |= before[other] | {other}
        for number in reversed(instance.order):
            for other in jobs[number].followers:
                after[number] |= after[other] | {other}
        self.own_before = [self._same_team(n, others) for n, others in enumerate(before)]
        self.own_after = [self._same_team(n, others) for n, others in enumerate(after)]
        self.alike = _alike(instance)
        self.earliest_start, self.earliest_end = self._heads()

    def _same_team(self, number: int, others: set[int]) -> list[int]:
        teams = set(self.instance.jobs[number].teams)
        if len(teams) != 1:
            return []
        return sorted(n for n in others if teams <= set(self.instance.jobs[n].teams))

    def _end_tables(self) -> list[list[int]]:
        """For each job the earliest end if it may start from a tick, on the calendar alone."""
        tables: dict[tuple[object, ...], list[int]] = {}
        result = []
        for job in self.instance.jobs:
            key = (job.ticks, job.minimum, job.splitting, job.section, job.free_ticks)
            if key not in tables:
                tables[key] = [self._end(job, tick) for tick in range(self.instance.ticks + 1)]
            result.append(tables[key])
        return result

    def _end(self, job: InstanceJob, tick: int) -> int:
        taken = fit(self.instance, job, job.free_ticks >> tick << tick)
        return taken.bit_length() if taken else self.instance.ticks + 1

    def _heads(self) -> tuple[list[int], list[int]]:
        jobs = self.instance.jobs
        last = self.instance.ticks
        starts = [0] * len(jobs)
        ends = [0] * len(jobs)
        known: dict[int, int] = {}
        for number in self.instance.order:
            job = jobs[number]
            twin = known.setdefault(self.alike[number], number)
            if twin != number:
                starts[number], ends[number] = starts[twin], ends[twin]
                continue
            if job.pinned is not None:
                starts[number] = job.pinned[0].tick
                ends[number] = job.pinned[-1].end
                continue
            start = job.release
            for other, table in job.waits:
                end = min(ends[other], last)
                start = max(start, end if table is None else table[end])
            work = 0
            loads = []
            for other in sorted(self.own_before[number], key=lambda n: -starts[n]):
                work += jobs[other].ticks
                loads.append(starts[other] + work)
            start = max([start, *loads])
            end = self.end_from[number][min(start, last)]
            starts[number] = start
            ends[number] = max([end, *(load + job.ticks for load in loads)])
        return starts, ends

    def latest(self, finish: int) -> tuple[list[int], list[int]]:
        """Latest starts and latest ends of all jobs in a plan that ends by `finish`."""
        jobs = self.instance.jobs
        starts = [finish] * len(jobs)
        ends = [finish] * len(jobs)
        known: dict[int, int] = {}
        for number in reversed(self.instance.order):
            job = jobs[number]
            twin = known.setdefault(self.alike[number], number)
            if twin != number:
                starts[number], ends[number] = starts[twin], ends[twin]
                continue
            if job.pinned is not None:
                starts[number] = job.pinned[0].tick
                ends[number] = job.pinned[-1].end
                continue
            end = finish if job.deadline is None else min(finish, job.deadline)
            for follower in job.followers:
                for other, table in jobs[follower].waits:
                    if other == number:
                        limit = starts[follower]
                        end = min(end, limit if table is None else bisect_right(table, limit) - 1)
            work = 0
            loads = []
            for other in sorted(self.own_after[number], key=ends.__getitem__):
                work += jobs[other].ticks
                loads.append(ends[other] - work)
            end = min([end, *loads])
            start = bisect_right(self.end_from[number], end) - 1
            ends[number] = end
            starts[number] = min([start, *(load - job.ticks for load in loads)])
        return starts, ends


def _alike(instance: Instance) -> list[int]:
    """A class per job; jobs of teams with the very same work and past share their classes."""
    by_team: dict[tuple[int, ...], list[int]] = {}
    for number, job in enumerate(instance.jobs):
        by_team.setdefault(job.teams, []).append(number)
    classes: dict[tuple[object, ...], int] = {}
    result = list(range(len(instance.jobs)))
    for teams, numbers in by_team.items():
        if len(teams) != 1:
            continue
        position = {number: k for k, number in enumerate(numbers)}
        shape = tuple(_shape(instance.jobs[number], position) for number in numbers)
        for k, number in enumerate(numbers):
            result[number] = classes.setdefault((shape, k), number)
    return result


def _shape(job: InstanceJob, position: dict[int, int]) -> tuple[object, ...]:
    waits = tuple((position.get(before, -1 - before), id(table)) for before, table in job.waits)
    followers = tuple(position.get(after, -1 - after) for after in job.followers)
    limits = (job.release, job.deadline, job.pinned, job.began)
    work = (job.ticks, job.minimum, job.splitting, job.free_ticks, job.section)
    return (waits, followers, limits, work)


def lower_bound(instance: Instance, windows: Windows | None = None) -> Bound:
    """The earliest finish that no argument above contradicts, and the argument one tick before."""
    windows = windows or Windows(instance)
    groups = list(_groups(instance))
    chain = max(windows.earliest_end, default=0)
    if chain > instance.ticks:
        return Bound(instance.ticks + 1, Bottleneck(None))
    low, high = chain, instance.ticks
    because = Bottleneck(None, 0, chain, chain, chain)
    if _contradiction(instance, windows, groups, high) is not None:
        low = high + 1
    while low < high:
        middle = (low + high) // 2
        if _contradiction(instance, windows, groups, middle) is None:
            high = middle
        else:
            low = middle + 1
    if low > chain:
        because = _contradiction(instance, windows, groups, low - 1) or because
    return Bound(low, because)


def _contradiction(
    instance: Instance, windows: Windows, groups: list[_Group], finish: int
) -> Bottleneck | None:
    # Deadlines of single steps are a matter of lateness, not of this bound.
    starts, ends = _latest_without_deadlines(instance, windows, finish)
    early = windows.earliest_start
    for number, start in enumerate(starts):
        if instance.jobs[number].pinned is None and (
            start < early[number] or ends[number] < windows.earliest_end[number]
        ):
            return Bottleneck(None, early[number], ends[number])
    for group in groups:
        overload = _overload(group, early, ends)
        if overload is not None:
            return overload
    return None


def _latest_without_deadlines(
    instance: Instance, windows: Windows, finish: int
) -> tuple[list[int], list[int]]:
    limits = [job.deadline for job in instance.jobs]
    if not any(limit is not None for limit in limits):
        return windows.latest(finish)
    for job in instance.jobs:
        job.deadline = None
    try:
        return windows.latest(finish)
    finally:
        for job, limit in zip(instance.jobs, limits, strict=True):
            job.deadline = limit


def _overload(group: _Group, early: list[int], late: list[int]) -> Bottleneck | None:
    """A window with more work in it than room, if there is one."""
    members = sorted(group.work, key=late.__getitem__)
    for first in sorted({early[n] for n in members}):
        work = 0
        for number in members:
            if early[number] < first:
                continue
            work += group.work[number]
            end = late[number]
            room = group.room[max(end, first)] - group.room[first]
            if work > room:
                scale = group.scale
                return Bottleneck(group.name, first, end, -(-work // scale), room // scale)
    return None


def _groups(instance: Instance) -> Iterator[_Group]:
    jobs = instance.jobs
    for index, resource in enumerate(instance.resources):
        work: dict[int, int] = {}
        for number, job in enumerate(jobs):
            units = sum(u for r, u in job.uses if r == index) * job.ticks
            units += sum(quantity for held, quantity, _ in job.holds if held == index) * job.ticks
            if units and job.pinned is None:
                work[number] = units
        if work:
            room = [resource.capacity - taken for taken in resource.taken]
            yield _Group(resource.name, work, _before(room), max(resource.capacity, 1))
    yield from _adult_groups(instance)


def _adult_groups(instance: Instance) -> Iterator[_Group]:
    """The adults, alone and together with the users of each supervised station.

    While anybody works under line of sight, half an adult is away from the machines; an adult
    who stands at a machine is a whole one. So a station with c places adds 2/c halves per place.
    """
    halves = [instance.adult_capacity - taken for taken in instance.adult_taken]
    machine = {
        n: j.ticks for n, j in enumerate(instance.jobs) if j.adult_units == 2 and j.pinned is None
    }
    if machine:
        yield _Group("adult", {n: 2 * t for n, t in machine.items()}, _before(halves), 2)
    for index, resource in enumerate(instance.resources):
        watched = {
            number: 2 * units * job.ticks
            for number, job in enumerate(instance.jobs)
            if job.adult_units == 1 and job.pinned is None
            for used, units in job.uses
            if used == index
        }
        if watched and machine:
            places = resource.capacity
            work = {n: 2 * places * t for n, t in machine.items()} | watched
            yield _Group("adult", work, _before([h // 2 * 2 * places for h in halves]), 2 * places)


def _before(room: list[int]) -> list[int]:
    return list(accumulate(room, initial=0))
