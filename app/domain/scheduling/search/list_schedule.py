"""List scheduling: jobs placed one after another, each at the earliest ticks that are free.

The serial schedule-generation scheme of project scheduling (Kolisch 1996), with sittings: a job
that may be interrupted fills the gaps that jobs placed before it left. What is in use is kept as
levels per resource, `levels[k]` being the ticks in which at least k units are taken, so that a
job can be taken out again as quickly as it was put in.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heapify, heappop, heappush

from app.domain.scheduling.instance import Instance, InstanceJob, mask_of
from app.domain.scheduling.problem import After, Splitting
from app.domain.scheduling.schedule import PlannedActivity, Schedule, Sitting, TaskKey

NOWHERE = -1
SITTINGS = Splitting.SITTINGS
ONE_SITTING = Splitting.ONE_SITTING


def lowest(mask: int) -> int:
    """The smallest tick of a set that is not empty."""
    return (mask & -mask).bit_length() - 1


def add_units(levels: list[int], mask: int, units: int) -> None:
    """Take `units` more in each tick of a set; what is above the capacity is not counted."""
    for _ in range(units):
        carry = mask
        for k in range(1, len(levels)):
            level = levels[k]
            levels[k] = level | carry
            carry &= level
            if not carry:
                break


def remove_units(levels: list[int], mask: int, units: int) -> None:
    """Give `units` back in each tick of a set."""
    for _ in range(units):
        carry = mask
        for k in range(len(levels) - 1, 0, -1):
            hit = levels[k] & carry
            if hit:
                levels[k] ^= hit
                carry ^= hit
                if not carry:
                    break


class ListState:
    """What is taken, tick by tick, and where each job lies.

    `masks[i]` is the set of ticks of job i (0: not placed), `ends[i]` the tick after its last.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        count = len(instance.jobs)
        self.masks = [0] * count
        self.starts = [0] * count
        self.ends = [0] * count
        self.everything = (1 << instance.ticks) - 1
        self.teams = [0] * len(instance.problem.teams)
        self.levels = [_prefilled(r.capacity, r.taken) for r in instance.resources]
        self.adults = _prefilled(instance.adult_capacity, instance.adult_taken)
        self.zones = [[-1] + [0] * peak for peak in instance.zone_capacity]
        self.held: list[tuple[tuple[int, int, int], ...]] = [()] * count
        self.open: list[tuple[tuple[int, int, int], ...]] = [()] * count
        for index, units, mask in instance.reserved:
            add_units(self.levels[index], mask, units)

    def copy(self) -> ListState:
        """An independent copy; the sets themselves are shared, being immutable."""
        other = ListState.__new__(ListState)
        other.instance = self.instance
        other.everything = self.everything
        other.masks = self.masks[:]
        other.starts = self.starts[:]
        other.ends = self.ends[:]
        other.teams = self.teams[:]
        other.levels = [levels[:] for levels in self.levels]
        other.adults = self.adults[:]
        other.zones = [levels[:] for levels in self.zones]
        other.held = self.held[:]
        other.open = self.open[:]
        return other

    def earliest(self, number: int) -> int:
        """The first tick the job may start in, given where its predecessors lie."""
        job = self.instance.jobs[number]
        ends = self.ends
        first = job.release
        for before, table in job.waits:
            end = ends[before] if table is None else table[ends[before]]
            first = max(first, end)
        return first

    def free(self, job: InstanceJob) -> int:
        """The ticks in which the team, its stations and the adults are free for a job."""
        mask = job.free_ticks
        for team in job.teams:
            mask &= ~self.teams[team]
        levels = self.levels
        for index, units in job.uses:
            mask &= ~levels[index][-units]
        if job.adult_units == 2:
            mask &= ~self.adults[-2]
        elif job.adult_units:
            room = ~self.adults[-1]
            if job.zone >= 0:
                room |= self.zones[job.zone][1]
            mask &= room
        return mask

    def place(self, number: int) -> bool:
        """Put a job at its earliest free ticks; False if there are none."""
        job = self.instance.jobs[number]
        first = self.earliest(number)
        mask = self.free(job)
        while True:
            taken = fit(self.instance, job, mask >> first << first)
            if not taken:
                return False
            begin = lowest(taken)
            start = begin if job.began is None else min(job.began, begin)
            end = taken.bit_length()
            clash = self._holding_clash(job, start, end) if job.holds or job.closes else NOWHERE
            if clash == NOWHERE:
                self._take(number, taken, start, end)
                return True
            first = clash + 1
            if first >= self.instance.ticks or (job.began is not None and clash >= begin):
                return False

    def _holding_clash(self, job: InstanceJob, start: int, end: int) -> int:
        """The last tick in which a fixture the job would hold is taken, or NOWHERE."""
        worst = NOWHERE
        for index, units, table in job.holds:
            clash = self.levels[index][-units] & _range(start, table[end])
            worst = max(worst, clash.bit_length() - 1)
        for index, units in job.closes:
            clash = self.levels[index][-units] & (self.everything >> start << start)
            worst = max(worst, clash.bit_length() - 1)
        return worst

    def _take(self, number: int, taken: int, start: int, end: int) -> None:
        job = self.instance.jobs[number]
        self.masks[number] = taken
        self.starts[number] = start
        self.ends[number] = end
        for team in job.teams:
            self.teams[team] |= taken
        for index, units in job.uses:
            add_units(self.levels[index], taken, units)
        if job.adult_units:
            if job.zone >= 0 and job.adult_units == 1:
                zone = self.zones[job.zone]
                add_units(self.adults, taken & ~zone[1], 1)
                add_units(zone, taken, 1)
            else:
                add_units(self.adults, taken, job.adult_units)
        if job.holds or job.closes or job.spans:
            self._hold(number, job, start, end)

    def _hold(self, number: int, job: InstanceJob, start: int, end: int) -> None:
        held = [(index, units, _range(start, table[end])) for index, units, table in job.holds]
        held += [(index, units, self.everything >> start << start) for index, units in job.closes]
        for index, units, mask in held:
            add_units(self.levels[index], mask, units)
        freed = []
        for opener, index, units, table in job.spans:
            if opener >= 0 and not self.masks[opener]:
                continue
            begin = self.starts[opener] if opener >= 0 else self.instance.problem.now
            after = max(begin, table[end])
            mask = self.everything >> after << after
            remove_units(self.levels[index], mask, units)
            freed.append((index, units, mask))
        self.held[number] = tuple(held)
        self.open[number] = tuple(freed)

    def unplace(self, number: int) -> None:
        """Take a job out again; jobs that close a span must go before the job that opened it."""
        job = self.instance.jobs[number]
        taken = self.masks[number]
        if not taken:
            return
        for team in job.teams:
            self.teams[team] &= ~taken
        for index, units in job.uses:
            remove_units(self.levels[index], taken, units)
        if job.adult_units:
            if job.zone >= 0 and job.adult_units == 1:
                zone = self.zones[job.zone]
                remove_units(zone, taken, 1)
                remove_units(self.adults, taken & ~zone[1], 1)
            else:
                remove_units(self.adults, taken, job.adult_units)
        for index, units, mask in self.open[number]:
            add_units(self.levels[index], mask, units)
        for index, units, mask in self.held[number]:
            remove_units(self.levels[index], mask, units)
        self.open[number] = self.held[number] = ()
        self.masks[number] = 0
        self.ends[number] = 0

    def pin(self, number: int) -> None:
        """Put a pinned job exactly where it was pinned, whatever else lies there."""
        self.put(number, mask_of(self.instance.jobs[number].pinned or ()))

    def put(self, number: int, taken: int) -> None:
        """Put a job at given ticks without asking whether they are free."""
        job = self.instance.jobs[number]
        start = lowest(taken) if job.began is None else min(job.began, lowest(taken))
        self._take(number, taken, start, taken.bit_length())

    def place_exactly(self, number: int, taken: int, first: int) -> bool:
        """Put a job at given ticks if they are free and not before `first`."""
        job = self.instance.jobs[number]
        if not taken or taken.bit_length() > self.instance.ticks or lowest(taken) < first:
            return False
        if taken & ~self.free(job) or fit(self.instance, job, taken) != taken:
            return False
        start = lowest(taken) if job.began is None else min(job.began, lowest(taken))
        if self._holding_clash(job, start, taken.bit_length()) != NOWHERE:
            return False
        self.put(number, taken)
        return True


