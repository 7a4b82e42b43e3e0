"""PDFs read back with pikepdf and pdfplumber, which share no code with the printer."""

import io
import re
from collections.abc import Iterator
from typing import Any

import pdfplumber
import pikepdf
import pytest

from app.domain.calculators.engine.pictures import Dimension, Drawing, Line
from app.domain.papers.document import (
    DEFERRAL,
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
    Paragraph,
    QuestionBlock,
    Table,
    Terms,
    Title,
    WorkedExample,
    WorkedStep,
    answer_key,
)
from app.domain.papers.drawing import measuring_bar, on_paper
from app.print import PrintError, compile_documents, compile_pdf, print_documents
from app.print.compile import MISSING_LETTER_NOTICE
from app.print.payload import clean

MM = 72 / 25.4  # points in a millimetre: the point of PDF is 1/72 inch, the inch 25.4 mm

FORMULA = Formula("x_n = L (1 - 2^(-frac(n, 12)))", "x n equals L times a bracket")
STRING = Drawing(
    "A string",
    "",
    (
        Line((0.0, 0.0), (648.0, 0.0), "thick"),
        Dimension((0.0, 30.0), (648.0, 30.0), "648 mm"),
    ),
)


def sheet(*blocks: Block, **changes: Any) -> Document:
    head = Title("Where the frets go", "Period 3", holder="Team 4", name_line=True)
    return Document("Where the frets go", (head, *blocks), seed="A17", **changes)


def full_sheet(**changes: Any) -> Document:
    return sheet(
        Goal("I can lay out my own neck.", ("HSF.LE.A.2",)),
        Caution(("The saw runs in the jig only.", "Dust: extraction on."), ("eye protection",)),
        Heading("The rule"),
        Paragraph("Every fret takes the same share."),
        Paragraph("Lay the strip on the neck.", label="At the bench"),
        Terms((("scale length", "the free string"),)),
        Items(("first", "second"), numbered=True, label="Do this"),
        FORMULA,
        WorkedExample("Worked", (WorkedStep("Scale length", FORMULA, inline=True),)),
        Figure(on_paper(STRING), "A string drawn from nut to saddle.", "The string"),
        Table(("Fret", "Mine"), (("1", None), ("12", None)), "Measure", row_headers=True),
        QuestionBlock(1, "How far is fret 5?", unit="mm", codes=("HSF.LE.A.2",)),
        QuestionBlock(2, "Which is right?", choices=("1.0595", "1.0833"), space_lines=1),
        ExitQuestion("What did you learn?"),
        answers=(Answer(1, "Frets", "162.55 mm", "How far is fret 5?", "± 0.5 mm"),),
        **changes,
    )


def opened(pdf: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        return "\n".join(page.extract_text() for page in read.pages)


def structure(pdf: pikepdf.Pdf) -> Iterator[tuple[str, str]]:
    """Tag and alternative of every structure element, in reading order."""

    def walk(node: Any) -> Iterator[tuple[str, str]]:
        if isinstance(node, pikepdf.Array):
            for child in node:
                yield from walk(child)
        elif isinstance(node, pikepdf.Dictionary):
            if "/S" in node:
                yield str(node["/S"]), str(node.get("/Alt", ""))
            if "/K" in node:
                yield from walk(node["/K"])

    yield from walk(pdf.Root.StructTreeRoot["/K"])


@pytest.mark.parametrize("version", ["standard", "pictured", "large"])
def test_a_paper_claims_pdf_ua_and_carries_tags_language_and_title(version: str) -> None:
    pdf = opened(compile_pdf(full_sheet(version=version, language="en")))
    with pdf.open_metadata() as metadata:
        assert metadata["pdfuaid:part"] == "1"
        assert metadata["pdfaid:part"] == "2"
        assert metadata["dc:title"] == "Where the frets go"
    assert bool(pdf.Root.MarkInfo.Marked)
    assert str(pdf.Root.Lang) == "en"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)


def test_headings_paragraphs_lists_and_tables_are_tagged_in_reading_order() -> None:
    tags = [tag for tag, _ in structure(opened(compile_pdf(full_sheet())))]
    order = [tags.index(tag) for tag in ("/H1", "/L", "/H2", "/Formula", "/Figure", "/Table")]
    assert order == sorted(order)
    assert tags.count("/TH") == 2
    assert tags.count("/TD") == 4
    assert tags.count("/P") >= 8


