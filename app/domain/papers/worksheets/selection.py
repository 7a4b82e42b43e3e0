"""Which questions a sheet asks, and in which order.

Mixed practice: no two neighbouring questions on one concept, since mixing helped grade 7
students remember (Rohrer, Dedrick, Hartwig and Cheung 2020, Journal of Educational
Psychology 112(1)). The same seed chooses the same questions for every team.
"""

import random
from collections.abc import Sequence

from app.domain.papers.worksheets.questions import minutes_of
from app.domain.papers.worksheets.request import Pattern, TreatmentFacts


def choose(
    treatments: Sequence[TreatmentFacts], steps: Sequence[str], minutes: float, seed: str
) -> list[tuple[TreatmentFacts, Pattern]]:
    """Questions that fill `minutes`, each beside another concept's where there are two.

    Questions tied to other steps than `steps` are left out; empty `steps` takes all. At
    least one question is chosen. A single concept's questions follow one another.
    """
    pools: list[tuple[TreatmentFacts, list[Pattern]]] = []
    for treatment in treatments:
        fitting = [p for p in treatment.patterns if _fits(p, steps)]
        source = random.Random(f"{seed}|{treatment.concept}")  # noqa: S311 - not a secret
        source.shuffle(fitting)
        if fitting:
            pools.append((treatment, fitting))
    chosen: list[tuple[TreatmentFacts, Pattern]] = []
    spent = 0.0
    last = ""
    asked: dict[str, int] = {}
    while True:
        open_pools = [
            (treatment, pool)
            for treatment, pool in pools
            if pool and (treatment.concept != last or len(pools) == 1)
        ]
        if not open_pools:
            return chosen
        # The concept asked least so far; where equal, the one with most left to ask.
        treatment, pool = min(
            open_pools, key=lambda entry: (asked.get(entry[0].concept, 0), -len(entry[1]))
        )
        pattern = pool.pop(0)
        if chosen and spent + minutes_of(pattern) > minutes:
            last_try = all(spent + minutes_of(p) > minutes for _, rest in open_pools for p in rest)
            if last_try:
                return chosen
            continue
        chosen.append((treatment, pattern))
        spent += minutes_of(pattern)
        last = treatment.concept
        asked[last] = asked.get(last, 0) + 1


def _fits(pattern: Pattern, steps: Sequence[str]) -> bool:
    return not steps or not pattern.steps or bool(set(pattern.steps) & set(steps))
