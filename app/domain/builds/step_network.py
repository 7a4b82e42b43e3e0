"""The steps of a build as a network: what waits for what, the longest chain, and the picture.

The chain counts typical class minutes. Drying runs on the clock, through nights and weekends,
so it is no length in this picture: it is marked on the step, and counted in nights.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

HOURS_PER_DAY = 24
SAME_DAY_HOURS = 4.0
"""A shorter wait can end on the day it began; a longer one costs at least a night."""


@dataclass(frozen=True, slots=True)
class NetworkStep:
    """A step with the class minutes it takes (0 if it is done outside class)."""

    key: str
    title: str
    phase: int
    minutes: float
    after: tuple[str, ...] = ()
    drying_hours: float = 0.0
    outside_class: bool = False


@dataclass(frozen=True, slots=True)
class Chain:
    """Steps that wait for each other, first to last, and their weights' sum."""

    keys: tuple[str, ...]
    length: float


def in_order(steps: Iterable[NetworkStep]) -> list[NetworkStep]:
    """Every step after all it waits for; otherwise as given.

    Raises ValueError where steps wait for each other. Names of unknown steps are passed over.
    """
    given = {step.key: step for step in steps}
    placed: dict[str, NetworkStep] = {}
    waiting = list(given.values())
    while waiting:
        ready = [s for s in waiting if all(key in placed or key not in given for key in s.after)]
        if not ready:
            names = ", ".join(step.key for step in waiting)
            raise ValueError(f"{names} wait for each other; remove one of the links")
        placed.update((step.key, step) for step in ready)
        waiting = [step for step in waiting if step.key not in placed]
    return list(placed.values())


def nights(hours: float) -> int:
    """Nights that a drying time costs: none up to four hours, else whole days begun."""
    return 0 if hours <= SAME_DAY_HOURS else math.ceil(hours / HOURS_PER_DAY)


def class_minutes(step: NetworkStep) -> float:
    """The weight of the critical path: typical minutes in class."""
    return 0.0 if step.outside_class else step.minutes


def drying_nights(step: NetworkStep) -> float:
    """The weight of the drying chain: nights after the step."""
    return float(nights(step.drying_hours))


def starts(
    steps: Iterable[NetworkStep], weight: Callable[[NetworkStep], float] = class_minutes
) -> dict[str, float]:
    """Earliest start of each step if nothing but precedence held it back, in units of `weight`."""
    found: dict[str, float] = {}
    lengths: dict[str, float] = {}
    for step in in_order(steps):
        ends = [found[key] + lengths[key] for key in step.after if key in found]
        found[step.key] = max(ends, default=0.0)
        lengths[step.key] = weight(step)
    return found


def longest_chain(
    steps: Sequence[NetworkStep], weight: Callable[[NetworkStep], float] = class_minutes
) -> Chain:
    """The critical path: the longest sum of `weight` along steps that wait for each other.

    Of equally long chains the one whose steps come first in the build.
    """
    if not steps:
        return Chain((), 0.0)
    ordered = in_order(steps)
    begin = starts(ordered, weight)
    known = {step.key: step for step in ordered}
    rank = {step.key: place for place, step in enumerate(steps)}

    def end(key: str) -> float:
        return begin[key] + weight(known[key])

    key = max(known, key=lambda item: (end(item), -rank[item]))
    keys = [key]
    length = end(key)
    while before := [item for item in known[key].after if item in known]:
        key = max(before, key=lambda item: (end(item), -rank[item]))
        keys.append(key)
    return Chain(tuple(reversed(keys)), length)


def drawn_links(steps: Iterable[NetworkStep]) -> list[tuple[str, str]]:
    """The links worth drawing: those that no longer way round already says."""
    ordered = in_order(steps)
    known = {step.key for step in ordered}
    ancestors: dict[str, set[str]] = {}
    links = []
    for step in ordered:
        before = [key for key in step.after if key in known]
        ancestors[step.key] = set(before).union(*(ancestors[key] for key in before))
        links += [
            (key, step.key)
            for key in before
            if not any(key in ancestors[other] for other in before)
        ]
    return links


