"""Bill of materials × class: what is needed, spares by probability, what is short, order-by dates.

Quantities are in each material's own unit. Dates come in; no clock is read. What was used follows
from the steps done and the parts spoiled, so that a list in week nine asks only for what is to come.
"""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum

from app.domain.calculators.spares import fewest_spares
from app.domain.dates import short_date

USUAL_ASSURANCE = 0.95  # common practice, no source
_NEARLY = 1e-9  # 1.6 m × 11 must not become 18 packs for a rounding error in the last digit
_LONGEST_SEARCH_DAYS = 3660  # ten years without an open day: the closed dates cannot be right


class Per(StrEnum):
    """What a quantity of the bill is counted by."""

    INSTRUMENT = "instrument"
    STUDENT = "student"
    CLASS = "class"


@dataclass(frozen=True, slots=True)
class BillLine:
    """One material in one step of a build.

    ``loss_rate`` is the chance (0 to 1) that one team, or student, spoils or lacks it, once.
    ``spare_quantity`` is what one loss takes; None means the whole quantity.
    ``lead_days`` are calendar days from order to delivery, the longest to be expected.
    """

    material: str
    title: str
    unit: str
    quantity: float
    per: Per = Per.INSTRUMENT
    loss_rate: float = 0.0
    spare_quantity: float | None = None
    pack_size: float = 1.0
    cost_low: float = 0.0  # for one unit
    cost_high: float = 0.0
    currency: str = "USD"
    lead_days: int = 0
    needed_on: date | None = None  # first meeting that needs it
    phase: str = ""
    lowest_grade: int | None = None  # not to be used below
    step: str = ""


@dataclass(frozen=True, slots=True)
class ClassSize:
    """How many of each, and the lowest grade in the class (0 is kindergarten)."""

    instruments: int
    students: int
    lowest_grade: int | None = None

    def count(self, per: Per) -> int:
        """Return how often a quantity is needed."""
        return {Per.INSTRUMENT: self.instruments, Per.STUDENT: self.students, Per.CLASS: 1}[per]


@dataclass(frozen=True, slots=True)
class Purchasing:
    """How an order goes through: open days it takes to approve, and when the office is closed."""

    approval_days: int = 0  # open days
    closed: frozenset[date] = frozenset()
    open_weekdays: tuple[int, ...] = (0, 1, 2, 3, 4)  # 0 is Monday
    today: date | None = None
    term_ends: date | None = None


@dataclass(frozen=True, slots=True)
class WorkEvent:
    """A team's step done, or a part spoiled at it, which takes the step's materials once more."""

    step: str
    team: str
    students: int
    at: datetime
    spoiled: bool = False


@dataclass(frozen=True, slots=True)
class MaterialUse:
    """What one event took of one material."""

    material: str
    quantity: float
    at: datetime
    spoiled: bool = False


@dataclass(frozen=True, slots=True)
class Demand:
    """What a phase still takes of a material, from a date on."""

    needed_on: date | None
    quantity: float
    phase: str


@dataclass(frozen=True, slots=True)
class KitLine:
    """One material for the whole class.

    ``counted`` is how many instruments or students get it, ``places`` how many still have it
    before them. What is to be bought comes last, from `purchased`: ``short`` is what is still to
    come with its spares, less what is on hand; before the first step that is needed + spares − on
    hand. ``order`` is the same in whole packs, ``cost_low`` to ``cost_high`` what it costs, at
    ``price_low`` to ``price_high`` a unit.
    """

    material: str
    title: str
    unit: str
    needed: float
    spares: float
    losses_provided_for: int
    used: float
    to_come: float
    spares_to_come: float
    counted: int
    places: int
    each: float
    loss_rate: float
    pack_size: float
    lead_days: int
    on_hand: float
    price_low: float
    price_high: float
    currency: str
    needed_on: date | None
    demands: tuple[Demand, ...]
    phases: tuple[str, ...]
    checks: tuple[str, ...]  # facts to check, such as a grade rule
    short: float = 0.0
    order: float = 0.0
    cost_low: float = 0.0
    cost_high: float = 0.0
    order_by: date | None = None
    earliest_arrival: date | None = None  # if asked for today
    late: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """Everything to be said about this line."""
        return (*self.checks, *self.late)


@dataclass(frozen=True, slots=True)
class KitList:
    """All lines by order-by date, and the cost of what is short, low and high by currency."""

    lines: tuple[KitLine, ...]
    costs: Mapping[str, tuple[float, float]]
    sentences: tuple[str, ...] = field(default=())


class KitError(ValueError):
    """The bill cannot be read as it stands; ``sentences`` say what to change."""

    def __init__(self, sentences: Sequence[str]):
        super().__init__(" ".join(sentences))
        self.sentences = tuple(sentences)


