"""Many classes prepared in one run: totals, spares for all together, adult machining by set-up.

Spares are pooled: kept in one store, fewer cover the same chance than each class's own would.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from app.domain.kit.kit_quantities import (
    USUAL_ASSURANCE,
    KitError,
    KitLine,
    KitList,
    Purchasing,
    purchased,
    spares_for,
)
from app.domain.papers.class_plan import StepHazard, merged_caution
from app.domain.papers.document import Caution


@dataclass(frozen=True, slots=True)
class AdultTask:
    """A step an adult does outside class for a class's instruments, at a set-up of a machine."""

    section: str
    step: str
    title: str
    set_up: str
    instruments: int
    minutes_each: float
    needed_on: date | None = None
    hazard: StepHazard | None = None

    @property
    def minutes(self) -> float:
        return self.instruments * self.minutes_each


@dataclass(frozen=True, slots=True)
class ReadyMadePart:
    """A step that is bought ready for a class, with its cost."""

    section: str
    title: str
    instruments: int
    cost_each: float
    needed_on: date | None = None
    currency: str = "USD"

    @property
    def cost(self) -> float:
        return self.instruments * self.cost_each


@dataclass(frozen=True, slots=True)
class BatchClass:
    """One class of a batch. Its kit list is reckoned without stock, which all share."""

    key: str
    title: str
    build: str
    build_title: str
    version: str
    teams: tuple[str, ...]
    kit: KitList
    purchasing: Purchasing = field(default_factory=Purchasing)
    adult_tasks: tuple[AdultTask, ...] = ()
    ready_made: tuple[ReadyMadePart, ...] = ()


@dataclass(frozen=True, slots=True)
class SetUp:
    """A machine set up once, and all that is done before it is changed."""

    title: str
    minutes: float
    tasks: tuple[AdultTask, ...]
    needed_on: date | None


@dataclass(frozen=True, slots=True)
class Handout:
    """What one class gets of one material, and by when."""

    section: str
    material: str
    title: str
    quantity: float
    unit: str
    needed_on: date | None
    phases: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Batch:
    """Totals of all classes; ``lines`` have pooled spares and what is short of the common stock."""

    classes: tuple[BatchClass, ...]
    lines: tuple[KitLine, ...]
    costs: Mapping[str, tuple[float, float]]
    set_ups: tuple[SetUp, ...]
    handouts: tuple[Handout, ...]
    sentences: tuple[str, ...]

    @property
    def instruments(self) -> int:
        return sum(len(item.teams) for item in self.classes)

    @property
    def caution(self) -> Caution | None:
        """The cautions of what an adult machines, each once."""
        found = {t.step: t.hazard for row in self.set_ups for t in row.tasks if t.hazard}
        return merged_caution(list(found.values())) if found else None

    @property
    def bought(self) -> tuple[ReadyMadePart, ...]:
        return tuple(item for row in self.classes for item in row.ready_made)

    @property
    def bought_cost(self) -> Mapping[str, float]:
        """What the ready-made parts cost in all, by currency."""
        found: dict[str, float] = defaultdict(float)
        for item in self.bought:
            found[item.currency] += item.cost
        return found

    @property
    def adult_minutes(self) -> float:
        return sum(item.minutes for item in self.set_ups)


def batch_of(
    classes: Sequence[BatchClass],
    on_hand: Mapping[str, float],
    assurance: float = USUAL_ASSURANCE,
) -> Batch:
    """Put classes together into one run.

    Raises KitError where there is none, or where classes make different versions of one build.
    """
    if not classes:
        raise KitError(["Choose at least one class."])
    found = version_problems(classes)
    if found:
        raise KitError(found)
    by_material: dict[str, list[KitLine]] = defaultdict(list)
    for item in classes:
        for line in item.kit.lines:
            by_material[line.material].append(line)
    path = _purchasing(classes)
    lines = [
        _pooled(group, on_hand.get(material, 0.0), assurance, path)
        for material, group in by_material.items()
    ]
    lines.sort(key=lambda line: (line.order_by or date.max, line.title))
    costs: dict[str, tuple[float, float]] = {}
    for line in lines:
        low, high = costs.get(line.currency, (0.0, 0.0))
        costs[line.currency] = (round(low + line.cost_low, 2), round(high + line.cost_high, 2))
    return Batch(
        tuple(classes),
        tuple(lines),
        costs,
        tuple(_set_ups(task for item in classes for task in item.adult_tasks)),
        tuple(_handouts(classes)),
        tuple(dict.fromkeys(s for line in lines for s in line.sentences)),
    )


