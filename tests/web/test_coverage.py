"""Coverage as teacher and head meet it: every cell opens, reviews, approvals, losses, exports."""

import csv
import datetime as dt
import html
import io
import re

import pytest
import sqlalchemy as sa

from app.models import (
    Course,
    Department,
    Lesson,
    MeetingState,
    Review,
    Role,
    School,
    Section,
)
from app.store import accounts
from app.store.standard import section_coverage
from tests.conftest import signed_in
from tests.pages import check_page, get, post

PAGE = "/sections/period-3/coverage"


@pytest.fixture
def head(app):
    return signed_in(app, "head")


def other_section(session):
    """A section of another department, with another teacher."""
    school = session.scalars(sa.select(School)).one()
    department = Department(school_id=school.id, key="mathematics", name="Mathematics")
    session.add(department)
    session.flush()
    course = Course(department_id=department.id, key="algebra", title="Algebra II", band="9-12")
    teacher = accounts.create_user(
        session,
        school=school,
        email="other@demo.example",
        name="Another teacher",
        role=Role.TEACHER,
        password="spruce and maple",
        now=dt.datetime.now(dt.UTC),
        department=department,
    )
    session.add(course)
    session.flush()
    first = session.scalars(sa.select(Section)).first()
    copied = {
        column.key: getattr(first, column.key)
        for column in sa.inspect(Section).columns
        if column.key not in ("id", "key", "course_id", "teacher_id")
    }
    section = Section(key="other-section", course_id=course.id, teacher_id=teacher.id, **copied)
    session.add(section)
    session.commit()
    return section


def facts_of(session, key="period-3"):
    section = session.scalars(sa.select(Section).where(Section.key == key)).one()
    facts = section_coverage.section_facts(session, section)
    session.commit()
    return facts


def test_gaps_come_first_and_every_cell_opens_its_evidence(teacher, session):
    page = get(teacher, PAGE)
    cells = sorted(set(re.findall(r'class="cell" href="([^"]+)"', page)))

    assert page.index("Gaps</h2>") < page.index("Required standards by week")
    assert len(cells) > 20
    for address in cells[::7]:
        assert "is the evidence?" in get(teacher, address.replace("&amp;", "&"))


def test_the_table_says_depth_state_and_part_in_words_too(teacher):
    page = get(teacher, PAGE)

    assert "introduced, taught" in page
    assert "in part" in page


def test_an_unknown_standard_is_not_found_and_an_unplaced_one_opens_empty(teacher, session):
    facts = facts_of(session)
    unplaced = [code for code in facts.standards if code not in facts.coverage.standards]

    get(teacher, f"{PAGE}/NO.SUCH.CODE", status=404)
    assert unplaced
    assert "Nothing in this plan bears on it" in get(teacher, f"{PAGE}/{unplaced[0]}")


# --- reviews -------------------------------------------------------------------------------------


def test_a_head_comments_on_one_week_of_one_standard_and_the_teacher_answers(
    head, teacher, session
):
    facts = facts_of(session)
    item = next(i for i in facts.coverage.standards.values() if i.cells and i.required)
    week = item.cells[0].week
    address = f"{PAGE}/{item.standard}"

    refused = head.post(f"{address}/reviews", data={"kind": "comment", "week": week, "body": " "})
    assert refused.status_code == 422
    check_page(refused.text)
    post(head, f"{address}/reviews", kind="request", week=week, body="Where is the marked work?")

    review = session.scalars(sa.select(Review)).one()
    session.commit()
    assert (review.week, review.standard_id) == (week, facts.standards[item.standard].id)
    assert "Where is the marked work?" in get(teacher, f"{address}?week={week}")
    assert "Where is the marked work?" in get(teacher, PAGE)
    empty = teacher.post(f"{PAGE}/reviews/{review.id}/answer", data={"answer": " "})
    assert empty.status_code == 422
    assert "Write an answer." in empty.text
    post(teacher, f"{PAGE}/reviews/{review.id}/answer", answer="In the binder, week 6.")
    assert "In the binder, week 6." in get(head, PAGE)


def test_a_teacher_reviews_nobody(teacher, session):
    facts = facts_of(session)

    post(teacher, f"{PAGE}/reviews", status=404, kind="approval", body="I approve myself.")
    code = next(iter(facts.coverage.standards))
    post(teacher, f"{PAGE}/{code}/reviews", status=404, kind="comment", body="x")


