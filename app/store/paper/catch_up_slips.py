"""The facts of catch-up slips: what each absent student missed in a meeting."""

from collections.abc import Mapping, Sequence

from sqlalchemy.orm import Session

from app.domain.cautions import HAZARDOUS
from app.domain.papers.catch_up import MissedLesson, MissedWork, Slip
from app.models import Lesson, Meeting, Plan, Section, Step, Student
from app.store import sections
from app.store.classroom import bench_work, class_day, evidence, readings, sign_offs
from app.store.paper import papers
from app.store.plan import plan_days


def slips_of(session: Session, section: Section, plan: Plan, meeting: Meeting) -> list[Slip]:
    """A slip for every student recorded as away from a meeting, in the order of codes."""
    away = evidence.absent_codes(session, meeting)
    facts = papers.Facts(session, section, plan, [meeting])
    on_paper = facts.meeting(meeting)
    steps = {step.id: step for step in sections.load_steps(session, section.build_id)}
    rows = facts.activities[meeting.id]
    taught = facts.lessons[meeting.id]
    phases = _papers(taught, [steps[row.step_id] for row in rows], steps)
    lessons = tuple(
        MissedLesson(item.title, item.goal, item.minutes, phases.get(item.concept, ""), item.codes)
        for item in on_paper.lessons
    )
    work = _Work(session, section, meeting, steps, rows, facts)
    teams = {team.id: team for team in sections.load_teams(session, section)}
    slips = []
    enrolled = [student for student in section.students if student.enrolled(meeting.date)]
    for student in enrolled:
        if student.code not in away:
            continue
        team = teams.get(student.team_id) if student.team_id is not None else None
        others = _team_mates(student, enrolled)
        there = [other.code for other in others if other.code not in away]
        slips.append(
            Slip(
                section=section.title,
                student=student.code,
                team=team.code if team else "",
                date=meeting.date,
                partners=tuple(there),
                team_away=bool(others) and not there,
                lessons=lessons,
                briefings=on_paper.briefings,
                work=tuple(work.of(student)),
                signing_off=work.signing_off(student),
                hazards=tuple(
                    papers.hazard_of(step)
                    for step in work.steps_of(student)
                    if step.hazard_class in HAZARDOUS
                ),
                notices=tuple(sorted(facts.notices)),
            )
        )
    return slips


def _team_mates(student: Student, enrolled: Sequence[Student]) -> list[Student]:
    return [
        other
        for other in enrolled
        if student.team_id is not None
        and other.team_id == student.team_id
        and other.id != student.id
    ]


def _papers(
    taught: Sequence[Lesson], today: Sequence[Step], steps: Mapping[int, Step]
) -> dict[str, str]:
    """Concept title → title of the phase whose worksheet goes with the lesson."""
    titles = {step.phase.key: step.phase.title for step in steps.values()}
    found = {}
    for lesson in taught:
        if lesson.treatment is not None:
            key = class_day.taught_paper(today, steps.values(), lesson.treatment.concept_id)
            found[lesson.treatment.concept.title] = titles.get(key, "")
    return found


class _Work:
    """What each team was planned to do in a meeting, and what came of it."""

    def __init__(
        self,
        session: Session,
        section: Section,
        meeting: Meeting,
        steps: dict[int, Step],
        rows: list[plan_days.Placed],
        facts: papers.Facts,
    ) -> None:
        self.steps, self.rows = steps, rows
        self.stations, self.done = facts.stations, plan_days.done_in(session, section)
        self.recorded = bench_work.recorded_in(session, meeting)
        self.readings = {
            (row.team_id, row.step_id): row for row in readings.measurements_of(session, section)
        }
        self.states = sign_offs.sign_off_states(session, section, on=meeting.date)
        self.titles = {key: kind.title for key, kind in facts.permits.items()}

    def steps_of(self, student: Student) -> list[Step]:
        """The steps planned for the student's team, and any other it recorded that day."""
        planned = [row.step_id for row in self.rows if row.team_id == student.team_id]
        recorded = [step_id for team_id, step_id in self.recorded if team_id == student.team_id]
        return [self.steps[step_id] for step_id in dict.fromkeys([*planned, *recorded])]

    def of(self, student: Student) -> list[MissedWork]:
        """The student's team's work as the slip names it."""
        found = []
        for step in self.steps_of(student):
            key = (student.team_id or 0, step.id)
            reading = self.readings.get(key)
            found.append(
                MissedWork(
                    step=step.key,
                    title=step.title,
                    where=self.stations.get(step.station, step.station),
                    done=key in self.done,
                    own=step.whole_class or bool(step.grants),
                    way=step.catch_up,
                    reading=f"{reading.written} ({(step.check or {}).get('what', '')})"
                    if reading
                    else "",
                )
            )
        return found

    def signing_off(self, student: Student) -> tuple[str, ...]:
        """What the student still needs before each station of the missed work."""
        found = {}
        for step in self.steps_of(student):
            if not step.permit or step.permit in step.grants:
                continue
            state = self.states.get(student.code, {}).get(step.permit, sign_offs.NOTHING)
            if not state.signed_off:
                title = self.titles.get(step.permit, step.permit)
                found[step.permit] = f"{title}: not signed off yet ({state.why_not})."
        return tuple(found.values())
