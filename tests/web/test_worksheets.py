"""The papers room: what a teacher can print, choose, save, mark, and what it says when it cannot."""

import csv
import io
import re
from urllib.parse import parse_qs, quote, urlsplit

import pdfplumber
import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from app.cli import command
from app.models import Absence, Mark, Paper, Section, Treatment
from app.store import sections
from app.store.standard import section_coverage
from tests.conftest import signed_in
from tests.pages import get, post

PAPERS = "/sections/period-3/papers"
SHEET = f"{PAPERS}/worksheet"
PHASE = "phase=neck-and-fretboard"


def section_of(session):
    return session.scalars(sa.select(Section).where(Section.key == "period-3")).one()


def pdf(client, address):
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code)
    assert answer.mimetype == "application/pdf"
    return answer.data


def _pages(content):
    with pdfplumber.open(io.BytesIO(content)) as printed:
        return [page.extract_text() for page in printed.pages]


def test_the_list_shows_every_paper(teacher):
    page = get(teacher, PAPERS)
    for words in ("Phase cards", "Hold points", "Safety tests", "sign-off log", "Letter home",
                  "Progress note", "Coverage statement", "Showcase card", "Saved papers"):  # fmt: skip
        assert words in page
    assert "Neck and fretboard" in page


@pytest.mark.parametrize(
    "what",
    [PHASE, "step=E14", "concept=geometric-sequence", "standard=HSF.LE.A.2",
     "standard=hsf-le.2", f"{PHASE}&band=3-5", f"{PHASE}&version=large&paper=a4"],
)  # fmt: skip
def test_a_worksheet_comes_by_phase_step_concept_or_standard(teacher, what):
    page = get(teacher, f"{SHEET}?{what}")
    assert "Questions" in page
    assert pdf(teacher, f"{SHEET}.pdf?{what}&team=T01").startswith(b"%PDF")


@pytest.mark.parametrize(
    "what", ["phase=moon", "step=E999", "concept=nothing", "standard=XYZ.1", "saved=999", "x=1"]
)
def test_a_part_the_build_does_not_have_is_no_page(teacher, what):
    get(teacher, f"{SHEET}?{what}", status=404)


def test_a_worksheet_page_shows_cautions_and_no_answers(teacher):
    page = get(teacher, f"{SHEET}?{PHASE}&team=T01")
    key = get(teacher, f"{SHEET}/key?{PHASE}&team=T01")
    assert "qualified supervision" in page
    assert "What it reveals" not in page
    assert "What it reveals" in key


def test_a_band_without_lessons_says_so_and_offers_the_nearest(teacher, session):
    for row in session.scalars(sa.select(Treatment).where(Treatment.band == "college")):
        session.delete(row)
    session.commit()
    for address in (SHEET, f"{SHEET}.pdf", f"{SHEET}/class-set.pdf", f"{SHEET}.docx"):
        page = get(teacher, f"{address}?{PHASE}&band=college", status=422)
        assert "There is no lesson for" in page
        assert "the nearest is Grades 9–12" in page
        assert "Show it for Grades 9–12" in page


def test_a_class_set_per_team_and_per_student_differs_only_in_size(teacher, session):
    import pikepdf

    teams, students = len(section_of(session).teams), len(section_of(session).students)
    sizes = {}
    for per in ("team", "student"):
        with pikepdf.open(
            io.BytesIO(pdf(teacher, f"{SHEET}/class-set.pdf?{PHASE}&per={per}"))
        ) as f:
            sizes[per] = len(f.pages)
    assert sizes["team"] % teams == 0
    assert sizes["student"] == sizes["team"] // teams * students
    pdf(teacher, f"{SHEET}/class-set-key.pdf?{PHASE}")