def test_an_approval_keeps_what_was_approved_and_the_page_says_what_changed_since(
    head, teacher, session
):
    facts = facts_of(session)
    post(head, f"{PAGE}/reviews", kind="approval", body="Agreed in February.")
    assert "It stands exactly as approved." in get(teacher, PAGE)

    # A lesson still to come is taken out of the plan: its standards fall back.
    lesson = session.scalars(
        sa.select(Lesson).where(Lesson.plan_id == facts.plan.id, Lesson.treatment_id.is_not(None))
    ).all()[-1]
    assert lesson.meeting.state is not MeetingState.TAUGHT
    session.delete(lesson)
    session.commit()

    page = get(teacher, PAGE)
    assert "not as approved" in page
    assert "Fell back." in page
    assert "introduced: planned when approved, nothing now" in page
    kept = session.scalars(sa.select(Review)).one().approved
    assert set(kept["standards"]) == set(facts.coverage.standards)


def test_a_new_build_version_a_decision_and_a_new_date_since_the_approval_are_said(
    head, teacher, session
):
    from app.interchange import library_file as schema
    from app.interchange.loading import add_build, build_file
    from app.store import library

    facts = facts_of(session)
    post(head, f"{PAGE}/reviews", kind="approval", body="Agreed in February.")
    section = session.get(Section, facts.section.id)
    school = section.course.department.school_id
    content = build_file(section.build)
    assert isinstance(content, schema.BuildEntry)
    library.move_section(
        session, section, add_build(session, content.model_copy(update={"version": "2b"}), school)
    )
    required = section.course.required[0]
    required.by_date = dt.date(2027, 5, 7)
    required.priority = not required.priority
    # A lesson that is not the only one for its standard: no depth falls back.
    item = next(
        a
        for treatment in library.list_treatments(session, section.band, school)
        for a in treatment.alignments
        if a.standard_id == required.standard_id
    )
    pair = {"treatment": item.treatment_id, "standard": item.standard_id}
    title, code = item.treatment.title, required.standard.code
    framework = required.standard.framework_id
    session.commit()
    post(
        teacher,
        f"/standards/frameworks/{framework}/alignments",
        **pair,
        band=section.band,
        verdict="decline",
        reason="Too far from the wording.",
    )

    page = html.unescape(get(teacher, PAGE))

    build = section.build.title
    assert f"The build is {build}, version 2b; approved was {build}, version" in page
    assert f"{code}: “{title}” no longer counts for it." in page
    assert f"{code} is now required by Friday 7 May 2027." in page
    assert f"{code} has" in page
    assert "not as approved" in page


def test_an_approval_of_an_earlier_program_says_nothing_of_what_it_did_not_keep(
    head, teacher, session
):
    post(head, f"{PAGE}/reviews", kind="approval", body="Agreed in February.")
    review = session.scalars(sa.select(Review)).one()
    review.approved = {
        key: value for key, value in review.approved.items() if key not in ("build", "lessons")
    }
    session.commit()

    assert "It stands exactly as approved." in get(teacher, PAGE)


# --- losses --------------------------------------------------------------------------------------


def test_a_cut_phase_and_two_lost_weeks_say_what_would_fall_back(teacher, session):
    facts = facts_of(session)
    phase, cut = next(
        (phase.key, found)
        for phase in facts.section.build.phases
        if (found := section_coverage.losses(facts, phases=[phase.key]))
    )
    first = facts.weeks[0]
    gone = section_coverage.losses(facts, weeks=(first, first + 1))
    session.commit()

    assert gone
    for query, found in ((f"phase={phase}", cut), (f"week={first}", gone)):
        page = get(teacher, f"/sections/period-3/losses?{query}")
        assert "would fall back" in page
        for loss in found:
            assert f"{loss.standard}</a>{loss.sentence.removeprefix(loss.standard)}</li>" in page
    assert "would fall back" not in get(teacher, "/sections/period-3/losses?phase=none&week=999")


# --- department ----------------------------------------------------------------------------------


def test_the_department_shows_its_sections_side_by_side(head):
    page = get(head, "/departments/design-technology/coverage")

    assert "Sections side by side" in page
    assert "Found only here" in page
    assert "What would be lost" in page


