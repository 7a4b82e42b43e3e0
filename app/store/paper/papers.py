"""The facts that papers are made of: what a plan says of a week, joined with the library."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.cautions import HAZARDOUS, PROTECTION, SUPERVISION
from app.domain.papers.class_plan import (
    MeetingPlan,
    PlannedLesson,
    ShownPlan,
    StepHazard,
    WeekPlan,
    Work,
)
from app.models import (
    Alignment,
    Framework,
    Lesson,
    Meeting,
    MeetingState,
    Plan,
    Section,
    Standard,
    Station,
    Step,
    Treatment,
)
from app.store import library, sections
from app.store.classroom import sign_offs
from app.store.plan import plan_days

# Work out of hand longer than this is dry, in cold and damp air too (common practice, no source).
LONGEST_DRYING = dt.timedelta(days=28)


def week_plan(session: Session, section: Section, plan: Plan, week: int) -> WeekPlan:
    """A plan's week in a fixed number of queries; meetings come in the order of dates."""
    meetings = [m for m in sections.list_meetings(session, section) if m.week == week]
    return _weeks(session, section, plan, meetings, week)


def day_plan(session: Session, section: Section, plan: Plan, *meetings: Meeting) -> WeekPlan:
    """The plan of one meeting, or of all meetings of a day."""
    return _weeks(session, section, plan, meetings, meetings[0].week)


def term_plan(session: Session, section: Section, plan: Plan) -> WeekPlan:
    """The plan of every meeting of the term."""
    return _weeks(session, section, plan, sections.list_meetings(session, section), 0)


def _weeks(
    session: Session, section: Section, plan: Plan, meetings: Sequence[Meeting], week: int
) -> WeekPlan:
    facts = Facts(session, section, plan, meetings)
    planned = tuple(facts.meeting(meeting) for meeting in meetings)
    return WeekPlan(
        section=section.title,
        week=week,
        build=section.build.title,
        # Known only when every meeting has said which codes it shows.
        notices=tuple(sorted(facts.notices)),
        meetings=planned,
    )


