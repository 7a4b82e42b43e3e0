"""One class day: who is where, what is ready, what air the coats need, who may be at a station.

Everything for a meeting comes in a fixed number of queries, whatever the roster.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain import drying_air
from app.domain.cautions import HAZARDOUS
from app.models import (
    Activity,
    Meeting,
    MeetingState,
    Plan,
    ProductLabel,
    Progress,
    RoomAir,
    Section,
    Step,
    Student,
    Team,
)
from app.store import evidence, plans, sections, sign_offs


@dataclass
class Bench:
    """A team at a step: who of it is here, what is on record, who is not signed off."""

    team: Team
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
    records: list[Progress] = field(default_factory=list)
    starts: dt.time | None = None
    late: dt.date | None = None

    @property
    def done(self) -> Progress | None:
        """The record that the step is done."""
        return next((row for row in self.records if row.event == "done"), None)

    @property
    def anchor(self) -> str:
        """The id of this team's form on the page."""
        return f"t{self.team.id}-{self.step.id}"

    @property
    def hazardous(self) -> bool:
        """Whether the step carries cautions."""
        return self.step.hazard_class in HAZARDOUS


@dataclass(frozen=True)
class Drying:
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
    last: Meeting | None
    ready: list[Drying]
    drying: list[Drying]
    coats: list[Coat]
    air: RoomAir | None
    labels: dict[str, ProductLabel]
    verdicts: dict[str, drying_air.Verdict]
    students: list[Student]
    shown_concepts: frozenset[int]


def enrolled(section: Section, on: dt.date) -> list[Student]:
    """The students of a section on a date: entered by then and not yet gone."""
    return [
        student
        for student in section.students
        if (student.entered is None or student.entered <= on)
        and (student.left is None or student.left > on)
    ]


@dataclass(frozen=True, slots=True)
class _Row:
    """An activity without its step and team, which are loaded once for all."""

    team_id: int
    step_id: int
    meeting_id: int
    first_minute: int
    minutes: int
    part: int
    parts: int
    meeting: Meeting


def _rows(session: Session, plan: Plan, meetings: dict[int, Meeting]) -> list[_Row]:
    """A plan's activities by date and minute."""
    columns = (
        Activity.team_id,
        Activity.step_id,
        Activity.meeting_id,
        Activity.first_minute,
        Activity.minutes,
        Activity.part,
        Activity.parts,
    )
    query = sa.select(*columns).where(Activity.plan_id == plan.id).order_by(Activity.id)
    found = [_Row(*row, meetings[row.meeting_id]) for row in session.execute(query)]
    return sorted(found, key=lambda row: (row.meeting.date, row.first_minute))


def class_day(session: Session, section: Section, plan: Plan, meeting: Meeting) -> ClassDay:
    """Everything about one meeting of a plan."""
    return _Day(session, section, plan, meeting).build()


