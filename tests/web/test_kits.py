"""Kits on the page: what is short, counting with undo, boards, papers, pull list, batches."""

import datetime as dt
import io
import json
import re

import openpyxl
import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from app.cli.kits_commands import show_kit, write_batch
from app.models import Build, Material, Section, Stock, StockCount, Team
from app.store.kit import kits
from tests.conftest import signed_in
from tests.pages import get, post

KIT = "/sections/period-3/kit"
PAPERS = f"{KIT}/papers"


@pytest.fixture
def section(session):
    """The sample section. A session of the tests may write, so it must be let go of before a post."""
    return session.scalars(sa.select(Section).where(Section.key == "period-3")).one()


def test_the_kit_list_says_what_is_short_and_by_when(teacher):
    page = get(teacher, KIT)

    assert "String set, steel" in page
    assert "3 materials are short" in page
    assert "Order by" in page


def test_needed_is_the_bill_times_the_teams_and_spares_are_binomial(session, section):
    from scipy import stats

    found = {line.material: line for line in kits.section_kit(session, section).lines}
    # 11 teams; two body halves each: by hand. Spares: scipy.stats.binom, 95 %.
    assert found["m-body-half"].needed == 22
    assert found["m-str6"].spares == stats.binom.ppf(0.95, 11, 0.2)
    assert found["m-nut6"].spares == stats.binom.ppf(0.95, 11, 0.25)


def test_what_was_used_follows_from_steps_done_and_parts_spoiled(session, section):
    before = kits.stock_of(session, section.room)["m-rod"]
    line = {x.material: x for x in kits.section_kit(session, section).lines}["m-rod"]

    assert before.counted - before.used_since == line.on_hand
    assert line.used == before.used_since
    assert line.to_come == line.needed - line.used


def test_a_spoiled_part_takes_one_more_from_the_stock(session, section):
    from app.models import Progress, Step, StepMaterial

    step = session.scalars(
        sa.select(Step).join(StepMaterial).join(Material).where(Material.key == "m-str6")
    ).one()
    team = section.teams[0]
    had = kits.stock_of(session, section.room)["m-str6"].quantity
    session.add(
        Progress(
            team=team,
            step=step,
            meeting=section.meetings[40],
            event="spoiled",
            recorded_at=dt.datetime(2027, 3, 1, 12, tzinfo=dt.UTC),
            recorded_by="A. Rowan",
        )
    )
    session.flush()

    assert kits.stock_of(session, section.room)["m-str6"].quantity == had - 1


def test_a_count_is_saved_and_can_be_taken_back(teacher, session, section):
    before = kits.stock_of(session, section.room)["m-str6"].quantity
    session.rollback()
    post(teacher, f"{KIT}/count", **{"have-m-str6": "14", "have-m-glue": "100"})
    session.rollback()
    assert kits.stock_of(session, section.room)["m-str6"].quantity == 14
    session.rollback()

    assert "Take it back" in get(teacher, f"{KIT}/count")
    post(teacher, f"{KIT}/count/take-back")
    session.expire_all()

    assert kits.stock_of(session, section.room)["m-str6"].quantity == before
    assert "Take it back" not in get(teacher, f"{KIT}/count")


def test_one_persons_undo_leaves_anothers_count_alone(app, teacher, session, section):
    session.rollback()
    lead = signed_in(app, "workshop")
    post(lead, f"{KIT}/count", **{"have-m-str6": "9"})
    post(teacher, f"{KIT}/count/take-back")
    session.expire_all()

    assert kits.stock_of(session, section.room)["m-str6"].quantity == 9


@pytest.mark.parametrize(
    ("text", "words"), [("many", "is no number"), ("-1", "enter 0 to"), ("nan", "is no number")]
)
def test_an_odd_count_is_refused_and_stays_in_the_form(teacher, session, text, words):
    counts = session.scalar(sa.select(sa.func.count()).select_from(StockCount))
    session.rollback()
    answer = post(teacher, f"{KIT}/count", 422, **{"have-m-str6": text, "have-m-glue": "7"})

    assert words in answer.text
    assert f'value="{text}"' in answer.text
    assert 'value="7"' in answer.text
    session.expire_all()
    assert session.scalar(sa.select(sa.func.count()).select_from(StockCount)) == counts