# --- spares --------------------------------------------------------------------------------------


def spares_for(count: int, loss_rate: float, assurance: float = USUAL_ASSURANCE) -> int:
    """Return the fewest spares that suffice with the chosen assurance.

    The number of losses among ``count`` is binomial: each loses its part at most once, and
    independently. The answer is the smallest s with P(losses <= s) >= assurance, as the
    calculator of spares counts them.
    Raises KitError if the count is below 0, or rate or assurance lie outside 0 to 1.
    """
    found = [*_rate_problems("The part", loss_rate), *_assurance_problems(assurance)]
    if count < 0:
        found.append(f"{count} instruments: give 0 or more.")
    if found:
        raise KitError(found)
    return fewest_spares(count, loss_rate, assurance)


# --- dates ---------------------------------------------------------------------------------------


def order_by(needed_on: date, lead_days: int, purchasing: Purchasing) -> date:
    """Return the last date to ask for an order so that it is there the open day before it is needed.

    Counted back: the last open day before ``needed_on``; ``lead_days`` calendar days, back to an
    open day; then the open days of approval.
    """
    arrives = _open_day(needed_on - timedelta(days=1), purchasing, -1)
    placed = _open_day(arrives - timedelta(days=lead_days), purchasing, -1)
    return _open_days_on(placed, purchasing.approval_days, purchasing, -1)


def arrival(asked_on: date, lead_days: int, purchasing: Purchasing) -> date:
    """Return the open day on which an order asked for on a date arrives."""
    approved = _open_days_on(
        _open_day(asked_on, purchasing, 1), purchasing.approval_days, purchasing, 1
    )
    return _open_day(approved + timedelta(days=lead_days), purchasing, 1)


def _open_day(day: date, purchasing: Purchasing, direction: int) -> date:
    """Return the day itself if it is open, or the next open one in the direction."""
    for n in range(_LONGEST_SEARCH_DAYS):
        tried = day + timedelta(days=direction * n)
        if tried.weekday() in purchasing.open_weekdays and tried not in purchasing.closed:
            return tried
    raise KitError([f"The office has no open day around {day}: correct the closed dates."])


def _open_days_on(day: date, count: int, purchasing: Purchasing, direction: int) -> date:
    for _ in range(count):
        day = _open_day(day + timedelta(days=direction), purchasing, direction)
    return day


# --- the list ------------------------------------------------------------------------------------


def kit_list(
    bill: Iterable[BillLine],
    size: ClassSize,
    on_hand: Mapping[str, float] | None = None,
    purchasing: Purchasing | None = None,
    assurance: float = USUAL_ASSURANCE,
    past: Iterable[WorkEvent] = (),
) -> KitList:
    """Work out a class's kit list. ``on_hand`` gives the stock of each material in its unit.

    A material of several steps becomes one line, needed on its earliest date.
    Raises KitError with every problem as a sentence.
    """
    lines = tuple(bill)
    stock = on_hand or {}
    path = purchasing or Purchasing()
    found = problems(lines, size, stock, path, assurance)
    if found:
        raise KitError(found)
    events = tuple(past)
    used: dict[str, float] = defaultdict(float)
    for use in material_use(events, lines):
        used[use.material] += use.quantity
    by_material: dict[str, list[BillLine]] = {}
    for line in lines:
        by_material.setdefault(line.material, []).append(line)
    listed = [
        _kit_line(
            _Need(group, size, events, used[material]), stock.get(material, 0.0), path, assurance
        )
        for material, group in by_material.items()
    ]
    listed.sort(key=lambda k: (k.order_by or date.max, k.title, k.material))
    return KitList(
        lines=tuple(listed),
        costs=_costs(listed),
        sentences=tuple(s for k in listed for s in k.sentences),
    )


def material_use(events: Iterable[WorkEvent], bill: Iterable[BillLine]) -> list[MaterialUse]:
    """What the events took: a step done its materials, a spoiled part those of one loss more.

    What is counted once for the class is taken when the first team is done.
    """
    by_step: dict[str, list[BillLine]] = defaultdict(list)
    for line in bill:
        by_step[line.step].append(line)
    taken: set[tuple[str, str]] = set()
    found = []
    for event in sorted(events, key=lambda e: e.at):
        for line in by_step.get(event.step, ()) if event.step else ():
            if line.per is Per.CLASS and (line.step, line.material) in taken:
                continue
            taken.add((line.step, line.material))
            count = event.students if line.per is Per.STUDENT else 1
            quantity = line.quantity * count
            if event.spoiled and line.spare_quantity is not None:
                quantity = line.spare_quantity
            found.append(MaterialUse(line.material, quantity, event.at, event.spoiled))
    return found