class _Day:
    def __init__(self, session: Session, section: Section, plan: Plan, meeting: Meeting) -> None:
        self.session, self.section, self.meeting = session, section, meeting
        self.teams = {team.id: team for team in sections.load_teams(session, section)}
        self.steps = {s.id: s for s in sections.load_steps(session, section.build_id)}
        self.meetings = sections.list_meetings(session, section)
        self.rows = _rows(session, plan, {m.id: m for m in self.meetings})
        self.progress = evidence.progress_of(session, section)
        self.away = evidence.absent_codes(session, meeting)
        self.states = sign_offs.sign_off_states(session, section, on=meeting.date)
        self.titles = {
            key: kind.title for key, kind in sign_offs.permits_of(session, section).items()
        }
        self.stations = {row.key: row.title for row in section.room.stations}
        self.here = {student.id for student in enrolled(section, meeting.date)}
        self.start = dt.datetime.combine(meeting.date, meeting.starts_at)

    def build(self) -> ClassDay:
        today = [row for row in self.rows if row.meeting_id == self.meeting.id]
        benches = [self._bench(row) for row in today]
        last = self._last_taught()
        ready, drying = self._drying()
        air = evidence.air_of(self.session, self.meeting)
        labels = evidence.labels_of(self.session, self.section)
        verdicts = {
            station: drying_air.judge(
                air.temperature_c if air else None,
                air.humidity_percent if air else None,
                label_value(labels.get(station)),
            )
            for station in {b.step.station for b in benches if is_coat(b.step)}
        }
        return ClassDay(
            meeting=self.meeting,
            benches=benches,
            left_open=self._left_open({(b.team.id, b.step.id) for b in benches}),
            away=self.away,
            away_last=evidence.absent_codes(self.session, last) if last else set(),
            last=last,
            ready=ready,
            drying=drying,
            coats=self._coats(benches, labels, verdicts),
            air=air,
            labels=labels,
            verdicts=verdicts,
            students=enrolled(self.section, self.meeting.date),
            shown_concepts=frozenset(
                exposure.concept_id for step in self.steps.values() for exposure in step.exposures
            ),
        )

    def _bench(self, row: _Row, late: dt.date | None = None) -> Bench:
        team, step = self.teams[row.team_id], self.steps[row.step_id]
        members = [student for student in team.students if student.id in self.here]
        here = [student for student in members if student.code not in self.away]
        return Bench(
            team=team,
            step=step,
            station=self.stations.get(step.station, step.station),
            minutes=row.minutes,
            part=row.part,
            parts=row.parts,
            here=here,
            away=[student for student in members if student.code in self.away],
            lacking=lacking(here, step, self.states, self.titles),
            refusal=refusal(team, here, step, self.states, self.titles),
            waits=waiting(self.section, team, step, self.steps.values(), self.progress),
            records=self.progress.get((team.id, step.id), []),
            starts=(self.start + dt.timedelta(minutes=row.first_minute)).time()
            if late is None
            else None,
            late=late,
        )

    def _last_taught(self) -> Meeting | None:
        before = [m for m in self.meetings if m.date < self.meeting.date]
        return next((m for m in reversed(before) if m.state is MeetingState.TAUGHT), None)

    def _left_open(self, shown: set[tuple[int, int]]) -> list[Bench]:
        """Steps whose last part was planned in a taught or lost meeting and that nobody recorded."""
        found: dict[tuple[int, int], Bench] = {}
        for row in self.rows:
            key = (row.team_id, row.step_id)
            over = row.meeting.date < self.meeting.date and row.part == row.parts
            if not over or row.meeting.state is MeetingState.PLANNED or key in shown:
                continue
            if not self._is_done(key):
                found[key] = self._bench(row, late=row.meeting.date)
        return sorted(found.values(), key=lambda item: (item.team.code, item.step.position))

    def _is_done(self, key: tuple[int, int]) -> bool:
        return any(row.event == "done" for row in self.progress.get(key, ()))

    def _finished(self) -> Iterable[tuple[Team, Step, dt.datetime]]:
        """When each drying step was, or by the plan will be, out of hand."""
        for row in self.rows:
            step = self.steps[row.step_id]
            if not step.drying or row.part != row.parts:
                continue
            key = (row.team_id, row.step_id)
            done = next((r for r in self.progress.get(key, ()) if r.event == "done"), None)
            if done is None and row.meeting.state is MeetingState.TAUGHT:
                continue
            meeting = done.meeting if done is not None else row.meeting
            minutes = row.first_minute + row.minutes
            if done is not None and done.meeting_id != row.meeting_id:
                minutes = meeting.minutes
            start = dt.datetime.combine(meeting.date, meeting.starts_at)
            yield self.teams[row.team_id], step, start + dt.timedelta(minutes=minutes)

    def _drying(self) -> tuple[list[Drying], list[Drying]]:
        """What became ready since the meeting before, and what is still drying."""
        held = [m for m in self.meetings if m.state is not MeetingState.LOST]
        before = [m for m in held if m.date < self.meeting.date]
        since = dt.datetime.combine(before[-1].date, before[-1].starts_at) if before else self.start
        ready, drying = [], []
        for team, step, out_of_hand in self._finished():
            hours = dt.timedelta(hours=(step.drying or {})["hours"]["typical"])
            item = Drying(
                team.code, step.key, step.title, out_of_hand + hours, (step.drying or {})["what"]
            )
            if since < item.ready <= self.start:
                ready.append(item)
            elif out_of_hand < self.start < item.ready:
                drying.append(item)
        return ready, drying

    def _coats(
        self,
        benches: Sequence[Bench],
        labels: dict[str, ProductLabel],
        verdicts: dict[str, drying_air.Verdict],
    ) -> list[Coat]:
        ends: dict[tuple[int, str], dt.datetime] = {
            (team.id, step.key): moment for team, step, moment in self._finished()
        }
        by_key = {step.key: step for step in self.steps.values()}
        found = []
        for bench in benches:
            step = bench.step
            if not is_coat(step) or bench.done is not None:
                continue
            label = label_value(labels.get(step.station))
            moments = [
                drying_air.ready_at(
                    ends[bench.team.id, key],
                    (by_key[key].drying or {})["hours"]["typical"],
                    verdicts[step.station],
                    label,
                )
                for key in step.after
                if (bench.team.id, key) in ends and is_coat(by_key[key])
            ]
            ready = max(moments, default=None)
            found.append(
                Coat(
                    bench.team.code,
                    f"{step.key} {step.title}",
                    step.station,
                    ready,
                    ready is None or ready <= self.start,
                )
            )
        return found