def test_a_section_without_teams_prints_for_anyone_and_says_what_is_missing(teacher, session):
    row = section_of(session)
    names = [column.key for column in Section.__table__.columns if column.key not in ("id", "key")]
    session.add(Section(key="period-9", **{name: getattr(row, name) for name in names}))
    session.commit()
    papers = "/sections/period-9/papers"
    assert pdf(teacher, f"{papers}/worksheet.pdf?{PHASE}")
    page = get(teacher, f"{papers}/worksheet/class-set.pdf?{PHASE}", status=422)
    assert "make teams first" in page
    assert pdf(teacher, f"{papers}/phase-card.pdf?{PHASE}")
    assert "Nobody is enrolled yet" in get(teacher, f"{papers}/progress-note", status=422)
    for address in (papers, f"{papers}/worksheet?{PHASE}", f"{papers}/worksheet/marks?{PHASE}"):
        get(teacher, address)


def test_a_saved_paper_can_be_used_in_another_section_with_its_own_values(teacher, session):
    answer, _ = _choose(teacher, [1, 0])
    saved = parse_qs(urlsplit(answer.location).query)["saved"][0]
    row = section_of(session)
    names = [column.key for column in Section.__table__.columns if column.key not in ("id", "key")]
    session.add(Section(key="period-9", **{name: getattr(row, name) for name in names}))
    session.commit()
    assert "Use it here" in get(teacher, "/sections/period-9/papers")
    taken = post(teacher, "/sections/period-9/papers/saved", paper=saved)
    assert "My own choice" in get(teacher, taken.location)
    get(teacher, f"/sections/period-9/papers/worksheet?saved={saved}", status=404)


def test_a_reading_out_of_range_is_flagged_and_the_sheet_kept(teacher, session):
    team = section_of(session).teams[0]
    sections.set_quantity(session, team, "scale_length", "64800 mm", measured=True)
    session.commit()
    page = get(teacher, f"{SHEET}?concept=geometric-sequence&team={team.code}")
    assert "Look at these first" in page
    assert "check the reading “64800 mm”" in page


