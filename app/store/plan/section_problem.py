"""Between the database and the planner: a section as a problem, a result as a plan."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.scheduling import events, rechecks
from app.domain.scheduling import lessons as lesson_domain
from app.domain.scheduling import problem as model
from app.domain.scheduling.axis import Axis, AxisMeeting
from app.domain.scheduling.schedule import PlannedActivity, Schedule, Sitting, TaskKey
from app.models import (
    Activity,
    Lesson,
    Meeting,
    MeetingState,
    Plan,
    Progress,
    Section,
    Standard,
    Step,
    Team,
    Treatment,
)
from app.store import library as library_store
from app.store import sections
from app.store.plan import plans
from app.store.plan import sign_off_rechecks as rechecks_store
from app.store.plan.shared_room import taken_elsewhere

TICK_MINUTES = 5
MINUTES_PER_HOUR = 60
BRIEFING_MINUTES = 10  # common practice, no source: one demonstration at the station

SUPERVISION = {
    "in-room": model.Supervision.IN_ROOM,
    "check-in": model.Supervision.IN_ROOM,
    "line-of-sight": model.Supervision.LINE_OF_SIGHT,
    "at-the-machine": model.Supervision.AT_THE_MACHINE,
    "adult-only": model.Supervision.IN_ROOM,
}


@dataclass(frozen=True)
class PlanInput:
    """A section's rows beside the problem made of them, to translate the answer back."""

    section: Section
    problem: model.Problem
    meetings: tuple[Meeting, ...]
    teams: dict[str, Team]
    steps: dict[str, Step]


def board_of(session: Session, section: Section) -> PlanInput:
    """The planning problem of one section: what is taught lies in the past and stays.

    Raises ValueError with a sentence where the room or the term cannot hold the build at all.
    """
    held = [m for m in sections.list_meetings(session, section) if m.state is not MeetingState.LOST]
    teams = _teams(session, section, held)
    steps = sections.load_steps(session, section.build_id)
    if not teams:
        raise ValueError("This section has no teams yet; add students first.")
    axis = Axis(tuple(_axis_meeting(section, meeting) for meeting in held), TICK_MINUTES)
    now = axis.tick_at(_first_open(held)) if held else 0
    shapes = _steps(section, steps)
    begun = _begun(session, section, axis, now, {team.code for team in teams})
    stations_taken, fixtures_taken = taken_elsewhere(session, section, axis)
    problem = model.Problem(
        axis=axis,
        teams=tuple(
            model.TeamWork(team.code, _own(shapes, team.code, begun), section=section.key)
            for team in teams
        ),
        stations=tuple(
            model.StationPlaces(
                row.key, places=row.places, zone=row.zone, outages=stations_taken.get(row.key, ())
            )
            for row in section.room.stations
        ),
        fixtures=tuple(
            model.FixturePlaces(row.key, count=row.count, outages=fixtures_taken.get(row.key, ()))
            for row in section.room.fixtures
        ),
        due_ticks=_due(section, axis),
        now=now,
        done=_done(section, shapes, begun),
    )
    if held:
        lapses = rechecks_store.lapses_of(session, section, _first_open(held).date())
        permits = rechecks_store.permits_by_step(steps)
        problem = rechecks.held_back(problem, section.key, lapses, permits)
    return PlanInput(
        section, problem, tuple(held), {t.code: t for t in teams}, {s.key: s for s in steps}
    )


def _teams(session: Session, section: Section, held: Sequence[Meeting]) -> list[Team]:
    """The teams to plan for: somebody is in them, or will be, or their work is on record."""
    day = _first_open(held).date() if held else dt.date.min
    begun = sections.teams_with_a_record(session, section)
    return [
        team
        for team in sections.load_teams(session, section)
        if team.id in begun
        or any(student.left is None or student.left > day for student in team.students)
    ]


def _axis_meeting(section: Section, meeting: Meeting) -> AxisMeeting:
    return AxisMeeting(
        start=meeting.start,
        ticks=meeting.work_minutes // TICK_MINUTES,
        offset_minutes=meeting.opening_minutes + meeting.lesson_minutes + meeting.test_minutes,
        section=section.key,
        adults=meeting.qualified_adults,
        power=meeting.machine_power,
    )