def fit(instance: Instance, job: InstanceJob, mask: int) -> int:
    """The earliest ticks of a set in which a job can be done, 0 if it cannot."""
    if job.splitting is SITTINGS:
        return fill_sittings(job, mask)
    if job.splitting is ONE_SITTING:
        return _one_run(job.ticks, mask, job.together)
    if instance.axis.sections == (job.section,) and job.minimum == 1:
        return _one_run(job.ticks, mask, -1)
    return _unbroken(instance, job, mask)


def _one_run(ticks: int, mask: int, together: int) -> int:
    starts = _runs(mask, together, ticks)
    return ((1 << ticks) - 1) << lowest(starts) if starts else 0


def _unbroken(instance: Instance, job: InstanceJob, mask: int) -> int:
    """Consecutive ticks of the section's own meetings, across meetings if need be."""
    axis = instance.axis
    own = [t for t in range(axis.ticks) if axis.meeting_at(job.section, t) is not None]
    for position in range(len(own)):
        run = own[position : position + job.ticks]
        if len(run) < job.ticks:
            break
        if all(mask >> t & 1 for t in run) and _long_enough(job, run):
            return sum(1 << t for t in run)
    return 0


def fill_sittings(job: InstanceJob, mask: int) -> int:
    """Fill free runs from the left, none shorter than the minimum or what remains."""
    together = job.together
    left = job.ticks
    taken = 0
    need = min(job.minimum, left)
    joined = _runs(mask, together, need)
    while joined:
        bit = joined & -joined
        tick = bit.bit_length() - 1
        rest = ~(mask >> tick)
        length = (rest & -rest).bit_length() - 1
        room = job.run_end[tick] - tick
        length = min(length, room)
        if length >= left:
            return taken | ((1 << left) - 1) << tick
        taken |= ((1 << length) - 1) << tick
        left -= length
        after = tick + length
        if left < need:
            need = left
            mask = mask >> after << after
            joined = _runs(mask, together, need)
        else:
            joined = joined >> after << after
    return 0