def test_an_unknown_material_is_refused(teacher):
    assert "no material" in post(teacher, f"{KIT}/count", 422, **{"have-nothing": "1"}).text


def test_without_any_stock_everything_is_short(teacher, session):
    for row in session.scalars(sa.select(Stock)):
        session.delete(row)
    session.commit()

    page = get(teacher, KIT)
    assert "materials are short" in page
    assert "Traceback" not in page


def test_the_head_sees_the_kit_but_does_not_count(app):
    head = signed_in(app, "head")
    assert "Count the stock" not in get(head, KIT)
    get(head, f"{KIT}/count", 404)
    post(head, f"{KIT}/count", 404, **{"have-m-str6": "1"})


def test_places_and_reorder_levels_are_saved_and_warn_on_the_pull_list(teacher):
    post(teacher, f"{KIT}/levels", **{"place-m-str6": "Drawer 9", "level-m-str6": "100"})

    assert "Drawer 9" in get(teacher, f"{KIT}/count")
    assert re.search(r"String set.*reorder at 100", get(teacher, f"{KIT}/pull-list"))


def test_a_longer_approval_moves_order_by_dates_forward(teacher, session, section):
    def due():
        lines = kits.section_kit(session, section, today=dt.date(2027, 1, 4)).lines
        return {x.material: x.order_by for x in lines}["m-str6"]

    before = due()
    session.rollback()
    post(teacher, f"{KIT}/approval", approval_days="10")
    session.rollback()
    # Five open days more: at least a week earlier.
    assert before - due() >= dt.timedelta(days=7)
    session.rollback()
    post(teacher, f"{KIT}/approval", approval_days="soon")
    session.expire_all()
    assert section.room.school.approval_days == 10


# --- boards and cut lists ------------------------------------------------------------------------


def test_the_cut_list_lays_spares_on_the_boards_of_the_rack(teacher):
    page = get(teacher, f"{KIT}/cut-list?all=1")

    assert "Soft maple" in page
    assert "Body half" in page
    assert "<svg" in page


def test_boards_go_on_and_off_the_rack(teacher, session):
    from app.models import BoardStock

    post(teacher, f"{KIT}/boards", label="Poplar", count="3", length="10 ft", width='7 1/2"')
    row = session.scalars(sa.select(BoardStock).where(BoardStock.label == "Poplar")).one()
    assert (row.count, row.length) == (3, "10 ft")
    board_id = row.id
    session.rollback()
    assert "Poplar" in get(teacher, f"{KIT}/cut-list")

    post(teacher, f"{KIT}/boards/{board_id}/remove")
    get(teacher, f"{KIT}/cut-list")  # what was said once is not said again
    assert "Poplar" not in get(teacher, f"{KIT}/cut-list")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"length": "long"}, "Length"),
        ({"length": ""}, "Length"),
        ({"length": "8 ft", "width": "wide"}, "Width"),
        ({"length": "8 ft", "count": "0"}, "number of boards"),
        ({"length": "8 ft", "count": "some"}, "number of boards"),
        ({"length": "300 m"}, "between 1 mm and 20 m"),
    ],
)
def test_odd_boards_are_refused_with_what_was_typed_kept(teacher, given, words):
    answer = post(teacher, f"{KIT}/boards", 422, label="Odd one", **given)

    assert words in answer.text
    assert 'value="Odd one"' in answer.text


def test_a_kerf_that_cannot_be_read_is_told(teacher):
    assert "Kerf" in get(teacher, f"{KIT}/cut-list?kerf=thin&all=1")
    get(teacher, f"{PAPERS}/cut-list.pdf?kerf=thin&all=1", 422)


def test_an_empty_rack_asks_for_boards(teacher, session):
    from app.models import BoardStock

    session.execute(sa.delete(BoardStock))
    session.commit()

    assert "no board on the rack" in get(teacher, f"{KIT}/cut-list?all=1")