@dataclass(frozen=True, slots=True)
class Box:
    """A step in the picture; its last `tail` units are hatched if it dries."""

    step: NetworkStep
    x: float
    y: float
    width: float
    height: float
    tail: float
    critical: bool

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def middle(self) -> float:
        return self.y + self.height / 2


@dataclass(frozen=True, slots=True)
class Band:
    """A phase in the picture."""

    title: str
    y: float
    height: float


@dataclass(frozen=True, slots=True)
class StepLink:
    """From the end of a step to the start of the one that waits for it."""

    x1: float
    y1: float
    x2: float
    y2: float
    critical: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """The network laid out in SVG user units."""

    width: float
    height: float
    bands: tuple[Band, ...]
    boxes: tuple[Box, ...]
    links: tuple[StepLink, ...]
    chain: Chain
    nights: int
    ticks: tuple[tuple[float, int], ...]
    sentence: str


LEFT = 118.0
TOP = 20.0
BODY = 930.0  # so that picture and list of steps fit one landscape page of Letter or A4
LABEL = 24.0  # the least width a step's key can be read in
LANE = 17.0
BOX = 13.0
GAP = 4.0
TAIL = 9.0
BETWEEN = 3.0
MINUTES_PER_TICK = 200


def lay_out(steps: Sequence[NetworkStep], phases: Sequence[str]) -> Picture:
    """Phases as bands from top to bottom, class minutes from left to right.

    Raises ValueError where steps wait for each other.
    """
    begin = starts(steps)
    chain = longest_chain(steps)
    scale = BODY / max(chain.length, 1.0)
    y = TOP
    bands: list[Band] = []
    boxes: dict[str, Box] = {}
    for number, title in enumerate(phases):
        mine = sorted((s for s in steps if s.phase == number), key=lambda s: begin[s.key])
        lanes: list[float] = []
        for step in mine:
            x = LEFT + begin[step.key] * scale
            tail = TAIL if step.drying_hours else 0.0
            width = max(class_minutes(step) * scale - BETWEEN, LABEL + tail)
            lane = next((i for i, end in enumerate(lanes) if end < x), len(lanes))
            lanes[lane:] = [x + width, *lanes[lane + 1 :]]
            boxes[step.key] = Box(
                step, x, y + GAP + lane * LANE, width, BOX, tail, step.key in chain.keys
            )
        height = max(len(lanes), 1) * LANE + GAP
        bands.append(Band(title, y, height))
        y += height
    right = max((box.right for box in boxes.values()), default=LEFT) + 2
    return Picture(
        width=right,
        height=y + 1,
        bands=tuple(bands),
        boxes=tuple(boxes.values()),
        links=tuple(_links(steps, boxes, chain)),
        chain=chain,
        nights=round(longest_chain(steps, drying_nights).length),
        ticks=_ticks(chain.length, scale),
        sentence=describe(steps, phases, chain),
    )


def _links(
    steps: Sequence[NetworkStep], boxes: Mapping[str, Box], chain: Chain
) -> Iterable[StepLink]:
    pairs = set(zip(chain.keys, chain.keys[1:], strict=False))
    links = drawn_links(steps)
    for before, after in [*links, *sorted(pairs - set(links))]:
        one, other = boxes[before], boxes[after]
        yield StepLink(one.right, one.middle, other.x, other.middle, (before, after) in pairs)


def _ticks(length: float, scale: float) -> tuple[tuple[float, int], ...]:
    return tuple(
        (LEFT + minutes * scale, minutes)
        for minutes in range(0, math.ceil(length), MINUTES_PER_TICK)
    )


def describe(steps: Sequence[NetworkStep], phases: Sequence[str], chain: Chain) -> str:
    """What to see in the picture, in words."""
    drying = [step for step in steps if step.drying_hours]
    waits = round(longest_chain(steps, drying_nights).length)
    return (
        f"{len(steps)} steps in {len(phases)} phases. The longest chain of steps that wait for "
        f"each other has {len(chain.keys)} steps and {chain.length:,.0f} class minutes, from "
        f"{chain.keys[0] if chain.keys else 'none'} to {chain.keys[-1] if chain.keys else 'none'}. "
        f"{len(drying)} steps dry afterwards; one after another they cost at least {waits} nights."
    )
