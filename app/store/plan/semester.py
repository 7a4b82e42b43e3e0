"""The semester at a glance: phases, lessons, standards and milestones by week; pictures' facts."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from app.domain.dates import long_date
from app.domain.papers.plan_pictures import GridCell, LoadRow, TimelineRow
from app.domain.papers.semester_plan import PlannedWeek, SemesterPlan, WeekColumn
from app.models import Activity, Alignment, Lesson, Meeting, MeetingState, Plan, Section
from app.store import library, sections
from app.store.plan import plans


@dataclass
class Week:
    """One row of the semester plan."""

    number: int
    meetings: list[Meeting] = field(default_factory=list)
    phases: list[str] = field(default_factory=list)
    lessons: list[str] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)
    milestones: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Semester:
    """Weeks, and the rows of the two pictures: teams over meetings, stations over weeks."""

    weeks: tuple[Week, ...]
    meetings: tuple[Meeting, ...]
    timeline: tuple[TimelineRow, ...]
    loads: tuple[LoadRow, ...]
    phase_titles: tuple[str, ...]
    notices: tuple[str, ...]


def semester_of(session: Session, section: Section, plan: Plan) -> Semester:
    """All facts of the semester pages, in a fixed number of queries."""
    meetings = sections.list_meetings(session, section)
    rows = plans.list_activities(session, plan)
    phases = [phase.title for phase in section.build.phases]
    weeks = {m.week: Week(m.week) for m in meetings}
    for meeting in meetings:
        weeks[meeting.week].meetings.append(meeting)
    _add_phases(weeks, rows)
    lessons = plans.list_lessons(session, plan)
    taught = {row.treatment_id for row in lessons if row.treatment_id is not None}
    held = library.alignments_seen(session, taught, section.course.department.school_id)
    _add_lessons(weeks, lessons, held)
    _add_milestones(weeks, section, rows)
    return Semester(
        weeks=tuple(weeks.values()),
        meetings=tuple(meetings),
        timeline=tuple(_timeline(section, meetings, rows)),
        loads=tuple(_loads(section, meetings, rows)),
        phase_titles=tuple(phases),
        notices=tuple(sorted(_notices(held.values()))),
    )


def semester_plan(session: Session, section: Section, plan: Plan) -> SemesterPlan:
    """The semester as the paper shows it."""
    glance = semester_of(session, section, plan)
    numbers = {title: n for n, title in enumerate(glance.phase_titles, 1)}
    return SemesterPlan(
        section=section.title,
        build=section.build.title,
        term=section.term.title,
        verdict=verdict(section, plan),
        weeks=tuple(
            PlannedWeek(
                week.number,
                _span(week),
                tuple(numbers[title] for title in week.phases),
                tuple(week.lessons),
                tuple(week.codes),
                tuple(week.milestones),
            )
            for week in glance.weeks
        ),
        columns=tuple(
            WeekColumn(
                meeting.week,
                f"{meeting.date.day}/{meeting.date.month}",
                lesson=meeting.lesson_minutes > 0,
                lost=meeting.state is MeetingState.LOST,
                showcase=meeting.date == section.showcase,
            )
            for meeting in glance.meetings
        ),
        teams=glance.timeline,
        phases=glance.phase_titles,
        uncovered=tuple(item["sentence"] for item in plan.uncovered),
        notices=glance.notices,
    )


def verdict(section: Section, plan: Plan) -> str:
    """Whether the instruments are finished, and when, in sentences."""
    if plan.teams_complete == plan.teams and plan.finish_date:
        text = f"All {plan.teams} instruments are finished by {long_date(plan.finish_date)}"
        if section.showcase:
            when = "in time for" if plan.finish_date < section.showcase else "too late for"
            text += f", {when} the showcase on {long_date(section.showcase)}"
    else:
        text = f"{plan.teams_complete} of {plan.teams} instruments are finished by the end of term"
    if plan.broken_rules:
        text += f". The plan breaks {len(plan.broken_rules)} rules: see it on screen"
    return text + "."


def _span(week: Week) -> str:
    days = [meeting.date for meeting in week.meetings]
    first, last = days[0], days[-1]
    lost = [f"{m.date:%a} {m.date.day} lost" for m in week.meetings if m.state is MeetingState.LOST]
    return "; ".join([f"{first.day} {first:%b} to {last.day} {last:%b}", *lost])


def _notices(held: Iterable[list[Alignment]]) -> set[str]:
    notices = {item.standard.framework.notice for items in held for item in items}
    return notices - {""}


def _add_phases(weeks: dict[int, Week], rows: list[Activity]) -> None:
    seen: dict[int, dict[str, int]] = defaultdict(dict)
    for row in rows:
        phase = row.step.phase
        seen[row.meeting.week][phase.title] = phase.position
    for number, titles in seen.items():
        weeks[number].phases = sorted(titles, key=titles.__getitem__)


def _add_lessons(
    weeks: dict[int, Week], lessons: list[Lesson], held: dict[int, list[Alignment]]
) -> None:
    for lesson in lessons:
        week = weeks[lesson.meeting.week]
        if lesson.title not in week.lessons:
            week.lessons.append(lesson.title)
        for item in held.get(lesson.treatment_id or 0, ()):
            code = item.standard.code
            shown = code if item.strength == "strong" else f"({code})"
            if not item.practice and shown not in week.codes:
                week.codes.append(shown)


def milestone_dates(section: Section, rows: list[Activity]) -> list[tuple[dt.date, str]]:
    """A phase's milestone falls on the day on which the last team ends it; then the showcase."""
    ends: dict[int, dt.date] = {}
    for row in rows:
        phase_id = row.step.phase_id
        ends[phase_id] = max(ends.get(phase_id, row.meeting.date), row.meeting.date)
    found = [
        (ends[phase.id], phase.milestone.rstrip(".") or f"{phase.title} done")
        for phase in section.build.phases
        if phase.id in ends
    ]
    if section.showcase is not None:
        found.append((section.showcase, "Showcase"))
    return found


