"""Which standards a section introduces, practises and assesses, and what shows it.

Depth is derived from what is planned and recorded, never ticked by hand:

- introduced: a lesson on an aligned treatment is placed on a meeting;
- practised: a team has an activity whose worksheet carries an aligned question;
- assessed: an aligned question or quality check is set to be marked.

Each is *planned* until its meeting is recorded as taught; assessed becomes *taught* when a mark or
measurement exists. A partial alignment never counts as full: where a depth rests on partial
alignments alone it says so, and once a full one is planned, only full ones are counted.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from app.domain.dates import long_date

_DAYS_NAMED = 2
SMALLEST_SUBGROUP = 10  # fewer students than this could be recognised: common practice, no source


class Depth(StrEnum):
    """How deep a section goes into a standard, in order."""

    INTRODUCED = "introduced"
    PRACTISED = "practised"
    ASSESSED = "assessed"

    @property
    def letter(self) -> str:
        """I, P or A."""
        return self.value[0].upper()


class CoverageState(StrEnum):
    """Whether it has happened."""

    PLANNED = "planned"
    TAUGHT = "taught"


class MeetingState(StrEnum):
    """What became of a meeting; nothing placed on a lost meeting counts."""

    PLANNED = "planned"
    TAUGHT = "taught"
    LOST = "lost"


# --- what goes in --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AlignedStandard:
    """Treatment ↔ standard. A practice (how students work) counts only with student evidence."""

    treatment: str
    standard: str
    partial: bool = False
    practice: bool = False


@dataclass(frozen=True, slots=True)
class MeetingFact:
    """A meeting as far as coverage needs it."""

    number: int
    date: date
    week: int
    state: MeetingState = MeetingState.PLANNED


@dataclass(frozen=True, slots=True)
class LessonFact:
    """A treatment taught to the whole class. ``phase`` only if it would go with that phase."""

    treatment: str
    meeting: int
    reference: str
    phase: str | None = None


@dataclass(frozen=True, slots=True)
class ActivityFact:
    """A team's sitting on a step whose worksheet carries questions of these treatments."""

    treatments: tuple[str, ...]
    meeting: int
    team: str
    reference: str
    phase: str | None = None
    step: str | None = None


@dataclass(frozen=True, slots=True)
class AssessmentFact:
    """A question or quality check set to be marked (``done`` False), or marked for students."""

    treatment: str
    meeting: int
    reference: str
    done: bool
    students: frozenset[str] = frozenset()
    phase: str | None = None


@dataclass(frozen=True, slots=True)
class Required:
    """A standard the course answers for."""

    standard: str
    by: date | None = None
    priority: bool = False


# --- what comes out ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing that can be opened and that bears on one standard."""

    standard: str
    depth: Depth
    state: CoverageState
    partial: bool
    meeting: int
    date: date
    week: int
    treatment: str
    reference: str
    phase: str | None = None
    step: str | None = None
    students: frozenset[str] = frozenset()
    practice: bool = False  # holds only while an artifact shows students doing it


@dataclass(frozen=True, slots=True)
class DepthReached:
    """How far a depth is reached; ``first`` is the date it is first reached. None: not at all."""

    state: CoverageState | None = None
    partial: bool = False
    first: date | None = None


@dataclass(frozen=True, slots=True)
class CoverageMark:
    """One letter of a cell."""

    letter: str  # I, P or A
    state: CoverageState
    partial: bool


@dataclass(frozen=True, slots=True)
class CoverageCell:
    """A standard in a week: its letters in order I, P, A, and the evidence behind them."""

    week: int
    marks: tuple[CoverageMark, ...]
    evidence: tuple[Evidence, ...]

    @property
    def letters(self) -> str:
        """The letters alone, such as "IP"."""
        return "".join(mark.letter for mark in self.marks)


@dataclass(frozen=True, slots=True)
class Recurrence:
    """In how many meetings, spread over how many weeks."""

    meetings: int
    weeks: int


@dataclass(frozen=True, slots=True)
class CoverageShare:
    """Students with a marked artifact: fully aligned ones, and those with partial ones only."""

    full: int
    partial_only: int
    roster: int


