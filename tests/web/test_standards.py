"""Standards as a teacher meets them: search, look-up, import by preview, alignment work."""

import gc
import html
import io
import json
import re
import tracemalloc
import warnings
import zipfile
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import selectinload

from app.models import (
    Alignment,
    Decision,
    Framework,
    FrameworkUpload,
    School,
    Section,
    Standard,
    Treatment,
)
from tests.conftest import signed_in
from tests.pages import check_page, get, post

MEGABYTE = 1024 * 1024
CASE = Path(__file__).parents[1] / "interchange" / "case"


def upload(client, raw, name, status=303, **data):
    answer = client.post(
        "/standards/import",
        data={"file": (io.BytesIO(raw), name), **data},
        content_type="multipart/form-data",
    )
    assert answer.status_code == status, answer.text[:2000]
    return answer


def package(**changes):
    """A small framework in our own words: three items, the last of them retired."""
    items = [
        (
            "i-ratio",
            "OWN.6.1",
            "Use ratios of string lengths and fret positions to predict pitch.",
            "06",
        ),
        ("i-wave", "OWN.9.1", "Model a repeated multiplication by a geometric sequence.", "09"),
        ("i-old", "OWN.9.9", "An old statement.", "09"),
    ]
    built = {
        "CFDocument": {
            "identifier": "doc-own",
            "title": "Own State Standards",
            "creator": "Own State",
        },
        "CFItems": [
            {
                "identifier": identifier,
                "humanCodingScheme": code,
                "fullStatement": text,
                "educationLevel": [level],
                **({"statusEndDate": "2020-06-30"} if identifier == "i-old" else {}),
            }
            for identifier, code, text, level in items
        ],
        "CFAssociations": [],
    }
    return {**built, **changes}


def take_in(client, content):
    upload(client, json.dumps(content).encode(), "own.json")
    return post(client, "/standards/import/apply")


# --- search --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spelling", "code"),
    [
        ("6.RP.3b", "6.RP.A.3.b"),
        ("6.RP.A.3.b", "6.RP.A.3.b"),
        ("CCSS.MATH.CONTENT.6.RP.A.3.B", "6.RP.A.3.b"),
        ("HSF-LE.A.2", "HSF.LE.A.2"),
        ("F-LE.2", "HSF.LE.A.2"),
        ("ms-ps4-1", "MS-PS4-1"),
    ],
)
def test_search_knows_customary_spellings(teacher, spelling, code):
    # Spellings as in the identifiers list of corestandards.org and on nextgenscience.org.
    page = get(teacher, f"/standards?q={spelling}")

    assert f">{code}</a>" in page


def test_search_by_grade_leaves_other_grades_out(teacher):
    page = get(teacher, "/standards?q=ratio&grade=7")

    assert ">7.RP.A.1</a>" in page
    assert ">6.RP.A.1</a>" not in page


def test_what_is_typed_answers_with_the_found_part_alone(teacher):
    answer = teacher.get("/standards?q=6.RP", headers={"X-Part": "found"})

    assert "6.RP.A.1" in answer.text
    assert "<html" not in answer.text


def test_nothing_found_says_what_to_try(teacher):
    assert "Try the beginning of a code" in get(teacher, "/standards?q=zzzz")


# --- look-up -------------------------------------------------------------------------------------


def test_a_standard_leads_to_lesson_steps_worksheet_and_calculator(teacher):
    page = get(teacher, "/sections/period-3/standard?q=F-LE.2")

    assert "HSF.LE.A.2 is in this build." in page
    assert 'href="/sections/period-3/papers/worksheet?standard=HSF.LE.A.2"' in page
    assert "/calculators/" in page
    assert "Steps that show it" in page


def test_a_standard_this_build_cannot_show_is_said_plainly(teacher):
    page = get(teacher, "/sections/period-3/standard?q=K.CC.A.1")

    assert (
        "There is nothing in Six-string solid-body electric guitar for K.CC.A.1 in grades 9–12."
        in page
    )
    assert "is in this build." not in page


def test_a_standard_of_another_grade_band_is_offered_as_such(teacher):
    page = get(teacher, "/sections/period-3/standard?q=6.RP.3b")

    assert (
        "6.RP.A.3.b is in this build for grades 6–8, not for grades 9–12: no lesson of this section’s plan is on it"
        in page
    )
    assert "The nearest offer" in page
    address = re.search(r'href="([^"]*/papers/worksheet\?concept=[^"]*band=6-8)"', page)[1]
    assert "6.RP.A.3.b" in get(teacher, html.unescape(address))


