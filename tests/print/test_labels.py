"""Label sheets: where each label lies, read back from the PDF."""

import io

import pdfplumber
import pytest

from app.domain.papers.kit_papers import PartLabel, labels_for
from app.print.compile import PrintError
from app.print.labels import SHEETS, labels_pdf

MM = 72 / 25.4
LABELS = [PartLabel(f"T{n:02d}", "Neck", "Period 3", "Box") for n in range(1, 62)]


def codes(pdf):
    """Team codes with the place of their labels on each page, in mm from the upper left."""
    with pdfplumber.open(io.BytesIO(pdf)) as book:
        return [
            [
                (word["text"], word["x0"] / MM, (word["top"] + word["bottom"]) / 2 / MM)
                for word in page.extract_words()
                if word["text"].startswith("T") and word["text"][1:].isdecimal()
            ]
            for page in book.pages
        ], [(page.width / MM, page.height / MM) for page in book.pages]


@pytest.mark.parametrize(("paper", "count", "pages"), [("letter", 30, 3), ("a4", 24, 3)])
def test_a_sheet_holds_the_labels_of_its_standard(paper, count, pages):
    found, sizes = codes(labels_pdf(LABELS, paper))
    assert [len(page) for page in found] == [count, count, 61 - 2 * count][:pages]
    assert len(set(sizes)) == 1


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_label_lies_inside_its_own_sticker(paper):
    sheet = SHEETS[paper]
    found, ((width, height), *_) = codes(labels_pdf(LABELS, paper))
    # The stickers themselves lie on the paper.
    assert sheet.left_mm + (sheet.across - 1) * sheet.step_x_mm + sheet.width_mm <= width + 0.01
    assert sheet.top_mm + (sheet.down - 1) * sheet.step_y_mm + sheet.height_mm <= height + 0.01
    for place, (_, x, y) in enumerate(found[0]):
        row, column = divmod(place, sheet.across)
        left = sheet.left_mm + column * sheet.step_x_mm
        top = sheet.top_mm + row * sheet.step_y_mm
        assert left < x < left + sheet.width_mm
        assert top < y < top + sheet.height_mm


def test_used_places_of_a_begun_sheet_stay_free():
    found, _ = codes(labels_pdf(LABELS[:3], skip=29))
    assert [[code for code, _, _ in page] for page in found] == [["T01"], ["T02", "T03"]]


def test_long_and_hostile_texts_are_printed_as_text():
    label = PartLabel("T99", "#set page(fill: red) " * 9, '"); eval("x")', "\u202eabc\x00")
    with pdfplumber.open(io.BytesIO(labels_pdf([label]))) as book:
        assert "#set page" in book.pages[0].extract_text()


def test_a_letter_without_a_font_does_not_stop_the_sheet():
    assert labels_pdf([PartLabel("T1", "\U0001f3b8 \u0e01", "S")]).startswith(b"%PDF")


@pytest.mark.parametrize(
    ("labels", "paper", "skip", "words"),
    [
        ([], "letter", 0, "no label"),
        (LABELS, "a5", 0, "letter or a4"),
        (LABELS, "letter", 30, "30 labels"),
        (LABELS, "a4", -1, "24 labels"),
    ],
)
def test_odd_sheets_are_refused_in_a_sentence(labels, paper, skip, words):
    with pytest.raises(PrintError, match=words):
        labels_pdf(labels, paper, skip=skip)


def test_a_pair_gives_two_labels_for_each_team():
    made = labels_for("S", "Box", ["T01", "T02"], [("Side", 2), ("Neck", 1)])
    assert [(x.team, x.part) for x in made] == [
        ("T01", "Side, 1 of 2"),
        ("T01", "Side, 2 of 2"),
        ("T01", "Neck"),
        ("T02", "Side, 1 of 2"),
        ("T02", "Side, 2 of 2"),
        ("T02", "Neck"),
    ]
