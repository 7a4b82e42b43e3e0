"""The shipped safety tests: enough for two forms, one right answer, no false wrong ones."""

from collections import Counter
from pathlib import Path

import pytest

from app.domain.bands import BANDS
from app.domain.papers.drawing import on_paper
from app.domain.papers.safety_pictures import PICTURES, picture
from app.domain.papers.safety_test import ASKED, FORMS, PICTURE_HEIGHT_MM, PICTURE_WIDTH_MM
from app.interchange.files import BadFile, parse, read_file

SEED = Path(__file__).parents[2] / "seed_data"
BANKS = [read_file(path) for path in sorted((SEED / "safety").glob("*.toml"))]
WORKSHOP = read_file(SEED / "builds" / "workshop.toml")
PRACTICES = {practice.key: practice for bank in BANKS for practice in bank.practices}
ITEMS = [item for bank in BANKS for item in bank.items]


def test_every_sign_off_of_the_workshop_has_a_bank_and_no_other_has():
    assert {bank.key for bank in BANKS} == {permit.key for permit in WORKSHOP.permits}


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("bank", BANKS, ids=lambda bank: bank.key)
def test_each_band_has_items_for_two_forms_that_share_none(bank, band):
    assert sum(band in item.bands for item in bank.items) >= ASKED * len(FORMS)


def test_every_answer_rests_on_a_practice_or_breaks_one_that_is_written_down():
    named = {item.practice for item in ITEMS} | {w.breaks for item in ITEMS for w in item.wrong}
    assert named <= PRACTICES.keys()
    assert all(practice.source for practice in PRACTICES.values())


def test_no_wrong_answer_is_a_right_answer_or_a_practice_anywhere_in_the_shop():
    """An answer that holds at another station must not be marked wrong at this one."""
    true = {item.right.casefold() for item in ITEMS} | {
        sentence.casefold() for p in PRACTICES.values() for sentence in (p.rule, p.because)
    }
    wrong = {answer.text.casefold() for item in ITEMS for answer in item.wrong}
    assert not true & wrong


def test_no_question_stands_twice_and_the_item_keys_are_unique():
    asked = Counter((bank.key, item.asks.casefold()) for bank in BANKS for item in bank.items)
    assert [question for question, count in asked.items() if count > 1] == []
    keys = Counter(item.key for item in ITEMS)
    assert max(keys.values()) == 1


def test_the_right_answer_cannot_be_told_by_its_length():
    """Were the longest answer always right, nobody would need to know the station."""
    longest = sum(len(i.right) > max(len(w.text) for w in i.wrong) for i in ITEMS)
    assert longest < 0.4 * len(ITEMS)


def test_the_right_answer_cannot_be_told_by_its_full_stop():
    texts = [text for i in ITEMS for text in (i.right, *(w.text for w in i.wrong))]
    assert not any(text.endswith(".") for text in texts)


def test_every_picture_is_asked_about_drawn_to_fit_and_described():
    assert {item.picture for item in ITEMS if item.picture} == PICTURES.keys()
    for key in PICTURES:
        drawing = picture(key)
        sheet = on_paper(drawing, width_mm=PICTURE_WIDTH_MM, height_mm=PICTURE_HEIGHT_MM)
        assert sheet.width_mm > 30
        assert len(drawing.description) > 40


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"wrong": [{"text": "a", "breaks": "p"}]}, "3"),
        ({"right": "B", "wrong": [{"text": t, "breaks": "p"} for t in "bcd"]}, "read the same"),
        ({"picture": "moon"}, "no picture moon"),
        ({"bands": []}, "bands"),
    ],
)
def test_an_item_that_cannot_be_asked_is_refused_with_its_place(change, says):
    import json

    item = {
        "key": "i",
        "bands": ["6-8"],
        "asks": "?",
        "right": "r",
        "practice": "p",
        "wrong": [{"text": text, "breaks": "p"} for text in "abc"],
        **change,
    }
    bank = {"kind": "safety-bank", "schema_version": 1, "key": "P-X", "title": "X", "items": [item]}
    with pytest.raises(BadFile) as refused:
        parse(json.dumps(bank).encode(), "x.json")
    assert says in str(refused.value)
