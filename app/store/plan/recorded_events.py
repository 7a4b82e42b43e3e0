"""What happened to a section's term: recorded, undone, and laid over the planning problem."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.scheduling import events
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import PlannedActivity, PlanResult, Schedule, Sitting, TaskKey
from app.models import Activity, Event, MeetingState, Plan, Section, Step, Student, Team
from app.store import sections
from app.store.missing import Missing
from app.store.plan import plans, section_problem
from app.store.plan.event_values import KINDS, standing_events, value

MOST_ROUNDS = 2  # then every coat still to come is taken as slow
RECOAT_MINUTES = 24 * 60  # common practice, no source: a coat in damp air waits a day
CURE_FACTOR = 2  # common practice, no source: a film in damp air cures half as fast
COATS = ("recoat", "coat", "touch")
CURES = ("cure", "hardware", "handle-hard")
FROM_THE_CALENDAR = frozenset(
    {"closure", "bells", "make-up", "adult", "second-adult", "substitute", "extra-meeting"}
)


@dataclass(frozen=True)
class EventStanding:
    """A section's problem as it stands: `board.problem` has the events laid over it.

    `plain` is the problem without them; `slow` are the coats that the plan puts in damp air.
    """

    board: section_problem.PlanInput
    plain: Problem
    events: tuple[events.TermEvent, ...]
    slow: frozenset[TaskKey]
    plan: Plan | None
    schedule: Schedule

    @property
    def problem(self) -> Problem:
        """The problem with the events laid over it."""
        return self.board.problem

    def with_slow(self, slow: frozenset[TaskKey]) -> "EventStanding":
        """The same with other coats in damp air."""
        problem = _pinned(events.amended(self.plain, self.events, slow), self.problem.pins)
        return replace(self, board=replace(self.board, problem=problem), slow=slow)

    def settled(self, run: Callable[[Problem], PlanResult]) -> "tuple[EventStanding, PlanResult]":
        """Plan until no coat moves into damp air that was not reckoned with.

        A coat once slow stays slow, and in the end all are: at the worst a plan waits too long.
        """
        standing = self
        result = run(standing.problem)
        for round_ in range(MOST_ROUNDS):
            more = events.coats_in_damp_air(standing.problem, result.schedule, self.events)
            if more <= standing.slow:
                break
            last = round_ == MOST_ROUNDS - 1
            coats = events.coats(standing.problem, self.events) if last else more
            standing = standing.with_slow(standing.slow | coats)
            result = run(standing.problem)
        return standing, result


def standing_of(session: Session, section: Section) -> EventStanding:
    """The problem of a section with everything that happened, its pins and its current plan.

    Raises ValueError with a sentence where an event leaves nothing to plan.
    """
    board = section_problem.board_of(session, section)
    plan = plans.current_plan(session, section)
    schedule = section_problem.schedule_of(session, board, plan) if plan else Schedule(())
    happened = standing_events(section.events)
    slow = events.coats_in_damp_air(board.problem, schedule, happened)
    pins = _pins(session, plan, schedule) if plan else ()
    problem = _pinned(events.amended(board.problem, happened, slow), pins)
    return EventStanding(
        replace(board, problem=problem),
        board.problem,
        happened,
        slow,
        plan,
        events.with_away(problem, schedule),
    )


def schedule_on(session: Session, standing: EventStanding, plan: Plan) -> Schedule:
    """Another plan of the section on the same axis, with the times at which teams are out."""
    return events.with_away(
        standing.problem, section_problem.schedule_of(session, standing.board, plan)
    )


def _pins(session: Session, plan: Plan, schedule: Schedule) -> tuple[PlannedActivity, ...]:
    """Activities that someone has pinned and whose place still exists."""
    rows = session.execute(
        sa.select(Team.code, Step.key)
        .select_from(Activity)
        .join(Team, Activity.team_id == Team.id)
        .join(Step, Activity.step_id == Step.id)
        .where(Activity.plan_id == plan.id, Activity.pinned.is_(True))
    )
    pinned = {(team, step) for team, step in rows}
    return tuple(a for a in schedule.activities if (a.key.team, a.key.step) in pinned)


def _pinned(problem: Problem, pins: Sequence[PlannedActivity]) -> Problem:
    """Keep the pins that the problem can still hold; the others are planned like the rest."""
    held = {pin.key for pin in problem.pins}
    begun = {done.key for done in problem.done}
    kept = [
        pin
        for pin in pins
        if pin.key not in held | begun
        and pin.key in problem.steps
        and pin.start >= problem.now
        and pin.ticks == problem.steps[pin.key].ticks
        and not any(events.is_away(a.key) and _clash(pin, a) for a in problem.pins)
    ]
    return replace(problem, pins=(*problem.pins, *kept)) if kept else problem


def _clash(one: PlannedActivity, other: PlannedActivity) -> bool:
    return one.key[:2] == other.key[:2] and any(
        a.tick < b.end and b.tick < a.end for a in one.sittings for b in other.sittings
    )


# --- recording and undoing ----------------------------------------------------------------------


def list_events(session: Session, section: Section) -> list[Event]:
    """The section's events, the latest first, undone ones included."""
    query = sa.select(Event).where(Event.section_id == section.id).order_by(Event.id.desc())
    return list(session.scalars(query))


