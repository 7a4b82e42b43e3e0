"""The facts that papers are made of: what a plan says of a week, joined with the library."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.cautions import HAZARDOUS, PROTECTION, SUPERVISION
from app.domain.class_plan import MeetingPlan, Shown, StepHazard, TaughtConcept, WeekPlan, Work
from app.models import (
    Activity,
    Lesson,
    Meeting,
    MeetingState,
    PermitType,
    Plan,
    Progress,
    Section,
    Step,
    Treatment,
)
from app.store import library, plans, sections


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
    facts = _Facts(session, section, plan, meetings)
    return WeekPlan(
        section=section.title,
        week=week,
        build=section.build.title,
        notices=tuple(sorted(facts.notices)),
        meetings=tuple(facts.meeting(meeting) for meeting in meetings),
    )


class _Facts:
    """Everything the meetings of a week need, loaded once."""

    def __init__(
        self, session: Session, section: Section, plan: Plan, meetings: Sequence[Meeting]
    ) -> None:
        ids = {meeting.id for meeting in meetings}
        first = min((m.date for m in meetings), default=dt.date.max)
        last = max((m.date for m in meetings), default=dt.date.min)
        self.activities: dict[int, list[Activity]] = defaultdict(list)
        for row in plans.list_activities(session, plan, first=first, last=last):
            if row.meeting_id in ids:
                self.activities[row.meeting_id].append(row)
        self.lessons: dict[int, list[Lesson]] = defaultdict(list)
        for lesson in plans.list_lessons(session, plan):
            self.lessons[lesson.meeting_id].append(lesson)
        self.steps = {s.id: s for s in sections.load_steps(session, section.build_id)}
        self.treatments = {
            item.concept_id: item
            for item in library.list_treatments(
                session, section.band, section.course.department.school_id
            )
        }
        self.stations = {row.key: row.title for row in section.room.stations}
        self.permits = dict(session.execute(sa.select(PermitType.key, PermitType.title)).all())
        self.done = _done_pairs(session, section)
        self.drying = _drying(session, plan, self.steps)
        self.starts = [
            dt.datetime.combine(m.date, m.starts_at)
            for m in sections.list_meetings(session, section)
            if m.state is not MeetingState.LOST
        ]
        self.last_start = _last_starts(sections.list_meetings(session, section))
        self.notices: set[str] = set()

    def meeting(self, row: Meeting) -> MeetingPlan:
        work = self.activities[row.id]
        steps = list({item.step_id: self.steps[item.step_id] for item in work}.values())
        return MeetingPlan(
            number=row.number,
            date=row.date,
            starts_at=row.starts_at,
            minutes=row.minutes,
            work_minutes=row.work_minutes,
            kind=row.kind,
            label=row.note or row.label,
            lost=row.state is MeetingState.LOST,
            power=row.machine_power,
            lessons=tuple(self._taught(item) for item in self.lessons[row.id] if item.treatment),
            briefings=tuple(
                f"{self.permits.get(item.permit, item.permit)} ({item.minutes} min)"
                for item in self.lessons[row.id]
                if item.permit
            ),
            work=tuple(self._work(group) for group in _grouped(work)),
            shown=tuple(self._shown(steps)),
            materials=tuple(_materials(work, self.steps)),
            tools=tuple(dict.fromkeys(tool for step in steps for tool in step.tools)),
            checks=tuple(_checks(steps)),
            hazards=tuple(hazard_of(step) for step in steps if step.hazard_class in HAZARDOUS),
            test_minutes=row.test_minutes,
            coming_out=tuple(self._coming_out(row)),
        )

    def _codes(self, treatment: Treatment | None) -> tuple[str, ...]:
        if treatment is None:
            return ()
        content = [item for item in treatment.alignments if not item.practice]
        self.notices |= {item.standard.framework.notice for item in content}
        return tuple(
            item.standard.code if item.strength == "strong" else f"({item.standard.code})"
            for item in content
        )

    def _taught(self, lesson: Lesson) -> TaughtConcept:
        treatment = self.treatments.get(lesson.treatment.concept_id) if lesson.treatment else None
        treatment = treatment or lesson.treatment
        assert treatment is not None  # noqa: S101 - the caller has looked
        return TaughtConcept(
            title=lesson.title,
            minutes=lesson.minutes,
            concept=treatment.concept.title,
            goal=treatment.goal,
            codes=self._codes(treatment),
            demonstration=treatment.demonstration,
            support=treatment.support,
            extension=treatment.extension,
        )

    def _work(self, group: list[Activity]) -> Work:
        first = group[0]
        finished = all((row.team_id, row.step_id) in self.done for row in group)
        part = f"part {first.part} of {first.parts}" if first.parts > 1 else ""
        return Work(
            step=first.step.key,
            title=first.step.title,
            station=self.stations.get(first.step.station, first.step.station),
            teams=tuple(row.team.code for row in group),
            minutes=f"{first.minutes}",
            state="done" if finished and first.part == first.parts else part,
        )

    def _shown(self, steps: Iterable[Step]) -> Iterable[Shown]:
        for step in steps:
            for exposure in step.exposures:
                yield Shown(
                    step=step.key,
                    concept=exposure.concept.title,
                    shows=exposure.shows,
                    reading=exposure.reading,
                    codes=self._codes(self.treatments.get(exposure.concept_id)),
                )

    def _coming_out(self, row: Meeting) -> Iterable[str]:
        start = dt.datetime.combine(row.date, row.starts_at)
        before = max((at for at in self.starts if at < start), default=start)
        found: dict[str, list[str]] = defaultdict(list)
        for team, title, ready in self.drying:
            if before < ready <= start:
                found[title].append(team)
        for title, teams in found.items():
            yield f"{title}: {', '.join(teams)}"


def _last_starts(meetings: Sequence[Meeting]) -> dict[int, dt.datetime]:
    """When the class met before, for each meeting: what has dried since then comes out in it."""
    held = [meeting for meeting in meetings if meeting.state is not MeetingState.LOST]
    return {
        later.id: dt.datetime.combine(earlier.date, earlier.starts_at)
        for earlier, later in pairwise(held)
    }


def _done_pairs(session: Session, section: Section) -> set[tuple[int, int]]:
    team_ids = [team.id for team in section.teams]
    query = sa.select(Progress.team_id, Progress.step_id).where(
        Progress.team_id.in_(team_ids), Progress.event == "done"
    )
    return set(session.execute(query))


def _drying(
    session: Session, plan: Plan, steps: dict[int, Step]
) -> list[tuple[str, str, dt.datetime]]:
    """(team, step title, when it is dry) for each drying step of the plan."""
    found = []
    for row in plans.list_activities(session, plan):
        drying = steps[row.step_id].drying
        if drying and row.part == row.parts:
            end = dt.datetime.combine(row.meeting.date, row.meeting.starts_at) + dt.timedelta(
                minutes=row.first_minute + row.minutes
            )
            hours = dt.timedelta(hours=drying["hours"]["typical"])
            found.append((row.team.code, row.step.title, end + hours))
    return found


def _grouped(rows: Iterable[Activity]) -> list[list[Activity]]:
    """Teams at the same step for the same minutes stand in one row."""
    groups: dict[tuple[int, int, int, int], list[Activity]] = defaultdict(list)
    for row in rows:
        groups[row.step_id, row.minutes, row.part, row.parts].append(row)
    return sorted(groups.values(), key=lambda group: (group[0].first_minute, group[0].team.code))


def _materials(rows: Sequence[Activity], steps: dict[int, Step]) -> Iterable[str]:
    """What is used when steps begin, added up over steps and teams."""
    amounts: dict[tuple[str, str], float] = defaultdict(float)
    teams: dict[tuple[str, str], set[int]] = defaultdict(set)
    for row in rows:
        for item in steps[row.step_id].materials if row.part == 1 else ():
            key = (item.material.title, item.material.unit)
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
