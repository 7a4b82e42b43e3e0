"""Coverage of one small section, counted by hand, and the department's table of it.

| meeting | 1      | 2      | 3    | 4       |
| week    | 1      | 1      | 2    | 2       |
| state   | taught | taught | lost | planned |
| lesson  | ratio  |        | ratio| waves   |
| T1      |        | cut    | cut  | string  |

Ratio teaches A in full and B in part and has a question; waves teaches C in full and has none.
The step cut shows ratio, the step string shows waves. S1 and S2 have a marked sheet on ratio in
meeting 2; S2 has left since. C is required by the day before meeting 4; D is required and
nothing teaches it. All invented.
"""

import datetime as dt
import shutil

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from app import db
from app.domain.standard.depth import CoverageState, Depth, GapCode
from app.models import (
    Activity,
    Alignment,
    Build,
    Concept,
    Course,
    Department,
    Exposure,
    Framework,
    Lesson,
    Mark,
    Meeting,
    MeetingState,
    Phase,
    Plan,
    Question,
    RequiredStandard,
    Role,
    Room,
    School,
    Section,
    Standard,
    Step,
    Student,
    Team,
    Term,
    Treatment,
    User,
)
from app.settings import embedded_url
from app.store import sections
from app.store.paper.worksheets import holders
from app.store.standard import section_coverage
from app.store.standard.department import CoverageCut, department_coverage
from app.store.standard.department_losses import TWO_WEEKS, department_losses
from tests.store.rows import FIRST, add

DAYS = [FIRST + dt.timedelta(days=n) for n in (0, 1, 7, 8)]
STATES = ["taught", "taught", "lost", "planned"]


@pytest.fixture
def engine(empty_file, tmp_path):
    path = tmp_path / "school.db"
    shutil.copy(empty_file, path)
    engine = db.make_engine(embedded_url(path))
    yield engine
    engine.dispose()


@pytest.fixture
def small(engine):
    """A session with the section of the table above."""
    with db.session_factory(engine)() as session:
        _library(session, school := add(session, School, name="Invented"))
        _place(session, school)
        _section(session, "one", ("S1", "S2", "S3"))
        session.commit()
        yield session


def _library(session, school):
    framework = add(session, Framework, school_id=school.id, key="F")
    for code in "ABCD":
        add(session, Standard, framework_id=framework.id, code=code, grade_low="9", grade_high="9")
    build = add(session, Build, school_id=school.id, key="b", band="9-12")
    for phase_key, step_key, concept_key in (
        ("p1", "cut", "ratio"),
        ("p2", "string", "waves"),
    ):
        phase = add(session, Phase, build_id=build.id, key=phase_key)
        step = add(session, Step, phase_id=phase.id, key=step_key, title=step_key)
        concept = add(session, Concept, school_id=school.id, key=concept_key)
        add(session, Exposure, step_id=step.id, concept_id=concept.id)
        add(
            session,
            Treatment,
            concept_id=concept.id,
            band="9-12",
            title=concept_key,
            school_id=school.id,
        )
    ratio, waves = (_named(session, Treatment, title=t) for t in ("ratio", "waves"))
    add(session, Question, treatment_id=ratio.id, key="q", computed=None)
    for treatment, code, strength in (
        (ratio, "A", "strong"),
        (ratio, "B", "partial"),
        (waves, "C", "strong"),
    ):
        standard = _named(session, Standard, code=code, framework_id=framework.id)
        add(
            session,
            Alignment,
            treatment_id=treatment.id,
            standard_id=standard.id,
            strength=strength,
        )


def _named(session, model, **given):
    return session.scalars(sa.select(model).filter_by(**given)).one()


def _place(session, school):
    department = add(session, Department, school_id=school.id, key="shop", name="Shop")
    course = add(session, Course, department_id=department.id, key="c", title="C", band="9-12")
    framework = _named(session, Framework, key="F")
    for code, by in (("C", DAYS[3] - dt.timedelta(days=1)), ("D", None)):
        standard = _named(session, Standard, code=code, framework_id=framework.id)
        add(session, RequiredStandard, course_id=course.id, standard_id=standard.id, by_date=by)
    add(session, Term, school_id=school.id)
    add(session, Room, school_id=school.id)
    add(
        session,
        User,
        school_id=school.id,
        department_id=department.id,
        email="h@x.example",
        name="Head",
        role=Role.DEPARTMENT_HEAD,
    )