# --- papers --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["order-list", "packing-list", "labels", "cut-list", "pull-list"])
def test_every_paper_is_a_page_a_pdf_a_table_and_a_spreadsheet(teacher, name):
    get(teacher, f"{PAPERS}/{name}?all=1")
    for kind, start in (("pdf", b"%PDF"), ("xlsx", b"PK"), ("csv", b"\xef\xbb\xbf")):
        answer = teacher.get(f"{PAPERS}/{name}.{kind}?all=1")
        assert answer.status_code == 200, (name, kind)
        assert answer.data.startswith(start)
        assert f"{name}.{kind}" in answer.headers["Content-Disposition"]


@pytest.mark.parametrize("name", ["nothing.pdf", "labels.exe", "labels.pdf.zip", "order-list.PDF"])
def test_an_unknown_paper_is_missing(teacher, name):
    get(teacher, f"{PAPERS}/{name}", 404)


def test_labels_skip_what_is_used_and_refuse_more_than_a_sheet(teacher):
    assert teacher.get(f"{PAPERS}/labels.pdf?skip=29").status_code == 200
    answer = teacher.get(f"{PAPERS}/labels.pdf?skip=30")
    assert answer.status_code == 422
    assert "skip 0 to 29" in answer.text


def test_a_title_that_begins_like_a_formula_is_text_in_the_spreadsheet(teacher, session):
    row = session.scalars(sa.select(Material).where(Material.key == "m-str6")).one()
    row.title = '=HYPERLINK("http://example.invalid","strings")'
    session.commit()

    text = teacher.get(f"{PAPERS}/order-list.csv").data.decode("utf-8-sig")
    assert "'=HYPERLINK" in text
    book = openpyxl.load_workbook(io.BytesIO(teacher.get(f"{PAPERS}/order-list.xlsx").data))
    cells = [cell for sheet in book for line in sheet.iter_rows() for cell in line]
    assert not [cell.value for cell in cells if cell.data_type == "f"]


# --- the pull list -------------------------------------------------------------------------------


def test_the_pull_list_of_today_names_teams_materials_and_cautions(teacher):
    page = get(teacher, f"{KIT}/pull-list")

    assert "T01" in page
    assert "Set out" in page
    assert "Caution" in page
    assert "Local codes" in page


def test_a_week_and_a_day_without_class(teacher):
    assert "Monday 1 March" in get(teacher, f"{KIT}/pull-list?week=9")
    get(teacher, f"{KIT}/pull-list?week=99", 404)
    get(teacher, f"{KIT}/pull-list?date=2027-03-22", 404)


def test_a_fresh_blade_starts_its_count_again(teacher, session, section):
    from app.store.kit import pulls

    def done():
        return {b.station: b.done for b in pulls.blades_of(session, section.room)}["bandsaw"]

    assert done() > 0
    session.rollback()
    post(teacher, f"{KIT}/blades", station="bandsaw")
    session.rollback()
    assert done() == 0
    session.rollback()
    post(teacher, f"{KIT}/blades", station="class")
    assert "has a blade or bit" in get(teacher, f"{KIT}/pull-list")


# --- batches -------------------------------------------------------------------------------------


def second_section(session, section, version):
    """A second class of the same school, on another version of the same build."""
    build = section.build
    if version != build.version:
        build = Build(
            **{
                name: getattr(section.build, name)
                for name in (
                    "school_id", "key", "title", "summary", "band", "team_size", "currency",
                    "note", "quantities", "strings", "no_treatment", "blanks",
                )
            },
            version=version,
        )  # fmt: skip
        session.add(build)
        session.flush()
    copied = (
        "course_id", "term_id", "teacher_id", "room_id", "band", "starts_at", "pattern", "bells",
        "opening_minutes", "closing_minutes", "routine", "showcase", "ready_made", "keep_until",
    )  # fmt: skip
    row = Section(
        **{name: getattr(section, name) for name in copied},
        key="period-5",
        title="Guitar Design and Build, period 5",
        build_id=build.id,
        teams=[Team(code=f"R{n:02d}") for n in range(1, 6)],
    )
    session.add(row)
    session.commit()
    return row


def test_a_workshop_lead_puts_classes_together(app, session, section):
    second_section(session, section, section.build.version)
    lead = signed_in(app, "workshop")
    page = get(lead, "/kits?section=period-3&section=period-5")

    assert "16 instruments" in page
    assert "jointer and planer" in page
    assert "Caution" in page
    for name in ("batch", "cut-list", "labels", "packing-list"):
        answer = lead.get(f"/kits/papers/{name}.pdf?section=period-3&section=period-5")
        assert answer.data.startswith(b"%PDF"), name
    assert lead.get("/kits/papers/batch.xlsx?section=period-3").data.startswith(b"PK")


