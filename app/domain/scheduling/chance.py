"""The fit check: the plan played through many chance terms.

In a term some students are absent, some meetings are lost, a substitute stands in, steps take
longer or shorter than typical and a part is spoiled. The class follows the plan's order: who is
on plan keeps the planned place; who is not takes the next free place, in the order of the plan,
and places of those before it in that order stay reserved. Without chance every task keeps its
place, and the finish is the plan's own.

Each student, meeting and step has its own draws, the same under every candidate change (common
random numbers), so that two candidates differ by the change and not by luck.
"""

from __future__ import annotations

import copy
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from heapq import heapify, heappop, heappush
from random import Random
from statistics import NormalDist, fmean, quantiles, variance

from app.domain.scheduling.events import is_away
from app.domain.scheduling.instance import InstanceJob, compile_problem
from app.domain.scheduling.problem import Problem, Splitting, StepWork
from app.domain.scheduling.schedule import Schedule, TaskKey
from app.domain.scheduling.search.list_schedule import ListState
from app.domain.scheduling.search.repair import Repair

# High over low minutes of a step, read as the 90th over the 10th percentile of a lognormal: the
# library's own estimates are about this far apart.
SPREAD = 2.3
TEAM_SHARE = 0.25  # of the spread's variance goes with the team, not the step: estimate, no source
CLOSURE_RATE = 0.02  # surprise closures by meeting: estimate, no source
SUBSTITUTE_RATE = 0.02  # meetings with a substitute: estimate, no source
SPOILED_RATE = 0.02  # a part is made again: estimate, no source
CONFIDENCE = 0.95
PERCENTILE_90 = NormalDist().inv_cdf(0.9)
ADULT = "adult"


@dataclass(frozen=True, kw_only=True)
class Chances:
    """What may go wrong, as rates from 0 to 1; without arguments nothing does.

    `absence` gives each team's students' absence rates, `hands` how many a step takes at once
    (1 unless given), `spread` high over low minutes by step, `spoiled` by step how often a part
    is made again.
    """

    absence: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    hands: Mapping[str, int] = field(default_factory=dict)
    spread: Mapping[str, float] = field(default_factory=dict)
    usual_spread: float = 1.0
    spoiled: Mapping[str, float] = field(default_factory=dict)
    closures: float = 0.0
    substitutes: float = 0.0

    def __post_init__(self) -> None:
        rates = [self.closures, self.substitutes, *self.spoiled.values()]
        rates += [rate for team in self.absence.values() for rate in team]
        if any(not 0 <= rate <= 1 for rate in rates):
            raise ValueError("A rate is a share of days or steps: give a number from 0 to 1.")
        if any(ratio < 1 for ratio in (self.usual_spread, *self.spread.values())):
            raise ValueError("High minutes over low minutes is 1 or more.")


@dataclass(frozen=True)
class Played:
    """One term: its last tick (None: some task found no room), who finished in time, who waited.

    `waits` holds (week's Monday, resource, ticks in which a free team stood before it).
    """

    term: int
    finish: int | None
    finished: tuple[tuple[str, str], ...]
    waits: tuple[tuple[date, str, int], ...]


@dataclass(frozen=True)
class FinishShare:
    """A share with its confidence interval."""

    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Limit:
    """What free teams waited for most in a week: team-ticks per term, and its part of all waits."""

    week: date
    resource: str
    ticks: float
    part: float


@dataclass(frozen=True)
class Fit:
    """What many terms say. `finish_ticks` are the 10th, 50th and 90th percentile of the finish."""

    terms: int
    teams: int
    finished: FinishShare
    all_finish: FinishShare
    finish_ticks: tuple[float, float, float] | None
    by_team: Mapping[str, float]
    limits: tuple[Limit, ...]