def _first_open(held: Sequence[Meeting]) -> dt.datetime:
    """The start of the first meeting that has not been taught; the day after all if none is."""
    for meeting in held:
        if meeting.state is MeetingState.PLANNED:
            return meeting.start
    return dt.datetime.combine(held[-1].date + dt.timedelta(days=1), dt.time())


def _due(section: Section, axis: Axis) -> dict[str, int]:
    if section.showcase is None:
        return {}
    tick = axis.tick_at(dt.datetime.combine(section.showcase, dt.time()))
    return {section.key: tick} if tick > 0 else {}


@dataclass(frozen=True)
class _Shapes:
    """The steps as students make them, and those that this class has supplied or leaves out."""

    made: tuple[model.StepWork, ...]
    supplied: dict[str, model.StepWork]


def _steps(section: Section, steps: Sequence[Step]) -> _Shapes:
    """Steps as the planner sees them; a step behind a permit waits for the step that grants it."""
    granting = defaultdict(list)
    for step in steps:
        for permit in step.grants:
            granting[permit].append(step.key)
    ancestors = _ancestors({step.key: list(step.after) for step in steps})
    made, supplied = [], {}
    for step in steps:
        after = list(step.after)
        for grant in granting.get(step.permit or "", ()):
            if grant not in after and step.key not in {grant, *ancestors[grant]}:
                after.append(grant)
        made.append(_shape(step, after, supplied=False))
        if step.key in section.ready_made:
            supplied[step.key] = _shape(step, after, supplied=True)
    return _Shapes(tuple(made), supplied)


def _own(shapes: _Shapes, team: str, begun: "_Begun") -> tuple[model.StepWork, ...]:
    """A team's steps: what it has begun it finishes itself, even where others are supplied."""
    return tuple(
        shapes.supplied.get(step.key, step) if (team, step.key) not in begun.open else step
        for step in shapes.made
    )


def _ancestors(after: dict[str, list[str]]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}

    def of(key: str) -> set[str]:
        if key not in found:
            found[key] = set()
            for before in after.get(key, ()):
                found[key] |= {before, *of(before)}
        return found[key]

    for key in after:
        of(key)
    return found


def _shape(step: Step, after: list[str], *, supplied: bool) -> model.StepWork:
    outside = step.outside_class or supplied
    drying = step.drying["hours"]["typical"] if step.drying and not supplied else 0
    ticks = 0 if outside else max(1, math.ceil(step.minutes_typical / TICK_MINUTES))
    minimum = max(1, math.ceil(step.minimum_sitting / TICK_MINUTES))
    return model.StepWork(
        step.key,
        ticks=ticks,
        after=tuple(after),
        stations=(model.Use(step.station, step.places),) if ticks and step.places else (),
        supervision=SUPERVISION[step.supervision],
        drying_minutes=math.ceil(drying * MINUTES_PER_HOUR),
        minimum_sitting=min(minimum, max(ticks, 1)),
        splitting=model.Splitting.ONE_SITTING if step.one_sitting else model.Splitting.SITTINGS,
        holds=() if outside else _holds(step),
        whole_class=step.whole_class and not outside,
        substitute_safe=step.substitute_safe,
        outside_class=outside,
    )


def _holds(step: Step) -> tuple[model.FixtureHold, ...]:
    return tuple(
        model.FixtureHold(
            hold["fixture"],
            quantity=hold["count"],
            minutes=math.ceil((hold["hours"] or 0) * MINUTES_PER_HOUR),
            until=hold["until_step"],
        )
        for hold in step.holds
    )


@dataclass(frozen=True)
class _Begun:
    """What happened, by team and step: what is finished, and the sittings worked so far."""

    finished: frozenset[tuple[str, str]]
    worked: dict[tuple[str, str], tuple[Sitting, ...]]

    @property
    def open(self) -> set[tuple[str, str]]:
        """What is begun and not finished."""
        return set(self.worked) - self.finished