def test_the_department_sums_up_what_a_cut_phase_or_two_weeks_would_cost(head, session):
    facts = facts_of(session)
    build, phase = (
        facts.section.build.key,
        next(
            phase.key
            for phase in facts.section.build.phases
            if section_coverage.losses(facts, phases=[phase.key])
        ),
    )
    session.commit()
    address = "/departments/design-technology/losses"

    page = get(head, f"{address}?phase={build}:{phase}")

    assert "would fall back somewhere" in page
    assert "Falls back, and something is left" in page
    assert "Lost everywhere" not in page
    assert f'<option value="{build}:{phase}" selected>' in page
    assert "would fall back" in get(head, f"{address}?monday=2027-03-01")
    # What names no phase and no day asks for nothing.
    assert (
        "would" not in get(head, f"{address}?phase=none&monday=soon")[:20000].partition("<h1>")[2]
    )
    get(head, "/departments/elsewhere/losses", status=404)


def test_a_head_sees_the_own_department_only(head, session):
    other_section(session)

    get(head, "/sections/other-section/coverage", status=404)
    get(head, "/sections/other-section/coverage.csv", status=404)
    get(head, "/sections/other-section/losses", status=404)
    post(head, "/sections/other-section/coverage/reviews", status=404, kind="comment", body="x")
    assert "other-section" not in get(head, "/departments/design-technology/coverage")


def test_first_use_is_held_against_the_course_that_paces_the_standard(head, session):
    from app.models import RequiredStandard

    section = other_section(session)
    facts = facts_of(session)
    code, item = next(
        (c, i) for c, i in facts.coverage.standards.items() if i.evidence and i.required
    )
    session.add(
        RequiredStandard(
            course_id=section.course_id,
            standard_id=facts.standards[code].id,
            by_date=min(e.date for e in item.evidence) + dt.timedelta(days=30),
        )
    )
    session.commit()

    page = get(head, "/departments/design-technology/coverage")

    assert "Used before another course reaches it" in page
    assert "Algebra II requires it by" in page


# --- exports -------------------------------------------------------------------------------------


def test_a_table_says_who_when_plan_and_versions_and_holds_every_required_standard(
    teacher, session
):
    facts = facts_of(session)

    rows = list(csv.reader(io.StringIO(get(teacher, f"{PAGE}.csv"))))

    named = {row[0] for row in rows if row}
    assert {"Exported by", "Exported on", "Program", "Plan", "Build", "Approved"} <= named
    header = next(row for row in rows if row and row[0] == "standard")
    assert "students with an artifact" in header
    required = [i for i in facts.coverage.standards.values() if i.required]
    listed = [row for row in rows if len(row) == len(header) and row[2] == "yes"]
    assert len(listed) == len(required)


def test_a_workbook_has_no_formula_and_a_paper_holds_the_gaps(teacher, session):
    import pdfplumber
    from openpyxl import load_workbook

    facts = facts_of(session)
    standard = next(facts.standards[c] for c, i in facts.coverage.standards.items() if i.required)
    standard = session.merge(standard)
    standard.code = "=EVIL()"
    session.commit()

    book = load_workbook(io.BytesIO(teacher.get(f"{PAGE}.xlsx").data))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert "'=EVIL()" in [cell.value for cell in cells]
    assert "'=EVIL()" in get(teacher, f"{PAGE}.csv")
    with pdfplumber.open(io.BytesIO(teacher.get(f"{PAGE}.pdf").data)) as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
    assert "Gaps" in text
    assert "Exported by" in text
    assert facts.section.course.title in text


def test_the_departments_table_says_build_version_and_plan_of_each_section(head, session):
    facts = facts_of(session)

    text = get(head, "/departments/design-technology/coverage.csv")

    header, *rows = [row for row in csv.reader(io.StringIO(text)) if len(row) > 5]
    mine = [dict(zip(header, row, strict=True)) for row in rows]
    mine = [row for row in mine if row["section"] == facts.section.title]
    assert mine
    assert {row["plan"] for row in mine} == {f"number {facts.plan.id}"}
    assert {row["build"] for row in mine} == {
        f"{facts.section.build.title}, version {facts.section.build.version}"
    }


def test_the_department_comes_as_files_too(head):
    for kind, start in (("csv", b"Exported by"), ("xlsx", b"PK"), ("pdf", b"%PDF")):
        answer = head.get(f"/departments/design-technology/coverage.{kind}")
        assert answer.status_code == 200
        assert answer.data.startswith(start)
    get(head, "/departments/design-technology/coverage.exe", status=404)
