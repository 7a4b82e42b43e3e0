"""The papers besides worksheets, from invented facts: what must stand on each, and what must not."""

import re

import pytest

from app.domain.papers.class_plan import StepHazard
from app.domain.papers.coverage_statement import StatementRow, coverage_statement
from app.domain.papers.document import DEFERRAL, Caution, Items, Paragraph, QuestionBlock, Table
from app.domain.papers.facts import Check, Head, StepFacts
from app.domain.papers.hold_point_sheet import hold_point_sheet, readings_of
from app.domain.papers.letter_home import CourseFacts, letter_home
from app.domain.papers.phase_card import phase_card
from app.domain.papers.progress_note import NoteStanding, progress_note
from app.domain.papers.safety_test import SafetyStation, safety_test
from app.domain.papers.showcase_card import showcase_card
from app.domain.papers.sign_off_log import SignedOff, sign_off_log
from app.domain.papers.worksheets import QuantityFacts

HEAD = Head("Period 3", "Box guitar", "", "T01")
SAW = StepHazard(
    "S1",
    "Saw the slots",
    ("Fingers behind the fence", "Clamp the work", "Guard set to the stock", "No gloves"),
    ("eye protection",),
    "adult at the machine",
    ("a code of rules",),
)
STEPS = (
    StepFacts(
        "S1",
        "Saw the slots",
        "Mitre jig",
        40,
        hold_point=True,
        check=Check("Slot error", "0", "0.25", "mm", "caliper", "6 readings", "fill and saw"),
        permit="P-SAW",
        hazard=SAW,
    ),
    StepFacts("S2", "Glue", "Bench", 20, drying="glue, about 24 h"),
)
OTHERS = ("Iron back in its stand", "Wipe up filings", "Vent the room", "Read the label first")
STATION = SafetyStation("P-SAW", "Sawing", (SAW,), OTHERS)
STUDENTS = [SignedOff("S1-01", ("L T C 14 Jan",)), SignedOff("S1-02", ("",))]


def papers():
    yield phase_card(HEAD, "Frets", "All slots sawn", STEPS)
    yield hold_point_sheet(HEAD, "Frets", STEPS)
    yield safety_test(HEAD, STATION, "A")
    yield safety_test(HEAD, STATION, "B", read_aloud=True)
    yield sign_off_log(HEAD, [("P-SAW", "Sawing")], STUDENTS, [SAW])
    yield letter_home(
        HEAD, CourseFacts("A box with strings", "A. Rowan", None, None, 0, (), (SAW,))
    )
    yield progress_note(
        HEAD, NoteStanding("T01", 1, 2, "Frets", ("S1 Saw the slots",), hazards=(SAW,))
    )


def test_every_paper_that_shows_a_hazardous_step_carries_a_caution_with_the_deferral_line():
    for paper in papers():
        boxes = [block for block in paper.blocks if isinstance(block, Caution)]
        assert len(boxes) == 1, paper.title
        assert boxes[0].deferral == DEFERRAL


def test_the_route_card_stops_at_the_hold_point_and_leaves_room_for_initials():
    card = phase_card(HEAD, "Frets", "All slots sawn", STEPS)
    (table,) = [block for block in card.blocks if isinstance(block, Table)]
    saw, glue = table.rows
    assert saw[3] == "HOLD. Slot error: 0 mm, 0.25 mm"
    assert saw[4:] == (None, None)
    assert glue[3] == "–"
    assert any(isinstance(b, Items) and "S2: glue, about 24 h" in b.items for b in card.blocks)


@pytest.mark.parametrize(
    ("words", "count"),
    [("8 readings", 8), ("two widths", 2), ("slots 1, 5, 7", 4), ("", 4), ("200 taps", 4)],
)
def test_a_check_gets_as_many_cells_as_it_asks_readings_for(words, count):
    assert readings_of(Check("x", record_as=words)) == count


def test_a_phase_without_a_check_has_no_data_sheet():
    with pytest.raises(ValueError, match="choose another phase"):
        hold_point_sheet(HEAD, "Glue-up", STEPS[1:])


def test_each_right_answer_of_a_safety_test_stands_in_the_facts_and_no_wrong_one_does():
    sure = {
        *SAW.hazards,
        "eye protection",
        "adult at the machine",
        "the lesson, this test with every answer right, and a check-out an adult observed",
        "stop, step back, and call the adult",
    }
    for form in ("A", "B"):
        test = safety_test(HEAD, STATION, form)
        questions = [block for block in test.blocks if isinstance(block, QuestionBlock)]
        assert len(questions) == len(test.answers) >= 7
        for question, answer in zip(questions, test.answers, strict=True):
            right = question.choices["ABCDEFGH".index(answer.letter)]
            assert right == answer.text
            assert right in sure
            assert not sure & (set(question.choices) - {right})


def test_the_two_forms_of_a_safety_test_differ_and_each_is_always_the_same():
    first, second = (safety_test(HEAD, STATION, form) for form in ("A", "B"))
    assert first == safety_test(HEAD, STATION, "A")
    assert [a.letter + a.text for a in first.answers] != [a.letter + a.text for a in second.answers]


def test_a_safety_test_does_not_print_its_answers_in_its_caution():
    test = safety_test(HEAD, STATION, "A")
    (box,) = [block for block in test.blocks if isinstance(block, Caution)]
    shown = " ".join((*box.hazards, *box.protection, box.supervision))
    assert not any(answer.text in shown for answer in test.answers)


def test_a_station_without_cautions_has_no_test():
    with pytest.raises(ValueError, match="nothing to ask"):
        safety_test(HEAD, SafetyStation("P-X", "Nothing", ()), "A")


def test_the_log_leaves_a_cell_open_where_nothing_is_on_record():
    log = sign_off_log(HEAD, [("P-SAW", "Sawing")], STUDENTS, [SAW])
    table = next(block for block in log.blocks if isinstance(block, Table))
    assert table.rows == (("S1-01", "L T C 14 Jan"), ("S1-02", None))


def test_the_progress_note_never_says_why_somebody_was_away():
    note = progress_note(HEAD, NoteStanding("T01", 1, 2, "Frets"))
    text = " ".join(b.text for b in note.blocks if isinstance(b, Paragraph))
    assert "1 of 2 steps" in text
    assert not re.search(r"absent|ill\b|away", text)


def test_the_coverage_statement_shows_part_and_planned_in_letters_not_in_colour():
    rows = [
        StatementRow("A.1", "Functions", "taught", "(planned)", "", 3, "20 of 22"),
        StatementRow("A.2", "Geometry", practised="(planned)", required=False),
    ]
    statement = coverage_statement(HEAD, rows, ["A.1 is never assessed."], ["Owned by X.", ""])
    (table,) = [block for block in statement.blocks if isinstance(block, Table)]
    assert table.rows == (("A.1", "Functions", "taught", "(planned)", "–", "3", "20 of 22"),)
    words = {b.label: b.text for b in statement.blocks if isinstance(b, Paragraph)}
    assert words["Also practised"] == "(A.2) planned."
    assert any(isinstance(b, Items) and "never assessed" in b.items[0] for b in statement.blocks)


def test_the_showcase_card_shows_measured_numbers_first():
    card = showcase_card(
        HEAD,
        [
            QuantityFacts("a", "Nut width", "43 mm"),
            QuantityFacts("b", "Scale length", "648 mm", "647.5 mm"),
        ],
        ["I can lay out my own neck."],
    )
    (table,) = [block for block in card.blocks if isinstance(block, Table)]
    assert table.rows == (("Scale length", "648 mm", "647.5 mm"), ("Nut width", "43 mm", None))