def _section(session, key, codes):
    ids = {
        "course_id": _named(session, Course, key="c").id,
        "term_id": session.scalars(sa.select(Term.id)).one(),
        "room_id": session.scalars(sa.select(Room.id)).one(),
        "teacher_id": session.scalars(sa.select(User.id)).one(),
        "build_id": _named(session, Build, key="b").id,
    }
    section = add(session, Section, key=key, title=key, band="9-12", **ids)
    team = add(session, Team, section_id=section.id, code="T1")
    students = {
        code: add(
            session,
            Student,
            section_id=section.id,
            team_id=team.id,
            code=code,
            left=FIRST if code == "S2" else None,
        )
        for code in codes
    }
    meetings = [
        add(
            session,
            Meeting,
            section_id=section.id,
            number=n,
            date=DAYS[n - 1],
            week=(n + 1) // 2,
            state=MeetingState(STATES[n - 1]),
        )
        for n in (1, 2, 3, 4)
    ]
    plan = add(session, Plan, section_id=section.id, reason="Planned", created_by="Head")
    ratio, waves = (_named(session, Treatment, title=t) for t in ("ratio", "waves"))
    for number, treatment in ((1, ratio), (3, ratio), (4, waves)):
        add(
            session,
            Lesson,
            plan_id=plan.id,
            meeting_id=meetings[number - 1].id,
            treatment_id=treatment.id,
            title=treatment.title,
        )
    for number, step in ((2, "cut"), (3, "cut"), (4, "string")):
        add(
            session,
            Activity,
            plan_id=plan.id,
            team_id=team.id,
            step_id=_named(session, Step, key=step, title=step).id,
            meeting_id=meetings[number - 1].id,
        )
    for code in ("S1", "S2"):
        add(
            session,
            Mark,
            student_id=students[code].id,
            treatment_id=ratio.id,
            meeting_id=meetings[1].id,
            artifact="sheet",
            score=8.0,
            out_of=10.0,
        )
    return section


def facts_of(session, key="one"):
    return section_coverage.section_facts(session, _named(session, Section, key=key))


def depths(item):
    return [(item.depths[d].state, item.depths[d].partial) for d in Depth]


def test_every_depth_share_and_recurrence_is_what_counting_by_hand_gives(small):
    found = facts_of(small).coverage.standards

    taught, planned, none = CoverageState.TAUGHT, CoverageState.PLANNED, None
    assert depths(found["F A"]) == [(taught, False)] * 3
    assert depths(found["F B"]) == [(taught, True)] * 3
    assert depths(found["F C"]) == [(planned, False), (none, False), (none, False)]
    assert depths(found["F D"]) == [(none, False)] * 3
    # A: lesson in 1, bench and mark in 2; the lost meeting 3 counts for nothing.
    assert (found["F A"].recurrence.meetings, found["F A"].recurrence.weeks) == (2, 1)
    assert [(cell.week, cell.letters) for cell in found["F A"].cells] == [(1, "IPA")]
    assert [(cell.week, cell.letters) for cell in found["F C"].cells] == [(2, "I")]
    # Of the two enrolled, S1 has a full artifact for A and a partial one for B.
    assert (found["F A"].share.full, found["F A"].share.roster) == (1, 2)
    assert (found["F B"].share.full, found["F B"].share.partial_only) == (0, 1)
    assert found["F A"].depths[Depth.PRACTISED].first == DAYS[1]


def test_the_gaps_are_those_of_the_two_required_standards(small):
    gaps = facts_of(small).coverage.gaps

    assert [(gap.standard, gap.code) for gap in gaps] == [
        ("F D", GapCode.ABSENT),
        ("F C", GapCode.NOT_PRACTISED),
        ("F C", GapCode.NOT_ASSESSED),
        ("F C", GapCode.LATE),
    ]


def test_what_was_planned_for_a_day_gone_by_and_never_recorded_is_a_gap(small):
    # Meeting 4, with the lesson on waves, is planned and was yesterday.
    section = _named(small, Section, key="one")
    gaps = section_coverage.section_facts(
        small, section, DAYS[3] + dt.timedelta(days=1)
    ).coverage.gaps

    assert ("F C", GapCode.NOT_RECORDED) in [(gap.standard, gap.code) for gap in gaps]
    on_the_day = section_coverage.section_facts(small, section, DAYS[3]).coverage.gaps
    assert GapCode.NOT_RECORDED not in {gap.code for gap in on_the_day}


