"""Which part from which board: one-dimensional cutting with a saw kerf, to a proven bound.

Lengths are whole nanometres inside, because 1/64 in is exactly 396 875 nm: millimetre and inch
parts then fit or do not fit without rounding. With a kerf k between neighbours,
n parts fit a board S when sum l + (n-1) k <= S, which is sum (l + k) <= S + k; when the last part
also costs a kerf the rule is sum (l + k) <= S. Either way the kerf disappears into the lengths.
"""

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Literal

from app.domain.calculators.engine.board_filling import Sums

NANOMETRES = 1_000_000_000
STARTS = 8
SHARES = (1.0, 2.0, 0.5, 0.0)  # of the spare room, what one board may leave over
ROOMS = (1.001, 1.003)
PATTERN_NODES = 400_000
PATTERNS_KEPT = 4_000
DETERMINISTIC_LIMIT = 1.0
BOARDS_LIMIT = 0.05

Status = Literal["optimal", "feasible", "unknown", "impossible"]


@dataclass(frozen=True)
class CuttingProblem:
    """Parts and boards with the kerf taken into the lengths (nanometres).

    `sizes` fall; `demand` says how many of each. `lengths` fall, `capacities` belong to them
    and `supply` says how many boards of each are on the rack.
    """

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    lengths: tuple[int, ...]
    capacities: tuple[int, ...]
    supply: tuple[int, ...]


Pattern = tuple[int, ...]
# Boards cut in some way, as (kind of board, parts of each size); a dictionary keeps their order.
Columns = dict[tuple[int, Pattern], None]


@dataclass(frozen=True)
class Cutting:
    """Boards as (kind of board, parts of each size), with the proven least board length."""

    status: Status
    boards: tuple[tuple[int, Pattern], ...]
    bound: int


def solve(problem: CuttingProblem) -> Cutting:
    """Take the least board length from the rack that yields every part, then the fewest boards.

    Returns status `optimal` when the length equals the bound, `feasible` when the work limit
    ended the search first, `unknown` when it ended before any answer, `impossible` when the rack
    cannot yield the parts. Same input,
    same answer: the search stops by counted work, never by the clock.
    """
    in_steps, step = _in_steps(problem)
    found = _solve(in_steps)
    return replace(found, bound=found.bound * step)


