"""Teams from a class list: keep some apart, spread the pace, and put a sign-off in every team.

A small search by exchanges over a card deal, begun again a few times where a wish stays unmet.
The same list gives the same teams.
"""

import itertools
import math
import random
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

PACES = {"slow": -1, "even": 0, "fast": 1}
ROUNDS = 60
STARTS = 12


@dataclass(frozen=True, slots=True)
class Candidate:
    """A student for the team maker: pace −1, 0 or 1, and the permits signed off."""

    code: str
    pace: int = 0
    signed_off: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Wishes:
    """Pairs to keep apart or together, and permits each team should hold at least once."""

    apart: frozenset[frozenset[str]] = frozenset()
    together: frozenset[frozenset[str]] = frozenset()
    permits: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Teams:
    """Codes by team, and each wish that could not be met, in a sentence."""

    teams: tuple[tuple[str, ...], ...]
    unmet: tuple[str, ...] = field(default=())


def read_pairs(text: str, codes: Collection[str]) -> frozenset[frozenset[str]]:
    """Pairs of codes, one group per line: every two in a line are a pair.

    Raises ValueError with a sentence for an unknown code or a line with fewer than two.
    """
    known = {code.casefold(): code for code in codes}
    pairs: set[frozenset[str]] = set()
    for line in text.splitlines():
        words = [word for word in line.replace(",", " ").split() if word not in {"and", "+"}]
        if not words:
            continue
        unknown = [word for word in words if word.casefold() not in known]
        if unknown:
            raise ValueError(f"“{unknown[0]}” is no code of this section; write codes as listed.")
        found = sorted({known[word.casefold()] for word in words})
        if len(found) < 2:
            raise ValueError(f"“{line.strip()}” names one student; write two codes on a line.")
        pairs |= {frozenset(pair) for pair in itertools.combinations(found, 2)}
    return frozenset(pairs)


def make_teams(students: Sequence[Candidate], size: int, wishes: Wishes | None = None) -> Teams:
    """Teams of at most `size`, as even in number as can be; wishes met as far as they can be.

    First no pair to be kept apart shares a team and pairs wished together do, then every team
    holds a student signed off for each permit asked, then the pace is spread evenly.
    Raises ValueError for a size below 1.
    """
    if size < 1:
        raise ValueError("A team needs at least one student.")
    if not students:
        return Teams(())
    wishes = wishes or Wishes()
    by_code = {student.code: student for student in students}
    count = math.ceil(len(students) / size)
    draw = random.Random(len(students))  # noqa: S311 - an order to start from, no secret
    ordered = sorted(students, key=lambda item: (-item.pace, item.code))
    best: tuple[tuple[int, int, int], list[list[str]]] | None = None
    for _ in range(STARTS):
        groups = _improved(_dealt(ordered, count), by_code, wishes)
        reached = cost(groups, by_code, wishes, count)
        if best is None or reached < best[0]:
            best = reached, groups
        if reached[:2] == (0, 0):
            break
        draw.shuffle(ordered)
    assert best is not None  # noqa: S101 - STARTS is at least one
    teams = tuple(sorted(tuple(sorted(group)) for group in best[1]))
    return Teams(teams, tuple(_unmet(teams, by_code, wishes)))


def _dealt(ordered: Sequence[Candidate], count: int) -> list[list[str]]:
    """Dealt back and forth, so that the first meet the last."""
    groups: list[list[str]] = [[] for _ in range(count)]
    for place, student in enumerate(ordered):
        turn, seat = divmod(place, count)
        groups[seat if turn % 2 == 0 else count - 1 - seat].append(student.code)
    return groups


def cost(
    groups: Sequence[Sequence[str]], by_code: dict[str, Candidate], wishes: Wishes, count: int
) -> tuple[int, int, int]:
    """Broken pairs, permits a team lacks, and the squared unevenness of pace; less is better.

    `count` is the number of teams of the whole class, also where only some of them are judged.
    """
    broken = lacking = uneven = 0
    total = sum(student.pace for student in by_code.values())
    for group in groups:
        members = set(group)
        broken += 2 * sum(pair <= members for pair in wishes.apart)
        broken += sum(len(pair & members) == 1 for pair in wishes.together)
        held = {permit for code in group for permit in by_code[code].signed_off}
        lacking += len(wishes.permits - held)
        uneven += (count * sum(by_code[code].pace for code in group) - total) ** 2
    return broken, lacking, uneven


def _improved(
    groups: list[list[str]], by_code: dict[str, Candidate], wishes: Wishes
) -> list[list[str]]:
    """Exchange two students of two teams as long as that helps."""
    for _ in range(ROUNDS):
        helped = False
        for left, right in itertools.combinations(groups, 2):
            helped |= _exchange(left, right, by_code, wishes, len(groups))
        if not helped:
            break
    return groups


def _exchange(
    left: list[str],
    right: list[str],
    by_code: dict[str, Candidate],
    wishes: Wishes,
    count: int,
) -> bool:
    reached = cost([left, right], by_code, wishes, count)
    helped = False
    for one, other in itertools.product(range(len(left)), range(len(right))):
        left[one], right[other] = right[other], left[one]
        tried = cost([left, right], by_code, wishes, count)
        if tried < reached:
            reached, helped = tried, True
        else:
            left[one], right[other] = right[other], left[one]
    return helped


def _unmet(
    teams: Sequence[Sequence[str]], by_code: dict[str, Candidate], wishes: Wishes
) -> list[str]:
    found = []
    for group in teams:
        members = set(group)
        named = ", ".join(group)
        found += [
            f"{' and '.join(sorted(pair))} could not be kept apart."
            for pair in sorted(wishes.apart, key=sorted)
            if pair <= members
        ]
        held = {permit for code in group for permit in by_code[code].signed_off}
        found += [
            f"Nobody in {named} is signed off for {permit}."
            for permit in sorted(wishes.permits - held)
        ]
    for pair in sorted(wishes.together, key=sorted):
        if not any(pair <= set(group) for group in teams):
            found.append(f"{' and '.join(sorted(pair))} could not be put together.")
    return found