def load_event(session: Session, section: Section, event_id: int) -> Event:
    """An event of the section.

    Raises Missing.
    """
    event = session.scalar(
        sa.select(Event).where(Event.id == event_id, Event.section_id == section.id)
    )
    if event is None:
        raise Missing(f"event {event_id}")
    return event


@dataclass(frozen=True)
class NewEvent:
    """What is to be recorded; `details` as in `event_values`, completed from the build."""

    kind: str
    first: dt.date
    last: dt.date
    details: Mapping[str, Any]


def record(
    session: Session, section: Section, new: NewEvent, *, by: str, now: dt.datetime
) -> Event:
    """Record an event and bring meetings, roster and section in line; the caller plans again.

    Raises ValueError with every reason against it as a sentence.
    """
    details = completed(session, section, new)
    wrong = refusals(session, section, replace(new, details=details))
    if wrong:
        raise ValueError(" ".join(wrong))
    row = Event(
        kind=new.kind,
        first_day=new.first,
        last_day=new.last,
        details=details,
        recorded_at=now,
        recorded_by=by,
    )
    section.events.append(row)
    _take_effect(session, section, row)
    session.flush()
    return row


def undo(session: Session, section: Section, row: Event, *, by: str, now: dt.datetime) -> None:
    """Take an event back: it stays on record without effect. The caller plans again.

    Raises ValueError if it is undone already.
    """
    if row.undone_at is not None:
        raise ValueError(f"{row.undone_by} has undone this already.")
    row.undone_at, row.undone_by = now, by
    if row.kind == "supplied":
        section.ready_made = [key for key in section.ready_made if key != row.details["step"]]
    elif row.kind == "showcase":
        before = row.details.get("before")
        section.showcase = dt.date.fromisoformat(before) if before else None
    elif row.kind in {"withdrawn", "enrolled"}:
        _undo_roster(session, section, row)
    elif row.kind in FROM_THE_CALENDAR:
        sections.save_meetings(session, section)
    session.flush()


def _take_effect(session: Session, section: Section, row: Event) -> None:
    if row.kind == "supplied":
        section.ready_made = [*section.ready_made, row.details["step"]]
    elif row.kind == "showcase":
        section.showcase = dt.date.fromisoformat(row.details["date"])
    elif row.kind == "withdrawn":
        student = _student(section, row.details["student"])
        student.left = row.first_day
    elif row.kind == "enrolled":
        _enrol(section, row)
    elif row.kind in FROM_THE_CALENDAR:
        session.flush()
        sections.save_meetings(session, section)


def _student(section: Section, code: str) -> Student:
    found = next((s for s in section.students if s.code == code and s.left is None), None)
    if found is None:
        raise ValueError(f"No student with the code {code} is in the class: check the class list.")
    return found