@dataclass(frozen=True, slots=True)
class _Need:
    """One material's lines, with what the class has behind it."""

    group: Sequence[BillLine]
    size: ClassSize
    past: Sequence[WorkEvent]
    used: float

    def behind(self, line: BillLine) -> int:
        """Return how many of those counted have this line behind them."""
        done = [e for e in self.past if e.step == line.step and e.step and not e.spoiled]
        if line.per is Per.STUDENT:
            return sum(event.students for event in done)
        return min(len(done), 1) if line.per is Per.CLASS else len(done)

    def ahead(self, line: BillLine) -> int:
        """Return how many still have this line before them."""
        return max(0, self.size.count(line.per) - self.behind(line))

    def demands(self) -> tuple[Demand, ...]:
        """Return what is still to come, step by step."""
        return tuple(
            Demand(line.needed_on, line.quantity * self.ahead(line), line.phase)
            for line in self.group
        )

    def loss_takes(self) -> float:
        """Return what one loss takes: all of the material that one instrument gets."""
        first = self.group[0]
        each = sum(line.quantity for line in self.group)
        return each if first.spare_quantity is None else first.spare_quantity


def runs_out(demands: Iterable[Demand], on_hand: float) -> Demand | None:
    """Return the first demand that finds too little, or the last if only spares lack.

    None where nothing has a date.
    """
    dated = sorted((d for d in demands if d.needed_on), key=lambda d: d.needed_on or date.max)
    left = on_hand
    for demand in dated:
        left -= demand.quantity
        if left < -_NEARLY:
            return demand
    return dated[-1] if dated else None


def _kit_line(need: _Need, on_hand: float, path: Purchasing, assurance: float) -> KitLine:
    group, size, first = need.group, need.size, need.group[0]
    counted = max(size.count(line.per) for line in group)
    ahead = max(need.ahead(line) for line in group)
    losses = spares_for(counted, first.loss_rate, assurance)
    spares_to_come = spares_for(ahead, first.loss_rate, assurance) * need.loss_takes()
    to_come = sum(line.quantity * need.ahead(line) for line in group)
    line = KitLine(
        material=first.material,
        title=first.title,
        unit=first.unit,
        needed=_clean(sum(line.quantity * size.count(line.per) for line in group)),
        spares=_clean(losses * need.loss_takes()),
        losses_provided_for=losses,
        used=_clean(need.used),
        to_come=_clean(to_come),
        spares_to_come=_clean(spares_to_come),
        counted=counted,
        places=ahead,
        each=need.loss_takes(),
        loss_rate=first.loss_rate,
        pack_size=first.pack_size,
        lead_days=first.lead_days,
        on_hand=_clean(on_hand),
        price_low=first.cost_low,
        price_high=first.cost_high,
        currency=first.currency,
        needed_on=min((line.needed_on for line in group if line.needed_on), default=None),
        demands=need.demands(),
        phases=tuple(dict.fromkeys(line.phase for line in group if line.phase)),
        checks=tuple(_facts_to_check(group, size)),
    )
    return purchased(line, path, _first_phase(group))


def purchased(line: KitLine, path: Purchasing, phase: str) -> KitLine:
    """Return the line with what is to be bought: how much, for how much, by when, or too late.

    ``phase`` is the one to name where nothing has a date.
    """
    short = _clean(max(0.0, line.to_come + line.spares_to_come - line.on_hand))
    order = in_packs(short, line.pack_size)
    waiting = runs_out(line.demands, line.on_hand) if short > 0 else None
    empty_on = waiting.needed_on if waiting else None
    comes = arrival(path.today, line.lead_days, path) if short > 0 and path.today else None
    return replace(
        line,
        short=short,
        order=order,
        cost_low=round(order * line.price_low, 2),
        cost_high=round(order * line.price_high, 2),
        order_by=order_by(empty_on, line.lead_days, path) if empty_on else None,
        earliest_arrival=comes,
        late=tuple(lateness(line.title, line.lead_days, path, waiting, comes, phase)),
    )


def in_packs(short: float, pack_size: float) -> float:
    """Return what is short, rounded up to whole packs."""
    return _clean(math.ceil(short / pack_size - _NEARLY) * pack_size)


def _facts_to_check(group: Sequence[BillLine], size: ClassSize) -> Iterator[str]:
    first = group[0]
    if first.loss_rate == 1.0:
        yield f"{first.title}: a loss rate of 1 means every team spoils one; check the rate."
    lowest = max((x.lowest_grade for x in group if x.lowest_grade is not None), default=None)
    if lowest is not None and size.lowest_grade is not None and size.lowest_grade < lowest:
        yield f"{first.title} is not to be used below grade {lowest}: choose another material."