def test_every_figure_and_formula_has_its_alternative() -> None:
    found = list(structure(opened(compile_pdf(full_sheet()))))
    figures = [alternative for tag, alternative in found if tag == "/Figure" and alternative]
    formulas = [alternative for tag, alternative in found if tag == "/Formula"]
    assert figures == ["A string drawn from nut to saddle."]
    assert formulas == ["x n equals L times a bracket"] * 2


def test_all_fonts_are_embedded() -> None:
    pdf = opened(compile_pdf(full_sheet()))
    descriptors = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/FontName" in o]
    assert descriptors
    for descriptor in descriptors:
        assert any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))


@pytest.mark.parametrize(("paper", "size_mm"), [("letter", (215.9, 279.4)), ("a4", (210, 297))])
def test_paper_sizes_are_true(paper: Any, size_mm: tuple[float, float]) -> None:
    # Letter is 8 1/2 by 11 in; A4 is 210 by 297 mm (ISO 216).
    with pdfplumber.open(io.BytesIO(compile_pdf(full_sheet(), paper=paper))) as pdf:
        for page in pdf.pages:
            assert page.width / MM == pytest.approx(size_mm[0], abs=0.05)
            assert page.height / MM == pytest.approx(size_mm[1], abs=0.05)


def test_answers_never_reach_the_students_copy() -> None:
    document = full_sheet()
    assert "162.55" not in text_of(compile_pdf(document))
    key = text_of(compile_pdf(answer_key(document)))
    assert "162.55 mm" in key
    assert "± 0.5 mm" in key


def test_seed_deferral_line_codes_and_page_numbers_are_printed() -> None:
    text = " ".join(text_of(compile_pdf(full_sheet())).split())
    assert "Seed A17" in text
    assert DEFERRAL in text
    assert "HSF.LE.A.2" in text
    assert re.search(r"Page 1 of \d", text)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_bar_is_100_mm_and_a_drawing_true_to_its_scale(paper: Any) -> None:
    drawing = on_paper(STRING)
    assert drawing.scale == "1 : 5"
    document = sheet(Figure(measuring_bar(), "A bar."), Figure(drawing, "A string."))
    with pdfplumber.open(io.BytesIO(compile_pdf(document, paper=paper))) as pdf:
        drawn = [line for line in pdf.pages[0].lines if line["linewidth"] > 0.45 * MM]
    lengths = sorted((line["x1"] - line["x0"]) / MM for line in drawn)
    # 648 mm at one fifth is 129.6 mm.
    assert lengths == pytest.approx([100, 129.6], abs=0.05)


def test_a_question_never_parts_from_its_answer_space() -> None:
    questions: list[Block] = [
        QuestionBlock(n, f"Prompt number {n}.", space_lines=5) for n in range(1, 25)
    ]
    with pdfplumber.open(io.BytesIO(compile_pdf(sheet(*questions)))) as pdf:
        assert len(pdf.pages) > 3
        for number, page in enumerate(pdf.pages):
            prompts = len(re.findall(r"Prompt number", page.extract_text()))
            ruled = [edge for edge in page.lines if edge["width"] > 120 * MM]
            # The rule of the foot stands on every page, the rule under the title on the first.
            others = 2 if number == 0 else 1
            assert len(ruled) - others == 5 * prompts


