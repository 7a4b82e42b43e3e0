"""The same instance with time running backwards, for forward-backward improvement.

Jobs placed from the end of a plan towards its beginning come as late as they can; listed in the
order they then start in, they give a better forward plan (Li and Willis 1992; Tormos and Lova
2001). Fixtures held while drying and minimum sittings are read loosely here: the mirror gives
only an order, the forward pass keeps every rule.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from app.domain.scheduling.instance import Instance, InstanceJob, Table
from app.domain.scheduling.search.list_schedule import (
    ListState,
    list_schedule,
    place_all,
    start_state,
)

SLACK = 40


class Mirror:
    """An instance and its mirror image, tick t being `ticks - 1 - t`."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.size = instance.ticks
        self.tables: dict[int, Table] = {}
        self.masks: dict[int, int] = {}
        self.run_ends: dict[int, list[int]] = {}
        self.reversed = self._reversed()
        self.start = start_state(self.reversed)

    def latest_starts(self, state: ListState, order: Sequence[float]) -> list[int] | None:
        """Where each job starts when all are pushed late, latest in `order` first.

        The plan's finish is kept; None when the jobs found no room that way.
        """
        finish = max(state.ends)
        for job in self.reversed.jobs:
            job.release = max(0, self.size - finish - SLACK)
        late = self.start.copy()
        if not place_all(late, [-rank for rank in order], self.reversed.movable):
            return None
        return [self.size - end for end in late.ends]

    def improved(self, start: ListState, state: ListState, rounds: int = 3) -> ListState:
        """Push late, push early again, a few times; the plan that ends first."""
        best = state
        for _ in range(rounds):
            order = self.latest_starts(state, state.ends)
            if order is None:
                break
            state = list_schedule(start, order)
            if all(state.masks) and max(state.ends) < max(best.ends):
                best = state
        return best

    def _reversed(self) -> Instance:
        jobs = [self._reversed_job(job) for job in self.instance.jobs]
        for number, job in enumerate(self.instance.jobs):
            for before, table in job.waits:
                jobs[before].waits.append((number, self._reversed_table(table)))
                if before not in jobs[number].followers:
                    jobs[number].followers.append(before)
        return replace(
            self.instance,
            jobs=jobs,
            order=self.instance.order[::-1],
            resources=[replace(r, taken=r.taken[::-1]) for r in self.instance.resources],
            adult_taken=self.instance.adult_taken[::-1],
            reserved=[(r, u, self._reversed_mask(m)) for r, u, m in self.instance.reserved],
        )

    def _reversed_job(self, job: InstanceJob) -> InstanceJob:
        size = self.size
        return replace(
            job,
            waits=[],
            followers=[],
            holds=(),
            spans=(),
            closes=(),
            release=0,
            began=None,
            free_ticks=self._reversed_mask(job.free_ticks),
            together=self._reversed_mask(job.together) >> 1,
            run_end=self._reversed_run_end(job.together),
            pinned=None
            if job.pinned is None
            else tuple(s._replace(tick=size - s.end) for s in reversed(job.pinned)),
        )

    def _reversed_mask(self, mask: int) -> int:
        if mask not in self.masks:
            self.masks[mask] = int(f"{mask:0{self.size}b}"[::-1], 2)
        return self.masks[mask]

    def _reversed_run_end(self, together: int) -> list[int]:
        if together not in self.run_ends:
            size = self.size
            first = list(range(size))
            for tick in range(1, size):
                if together >> (tick - 1) & 1:
                    first[tick] = first[tick - 1]
            self.run_ends[together] = [size - first[size - 1 - tick] for tick in range(size)]
        return self.run_ends[together]

    def _reversed_table(self, table: Table | None) -> Table | None:
        """Latest end before a start, seen from the other side of time."""
        if table is None:
            return None
        if id(table) not in self.tables:
            size = self.size
            latest = [bisect_right(table, size - end) - 1 for end in range(size + 1)]
            self.tables[id(table)] = tuple(size - max(end, 0) for end in latest)
        return self.tables[id(table)]