def _add_milestones(weeks: dict[int, Week], section: Section, rows: list[Activity]) -> None:
    for date, text in milestone_dates(section, rows):
        monday = date - dt.timedelta(days=date.weekday())
        for week in weeks.values():
            first = week.meetings[0].date
            if first - dt.timedelta(days=first.weekday()) == monday:
                day = f" {date:%A} {date.day}" if text == "Showcase" else ""
                week.milestones.append(f"{text}{day}")


def _timeline(section: Section, meetings: list[Meeting], rows: list[Activity]) -> list[TimelineRow]:
    columns = {meeting.id: column for column, meeting in enumerate(meetings)}
    cells: dict[str, dict[int, GridCell]] = defaultdict(dict)
    for row in rows:
        column = columns[row.meeting_id]
        held = cells[row.team.code].get(column)
        # A meeting in which a team works on two phases shows the later one.
        if held is None or row.step.phase.position + 1 >= held.phase:
            cells[row.team.code][column] = GridCell(
                column=column,
                phase=row.step.phase.position + 1,
                taught=row.meeting.state is MeetingState.TAUGHT,
            )
    codes = sorted({team.code for team in section.teams})
    return [TimelineRow(code, tuple(cells[code].values())) for code in codes]


def _loads(section: Section, meetings: list[Meeting], rows: list[Activity]) -> list[LoadRow]:
    """Places taken times minutes, against what the station offers, by week and per cent."""
    offered: dict[int, int] = defaultdict(int)
    for meeting in meetings:
        if meeting.state is not MeetingState.LOST:
            offered[meeting.week] += meeting.work_minutes
    taken: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for row in rows:
        taken[row.step.station][row.meeting.week] += row.minutes * row.step.places
    return [
        LoadRow(
            station.title,
            station.places,
            tuple(
                taken[station.key][week] / (minutes * station.places)
                if minutes and station.places
                else 0.0
                for week, minutes in offered.items()
            ),
        )
        for station in section.room.stations
        if station.key in taken
    ]
