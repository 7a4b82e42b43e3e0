"""One class day: who is where, what is ready, what air the coats need, who may be at a station.

Everything for a meeting comes in a fixed number of queries, whatever the roster.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.cautions import HAZARDOUS
from app.domain.classroom import drying_air
from app.models import (
    Exposure,
    Meeting,
    MeetingState,
    PermitType,
    Phase,
    Plan,
    ProductLabel,
    RoomAir,
    Section,
    Step,
    Student,
    Team,
)
from app.store.classroom import bench_work, evidence, sign_offs
from app.store.paper import papers
from app.store.plan import plan_days


@dataclass
class Bench:
    """A team at a step: who of it is here, what is on record, who is not signed off."""

    team_id: int
    team: str
    step: Step
    station: str
    minutes: int
    part: int
    parts: int
    here: list[Student]
    away: list[Student]
    lacking: list[str]
    refusal: str
    waits: str = ""
    records: list[bench_work.Record] = field(default_factory=list)
    starts: dt.time | None = None
    late: dt.date | None = None

    @property
    def done(self) -> bench_work.Record | None:
        """The record that the step is done."""
        return next((row for row in self.records if row.event == "done"), None)

    @property
    def anchor(self) -> str:
        """The id of this team's form on the page."""
        return f"t{self.team_id}-{self.step.id}"

    @property
    def hazardous(self) -> bool:
        """Whether the step carries cautions."""
        return self.step.hazard_class in HAZARDOUS


@dataclass(frozen=True)
class DryingNow:
    """Work that came out of hand and needs time: from when it is ready."""

    team: str
    step: str
    title: str
    ready: dt.datetime
    what: str


@dataclass(frozen=True)
class Coat:
    """A coat due today: which team, and whether the coat before it is dry by then."""

    team: str
    title: str
    station: str
    ready: dt.datetime | None
    dry: bool


@dataclass(frozen=True)
class ClassDay:
    """A meeting as the adult in the room needs it."""

    meeting: Meeting
    benches: list[Bench]
    left_open: list[Bench]
    away: set[str]
    away_last: set[str]
    last: plan_days.PlanDay | None
    ready: list[DryingNow]
    drying: list[DryingNow]
    coats: list[Coat]
    air: RoomAir | None
    labels: dict[str, ProductLabel]
    verdicts: dict[str, drying_air.DryingVerdict]
    students: list[Student]


def class_day(
    session: Session, section: Section, meeting: Meeting, facts: papers.Facts
) -> ClassDay:
    """Everything about one meeting of a plan; `facts` are those of this meeting's paper."""
    return _Day(session, section, meeting, facts).build()