def _begun(
    session: Session, section: Section, axis: Axis, now: int, teams: Collection[str]
) -> _Begun:
    """Finished steps from the progress record, begun ones from the plan's past."""
    query = (
        sa.select(Team.code, Step.key)
        .select_from(Progress)
        .join(Team, Progress.team_id == Team.id)
        .join(Step, Progress.step_id == Step.id)
        .where(Team.section_id == section.id, Progress.event == "done")
    )
    finished = {(team, step) for team, step in session.execute(query)}
    plan = plans.current_plan(session, section)
    worked: dict[tuple[str, str], list[Sitting]] = defaultdict(list)
    for row in plans.list_sittings(session, plan) if plan is not None else ():
        if row.state is MeetingState.TAUGHT and row.minutes and row.team in teams:
            sitting = _sitting(row, axis)
            if sitting.end <= now:
                worked[row.team, row.step].append(sitting)
    return _Begun(frozenset(finished), {key: tuple(sorted(runs)) for key, runs in worked.items()})


def _done(section: Section, shapes: _Shapes, begun: _Begun) -> tuple[model.Done, ...]:
    """The past as the planner sees it.

    A step that has had all its minutes and is not done needs its last sitting once more.
    """
    ticks = {shape.key: shape.ticks for shape in shapes.made}
    spent = {
        key: -1
        for key, runs in begun.worked.items()
        if sum(run.ticks for run in runs) >= ticks.get(key[1], 0)
    }
    return tuple(
        model.Done(
            TaskKey(section.key, *key),
            begun.worked.get(key, ())[: None if key in begun.finished else spent.get(key)],
            finished=key in begun.finished,
        )
        for key in sorted(begun.finished | set(begun.worked))
    )


