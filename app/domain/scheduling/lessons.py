"""Which lessons a section needs, and in which lesson slots they are taught.

The choice covers the required standards in the least class time. Each lesson goes into a slot just
before the first team reaches a step that shows its concept, at most a chosen number of meetings
earlier; a safety briefing goes before its station is first used. A lesson opens its meeting, so the
slot may be in the very meeting in which the step begins. A lesson longer than a slot runs on into
the next ones.

Aims, each only where the ones before it tie: every briefing and every lesson asked for is placed;
priority standards fully covered by their dates; the other standards likewise; standards fully
covered, if late; standards covered in part; fewest minutes; lessons fresh.
"""

import itertools
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any

from app.domain.dates import short_date

DETERMINISTIC_LIMIT = 2.0  # work of the solver for each aim, not seconds: same plan anywhere
MOST_PARTS = 3  # a lesson torn over more slots than this is no lesson: common practice, no source


@dataclass(frozen=True, slots=True)
class PlannedLesson:
    """A treatment that could be taught: its minutes, standards and the steps that show it."""

    treatment: str
    concept: str
    minutes: int
    strong: frozenset[str] = frozenset()
    partial: frozenset[str] = frozenset()
    steps: tuple[str, ...] = ()
    title: str = ""


@dataclass(frozen=True, slots=True)
class BriefingLesson:
    """A safety briefing, due at the latest in the meeting in which its station is first used."""

    permit: str
    minutes: int
    first_use: int
    title: str = ""


@dataclass(frozen=True, slots=True)
class Slot:
    """The lesson time of one meeting."""

    number: int  # of the meeting
    date: date
    minutes: int


@dataclass(frozen=True, slots=True)
class DueStandard:
    """A standard to be covered, by a date if there is one."""

    standard: str
    by: date | None = None
    priority: bool = False


@dataclass(frozen=True, slots=True)
class LessonPart:
    """Minutes of a lesson in one meeting."""

    meeting: int
    minutes: int


class LessonKind(StrEnum):
    """What is placed."""

    LESSON = "lesson"
    BRIEFING = "briefing"


@dataclass(frozen=True, slots=True)
class Placement:
    """A lesson or briefing in its slots. ``step`` is the one it prepares, None for a briefing."""

    key: str  # treatment or permit
    kind: LessonKind
    title: str
    parts: tuple[LessonPart, ...]
    end: date
    step: str | None = None
    first_use: int | None = None
    covers: tuple[str, ...] = ()  # required standards it is aligned to, in full
    covers_in_part: tuple[str, ...] = ()
    reason: str = ""

    @property
    def minutes(self) -> int:
        """Class time it takes."""
        return sum(part.minutes for part in self.parts)


