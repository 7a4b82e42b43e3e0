"""The whole main job by hand: from an empty school to the department head's coverage.

Numbers are checked against values written here that no code of ours computed:
- fret 12 of a 648 mm scale lies at half the scale, 324 mm (the octave halves the string; see any
  text on equal temperament, such as ISO 16 and the octave identity);
- the term below has 25 weekdays from Monday 11 January to Friday 12 February 2027, less Monday
  18 January (a federal holiday: 5 U.S.C. 6103, the third Monday in January) and one closed day:
  23 meetings;
- one required standard, so the coverage table has one required row.
"""

import re

import pytest

pytestmark = pytest.mark.browser

CODES = "\n".join(f"P1-{n:02d}" for n in range(1, 5))


def fill(page, **values):
    for name, value in values.items():
        field = page.locator(f"[name={name}]").first
        if field.evaluate("e => e.tagName") == "SELECT":
            field.select_option(label=value)
        else:
            field.fill(value)


def send(page, label):
    page.get_by_role("button", name=label, exact=True).click()
    page.wait_for_load_state()


def test_an_empty_school_becomes_a_planned_printed_and_reviewed_section(
    chromium, empty_school, tmp_path
):
    page = chromium.new_page(viewport={"width": 1366, "height": 768})
    page.set_default_timeout(20_000)

    # The first start leads through creating the school.
    page.goto(empty_school)
    assert "Whose school is this?" in page.inner_text("h1")
    fill(
        page,
        school="Fernhill School",
        name="S. Birch",
        email="birch@fernhill.example",
        password="cedar and ash",
    )
    send(page, "Create the school")

    page.get_by_role("link", name="Add a department").click()
    fill(page, name="Science", key="science")
    send(page, "Create the department")

    page.get_by_role("link", name="See and add people").click()
    for name, email, role in (
        ("T. Elm", "elm@fernhill.example", "Teacher"),
        ("H. Yew", "yew@fernhill.example", "Department head"),
    ):
        fill(
            page, name=name, email=email, role=role, department="Science", password="cedar and ash"
        )
        send(page, "Add the person")
        assert f"{name} can sign in now." in page.inner_text("main")

    page.goto(f"{empty_school}/terms/new")
    fill(
        page,
        title="Winter 2027",
        first_day="2027-01-11",
        last_day="2027-02-12",
        days="2027-02-03 closed Snow",
    )
    send(page, "Create the term")
    assert "23 school days" in page.inner_text("main")

    page.goto(f"{empty_school}/rooms/new")
    fill(page, title="Workshop")
    send(page, "Create the room")
    send(page, "Save the room")

    page.goto(f"{empty_school}/courses/new")
    fill(page, title="Sound and Making", key="sound", band="Grades 9–12")
    send(page, "Create the course")
    fill(page, codes="F-LE.2")  # an older customary spelling of HSF.LE.A.2
    send(page, "Add the standards")
    assert "1 required standard" in page.inner_text("main")

    page.goto(f"{empty_school}/sections/new")
    fill(
        page,
        title="Period 1",
        key="period-1",
        build="Three-string box instrument, version 2",
        teacher="T. Elm",
        starts_at="09:00",
        regular="90",
        showcase="2027-02-11",
    )
    send(page, "Create the section")
    fill(page, codes=CODES, size="2")
    send(page, "Add students and make teams")
    assert "T02" in page.inner_text("main")

    # The teacher plans, prints and signs out.
    send(page, "Sign out")
    fill(page, email="elm@fernhill.example", password="cedar and ash")
    send(page, "Sign in")
    page.goto(f"{empty_school}/sections/period-1")
    assert "23, with" in page.inner_text("main")
    page.goto(f"{empty_school}/sections/period-1/plan")
    send(page, "Plan the term")
    page.wait_for_url(re.compile(r"/plan$"), timeout=90_000)
    text = page.inner_text("main")
    assert "All 2 instruments are finished by" in text
    assert "broken" not in text

    week = page.request.get(f"{empty_school}/sections/period-1/weeks/1.pdf")
    assert week.headers["content-type"] == "application/pdf"
    (tmp_path / "week.pdf").write_bytes(week.body())
    sheet = page.request.get(
        f"{empty_school}/sections/period-1/papers/worksheet.pdf?phase=fret-lines&band=9-12"
    )
    assert sheet.status == 200
    assert "Monday 11 January 2027" in pdf_text(tmp_path / "week.pdf")

    page.goto(f"{empty_school}/calculators/fret-positions?scale_length=648+mm&fret=12")
    assert "324" in page.inner_text("main")
    page.goto(empty_school)
    send(page, "Sign out")

    # The department head reads the coverage.
    fill(page, email="yew@fernhill.example", password="cedar and ash")
    send(page, "Sign in")
    page.goto(f"{empty_school}/sections/period-1/coverage")
    table = page.get_by_role("table").first
    assert table.locator("tbody tr").count() == 1
    assert "HSF.LE.A.2" in table.inner_text()
    page.close()


def pdf_text(path):
    import pdfplumber

    with pdfplumber.open(path) as pdf:
        return "\n".join(page.extract_text() or "" for page in pdf.pages)
