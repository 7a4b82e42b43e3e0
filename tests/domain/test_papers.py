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
from app.domain.papers.safety_pictures import picture
from app.domain.papers.safety_test import (
    ASKED,
    Practice,
    SafetyItem,
    SafetyStation,
    WrongAnswer,
    asked_items,
    safety_test,
)
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
CLAMP = Practice("clamp", "Clamp it.", "It moves.", "blade", "a code of rules")
ASK = Practice("ask", "Ask first.", "A guess hurts.", "conduct", "a code of rules")
ITEMS = tuple(
    SafetyItem(
        f"item-{number}",
        ("6-8",),
        f"What holds part {number}?",
        f"a clamp, {number}",
        CLAMP,
        (
            *(WrongAnswer(f"{what}, {number}", CLAMP) for what in ("a hand", "a foot")),
            WrongAnswer(f"luck, {number}", ASK),
        ),
        "key-in-chuck" if number == 0 else "",
    )
    for number in range(16)
)
STATION = SafetyStation("P-SAW", "Sawing", (SAW,), ITEMS)
STUDENTS = [SignedOff("S1-01", ("L T C 14 Jan",)), SignedOff("S1-02", ("",))]


def papers():
    yield phase_card(HEAD, "Frets", "All slots sawn", STEPS)
    yield hold_point_sheet(HEAD, "Frets", STEPS)
    yield safety_test(HEAD, STATION, "6-8", "A")
    yield safety_test(HEAD, STATION, "6-8", "B", read_aloud=True)
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


@pytest.mark.parametrize("form", ["A", "B"])
def test_each_question_of_a_safety_test_has_one_right_answer_and_says_why_the_others_are_wrong(
    form,
):
    test = safety_test(HEAD, STATION, "6-8", form)
    questions = [block for block in test.blocks if isinstance(block, QuestionBlock)]
    assert len(questions) == len(test.answers) == ASKED
    for question, answer in zip(questions, test.answers, strict=True):
        assert question.choices["ABCD".index(answer.letter)] == answer.text
        assert answer.note == "Clamp it. It moves. Source: a code of rules."
        luck = next(text for text in question.choices if text.startswith("luck"))
        assert answer.reveals == ((luck, "Ask first. A guess hurts."),)


def test_the_two_forms_of_a_safety_test_share_no_question_and_each_is_always_the_same():
    asked = {
        form: {item.item.key for item in asked_items(STATION, "6-8", form)} for form in ("A", "B")
    }
    assert not asked["A"] & asked["B"]
    assert safety_test(HEAD, STATION, "6-8", "A") == safety_test(HEAD, STATION, "6-8", "A")


def test_a_safety_test_shows_the_picture_its_question_is_about():
    test = safety_test(HEAD, STATION, "6-8", "A")
    (shown,) = [b.figure for b in test.blocks if isinstance(b, QuestionBlock) and b.figure]
    assert shown.alternative == picture("key-in-chuck").description


def test_a_safety_test_does_not_print_its_answers_in_its_caution():
    test = safety_test(HEAD, STATION, "6-8", "A")
    (box,) = [block for block in test.blocks if isinstance(block, Caution)]
    assert not any(answer.text in " ".join(box.hazards) for answer in test.answers)


@pytest.mark.parametrize(("items", "band"), [((), "6-8"), (ITEMS[:15], "6-8"), (ITEMS, "college")])
def test_a_bank_too_small_for_two_forms_makes_no_test(items, band):
    with pytest.raises(ValueError, match="load a bank of questions"):
        safety_test(HEAD, SafetyStation("P-X", "Nothing", (), items), band, "A")


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