def _enrol(section: Section, row: Event) -> None:
    team = next((t for t in section.teams if t.code == row.details["team"]), None)
    if team is None:
        raise ValueError(f"There is no team {row.details['team']}: choose one of the class.")
    section.students.append(
        Student(
            code=row.details["student"],
            grade=str(row.details.get("grade", "")),
            entered=row.first_day,
            team=team,
        )
    )


def _undo_roster(session: Session, section: Section, row: Event) -> None:
    code = row.details["student"]
    student = next((s for s in section.students if s.code == code), None)
    if student is None:
        return
    if row.kind == "withdrawn":
        student.left = None
    else:
        # What was recorded about the newcomer stays; without records the entry goes.
        student.left = row.first_day
    session.flush()


def completed(session: Session, section: Section, new: NewEvent) -> dict[str, Any]:
    """The details with what the build and the class know about them.

    Raises ValueError with a sentence if the kind or a name is unknown or something is missing.
    """
    if new.kind not in KINDS:
        raise ValueError(
            f"There is no kind of event “{new.kind}”: choose one of {', '.join(KINDS)}."
        )
    details = dict(new.details)
    wanted = NEEDED.get(new.kind, ())
    for name in wanted:
        if details.get(name) in (None, "", [], ()):
            raise ValueError(f"A {TITLES[new.kind].lower()} needs its {name.replace('_', ' ')}.")
    steps = sections.load_steps(session, section.build_id)
    if new.kind == "humid":
        details["minutes"] = _damp_minutes(steps)
    elif new.kind == "suspended":
        details["steps"] = [s.key for s in steps if s.permit == details["permit"]]
        if not details["steps"]:
            raise ValueError(f"No step of this build asks for the sign-off {details['permit']}.")
    elif new.kind == "withdrawn":
        student = _student(section, str(details["student"]))
        # Who is known to leave later will not finish the instrument either.
        left = [s for s in section.students if s.team_id == student.team_id and s.left is None]
        details["team"] = student.team.code if student.team else ""
        details["last_of_team"] = student.team is not None and len(left) == 1
    elif new.kind == "enrolled":
        if any(s.code == details["student"] for s in section.students):
            raise ValueError(f"The code {details['student']} is taken: choose another.")
    elif new.kind == "showcase":
        details["before"] = section.showcase.isoformat() if section.showcase else None
    _refuse_unknown_steps(steps, new.kind, details)
    return details


def _refuse_unknown_steps(steps: Sequence[Step], kind: str, details: Mapping[str, Any]) -> None:
    named = [*details.get("steps", ()), *([details["step"]] if "step" in details else [])]
    known = {step.key: step for step in steps}
    for key in named:
        if key not in known:
            raise ValueError(f"The build has no step {key}: give keys such as {steps[0].key}.")
    if kind == "pace" and known[details["step"]].whole_class:
        raise ValueError(
            f"The whole class does {details['step']} together: choose a step of one team."
        )


def _damp_minutes(steps: Sequence[Step]) -> dict[str, int]:
    """By step the drying minutes in damp air, where they are longer than usual."""
    found = {}
    for step in steps:
        what = (step.drying or {}).get("what", "")
        usual = 60 * float((step.drying or {"hours": {"typical": 0}})["hours"]["typical"])
        if any(word in what for word in CURES):
            found[step.key] = round(CURE_FACTOR * usual)
        elif any(word in what for word in COATS):
            found[step.key] = round(max(RECOAT_MINUTES, usual))
    return found