def version_problems(classes: Iterable[BatchClass]) -> list[str]:
    """A sentence for each build that stands in more than one version."""
    versions: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    titles = {}
    for item in classes:
        versions[item.build][item.version].append(item.title)
        titles[item.build] = item.build_title
    return [
        f"These classes make different versions of the {titles[build]}: "
        + "; ".join(f"version {version}: {', '.join(names)}" for version, names in found.items())
        + ". Their parts may differ: prepare them in separate batches, or bring them to one version."
        for build, found in versions.items()
        if len(found) > 1
    ]


def _purchasing(classes: Sequence[BatchClass]) -> Purchasing:
    """One way of buying for all: the slowest approval, every closed day, the first term to end."""
    ways = [item.purchasing for item in classes]
    ends = [way.term_ends for way in ways if way.term_ends]
    return replace(
        ways[0],
        approval_days=max(way.approval_days for way in ways),
        closed=frozenset(day for way in ways for day in way.closed),
        term_ends=min(ends, default=None),
    )


def _pooled(
    group: Sequence[KitLine], on_hand: float, assurance: float, path: Purchasing
) -> KitLine:
    """One line for all classes, with spares for all of them together."""
    first = group[0]
    each = max(line.each for line in group)
    places = sum(line.places for line in group)
    counted = sum(line.counted for line in group)
    losses = spares_for(counted, first.loss_rate, assurance)
    line = replace(
        first,
        needed=round(sum(line.needed for line in group), 6),
        spares=round(losses * each, 6),
        losses_provided_for=losses,
        used=round(sum(line.used for line in group), 6),
        to_come=round(sum(line.to_come for line in group), 6),
        spares_to_come=round(spares_for(places, first.loss_rate, assurance) * each, 6),
        counted=counted,
        places=places,
        each=each,
        on_hand=on_hand,
        needed_on=min((line.needed_on for line in group if line.needed_on), default=None),
        demands=tuple(demand for line in group for demand in line.demands),
        phases=tuple(dict.fromkeys(phase for line in group for phase in line.phases)),
        checks=tuple(dict.fromkeys(note for line in group for note in line.checks)),
    )
    phase = next((line.phases[0] for line in group if line.phases), "its step")
    return purchased(line, path, phase)


def _set_ups(tasks: Iterable[AdultTask]) -> Iterator[SetUp]:
    """Tasks by set-up, the soonest needed first."""
    found: dict[str, list[AdultTask]] = defaultdict(list)
    for task in tasks:
        found[task.set_up].append(task)
    rows = []
    for title, group in found.items():
        dates = [task.needed_on for task in group if task.needed_on]
        group.sort(key=lambda task: (task.needed_on or date.max, task.section, task.step))
        minutes = sum(task.minutes for task in group)
        rows.append(SetUp(title, minutes, tuple(group), min(dates, default=None)))
    yield from sorted(rows, key=lambda row: (row.needed_on or date.max, row.title))


def _handouts(classes: Iterable[BatchClass]) -> list[Handout]:
    rows = [
        Handout(
            item.title,
            line.material,
            line.title,
            line.to_come,
            line.unit,
            line.needed_on,
            line.phases,
        )
        for item in classes
        for line in item.kit.lines
        if line.to_come > 0
    ]
    return sorted(rows, key=lambda row: (row.needed_on or date.max, row.section, row.title))
