"""Cut-list files in, tables out: every mistake is told, no cell is a formula."""

import csv
import io
import json

import openpyxl
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from app.cli.kits_commands import show_cut_list
from app.domain.kit.board_cutting import cut_from_rack
from app.domain.papers.kit_papers import KitGrid
from app.interchange.files import BadFile
from app.interchange.kit_files import (
    cutting_data,
    grids_csv,
    parse_cut_list,
    read_cut_list,
    xlsx_bytes,
)
from app.interchange.tables import neutral

BILLETS = b"""
kerf = "1/8 in"
[[parts]]
label = "Body billet"
length = "22 in"
count = 4
[[boards]]
label = "8 ft"
length = "8 ft"
"""


def test_four_22_inch_billets_from_an_8_foot_board():
    # Common practice, no source: four billets of 22 in from 96 in with a 1/8 in kerf. By hand,
    # 96 - 4 * 22 - 3 * 1/8 = 7 5/8 in are left (a fourth cut off the rest leaves 7 1/2 in).
    task = parse_cut_list(BILLETS, "billets.toml")
    found = cut_from_rack(task.blanks, task.boards, task.kerf_m, trim_m=task.trim_m)
    (board,) = found.boards
    (strip,) = board.strips

    assert found.status == "optimal"
    assert [piece.length_m for piece in strip.pieces] == pytest.approx([22 * 0.0254] * 4)
    assert strip.offcut_m == pytest.approx(7.625 * 0.0254)


def test_toml_and_json_say_the_same():
    data = {
        "kerf": "1/8 in",
        "parts": [{"label": "Body billet", "length": "22 in", "count": 4}],
        "boards": [{"label": "8 ft", "length": "8 ft"}],
    }
    assert parse_cut_list(json.dumps(data).encode(), "a.json") == parse_cut_list(BILLETS, "a.toml")


def test_bare_numbers_are_millimetres_and_instruments_multiply():
    raw = b"instruments = 3\nkerf = 2\n[[parts]]\nlength = 100\ncount = 2\n[[boards]]\nlength = 2440\n"
    task = parse_cut_list(raw, "a.toml")

    assert task.blanks[0].count == 6
    assert task.blanks[0].length_m == pytest.approx(0.1)
    assert task.kerf_m == pytest.approx(0.002)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"parts = [", "TOML"),
        (b"\xff\xfe", "UTF-8"),
        (b"parts = []", "boards"),
        (b'[[parts]]\nlength = "long"\n[[boards]]\nlength = "8 ft"', "Length"),
        (b'[[parts]]\nlength = "1 m"\ncount = 0\n[[boards]]\nlength = "8 ft"', "count"),
        (b'[[parts]]\nlength = "1 m"\nsize = 3\n[[boards]]\nlength = "8 ft"', "size"),
        (b"x" * 1_000_001, "1 MB"),
    ],
)
def test_a_file_with_a_mistake_is_refused_in_words(raw, words):
    with pytest.raises(BadFile, match=words):
        parse_cut_list(raw, "a.toml")


def test_every_mistake_is_told_at_once():
    raw = b'kerf = "thin"\n[[parts]]\nlength = "a"\nwidth = "b"\n[[boards]]\nlength = "c"\n'
    with pytest.raises(BadFile) as refused:
        parse_cut_list(raw, "a.toml")
    assert len(refused.value.mistakes) == 4


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(BadFile, match="cannot be read"):
        read_cut_list(tmp_path / "none.toml")


def run(tmp_path, text, *options):
    file = tmp_path / "cut.toml"
    file.write_text(text)
    return CliRunner().invoke(show_cut_list, [str(file), *options])


def test_the_command_prints_the_cut_list_as_json(tmp_path):
    done = run(tmp_path, BILLETS.decode(), "--json")
    data = json.loads(done.stdout)

    assert done.exit_code == 0
    assert (data["status"], data["boards_used"]) == ("optimal", 1)
    assert data["boards"][0]["strips"][0]["offcut"] == pytest.approx(193.675)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            '[[parts]]\nlabel = "Neck"\nlength = "3 m"\n[[boards]]\nlength = "8 ft"\n',
            "longer than the longest board",
        ),
        ('boards = []\n[[parts]]\nlength = "1 m"\n', "no board on the rack"),
        ('parts = []\n[[boards]]\nlength = "1 m"\n', "no part to cut"),
        ('kerf = "3 in"\n[[parts]]\nlength = "1 m"\n[[boards]]\nlength = "2 m"\n', "kerf"),
        (
            '[[parts]]\nlength = "1 m"\nspecies = "ash"\n[[boards]]\nlength = "2 m"\n',
            "of ash",
        ),
    ],
)
def test_what_cannot_be_cut_is_refused_in_a_sentence(tmp_path, text, words):
    done = run(tmp_path, text, "--json")

    assert done.exit_code != 0
    assert words in done.output


# --- tables --------------------------------------------------------------------------------------

DANGEROUS = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\N{FULLWIDTH EQUALS SIGN}1")


@pytest.mark.parametrize("text", DANGEROUS)
def test_a_text_like_a_formula_becomes_text(text):
    assert neutral(text).startswith("'")
    grid = KitGrid("T", ("a",), ((text,),))
    (_, row) = list(csv.reader(io.StringIO(grids_csv([grid]))))
    assert row[0].startswith("'")
    sheet = openpyxl.load_workbook(io.BytesIO(xlsx_bytes([grid]))).worksheets[0]
    assert sheet["A2"].data_type == "s"
    assert str(sheet["A2"].value).startswith("'")


@given(st.text(max_size=30))
def test_any_text_survives_a_spreadsheet(text):
    grid = KitGrid(text, ("a", "b"), ((text, 1.5), (None, 2)))
    sheet = openpyxl.load_workbook(io.BytesIO(xlsx_bytes([grid]))).worksheets[0]
    assert sheet["B2"].value == 1.5
    assert sheet["A2"].data_type != "f"


def test_numbers_stay_numbers_and_negative_ones_are_no_formula():
    grid = KitGrid("T", ("a",), ((-2.5,),))
    sheet = openpyxl.load_workbook(io.BytesIO(xlsx_bytes([grid]))).worksheets[0]
    assert sheet["A2"].value == -2.5


def test_two_sheets_of_one_title_get_two_names():
    grids = [KitGrid("Packing: A/B", ("a",), ()), KitGrid("Packing: A/B", ("a",), ())]
    names = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(grids))).sheetnames
    assert len(set(names)) == 2


def test_a_cutting_as_data_adds_up():
    task = parse_cut_list(BILLETS, "a.toml")
    data = cutting_data(cut_from_rack(task.blanks, task.boards, task.kerf_m))
    (strip,) = data["boards"][0]["strips"]
    inside = sum(piece["length"] for piece in strip["pieces"])

    assert inside + 3 * data["kerf"] + strip["offcut"] == pytest.approx(data["length_used"])