HOSTILE = {
    "typst code": '#eval("1+1") #read("/etc/hostname") $x$ *bold* @ref <label> \\ [',
    "markup": "<script>alert(1)</script>&amp;",
    "spreadsheet": "=cmd|'/c calc'!A0",
    "right to left": "\u202egnp.exe\u202c \u200fשלום مرحبا",
    "controls": "a\x00b\x07c\x1b[31m\x85d",
    "long run": "x" * 10_000,
    "long text": "many words " * 900,
    "emoji": "guitar 🎸 done",
    "Chinese name": "王小明",
    "lone surrogate": "a\ud800b",
    "quotes": "\"quoted\" 'text' {{ 7*7 }} {% raw %}",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_text_is_printed_as_text_everywhere(name: str) -> None:
    text = HOSTILE[name]
    document = Document(
        text,
        (
            Title(text, text, text, text, text),
            Goal(text, (text,)),
            Caution((text,), (text,), text, (text,)),
            Paragraph(text, label=text),
            Terms(((text, text),)),
            Items((text,)),
            Table((text, text), ((text, None),), caption=text),
            QuestionBlock(1, text, choices=(text,), readings=Table((text,), ((text,),))),
            QuestionBlock(2, text, unit=text[:20], starter=text[:20]),
            ExitQuestion(text),
            Answer(1, text, text, text, text, reveals=((text, text),), note=text),
        ),
        seed=text[:20],
        foot=text[:60],
    )
    pdf = compile_pdf(document)
    assert len(opened(pdf).pages) >= 1
    read = text_of(pdf) if len(text) < 1000 else ""  # reading long text back takes long
    if name == "typst code":
        assert '#eval("1+1")' in read
        assert "*bold*" in read
    if name == "markup":
        assert "<script>alert(1)</script>&amp;" in read
    if name == "quotes":
        assert "{{ 7*7 }}" in read


def test_text_too_wide_or_too_long_stays_on_the_paper() -> None:
    blocks: list[Block] = [
        Goal("x" * 10_000),
        QuestionBlock(1, "x" * 10_000),
        ExitQuestion("x" * 10_000),
    ]
    with pdfplumber.open(io.BytesIO(compile_pdf(sheet(*blocks)))) as pdf:
        letters = [(page, c) for page in pdf.pages for c in page.chars if c["text"] == "x"]
        assert len(letters) >= 30_000
        assert all(c["x1"] <= page.width and c["bottom"] <= page.height for page, c in letters)


def test_a_letter_no_font_has_does_not_stop_a_set_and_the_paper_says_so() -> None:
    # A code point of a historic script that neither the wheel's fonts nor Debian's carry.
    rare = "Name \U00012000 here"
    printed = print_documents([sheet(Paragraph("plain")), sheet(Paragraph(rare))])
    assert printed.standards == ()
    assert printed.notice == MISSING_LETTER_NOTICE
    text = " ".join(text_of(printed.pdf).split())
    assert "Some letters on this paper have no font" in text
    assert "plain" in text
    assert bool(opened(printed.pdf).Root.MarkInfo.Marked)


def test_scripts_the_fonts_carry_keep_the_standard() -> None:
    names = "Nguyễn Şahin Łukasz Привет Γειά שלום ½ ⅜ − ± Ω μ ° ♯ ♭"
    printed = print_documents([sheet(Paragraph(names))])
    assert printed.standards == ("ua-1", "a-2a")
    assert printed.notice == ""
    assert "Nguyễn Şahin Łukasz Привет" in text_of(printed.pdf)


def test_controls_and_direction_overrides_are_stripped_and_long_runs_gain_breaks() -> None:
    assert clean("a\x00b\u202ec\ufeffd\ue000") == "abcd"
    assert clean("tab\tand\r\nline") == "tab\tand\nline"
    assert "\u200b" in clean("x" * 100)
    assert clean("x" * 100).replace("\u200b", "") == "x" * 100


def test_a_class_set_is_one_document_with_each_sheet_numbered_from_one() -> None:
    long = [QuestionBlock(n, f"Prompt {n}.", space_lines=8) for n in range(1, 9)]
    documents = [
        Document("Set", (Title("Set", holder=f"Team {n}"), *long), seed="A17") for n in range(1, 4)
    ]
    pdf = compile_documents(documents)
    assert bool(opened(pdf).Root.MarkInfo.Marked)
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        texts = [page.extract_text() for page in read.pages]
    per_sheet = len(texts) // 3
    assert len(texts) == 3 * per_sheet
    numbers = [re.search(r"Page (\d+) of (\d+)", text).groups() for text in texts]  # type: ignore[union-attr]
    expected = [(str(n + 1), str(per_sheet)) for n in range(per_sheet)] * 3
    assert numbers == expected
    assert [n for n, text in enumerate(texts) if "Team" in text] == [0, per_sheet, 2 * per_sheet]


def test_the_same_document_prints_to_the_same_bytes() -> None:
    assert compile_pdf(full_sheet()) == compile_pdf(full_sheet())


def test_nothing_to_print_and_unknown_paper_are_refused_in_a_sentence() -> None:
    with pytest.raises(PrintError, match="nothing to print"):
        compile_documents([])
    with pytest.raises(PrintError, match="letter or a4"):
        compile_pdf(full_sheet(), paper="b5")  # type: ignore[arg-type]
