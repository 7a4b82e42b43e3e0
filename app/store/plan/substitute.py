"""The facts of a substitute's day: what each team can do without a machine."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress

from sqlalchemy.orm import Session

from app.domain.cautions import HAZARDOUS
from app.domain.papers import worksheets as sheet
from app.domain.papers.document import Document
from app.domain.papers.substitute_plan import (
    ReadAloud,
    SubstitutePlan,
    TeamTask,
    substitute_document,
)
from app.models import Meeting, Plan, Section, Step, Team
from app.store import library, sections
from app.store.paper import worksheets
from app.store.paper.papers import Facts, hazard_of
from app.store.plan import plan_days, plans

SHORTEST_WORKSHEET = 10  # minutes
UNSAFE_HAZARDS = frozenset({"machine", "severe-machine", "heat", "chemical"})


def find_meeting(session: Session, section: Section, date: dt.date) -> Meeting:
    """The section's first meeting on a date.

    Raises ValueError with a sentence that names the meetings around it.
    """
    meetings = sections.list_meetings(session, section)
    for meeting in meetings:
        if meeting.date == date:
            return meeting
    near = [f"{m.date:%A} {m.date.isoformat()}" for m in meetings if m.date > date][:2]
    near = [f"{m.date:%A} {m.date.isoformat()}" for m in meetings if m.date < date][-1:] + near
    raise ValueError(
        f"{section.key} does not meet on {date:%A} {date.isoformat()}; "
        f"meetings near it: {', '.join(near) or 'none'}."
    )


def substitute_plan(
    session: Session, section: Section, plan: Plan, meeting: Meeting
) -> SubstitutePlan:
    """The substitute's day: a step is offered only if it is safe without machines and ready."""
    steps = sections.load_steps(session, section.build_id)
    by_key = {step.key: step for step in steps}
    rows = plans.list_activities(session, plan)
    today = [row for row in rows if row.meeting_id == meeting.id]
    facts = Facts(session, section, plan, [meeting], exposures=False)
    done: dict[int, set[str]] = defaultdict(set)
    for team_id, step_id in plan_days.done_in(session, section):
        if step_id in facts.steps:  # a newer version of the build may have dropped it
            done[team_id].add(facts.steps[step_id].key)
    safe_stations = {row.key for row in section.room.stations if row.substitute_safe}
    tasks, used = [], {}
    for team in sections.load_teams(session, section):
        planned = [by_key[row.step.key] for row in today if row.team_id == team.id]
        step = next(
            (s for s in planned if _safe(s, safe_stations)),
            None,
        ) or _next_safe(steps, done[team.id], section, safe_stations)
        if step is not None:
            used[step.key] = step
        tasks.append(_task(team, step, planned, steps, done[team.id], facts.stations))
    put_off = {row.step.key for row in today} - set(used)
    return SubstitutePlan(
        section=section.title,
        build=section.build.title,
        room=section.room.title,
        date=meeting.date,
        starts_at=meeting.starts_at,
        opening_minutes=meeting.opening_minutes,
        lesson_minutes=meeting.lesson_minutes + meeting.test_minutes,
        work_minutes=meeting.work_minutes,
        closing_minutes=meeting.closing_minutes,
        lessons=tuple(_read_aloud(session, section, plan, meeting)),
        teams=tuple(tasks),
        tools=tuple(dict.fromkeys(tool for step in used.values() for tool in step.tools)),
        leave_alone=tuple(_still_drying(facts, meeting)),
        hazards=tuple(hazard_of(s) for s in used.values() if s.hazard_class in HAZARDOUS),
        put_off=tuple(f"{key} {by_key[key].title}" for key in sorted(put_off)),
    )


def substitute_papers(
    session: Session, section: Section, plan: Plan, meeting: Meeting
) -> list[Document]:
    """The substitute's page, then the worksheet of every team that has one; no answer keys."""
    facts = substitute_plan(session, section, plan, meeting)
    papers = [substitute_document(facts)]
    minutes = max(SHORTEST_WORKSHEET, facts.work_minutes)
    holders = {holder.code: holder for holder in worksheets.team_holders(session, section)}
    for item in facts.teams:
        if item.phase:
            wanted = worksheets.Wanted(
                "phase", item.phase, seed=meeting.date.isoformat(), minutes=minutes
            )
            request = worksheets.worksheet_request(session, section, wanted)
            with suppress(sheet.WorksheetError):  # this band has no question for the phase
                papers += sheet.class_set(request, [holders[item.team]])
    return papers


def _safe(step: Step, safe_stations: set[str]) -> bool:
    """Safe by its own word, at a station that is, with no machine, heat or finish, no hold point."""
    return (
        step.substitute_safe
        and step.station in safe_stations
        and step.hazard_class not in UNSAFE_HAZARDS
        and not step.hold_point
    )


def _next_safe(
    steps: Sequence[Step], done: set[str], section: Section, safe_stations: set[str]
) -> Step | None:
    outside = {s.key for s in steps if s.outside_class} | set(section.ready_made)
    by_key = {step.key: step for step in steps}

    def behind(key: str) -> bool:
        # What is done outside class, or left out, still comes after what comes before it.
        return key in done or (key in outside and all(map(behind, by_key[key].after)))

    for step in steps:
        ready = all(map(behind, step.after))
        open_ = step.key not in done | outside
        if open_ and ready and not step.whole_class and _safe(step, safe_stations):
            return step
    return None


def _task(
    team: Team,
    step: Step | None,
    planned: Sequence[Step],
    steps: Sequence[Step],
    done: set[str],
    stations: Mapping[str, str],
) -> TeamTask:
    students = tuple(student.code for student in team.students)
    if step is not None:
        where = stations.get(step.station, step.station)
        return TeamTask(team.code, students, f"{step.key} {step.title}", where)
    open_steps = [*planned, *(s for s in steps if s.key not in done), *steps[-1:]]
    phase = open_steps[0].phase
    return TeamTask(team.code, students, f"Worksheet “{phase.title}”", "at their seats", phase.key)


def _read_aloud(
    session: Session, section: Section, plan: Plan, meeting: Meeting
) -> Iterator[ReadAloud]:
    own = {
        item.concept_id: item
        for item in library.list_treatments(
            session, section.band, section.course.department.school_id
        )
    }
    for lesson in plans.list_lessons(session, plan):
        if lesson.meeting_id != meeting.id or lesson.treatment is None:
            continue
        treatment = own.get(lesson.treatment.concept_id, lesson.treatment)
        yield ReadAloud(
            title=lesson.title,
            minutes=lesson.minutes,
            goal=treatment.goal,
            explanation=treatment.explanation,
            words=tuple((item["term"], item["meaning"]) for item in treatment.vocabulary),
            misconception=treatment.misconception,
            response=treatment.response,
        )


def _still_drying(facts: Facts, meeting: Meeting) -> Iterator[str]:
    """What is, or by the plan will be, still drying when the class begins."""
    begins = meeting.start
    found: dict[tuple[str, str], list[str]] = {}
    for end, moment in facts.out_of_hand:
        step = facts.steps[end.step_id]
        dry = moment + dt.timedelta(hours=(step.drying or {})["hours"]["typical"])
        if moment < begins < dry:
            until = f"{dry:%A %H:%M}"
            found.setdefault((f"{step.key} {step.title}", until), []).append(end.team)
    for (title, until), teams in found.items():
        yield f"{title}, until {until}: {', '.join(teams)}"