class _Day:
    def __init__(
        self,
        session: Session,
        section: Section,
        meeting: Meeting,
        facts: papers.Facts,
    ) -> None:
        self.session, self.section, self.meeting = session, section, meeting
        self.facts, self.done, self.days = facts, facts.done, facts.days
        self.today = facts.activities[meeting.id]
        shown = {(row.team_id, row.step_id) for row in self.today}
        self.open = [row for row in facts.open if (row.team_id, row.step_id) not in shown]
        work = [*self.today, *self.open]
        self.records = bench_work.progress_of(
            session, section, only={(row.team_id, row.step_id) for row in work}
        )
        self.last = self._last_taught()
        absent = evidence.absences(session, [meeting.id, *([self.last.id] if self.last else [])])
        self.away = absent.get(meeting.id, set())
        self.away_last = absent.get(self.last.id, set()) if self.last else set()
        self.states, self.titles = permit_states(
            session, section, facts.work_steps.values(), meeting.date, facts.permits
        )
        self.students = [s for s in section.students if s.enrolled(meeting.date)]
        self.members: dict[int, list[Student]] = defaultdict(list)
        for student in self.students:
            self.members[student.team_id or 0].append(student)
        self.start = meeting.start
        self.by_key = {row.key: row for row in facts.steps.values()}

    def build(self) -> ClassDay:
        benches = [self._bench(row) for row in self.today]
        ready, drying = self._drying()
        air = evidence.air_of(self.session, self.meeting)
        coats = {bench.step.station for bench in benches if is_coat(bench.step)}
        labels = evidence.labels_of(self.session, self.section) if coats else {}
        verdicts = {
            station: drying_air.judge(
                air.temperature_c if air else None,
                air.humidity_percent if air else None,
                label_value(labels.get(station)),
            )
            for station in coats
        }
        return ClassDay(
            meeting=self.meeting,
            benches=benches,
            left_open=self._left_open(),
            away=self.away,
            away_last=self.away_last,
            last=self.last,
            ready=ready,
            drying=drying,
            coats=self._coats(benches, labels, verdicts),
            air=air,
            labels=labels,
            verdicts=verdicts,
            students=self.students,
        )

    def _bench(self, row: plan_days.Placed, late: dt.date | None = None) -> Bench:
        step, members = self.facts.work_steps[row.step_id], self.members[row.team_id]
        here = [student for student in members if student.code not in self.away]
        return Bench(
            team_id=row.team_id,
            team=row.team,
            step=step,
            station=self.facts.stations.get(step.station, step.station),
            minutes=row.minutes,
            part=row.part,
            parts=row.parts,
            here=here,
            away=[student for student in members if student.code in self.away],
            lacking=lacking(here, step, self.states, self.titles),
            refusal=refusal(row.team, here, step, self.states, self.titles),
            waits=waiting(self.section, row.team_id, step, self.by_key, self.done),
            records=self.records.get((row.team_id, step.id), []),
            starts=(self.start + dt.timedelta(minutes=row.first_minute)).time()
            if late is None
            else None,
            late=late,
        )

    def _last_taught(self) -> plan_days.PlanDay | None:
        before = [day for day in self.days if day.date < self.meeting.date]
        return next((day for day in reversed(before) if day.state is MeetingState.TAUGHT), None)

    def _left_open(self) -> list[Bench]:
        """Steps whose last part was planned in a taught or lost meeting and that nobody recorded."""
        found = {
            (row.team_id, row.step_id): self._bench(row, late=row.date)
            for row in reversed(self.open)
        }
        return sorted(found.values(), key=lambda item: (item.team, item.step.position))

    def _drying(self) -> tuple[list[DryingNow], list[DryingNow]]:
        """What became ready since the meeting before, and what is still drying."""
        before = [day for day in plan_days.held(self.days) if day.date < self.meeting.date]
        since = before[-1].start if before else self.start
        ready, drying = [], []
        for end, out_of_hand in self.facts.out_of_hand:
            step = self.facts.steps[end.step_id]
            dries = step.drying or {}
            hours = dt.timedelta(hours=dries["hours"]["typical"])
            item = DryingNow(end.team, step.key, step.title, out_of_hand + hours, dries["what"])
            if since < item.ready <= self.start:
                ready.append(item)
            elif out_of_hand < self.start < item.ready:
                drying.append(item)
        return ready, drying

    def _coats(
        self,
        benches: Sequence[Bench],
        labels: dict[str, ProductLabel],
        verdicts: dict[str, drying_air.DryingVerdict],
    ) -> list[Coat]:
        steps = self.facts.steps
        ends = {
            (end.team_id, steps[end.step_id].key): moment for end, moment in self.facts.out_of_hand
        }
        found = []
        for bench in benches:
            step = bench.step
            if not is_coat(step) or bench.done is not None:
                continue
            label = label_value(labels.get(step.station))
            moments = [
                drying_air.ready_at(
                    ends[bench.team_id, key],
                    (self.by_key[key].drying or {})["hours"]["typical"],
                    verdicts[step.station],
                    label,
                )
                for key in step.after
                if (bench.team_id, key) in ends and is_coat(self.by_key[key])
            ]
            ready = max(moments, default=None)
            found.append(
                Coat(
                    bench.team,
                    f"{step.key} {step.title}",
                    step.station,
                    ready,
                    ready is None or ready <= self.start,
                )
            )
        return found


def is_coat(step: Step | plan_days.StepRow) -> bool:
    """A step that leaves a wet film: it dries, its hazard is the product, and it goes on a rack."""
    racked = any(hold["fixture"] == "rack" for hold in step.holds)
    return bool(step.drying) and step.hazard_class == "chemical" and racked


def label_value(row: ProductLabel | None) -> drying_air.DryingLabel:
    """A stored label as the rule's value."""
    if row is None:
        return drying_air.DryingLabel()
    return drying_air.DryingLabel(
        row.lowest_temperature_c,
        row.highest_temperature_c,
        row.highest_humidity_percent,
        row.recoat_hours,
        row.product,
    )


States = dict[str, dict[str, sign_offs.SignOffState]]


def lacking(
    here: Sequence[Student], step: Step, states: States, titles: dict[str, str]
) -> list[str]:
    """Who of those present is not signed off for a step's station, in sentences."""
    permit = step.asked_permit
    if not permit:
        return []
    found = []
    for student in here:
        state = states.get(student.code, {}).get(permit, sign_offs.NOTHING)
        if not state.signed_off:
            title = titles.get(permit, permit)
            found.append(f"{student.code} is not signed off for {title}: {state.why_not}")
    return found


def refusal(
    team: str, here: Sequence[Student], step: Step, states: States, titles: dict[str, str]
) -> str:
    """Why a team may not work at a step's station today, in a sentence; empty if it may."""
    permit = step.asked_permit
    if not permit:
        return ""
    title = titles.get(permit, permit)
    if not here:
        return f"Nobody of {team} is here today."
    if len(lacking(here, step, states, titles)) == len(here):
        return f"Nobody present in {team} is signed off for {title}."
    return ""