def _in_steps(problem: CuttingProblem) -> tuple[CuttingProblem, int]:
    """The problem in the longest step that measures every length: small numbers are easier."""
    step = math.gcd(*problem.sizes, *problem.lengths, *problem.capacities)
    in_steps = replace(
        problem,
        sizes=tuple(size // step for size in problem.sizes),
        lengths=tuple(length // step for length in problem.lengths),
        capacities=tuple(capacity // step for capacity in problem.capacities),
    )
    return in_steps, step


def _solve(problem: CuttingProblem) -> Cutting:
    fewest = _least_boards(problem, _volume(problem))
    if fewest is None:
        return Cutting("impossible", (), 0)
    bound, taken = fewest
    tried: Columns = {}
    start = _first_answer(problem, bound, taken, tried)
    if start is not None and _length(problem, start) == bound:
        return Cutting("optimal", start, bound)
    return _search(problem, start, bound, tried)


def surely_fits(problem: CuttingProblem) -> bool:
    """Whether filling board after board, without search, yields every part. False proves nothing."""
    in_steps, _ = _in_steps(problem)
    # Any answer will do: with every board as bound, the first one ends the search.
    every = sum(in_steps.lengths) * sum(in_steps.supply)
    return _best_start(in_steps, every, {}) is not None


def _volume(problem: CuttingProblem) -> int:
    """What the parts take, kerfs included (nm)."""
    return sum(size * n for size, n in zip(problem.sizes, problem.demand, strict=True))


def _least_boards(problem: CuttingProblem, needed: int) -> tuple[int, tuple[int, ...]] | None:
    """The least board length (nm) that holds the volume `needed`, and boards that reach it.

    Counts only boards and lengths, not how parts fit, so no cutting can beat it. None when all
    boards together are too short.
    """
    boards = zip(problem.capacities, problem.supply, strict=True)
    if sum(capacity * n for capacity, n in boards) < needed:
        return None
    if len(problem.lengths) == 1:
        count = -(-needed // problem.capacities[0])
        return count * problem.lengths[0], (count,)
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    taken = [model.new_int_var(0, n, "") for n in problem.supply]
    model.add(cp_model.LinearExpr.weighted_sum(taken, problem.capacities) >= needed)
    model.minimize(cp_model.LinearExpr.weighted_sum(taken, problem.lengths))
    solver = _solver(cp_model, workers=1, work=BOARDS_LIMIT)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return _bare_bound(problem, needed), problem.supply
    return _whole(solver.best_objective_bound), tuple(solver.value(v) for v in taken)


def _bare_bound(problem: CuttingProblem, needed: int) -> int:
    """Board length (nm) below the volume by the most the kerf rule can give back."""
    per_board = max(c - n for c, n in zip(problem.capacities, problem.lengths, strict=True))
    return max(0, needed - per_board * sum(problem.supply))


def _whole(bound: float) -> int:
    """A solver's bound as a whole number that is never above it."""
    return math.ceil(bound - 1e-6 * max(1.0, abs(bound) * 1e-9))


def _first_answer(
    problem: CuttingProblem, bound: int, taken: tuple[int, ...], tried: Columns
) -> tuple[tuple[int, Pattern], ...] | None:
    """An answer without search: boards chosen for their volume first, then filled.

    Boards with a little more room than the parts need are easier to fill, so that the room is
    raised step by step until filling succeeds. `tried` gathers every board filled on the way.
    """
    exact = _best_start(replace(problem, supply=taken), bound, tried)
    if exact is not None and _length(problem, exact) <= bound:
        return exact
    answers = [exact, _best_start(problem, bound, tried)]
    for room in ROOMS if len(problem.lengths) > 1 else ():
        fewest = _least_boards(problem, round(_volume(problem) * room))
        if fewest is None:
            break
        answers.append(_best_start(replace(problem, supply=fewest[1]), bound, tried))
        if answers[-1] is not None:
            break
    found = [answer for answer in answers if answer is not None]
    return min(found, key=lambda a: (_length(problem, a), len(a)), default=None)


def _length(problem: CuttingProblem, boards: Sequence[tuple[int, Pattern]]) -> int:
    return sum(problem.lengths[kind] for kind, _ in boards)


def _best_start(
    problem: CuttingProblem, bound: int, tried: Columns
) -> tuple[tuple[int, Pattern], ...] | None:
    """The shortest of many constructive answers, or None where each runs out of boards."""
    room = sum(c * n for c, n in zip(problem.capacities, problem.supply, strict=True))
    spare = max(0, room - _volume(problem)) / sum(problem.supply)
    best: tuple[tuple[int, Pattern], ...] | None = None
    for seed in range(STARTS):
        chance = random.Random(seed)  # noqa: S311 - a search, not a secret
        answer = _construct(problem, chance, round(spare * SHARES[seed % len(SHARES)]))
        if answer is None:
            continue
        tried.update(dict.fromkeys(answer))
        if best is None or _length(problem, answer) < _length(problem, best):
            best = answer
        if _length(problem, best) <= bound:
            break
    return best


def _construct(
    problem: CuttingProblem, chance: random.Random, enough: int
) -> tuple[tuple[int, Pattern], ...] | None:
    """Fill board after board as full as it goes around one long part, the least offcut first.

    An offcut of `enough` or less is as good as none: long parts are then taken first, so that
    the short ones, which fit anywhere, stay for later.
    """
    left, supply = list(problem.demand), list(problem.supply)
    boards: list[tuple[int, Pattern]] = []
    while any(left):
        waiting = [i for i, n in enumerate(left) if n]
        first = waiting[min(int(chance.expovariate(1.0)), len(waiting) - 1)]
        size = problem.sizes[first]
        rooms = [
            (kind, capacity - size)
            for kind, capacity in enumerate(problem.capacities)
            if supply[kind] and capacity >= size
        ]
        if not rooms:
            return None
        left[first] -= 1
        sums = Sums(problem.sizes, left, max(room for _, room in rooms))
        kind, room = min(
            rooms, key=lambda board: max(0, sums.offcut(board[1]) - enough) / (board[1] + size)
        )
        pattern = sums.pattern(room, enough)
        supply[kind] -= 1
        left = [n - k for n, k in zip(left, pattern, strict=True)]
        boards.append((kind, tuple(n + (i == first) for i, n in enumerate(pattern))))
    return tuple(boards)


def _patterns(
    sizes: Sequence[int], demand: Sequence[int], capacity: int
) -> Iterator[tuple[int, Pattern]]:
    """Every maximal pattern as (offcut, counts), long parts first; iterative, so deep is safe."""
    n = len(sizes)
    counts = [0] * n
    room, i = capacity, 0
    while True:
        for j in range(i, n):
            counts[j] = min(demand[j], room // sizes[j])
            room -= counts[j] * sizes[j]
        if any(counts) and all(counts[j] == demand[j] or sizes[j] > room for j in range(n)):
            yield room, tuple(counts)
        i = n - 1
        room += counts[i] * sizes[i]
        counts[i] = 0
        while i >= 0 and not counts[i]:
            i -= 1
        if i < 0:
            return
        counts[i] -= 1
        room += sizes[i]
        i += 1


def _columns(problem: CuttingProblem, tried: Columns) -> tuple[list[tuple[int, Pattern]], bool]:
    """Patterns for every kind of board, and whether they are all there are.

    Where the longest boards have too many patterns to list, the others are searched less: then
    the boards tried, each as full as can be, are the better ones.
    """
    complete = True
    columns = dict(tried)
    keep = PATTERNS_KEPT // len(problem.capacities)
    nodes = PATTERN_NODES // len(problem.capacities)
    for kind, capacity in enumerate(problem.capacities):
        patterns = _patterns(problem.sizes, problem.demand, capacity)
        found = list(islice(patterns, nodes if complete else min(nodes, keep)))
        complete = complete and next(patterns, None) is None and len(found) <= keep
        if len(found) > keep:
            found = sorted(found)[:keep]
        columns.update(dict.fromkeys((kind, pattern) for _, pattern in found))
    return list(columns), complete


def _search(
    problem: CuttingProblem,
    start: tuple[tuple[int, Pattern], ...] | None,
    bound: int,
    tried: Columns,
) -> Cutting:
    """Choose among patterns with CP-SAT; the bound counts only if every pattern took part."""
    from ortools.sat.python import cp_model

    columns, complete = _columns(problem, tried)
    model = cp_model.CpModel()
    top = [max(min(n, problem.supply[kind]), 0) for kind, n in _ceilings(problem, columns)]
    use = [model.new_int_var(0, t, "") for t in top]
    for i, wanted in enumerate(problem.demand):
        model.add(sum(use[j] * p[i] for j, (_, p) in enumerate(columns) if p[i]) >= wanted)
    for kind, n in enumerate(problem.supply):
        model.add(sum(use[j] for j, (k, _) in enumerate(columns) if k == kind) <= n)
    length = sum(use[j] * problem.lengths[kind] for j, (kind, _) in enumerate(columns))
    model.add(length >= bound)
    # A nanometre per board breaks ties for fewer boards and cannot outweigh any real length.
    model.minimize(length * (sum(problem.supply) + 1) + sum(use))
    for j, column in enumerate(columns):
        model.add_hint(use[j], (start or ()).count(column))
    solver = _solver(cp_model, workers=1, work=DETERMINISTIC_LIMIT / (2 if complete else 8))
    status = solver.solve(model)
    undecided = status not in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    if undecided and (complete or start is None):
        solver = _solver(cp_model, workers=8, work=DETERMINISTIC_LIMIT)
        status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        counts = [solver.value(v) for v in use]
        start = _trim(problem, [c for c, n in zip(columns, counts, strict=True) for _ in range(n)])
    elif start is None:
        proven = status == cp_model.INFEASIBLE and complete
        return Cutting("impossible", (), 0) if proven else Cutting("unknown", (), bound)
    if complete and status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        boards = sum(problem.supply) + 1
        bound = max(bound, _whole(solver.best_objective_bound) // boards)
    assert start is not None  # noqa: S101 - the branch above returned
    return Cutting("optimal" if _length(problem, start) <= bound else "feasible", start, bound)


def _ceilings(
    problem: CuttingProblem, columns: Sequence[tuple[int, Pattern]]
) -> Iterator[tuple[int, int]]:
    """How often each pattern could at most be of use."""
    for kind, pattern in columns:
        rows = zip(problem.demand, pattern, strict=True)
        yield kind, max(-(-wanted // n) for wanted, n in rows if n)


def _trim(
    problem: CuttingProblem, boards: Sequence[tuple[int, Pattern]]
) -> tuple[tuple[int, Pattern], ...]:
    """Cut no more of a part than is wanted: a covering answer may hold a few too many."""
    left = list(problem.demand)
    cut: list[tuple[int, Pattern]] = []
    for kind, pattern in boards:
        counts = tuple(min(n, left[i]) for i, n in enumerate(pattern))
        left = [n - k for n, k in zip(left, counts, strict=True)]
        if any(counts):
            cut.append((kind, counts))
    return tuple(cut)


def _solver(cp_model: object, workers: int, work: float):  # type: ignore[no-untyped-def]
    """A CP-SAT solver that repeats itself: fixed seed, interleaved search, counted work."""
    solver = cp_model.CpSolver()  # type: ignore[attr-defined]
    solver.parameters.num_workers = workers
    solver.parameters.interleave_search = workers > 1
    solver.parameters.max_deterministic_time = work
    solver.parameters.random_seed = 1
    return solver