def _prefilled(capacity: int, taken: Sequence[int]) -> list[int]:
    levels = [-1] + [0] * capacity
    for tick, units in enumerate(taken):
        for k in range(1, min(units, capacity) + 1):
            levels[k] |= 1 << tick
    return levels


def _range(start: int, end: int) -> int:
    return ((1 << (end - start)) - 1) << start if end > start else 0


def _runs(mask: int, together: int, length: int) -> int:
    """Ticks at which a run of at least `length` free ticks inside one meeting begins."""
    joined = mask & together
    runs = mask
    for _ in range(length - 1):
        runs = runs >> 1 & joined
    return runs


def _long_enough(job: InstanceJob, run: list[int]) -> bool:
    left = job.ticks
    position = 0
    while left:
        length = min(job.run_end[run[position]] - run[position], left)
        if length < min(job.minimum, left):
            return False
        position += length
        left -= length
    return True


def place_all(state: ListState, priorities: Sequence[float], numbers: Sequence[int]) -> bool:
    """Place jobs by priority (small first), each after its predecessors; True if all found room.

    `numbers` must hold every follower of each of its jobs.
    """
    jobs = state.instance.jobs
    missing = [0] * len(jobs)
    if len(numbers) == len(jobs):
        missing = state.instance.wait_counts[:]
    else:
        for number in numbers:
            for follower in jobs[number].followers:
                missing[follower] += 1
    ready = [(priorities[number], number) for number in numbers if not missing[number]]
    heapify(ready)
    stuck: list[tuple[float, int]] = []
    placed = 0
    while ready:
        number = heappop(ready)[1]
        if not state.place(number):
            stuck.append((priorities[number], number))
            continue
        placed += 1
        if stuck and jobs[number].spans:
            for entry in stuck:
                heappush(ready, entry)
            stuck = []
        for follower in jobs[number].followers:
            missing[follower] -= 1
            if not missing[follower] and not state.masks[follower]:
                heappush(ready, (priorities[follower], follower))
    return placed == len(numbers)


def start_state(instance: Instance) -> ListState:
    """An empty plan but for what is pinned."""
    state = ListState(instance)
    for number in instance.order:
        if instance.jobs[number].pinned is not None:
            state.pin(number)
    return state


def list_schedule(start: ListState, priorities: Sequence[float]) -> ListState:
    """A whole plan by one list of priorities, on top of a start state."""
    state = start.copy()
    place_all(state, priorities, state.instance.movable)
    return state