def refusals(session: Session, section: Section, new: NewEvent) -> list[str]:
    """Everything that keeps an event from being recorded, each as a sentence."""
    wanted = value(new.kind, new.first, new.last, new.details)
    meetings = sections.list_meetings(session, section)
    taught = frozenset(m.date for m in meetings if m.state is MeetingState.TAUGHT)
    coming = [m for m in meetings if m.state is MeetingState.PLANNED]
    if not coming:
        return ["The term is over: there is nothing left to plan."]
    wrong = [
        f"{new.kind} is recorded already for these days: undo the first entry if it was wrong."
        for row in section.events
        if row.undone_at is None
        and wanted is None
        and (row.kind, row.first_day, row.last_day) == (new.kind, new.first, new.last)
        and {k: v for k, v in row.details.items() if k != "before"}
        == {k: v for k, v in new.details.items() if k != "before"}
    ]
    wrong += _schedule_refusals(section, new)
    if wanted is None:
        return wrong
    steps = sections.load_steps(session, section.build_id)
    room = section.room
    return wrong + events.problems(
        wanted,
        events.Situation(
            first_day=section.term.first_day,
            last_day=section.term.last_day,
            taught=taught,
            next_open=coming[0].date,
            places={
                **{row.key: row.places for row in room.stations},
                **{row.key: row.count for row in room.fixtures},
            },
            needed=_still_needed(section, steps),
            teams=frozenset(team.code for team in section.teams),
            qualified={m.date: m.qualified_adults for m in coming},
            events=standing_events(section.events),
            titles=_titles(section),
        ),
    )


def _titles(section: Section) -> dict[str, str]:
    """What people call the stations and fixtures of the room."""
    room = section.room
    stations = {row.key: row.title for row in room.stations}
    return stations | {row.key: row.title for row in room.fixtures}


def _still_needed(section: Section, steps: Sequence[Step]) -> frozenset[str]:
    made = [s for s in steps if not s.outside_class and s.key not in section.ready_made]
    return frozenset(s.station for s in made) | frozenset(
        str(hold["fixture"]) for s in made for hold in s.holds
    )


def _schedule_refusals(section: Section, new: NewEvent) -> list[str]:
    if new.kind == "bells" and new.details["schedule"] not in section.bells:
        known = ", ".join(section.bells)
        return [f"This class has no minutes for that bell schedule: choose one of {known}."]
    if new.kind == "supplied" and new.details["step"] in section.ready_made:
        return [f"{new.details['step']} is supplied already."]
    if new.kind == "showcase" and not (
        section.term.first_day
        <= dt.date.fromisoformat(str(new.details["date"]))
        <= section.term.last_day
    ):
        return ["The showcase lies in the term: choose one of its days."]
    return []


TITLES = {
    "closure": "Closure",
    "bells": "Delayed or shortened day",
    "make-up": "Make-up day",
    "station": "Station or fixture out",
    "adult": "Adult out",
    "substitute": "Substitute",
    "humid": "Damp spell",
    "parts": "Parts late",
    "withdrawn": "Student leaves",
    "enrolled": "Student joins",
    "suspended": "Sign-off suspended",
    "pace": "Team ahead or behind",
    "away": "Teams away",
    "extra-meeting": "Extra meeting",
    "second-adult": "Second adult",
    "more-places": "More places",
    "supplied": "Step supplied ready-made",
    "showcase": "Later showcase",
}
NEEDED: dict[str, tuple[str, ...]] = {
    "bells": ("schedule",),
    "station": ("resource",),
    "parts": ("steps",),
    "withdrawn": ("student",),
    "enrolled": ("student", "team"),
    "suspended": ("team", "permit"),
    "pace": ("team", "step", "minutes"),
    "away": ("teams",),
    "extra-meeting": ("dates", "starts_at", "minutes"),
    "more-places": ("resource",),
    "supplied": ("step",),
    "showcase": ("date",),
}


def _resource(row: Event) -> str:
    key = str(row.details["resource"])
    return _titles(row.section).get(key, key)