def is_coat(step: Step) -> bool:
    """A step that leaves a wet film: it dries, its hazard is the product, and it goes on a rack."""
    racked = any(hold["fixture"] == "rack" for hold in step.holds)
    return bool(step.drying) and step.hazard_class == "chemical" and racked


def label_value(row: ProductLabel | None) -> drying_air.Label:
    """A stored label as the rule's value."""
    if row is None:
        return drying_air.Label()
    return drying_air.Label(
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
    permit = step.permit
    if not permit or permit in step.grants:
        return []
    found = []
    for student in here:
        state = states.get(student.code, {}).get(permit, sign_offs.NOTHING)
        if not state.signed_off:
            title = titles.get(permit, permit)
            found.append(f"{student.code} is not signed off for {title}: {state.why_not}")
    return found


def refusal(
    team: Team, here: Sequence[Student], step: Step, states: States, titles: dict[str, str]
) -> str:
    """Why a team may not work at a step's station today, in a sentence; empty if it may."""
    permit = step.permit
    if not permit or permit in step.grants:
        return ""
    title = titles.get(permit, permit)
    if not here:
        return f"Nobody of {team.code} is here today."
    if len(lacking(here, step, states, titles)) == len(here):
        return f"Nobody present in {team.code} is signed off for {title}."
    return ""


def meeting_on(session: Session, section: Section, date: dt.date) -> list[Section]:
    """The teacher's other sections that meet on a day, by title."""
    query = (
        sa.select(Section)
        .join(Meeting, Meeting.section_id == Section.id)
        .where(
            Section.teacher_id == section.teacher_id,
            Section.id != section.id,
            Meeting.date == date,
            Meeting.state != MeetingState.LOST,
        )
        .order_by(Section.title)
    )
    return list(session.scalars(query).unique())


def waiting(
    section: Section,
    team: Team,
    step: Step,
    steps: Iterable[Step],
    progress: Mapping[tuple[int, int], list[Progress]],
) -> str:
    """Which hold point right before a step is not initialled yet, in a sentence; empty if none."""
    for before in steps:
        if before.key not in step.after or not before.hold_point:
            continue
        made = before.outside_class or before.key in section.ready_made
        done = any(row.event == "done" for row in progress.get((team.id, before.id), ()))
        if not made and not done:
            return (
                f"{before.key} {before.title} ends at a hold point that is not initialled yet; "
                "record it first."
            )
    return ""


def station_refusal(
    session: Session, section: Section, team: Team, step: Step, meeting: Meeting
) -> str:
    """The same for one team and one step, at the moment of recording."""
    permit = step.permit
    if not permit or permit in step.grants:
        return ""
    away = evidence.absent_codes(session, meeting)
    on = {student.id for student in enrolled(section, meeting.date)}
    here = [s for s in team.students if s.id in on and s.code not in away]
    states = sign_offs.sign_off_states(session, section, on=meeting.date)
    titles = {key: kind.title for key, kind in sign_offs.permits_of(session, section).items()}
    return refusal(team, here, step, states, titles)


def taught_paper(day_steps: Iterable[Step], steps: Iterable[Step], concept_id: int) -> str:
    """The phase whose worksheet goes with a lesson: at today's steps first, else the first."""
    for step in (*day_steps, *steps):
        if any(exposure.concept_id == concept_id for exposure in step.exposures):
            return step.phase.key
    return ""


def spread_minutes(
    session: Session, section: Section, plan: Plan
) -> tuple[dict[int, float], Meeting | None]:
    """Minutes of work each team is ahead of (positive) or behind a plan, at typical minutes.

    The plan asks for every step whose last part lies in a meeting recorded as taught.
    """
    taught = [m for m in sections.list_meetings(session, section) if m.state is MeetingState.TAUGHT]
    if not taught:
        return {}, None
    typical = {s.id: s.minutes_typical for s in sections.load_steps(session, section.build_id)}
    asked: dict[int, set[int]] = defaultdict(set)
    for row in plans.list_activities(session, plan, last=taught[-1].date):
        if row.part == row.parts:
            asked[row.team_id].add(row.step_id)
    done: dict[int, set[int]] = defaultdict(set)
    for (team_id, step_id), records in evidence.progress_of(session, section).items():
        if any(row.event == "done" for row in records):
            done[team_id].add(step_id)
    found = {
        team.id: sum(typical.get(s, 0.0) for s in done[team.id] - asked[team.id])
        - sum(typical.get(s, 0.0) for s in asked[team.id] - done[team.id])
        for team in sections.load_teams(session, section)
    }
    return found, taught[-1]