def test_the_worksheet_for_a_standard_is_one_press_away(teacher):
    page = get(teacher, "/sections/period-3/standard?q=f-le.2")

    address = re.search(r'href="([^"]*worksheet.pdf\?standard=[^"]*)"', page)[1]
    assert teacher.get(html.unescape(address)).data.startswith(b"%PDF")
    assert "Only if only if" not in re.sub(r"<[^>]+>", "", page)


def test_words_lead_to_lessons_that_share_them(teacher):
    assert "Lessons that share your words" in get(
        teacher, "/sections/period-3/standard?q=string tension"
    )


def test_a_code_in_two_frameworks_is_asked_back_and_settled_by_the_framework(app, teacher):
    take_in(
        teacher,
        package(
            CFItems=[
                {
                    "identifier": "i-same",
                    "humanCodingScheme": "HSF.LE.A.2",
                    "fullStatement": "Our own words.",
                }
            ]
        ),
    )

    page = get(teacher, "/sections/period-3/standard?q=HSF.LE.A.2")
    settled = get(teacher, "/sections/period-3/standard?q=HSF.LE.A.2&framework=CCSS-M")

    assert "choose one" in page
    assert "framework=own-state-standards" in page
    assert "HSF.LE.A.2 is in this build." in settled


def test_another_departments_section_is_not_found(app, session, teacher):
    from tests.web.test_coverage import other_section

    other_section(session)

    get(teacher, "/sections/other-section/standard?q=6.RP.1", status=404)
    get(teacher, "/sections/other-section/coverage", status=404)


# --- import --------------------------------------------------------------------------------------


def test_an_import_shows_first_what_it_would_do_and_stores_nothing(app, session, teacher):
    answer = upload(teacher, (CASE / "quirks.json").read_bytes(), "quirks.json")
    page = get(teacher, answer.location)

    assert "20 standards" in page
    assert "CFItems[16]" in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert" not in page
    assert session.scalar(sa.select(Framework).where(Framework.school_id.is_not(None))) is None


def test_an_import_is_done_once_confirmed_and_its_file_forgotten(app, session, teacher):
    answer = take_in(teacher, package())
    page = get(teacher, answer.location)

    assert "OWN.6.1" in page
    assert "Use ratios of string lengths" in page
    assert "retired" in page
    assert session.scalar(sa.select(FrameworkUpload)) is None
    assert ">OWN.6.1</a>" in get(teacher, "/standards?q=own 6.1")


def test_a_framework_without_grades_says_so_and_is_offered_at_every_band(session, teacher):
    items = package()["CFItems"][:2]
    for item in items:
        del item["educationLevel"]
    page = get(
        teacher, upload(teacher, json.dumps(package(CFItems=items)).encode(), "n.json").location
    )

    assert page.count("<td>not given</td>") == 2
    post(teacher, "/standards/import/apply")
    assert "grade not given" in get(teacher, "/sections/period-3/standard?q=OWN.9.1")
    framework = imported(session)
    for band in ("6-8", "9-12"):
        address = f"/standards/frameworks/{framework.id}/alignments?band={band}"
        assert "Accept OWN." in get(teacher, address)


def test_a_discarded_file_leaves_nothing(session, teacher):
    upload(teacher, json.dumps(package()).encode(), "own.json")
    post(teacher, "/standards/import/discard")

    assert session.scalar(sa.select(FrameworkUpload)) is None
    assert session.scalar(sa.select(Framework).where(Framework.school_id.is_not(None))) is None
    session.commit()
    post(teacher, "/standards/import/apply", status=404)


def test_pasted_outcomes_of_a_course_become_a_framework(teacher):
    post(
        teacher,
        "/standards/import",
        text="LU.1 Read a caliper to 0.05 mm.\nLU.2 Keep a build log.",
        title="Outcomes of the course",
        publisher="Our school",
    )
    page = get(teacher, post(teacher, "/standards/import/apply").location)

    assert "Keep a build log." in page
    assert "Our school" in page


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "Choose a file, or paste"),
        ({"text": "T.1 words"}, "Give the pasted standards a title"),
        ({"text": "only words", "title": "T"}, "has no standard"),
        ({"text": "T.1 words", "title": "T", "key": "no key!"}, "is no key"),
        ({"text": "T.1 words", "title": "T", "key": "NGSS"}, "another framework"),
        ({"text": '{"a": 1}', "title": "T"}, "no CFDocument"),
    ],
)
def test_what_cannot_be_imported_is_refused_and_nothing_typed_is_lost(teacher, data, says):
    answer = teacher.post("/standards/import", data=data)

    assert answer.status_code == 422
    check_page(answer.text)
    assert says in answer.text.replace("&#39;", "'")
    for value in data.values():
        assert value.replace('"', "&#34;") in answer.text