def wilson(successes: float, trials: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The score interval of a binomial share (Wilson 1927), from 0 to 1.

    `trials` may be a fraction: an effective number of independent ones. Raises ValueError.
    """
    if trials <= 0 or not 0 <= successes <= trials:
        raise ValueError("A share needs at least one trial, and no more successes than trials.")
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = successes / trials
    middle = share + z * z / (2 * trials)
    half = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    low = 0.0 if successes == 0 else (middle - half) / scale
    high = 1.0 if successes == trials else (middle + half) / scale
    return low, high


class Player:
    """A problem and its plan, compiled once and played term by term."""

    def __init__(
        self, problem: Problem, plan: Schedule, chances: Chances | None = None, seed: int = 0
    ) -> None:
        # What a person has pinned is where the plan has it; only absences cannot move.
        kept = tuple(pin for pin in problem.pins if is_away(pin.key))
        self.problem = replace(problem, pins=kept)
        self.chances = chances or Chances()
        self.seed = seed
        self.instance = compile_problem(self.problem, extra_ticks=problem.axis.ticks // 4)
        repair = Repair(self.instance, plan)
        self.old, self.rank, self.start = repair.old, repair.rank, repair.start
        self.due = [self._due(team.section) for team in problem.teams]
        self.longest = {s: self._longest(s) for s in self.instance.axis.sections}
        self.weeks = self._weeks()
        self.jobs_of: dict[tuple[str, str], list[int]] = defaultdict(list)
        for number, job in enumerate(self.instance.jobs):
            for key in job.keys:
                self.jobs_of[key[:2]].append(number)

    def _due(self, section: str) -> int:
        term = self.problem.axis.ticks
        return min(self.problem.due_ticks.get(section, term), term)

    def _longest(self, section: str) -> int:
        """The most ticks a meeting of the section still to come has."""
        axis = self.instance.axis
        return max(
            (
                end - first
                for meeting, (first, end) in zip(axis.meetings, axis.spans, strict=True)
                if meeting.section == section and end > self.problem.now
            ),
            default=1,
        )

    def _weeks(self) -> list[tuple[date, int]]:
        masks: dict[date, int] = defaultdict(int)
        for tick in range(self.instance.ticks):
            day = self.instance.axis.clock(tick).date()
            masks[day - timedelta(days=day.weekday())] |= 1 << tick
        return list(masks.items())

    def play(self, term: int) -> Played:
        """Play one term; the same seed and term always give the same."""
        state, jobs = self._drawn(term)
        waits: Counter[tuple[date, str]] = Counter()
        self._follow_the_plan(state, jobs, waits)
        placed = [n for n in range(len(jobs)) if state.masks[n]]
        finished = tuple(
            (team.section, team.key)
            for team, due in zip(self.problem.teams, self.due, strict=True)
            if all(
                state.masks[n] and state.ends[n] <= due
                for n in self.jobs_of[team.section, team.key]
                if not is_away(jobs[n].keys[0])
            )
        )
        whole = len(placed) == len(jobs)
        ends = [state.ends[n] for n in placed if not is_away(jobs[n].keys[0])]
        past = max((s.end for d in self.problem.done for s in d.sittings), default=0)
        return Played(
            term=term,
            finish=max([past, *ends]) if whole else None,
            finished=finished,
            waits=tuple((week, name, ticks) for (week, name), ticks in sorted(waits.items())),
        )

    # -- the draws -----------------------------------------------------------------------------

    def _drawn(self, term: int) -> tuple[ListState, list[InstanceJob]]:
        """A start state with lost meetings and absences, and the jobs with this term's minutes."""
        closed, unpowered, present = self._days(term)
        factors = self._factors(term)
        jobs = [
            self._job(job, factors, unpowered, present) if self._plays(number) else job
            for number, job in enumerate(self.instance.jobs)
        ]
        instance = copy.copy(self.instance)
        instance.jobs = jobs
        state = self.start.copy()
        state.instance = instance
        for number, team in enumerate(self.problem.teams):
            nobody = present.get((team.key, 0), 0)
            state.teams[number] |= closed | nobody
        return state, jobs

    def _plays(self, number: int) -> bool:
        return self.instance.jobs[number].pinned is None

    def _days(self, term: int) -> tuple[int, int, dict[tuple[str, int], int]]:
        """Ticks of lost meetings, ticks without power, and by team and number present the ticks."""
        chances = self.chances
        closed = unpowered = 0
        present: dict[tuple[str, int], int] = defaultdict(int)
        if not (chances.closures or chances.substitutes or any(map(any, chances.absence.values()))):
            return closed, unpowered, present
        axis = self.instance.axis
        for meeting, (first, end) in zip(axis.meetings, axis.spans, strict=True):
            if end <= max(first, self.problem.now):
                continue
            mask = ((1 << (end - first)) - 1) << first
            draw = _draws(self.seed, term, f"{meeting.start:%Y-%m-%d}")
            if draw.random() < chances.closures:
                closed |= mask
            if draw.random() < chances.substitutes:
                unpowered |= mask
            draw = _draws(self.seed, term, f"{meeting.section} {meeting.start}")
            for team, rates in chances.absence.items():
                here = sum(draw.random() >= rate for rate in rates)
                if here < len(rates):
                    present[team, here] |= mask
        return closed, unpowered, present

    def _factors(self, term: int) -> dict[TaskKey, float]:
        """How many times the typical minutes each task takes, a second try included."""
        found = {}
        for team in self.problem.teams:
            own = _draws(self.seed, term, f"{team.section} {team.key}")
            shared = _draws(self.seed, term, team.section)
            pace = own.gauss(0, 1)
            for step in team.steps:
                key = TaskKey(team.section, team.key, step.key)
                mine = (own.gauss(0, 1), own.random())
                ours = (shared.gauss(0, 1), shared.random())
                if not is_away(key):
                    found[key] = self._factor(step, pace, *(ours if step.whole_class else mine))
        return found

    def _factor(self, step: StepWork, pace: float, own: float, luck: float) -> float:
        ratio = self.chances.spread.get(step.key, self.chances.usual_spread)
        sigma = math.log(ratio) / (2 * PERCENTILE_90)
        team = 0.0 if step.whole_class else math.sqrt(TEAM_SHARE) * pace
        rest = own if step.whole_class else math.sqrt(1 - TEAM_SHARE) * own
        again = 2 if luck < self.chances.spoiled.get(step.key, 0.0) else 1
        return math.exp(sigma * (team + rest)) * again

    def _job(
        self,
        job: InstanceJob,
        factors: Mapping[TaskKey, float],
        unpowered: int,
        present: Mapping[tuple[str, int], int],
    ) -> InstanceJob:
        key = job.keys[0]
        ticks = max(1, round(job.ticks * factors[key]))
        if job.splitting is Splitting.ONE_SITTING:
            # Whoever runs out of time in a one-sitting step is helped to the end of it.
            ticks = min(ticks, max(job.ticks, self.longest[job.section]))
        free = job.free_ticks
        if unpowered and not self.problem.steps[key].substitute_safe:
            free &= ~unpowered
        wanted = self.chances.hands.get(key.step, 1)
        if wanted > 1:
            for member in job.keys:
                size = len(self.chances.absence.get(member.team, ()))
                for here in range(1, min(wanted, size)):
                    free &= ~present.get((member.team, here), 0)
        if ticks == job.ticks and free == job.free_ticks:
            return job
        return replace(job, ticks=ticks, free_ticks=free)

    # -- following the plan --------------------------------------------------------------------

    def _follow_the_plan(
        self, state: ListState, jobs: list[InstanceJob], waits: Counter[tuple[date, str]]
    ) -> None:
        missing = [sum(1 for b in {b for b, _ in job.waits} if not state.masks[b]) for job in jobs]
        ready = [(self.rank[n], n) for n in self.instance.movable if not missing[n]]
        heapify(ready)
        on_plan = [not self._plays(n) for n in range(len(jobs))]
        stuck: list[int] = []
        while ready:
            number = heappop(ready)[1]
            job = jobs[number]
            first = state.earliest(number)
            undisturbed = job.ticks == self.instance.jobs[number].ticks and all(
                on_plan[before] for before, _ in job.waits
            )
            on_plan[number] = undisturbed and state.place_exactly(number, self.old[number], first)
            if not on_plan[number] and not state.place(number):
                stuck.append(number)
                continue
            self._count_waits(state, job, first, state.starts[number], waits)
            if stuck and job.spans:
                for other in stuck:
                    heappush(ready, (self.rank[other], other))
                stuck = []
            for follower in job.followers:
                missing[follower] -= 1
                if not missing[follower] and not state.masks[follower]:
                    heappush(ready, (self.rank[follower], follower))

    def _count_waits(
        self,
        state: ListState,
        job: InstanceJob,
        first: int,
        start: int,
        waits: Counter[tuple[date, str]],
    ) -> None:
        """Ticks in which the team was free and its place or the adult was not."""
        if start <= first:
            return
        idle = job.free_ticks & (((1 << (start - first)) - 1) << first)
        for team in job.teams:
            idle &= ~state.teams[team]
        if not idle:
            return
        taken = [(self.instance.resources[i].name, state.levels[i][-u]) for i, u in job.uses]
        taken += [(self.instance.resources[i].name, state.levels[i][-u]) for i, u, _ in job.holds]
        if job.adult_units:
            full = state.adults[-job.adult_units]
            if job.adult_units == 1 and job.zone >= 0:
                full &= ~state.zones[job.zone][1]
            taken.append((ADULT, full))
        for name, mask in taken:
            blocked = idle & mask
            if blocked:
                for week, ticks in self.weeks:
                    count = (blocked & ticks).bit_count()
                    if count:
                        waits[week, name] += count


def _draws(seed: int, term: int, name: str) -> Random:
    return Random(f"{seed} {term} {name}")  # noqa: S311 - chance in a simulation, not a secret


def fit_of(problem: Problem, played: Iterable[Played]) -> Fit:
    """Put the terms together. Raises ValueError without any."""
    terms = sorted(played, key=lambda item: item.term)
    if not terms:
        raise ValueError("Play at least one term.")
    teams = [(team.section, team.key) for team in problem.teams]
    counts = [len(term.finished) for term in terms]
    ends = [term.finish for term in terms]
    every = sum(count == len(teams) for count in counts)
    known = sorted(end for end in ends if end is not None)
    times = Counter(team for term in terms for team in term.finished)
    return Fit(
        terms=len(terms),
        teams=len(teams),
        finished=_clustered([count / len(teams) for count in counts], len(teams)),
        all_finish=FinishShare(every / len(terms), *wilson(every, len(terms))),
        finish_ticks=_percentiles(known) if len(known) == len(ends) else None,
        by_team={key: times[section, key] / len(terms) for section, key in teams},
        limits=tuple(_limits(terms)),
    )


def _clustered(shares: list[float], teams: int) -> FinishShare:
    """The mean share; teams of one term stand or fall together, so that fewer of them count.

    The effective number of teams is that whose binomial variance equals the variance of the mean
    over the terms (design effect, Kish 1965); never fewer than the terms, never more than all.
    """
    share = fmean(shares)
    terms = len(shares)
    spread = variance(shares) / terms if terms > 1 else 0.0
    binomial = share * (1 - share)
    effective = float(terms)  # all or none: nothing is known of how far teams stand together
    if binomial > 0:
        effective = binomial / spread if spread > 0 else float(terms * teams)
    effective = min(max(effective, float(terms)), float(terms * teams))
    return FinishShare(share, *wilson(share * effective, effective))


def _percentiles(ends: list[int]) -> tuple[float, float, float]:
    if len(ends) == 1:
        return (float(ends[0]),) * 3
    tenths = quantiles(ends, n=10, method="inclusive")
    return tenths[0], tenths[4], tenths[8]


def _limits(terms: list[Played]) -> Iterable[Limit]:
    by_week: dict[date, Counter[str]] = defaultdict(Counter)
    for term in terms:
        for week, name, ticks in term.waits:
            by_week[week][name] += ticks
    for week, names in sorted(by_week.items()):
        name, ticks = min(names.items(), key=lambda item: (-item[1], item[0]))
        yield Limit(week, name, ticks / len(terms), ticks / names.total())


def usual_chances(
    problem: Problem,
    absence: Mapping[str, tuple[float, ...]],
    *,
    hands: Mapping[str, int] | None = None,
    spread: Mapping[str, float] | None = None,
) -> Chances:
    """The class's own absence rates and step minutes with the usual rates for all else."""
    made = {step.key for step in problem.steps.values() if step.ticks and not step.whole_class}
    return Chances(
        absence=absence,
        hands=hands or {},
        spread=spread or {},
        usual_spread=SPREAD,
        spoiled=dict.fromkeys(sorted(made), SPOILED_RATE),
        closures=CLOSURE_RATE,
        substitutes=SUBSTITUTE_RATE,
    )


Progress = Callable[[int, int], None]


def check_fit(
    problem: Problem,
    plan: Schedule,
    chances: Chances,
    *,
    terms: int,
    seed: int = 0,
    on_progress: Progress | None = None,
) -> Fit:
    """Play a number of terms one after another in this process. Raises ValueError."""
    player = Player(problem, plan, chances, seed)
    played = []
    for term in range(terms):
        played.append(player.play(term))
        if on_progress is not None:
            on_progress(term + 1, terms)
    return fit_of(problem, played)