@dataclass(frozen=True, slots=True)
class StandardCoverage:
    """One standard in one section."""

    standard: str
    required: bool
    by: date | None
    priority: bool
    depths: Mapping[Depth, DepthReached]
    cells: tuple[CoverageCell, ...]  # by week
    recurrence: Recurrence
    share: CoverageShare
    evidence: tuple[Evidence, ...]

    @property
    def introduced(self) -> CoverageState | None:
        """State of introduction."""
        return self.depths[Depth.INTRODUCED].state

    @property
    def practised(self) -> CoverageState | None:
        """State of practice."""
        return self.depths[Depth.PRACTISED].state

    @property
    def assessed(self) -> CoverageState | None:
        """State of assessment."""
        return self.depths[Depth.ASSESSED].state

    @property
    def partial(self) -> bool:
        """Whether any depth reached rests on partial alignments alone."""
        return any(reached.partial for reached in self.depths.values())


class GapCode(StrEnum):
    """Kinds of gap, the worst first."""

    ABSENT = "absent"
    NOT_INTRODUCED = "not_introduced"
    NOT_PRACTISED = "not_practised"
    NOT_ASSESSED = "not_assessed"
    LATE = "late"
    NOT_RECORDED = "not_recorded"
    PARTIAL = "partial"


@dataclass(frozen=True, slots=True)
class Gap:
    """A required standard that falls short, in a sentence."""

    standard: str
    code: GapCode
    priority: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Repeat:
    """A standard introduced by more than one lesson."""

    standard: str
    meetings: tuple[int, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class SectionCoverage:
    """Coverage of one section; standards by code, gaps with priorities and the worst first."""

    standards: Mapping[str, StandardCoverage]
    gaps: tuple[Gap, ...]
    repeats: tuple[Repeat, ...]


@dataclass(frozen=True, slots=True)
class Loss:
    """A depth of a standard that falls back if something goes."""

    standard: str
    depth: Depth
    before: DepthReached
    after: DepthReached
    sentence: str


# --- from facts to evidence ----------------------------------------------------------------------


def evidence_of(
    alignments: Iterable[AlignedStandard],
    meetings: Iterable[MeetingFact],
    lessons: Iterable[LessonFact] = (),
    activities: Iterable[ActivityFact] = (),
    assessments: Iterable[AssessmentFact] = (),
) -> tuple[Evidence, ...]:
    """Turn what is placed and recorded into evidence, ordered by standard and date.

    Raises KeyError if a fact names a meeting that is not among ``meetings``.
    """
    assessed = tuple(assessments)
    shown = {a.treatment for a in assessed if a.done and a.students}
    aligned: dict[str, list[AlignedStandard]] = defaultdict(list)
    for link in alignments:
        # "Students model with mathematics" is a claim about students: no artifact, no claim.
        if not link.practice or link.treatment in shown:
            aligned[link.treatment].append(link)
    by_number = {m.number: m for m in meetings}
    found = [
        Evidence(
            standard=link.standard,
            depth=depth,
            state=_state(depth, by_number[fact.meeting], fact),
            partial=link.partial,
            meeting=fact.meeting,
            date=by_number[fact.meeting].date,
            week=by_number[fact.meeting].week,
            treatment=treatment,
            reference=fact.reference,
            phase=fact.phase,
            step=fact.step if isinstance(fact, ActivityFact) else None,
            students=fact.students if isinstance(fact, AssessmentFact) else frozenset(),
            practice=link.practice,
        )
        for depth, treatment, fact in _placed(lessons, activities, assessed)
        for link in aligned.get(treatment, ())
        if by_number[fact.meeting].state is not MeetingState.LOST or _marked(fact)
    ]
    return tuple(sorted(found, key=_evidence_order))


_Fact = LessonFact | ActivityFact | AssessmentFact


def _placed(
    lessons: Iterable[LessonFact],
    activities: Iterable[ActivityFact],
    assessments: Iterable[AssessmentFact],
) -> Iterator[tuple[Depth, str, _Fact]]:
    for lesson in lessons:
        yield Depth.INTRODUCED, lesson.treatment, lesson
    for activity in activities:
        for treatment in activity.treatments:
            yield Depth.PRACTISED, treatment, activity
    for assessment in assessments:
        yield Depth.ASSESSED, assessment.treatment, assessment


def _marked(fact: _Fact) -> bool:
    return isinstance(fact, AssessmentFact) and fact.done


def _state(depth: Depth, meeting: MeetingFact, fact: _Fact) -> CoverageState:
    if depth is Depth.ASSESSED:
        return CoverageState.TAUGHT if _marked(fact) else CoverageState.PLANNED
    return CoverageState.TAUGHT if meeting.state is MeetingState.TAUGHT else CoverageState.PLANNED


_DEPTHS = tuple(Depth)


def _evidence_order(item: Evidence) -> tuple[str, int, int, str, str]:
    return (
        item.standard,
        item.meeting,
        _DEPTHS.index(item.depth),
        item.treatment,
        item.reference,
    )


# --- from evidence to coverage -------------------------------------------------------------------


def cover(
    required: Sequence[Required],
    evidence: Iterable[Evidence],
    roster: Collection[str],
    today: date | None = None,
) -> SectionCoverage:
    """Derive a section's coverage from its evidence.

    ``roster`` holds the codes of the students enrolled now. With ``today`` given, what was planned
    for an earlier date and never recorded is a gap too.
    """
    by_standard: dict[str, list[Evidence]] = defaultdict(list)
    for item in sorted(evidence, key=_evidence_order):
        by_standard[item.standard].append(item)
    wanted = {r.standard: r for r in required}
    enrolled = frozenset(roster)
    standards = {
        code: _standard(code, wanted.get(code), tuple(by_standard.get(code, ())), enrolled)
        for code in sorted({*wanted, *by_standard})
    }
    gaps = [gap for s in standards.values() if s.required for gap in _gaps(s, today)]
    gaps.sort(key=lambda g: (not g.priority, _GAPS.index(g.code), g.standard))
    repeats = tuple(r for s in standards.values() if (r := _repeat(s)))
    return SectionCoverage(standards, tuple(gaps), repeats)


_GAPS = tuple(GapCode)


def _standard(
    code: str, wanted: Required | None, items: tuple[Evidence, ...], roster: frozenset[str]
) -> StandardCoverage:
    weeks = sorted({e.week for e in items})
    return StandardCoverage(
        standard=code,
        required=wanted is not None,
        by=wanted.by if wanted else None,
        priority=wanted.priority if wanted else False,
        depths={depth: _reached([e for e in items if e.depth is depth]) for depth in Depth},
        cells=tuple(_cell(week, tuple(e for e in items if e.week == week)) for week in weeks),
        recurrence=Recurrence(
            meetings=len({e.meeting for e in items}),
            weeks=len(weeks),
        ),
        share=_share(items, roster),
        evidence=items,
    )


def _reached(items: Sequence[Evidence]) -> DepthReached:
    if not items:
        return DepthReached()
    counted = [e for e in items if not e.partial] or items
    taught = any(e.state is CoverageState.TAUGHT for e in counted)
    return DepthReached(
        state=CoverageState.TAUGHT if taught else CoverageState.PLANNED,
        partial=counted[0].partial,
        first=min(e.date for e in counted),
    )


def _cell(week: int, items: tuple[Evidence, ...]) -> CoverageCell:
    marks = []
    for depth in Depth:
        reached = _reached([e for e in items if e.depth is depth])
        if reached.state:
            marks.append(CoverageMark(depth.letter, reached.state, reached.partial))
    return CoverageCell(week, tuple(marks), items)


def _share(items: Iterable[Evidence], roster: frozenset[str]) -> CoverageShare:
    full: set[str] = set()
    partly: set[str] = set()
    for item in items:
        if item.depth is Depth.ASSESSED and item.state is CoverageState.TAUGHT:
            (partly if item.partial else full).update(item.students & roster)
    return CoverageShare(len(full), len(partly - full), len(roster))


def subgroup_shares(
    standard: StandardCoverage,
    groups: Mapping[str, Collection[str]],
    smallest: int = SMALLEST_SUBGROUP,
) -> Mapping[str, CoverageShare | None]:
    """Return the share for each subgroup of students; None where it is too small to show."""
    return {
        name: None if len(set(codes)) < smallest else _share(standard.evidence, frozenset(codes))
        for name, codes in groups.items()
    }


# --- gaps, repeats, losses -----------------------------------------------------------------------


_NEVER = {
    Depth.INTRODUCED: GapCode.NOT_INTRODUCED,
    Depth.PRACTISED: GapCode.NOT_PRACTISED,
    Depth.ASSESSED: GapCode.NOT_ASSESSED,
}
_GAP_SAYS = {
    GapCode.ABSENT: "is required and nothing in the plan bears on it.",
    GapCode.NOT_INTRODUCED: "is never introduced: no lesson is placed.",
    GapCode.NOT_PRACTISED: "is never practised: no worksheet asks for it.",
    GapCode.NOT_ASSESSED: "is never assessed: nothing is set to be marked.",
    GapCode.LATE: "is due by {due} and is {depths} only after that.",
    GapCode.PARTIAL: "is {depths} only in part.",
}


def gap_codes(
    depths: Mapping[Depth, DepthReached], by: date | None
) -> dict[GapCode, tuple[Depth, ...]]:
    """Say what a required standard lacks by its date, the worst first, and at which depths."""
    if all(reached.state is None for reached in depths.values()):
        return {GapCode.ABSENT: ()}
    found = {_NEVER[d]: (d,) for d in Depth if depths[d].state is None}
    firsts = {depth: depths[depth].first for depth in Depth}
    late = tuple(d for d, first in firsts.items() if by and first is not None and first > by)
    partly = tuple(depth for depth in Depth if depths[depth].partial)
    held = {GapCode.LATE: late, GapCode.PARTIAL: partly}
    return found | {code: where for code, where in held.items() if where}


def _gaps(standard: StandardCoverage, today: date | None) -> Iterator[Gap]:
    def gap(code: GapCode, says: str) -> Gap:
        return Gap(standard.standard, code, standard.priority, f"{standard.standard} {says}")

    for code, depths in gap_codes(standard.depths, standard.by).items():
        named = _listed([depth.value for depth in depths]) if depths else ""
        due = long_date(standard.by) if standard.by else ""
        yield gap(code, _GAP_SAYS[code].format(depths=named, due=due))
    if today is not None and standard.evidence:
        missed = sorted(
            {
                e.date
                for e in standard.evidence
                if e.state is CoverageState.PLANNED and e.date < today
            }
        )
        if missed:
            days = _listed([long_date(day) for day in missed[:_DAYS_NAMED]])
            if len(missed) > _DAYS_NAMED:
                days += f" and {len(missed) - _DAYS_NAMED} more"
            yield gap(GapCode.NOT_RECORDED, f"was planned for {days} and nothing is recorded.")


def _repeat(standard: StandardCoverage) -> Repeat | None:
    lessons = [e for e in standard.evidence if e.depth is Depth.INTRODUCED]
    distinct = {(e.treatment, e.reference) for e in lessons}
    if len(distinct) < 2:
        return None
    numbers = tuple(sorted(e.meeting for e in lessons))
    where = _listed([str(n) for n in numbers])
    return Repeat(
        standard.standard,
        numbers,
        f"{standard.standard} is introduced by {len(distinct)} lessons, in meetings {where}.",
    )


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def lost(
    evidence: Iterable[Evidence],
    *,
    weeks: Collection[int] = (),
    phases: Collection[str] = (),
    steps: Collection[str] = (),
) -> tuple[Loss, ...]:
    """Say which depths fall back if these weeks, phases or steps go.

    Taught becoming planned, full becoming partial, and anything becoming nothing are losses. A
    practice goes with the last artifact that shows it.
    """
    items = tuple(evidence)
    left = [
        e for e in items if e.week not in weeks and e.phase not in phases and e.step not in steps
    ]
    shown = {e.treatment for e in left if e.depth is Depth.ASSESSED and e.students}
    kept = [e for e in left if not e.practice or e.treatment in shown]
    found = []
    for code in sorted({e.standard for e in items}):
        for depth in Depth:
            before = _reached([e for e in items if e.standard == code and e.depth is depth])
            after = _reached([e for e in kept if e.standard == code and e.depth is depth])
            if (before.state, before.partial) != (after.state, after.partial):
                found.append(Loss(code, depth, before, after, _loss(code, depth, before, after)))
    return tuple(found)


def _loss(code: str, depth: Depth, before: DepthReached, after: DepthReached) -> str:
    if after.state is None:
        return f"{code} would no longer be {depth}."
    if after.partial and not before.partial:
        return f"{code} would be {depth} only in part."
    return f"{code} would be {depth} only as {after.state}, no longer as {before.state}."
