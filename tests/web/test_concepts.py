"""Concepts: read by everyone; a school's own treatments and questions stand beside the shipped."""

import re

import pytest
import sqlalchemy as sa

from app import db, models
from app.domain.bands import BANDS
from app.domain.papers.document import DEFERRAL
from app.interchange.loading import concept_file
from app.store import library
from tests.conftest import signed_in
from tests.web.test_builds import form_data, unescaped

RATIO = "/concepts/ratio/6-8"


@pytest.fixture
def session(app):
    """A reading session, so that the application can write; `rollback` shows what it wrote."""
    engine = app.extensions["engine"].execution_options(reading=True)
    with db.session_factory(engine)() as session:
        yield session


def concept(session, key):
    session.rollback()
    return session.scalars(sa.select(models.Concept).where(models.Concept.key == key)).one()


def school_of(session):
    return session.scalars(sa.select(models.School)).one().id


@pytest.mark.parametrize("who", ["teacher", "head", "workshop", "admin"])
def test_everyone_reads_every_concept(app, session, who):
    client = signed_in(app, who)
    page = client.get("/concepts").text
    for row in library.list_concepts(session):
        assert f'href="/concepts/{row.key}"' in page
        assert client.get(f"/concepts/{row.key}").status_code == 200, row.key


def test_a_treatment_is_shown_whole(session, teacher):
    page = unescaped(teacher.get("/concepts/string-tension").text)
    for row in concept(session, "string-tension").treatments:
        assert f'id="band-{row.band}"' in page
        for text in (row.title, row.goal, row.misconception, row.response.split("\n")[0]):
            assert text.strip() in page
        for item in row.alignments:
            assert item.standard.code in page
            assert item.reason in page
        for question in row.questions:
            assert question.prompt in page


def test_questions_are_filled_in(teacher):
    page = unescaped(teacher.get("/concepts/string-tension").text)
    shown = re.findall(r'<p class="instance">(.*?)</p>', page, re.DOTALL)
    assert shown
    assert all("{" not in text for text in shown)
    assert "Cannot be filled in" not in page


def test_hazardous_places_bring_the_caution_along(teacher):
    page = unescaped(teacher.get("/concepts/cutting-speed").text)
    assert "hazardous step" in page
    assert DEFERRAL in page


def test_an_unknown_concept_is_not_there(teacher):
    assert teacher.get("/concepts/moon").status_code == 404
    assert teacher.get("/concepts/ratio/7-9/treatment").status_code == 404


def test_every_treatment_survives_a_save_without_a_change(session, teacher):
    for key in ("ratio", "string-tension", "electric-circuits"):
        before = concept_file(concept(session, key))
        for band in [treatment.band for treatment in before.treatments if treatment.minutes <= 35]:
            address = f"/concepts/{key}/{band}/treatment"
            answer = teacher.post(address, data=form_data(teacher, address))
            assert answer.status_code == 303, (key, band, answer.text)
        assert concept_file(concept(session, key), school_of(session)) == before


def test_every_question_survives_a_save_without_a_change(session, teacher):
    for key in ("ratio", "string-tension", "percent"):
        before = concept_file(concept(session, key))
        for treatment in before.treatments:
            for question in treatment.questions:
                base = f"/concepts/{key}/{treatment.band}/questions/change/{question.key}"
                answer = teacher.post(base, data=form_data(teacher, base))
                assert answer.status_code == 303, (key, treatment.band, question.key, answer.text)
        after = concept_file(concept(session, key), school_of(session))
        for one, other in zip(before.treatments, after.treatments, strict=True):
            for question, same in zip(one.questions, other.questions, strict=True):
                assert same.model_dump() == question.model_dump()
        assert after == before


def test_a_changed_treatment_is_the_schools_own_and_the_shipped_one_stays(session, teacher):
    shipped = concept_file(concept(session, "ratio"))
    data = form_data(teacher, f"{RATIO}/treatment") | {"title": "Ratios our way"}
    assert teacher.post(f"{RATIO}/treatment", data=data).status_code == 303
    assert concept_file(concept(session, "ratio")) == shipped
    assert "Ratios our way" in teacher.get("/concepts/ratio").text
    seen = library.list_treatments(session, "6-8", school_of(session))
    assert [row.title for row in seen if row.concept.key == "ratio"] == ["Ratios our way"]
    assert "Ratios our way" not in {row.title for row in library.list_treatments(session, "6-8")}
    assert teacher.post(f"{RATIO}/treatment/drop").status_code == 303
    assert "Ratios our way" not in teacher.get("/concepts/ratio").text


def test_who_decided_on_an_alignment_is_kept(session, teacher):
    data = form_data(teacher, f"{RATIO}/treatment") | {"title": "Ratios our way"}
    teacher.post(f"{RATIO}/treatment", data=data)
    session.rollback()
    own = session.scalars(
        sa.select(models.Treatment).where(models.Treatment.title == "Ratios our way")
    ).one()
    assert own.alignments
    assert {(a.decided_by, a.decided_on) for a in own.alignments} == {("A. Rowan", "2027-03-01")}