def tails(instance: Instance) -> list[int]:
    """For each job the ticks from its start to the end of everything that must follow it.

    A wait by the clock is counted by the ticks it lasts on an average day of the axis.
    """
    result = [0] * len(instance.jobs)
    for number in reversed(instance.order):
        job = instance.jobs[number]
        longest = 0
        for follower in job.followers:
            waits = [table for before, table in instance.jobs[follower].waits if before == number]
            longest = max(longest, result[follower] + max(_typical_wait(t) for t in waits))
        result[number] = job.ticks + longest
    return result


def _typical_wait(table: tuple[int, ...] | None) -> int:
    if table is None:
        return 0
    inside = [start - end for end, start in enumerate(table) if start < len(table) - 1]
    return round(sum(inside) / len(inside)) if inside else len(table)


def schedule_of(state: ListState, *, whole: bool = False) -> Schedule:
    """The plan of a state as a value: what lies inside the term, or (`whole`) on the long axis."""
    instance = state.instance
    problem = instance.problem
    limit = instance.ticks if whole else instance.term
    placed: dict[TaskKey, PlannedActivity] = {}
    for number, job in enumerate(instance.jobs):
        if state.masks[number] and state.ends[number] <= limit:
            runs = _runs_of(state.masks[number], job.run_end)
            for key in job.keys:
                before = problem.done_by_key[key].sittings if key in problem.done_by_key else ()
                placed[key] = PlannedActivity(key, (*before, *runs))
    for done in problem.done:
        if done.finished:
            placed[done.key] = PlannedActivity(done.key, done.sittings)
    place_outside_class(instance, placed, limit)
    return Schedule(tuple(placed[key] for key in problem.steps if key in placed))


def _runs_of(mask: int, run_end: list[int]) -> tuple[Sitting, ...]:
    runs = []
    while mask:
        tick = lowest(mask)
        length = min(lowest(~(mask >> tick)), run_end[tick] - tick)
        runs.append(Sitting(tick, length))
        mask &= -1 << (tick + length)
    return tuple(runs)


def place_outside_class(
    instance: Instance, placed: dict[TaskKey, PlannedActivity], limit: int
) -> None:
    """Add the steps of zero ticks: they happen as soon as what they wait for is done."""
    problem = instance.problem
    moments = _Moments(instance, dict(placed))
    pins = {pin.key: pin for pin in problem.pins}
    for key, step in problem.steps.items():
        if step.ticks or key in placed:
            continue
        if key in pins:
            placed[key] = pins[key]
            continue
        minute = moments.done_at(key)
        if minute is not None:
            tick = instance.axis.first_tick_from(minute)
            if tick <= limit:
                placed[key] = PlannedActivity(key, (Sitting(tick, 0),))


class _Moments:
    """Minutes of the clock at which tasks are over, those of zero ticks included."""

    def __init__(self, instance: Instance, placed: dict[TaskKey, PlannedActivity]) -> None:
        self.problem = instance.problem
        self.axis = instance.axis
        self.placed = placed
        self.known: dict[TaskKey, int | None] = {}

    def done_at(self, key: TaskKey) -> int | None:
        """The end of a task that has a place, or the moment one of zero ticks may happen."""
        if key in self.placed:
            return self.axis.end_minute(self.placed[key].end)
        if self.problem.steps[key].ticks:
            return None
        if key not in self.known:
            self.known[key] = self._ready(key)
        return self.known[key]

    def _ready(self, key: TaskKey) -> int | None:
        step = self.problem.steps[key]
        minute = self.axis.end_minute(max(step.earliest_tick, self.problem.now))
        for link in step.links:
            after = self._after(TaskKey(key.section, key.team, link.step), link)
            if after is None:
                return None
            minute = max(minute, after)
        return minute

    def _after(self, before: TaskKey, link: After) -> int | None:
        """The first minute that the waits behind a task leave."""
        axis = self.axis
        step = self.problem.steps[before]
        minute = self.done_at(before)
        if minute is None:
            return None
        if step.outside_class:
            tick = axis.next_meeting_tick(before.section, minute)
            minute = max(minute, axis.end_minute(tick))
        end = axis.first_tick_from(minute)
        minute += max(step.drying_minutes, link.minutes)
        return max(minute, axis.end_minute(end + link.ticks)) if link.ticks else minute