def test_a_cut_phase_takes_its_bench_work_and_the_lesson_only_it_shows(small):
    facts = facts_of(small)

    assert {
        (loss.standard, loss.depth) for loss in section_coverage.losses(facts, phases=["p2"])
    } == {("F C", Depth.INTRODUCED)}
    assert {loss.standard for loss in section_coverage.losses(facts, phases=["p1"])} == {
        "F A",
        "F B",
    }
    assert {loss.standard for loss in section_coverage.losses(facts, weeks=[2, 3])} == {"F C"}


def test_small_groups_are_hidden_and_so_is_what_would_give_them_away(small):
    section = _section(small, "two", [f"N{n}" for n in range(23)] + ["S1", "S2"])
    for student in section.students:
        number = int(student.code[1:])
        student.grade = "9" if student.code[0] == "S" else ("10" if number < 12 else "11")
    small.commit()
    facts = facts_of(small, "two")

    shown = section_coverage.subgroups(facts, facts.coverage.standards["F A"])

    # Grade 9 has one enrolled student: hidden. Grade 11 (11 students) is the smallest other
    # group; shown, it would give grade 9 away by subtraction.
    assert shown["grade 10"] == "0 of 12"
    assert "not shown" in shown["grade 9"]
    assert "not shown" in shown["grade 11"]


def test_the_departments_table_agrees_with_each_sections_coverage(small):
    _section(small, "two", ("S1", "S2", "S3", "S4"))
    small.commit()
    head = small.scalars(sa.select(User)).one()
    department = _named(small, Department, key="shop")

    found = department_coverage(small, head, department)

    assert [h.key for h in found.heads] == ["one", "two"]
    for column in found.heads:
        facts = facts_of(small, column.key)
        for code, item in facts.coverage.standards.items():
            standing = found.at(column, code)
            assert standing.depths == dict(item.depths), code
            assert (standing.students, column.roster) == (item.share.full, item.share.roster)
    assert found.required == {"F C", "F D"}
    assert found.gaps(found.heads[0]) == [
        ("F C", False, "never practised, never assessed, late"),
        ("F D", False, "nothing in the plan"),
    ]


def test_the_sample_departments_table_agrees_with_each_sections_coverage(session):
    head = session.scalars(sa.select(User).where(User.role == Role.DEPARTMENT_HEAD)).first()

    found = department_coverage(session, head, head.department)

    assert len(found.heads) >= 2
    for column in found.heads:
        facts = facts_of(session, column.key)
        for code, item in facts.coverage.standards.items():
            assert found.at(column, code).depths == dict(item.depths), (column.key, code)
            assert found.at(column, code).students == item.share.full, (column.key, code)


def test_a_day_decides_who_counts_in_section_and_department_alike(session):
    head = _named(session, User, email="head@demo.example")
    section = _named(session, Section, key="period-3")
    day = dt.date(2027, 3, 1)
    by_code = {student.code: student for student in section.students}
    by_code["S1-07"].entered = day + dt.timedelta(days=1)
    by_code["S1-08"].left = day
    by_code["S1-09"].left = day + dt.timedelta(days=19)
    session.flush()

    facts = section_coverage.section_facts(session, section, day)
    found = department_coverage(session, head, head.department, today=day)

    assert set(facts.roster) == set(by_code) - {"S1-07", "S1-08"}
    (column,) = (item for item in found.heads if item.key == "period-3")
    assert column.roster == len(facts.roster)
    for code, item in facts.coverage.standards.items():
        assert found.at(column, code).students == item.share.full
    students = [student for student in section.students if student.enrolled(day)]
    assert set(
        session.scalars(
            sa.select(Student.code).where(
                Student.section_id == section.id, Student.enrolled_rows(day)
            )
        )
    ) == {student.code for student in students}
    assert [h.code for h in holders(session, section, "student", on=day)] == list(facts.roster)


def _cut(session, phases=(), weeks=None):
    keys = sa.select(Phase.id).where(Phase.key.in_(phases))
    first, last = weeks or (None, None)
    return CoverageCut(tuple(session.scalars(keys)), first, last)


