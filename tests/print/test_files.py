"""Word-processor and CSV files of papers, read back by other programs; QR codes read as modules."""

import csv
import io
import re
import shutil
import subprocess
import zipfile

import pytest

from app.domain.papers.document import (
    Answer,
    Block,
    Caution,
    Document,
    ExitQuestion,
    Figure,
    Formula,
    Goal,
    Heading,
    Items,
    Link,
    PageBreak,
    Paragraph,
    QuestionBlock,
    Table,
    Terms,
    Title,
    WorkedExample,
    WorkedStep,
    answer_key,
)
from app.domain.papers.drawing import measuring_bar
from app.interchange.docx import docx_bytes
from app.interchange.items_csv import items_csv
from app.interchange.office_math import office_math
from app.print import compile_pdf
from app.print.mathml import formula_mathml
from app.print.picture import sheet_png
from app.print.qr_code import qr_svg
from tests.conftest import missing
from tests.print.test_compile import HOSTILE, opened, structure

FORMULA = Formula("x_n = L (1 - 2^(-frac(n, 12)))", "x n equals L times a bracket")
ROOT = Formula("c = sqrt(frac(T, mu))", "c equals the square root of T over mu")


def document(text: str = "Where do the frets go?") -> Document:
    blocks: tuple[Block, ...] = (
        Title(text, "Period 3", "Tuesday", "Neck", "T01", name_line=True),
        Goal(text, ("HSF.LE.A.2",)),
        Caution((text,), ("eye protection",), "adult in the room", ("a source",)),
        Heading("The rule"),
        Paragraph(text, label="Show"),
        Items((text,), numbered=True, label="Do"),
        Terms((("scale", text),)),
        FORMULA,
        WorkedExample("Worked", (WorkedStep("Speed", ROOT, inline=True), WorkedStep(text))),
        Figure(measuring_bar(), "A bar to measure.", "The bar", described=True),
        Table(("A", "B"), ((text, None),), caption="Measured", row_headers=True),
        QuestionBlock(1, text, unit="mm", starter="I think", codes=("HSF.LE.A.2",)),
        QuestionBlock(2, "Which?", choices=("1", "2")),
        Link("Open it", "https://strings.school.example/go/1/2/3"),
        PageBreak(),
        ExitQuestion(text),
    )
    answers = (Answer(1, "Frets", "162.55 mm", text, "± 0.5 mm", low=162.05, high=163.05),)
    return Document("A paper", blocks, seed="A17", answers=answers)


def docx_of(*documents: Document) -> bytes:
    return docx_bytes(documents, mathml=formula_mathml, picture=sheet_png)


def body_of(content: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        return package.read("word/document.xml").decode()


def test_a_word_processor_file_keeps_headings_tables_pictures_and_formulas() -> None:
    body = body_of(docx_of(document()))
    assert 'w:val="Heading1"' in body
    assert 'w:val="Heading2"' in body
    assert "<w:tbl>" in body
    assert 'descr="A bar to measure."' in body
    assert body.count("<m:oMath>") + body.count("<m:oMath ") == 2
    assert "<m:rad>" in body
    assert "162.55" not in body


def test_a_picture_in_the_file_is_true_to_scale() -> None:
    # 914,400 English metric units to the inch of 25.4 mm (ECMA-376); the bar's sheet is 101 mm.
    extent = re.search(r'<wp:extent cx="(\d+)"', body_of(docx_of(document())))
    assert extent is not None
    assert int(extent[1]) / 914_400 * 25.4 == pytest.approx(101, abs=0.05)


def test_the_key_goes_into_its_own_file() -> None:
    assert "162.55 mm" in body_of(docx_of(answer_key(document())))


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_text_stays_text_in_the_file(name: str) -> None:
    body = body_of(docx_of(document(HOSTILE[name])))
    assert "\x00" not in body
    if name == "markup":
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in body


def test_the_file_opens_in_another_word_processor(tmp_path) -> None:  # type: ignore[no-untyped-def]
    program = shutil.which("soffice") or shutil.which("libreoffice")
    if program is None:
        missing("LibreOffice is not installed")
    source = tmp_path / "paper.docx"
    source.write_bytes(docx_of(document(), document("Second sheet")))
    subprocess.run(
        [
            str(program),
            f"-env:UserInstallation=file://{tmp_path}/profile",
            "--headless",
            "--convert-to",
            "txt:Text",
            "--outdir",
            str(tmp_path),
            str(source),
        ],
        check=True,
        capture_output=True,
        timeout=180,
    )
    text = (tmp_path / "paper.txt").read_text()
    for words in ("Where do the frets go?", "Second sheet", "Caution", "The rule", "Seed A17"):
        assert words in text
    assert "162.55" not in text


def test_formulas_become_fractions_roots_and_exponents() -> None:
    written = office_math(formula_mathml("c = sqrt(T / mu) + x_n^2 + overline(x)"))
    tags = {element.tag.rpartition("}")[2] for element in written.iter()}
    assert {"rad", "degHide", "sSubSup", "acc"} <= tags
    with pytest.raises(ValueError, match="not MathML"):
        office_math("<math><mi>x</math>")


def test_the_csv_gives_each_question_its_answer_and_runs_no_formula() -> None:
    text = items_csv([document("=cmd|'/c calc'!A0")])
    (row,) = list(csv.DictReader(io.StringIO(text)))
    assert row["question"] == "'=cmd|'/c calc'!A0"
    assert row["answer"] == "162.55 mm"
    assert (row["lowest right"], row["highest right"]) == ("162.05", "163.05")
    assert row["sheet"] == "T01"
    assert row["seed"] == "A17"


def test_the_qr_code_has_its_alternative_and_a_white_border() -> None:
    found = list(structure(opened(compile_pdf(document()))))
    assert ("/Figure", "QR code of https://strings.school.example/go/1/2/3") in found
    drawn = qr_svg("https://strings.school.example/go/1/2/3")
    # ISO/IEC 18004: four modules of quiet zone, so the first finder row begins at 4.
    assert 'd="M4 4.5h7' in drawn
    assert "style" not in drawn
    assert "script" not in drawn