class Why(StrEnum):
    """Why a standard is not fully covered on time, or a briefing or lesson not placed."""

    NO_LESSON = "no_lesson"
    PARTIAL_ONLY = "partial_only"
    NOT_SHOWN = "not_shown"
    NO_SLOT = "no_slot"
    TOO_LATE = "too_late"
    NO_ROOM = "no_room"


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is left out, and why."""

    key: str  # standard, permit or treatment
    why: Why
    sentence: str
    priority: bool = False
    covered_in_part: bool = False


class LessonStatus(StrEnum):
    """How sure the choice is."""

    OPTIMAL = "optimal"  # proven
    FEASIBLE = "feasible"  # the best found within the work limit
    GREEDY = "greedy"  # by a simple rule; more might be covered, or in less time


@dataclass(frozen=True, slots=True)
class LessonPlan:
    """The lessons and briefings placed, in order of meetings, and what is left out."""

    placements: tuple[Placement, ...]
    uncovered: tuple[Shortfall, ...]  # required standards
    unplaced: tuple[Shortfall, ...]  # briefings, and lessons asked for
    status: LessonStatus
    minutes: int  # class time of what was placed here, without what was fixed


@dataclass(frozen=True, slots=True)
class LessonProblem:
    """Everything the choice depends on.

    ``first_use`` gives the meeting number in which the first team reaches each step; steps that
    are not in the plan are absent. ``fixed`` is taught or pinned already: it keeps its slots and
    its standards count. ``wanted`` are treatments to be taught whatever they cover.
    """

    lessons: tuple[PlannedLesson, ...]
    slots: tuple[Slot, ...]
    required: tuple[DueStandard, ...]
    first_use: Mapping[str, int] = field(default_factory=dict)
    briefings: tuple[BriefingLesson, ...] = ()
    meetings_before: int = 5
    wanted: frozenset[str] = frozenset()
    fixed: tuple[Placement, ...] = ()


# --- options: each way to place one lesson -------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Option:
    parts: tuple[LessonPart, ...]
    end: date
    step: str | None
    first_use: int
    cost: int  # meetings between the lesson and its use, more if it misses the first use


@dataclass(frozen=True, slots=True)
class _LessonItem:
    key: str
    kind: LessonKind
    title: str
    minutes: int
    must: bool
    strong: frozenset[str]
    partial: frozenset[str]
    options: tuple[_Option, ...]


def _runs(minutes: int, slots: Sequence[Slot]) -> Iterator[tuple[tuple[LessonPart, ...], Slot]]:
    """Yield each stretch of slots that could hold so many minutes, with its last slot."""
    for i in range(len(slots)):
        parts: list[LessonPart] = []
        left = minutes
        for slot in slots[i : i + MOST_PARTS]:
            if slot.minutes <= 0:
                break
            parts.append(LessonPart(slot.number, min(left, slot.minutes)))
            left -= parts[-1].minutes
            if left <= 0:
                yield tuple(parts), slot
                break


def _lesson_options(lesson: PlannedLesson, problem: LessonProblem) -> tuple[_Option, ...]:
    uses = sorted((problem.first_use[s], s) for s in lesson.steps if s in problem.first_use)
    found = []
    for parts, last in _runs(lesson.minutes, problem.slots):
        ways = [
            _Option(parts, last.date, step, use, (use - last.number) + (use - uses[0][0]))
            for use, step in uses
            if use - problem.meetings_before <= parts[0].meeting and last.number <= use
        ]
        if ways:
            found.append(min(ways, key=lambda o: (o.cost, o.first_use, o.step or "")))
    return tuple(found)


def _briefing_options(briefing: BriefingLesson, problem: LessonProblem) -> tuple[_Option, ...]:
    return tuple(
        _Option(parts, last.date, None, briefing.first_use, briefing.first_use - last.number)
        for parts, last in _runs(briefing.minutes, problem.slots)
        if last.number <= briefing.first_use
    )


def _items(problem: LessonProblem) -> tuple[_LessonItem, ...]:
    done = {p.key for p in problem.fixed}
    required = {r.standard for r in problem.required}
    items = [
        _LessonItem(
            b.permit, LessonKind.BRIEFING, b.title or b.permit, b.minutes, True, *_NOTHING, options
        )
        for b in problem.briefings
        if b.permit not in done and (options := _briefing_options(b, problem))
    ]
    for lesson in problem.lessons:
        strong, partial = lesson.strong & required, lesson.partial & required
        must = lesson.treatment in problem.wanted
        if lesson.treatment in done or not (strong or partial or must):
            continue
        options = _lesson_options(lesson, problem)
        if options:
            title = lesson.title or lesson.concept
            items.append(
                _LessonItem(
                    lesson.treatment,
                    LessonKind.LESSON,
                    title,
                    lesson.minutes,
                    must,
                    strong,
                    partial,
                    options,
                )
            )
    return tuple(sorted(items, key=lambda i: (i.kind, i.key)))


_NOTHING: tuple[frozenset[str], frozenset[str]] = (frozenset(), frozenset())

# --- the choice ----------------------------------------------------------------------------------

Score = tuple[int, int, int, int, int, int, int]
_Chosen = Mapping[str, _Option]


def plan_lessons(problem: LessonProblem, *, exact: bool = True) -> LessonPlan:
    """Choose and place lessons.

    Exact by constraint programming, up to a fixed amount of work; greedy where that finds nothing
    or ``exact`` is False, and the status says which. The same input gives the same plan.
    Raises ValueError, with a sentence, for input that makes no sense.
    """
    found = problems(problem)
    if found:
        raise ValueError(" ".join(found))
    problem = _ordered(problem)
    items = _items(problem)
    chosen: _Chosen | None = None
    status = LessonStatus.GREEDY
    if exact:
        chosen, status = _solve(items, problem)
    if chosen is None:
        chosen, status = _greedy(items, problem), LessonStatus.GREEDY
    return _result(items, chosen, status, problem)


def _ordered(problem: LessonProblem) -> LessonProblem:
    # Slots less what is fixed in them, everything sorted: order of input must not matter.
    taken: dict[int, int] = defaultdict(int)
    for placement in problem.fixed:
        for part in placement.parts:
            taken[part.meeting] += part.minutes
    slots = sorted(problem.slots, key=lambda s: s.number)
    return LessonProblem(
        lessons=tuple(sorted(problem.lessons, key=lambda x: x.treatment)),
        slots=tuple(Slot(s.number, s.date, max(0, s.minutes - taken[s.number])) for s in slots),
        required=tuple(sorted(problem.required, key=lambda r: r.standard)),
        first_use=problem.first_use,
        briefings=tuple(sorted(problem.briefings, key=lambda b: b.permit)),
        meetings_before=problem.meetings_before,
        wanted=problem.wanted,
        fixed=problem.fixed,
    )


def score(problem: LessonProblem, placements: Sequence[Placement]) -> Score:
    """Return the aims as numbers to be made small, in their order.

    Briefings (weightiest) and lessons asked for that are unplaced, priority standards not full on time, standards not full on time, standards not
    full, standards not even in part, minutes, and meetings between lessons and their use.
    """
    missed = _missed(problem, placements)
    fixed = {p.key for p in problem.fixed}
    free = [p for p in placements if p.key not in fixed]
    uses: dict[str, list[int]] = {
        lesson.treatment: [problem.first_use[s] for s in lesson.steps if s in problem.first_use]
        for lesson in problem.lessons
    }
    stale = 0
    for p in free:
        use = p.first_use or 0
        stale += use - p.parts[-1].meeting
        stale += use - min(uses.get(p.key) or [use]) if p.kind is LessonKind.LESSON else 0
    there = {p.key for p in placements} | fixed
    unplaced = len(problem.wanted - there)
    unplaced += _briefing_weight(problem) * sum(b.permit not in there for b in problem.briefings)
    return (unplaced, *missed, sum(p.minutes for p in free), stale)


def _briefing_weight(problem: LessonProblem) -> int:
    """A safety briefing outweighs all the lessons asked for together."""
    return len(problem.wanted) + 1


def _missed(problem: LessonProblem, placements: Sequence[Placement]) -> tuple[int, int, int, int]:
    placed = {p.key: p for p in (*problem.fixed, *placements)}
    counts = [0, 0, 0, 0]
    for want in problem.required:
        full = [placed[x.treatment].end for x in _aligned(problem, want) if x.treatment in placed]
        some = full or any(
            want.standard in x.partial and x.treatment in placed for x in problem.lessons
        )
        on_time = any(want.by is None or end <= want.by for end in full)
        counts[0] += want.priority and not on_time
        counts[1] += not on_time
        counts[2] += not full
        counts[3] += not some
    return (counts[0], counts[1], counts[2], counts[3])


def _aligned(problem: LessonProblem, want: DueStandard) -> list[PlannedLesson]:
    return [lesson for lesson in problem.lessons if want.standard in lesson.strong]


def _solve(
    items: Sequence[_LessonItem], problem: LessonProblem
) -> tuple[_Chosen | None, LessonStatus]:
    """Minimise one aim after the other, each held while the next is sought."""
    try:
        from ortools.sat.python import cp_model
    except ImportError:
        return None, LessonStatus.GREEDY
    model, pick, placed = _model(cp_model.CpModel(), items, problem)
    start = _greedy(items, problem)
    best = {(i, o): items[i].options[o] is start.get(items[i].key) for i, o in pick}
    proven = True
    for aim in _aims(model, items, pick, placed, problem):
        model.clear_hints()
        for at, var in pick.items():
            model.add_hint(var, best[at])
        model.minimize(aim)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = DETERMINISTIC_LIMIT
        outcome = solver.solve(model)
        if outcome not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, LessonStatus.GREEDY
        proven = proven and outcome == cp_model.OPTIMAL
        best = {at: bool(solver.value(var)) for at, var in pick.items()}
        model.add(aim <= round(solver.objective_value))
    chosen = {items[i].key: items[i].options[o] for (i, o), taken in best.items() if taken}
    return chosen, LessonStatus.OPTIMAL if proven else LessonStatus.FEASIBLE


def _model(
    model: Any, items: Sequence[_LessonItem], problem: LessonProblem
) -> tuple[Any, dict[tuple[int, int], Any], list[Any]]:
    """Return the model, a variable for each option of each item, and one for each item placed."""
    pick = {
        (i, o): model.new_bool_var(f"{item.key} {o}")
        for i, item in enumerate(items)
        for o in range(len(item.options))
    }
    placed = [model.new_bool_var(item.key) for item in items]
    load: dict[int, list[Any]] = defaultdict(list)
    for i, item in enumerate(items):
        model.add(sum(pick[i, o] for o in range(len(item.options))) == placed[i])
        for o, option in enumerate(item.options):
            for part in option.parts:
                load[part.meeting].append(part.minutes * pick[i, o])
    for slot in problem.slots:
        if load[slot.number]:
            model.add(sum(load[slot.number]) <= slot.minutes)
    return model, pick, placed


def _aims(
    model: Any,
    items: Sequence[_LessonItem],
    pick: Mapping[tuple[int, int], Any],
    placed: Sequence[Any],
    problem: LessonProblem,
) -> list[Any]:
    """Return the aims in their order, without those this problem has nothing to say on."""
    terms: list[list[Any]] = [[] for _ in range(7)]
    weights = {LessonKind.BRIEFING: _briefing_weight(problem), LessonKind.LESSON: 1}
    for i, item in enumerate(items):
        if item.must:
            terms[0].append(weights[item.kind] * (1 - placed[i]))
        terms[5].append(item.minutes * placed[i])
        for o, option in enumerate(item.options):
            terms[6].append(option.cost * pick[i, o])
    for want in problem.required:
        for aim, missed in _misses(model, items, pick, placed, want=want, problem=problem):
            terms[aim].append(missed)
    return [sum(of) for of in terms if of]


def _misses(
    model: Any,
    items: Sequence[_LessonItem],
    pick: Mapping[tuple[int, int], Any],
    placed: Sequence[Any],
    *,
    want: DueStandard,
    problem: LessonProblem,
) -> Iterator[tuple[int, Any]]:
    """Yield (aim, 1 if this standard misses it) for one required standard."""
    fixed = {p.key: p for p in problem.fixed}
    groups: dict[str, list[Any]] = {"on time": [], "full": [], "some": []}
    for i, item in enumerate(items):
        if want.standard in item.strong:
            groups["full"].append(placed[i])
            groups["on time"] += [
                pick[i, o]
                for o, option in enumerate(item.options)
                if want.by is None or option.end <= want.by
            ]
        if want.standard in item.strong | item.partial:
            groups["some"].append(placed[i])
    for lesson in problem.lessons:
        kept = fixed.get(lesson.treatment)
        if kept and want.standard in lesson.strong:
            groups["full"].append(1)
            groups["on time"].append(int(want.by is None or kept.end <= want.by))
        if kept and want.standard in lesson.strong | lesson.partial:
            groups["some"].append(1)
    for name, aims in (
        ("on time", (1, 2) if want.priority else (2,)),
        ("full", (3,)),
        ("some", (4,)),
    ):
        missed = model.new_bool_var(f"{want.standard} not {name}")
        model.add(missed + sum(groups[name]) >= 1)
        for aim in aims:
            yield aim, missed


class _Room:
    """Minutes left in each slot."""

    def __init__(self, slots: Sequence[Slot]):
        self._left = {slot.number: slot.minutes for slot in slots}

    def fits(self, option: _Option) -> bool:
        return all(self._left[part.meeting] >= part.minutes for part in option.parts)

    def freshest(self, item: _LessonItem) -> _Option | None:
        fitting = filter(self.fits, item.options)
        return min(fitting, key=lambda o: (o.cost, o.parts[0].meeting), default=None)

    def earliest(self, item: _LessonItem) -> _Option | None:
        return next(filter(self.fits, item.options), None)

    def take(self, option: _Option) -> None:
        for part in option.parts:
            self._left[part.meeting] -= part.minutes


def _greedy(items: Sequence[_LessonItem], problem: LessonProblem) -> _Chosen:
    """Musts by deadline, then whatever improves the aims most, in its freshest or first slot."""
    room = _Room(problem.slots)
    chosen: dict[str, _Option] = {}
    for item in sorted(
        (i for i in items if i.must), key=lambda i: (i.kind, i.options[-1].first_use)
    ):
        option = room.freshest(item)
        if option:
            chosen[item.key] = option
            room.take(option)
    while True:
        now = score(problem, _placements(items, chosen, problem))[:5]
        trials = [
            (score(problem, _placements(items, {**chosen, item.key: option}, problem)), i, option)
            for i, item in enumerate(items)
            if item.key not in chosen
            for option in (room.freshest(item), room.earliest(item))
            if option is not None
        ]
        better = [trial for trial in trials if trial[0][:5] < now]
        if not better:
            return chosen
        _, i, option = min(better, key=lambda trial: trial[:2])
        chosen[items[i].key] = option
        room.take(option)


# --- the result ----------------------------------------------------------------------------------


def _placements(
    items: Sequence[_LessonItem], chosen: _Chosen, problem: LessonProblem
) -> tuple[Placement, ...]:
    due = {r.standard for r in problem.required}
    placed = []
    for item in items:
        option = chosen.get(item.key)
        if option:
            strong, partial = tuple(sorted(item.strong & due)), tuple(sorted(item.partial & due))
            placed.append(
                Placement(
                    key=item.key,
                    kind=item.kind,
                    title=item.title,
                    parts=option.parts,
                    end=option.end,
                    step=option.step,
                    first_use=option.first_use,
                    covers=strong,
                    covers_in_part=partial,
                    reason=_reason(option, strong, partial),
                )
            )
    return tuple(sorted(placed, key=lambda p: (p.parts[0].meeting, p.kind, p.key)))


def _reason(option: _Option, strong: Sequence[str], partial: Sequence[str]) -> str:
    if option.step is None:
        return f"Before its station is first used, in meeting {option.first_use}."
    parts = [f"Before step {option.step} begins in meeting {option.first_use}"]
    if strong:
        parts.append(f"covers {', '.join(strong)}")
    if partial:
        parts.append(f"in part {', '.join(partial)}")
    return "; ".join(parts) + "."


def _result(
    items: Sequence[_LessonItem], chosen: _Chosen, status: LessonStatus, problem: LessonProblem
) -> LessonPlan:
    placed = _placements(items, chosen, problem)
    everything = sorted(
        (*problem.fixed, *placed), key=lambda p: (p.parts[0].meeting, p.kind, p.key)
    )
    keys = {p.key: p for p in everything}
    uncovered = [
        short for want in problem.required if (short := _shortfall(want, keys, problem)) is not None
    ]
    uncovered.sort(key=lambda s: (not s.priority, s.key))
    unplaced = [_unplaced_briefing(b, problem) for b in problem.briefings if b.permit not in keys]
    unplaced += [_unplaced_lesson(key, problem) for key in sorted(problem.wanted - set(keys))]
    return LessonPlan(
        placements=tuple(everything),
        uncovered=tuple(uncovered),
        unplaced=tuple(unplaced),
        status=status,
        minutes=sum(p.minutes for p in placed),
    )


def _shortfall(
    want: DueStandard, placed: Mapping[str, Placement], problem: LessonProblem
) -> Shortfall | None:
    full = [x for x in problem.lessons if want.standard in x.strong]
    ends = [placed[x.treatment].end for x in full if x.treatment in placed]
    if any(want.by is None or end <= want.by for end in ends):
        return None
    partly = [x for x in problem.lessons if want.standard in x.partial]
    in_part = any(x.treatment in placed for x in (*full, *partly))
    why, sentence = _why(want, full, partly, problem)
    if ends:
        why = Why.TOO_LATE
        due = short_date(want.by) if want.by is not None else ""
        sentence = f"It is covered on {short_date(min(ends))}, after its date of {due}. {sentence}"
    elif in_part:
        sentence += " It is covered in part."
    return Shortfall(want.standard, why, f"{want.standard}: {sentence}", want.priority, in_part)


def _why(
    want: DueStandard,
    full: Sequence[PlannedLesson],
    partly: Sequence[PlannedLesson],
    problem: LessonProblem,
) -> tuple[Why, str]:
    if not full and not partly:
        return Why.NO_LESSON, "No lesson for this grade band is aligned to it."
    if not full:
        return Why.PARTIAL_ONLY, "Lessons are aligned to it only in part."
    names = ", ".join(x.title or x.concept for x in full)
    uses = [problem.first_use[s] for x in full for s in x.steps if s in problem.first_use]
    if not uses:
        return Why.NOT_SHOWN, f"No step of this plan shows what its lessons need ({names})."
    options = [option for x in full for option in _lesson_options(x, problem)]
    if not options:
        return Why.NO_SLOT, (
            f"No lesson slot of enough minutes lies in the {problem.meetings_before} meetings "
            f"before its step begins in meeting {min(uses)} ({names})."
        )
    if want.by is not None and all(option.end > want.by for option in options):
        return Why.TOO_LATE, (
            f"The first slot that would do is on {short_date(min(o.end for o in options))}, and it "
            f"is due by {short_date(want.by)}: its step begins in meeting {min(uses)} ({names})."
        )
    return Why.NO_ROOM, f"The slots that would do are taken by other lessons ({names})."


def _unplaced_briefing(briefing: BriefingLesson, problem: LessonProblem) -> Shortfall:
    name = briefing.title or briefing.permit
    if _briefing_options(briefing, problem):
        why, says = Why.NO_ROOM, "the slots before then are taken"
    else:
        why, says = Why.NO_SLOT, f"no slot before then holds its {briefing.minutes} min"
    return Shortfall(
        briefing.permit,
        why,
        f"The briefing “{name}” is not placed before its station is first used in meeting "
        f"{briefing.first_use}: {says}.",
        priority=True,
    )


def _unplaced_lesson(key: str, problem: LessonProblem) -> Shortfall:
    lesson = next((x for x in problem.lessons if x.treatment == key), None)
    if lesson is None:
        return Shortfall(key, Why.NO_LESSON, f"There is no lesson {key} to be taught.")
    name = lesson.title or lesson.concept
    if not any(s in problem.first_use for s in lesson.steps):
        return Shortfall(key, Why.NOT_SHOWN, f"{name}: no step of this plan shows it.")
    if not _lesson_options(lesson, problem):
        return Shortfall(key, Why.NO_SLOT, f"{name}: no slot of enough minutes before its step.")
    return Shortfall(key, Why.NO_ROOM, f"{name}: the slots before its step are taken.")


# --- what is wrong with the input ----------------------------------------------------------------


def problems(problem: LessonProblem) -> tuple[str, ...]:
    """Return what keeps this input from being planned, each as a sentence."""
    found = []
    for what, keys in (
        ("lesson", [x.treatment for x in problem.lessons]),
        ("briefing", [b.permit for b in problem.briefings]),
        ("lesson slot in meeting", [str(s.number) for s in problem.slots]),
        ("required standard", [r.standard for r in problem.required]),
    ):
        found += [f"The {what} {key} is given twice: keep one." for key in _twice(keys)]
    for name, minutes in itertools.chain(
        ((x.treatment, x.minutes) for x in problem.lessons),
        ((b.permit, b.minutes) for b in problem.briefings),
    ):
        if minutes <= 0:
            found.append(f"{name} takes {minutes} minutes: give 1 or more.")
    found += [
        f"The lesson slot in meeting {s.number} has {s.minutes} minutes: give 0 or more."
        for s in problem.slots
        if s.minutes < 0
    ]
    if problem.meetings_before < 0:
        found.append("The number of meetings a lesson may come earlier must be 0 or more.")
    return tuple(found)


def _twice(keys: Collection[str]) -> list[str]:
    seen: set[str] = set()
    return sorted({k for k in keys if k in seen or seen.add(k)})  # type: ignore[func-returns-value]