def _lost(session, cut):
    head = session.scalars(sa.select(User).where(User.role == Role.DEPARTMENT_HEAD)).first()
    found = department_losses(session, head, head.department, cut)
    return {
        (loss.standard, loss.depth): (
            [(change.head.key, change.words) for change in loss.changes],
            [held.key for held in loss.held_by],
            loss.everywhere,
        )
        for loss in found
    }


def test_the_departments_losses_are_its_sections_losses_summed_up(small):
    # Section two is section one without the lesson on waves: C is carried by one alone.
    two = _section(small, "two", ("S1", "S2", "S3"))
    waves = _named(small, Treatment, title="waves")
    plan = _named(small, Plan, section_id=two.id)
    small.delete(_named(small, Lesson, plan_id=plan.id, treatment_id=waves.id))
    small.commit()
    both = [("one", "gone"), ("two", "gone")]

    assert _lost(small, _cut(small, ["p2"])) == {
        ("F C", Depth.INTRODUCED): ([("one", "gone")], [], True)
    }
    # Phase p1 alone shows ratio: bench work, lesson and marks go in both sections.
    assert _lost(small, _cut(small, ["p1"])) == {
        (code, depth): (both, [], True) for code in ("F A", "F B") for depth in Depth
    }
    assert _lost(small, _cut(small, weeks=(DAYS[2], DAYS[3]))) == {
        ("F C", Depth.INTRODUCED): ([("one", "gone")], [], True)
    }
    # Section two hands in ratio on the second day; without the first day it keeps all but the lesson.
    lost = _lost(small, _cut(small, weeks=(DAYS[0], DAYS[0])))
    assert lost == {(code, Depth.INTRODUCED): (both, [], True) for code in ("F A", "F B")}
    assert _lost(small, _cut(small)) == {}


def test_what_another_section_still_holds_is_not_lost_everywhere(small):
    two = _section(small, "two", ("S1", "S2"))
    for meeting in small.scalars(sa.select(Meeting).where(Meeting.section_id == two.id)):
        meeting.date += dt.timedelta(days=14)
    small.commit()

    lost = _lost(small, _cut(small, weeks=(DAYS[0], DAYS[3])))

    assert lost["F A", Depth.PRACTISED] == ([("one", "gone")], ["two"], False)


def test_the_sample_departments_losses_agree_with_each_sections(session):
    head = session.scalars(sa.select(User).where(User.role == Role.DEPARTMENT_HEAD)).first()
    facts = {
        section.key: section_coverage.section_facts(session, section)
        for section in sections.list_sections(session, head)
    }
    phases = {p.key for f in facts.values() for p in f.section.build.phases}
    meetings = sorted({m.date for f in facts.values() for m in f.section.meetings})
    mondays = sorted({date - dt.timedelta(days=date.weekday()) for date in meetings})
    cuts = [(_cut(session, [key]), {"phases": [key]}) for key in sorted(phases)]
    fell_back = 0
    for cut, given in [*cuts, *((c, None) for c in mondays[::4])]:
        days = (cut, cut + TWO_WEEKS) if given is None else None
        found = {
            (key, code, depth)
            for (code, depth), (changes, _, _) in _lost(
                session, cut if given else _cut(session, weeks=days)
            ).items()
            for key, _ in changes
        }
        each = set()
        for key, fact in facts.items():
            weeks = {m.week for m in fact.section.meetings if days and days[0] <= m.date <= days[1]}
            losses = section_coverage.losses(fact, **(given or {"weeks": weeks}))
            each |= {(key, loss.standard, loss.depth) for loss in losses}
        assert found == each, (given, days)
        fell_back += len(each)
    assert fell_back


def test_the_department_takes_the_same_number_of_queries_whatever_its_size(small, engine):
    head = small.scalars(sa.select(User)).one()
    department = _named(small, Department, key="shop")
    counted = []
    event.listen(engine, "before_cursor_execute", lambda *args: counted.append(args[2]))

    def queries():
        small.commit()
        counted.clear()
        department_losses(small, head, department, _cut(small, ["p1"], (DAYS[0], DAYS[1])))
        return len([s for s in counted if s.startswith("SELECT")])

    one = queries()
    for number in range(6):
        _section(small, f"more-{number}", ("S1", "S2"))

    assert queries() == one
    assert one <= 29  # twice fourteen, and the cut's own
