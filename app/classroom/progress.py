"""How far each team is: the spread against the plan, the table of steps, one team at one step."""

from flask import render_template, request

from app.classroom.day_pages import EVENTS, TICKS, Refused
from app.domain.classroom.class_data import NARROW, Point, strip
from app.models import MeetingState, Section, Step, Team
from app.store import Missing, sections
from app.store.classroom import bench_work, class_day, evidence, readings
from app.store.paper import papers
from app.store.plan import plans
from app.web.access import me
from app.web.clock import today_here
from app.web.request_session import db


def progress_page(section: Section) -> str:
    """Ahead and behind, then steps down and teams across, then readings out of limits."""
    session = db()
    every = plans.list_plans(session, section)
    plan = plans.current_plan(session, section)
    first = every[-1] if every else None
    chosen = plan if request.args.get("plan") == "current" else first
    teams = sections.load_teams(session, section)
    minutes, until = (
        class_day.spread_minutes(session, section, chosen) if chosen is not None else ({}, None)
    )
    points = [Point(team.code, minutes.get(team.id, 0.0)) for team in teams]
    return render_template(
        "classroom/progress.html",
        section=section,
        steps=sections.load_steps(session, section.build_id),
        teams=teams,
        progress=bench_work.progress_of(session, section),
        out=readings.out_of_limits(session, section),
        points=sorted(points, key=lambda point: (point.value, point.holder)),
        spread=strip(points, apart=52.0) if points and until is not None else None,
        narrow=strip(points, width=NARROW),
        until=until,
        chosen=chosen,
        first=first,
        plan=plan,
    )


def work_page(section: Section, team: Team, step: Step, refused: Refused | None = None) -> str:
    """A team at one step: its records, its readings, and the form to add one."""
    session = db()
    meetings = [
        m for m in sections.list_meetings(session, section) if m.state is not MeetingState.LOST
    ]
    past = [m for m in meetings if m.date <= today_here()]
    if not meetings:
        raise Missing("meeting")
    meeting = past[-1] if past else meetings[0]
    away = evidence.absent_codes(session, meeting)
    members = [student for student in team.students if student.enrolled(meeting.date)]
    here = [student for student in members if student.code not in away]
    states, titles = class_day.permit_states(session, section, [step], meeting.date)
    stations = papers.station_titles(session, section)
    pair = (team.id, step.id)
    bench = class_day.Bench(
        team_id=team.id,
        team=team.code,
        step=step,
        station=stations.get(step.station, step.station),
        minutes=0,
        part=1,
        parts=1,
        here=here,
        away=[student for student in members if student.code in away],
        lacking=class_day.lacking(here, step, states, titles),
        refusal=class_day.refusal(team.code, here, step, states, titles),
        waits=class_day.waiting_for(session, section, team, step),
        records=bench_work.progress_of(session, section, only=[pair]).get(pair, []),
    )
    return render_template(
        "classroom/work.html",
        section=section,
        meeting=meeting,
        bench=bench,
        hazards=[papers.hazard_of(step)] if bench.hazardous else [],
        readings=[
            row
            for row in readings.measurements_of(session, section)
            if row.team_id == team.id and row.step_id == step.id
        ],
        mine=sections.may_change(me(), section),
        events=EVENTS,
        ticks=TICKS,
        refused=refused,
        given=refused.given if refused else {},
    )