def lateness(
    title: str,
    lead_days: int,
    path: Purchasing,
    waiting: Demand | None,
    comes: date | None,
    phase: str,
) -> Iterator[str]:
    """Say that an order comes too late, when it comes, and which phase waits.

    ``waiting`` is the demand that finds too little, ``phase`` the one to name where none has a date.
    """
    if waiting and waiting.phase:
        phase = waiting.phase
    if comes and path.term_ends and comes > path.term_ends:
        yield (
            f"{title} would arrive on {short_date(comes)}, after the term ends on {short_date(path.term_ends)}, and "
            f"{phase} waits for it: find a quicker source or another material."
        )
    elif waiting and waiting.needed_on and comes and path.today:
        needed = waiting.needed_on
        due = order_by(needed, lead_days, path)
        if due < path.today and comes < needed:
            yield f"{title} should have been ordered by {short_date(due)}; ordered today it still arrives on {short_date(comes)}."
        elif due < path.today:
            yield (
                f"{title} should have been ordered by {short_date(due)} for {short_date(needed)}; ordered "
                f"today it arrives on {short_date(comes)}, and {phase} waits."
            )


def _first_phase(group: Sequence[BillLine]) -> str:
    """The phase that needs the material first, by date if there is a plan."""
    named = [line for line in group if line.phase]
    first = min(named, key=lambda line: line.needed_on or date.max, default=None)
    return first.phase if first else "its step"


def _costs(lines: Iterable[KitLine]) -> dict[str, tuple[float, float]]:
    sums: dict[str, tuple[float, float]] = {}
    for line in lines:
        low, high = sums.get(line.currency, (0.0, 0.0))
        sums[line.currency] = (round(low + line.cost_low, 2), round(high + line.cost_high, 2))
    return sums


def _clean(quantity: float) -> float:
    # Sums of decimal quantities, such as 1.6 m eleven times, shown as people write them.
    return round(quantity, 6)


# --- what is wrong with the input ----------------------------------------------------------------


def problems(
    bill: Collection[BillLine],
    size: ClassSize,
    on_hand: Mapping[str, float],
    purchasing: Purchasing,
    assurance: float = USUAL_ASSURANCE,
) -> tuple[str, ...]:
    """Return everything that keeps this bill from becoming a kit list, each as a sentence."""
    found = [*_assurance_problems(assurance)]
    if size.instruments < 0 or size.students < 0:
        found.append("The number of instruments and of students must be 0 or more.")
    if purchasing.approval_days < 0:
        found.append("The days of approval must be 0 or more.")
    if not purchasing.open_weekdays:
        found.append("The office is open on no weekday: choose at least one.")
    found += [
        f"The stock of {material} is {amount:g}: give 0 or more."
        for material, amount in on_hand.items()
        if amount < 0
    ]
    first: dict[str, BillLine] = {}
    for line in bill:
        found += _line_problems(line)
        other = first.setdefault(line.material, line)
        if _facts(other) != _facts(line):
            found.append(
                f"{line.title} ({line.material}) differs between two steps in unit, price, lead "
                "time or loss rate: give one material one set of facts."
            )
    return tuple(found)


def _facts(line: BillLine) -> tuple[object, ...]:
    return (
        line.unit,
        line.loss_rate,
        line.spare_quantity,
        line.pack_size,
        line.cost_low,
        line.cost_high,
        line.currency,
        line.lead_days,
    )


def _line_problems(line: BillLine) -> Iterator[str]:
    yield from _rate_problems(line.title, line.loss_rate)
    if line.quantity <= 0 or not math.isfinite(line.quantity):
        yield f"{line.title} has a quantity of {line.quantity:g}: give more than 0."
    if line.spare_quantity is not None and line.spare_quantity < 0:
        yield f"{line.title} has a spare quantity of {line.spare_quantity:g}: give 0 or more."
    if line.pack_size <= 0:
        yield f"{line.title} has a pack size of {line.pack_size:g}: give more than 0."
    if not 0 <= line.cost_low <= line.cost_high:
        yield (
            f"{line.title} costs {line.cost_low:g} to {line.cost_high:g}: "
            "give a low price of 0 or more and a high price not below it."
        )
    if line.cost_high > 0 and not line.currency:
        yield f"{line.title} has a price without a currency: name the currency."
    if line.lead_days < 0:
        yield f"{line.title} has a lead time of {line.lead_days} days: give 0 or more."


def _rate_problems(title: str, rate: float) -> Iterator[str]:
    if not 0 <= rate <= 1:
        yield f"{title} has a loss rate of {rate:g}: give a share from 0 to 1."


def _assurance_problems(assurance: float) -> Iterator[str]:
    if not 0 < assurance < 1:
        yield f"The assurance is {assurance:g}: give a share between 0 and 1, such as 0.95."
