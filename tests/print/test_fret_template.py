"""The template at true size, read back with pdfplumber."""

import io
import re

import pdfplumber
import pikepdf
import pytest

from app.print import PrintError, fret_template_pdf

MM = 72 / 25.4  # PDF's unit is 1/72 inch
STRIP_MM = 70.0  # the width of a slot line, by which it is told from rules and marks


def slots(pdf: bytes) -> list[float]:
    """Slot lines in mm from the nut, the tiles laid line on line at their letters."""
    found: list[float] = []
    laid = 0.0
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        for page in read.pages:
            level = [line for line in page.lines if abs(line["top"] - line["bottom"]) < 0.01]
            across = [x for x in level if abs(x["width"] - STRIP_MM * MM) < 0.1]
            joins = sorted(x["top"] for x in level if abs(x["width"] - (STRIP_MM + 28) * MM) < 0.1)
            opens = 0 if not found else 1
            top = min(x["top"] for x in across) if not found else joins[0]
            found += sorted(laid + (x["top"] - top) / MM for x in across)
            if len(joins) > opens:
                laid += (joins[-1] - top) / MM
    return found


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize(
    ("scale_mm", "frets"), [(648.0, 22), (432.0, 18), (584.2, 12), (864.0, 24)]
)
def test_slots_stand_within_two_hundredths_of_a_millimetre(
    paper: str, scale_mm: float, frets: int
) -> None:
    found = slots(fret_template_pdf(scale_mm / 1000, frets, paper))  # type: ignore[arg-type]
    # Equal temperament, worked out here: fret n leaves L / 2^(n/12) of the string.
    expected = [scale_mm - scale_mm / 2 ** (n / 12) for n in range(frets + 1)] + [scale_mm]
    assert len(found) == len(expected)
    for at, wanted in zip(found, expected, strict=True):
        assert at == pytest.approx(wanted, abs=0.02)


def test_a_diatonic_template_has_the_frets_of_its_pattern_by_name() -> None:
    pdf = fret_template_pdf(0.686, 15, "letter", "diatonic")
    # Semitones above the open string: common practice, no source.
    semitones = (0, 2, 4, 5, 7, 9, 10, 11, 12, 14, 16, 17, 19, 21, 22, 24)
    expected = [686 - 686 / 2 ** (step / 12) for step in semitones] + [686]
    assert slots(pdf) == pytest.approx(expected, abs=0.02)
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        text = "\n".join(page.extract_text() for page in read.pages)
    assert "15 diatonic frets" in text
    assert re.search(r"6½:\s+322\.60 mm", text)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_sheet_carries_two_bars_of_100_mm(paper: str) -> None:
    with pdfplumber.open(
        io.BytesIO(fret_template_pdf(0.648, 22, paper))  # type: ignore[arg-type]
    ) as read:
        for page in read.pages:
            thick = [line for line in page.lines if abs(line["linewidth"] - 0.5 * MM) < 0.01]
            down = [line["height"] / MM for line in thick if line["height"] > 50 * MM]
            across = [line["width"] / MM for line in thick if line["width"] > 90 * MM]
            assert down == pytest.approx([100], abs=0.05)
            assert across == pytest.approx([100], abs=0.05)
            assert all(line["x0"] > 0 and line["x1"] < page.width for line in page.lines)
            assert all(line["top"] > 0 and line["bottom"] < page.height for line in page.lines)


def test_the_template_names_its_scale_sheets_and_lines() -> None:
    pdf = fret_template_pdf(0.648, 22)
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        text = "\n".join(page.extract_text() for page in read.pages)
    assert "648.0 mm (25.512 in), 22 frets" in text
    # Fret 12 halves the string.
    assert re.search(r"12:\s+324\.00 mm", text)
    assert text.count("Both bars must be 100 mm long") == 4
    assert bool(pikepdf.open(io.BytesIO(pdf)).Root.MarkInfo.Marked)


@pytest.mark.parametrize(
    ("scale_m", "frets", "paper", "words"),
    [
        (0.0, 22, "letter", "between 100 mm and 2000 mm"),
        (float("nan"), 22, "letter", "between 100 mm and 2000 mm"),
        (0.648, 0, "letter", "1 to 48 frets"),
        (0.648, 10_000, "a4", "1 to 48 frets"),
        (0.648, 22, "b5", "letter or a4"),
    ],
)
def test_a_template_that_cannot_be_drawn_is_refused_in_a_sentence(
    scale_m: float, frets: int, paper: str, words: str
) -> None:
    with pytest.raises(PrintError, match=words):
        fret_template_pdf(scale_m, frets, paper)  # type: ignore[arg-type]