def _sitting(row: plans.Sat, axis: Axis) -> Sitting:
    return Sitting(axis.tick_at(row.start), row.minutes // TICK_MINUTES)


def schedule_of(session: Session, board: PlanInput, plan: Plan) -> Schedule:
    """A stored plan as the planner's value, on the axis of `board`."""
    sittings: dict[TaskKey, list[Sitting]] = defaultdict(list)
    for row in plans.list_sittings(session, plan):
        if row.state is not MeetingState.LOST and row.minutes and row.team in board.teams:
            sitting = _sitting(row, board.problem.axis)
            # What a shortened meeting no longer holds has lost its place.
            if _inside(board, row.meeting_id, sitting):
                sittings[TaskKey(board.section.key, row.team, row.step)].append(sitting)
    return Schedule(
        tuple(PlannedActivity(key, tuple(sorted(runs))) for key, runs in sittings.items())
    )


def _inside(board: PlanInput, meeting_id: int, sitting: Sitting) -> bool:
    at = board.problem.axis.meeting_at
    places = {at(board.section.key, t) for t in (sitting.tick, sitting.end - 1)}
    (index,) = places if len(places) == 1 else (None,)
    return index is not None and board.meetings[index].id == meeting_id


def activity_rows(board: PlanInput, schedule: Schedule) -> list[Activity]:
    """One row per sitting and meeting, in the order of time."""
    axis = board.problem.axis
    rows = []
    for activity in events.shown(schedule).activities:
        pieces = [
            piece
            for sitting in activity.sittings
            if sitting.ticks
            for piece in _by_meeting(axis, board.section.key, sitting)
        ]
        for part, (index, tick, ticks) in enumerate(pieces, 1):
            meeting = board.meetings[index]
            start = meeting.start
            rows.append(
                Activity(
                    team_id=board.teams[activity.key.team].id,
                    step_id=board.steps[activity.key.step].id,
                    meeting_id=meeting.id,
                    first_minute=int((axis.clock(tick) - start).total_seconds() // 60),
                    minutes=ticks * axis.tick_minutes,
                    part=part,
                    parts=len(pieces),
                )
            )
    return rows


def _by_meeting(axis: Axis, section: str, sitting: Sitting) -> list[tuple[int, int, int]]:
    """Cut a sitting at meeting ends: (meeting, first tick, ticks)."""
    pieces: list[tuple[int, int, int]] = []
    for tick in range(sitting.tick, sitting.end):
        index = axis.meeting_at(section, tick)
        if index is None:
            continue
        if pieces and pieces[-1][0] == index:
            pieces[-1] = (index, pieces[-1][1], pieces[-1][2] + 1)
        else:
            pieces.append((index, tick, 1))
    return pieces


def meeting_of(board: PlanInput, end_tick: int) -> Meeting | None:
    """The meeting that holds the tick before `end_tick`, if the term has it."""
    index = board.problem.axis.meeting_at(board.section.key, end_tick - 1)
    return board.meetings[index] if index is not None else None


# --- lessons -----------------------------------------------------------------------------------


def standard_label(standard: Standard) -> str:
    """The code of a shipped framework's standard; imported ones carry their framework's key too.

    Two frameworks may spell different standards alike; the shipped ones do not.
    """
    framework = standard.framework
    return standard.code if framework.school_id is None else f"{framework.key} {standard.code}"


def lesson_problem(
    session: Session, board: PlanInput, schedule: Schedule
) -> lesson_domain.LessonProblem:
    """Which lessons could be taught, when the first team needs each, and what is required.

    Lessons of taught meetings are fixed; only open meetings offer slots.
    """
    section = board.section
    first_use = _first_use(board, schedule)
    exposing = defaultdict(list)
    for step in board.steps.values():
        for exposure in step.exposures:
            exposing[exposure.concept_id].append(step.key)
    candidates = tuple(
        lesson_domain.PlannedLesson(
            treatment=str(treatment.id),
            concept=treatment.concept.key,
            minutes=treatment.minutes,
            strong=_codes(treatment, "strong"),
            partial=_codes(treatment, "partial"),
            steps=tuple(exposing.get(treatment.concept_id, ())),
            title=treatment.title,
        )
        for treatment in library_store.list_treatments(
            session, section.band, section.course.department.school_id
        )
    )
    fixed = _taught_lessons(session, section)
    return lesson_domain.LessonProblem(
        lessons=candidates,
        slots=tuple(
            lesson_domain.Slot(m.number, m.date, m.lesson_minutes)
            for m in board.meetings
            if m.lesson_minutes and m.state is MeetingState.PLANNED
        ),
        required=tuple(
            lesson_domain.DueStandard(standard_label(row.standard), row.by_date, row.priority)
            for row in section.course.required
        ),
        first_use=first_use,
        briefings=_briefings(board, first_use),
        fixed=fixed,
    )


def _taught_lessons(session: Session, section: Section) -> tuple[lesson_domain.Placement, ...]:
    plan = plans.current_plan(session, section)
    rows = plans.list_lessons(session, plan) if plan is not None else []
    parts: dict[str, list[Lesson]] = defaultdict(list)
    for row in rows:
        if row.meeting.state is MeetingState.TAUGHT:
            parts[str(row.treatment_id) if row.treatment_id else row.permit or ""].append(row)
    return tuple(
        lesson_domain.Placement(
            key=key,
            kind=lesson_domain.LessonKind.LESSON
            if held[0].treatment_id
            else lesson_domain.LessonKind.BRIEFING,
            title=held[0].title,
            parts=tuple(lesson_domain.LessonPart(row.meeting.number, row.minutes) for row in held),
            end=held[-1].meeting.date,
            reason=held[0].reason,
        )
        for key, held in parts.items()
    )


def _codes(treatment: Treatment, strength: str) -> frozenset[str]:
    return frozenset(
        standard_label(item.standard)
        for item in treatment.alignments
        if item.strength == strength and not item.practice
    )


def _first_use(board: PlanInput, schedule: Schedule) -> dict[str, int]:
    found: dict[str, int] = {}
    for activity in schedule.activities:
        meeting = meeting_of(board, activity.start + 1)
        if meeting is not None:
            number = found.get(activity.key.step, meeting.number)
            found[activity.key.step] = min(number, meeting.number)
    return found


def _briefings(
    board: PlanInput, first_use: dict[str, int]
) -> tuple[lesson_domain.BriefingLesson, ...]:
    """A briefing for each permit that steps ask for and no step of the build grants."""
    granted = {permit for step in board.steps.values() for permit in step.grants}
    needed: dict[str, int] = {}
    for step in board.steps.values():
        if step.permit and step.permit not in granted and step.key in first_use:
            needed[step.permit] = min(needed.get(step.permit, 10**6), first_use[step.key])
    return tuple(
        lesson_domain.BriefingLesson(
            permit, BRIEFING_MINUTES, number, title=f"Safety briefing {permit}"
        )
        for permit, number in sorted(needed.items())
    )