class Facts:
    """Everything the papers of these meetings need, loaded once: only what stands in them.

    `exposures` says whether they tell what the work shows; with `open_before` the work that nobody
    recorded until that day is at hand too.
    """

    def __init__(
        self,
        session: Session,
        section: Section,
        plan: Plan,
        meetings: Sequence[Meeting],
        days: Sequence[plan_days.PlanDay] | None = None,
        *,
        exposures: bool = True,
        open_before: dt.date | None = None,
    ) -> None:
        ids = [meeting.id for meeting in meetings]
        self.days = plan_days.list_days(session, section) if days is None else days
        self.activities: dict[int, list[plan_days.Placed]] = {number: [] for number in ids}
        self.open: list[plan_days.Placed] = []
        work = plan_days.list_work(session, plan, ids, open_before)
        for row in work:
            self.activities.get(row.meeting_id, self.open).append(row)
        self.work_steps = plan_days.find_steps(session, {row.step_id for row in work})
        self.lessons: dict[int, list[Lesson]] = defaultdict(list)
        for lesson in plan_days.list_lessons(session, plan, ids):
            self.lessons[lesson.meeting_id].append(lesson)
        at_work = {row.step_id for rows in self.activities.values() for row in rows}
        self.shown = plan_days.list_shown(session, at_work) if exposures else {}
        self.used = plan_days.list_used(session, at_work)
        self.steps = plan_days.list_step_rows(session, section)
        self.aligned = _Aligned(session, section, self.lessons, self.shown)
        self.stations = station_titles(session, section)
        self.permits = sign_offs.permits_of(session, section)
        dates = [meeting.date for meeting in meetings]
        between = (min(dates) - LONGEST_DRYING, max(dates)) if dates else None
        drying = plan_days.drying_steps(self.steps)
        ends = plan_days.list_ends(session, plan, drying, between)
        before = {key for step in self.work_steps.values() for key in step.after}
        asked = {number for number, row in self.steps.items() if row.key in before}
        asked |= self.work_steps.keys() | {end.step_id for end in ends}
        self.done = plan_days.done_in(session, section, asked)
        self.out_of_hand = list(plan_days.out_of_hand(ends, self.days, self.done))
        self.notices: set[str] = set()

    def meeting(self, row: Meeting) -> MeetingPlan:
        """One of the meetings."""
        work = self.activities[row.id]
        steps = [self.work_steps[number] for number in dict.fromkeys(w.step_id for w in work)]
        lost = row.state is MeetingState.LOST
        return MeetingPlan(
            number=row.number,
            date=row.date,
            starts_at=row.starts_at,
            minutes=row.minutes,
            work_minutes=row.work_minutes,
            kind=row.kind,
            label=sections.why_lost(row) if lost else row.note or row.label,
            lost=lost,
            power=row.machine_power,
            lessons=tuple(self._lesson(item) for item in self.lessons[row.id] if item.treatment),
            briefings=tuple(
                f"{self._permit(item.permit)} ({item.minutes} min)"
                for item in self.lessons[row.id]
                if item.permit
            ),
            work=tuple(self._work(group) for group in _grouped(work)),
            shown=tuple(self._shown(steps)),
            materials=tuple(_materials(work, self.used)),
            tools=tuple(dict.fromkeys(tool for step in steps for tool in step.tools)),
            checks=tuple(_checks(steps)),
            hazards=tuple(hazard_of(step) for step in steps if step.hazard_class in HAZARDOUS),
            test_minutes=row.test_minutes,
            coming_out=tuple(self._coming_out(row)),
        )

    def _permit(self, key: str) -> str:
        return self.permits[key].title if key in self.permits else key

    def _codes(self, treatment_id: int | None) -> tuple[str, ...]:
        found = self.aligned.codes.get(treatment_id or 0, ())
        self.notices |= {notice for _code, notice in found}
        # Two frameworks may have the same code.
        return tuple(dict.fromkeys(code for code, _notice in found))

    def _lesson(self, lesson: Lesson) -> PlannedLesson:
        treatment = self.aligned.treatment(lesson)
        return PlannedLesson(
            title=lesson.title,
            minutes=lesson.minutes,
            concept=treatment.concept.title,
            goal=treatment.goal,
            codes=self._codes(treatment.id),
            demonstration=treatment.demonstration,
            support=treatment.support,
            extension=treatment.extension,
        )

    def _work(self, group: list[plan_days.Placed]) -> Work:
        first = group[0]
        step = self.work_steps[first.step_id]
        finished = all((row.team_id, row.step_id) in self.done for row in group)
        part = f"part {first.part} of {first.parts}" if first.parts > 1 else ""
        return Work(
            step=step.key,
            title=step.title,
            station=self.stations.get(step.station, step.station),
            teams=tuple(row.team for row in group),
            minutes=f"{first.minutes}",
            state="done" if finished and first.part == first.parts else part,
            starts=(first.start + dt.timedelta(minutes=first.first_minute)).time(),
        )

    def _shown(self, steps: Iterable[Step]) -> Iterable[ShownPlan]:
        for step in steps:
            for item in self.shown.get(step.id, ()):
                yield ShownPlan(
                    step=step.key,
                    concept=item.concept,
                    shows=item.shows,
                    reading=item.reading,
                    codes=self._codes(self.aligned.seen.get(item.concept_id)),
                )

    def _coming_out(self, row: Meeting) -> Iterable[str]:
        """What is dry by the bell and was not when the class met before."""
        start = row.start
        held = (day.start for day in plan_days.held(self.days))
        before = max((moment for moment in held if moment < start), default=start)
        found: dict[str, list[str]] = defaultdict(list)
        for end, moment in self.out_of_hand:
            step = self.steps[end.step_id]
            ready = moment + dt.timedelta(hours=(step.drying or {})["hours"]["typical"])
            if before < ready <= start:
                found[step.title].append(end.team)
        for title, teams in found.items():
            yield f"{title}: {', '.join(teams)}"


class _Aligned:
    """The treatments that a school sees of the concepts in these meetings, and their codes."""

    def __init__(
        self,
        session: Session,
        section: Section,
        lessons: Mapping[int, Sequence[Lesson]],
        shown: Mapping[int, Sequence[plan_days.ShownConcept]],
    ) -> None:
        school_id = section.course.department.school_id
        taught = [row.treatment for rows in lessons.values() for row in rows if row.treatment]
        concepts = {treatment.concept_id for treatment in taught}
        concepts |= {item.concept_id for items in shown.values() for item in items}
        self.seen: dict[int, int] = {}
        self.codes: dict[int, list[tuple[str, str]]] = {}
        if not concepts:
            return
        self.seen = _treatments_seen(session, section.band, school_id, concepts)
        self._held = {treatment.id: treatment for treatment in taught}
        own = {self.seen[t.concept_id] for t in taught if t.concept_id in self.seen}
        if own - self._held.keys():
            query = sa.select(Treatment).where(Treatment.id.in_(own))
            rows = session.scalars(query.options(joinedload(Treatment.concept)))
            self._held |= {row.id: row for row in rows}
        self.codes = _codes_of(session, school_id, {*self.seen.values(), *self._held})

    def treatment(self, lesson: Lesson) -> Treatment:
        """What is taught: the school's own treatment where it has one."""
        assert lesson.treatment is not None  # noqa: S101 - the caller has looked
        seen = self.seen.get(lesson.treatment.concept_id, lesson.treatment.id)
        return self._held[seen]