_OTHERS = (
    sa.select(Section.key, Section.title)
    .join(Meeting, Meeting.section_id == Section.id)
    .where(
        Section.teacher_id == sa.bindparam("teacher"),
        Section.id != sa.bindparam("section"),
        Meeting.date == sa.bindparam("date"),
        Meeting.state != MeetingState.LOST,
    )
    .distinct()
    .order_by(Section.title)
)


def meeting_on(session: Session, section: Section, date: dt.date) -> list[tuple[str, str]]:
    """Key and title of the teacher's other sections that meet on a day, by title."""
    given = {"teacher": section.teacher_id, "section": section.id, "date": date}
    return [(key, title) for key, title in session.execute(_OTHERS, given)]


def waiting(
    section: Section,
    team_id: int,
    step: Step,
    steps: Mapping[str, plan_days.StepRow],
    done: Container[tuple[int, int]],
) -> str:
    """Which hold point right before a step is not initialled yet, in a sentence; empty if none."""
    for before in (steps[key] for key in step.after if key in steps):
        if not before.hold_point:
            continue
        made = before.outside_class or before.key in section.ready_made
        if not made and (team_id, before.id) not in done:
            return (
                f"{before.key} {before.title} ends at a hold point that is not initialled yet; "
                "record it first."
            )
    return ""


def waiting_for(session: Session, section: Section, team: Team, step: Step) -> str:
    """The same, read from the records of one team."""
    if not step.after:
        return ""
    rows = plan_days.list_step_rows(session, section, keys=step.after)
    steps = {row.key: row for row in rows.values()}
    return waiting(section, team.id, step, steps, plan_days.done_in(session, section))


def permit_states(
    session: Session,
    section: Section,
    steps: Iterable[Step],
    on: dt.date,
    kinds: Mapping[str, PermitType] | None = None,
) -> tuple[States, dict[str, str]]:
    """Who is signed off for the stations of these steps on a date, and what the permits are called."""
    needed = {step.asked_permit for step in steps if step.asked_permit}
    if not needed:
        return {}, {}
    if kinds is None:
        kinds = sign_offs.permits_of(session, section)
    asked = {permit: kinds.get(permit) for permit in needed}
    states = sign_offs.sign_off_states(session, section, on=on, asked=asked)
    return states, {key: kind.title for key, kind in kinds.items()}


def station_refusal(
    session: Session, section: Section, team: Team, step: Step, meeting: Meeting
) -> str:
    """The same for one team and one step, at the moment of recording."""
    if not step.asked_permit:
        return ""
    states, titles = permit_states(session, section, [step], meeting.date)
    away = evidence.absent_codes(session, meeting)
    on = {student.id for student in section.students if student.enrolled(meeting.date)}
    here = [s for s in team.students if s.id in on and s.code not in away]
    return refusal(team.code, here, step, states, titles)


def concepts_shown(session: Session, section: Section, concepts: Iterable[int]) -> set[int]:
    """Those of the concepts that a step of the section's build shows."""
    query = (
        sa.select(Exposure.concept_id)
        .join(Step)
        .join(Phase)
        .where(Phase.build_id == section.build_id, Exposure.concept_id.in_(list(concepts)))
    )
    return set(session.scalars(query))


def taught_paper(day_steps: Iterable[Step], steps: Iterable[Step], concept_id: int) -> str:
    """The phase whose worksheet goes with a lesson: at today's steps first, else the first."""
    for step in (*day_steps, *steps):
        if any(exposure.concept_id == concept_id for exposure in step.exposures):
            return step.phase.key
    return ""


def spread_minutes(
    session: Session, section: Section, plan: Plan
) -> tuple[dict[int, float], plan_days.PlanDay | None]:
    """Minutes of work each team is ahead of (positive) or behind a plan, at typical minutes.

    The plan asks for every step whose last part lies in a meeting recorded as taught.
    """
    days = plan_days.list_days(session, section)
    taught = [day for day in days if day.state is MeetingState.TAUGHT]
    if not taught:
        return {}, None
    typical = _typical_minutes(session, section)
    by_then = {day.id for day in days if day.date <= taught[-1].date}
    asked: dict[int, set[int]] = defaultdict(set)
    for end in plan_days.list_ends(session, plan, typical):
        if end.meeting_id in by_then:
            asked[end.team_id].add(end.step_id)
    done: dict[int, set[int]] = defaultdict(set)
    for team_id, step_id in plan_days.done_in(session, section):
        done[team_id].add(step_id)
    teams = session.scalars(sa.select(Team.id).where(Team.section_id == section.id))
    found = {
        team_id: sum(typical.get(s, 0.0) for s in done[team_id] - asked[team_id])
        - sum(typical.get(s, 0.0) for s in asked[team_id] - done[team_id])
        for team_id in teams
    }
    return found, taught[-1]


def _typical_minutes(session: Session, section: Section) -> dict[int, float]:
    query = sa.select(Step.id, Step.minutes_typical).join(Phase)
    return dict(session.execute(query.where(Phase.build_id == section.build_id)).all())