def test_an_archive_that_grows_without_end_is_refused_in_words(teacher):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("package.json", b" " * (65 * 1024 * 1024))

    assert "larger than 64 MB" in upload(teacher, out.getvalue(), "bomb.zip", status=422).text


def test_a_200_mb_upload_is_refused_in_words(teacher):
    answer = teacher.post(
        "/standards/import",
        content_type="multipart/form-data; boundary=x",
        environ_overrides={"CONTENT_LENGTH": str(200 * MEGABYTE)},
    )

    assert answer.status_code == 413
    assert "at most 64 MB" in answer.text


class Pouring(io.RawIOBase):
    """A multipart body of 200 MB that comes without saying how long it is."""

    HEAD = (
        b'--x\r\nContent-Disposition: form-data; name="file"; filename="f.json"\r\n'
        b"Content-Type: application/json\r\n\r\n"
    )

    def __init__(self):
        self.given = 0

    def readable(self):
        return True

    def read(self, size=-1):
        size = min(size if size > 0 else 65536, 200 * MEGABYTE - self.given)
        start, self.given = self.given, self.given + size
        return self.HEAD + b" " * (size - len(self.HEAD)) if start == 0 else b" " * size

    def readinto(self, buffer):
        part = self.read(len(buffer))
        buffer[: len(part)] = part
        return len(part)