HOSTILE = [
    "#eval(1)",
    "<script>alert(1)</script>",
    "=cmd|'/c calc'!A0",
    "\u202eabc",
    "a\x00b",
    "🎸",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_in_a_question_is_printed_as_text(teacher, session, text):
    data = {"title": f"T {text}", "use-0": "1", "place-0": "1", "prompt-0": f"Q {text}"}
    answer = post(teacher, f"{SHEET}/questions?{PHASE}", **data)
    page = get(teacher, answer.location)
    assert "<script>alert" not in page
    address = answer.location.replace("/worksheet?", "/worksheet.pdf?")
    assert pdf(teacher, address)
    items = teacher.get(answer.location.replace("/worksheet?", "/worksheet/items.csv?"))
    assert len(list(csv.DictReader(io.StringIO(items.text)))) == 1


@pytest.mark.parametrize("text", [*HOSTILE, "x" * 10_000])
def test_hostile_codes_of_students_and_teams_stop_no_paper(teacher, session, text):
    section = section_of(session)
    section.students[0].code = section.teams[0].code = text
    session.commit()
    for address in (
        f"worksheet/class-set.pdf?{PHASE}",
        f"worksheet/class-set.pdf?{PHASE}&per=student",
        f"worksheet/class-set-key.pdf?{PHASE}&per=student",
        f"phase-card.pdf?{PHASE}",
        "sign-off-log.pdf",
        "progress-note.pdf",
        "showcase-card.pdf",
    ):
        assert pdf(teacher, f"{PAPERS}/{address}")
    for address in (f"worksheet/marks?{PHASE}", f"worksheet/marks?{PHASE}&per=student",
                    "sign-off-log", f"worksheet?{PHASE}"):  # fmt: skip
        assert "<script>alert" not in get(teacher, f"{PAPERS}/{address}")
    assert teacher.get(f"{PAPERS}/sign-off-log.docx").data.startswith(b"PK")


def test_a_team_without_measurements_gets_the_nominal_values_and_room_for_its_own(teacher, session):
    team = section_of(session).teams[0]
    for row in team.instrument.quantities:
        row.measured = None
    session.commit()
    page = get(teacher, f"{SHEET}?concept=geometric-sequence&team={team.code}")
    assert "Look at these first" not in page
    assert "648" in page
    assert pdf(teacher, f"{SHEET}/class-set.pdf?{PHASE}")


def test_a_roster_of_400_can_be_marked(teacher, session):
    section = section_of(session)
    sections.add_students(session, section, [f"X{n:03d}" for n in range(400)])
    session.commit()
    page = get(teacher, f"{SHEET}/marks?{PHASE}&per=student")
    assert page.count('aria-label="X') >= 400
    assert "key-answer" not in page


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"title": ""}, "Give the paper a title"),
        ({"title": "x" * 10_000}, "at most 120 letters"),
        ({"prompt-0": "x" * 10_000}, "at most 2000 letters"),
        ({"prompt-0": ""}, "write the question"),
        ({"prompt-0": "How long is {moon}?"}, "stands for no parameter"),
        ({"place-0": "first"}, "the place is a number"),
        ({"lines-0": "999"}, "from 0 to 20"),
        ({"use-0": ""}, "Choose at least one question"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused_in_words_and_kept(teacher, changes, sentence):
    data = {"title": "Mine", "use-0": "1", "place-0": "1", "prompt-0": "Say why.", "lines-0": "3"}
    page = post(teacher, f"{SHEET}/questions?{PHASE}", status=422, **{**data, **changes}).text
    assert sentence in page
    assert changes.get("prompt-0", "Say why.")[:50] in page


def _rows(page):
    """Number of each row of the form with its question text."""
    found = re.findall(r'<textarea id="prompt-(\d+)"[^>]*>(.*?)</textarea>', page, re.DOTALL)
    return {int(number): text for number, text in found}


def _choose(teacher, order, own=""):
    page = get(teacher, f"{SHEET}/questions?{PHASE}&minutes=40")
    rows = _rows(page)
    data = dict(re.findall(r'name="(id-\d+)" value="([^"]+)"', page))
    data["title"] = "My own choice"
    for place, number in enumerate(order, 1):
        data |= {
            f"use-{number}": "1",
            f"place-{number}": str(place),
            f"prompt-{number}": rows[number].replace("&#39;", "'"),
            f"lines-{number}": "2",
        }
    if own:
        last = max(rows)
        data |= {f"prompt-{last}": own, f"answer-{last}": "Forty-two.", f"place-{last}": "1"}
    return post(teacher, f"{SHEET}/questions?{PHASE}&minutes=40&seed=A17", **data), rows


def test_the_teacher_reorders_drops_and_adds_questions_and_the_address_keeps_them(teacher):
    answer, _ = _choose(teacher, [3, 0], own="What is the answer to everything?")
    page = get(teacher, f"{answer.location}&team=T02")
    assert page.count('<section class="doc-question"') == 3
    assert "My own choice" in page
    assert "What is the answer to everything?" in page
    assert "Seed A17" in page
    key = get(teacher, answer.location.replace("/worksheet?", "/worksheet/key?"))
    assert "Forty-two." in key
    assert "My own choice" in get(teacher, PAPERS)


def test_a_saved_paper_prints_the_same_next_year(teacher, session):
    answer, _ = _choose(teacher, [0, 1, 2])
    address = answer.location.replace("/worksheet?", "/worksheet.pdf?") + "&team=T01"
    before = pdf(teacher, address)
    for team in section_of(session).teams:
        sections.set_quantity(session, team, "scale_length", "631 mm", measured=True)
    for change in (
        "question SET prompt = 'Changed in the library.'",
        "treatment SET goal = 'Changed.', explanation = 'Changed.', title = 'Changed'",
        "treatment SET calculator = 'string-tension'",
        "exposure SET shows = 'Changed.', reading = 'Changed.'",
        "alignment SET strength = 'partial'",
    ):
        session.execute(sa.text(f"UPDATE {change}"))
    session.commit()
    again = pdf(teacher, address)
    now = pdf(teacher, f"{address}&values=now")
    assert again == before
    assert now != before


def test_a_saved_paper_can_be_edited_kept_as_new_and_dropped(teacher, session):
    answer, _ = _choose(teacher, [0, 1])
    saved = parse_qs(urlsplit(answer.location).query)["saved"][0]
    form = get(teacher, f"{SHEET}/questions?saved={saved}")
    rows = _rows(form)
    data = {"title": "Shorter", "use-0": "1", "place-0": "1", "prompt-0": rows[0], "as-new": "1"}
    copy = post(teacher, f"{SHEET}/questions?saved={saved}", **data)
    assert copy.location != answer.location
    assert session.scalar(sa.select(sa.func.count()).select_from(Paper)) == 2
    session.rollback()
    post(teacher, f"{PAPERS}/saved/{saved}/delete")
    get(teacher, answer.location, status=404)
    get(teacher, copy.location)


def test_only_the_teacher_of_a_section_edits_marks_and_reads_progress_notes(app):
    lead = signed_in(app, "workshop")
    for address in ("questions", "marks"):
        assert lead.get(f"{SHEET}/{address}?{PHASE}").status_code == 404
    assert lead.get(f"{PAPERS}/progress-note").status_code == 404
    assert lead.post(f"{SHEET}/marks?{PHASE}", data={}).status_code == 404


def _cells(page):
    """Names of the cells for marks, by rows of teams or students, and for readings."""
    found = re.findall(r'<input name="((?:m|v)-[^"]+)"', page)
    return [n for n in found if n[0] == "m"], [n for n in found if n[0] == "v"]


def _send(teacher, address, cell, text, **more):
    return teacher.post(
        address, data={**more, "meeting": "1", cell: text}, headers={"X-Part": "cell"}
    )


MARKS = f"{SHEET}/marks?{PHASE}"
BY_STUDENT = f"{MARKS}&per=student"


def test_marks_stand_in_the_order_of_the_key_with_its_answers_and_tolerances(teacher):
    page = get(teacher, MARKS)
    key = get(teacher, f"{SHEET}/key?{PHASE}&team=T01")
    heads = re.findall(r'<th scope="col">(\d+) <span', page)
    assert heads == re.findall(r'<span class="doc-number">(\d+)\.', key) != []
    marks, _ = _cells(page)
    assert len(marks) == len(heads) * page.count('<tr><th scope="row">T')
    for answer in re.findall(r'<span class="key-answer">([^<]+)<', page)[: len(heads)]:
        assert answer.split(": ")[-1] in key
    assert "±" in page


def test_marks_are_saved_cell_by_cell_and_count_as_evidence(teacher, session):
    marks, _ = _cells(get(teacher, BY_STUDENT))
    treatment = int(marks[0].split("-")[2])
    before = _assessed(session, treatment)
    one = _send(teacher, BY_STUDENT, marks[0], "1")
    assert (one.status_code, one.text) == (200, "saved")
    wrong = _send(teacher, BY_STUDENT, marks[0], "99")
    assert wrong.status_code == 422
    assert "enter a number from 0 to 1" in wrong.text
    row = session.scalars(sa.select(Mark).where(Mark.artifact.like("worksheet Neck%"))).one()
    assert (row.score, row.out_of, row.question != "") == (1, 1, True)
    session.rollback()
    assert _assessed(session, treatment) == before + 1
    _send(teacher, BY_STUDENT, marks[0], "")
    session.expire_all()
    assert _assessed(session, treatment) == before


def test_questions_of_a_lesson_add_up_in_the_evidence_and_on_the_progress_note(teacher, session):
    page = get(teacher, BY_STUDENT)
    marks, _ = _cells(page)
    student = re.search(r'aria-label="([^,"]+), question 1"', page)[1]
    row = [name for name in marks if name.split("-")[1] == marks[0].split("-")[1]]
    points = {name.replace(f"m-{name.split('-')[1]}", "of"): "2" for name in row}
    post(teacher, BY_STUDENT, meeting="1", **points, **dict.fromkeys(row, "1.5"))
    count = {}
    for name in row:
        count[name.split("-")[2]] = count.get(name.split("-")[2], 0) + 1
    record = get(teacher, f"{PAPERS}/progress-note?student={student}")
    for questions in count.values():
        assert f"{1.5 * questions:g} of {2 * questions}" in record
    paper = session.scalar(sa.select(Mark.artifact).where(Mark.question != "").limit(1))
    shown = get(teacher, f"/sections/period-3/marks?artifact={quote(paper)}&all=1")
    for questions in count.values():
        assert f"<td>{1.5 * questions:g} of {2 * questions}</td>" in shown
    assert 'name="m-' not in shown
    text = teacher.get("/sections/period-3/evidence.csv").text
    rows = [r for r in csv.DictReader(io.StringIO(text)) if r["artifact"].startswith("worksheet N")]
    assert {float(r["share"]) for r in rows} == {0.75}
    assert len(rows) == len({(r["standard"], r["treatment"]) for r in rows})


def test_a_mark_of_a_team_counts_for_everyone_of_it_who_was_there(teacher, session):
    team, other, *_ = section_of(session).teams
    team.students.append(other.students[0])  # three, so that two who were there can differ
    session.flush()
    away, *there = [student.id for student in team.students]
    meeting = sections.list_meetings(session, section_of(session))[0]
    session.execute(sa.delete(Absence).where(Absence.meeting_id == meeting.id))
    session.add(Absence(meeting_id=meeting.id, student_id=away))
    session.commit()
    marks, readings = _cells(get(teacher, MARKS))
    assert marks[0].startswith(f"m-t{team.id}-")
    assert _send(teacher, MARKS, marks[0], "0.5").text == "saved"
    rows = session.scalars(sa.select(Mark).where(Mark.artifact.like("worksheet Neck%"))).all()
    assert sorted(row.student_id for row in rows) == sorted(there)
    rows[0].score = 1.0
    session.commit()
    assert 'value="differs"' in get(teacher, MARKS)
    post(teacher, MARKS, meeting="1", **{marks[0]: "differs", readings[0]: "647.5 mm"})
    assert "647.5 mm" in get(teacher, MARKS)
    assert "647.5 mm" in get(teacher, BY_STUDENT)
    assert _send(teacher, MARKS, readings[0], "647,25").text == "saved"
    assert 'value="647.25 mm"' in get(teacher, MARKS)


@pytest.mark.parametrize("text", ["long", "64 kg", "6" * 41, "#eval(1)", "=cmd|'/c calc'!A0", "🎸"])
def test_a_measured_value_that_is_no_reading_is_refused_and_named(teacher, text):
    _, readings = _cells(get(teacher, MARKS))
    refused = _send(teacher, MARKS, readings[0], text)
    assert refused.status_code == 422
    assert refused.text.startswith("T01, Scale length: ")
    page = post(teacher, MARKS, status=422, meeting="1", **{readings[0]: text}).text
    assert "everything else is saved" in page


def test_the_points_of_a_question_can_be_changed_but_not_below_a_mark(teacher, session):
    marks, _ = _cells(get(teacher, BY_STUDENT))
    points = "of-" + marks[0].split("-", 2)[2]
    assert _send(teacher, BY_STUDENT, marks[0], "3", **{points: "4"}).text == "saved"
    assert _send(teacher, BY_STUDENT, points, "5").text == "saved"
    row = session.scalars(sa.select(Mark).where(Mark.artifact.like("worksheet Neck%"))).one()
    assert (row.score, row.out_of) == (3, 5)
    session.rollback()
    assert "a mark of 3 is on record" in _send(teacher, BY_STUDENT, points, "2").text
    assert "the points are a number" in _send(teacher, BY_STUDENT, points, "many").text
    assert f'name="{points}" id="{points}" value="5"' in get(teacher, BY_STUDENT)


def test_a_question_of_the_teachers_own_carries_a_mark_but_no_evidence(teacher, session):
    answer, _ = _choose(teacher, [0], own="What is the answer to everything?")
    address = answer.location.replace("/worksheet?", "/worksheet/marks?") + "&per=student"
    marks, _ = _cells(get(teacher, address))
    own = [name for name in marks if name.split("-")[2] == "0"]
    assert own
    assert _send(teacher, address, own[0], "1").text == "saved"
    assert _send(teacher, address, own[0], "0").text == "saved"
    row = session.scalars(sa.select(Mark).where(Mark.artifact.like("worksheet My own%"))).one()
    assert (row.treatment_id, row.score) == (None, 0)
    assert "seed A17" in row.artifact
    code = row.student.code
    facts = section_coverage.section_facts(session, section_of(session))
    for standard in facts.coverage.standards.values():
        assert not any("My own choice" in item.reference for item in standard.evidence)
    session.rollback()
    assert "own questions" in get(teacher, f"{PAPERS}/progress-note?student={code}")


def _assessed(session, treatment):
    """How many pieces of evidence name a marked worksheet of the phase on this lesson."""
    facts = section_coverage.section_facts(session, section_of(session))
    session.rollback()  # an open session would keep the database from the next request
    return len(
        {
            (item.reference, item.treatment)
            for standard in facts.coverage.standards.values()
            for item in standard.evidence
            if item.treatment == str(treatment) and "worksheet Neck" in item.reference
        }
    )


def test_all_marks_can_be_sent_at_once_and_right_cells_are_kept(teacher, session):
    marks, _ = _cells(get(teacher, BY_STUDENT))
    data = {"meeting": "1", marks[0]: "1", marks[1]: "many"}
    page = post(teacher, BY_STUDENT, status=422, **data).text
    assert "enter a number" in page
    assert 'value="many"' in page
    count = (
        sa.select(sa.func.count()).select_from(Mark).where(Mark.artifact.like("worksheet Neck%"))
    )
    assert session.scalar(count) == 1
    session.rollback()
    assert "Choose the meeting" in post(teacher, MARKS, status=422).text


OTHERS = [
    f"phase-card?{PHASE}",
    f"hold-points?{PHASE}&team=T01",
    "safety-test?permit=P-DRILL&form=A",
    "safety-test?permit=P-FINISH&form=B&aloud=1",
    "safety-test?permit=P-HAND&key-of=1",
    "sign-off-log",
    "letter-home",
    "progress-note?student=S1-01",
    "coverage-statement",
    "showcase-card?team=T01",
]


@pytest.mark.parametrize("address", OTHERS)
def test_every_other_paper_has_a_page_and_a_pdf_of_one_or_two_pages(teacher, address):
    import pikepdf

    kind, _, query = address.partition("?")
    page = get(teacher, f"{PAPERS}/{address}")
    assert "Print" in page
    with pikepdf.open(io.BytesIO(pdf(teacher, f"{PAPERS}/{kind}.pdf?{query}"))) as read:
        count = len(read.pages)
    sheets = 11 if kind == "phase-card" else 1
    assert count <= 2 * sheets
    assert teacher.get(f"{PAPERS}/{kind}.docx?{query}").data.startswith(b"PK")


@pytest.mark.parametrize("kind", ["phase-card", "hold-points", "letter-home", "sign-off-log"])
def test_papers_that_show_hazardous_steps_carry_caution_and_deferral(teacher, kind):
    page = get(teacher, f"{PAPERS}/{kind}?{PHASE}")
    assert 'aria-label="Caution"' in page
    assert "the school&#39;s own rules" in page
    assert "Protection:" in page


@pytest.mark.parametrize(
    "address",
    ["moon", "phase-card?phase=moon", "safety-test?permit=P-X",
     "progress-note?student=nobody", "showcase-card?team=T99", "safety-test?permit=P-HAND&form=C"],
)  # fmt: skip
def test_a_paper_that_does_not_exist_is_no_page(teacher, address):
    get(teacher, f"{PAPERS}/{address}", status=404)


@pytest.mark.parametrize(
    ("kind", "sentence"),
    [("phase-card", "Choose a phase"), ("hold-points", "Choose a phase"),
     ("safety-test", "Choose a sign-off")],
)  # fmt: skip
def test_a_paper_for_a_part_that_is_not_chosen_asks_for_it(teacher, kind, sentence):
    assert sentence in get(teacher, f"{PAPERS}/{kind}", status=422)
    assert sentence in get(teacher, f"{PAPERS}/{kind}.pdf", status=422)


def test_without_a_public_address_the_sheet_has_no_code_and_the_page_says_why(teacher):
    page = get(teacher, f"{SHEET}?{PHASE}")
    assert "STRINGCOURSE_PUBLIC_ADDRESS" in page
    assert "doc-qr" not in page


def test_the_short_address_opens_the_calculator_with_this_teams_values(app, client, session):
    import dataclasses

    app.config["STRINGCOURSE"] = dataclasses.replace(
        app.config["STRINGCOURSE"], public_address="https://strings.school.example"
    )
    team = section_of(session).teams[0]
    sections.set_quantity(session, team, "scale_length", "631 mm", measured=True)
    session.commit()
    page = get(signed_in(app, "teacher"), f"{SHEET}?concept=geometric-sequence&team={team.code}")
    short = re.search(r'href="https://strings\.school\.example(/go/\d+/\d+/\d+)"', page)[1]
    answer = client.get(short)
    assert answer.status_code == 302
    there = urlsplit(answer.location)
    assert there.path == "/calculators/fret-positions"
    assert parse_qs(there.query)["scale_length"] == ["631 mm"]
    opened = get(client, answer.location)
    assert "631" in opened
    assert client.get("/go/1/999/1").status_code in (302, 404)
    assert client.get("/go/999/1/1").status_code == 404


def _run(sample_file, *arguments):
    return CliRunner().invoke(
        command, arguments, env={"STRINGCOURSE_DATABASE": f"sqlite:///{sample_file}"}
    )


def test_the_command_line_prints_worksheets_keys_class_sets_and_other_papers(sample_file, tmp_path):
    out = tmp_path / "out.pdf"
    common = ("--section", "period-3", "-o", str(out))
    for more in (
        ("worksheet", "--phase", "neck-and-fretboard"),
        ("worksheet", "--phase", "neck-and-fretboard", "--class-set", "--key", "--paper", "a4"),
        ("worksheet", "--standard", "HSF.LE.A.2", "--version", "large", "--band", "6-8"),
        ("paper", "safety-test", "--permit", "P-DRILL", "--form", "B"),
        ("paper", "phase-card", "--phase", "neck-and-fretboard", "--team", "T01"),
    ):
        out.unlink(missing_ok=True)
        done = _run(sample_file, *more, *common)
        assert done.exit_code == 0, (more, done.output, done.exception)
        assert out.read_bytes().startswith(b"%PDF")


def test_the_command_line_refuses_in_a_sentence(sample_file, tmp_path):
    common = ("--section", "period-3", "-o", str(tmp_path / "x.pdf"))
    both = _run(sample_file, "worksheet", "--phase", "a", "--step", "b", *common)
    assert "name one of" in both.output
    unknown = _run(sample_file, "worksheet", "--phase", "moon", *common)
    assert "moon" in str(unknown.exception)
    nobody = _run(
        sample_file, "worksheet", "--phase", "neck-and-fretboard", "--team", "T99", *common
    )
    assert "there is no T99 in period-3; known: T01, T02" in nobody.output
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize(
    ("options", "address"),
    [(("--team", "T02"), ".pdf?team=T02&"), ((), ".pdf?"), (("--key",), "/key.pdf?"),
     (("--class-set", "--key", "--seed", "7"), "/class-set-key.pdf?seed=7&")],
)  # fmt: skip
def test_the_command_line_prints_what_the_page_prints(
    teacher, sample_file, tmp_path, options, address
):
    out = tmp_path / "out.pdf"
    subject = ("--phase", "neck-and-fretboard", "--section", "period-3", "-o", str(out))

    done = _run(sample_file, "worksheet", *options, *subject)

    assert done.exit_code == 0, (done.output, done.exception)
    assert _pages(out.read_bytes()) == _pages(pdf(teacher, f"{SHEET}{address}{PHASE}"))