def in_words(row: Event) -> str:
    """An event as one line: what, and how much of it."""
    details = row.details
    parts = {
        "bells": lambda: str(details["schedule"]).replace("_", " "),
        "station": lambda: f"{_resource(row)}, {details.get('places', 0)} left",
        "more-places": lambda: f"{_resource(row)}, {details.get('extra', 1)} more",
        "parts": lambda: f"for {', '.join(details['steps'])}",
        "withdrawn": lambda: f"{details['student']} of team {details['team'] or '–'}",
        "enrolled": lambda: f"{details['student']} into team {details['team']}",
        "suspended": lambda: f"{details['permit']}, team {details['team']}",
        "pace": lambda: (
            f"team {details['team']}, {details['step']}, "
            f"{abs(int(details['minutes']))} min {'more' if int(details['minutes']) > 0 else 'fewer'}"
        ),
        "away": lambda: ", ".join(details["teams"]),
        "extra-meeting": lambda: f"{len(details['dates'])} of {details['minutes']} min",
        "supplied": lambda: str(details["step"]),
        "showcase": lambda: str(details["date"]),
    }  # fmt: skip
    more = parts[row.kind]() if row.kind in parts else str(details.get("label") or "")
    return f"{TITLES[row.kind]}: {more}" if more else TITLES[row.kind]


# --- plans in turn ------------------------------------------------------------------------------


class Stale(ValueError):
    """Someone else has changed the plan since it was looked at."""


def replace_current(session: Session, plan: Plan, seen: int | None) -> Plan:
    """Make `plan` current if the plan that was looked at still is; its id is the version.

    Raises Stale.
    """
    changed = session.execute(
        sa.update(Plan)
        .where(Plan.section_id == plan.section_id, Plan.current.is_(True), Plan.id == seen)
        .values(current=False)
    )
    if getattr(changed, "rowcount", 0) != 1:
        raise Stale("The plan has changed since you looked at it.")
    plan.current = True
    session.add(plan)
    session.flush()
    return plan


def undo_target(session: Session, plan: Plan) -> Plan | None:
    """The plan before this one, if the same meetings are still to come."""
    return session.get(Plan, plan.before_id) if plan.before_id is not None else None


def redo_target(session: Session, plan: Plan) -> Plan | None:
    """The newest plan that took the place of this one."""
    return session.scalar(
        sa.select(Plan).where(Plan.before_id == plan.id).order_by(Plan.id.desc()).limit(1)
    )


def has_moved_on(session: Session, section: Section, plan: Plan) -> bool:
    """Whether meetings have been taught since a plan was made: it cannot simply come back."""
    first = plan.facts.get("first_open")
    coming = [
        m.date.isoformat()
        for m in sections.list_meetings(session, section)
        if m.state is MeetingState.PLANNED
    ]
    return first is not None and (not coming or coming[0] > first)


# --- class facts for the fit check --------------------------------------------------------------


def absence_rates(section: Section) -> dict[str, tuple[float, ...]]:
    """Each team's students' absence rates; who has left, or is known to leave, does not count."""
    found: dict[str, list[float]] = defaultdict(list)
    for student in section.students:
        if student.team is not None and student.left is None:
            found[student.team.code].append(student.absence_rate)
    return {team: tuple(rates) for team, rates in found.items()}


def schedule_rows(problem: Problem, schedule: Schedule) -> list[list[Any]]:
    """A plan in plain values by the clock, to be kept while the calendar may change."""
    axis = problem.axis
    return [
        [a.key.team, a.key.step, [[axis.clock(s.tick).isoformat(), s.ticks] for s in a.sittings]]
        for a in events.shown(schedule).activities
    ]


def schedule_from_rows(section: str, problem: Problem, rows: Sequence[Sequence[Any]]) -> Schedule:
    """The inverse of `schedule_rows`, on the axis of `problem`."""
    axis = problem.axis
    return Schedule(
        tuple(
            PlannedActivity(
                TaskKey(section, str(team), str(step)),
                tuple(
                    Sitting(axis.tick_at(dt.datetime.fromisoformat(text)), int(ticks))
                    for text, ticks in runs
                ),
            )
            for team, step, runs in rows
        )
    )


def rows_of(session: Session, plan: Plan, team: str, step: str) -> list[Activity]:
    """The sittings of one task in a plan, in the order of time."""
    return [
        row
        for row in plans.list_activities(session, plan)
        if (row.team.code, row.step.key) == (team, step)
    ]
