"""Re-planning: keep what still holds of the plan before, move what does not.

A first repair keeps every activity whose place is still free and moves the rest into gaps, with
whatever must follow them. If that ends too late, a search lists the plan again, each activity
trying its old place first, and gives up old places only where that brings the finish forward.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heapify, heappop, heappush
from random import Random

from app.domain.scheduling.instance import Instance, mask_of
from app.domain.scheduling.schedule import Schedule
from app.domain.scheduling.search.list_schedule import ListState, lowest, start_state

Value = tuple[int, int, int, int, int]
SHORT_SEARCHES = 3
SOONER_SHARE = 0.5  # of the trials, while a team ends too late


class Repair:
    """A previous plan read into a new instance."""

    def __init__(self, instance: Instance, previous: Schedule) -> None:
        self.instance = instance
        self.previous = previous
        self.start = start_state(instance)
        self.placed = 0
        self.old = [self._old_mask(number) for number in range(len(instance.jobs))]
        last = instance.ticks
        self.rank = [float(lowest(mask)) if mask else float(last) for mask in self.old]
        for number in instance.order:
            before = [self.rank[b] for b, _ in instance.jobs[number].waits]
            self.rank[number] = max([self.rank[number], *before])

    def _old_mask(self, number: int) -> int:
        """The ticks from now on that the plan before gave a job."""
        job = self.instance.jobs[number]
        activity = self.previous.by_key.get(job.keys[0])
        if activity is None:
            return 0
        now = self.instance.problem.now
        future = [s for s in activity.sittings if s.tick >= now and s.ticks]
        mask = mask_of(future)
        return mask if mask.bit_count() == job.ticks else 0

    def repaired(self) -> ListState:
        """Keep what can stay in its old place; move the rest, and what it pushes, into gaps."""
        state = self.start.copy()
        moved: list[tuple[float, int]] = []
        for number in sorted(self.instance.movable, key=lambda n: (self.rank[n], n)):
            self.placed += 1
            first = self._allowed_from(state, number)
            if not state.place_exactly(number, self.old[number], first):
                moved.append((self.rank[number], number))
        heapify(moved)
        limit = 4 * len(self.instance.jobs)
        while moved and limit:
            limit -= 1
            number = self._next(state, moved)
            self._push_followers(state, number, moved)
            self.placed += 1
            first = state.earliest(number)
            if not state.place_exactly(number, self.old[number], first) and not state.place(number):
                break
            self._push_followers(state, number, moved)
        return state if all(state.masks) else self.listed(lambda _: True)

    def _allowed_from(self, state: ListState, number: int) -> int:
        """The earliest start as far as the predecessors that have a place tell."""
        job = self.instance.jobs[number]
        first = job.release
        for before, table in job.waits:
            if state.masks[before]:
                end = state.ends[before]
                first = max(first, end if table is None else table[end])
        return first

    def _ready(self, state: ListState, number: int) -> bool:
        return all(state.masks[before] for before, _ in self.instance.jobs[number].waits)

    def _next(self, state: ListState, moved: list[tuple[float, int]]) -> int:
        """The first moved job whose predecessors lie; the others wait their turn."""
        aside = []
        while True:
            entry = heappop(moved)
            if self._ready(state, entry[1]) or not moved:
                break
            aside.append(entry)
        for other in aside:
            heappush(moved, other)
        return entry[1]

    def _push_followers(
        self, state: ListState, number: int, moved: list[tuple[float, int]]
    ) -> None:
        """Take out the jobs that would now begin too early, with all that depends on them."""
        for follower in self.instance.jobs[number].followers:
            if not state.masks[follower] or self.instance.jobs[follower].pinned is not None:
                continue
            if not state.masks[number] or state.starts[follower] < state.earliest(follower):
                self._push_followers_out(state, follower, moved)

    def _push_followers_out(
        self, state: ListState, number: int, moved: list[tuple[float, int]]
    ) -> None:
        for follower in self.instance.jobs[number].followers:
            if state.masks[follower] and self.instance.jobs[follower].pinned is None:
                self._push_followers_out(state, follower, moved)
        state.unplace(number)
        heappush(moved, (self.rank[number], number))

    def listed(
        self,
        keeps: Callable[[int], bool],
        rank: list[float] | None = None,
        state: ListState | None = None,
    ) -> ListState:
        """List what has no place in its old order; jobs that `keeps` names try their old place."""
        rank = rank or self.rank
        jobs = self.instance.jobs
        state = state or self.start.copy()
        missing = [sum(1 for b in {b for b, _ in job.waits} if not state.masks[b]) for job in jobs]
        ready = [
            (rank[n], n) for n in self.instance.movable if not missing[n] and not state.masks[n]
        ]
        heapify(ready)
        stuck: list[int] = []
        while ready:
            number = heappop(ready)[1]
            self.placed += 1
            first = state.earliest(number)
            kept = keeps(number) and state.place_exactly(number, self.old[number], first)
            if not kept and not state.place(number):
                stuck.append(number)
                continue
            if stuck and jobs[number].spans:
                for other in stuck:
                    heappush(ready, (rank[other], other))
                stuck = []
            for follower in jobs[number].followers:
                missing[follower] -= 1
                if not missing[follower] and not state.masks[follower]:
                    heappush(ready, (rank[follower], follower))
        return state

    def value(self, state: ListState, target: int) -> Value:
        """Jobs without a place, teams unfinished, lateness behind target and dates, changes, finish.

        Lateness is summed over the jobs, so that a step towards the target counts.
        """
        jobs = self.instance.jobs
        nowhere = sum(1 for mask in state.masks if not mask)
        unfinished = len(self._late_teams(state, self.instance.term))
        late = sum(max(0, end - target) for end in state.ends)
        late += sum(
            max(0, state.ends[n] - job.deadline)
            for n, job in enumerate(jobs)
            if job.deadline is not None
        )
        changes = sum(1 for n, mask in enumerate(state.masks) if mask != self.old[n])
        return (nowhere, unfinished, late, changes, max(state.ends, default=0))

    def search(self, seed: int, target: int, budget: int, stop: Callable[[], bool]) -> ListState:
        """The plan with the fewest changes found that ends by the target, or ends first.

        Several short searches from the mended plan, for each goes its own way; then one on.
        """
        random = Random(seed)  # noqa: S311 - a search, not a secret
        mended = min(
            (self.repaired(), self.listed(lambda _: True)), key=lambda s: self.value(s, target)
        )
        share = (budget - self.placed) // (2 * SHORT_SEARCHES)
        found = [
            self.improved(mended, target, self.placed + share, random, stop)
            for _ in range(SHORT_SEARCHES)
        ]
        best = min(found, key=lambda s: self.value(s, target))
        return self.improved(best, target, budget, random, stop)

    def improved(
        self, best: ListState, target: int, budget: int, random: Random, stop: Callable[[], bool]
    ) -> ListState:
        """A plan searched from another until `budget` jobs have been placed in all."""
        value = self.value(best, target)
        while self.placed < budget and not stop() and (any(value[:3]) or value[3] > self._forced()):
            late = self._late_teams(best, target)
            sooner = bool(late) and random.random() < SOONER_SHARE
            trial = (
                self._sooner(best, random, random.choice(late))
                if sooner
                else self._varied(best, random)
            )
            trial_value = self.value(trial, target)
            if trial_value <= value:
                best, value = trial, trial_value
        return best

    def _late_teams(self, state: ListState, target: int) -> list[int]:
        """The teams with a job that ends after the target."""
        jobs = self.instance.jobs
        return sorted(
            {t for n, job in enumerate(jobs) if state.ends[n] > target for t in job.teams}
        )

    def _varied(self, state: ListState, random: Random) -> ListState:
        """Some teams listed again from some tick on, a share of their jobs giving up their place."""
        out = self._drawn(state, random)
        share = random.choice((0.0, 0.05, 0.3, 1.0))
        loose = {number for number in sorted(out) if random.random() < share}
        shake = random.choice((0.0, 3.0, 10.0))
        rank = self._order(state, random)
        for number in sorted(loose):
            rank[number] += random.uniform(-shake, shake)
        return self._relisted(state, out, loose, rank)

    def _sooner(self, state: ListState, random: Random, team: int) -> ListState:
        """A team that ends too late goes before some of the others, from some tick on."""
        out = self._drawn(state, random, team)
        loose = {number for number in out if team in self.instance.jobs[number].teams}
        ticks = random.choice((3.0, 6.0, 12.0, 25.0, 50.0))
        rank = self._order(state, random)
        for number in loose:
            rank[number] -= ticks
        return self._relisted(state, out, loose, rank)

    def _order(self, state: ListState, random: Random) -> list[float]:
        """The order of the plan before or of the plan at hand."""
        return list(random.choice((self.rank, [float(start) for start in state.starts])))

    def _relisted(
        self, state: ListState, out: set[int], loose: set[int], rank: list[float]
    ) -> ListState:
        trial = state.copy()
        for number in sorted(out, key=state.starts.__getitem__, reverse=True):
            trial.unplace(number)
        return self.listed(lambda number: number not in loose, rank, trial)

    def _drawn(self, state: ListState, random: Random, team: int | None = None) -> set[int]:
        """The jobs of some teams from some tick on, `team` among them, and whatever follows."""
        jobs = self.instance.jobs
        tick = random.uniform(self.instance.problem.now, max(state.ends))
        teams = range(len(self.start.teams))
        chosen = set(random.sample(teams, random.randint(1, len(teams))))
        chosen |= set() if team is None else {team}
        out = {
            number
            for number in self.instance.movable
            if state.starts[number] >= tick
            and (not jobs[number].teams or chosen & set(jobs[number].teams))
        }
        for number in self.instance.order:
            follows = any(before in out for before, _ in jobs[number].waits)
            if follows and jobs[number].pinned is None:
                out.add(number)
        return out

    def _forced(self) -> int:
        """Changes no plan avoids: jobs that had no place, or whose old place is closed."""
        return sum(
            1
            for n, mask in enumerate(self.old)
            if not mask
            or mask & ~self.instance.jobs[n].free_ticks
            or mask.bit_length() > self.instance.ticks
        )
