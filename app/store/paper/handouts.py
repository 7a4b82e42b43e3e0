"""The facts behind the papers that are no worksheets: route cards, tests, letters, statements."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence

from sqlalchemy.orm import Session

from app.domain.cautions import HAZARDOUS
from app.domain.dates import long_date
from app.domain.papers import coverage_statement, letter_home, progress_note, safety_test
from app.domain.papers.facts import Check, Head, StepFacts
from app.domain.papers.sign_off_log import SignedOff
from app.domain.standard.depth import Depth, StandardCoverage
from app.models import Phase, Section, Step, Student
from app.store import library, sections
from app.store.classroom import bench_work, readings, sheet_marks, sign_offs
from app.store.missing import Missing
from app.store.paper import safety_banks
from app.store.paper.papers import hazard_of
from app.store.paper.worksheets import find_phase
from app.store.standard import section_coverage

NEXT_STEPS = 3


def head(section: Section, date: dt.date | None = None, holder: str = "") -> Head:
    """What stands at the head of a section's papers."""
    return Head(section.title, section.build.title, long_date(date) if date else "", holder)


def step_facts(section: Section, steps: Iterable[Step]) -> tuple[StepFacts, ...]:
    """Steps as papers show them."""
    stations = {row.key: row.title for row in section.room.stations}
    return tuple(
        StepFacts(
            key=step.key,
            title=step.title,
            station=_short(stations.get(step.station, step.station)),
            minutes=round(step.minutes_typical),
            hold_point=step.hold_point,
            check=_check(step),
            permit=step.permit or "",
            drying=_drying(step),
            tools=tuple(step.tools),
            hazard=hazard_of(step) if step.hazard_class in HAZARDOUS else None,
        )
        for step in steps
    )


def _short(station: str) -> str:
    """A station's name without its equipment, for narrow columns."""
    for mark in (" (", ",", " with "):
        station = station.partition(mark)[0]
    return station


def _check(step: Step) -> Check | None:
    if not step.check:
        return None
    names = ("what", "nominal", "tolerance", "unit", "measure_with", "record_as", "if_out")
    return Check(**{name: str(step.check.get(name) or "") for name in names})


def _drying(step: Step) -> str:
    if not step.drying:
        return ""
    hours = step.drying["hours"]["typical"]
    what = step.drying.get("what") or "drying"
    return f"{what}, about {hours:g} h"


def phase_steps(
    session: Session, section: Section, phase_key: str
) -> tuple[Phase, tuple[StepFacts, ...]]:
    """A phase and its steps.

    Raises Missing for an unknown phase.
    """
    phase = find_phase(section.build, phase_key)
    rows = [s for s in sections.load_steps(session, section.build_id) if s.phase_id == phase.id]
    return phase, step_facts(section, rows)


def permits_asked(session: Session, section: Section) -> dict[str, str]:
    """The sign-offs that the section's build asks for, key to title, in order of first use."""
    kinds = sign_offs.permits_of(session, section)
    asked = dict.fromkeys(
        step.permit for step in sections.load_steps(session, section.build_id) if step.permit
    )
    return {key: kinds[key].title for key in asked if key in kinds}


def station_of(session: Session, section: Section, permit: str) -> safety_test.SafetyStation:
    """What the safety test of a permit asks about.

    Raises Missing for a permit the build does not ask for.
    """
    titles = permits_asked(session, section)
    if permit not in titles:
        raise Missing(f"permit {permit}; known: {', '.join(titles)}")
    steps = sections.load_steps(session, section.build_id)
    own = [step for step in steps if step.permit == permit and (step.cautions or step.hazards)]
    return safety_test.SafetyStation(
        permit=permit,
        title=titles[permit],
        hazards=tuple(hazard_of(step) for step in own),
        items=safety_banks.items_of(session, section.course.department.school_id, permit),
    )


def sign_off_rows(
    session: Session, section: Section, on: dt.date
) -> tuple[list[tuple[str, str]], list[SignedOff]]:
    """The permits asked for and, per student enrolled, the dates of the parts on record."""
    permits = list(permits_asked(session, section).items())
    states = sign_offs.sign_off_states(session, section, on=on)
    letters = {"lesson": "L", "test": "T", "check-out": "C"}
    rows = []
    for student in (student for student in section.students if student.enrolled(on)):
        records = []
        for key, _ in permits:
            state = states.get(student.code, {}).get(key, sign_offs.NOTHING)
            days: dict[dt.date, str] = {}
            for part, letter in letters.items():
                if part in state.parts:
                    day = state.parts[part]
                    days[day] = f"{days.get(day, '')} {letter}".strip()
            text = ", ".join(f"{said} {day.day} {day:%b}" for day, said in days.items())
            records.append("suspended" if state.suspended else text)
        rows.append(SignedOff(student.code, tuple(records)))
    return permits, rows