def test_a_shipped_treatment_cannot_be_dropped(teacher):
    assert teacher.post(f"{RATIO}/treatment/drop").status_code == 404


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"minutes": "200"}, "must be at most 90, not 200"),
        ({"minutes": "long"}, "must be a whole number, not “long”"),
        ({"goal": ""}, "Goal in the student’s words: is missing"),
        ({"alignments-0-code": "6.XX.9"}, "6.XX.9"),
        (
            {"alignments-0-framework": "CCSS-M", "alignments-0-code": "HSF.LE.A.2"},
            "HSF.LE.A.2 belongs to grades 9 to 12, not to Grades 6–8",
        ),
        ({"alignments-0-reason": ""}, "Our note about the bench step: is missing"),
        ({"prerequisites": "moon"}, "there is no concept moon"),
    ],
)
def test_a_wrong_treatment_is_refused_in_words_and_nothing_is_lost(
    session, teacher, change, sentence
):
    before = session.scalar(sa.select(sa.func.count()).select_from(models.Treatment))
    data = form_data(teacher, f"{RATIO}/treatment") | {"extension": "Typed with care"} | change
    answer = teacher.post(f"{RATIO}/treatment", data=data)
    assert answer.status_code == 422
    assert sentence in unescaped(answer.text)
    assert "Typed with care" in answer.text
    session.rollback()
    assert session.scalar(sa.select(sa.func.count()).select_from(models.Treatment)) == before


def test_a_lesson_longer_than_every_meeting_of_its_band_is_refused(session, teacher):
    longest = library.longest_meetings(session, school_of(session))["9-12"]
    address = "/concepts/ratio/9-12/treatment"
    data = form_data(teacher, address) | dict.fromkeys(
        ("title", "goal", "explanation", "demonstration", "misconception", "response"), "Words"
    )
    answer = teacher.post(address, data=data | {"minutes": str(longest + 1)})
    assert answer.status_code == 422
    assert f"no meeting of Grades 9–12 has more than {longest}" in unescaped(answer.text)
    assert teacher.post(address, data=data | {"minutes": str(longest)}).status_code == 303


QUESTION = {
    "key": "our-fret",
    "prompt": "How far up the board is fret {fret}?",
    "parameters-0-name": "fret",
    "parameters-0-low": "1",
    "parameters-0-high": "12",
    "parameters-0-step": "1",
    "computed_calculator": "fret-positions",
    "computed_given": "scale_length = 648 mm\nfret = {fret}",
    "computed_result": "fret_distance",
    "computed_unit": "mm",
    "computed_tolerance": "0.5 mm",
    "computed_digits": "4",
    "depth_of_knowledge": "2",
    "space_lines": "3",
}


def test_a_question_is_added_and_dropped_in_the_schools_own_treatment(session, teacher):
    shipped = concept_file(concept(session, "ratio"))
    answer = teacher.post(f"{RATIO}/questions/new", data=QUESTION)
    assert answer.status_code == 303, answer.text
    assert "How far up the board is fret" in teacher.get("/concepts/ratio").text
    assert concept_file(concept(session, "ratio")) == shipped
    assert teacher.post(f"{RATIO}/questions/new", data=QUESTION).status_code == 422
    assert teacher.post(f"{RATIO}/questions/drop/our-fret").status_code == 303
    assert "How far up the board is fret" not in teacher.get("/concepts/ratio").text


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"parameters-0-high": "900"}, "it cannot be answered for every value"),
        ({"parameters-0-name": "other"}, "stands for no parameter"),
        ({"parameters-0-low": ""}, "give `quantity`, `choose`, or `low`, `high` and `step`"),
        ({"parameters-0-low": "50"}, "`low` must not lie above `high`"),
        ({"computed_result": "moon"}, "it cannot be answered for every value"),
        ({"computed_calculator": ""}, "Give a `computed` or a `written` answer"),
        ({"computed_tolerance": ""}, "Tolerance: is missing"),
        ({"prompt": ""}, "Question: is missing"),
        ({"depth_of_knowledge": "9"}, "Not a valid choice"),
    ],
)
def test_a_wrong_question_is_refused_in_words(session, teacher, change, sentence):
    answer = teacher.post(f"{RATIO}/questions/new", data=QUESTION | change)
    assert answer.status_code == 422
    assert sentence in unescaped(answer.text)
    assert "our-fret" in answer.text


def test_a_concept_of_our_own_is_taught_where_our_build_shows_it(session, teacher):
    data = {
        "key": "sewing",
        "title": "Seams",
        "subject": "engineering",
        "summary": "How a seam holds.",
    }
    assert teacher.post("/concepts/new", data=data).status_code == 303
    assert teacher.post("/concepts/new", data=data).status_code == 422
    session.rollback()
    row = library.find_concept(session, "sewing", school_of(session))
    assert row.school_id == school_of(session)
    assert "Seams" not in {item.title for item in library.list_concepts(session)}
    page = teacher.get("/concepts/sewing").text
    assert all(title in page for title in BANDS.values())
    changed = {**data, "title": "Strong seams"}
    assert teacher.post("/concepts/sewing/change", data=changed).status_code == 303
    assert teacher.get("/concepts/ratio/change").status_code == 404


def test_a_treatment_in_a_plan_stays(session, teacher):
    lesson = session.scalars(
        sa.select(models.Lesson).where(models.Lesson.treatment_id.is_not(None))
    ).first()
    key, band = lesson.treatment.concept.key, lesson.treatment.band
    data = form_data(teacher, f"/concepts/{key}/{band}/treatment") | {"title": "Ours"}
    assert teacher.post(f"/concepts/{key}/{band}/treatment", data=data).status_code == 303
    session.rollback()
    own = session.scalars(sa.select(models.Treatment).where(models.Treatment.title == "Ours")).one()
    lesson.treatment = own
    session.commit()
    answer = teacher.post(f"/concepts/{key}/{band}/treatment/drop", follow_redirects=True)
    assert "stays, because a plan teaches it" in unescaped(answer.text)