def test_pooled_spares_are_binomial_over_all_classes(session, section):
    from scipy import stats

    from app.store.kit import batches

    other = second_section(session, section, section.build.version)
    found = batches.batch(session, [section, other])
    line = {x.material: x for x in found.lines}["m-str6"]
    # scipy.stats.binom: 16 teams together at 20 %.
    assert line.spares == stats.binom.ppf(0.95, 16, 0.2)
    assert line.needed == 16


def test_a_batch_of_differing_build_versions_is_refused_in_words(app, session, section):
    second_section(session, section, "another")
    answer = signed_in(app, "workshop").get("/kits?section=period-3&section=period-5")

    assert answer.status_code == 422
    assert "different versions" in answer.text
    assert "period 5" in answer.text


def test_a_batch_shows_only_classes_one_may_see(teacher, app, session, section):
    other = second_section(session, section, section.build.version)
    lead = session.execute(
        sa.text('select id from "user" where email = :e'), {"e": "admin@demo.example"}
    ).scalar_one()
    other.teacher_id = lead
    session.commit()

    assert "period 5" not in get(teacher, "/kits?section=period-3&section=period-5")
    assert "period 5" in get(signed_in(app, "workshop"), "/kits")


# --- the command line ----------------------------------------------------------------------------


@pytest.fixture
def run(app, monkeypatch):
    """Run a command on the application's database."""
    monkeypatch.setenv("STRINGCOURSE_DATABASE", app.config["STRINGCOURSE"].database_url)
    return lambda command, *words: CliRunner().invoke(command, [str(word) for word in words])


def test_the_kit_command_prints_every_line_as_json(run):
    done = run(show_kit, "--section", "period-3", "--today", "2027-03-01", "--json")
    assert done.exit_code == 0, done.output
    lines = {line["key"]: line for line in json.loads(done.stdout)["lines"]}

    names = {"part", "needed", "spares", "on_hand", "short", "order_by", "cost_low", "cost_high"}
    assert all(names <= set(line) for line in lines.values())
    strings = lines["m-str6"]
    # 11 sets and 5 spares (binomial table worked by hand), 6 on hand, none used: 10 short.
    assert (strings["needed"], strings["spares"], strings["on_hand"]) == (11, 5, 6)
    assert strings["short"] == 10
    assert strings["order_by"] < strings["needed_on"]


def test_more_assurance_never_needs_fewer_spares_on_the_command_line(run):
    def spares(assurance):
        done = run(show_kit, "--section", "period-3", "--assurance", assurance, "--json")
        return [line["spares"] for line in json.loads(done.stdout)["lines"]]

    assert sum(spares(0.8)) < sum(spares(0.99))


def test_an_unknown_section_or_odd_assurance_is_refused(run):
    assert run(show_kit, "--section", "nowhere").exit_code != 0
    assert run(show_kit, "--section", "period-3", "--assurance", 1).exit_code == 2


@pytest.mark.parametrize(
    ("kind", "start"), [("pdf", b"%PDF"), ("xlsx", b"PK"), ("csv", b"Totals"), ("json", b"{")]
)
def test_the_batch_command_writes_what_the_name_says(run, tmp_path, kind, start):
    file = tmp_path / f"batch.{kind}"
    done = run(write_batch, "period-3", "block-4", "--today", "2027-03-01", "-o", file)
    assert done.exit_code == 0, done.output
    assert file.read_bytes().startswith(start)
    assert "2 classes" in done.output


def test_the_batch_command_refuses_other_endings_and_differing_versions(
    run, tmp_path, session, section
):
    second_section(session, section, "another")
    done = run(write_batch, "period-3", "-o", tmp_path / "batch.doc")
    assert done.exit_code != 0
    assert ".pdf, .xlsx, .csv or .json" in done.output
    done = run(write_batch, "period-3", "period-5", "-o", tmp_path / "batch.pdf")
    assert done.exit_code != 0
    assert "different versions" in done.output
    assert not (tmp_path / "batch.pdf").exists()