def course_facts(session: Session, section: Section) -> letter_home.CourseFacts:
    """What the letter home says of a section's course."""
    steps = sections.load_steps(session, section.build_id)
    meetings = sections.list_meetings(session, section)
    counts: dict[str, int] = defaultdict(int)
    for step in steps:
        for exposure in step.exposures:
            counts[exposure.concept.title] += 1
    often = sorted(counts, key=lambda title: (-counts[title], title))
    return letter_home.CourseFacts(
        summary=section.build.summary,
        teacher=section.teacher.name,
        first=meetings[0].date if meetings else None,
        showcase=section.showcase,
        meetings=len(meetings),
        concepts=tuple(often),
        hazards=tuple(hazard_of(step) for step in steps if step.hazard_class in HAZARDOUS),
        finishes=any(step.hazard_class == "chemical" for step in steps),
    )


def standings(
    session: Session, section: Section, on: dt.date, only: str = ""
) -> list[tuple[str, progress_note.NoteStanding]]:
    """Student code and what is on record, for everyone enrolled or for one code.

    Raises Missing where the code is nobody's.
    """
    students = [s for s in section.students if s.enrolled(on) and (not only or s.code == only)]
    if only and not students:
        raise Missing(f"student {only}")
    facts = _Standings(session, section, on)
    return [(student.code, facts.of(student)) for student in students]


class _Standings:
    """Everything the progress notes of a section need, loaded once."""

    def __init__(self, session: Session, section: Section, on: dt.date) -> None:
        self.section = section
        self.steps = sections.load_steps(session, section.build_id)
        self.states = sign_offs.sign_off_states(session, section, on=on)
        self.permits = permits_asked(session, section)
        self.done: dict[int, set[int]] = defaultdict(set)
        for (team_id, step_id), rows in bench_work.progress_of(session, section).items():
            if any(row.event == "done" for row in rows):
                self.done[team_id].add(step_id)
        self.readings: dict[int, list[progress_note.NoteReading]] = defaultdict(list)
        for row in readings.measurements_of(session, section):
            check = _check(row.step)
            self.readings[row.team_id].append(
                progress_note.NoteReading(
                    row.step.key,
                    check.what if check else row.quantity,
                    row.written,
                    check.target if check else "",
                    row.within,
                )
            )
        self.marks: dict[int, list[tuple[str, str, str]]] = defaultdict(list)
        for work in sheet_marks.marked_work(sheet_marks.marks_of(session, section)):
            title = work.treatment.title if work.treatment else "the teacher’s own questions"
            text = f"{work.score:g} of {work.out_of:g}"
            self.marks[work.student.id].append((work.artifact, title, text))

    def of(self, student: Student) -> progress_note.NoteStanding:
        done = self.done[student.team_id or 0]
        left = [step for step in self.steps if step.id not in done]
        following = left[:NEXT_STEPS]
        states = self.states.get(student.code, {})
        signed = {key for key, state in states.items() if state.signed_off}
        return progress_note.NoteStanding(
            team=student.team.code if student.team else "",
            done=len(done),
            steps=len(self.steps),
            phase=left[0].phase.title if left else "",
            next_steps=tuple(f"{step.key} {step.title}" for step in following),
            readings=tuple(self.readings[student.team_id or 0][-6:]),
            signed_off=tuple(title for key, title in self.permits.items() if key in signed),
            missing=tuple(
                f"{title}: {states.get(key, sign_offs.NOTHING).why_not}"
                for key, title in self.permits.items()
                if key not in signed
            ),
            marks=tuple(self.marks[student.id]),
            hazards=tuple(hazard_of(s) for s in following if s.hazard_class in HAZARDOUS),
        )


def coverage_rows(
    session: Session, section: Section
) -> tuple[list[coverage_statement.StatementRow], list[str], list[str]]:
    """Required standards first, the gaps in sentences, and the owners' notices."""
    facts = section_coverage.section_facts(session, section)
    items = sorted(
        (s for s in facts.coverage.standards.values() if s.required or s.evidence),
        key=lambda item: (not item.required, item.standard),
    )
    rows = [_coverage_row(item, facts.standards[item.standard].domain) for item in items]
    notices = [facts.standards[item.standard].framework.notice for item in items]
    return rows, [gap.sentence for gap in facts.coverage.gaps], list(dict.fromkeys(notices))


def _coverage_row(item: StandardCoverage, domain: str) -> coverage_statement.StatementRow:
    words = {}
    for depth in (Depth.INTRODUCED, Depth.PRACTISED, Depth.ASSESSED):
        reached = item.depths.get(depth)
        text = str(reached.state) if reached is not None and reached.state is not None else ""
        words[depth] = f"({text})" if text and reached is not None and reached.partial else text
    return coverage_statement.StatementRow(
        code=item.standard,
        required=item.required,
        domain=domain,
        introduced=words[Depth.INTRODUCED],
        practised=words[Depth.PRACTISED],
        assessed=words[Depth.ASSESSED],
        evidence=len(item.evidence),
        share=f"{item.share.full} of {item.share.roster}" if item.share.roster else "",
    )


def goals_of(session: Session, section: Section, count: int = 5) -> Sequence[str]:
    """The goals of the lessons a build shows most often, at the section's band."""
    shown: dict[int, int] = defaultdict(int)
    for step in sections.load_steps(session, section.build_id):
        for exposure in step.exposures:
            shown[exposure.concept_id] += 1
    school_id = section.course.department.school_id
    rows = library.list_treatments(session, section.band, school_id)
    rows.sort(key=lambda row: -shown[row.concept_id])
    return tuple(row.goal for row in rows[:count] if shown[row.concept_id])