def _treatments_seen(
    session: Session, band: str, school_id: int, concepts: Iterable[int]
) -> dict[int, int]:
    """Concept → the treatment at a grade band that a school sees: its own before the shipped."""
    query = (
        sa.select(Treatment.concept_id, Treatment.id)
        .where(
            Treatment.band == band,
            Treatment.concept_id.in_(list(concepts)),
            library.shared_or_own(Treatment.school_id, school_id),
        )
        .order_by(Treatment.school_id.is_not(None), Treatment.id)
    )
    return dict(session.execute(query).all())


def _codes_of(
    session: Session, school_id: int, treatments: Iterable[int]
) -> dict[int, list[tuple[str, str]]]:
    """Treatment → (code, owner's notice) of each content standard; in brackets if in part."""
    columns = (Alignment.treatment_id, Alignment.strength, Standard.code, Framework.notice)
    query = (
        sa.select(*columns)
        .join(Alignment.standard)
        .join(Standard.framework)
        .where(
            Alignment.treatment_id.in_(list(treatments)),
            Alignment.practice.is_(False),
            library.holding(school_id),
        )
        .order_by(Alignment.school_id.is_not(None), Alignment.id)
    )
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for treatment, strength, code, notice in session.execute(query):
        found[treatment].append((code if strength == "strong" else f"({code})", notice))
    return found


_STATIONS = sa.select(Station.key, Station.title).where(Station.room_id == sa.bindparam("room"))


def station_titles(session: Session, section: Section) -> dict[str, str]:
    """The stations of the section's room, key to title."""
    return dict(session.execute(_STATIONS, {"room": section.room_id}).all())


def _grouped(rows: Iterable[plan_days.Placed]) -> list[list[plan_days.Placed]]:
    """Teams at the same step at the same time stand in one row."""
    groups: dict[tuple[int, ...], list[plan_days.Placed]] = defaultdict(list)
    for row in rows:
        groups[row.step_id, row.first_minute, row.minutes, row.part, row.parts].append(row)
    return sorted(groups.values(), key=lambda group: (group[0].first_minute, group[0].team))


def _materials(
    rows: Sequence[plan_days.Placed], used: Mapping[int, Sequence[plan_days.Used]]
) -> Iterable[str]:
    """What is used when steps begin, added up over steps and teams."""
    amounts: dict[tuple[str, str], float] = defaultdict(float)
    teams: dict[tuple[str, str], set[int]] = defaultdict(set)
    for row in rows:
        for item in used.get(row.step_id, ()) if row.part == 1 else ():
            key = (item.material, item.unit)
            amounts[key] += item.quantity
            teams[key].add(row.team_id)
    for (title, unit), amount in amounts.items():
        count = len(teams[title, unit])
        yield f"{title}, {amount:g} {unit} for {count} {'team' if count == 1 else 'teams'}"


def _checks(steps: Iterable[Step]) -> Iterable[str]:
    for step in steps:
        if step.check:
            hold = "Hold point: " if step.hold_point else ""
            tolerance = f", {step.check['tolerance']}" if step.check["tolerance"] else ""
            yield f"{hold}{step.check['what']}{tolerance} {step.check['unit']}".rstrip()


def hazard_of(step: Step) -> StepHazard:
    """A step's cautions as papers show them."""
    sources = [caution["source"] for caution in step.cautions]
    return StepHazard(
        step=step.key,
        title=step.title,
        hazards=tuple(caution["text"] for caution in step.cautions) or tuple(step.hazards),
        protection=tuple(PROTECTION[item] for item in step.protection),
        supervision=SUPERVISION[step.supervision],
        sources=tuple(dict.fromkeys(s for s in sources if not s.startswith("common practice"))),
    )
