"""Tables that leave the house: never a formula, and what was written comes back."""

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.interchange.tables import FORMULA_STARTS, csv_text, neutral, unmarked


@pytest.mark.parametrize(
    "text", ["=1+1", "+cmd|' /C'!A0", "-2+3", "@SUM(A1)", "-0.02 mm=1", "\t=1"]
)
def test_what_a_spreadsheet_would_work_out_is_marked_as_text(text):
    # The starts are those of OWASP, "CSV Injection".
    assert neutral(text) == f"'{text}"
    assert unmarked(neutral(text)) == text


@pytest.mark.parametrize("reading", ["-0.02 mm", "+3 mm", "-5 cents", "-1,5 Ω"])
def test_a_reading_below_zero_stays_a_reading(reading):
    assert neutral(reading) == reading


@given(st.lists(st.lists(st.text(max_size=8), min_size=1, max_size=4), max_size=4))
def test_no_cell_of_any_table_starts_a_formula_but_a_reading(rows):
    for row in csv.reader(io.StringIO(csv_text(["a"], rows), newline="")):
        for cell in row:
            assert not cell.startswith(FORMULA_STARTS) or re.fullmatch(r"[-+][\d.,]+ \S{1,8}", cell)


def test_numbers_are_written_plainly_and_nothing_stays_empty():
    assert csv_text(["n", "x"], [[0.1 + 0.2, None]]) == "n,x\r\n0.3,\r\n"
