"""The same documents as pages: semantic HTML, every text escaped, nothing inline."""

import re
from html.parser import HTMLParser

import pytest

from app.domain.calculators import CATALOGUE, calculate
from app.domain.papers.document import (
    DEFERRAL,
    Answer,
    Caution,
    Document,
    ExitQuestion,
    Figure,
    Formula,
    Goal,
    Heading,
    Items,
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
from app.domain.papers.worksheets.questions import worked_steps
from app.print import compile_pdf, formula_mathml
from app.print.page import document_html

HOSTILE = '<script>alert("x")</script> {{ 7*7 }} " onload="x'


def everything(text: str) -> Document:
    formula = Formula("x = frac(1, 2)", text)
    return Document(
        text,
        (
            Title(text, text, text, text, text, name_line=True),
            Goal(text, (text,)),
            Caution((text, text), (text,), text, (text,)),
            Heading(text),
            Heading(text, level=3),
            Paragraph(text, label=text),
            Paragraph(text, small=True),
            Terms(((text, text),)),
            Items((text,), numbered=True, label=text),
            formula,
            WorkedExample(
                text, (WorkedStep(text, formula, inline=True), WorkedStep(text, formula))
            ),
            Figure(measuring_bar(), text, text, described=True),
            Table((text, text), ((text, None),), caption=text, row_headers=True),
            QuestionBlock(
                1, text, choices=(text,), readings=Table((text,), ((text,),)), starter=text
            ),
            QuestionBlock(2, text, unit="mm", figure=Figure(measuring_bar(), text)),
            PageBreak(),
            ExitQuestion(text),
            Answer(1, text, text, text, text, "A", (WorkedStep(text),), ((text, text),), note=text),
        ),
        seed=text,
    )


class Tags(HTMLParser):
    """Every tag with its attributes, as a browser would read them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def named(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.found if tag == name]


def test_hostile_text_stays_text_and_nothing_is_inline() -> None:
    page = document_html(everything(HOSTILE))
    tags = Tags(page)
    assert not tags.named("script")
    assert not tags.named("style")
    for tag, attributes in tags.found:
        assert "style" not in attributes, tag
        assert not any(name.startswith("on") for name in attributes), tag
    assert "&lt;script&gt;" in page
    assert "49" not in page


def test_a_page_has_headings_in_order_and_headers_on_its_tables() -> None:
    page = Tags(document_html(everything("text"), heading=2))
    levels = [tag for tag, _ in page.found if re.fullmatch(r"h\d", tag)]
    assert levels == ["h2", "h3", "h4"]
    assert {cell["scope"] for cell in page.named("th")} == {"col", "row"}
    assert [image["aria-label"] for image in page.named("svg")] == ["text", "text"]
    assert all(image["role"] == "img" for image in page.named("svg"))


def test_a_caution_on_a_page_ends_with_the_deferral_line() -> None:
    assert DEFERRAL.replace("'", "&#39;") in document_html(everything("text"))


def test_a_formula_is_named_by_its_words() -> None:
    tags = Tags(document_html(everything("one half")))
    assert {found["aria-label"] for _, found in tags.found if found.get("role") == "math"} == {
        "one half"
    }
    assert tags.named("math")


def test_answers_are_on_the_keys_page_only() -> None:
    document = Document(
        "Sheet",
        (Title("Sheet"), QuestionBlock(1, "How far?")),
        answers=(Answer(1, "c", "162.549 mm"),),
    )
    assert "162.549" not in document_html(document)
    assert "162.549" in document_html(answer_key(document))


def test_a_drawing_on_a_page_is_to_scale() -> None:
    (image,) = Tags(document_html(Document("t", (Figure(measuring_bar(), "A bar."),)))).named("svg")
    # The bar is 100 mm; the sheet leaves half a millimetre on either side.
    assert image["width"] == "101.0mm"
    assert str(image["viewbox"]).split()[2] == "101.0"


def test_mathml_uses_letters_every_font_has_and_no_inline_style() -> None:
    math = formula_mathml("f = frac(1, 2 L) sqrt(frac(T, mu))")
    assert math.startswith("<math")
    assert "style=" not in math
    assert all(ord(letter) < 0x10000 for letter in math)
    assert "<mi>μ</mi>" in math


def test_a_fraction_in_a_root_or_exponent_lies_flat_and_keeps_its_brackets() -> None:
    flat = re.sub(r"<[^>]+>", "", formula_mathml("2^(frac(a + b, c d))"))
    assert flat == "2(a+b)/(cd)"
    assert "<mfrac>" not in formula_mathml("sqrt(frac(T, mu))")
    assert "<mfrac>" in formula_mathml("frac(T, mu)")


@pytest.mark.parametrize("typst", ['#read("x")', "std.read(x)", "nonsense(", "sys.inputs"])
def test_what_is_no_formula_is_refused(typst: str) -> None:
    with pytest.raises(ValueError, match=r"mathematics|formula"):
        formula_mathml(typst)


@pytest.mark.parametrize("key", CATALOGUE)
def test_every_calculators_working_shows_on_page_and_paper(key: str) -> None:
    example = CATALOGUE[key].example
    steps = worked_steps(calculate(key, example.given, example.solve_for).steps)
    document = Document(key, (Title(key), WorkedExample(key, steps)))
    assert document_html(document).count("<math") == len(steps)
    assert compile_pdf(document).startswith(b"%PDF")