@pytest.fixture
def half_received():
    """A half-received file is closed when its request is collected, with a warning: here."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        yield
        gc.collect()


@pytest.mark.usefixtures("half_received")
def test_an_upload_that_does_not_say_its_size_is_cut_off_and_takes_little_memory(teacher):
    body = Pouring()
    tracemalloc.start()
    try:
        answer = teacher.post(
            "/standards/import",
            environ_overrides={
                "CONTENT_TYPE": "multipart/form-data; boundary=x",
                "wsgi.input": body,
                "wsgi.input_terminated": True,
                "CONTENT_LENGTH": "",
            },
        )
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    assert answer.status_code == 413
    assert "at most 64 MB" in answer.text
    assert 64 * MEGABYTE <= body.given < 80 * MEGABYTE
    assert peak < 8 * MEGABYTE


@pytest.mark.usefixtures("half_received")
def test_a_package_of_more_than_16_mb_goes_in_and_only_here_and_only_for_who_is_signed_in(
    app, session, teacher
):
    items = package()["CFItems"]
    items[0]["fullStatement"] = "A long statement. " * MEGABYTE
    raw = json.dumps(package(CFItems=items)).encode()
    assert len(raw) > 17 * MEGABYTE

    answer = upload(teacher, raw, "large.json")

    assert answer.location == "/standards/import/preview"
    assert len(session.scalars(sa.select(FrameworkUpload.content)).one()) < MEGABYTE
    session.commit()
    post(teacher, "/standards/import/apply")
    # Stored whole and unchanged.
    statement = session.scalar(
        sa.select(sa.func.length(Standard.statement)).where(Standard.code == "OWN.6.1")
    )
    assert statement == 18 * MEGABYTE
    session.commit()
    # Where the form is read to check its token, a stranger's is not read that far.
    app.config["WTF_CSRF_ENABLED"] = True
    assert "too large" in upload(app.test_client(), raw, "large.json", status=413).text
    app.config["WTF_CSRF_ENABLED"] = False
    elsewhere = teacher.post(
        "/sections/period-3/teams",
        data={"codes": (io.BytesIO(raw), "large.json")},
        content_type="multipart/form-data",
    )
    assert elsewhere.status_code == 413
    assert "at most 16 MB" in elsewhere.text


def test_exports_open_as_files(session, teacher):
    take_in(teacher, package())
    number = imported(session).id

    exported = json.loads(get(teacher, f"/standards/frameworks/{number}/package.json"))
    table = get(teacher, f"/standards/frameworks/{number}/table.csv")

    assert [i["identifier"] for i in exported["CFItems"]] == ["i-ratio", "i-wave", "i-old"]
    assert table.splitlines()[1].startswith("OWN.6.1,Use ratios")


def test_another_schools_framework_is_not_found(session, teacher):
    from app.models import School

    school = School(name="Elsewhere")
    session.add(school)
    session.flush()
    framework = Framework(
        school_id=school.id,
        key="theirs",
        title="Theirs",
        publisher="",
        version="",
        notice="",
        uri="",
    )
    framework.standards.append(
        Standard(
            position=0,
            code="TH.1",
            domain="",
            subject="",
            grade_low="K",
            grade_high="K",
            parent="",
            aliases=[],
            note="",
            statement="Theirs alone.",
        )
    )
    session.add(framework)
    session.commit()

    for address in (
        f"/standards/frameworks/{framework.id}",
        f"/standards/frameworks/{framework.id}/package.json",
        f"/standards/frameworks/{framework.id}/alignments",
        f"/standards/{framework.standards[0].id}",
    ):
        get(teacher, address, status=404)
    assert "Theirs alone" not in get(teacher, "/standards?q=TH.1")


# --- alignment work ------------------------------------------------------------------------------


def imported(session):
    """The framework with its standards; the lock on the database is given back."""
    query = sa.select(Framework).where(Framework.key == "own-state-standards")
    framework = session.scalars(query.options(selectinload(Framework.standards))).one()
    session.commit()
    return framework


def a_treatment(session):
    query = sa.select(Treatment).where(Treatment.title == "One multiplier lays out the whole neck")
    treatment = session.scalars(query).one()
    session.commit()
    return treatment


def test_suggestions_say_why_and_a_decision_needs_a_reason(session, teacher):
    take_in(teacher, package())
    framework = imported(session)
    address = f"/standards/frameworks/{framework.id}/alignments"

    page = get(teacher, f"{address}?band=9-12")

    assert "Words in common:" in page
    wave = next(row for row in framework.standards if row.identifier == "i-wave")
    treatment = a_treatment(session)
    pair = {"band": "9-12", "treatment": treatment.id, "standard": wave.id, "strength": "strong"}
    refused = teacher.post(address, data={**pair, "verdict": "accept", "condition": "kept words"})
    assert refused.status_code == 422
    assert "Say why OWN.9.1 belongs" in refused.text
    check_page(refused.text)

    post(teacher, address, **pair, verdict="accept", reason="The frets are the sequence.")

    found = get(teacher, "/sections/period-3/standard?q=OWN.9.1")
    assert "OWN.9.1 is in this build." in found
    assert "The frets are the sequence." in found
    decided = get(teacher, f"{address}?band=9-12")
    assert "accepted" in decided
    # The shipped treatment itself is as it was.
    session.expire_all()
    assert wave.id not in [
        item.standard_id for item in session.get(Treatment, treatment.id).alignments
    ]


def test_a_domains_heading_alone_gives_no_suggestion_by_one_word(session, teacher):
    from app.store.standard import alignments

    school = session.scalars(sa.select(School)).one()
    shipped = session.scalars(sa.select(Framework).where(Framework.key == "CCSS-M")).one()
    found = alignments.suggestions(session, school.id, shipped, "9-12")
    by_words = [item for item in found if item.origin == "words"]
    assert all("," in item.why for item in by_words), "at least two words in common"


def test_a_declined_suggestion_does_not_come_back_and_may_be_accepted_after_all(session, teacher):
    take_in(teacher, package())
    framework = imported(session)
    address = f"/standards/frameworks/{framework.id}/alignments"
    from app.store.standard import alignments

    item = alignments.suggestions(session, framework.school_id, framework, "9-12")[0]
    session.commit()
    pair = {"band": "9-12", "treatment": item.treatment.id, "standard": item.standard.id}

    post(teacher, address, **pair, verdict="decline", reason="Only the words are alike.")

    again = alignments.suggestions(session, framework.school_id, framework, "9-12")
    assert (item.treatment.id, item.standard.id) not in [
        (s.treatment.id, s.standard.id) for s in again
    ]
    assert session.scalar(sa.select(Alignment).where(Alignment.school_id.is_not(None))) is None
    session.commit()
    post(teacher, address, **pair, verdict="accept", reason="On second thoughts.")
    row = session.scalars(sa.select(Decision)).one()
    session.refresh(row)
    assert (row.accepted, row.reason) == (True, "On second thoughts.")
    assert row.decided_by
    assert session.scalar(sa.select(Alignment).where(Alignment.school_id.is_not(None))) is not None


def test_alignments_are_carried_over_exact_matches_and_equal_codes(session, teacher):
    link = {
        "identifier": "a-1",
        "associationType": "exactMatchOf",
        "originNodeURI": {"title": "own", "identifier": "i-wave", "uri": "urn:own:1"},
        "destinationNodeURI": {
            "title": "Destination Node",
            "identifier": "elsewhere",
            "uri": "urn:example:published:HSF-LE.A.2",
        },
    }
    items = package()["CFItems"]
    items.append(
        {"identifier": "i-code", "humanCodingScheme": "HS-PS4-1", "fullStatement": "Words."}
    )
    take_in(teacher, package(CFItems=items, CFAssociations=[link]))
    framework = imported(session)
    address = f"/standards/frameworks/{framework.id}/alignments"

    page = get(teacher, f"{address}?band=9-12")

    assert "exactMatchOf CCSS-M HSF.LE.A.2" in page
    assert "The same code as NGSS HS-PS4-1" in page
    refused = teacher.post(f"{address}/carried", data={"band": "9-12", "reason": " "})
    assert refused.status_code == 422
    post(teacher, f"{address}/carried", band="9-12", reason="same statement")
    carried = session.scalars(sa.select(Alignment).where(Alignment.school_id.is_not(None))).all()
    original = session.scalars(
        sa.select(Alignment)
        .join(Standard)
        .join(Treatment, Alignment.treatment_id == Treatment.id)
        .where(
            Standard.code.in_(("HSF.LE.A.2", "HS-PS4-1")),
            Treatment.band == "9-12",
            Alignment.school_id.is_(None),
        )
    ).all()
    assert sorted((a.treatment_id, a.strength) for a in carried) == sorted(
        (a.treatment_id, a.strength) for a in original
    )
    assert all("same statement" in a.reason for a in carried)
    # The same code in two frameworks stands once on a sheet.
    treatment = next(t for t in original if t.standard.code == "HS-PS4-1").treatment
    session.commit()
    sheet = get(teacher, f"/sections/period-3/papers/worksheet?concept={treatment.concept.key}")
    codes = re.search(r'class="doc-codes">.*?</span>([^<]*)<', sheet)[1]
    assert [code.strip("()") for code in codes.split(", ")].count("HS-PS4-1") == 1


def test_an_alignment_to_a_retired_standard_stays_readable_and_says_so(session, teacher):
    take_in(teacher, package())
    framework = imported(session)
    old = next(row for row in framework.standards if row.identifier == "i-old")
    treatment = a_treatment(session)
    post(
        teacher,
        f"/standards/frameworks/{framework.id}/alignments",
        band="9-12",
        treatment=treatment.id,
        standard=old.id,
        verdict="accept",
        reason="from last year",
    )

    assert "OWN.9.9 is retired" in get(teacher, "/sections/period-3/standard?q=OWN.9.9")
    assert "This standard is retired" in get(teacher, f"/standards/{old.id}")


def test_a_school_does_not_see_what_another_accepted(app, session, teacher):
    from app.models import School
    from app.store import library

    take_in(teacher, package())
    framework = imported(session)
    wave = next(row for row in framework.standards if row.identifier == "i-wave")
    treatment = a_treatment(session)
    post(
        teacher,
        f"/standards/frameworks/{framework.id}/alignments",
        band="9-12",
        treatment=treatment.id,
        standard=wave.id,
        verdict="accept",
        reason="ours",
    )
    other = School(name="Elsewhere")
    session.add(other)
    session.flush()

    def aligned(school_id):
        rows = library.list_treatments(session, "9-12", school_id)
        return wave.id in [
            a.standard_id for row in rows if row.id == treatment.id for a in row.alignments
        ]

    assert aligned(framework.school_id)
    assert not aligned(other.id)
    assert not aligned(None)


def decide(client, session, verdict, standard="i-wave", treatment=None, **more):
    """Accept or decline one pair through the page; the standard and the treatment decided on."""
    framework = imported(session)
    row = next(row for row in framework.standards if row.identifier == standard)
    treatment = treatment or a_treatment(session)
    post(
        client,
        f"/standards/frameworks/{framework.id}/alignments",
        **{
            "band": "9-12",
            "treatment": treatment.id,
            "standard": row.id,
            "verdict": verdict,
            "strength": "strong",
            "reason": "The frets are the sequence.",
            **more,
        },
    )
    return row, treatment


COUNTS = (
    (
        "worksheet",
        "/sections/period-3/papers/worksheet?concept={concept}",
        r"doc-codes[^\n]*{code}",
    ),
    ("concept page", "/concepts/{concept}", r'<strong class="code">{code}</strong>'),
    ("semester", "/sections/period-3/plan", r'<td class="small">[^<]*{code}'),
    ("look-up", "/sections/period-3/standard?q={code}", r"{code} is in this build\."),
    ("coverage cell", "/sections/period-3/coverage", r'class="cell" href="[^"]*{code}\?week='),
    ("department", "/departments/design-technology/coverage", r'class="cell" href="[^"]*{code}"'),
    ("standard's page", "/standards/{standard}", r"in full: The frets are the sequence\."),
    ("course page", "/courses/{course}", r'<span class="code">{code}</span>'),
)


def counting(client, session, standard, treatment):
    """On which of the pages the standard counts."""
    course = session.scalars(sa.select(Section).where(Section.key == "period-3")).one().course_id
    values = {
        "concept": treatment.concept.key,
        "code": standard.code,
        "standard": standard.id,
        "course": course,
    }
    session.commit()
    return [
        name
        for name, address, shows in COUNTS
        if re.search(
            shows.replace("{code}", re.escape(standard.code)),
            get(client, address.format(**values)),
        )
    ]


def test_what_a_school_accepts_counts_on_every_page_and_what_it_declines_on_none(session, teacher):
    take_in(teacher, package())
    wave, treatment = decide(teacher, session, "accept")
    sheet = "/sections/period-3/papers/worksheet?standard=own-state-standards OWN.9.1"

    assert counting(teacher, session, wave, treatment) == [name for name, _, _ in COUNTS]
    for asked in (sheet, "/sections/period-3/papers/worksheet?standard=own 9.1"):
        page = get(teacher, asked)
        assert "OWN.9.1" in page
        assert treatment.goal in html.unescape(page)

    decide(teacher, session, "decline")

    assert counting(teacher, session, wave, treatment) == []
    get(teacher, sheet, status=404)


def test_a_partial_acceptance_stands_in_brackets_on_paper(session, teacher):
    take_in(teacher, package())
    _, treatment = decide(teacher, session, "accept", strength="partial")
    key = treatment.concept.key
    session.commit()

    assert "(OWN.9.1)" in get(teacher, f"/sections/period-3/papers/worksheet?concept={key}")
    assert "(OWN.9.1)" in get(teacher, "/sections/period-3/plan")


def test_the_planner_sees_what_is_accepted_and_what_the_course_then_requires(session, teacher):
    from app.domain.scheduling.schedule import Schedule
    from app.store.plan import section_problem

    take_in(teacher, package())
    _, treatment = decide(teacher, session, "accept")
    section = session.scalars(sa.select(Section).where(Section.key == "period-3")).one()
    course = section.course_id
    session.commit()
    post(
        teacher,
        f"/courses/{course}/standards",
        codes="own-state-standards OWN.9.1 2027-04-09",
    )
    session.expire_all()

    board = section_problem.board_of(session, section)
    problem = section_problem.lesson_problem(session, board, Schedule(()))

    label = "own-state-standards OWN.9.1"
    assert label in {item.standard for item in problem.required}
    assert [x.treatment for x in problem.lessons if label in x.strong] == [str(treatment.id)]


def shipped_alignment(session, treatment):
    """A content alignment that the treatment came with."""
    row = session.scalars(
        sa.select(Alignment).where(
            Alignment.treatment_id == treatment.id, Alignment.practice.is_(False)
        )
    ).first()
    session.commit()
    return row


def test_the_schools_word_on_a_shipped_alignment_holds_for_it_alone(session, teacher):
    from app.store import library

    treatment = a_treatment(session)
    shipped = shipped_alignment(session, treatment)
    framework = session.get(Framework, session.get(Standard, shipped.standard_id).framework_id)
    school = session.scalars(sa.select(School.id)).one()
    given = {
        "band": "9-12",
        "treatment": treatment.id,
        "standard": shipped.standard_id,
        "reason": "Our course does it in another year.",
    }
    session.commit()

    def held(school_id):
        found = library.alignments_of(session, [treatment.id], school_id)[treatment.id]
        session.commit()
        return [a.strength for a in found if a.standard_id == shipped.standard_id]

    address = f"/standards/frameworks/{framework.id}/alignments"
    assert (held(school), held(None)) == ([shipped.strength], [shipped.strength])
    post(teacher, address, **given, verdict="decline")
    assert (held(school), held(None)) == ([], [shipped.strength])
    post(teacher, address, **given, verdict="accept", strength="partial")
    assert (held(school), held(None)) == (["partial"], [shipped.strength])


def test_the_page_lists_what_came_with_the_library_and_lets_the_school_decline_it(session, teacher):
    treatment = a_treatment(session)
    shipped = shipped_alignment(session, treatment)
    framework = session.get(Standard, shipped.standard_id).framework_id
    session.commit()
    address = f"/standards/frameworks/{framework}/alignments"
    field = f'id="reason-{treatment.id}-{shipped.standard_id}"'

    assert "come with the library and count here" in get(teacher, f"{address}?band=9-12")
    assert field in get(teacher, f"{address}?band=9-12")
    post(
        teacher,
        address,
        band="9-12",
        treatment=treatment.id,
        standard=shipped.standard_id,
        verdict="decline",
        reason="Not in our course.",
    )

    page = get(teacher, f"{address}?band=9-12")
    assert "Not in our course." in page
    assert page.count(field) == 1


def test_the_better_suggestion_comes_first(session, teacher):
    from app.store.standard import alignments

    statements = (
        "Predict the pitch of a string of known length, mass and tension.",
        "Model the frets as a geometric sequence with one multiplier.",
        "Compare the stiffness of wood along and across the grain.",
    )
    items = [
        {"identifier": f"i-{n}", "humanCodingScheme": f"OWN.{n}", "fullStatement": text}
        for n, text in enumerate(statements)
    ]
    take_in(teacher, package(CFItems=items))
    framework = imported(session)

    found = alignments.suggestions(session, framework.school_id, framework, "9-12")

    scores = [item.score for item in found]
    assert len(scores) > 1
    assert scores == sorted(scores, reverse=True)


def test_what_was_accepted_follows_to_the_schools_own_treatment_and_back(session, teacher):
    take_in(teacher, package())
    wave, treatment = decide(teacher, session, "accept")
    key = treatment.concept.key
    before = counting(teacher, session, wave, treatment)
    form = get(teacher, f"/concepts/{key}/9-12/treatment")
    own = {**_filled(form), "title": "Our own title"}
    post(teacher, f"/concepts/{key}/9-12/treatment", **own)

    # The plan's lesson is still that of the shipped treatment: it counts for the school's own.
    assert "Our own title" in get(teacher, f"/concepts/{key}")
    assert counting(teacher, session, wave, treatment) == before
    # A page opened before names the shipped one.
    decide(teacher, session, "decline", treatment=treatment)
    assert counting(teacher, session, wave, treatment) == []
    decide(teacher, session, "accept", treatment=treatment)
    post(teacher, f"/concepts/{key}/9-12/treatment/drop")
    assert counting(teacher, session, wave, treatment) == before


def _filled(page):
    """What a form would send if nothing were changed in it."""
    names = re.findall(r'<input[^>]*name="([^"]+)"[^>]*>', page)
    found = {}
    for tag in re.findall(r"<input[^>]*>", page):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        plain = 'type="checkbox"' not in tag or "checked" in tag
        if name and plain:
            found[name[1]] = html.unescape(value[1]) if value else ""
    for name, text in re.findall(
        r'<textarea[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', page, re.DOTALL
    ):
        found[name] = html.unescape(text).removeprefix("\r\n").removeprefix("\n")
    for name, options in re.findall(
        r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL
    ):
        chosen = re.search(r'<option[^>]*selected[^>]*value="([^"]*)"', options) or re.search(
            r'<option[^>]*value="([^"]*)"[^>]*selected', options
        )
        found[name] = html.unescape(chosen[1]) if chosen else ""
    assert names
    return found


def test_the_head_may_work_on_alignments_too(app, session, teacher):
    take_in(teacher, package())

    get(signed_in(app, "head"), f"/standards/frameworks/{imported(session).id}/alignments?band=6-8")
