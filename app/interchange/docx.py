"""Documents as an editable word-processor file: the same blocks, headings, tables, formulas.

Formulas are Office MathML and drawings are pictures at true size; both come from the
caller, so that this file knows no printer. Answers beside a document are never written.
"""

import io
import re
from collections.abc import Callable, Sequence
from typing import Any

import docx
from docx.enum.text import WD_BREAK
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Mm, Pt, RGBColor

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
    Paper,
    Paragraph,
    QuestionBlock,
    Table,
    Terms,
    Title,
    WorkedExample,
    WorkedStep,
)
from app.domain.papers.drawing import Sheet
from app.interchange.office_math import office_math

MathML = Callable[[str], str]
Picture = Callable[[Sheet], bytes]

SIZES_MM: dict[Paper, tuple[float, float]] = {"letter": (215.9, 279.4), "a4": (210, 297)}
MARGIN_MM = 19.0
TYPE_PT = {"standard": 11, "pictured": 11.5, "large": 18}
LINE_MM = 8.0
FONT = "Georgia"
HEADING_TIMES = (1.55, 1.18, 1.05)
LETTERS = "ABCDEFGH"
_NOT_IN_XML = re.compile("[^\t\n\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def docx_bytes(
    documents: Sequence[Document], *, mathml: MathML, picture: Picture, paper: Paper = "letter"
) -> bytes:
    """Documents as one .docx, each on a new page.

    Raises ValueError where there is nothing to write.
    """
    if not documents:
        raise ValueError("there is nothing to write: choose at least one paper")
    writer = _Writer(mathml, picture, paper, documents[0])
    for index, document in enumerate(documents):
        if index:
            writer.new_page()
        for block in document.blocks:
            writer.write(block)
        if document.seed:
            writer.note(f"{document.foot} · Seed {document.seed}".strip(" ·"))
    out = io.BytesIO()
    writer.file.save(out)
    return out.getvalue()


def _text(text: str) -> str:
    return _NOT_IN_XML.sub("", text)


class _Writer:
    """Writes blocks one after the other into a word-processor file."""

    def __init__(self, mathml: MathML, picture: Picture, paper: Paper, first: Document) -> None:
        self.mathml, self.picture = mathml, picture
        self.file = docx.Document()
        self.file.core_properties.title = _text(first.title)[:250]
        self.file.core_properties.language = first.language
        self.file.core_properties.author = ""
        self.file.core_properties.comments = ""
        page = self.file.sections[0]
        page.page_width, page.page_height = (Mm(size) for size in SIZES_MM[paper])
        self.width_mm = SIZES_MM[paper][0] - 2 * MARGIN_MM
        page.left_margin = page.right_margin = page.top_margin = page.bottom_margin = Mm(MARGIN_MM)
        self.type_pt = TYPE_PT[first.version]
        normal: Any = self.file.styles["Normal"]
        normal.font.name, normal.font.size = FONT, Pt(self.type_pt)
        normal.paragraph_format.space_after = Pt(5)
        for level, times in enumerate(HEADING_TIMES, 1):
            _plain_heading(self.file.styles[f"Heading {level}"], self.type_pt * times)

    def write(self, block: Block) -> None:
        """One block."""
        _WRITERS[type(block)](self, block)

    def new_page(self) -> None:
        self.file.add_paragraph().add_run().add_break(WD_BREAK.PAGE)

    def note(self, text: str) -> None:
        for part in self.paragraph(text).runs:
            part.font.size = self.small

    @property
    def small(self) -> Pt:
        """The size of notes: never too small for large print."""
        return Pt(max(9.0, self.type_pt * 0.75))

    def paragraph(self, text: str = "", *, label: str = "", style: str | None = None) -> Any:
        paragraph = self.file.add_paragraph(style=style)
        if label:
            paragraph.add_run(f"{_text(label)}  ").bold = True
        if text:
            paragraph.add_run(_text(text))
        return paragraph

    def heading(self, text: str, level: int) -> None:
        heading = self.file.add_heading(level=level)
        heading.add_run(_text(text))

    def formula(self, formula: Formula, into: Any = None) -> None:
        """A formula as Office MathML, or in its words where it cannot be read."""
        paragraph = into if into is not None else self.file.add_paragraph()
        try:
            paragraph._p.append(office_math(self.mathml(formula.typst)))  # noqa: SLF001
        except ValueError:
            paragraph.add_run(_text(formula.words))

    def steps(self, steps: Sequence[WorkedStep]) -> None:
        for step in steps:
            paragraph = self.paragraph(f"{step.text} " if step.text else "")
            paragraph.paragraph_format.left_indent = Mm(6)
            if step.formula is not None:
                self.formula(step.formula, paragraph)

    def figure(self, figure: Figure) -> None:
        paragraph = self.file.add_paragraph()
        run = paragraph.add_run()
        shape = run.add_picture(
            io.BytesIO(self.picture(figure.drawing)), width=Mm(figure.drawing.width_mm)
        )
        shape._inline.docPr.set("descr", _text(figure.alternative))  # noqa: SLF001
        scale = f"Scale {figure.drawing.scale}" if figure.drawing.scale else ""
        facts = [fact.rstrip(".") for fact in (figure.caption, scale) if fact]
        if facts:
            self.note(". ".join(facts) + ".")
        if figure.described:
            self.paragraph(figure.alternative, label="In the picture")

    def table(self, table: Table) -> None:
        if table.caption:
            self.paragraph(label=table.caption)
        grid = self.file.add_table(rows=1, cols=len(table.header), style="Table Grid")
        for cell, text in zip(grid.rows[0].cells, table.header, strict=True):
            cell.paragraphs[0].add_run(_text(text)).bold = True
        _repeat_header(grid.rows[0])
        for row in table.rows:
            cells = grid.add_row().cells
            for index, (cell, words) in enumerate(zip(cells, row, strict=True)):
                run = cell.paragraphs[0].add_run(_text(words or ""))
                run.bold = table.row_headers and index == 0
            if None in row:
                grid.rows[-1].height = Mm(LINE_MM)
        _set_widths(grid, table.widths or (1,) * len(table.header), self.width_mm)
        _tighten(grid)
        self.file.add_paragraph().paragraph_format.space_after = Pt(0)

    def lines(self, count: int, starter: str = "", unit: str = "") -> None:
        for n in range(count):
            paragraph = self.paragraph(starter if n == 0 else "")
            if n == count - 1 and unit:
                paragraph.add_run(f"\t{_text(unit)}")
                paragraph.paragraph_format.tab_stops.add_tab_stop(Mm(self.width_mm - 12))
            paragraph.paragraph_format.space_before = Mm(LINE_MM / 2)
            paragraph.paragraph_format.keep_with_next = n < count - 1
            _rule_below(paragraph)


def _plain_heading(style: Any, size_pt: float) -> None:
    """A heading in the ink and letters of the paper, as large as its text asks for."""
    style.font.name, style.font.size = FONT, Pt(size_pt)
    style.font.color.rgb = RGBColor(0, 0, 0)
    style.paragraph_format.space_before, style.paragraph_format.space_after = Pt(10), Pt(4)
    # The theme's own letters would win over the name.
    fonts = style.element.get_or_add_rPr().get_or_add_rFonts()
    for name in ("asciiTheme", "hAnsiTheme", "eastAsiaTheme", "cstheme"):
        fonts.attrib.pop(qn(f"w:{name}"), None)


def _set_widths(grid: Any, shares: Sequence[int], width_mm: float) -> None:
    grid.autofit = False
    for column, share in zip(grid.columns, shares, strict=True):
        # Some programmes read the widths of the columns, others those of the cells.
        column.width = Mm(width_mm * share / sum(shares))
        for cell in column.cells:
            cell.width = column.width


def _tighten(grid: Any) -> None:
    for row in grid.rows:
        for cell in row.cells:
            for paragraph in cell.paragraphs:
                paragraph.paragraph_format.space_after = Pt(1)


def _repeat_header(row: Any) -> None:
    mark = OxmlElement("w:tblHeader")
    mark.set(qn("w:val"), "true")
    row._tr.get_or_add_trPr().append(mark)  # noqa: SLF001


def _rule_below(paragraph: Any) -> None:
    """A rule under the paragraph, and between it and the next with the same rule."""
    borders = OxmlElement("w:pBdr")
    for edge in ("bottom", "between"):
        line = OxmlElement(f"w:{edge}")
        for name, value in (("val", "single"), ("sz", "4"), ("space", "1"), ("color", "000000")):
            line.set(qn(f"w:{name}"), value)
        borders.append(line)
    paragraph._p.get_or_add_pPr().append(borders)  # noqa: SLF001


def _title(writer: _Writer, block: Title) -> None:
    writer.heading(block.text, 1)
    facts = [fact for fact in (block.section, block.date, block.place, block.holder) if fact]
    if facts:
        writer.paragraph(" · ".join(facts))
    if block.name_line:
        writer.paragraph("Code or name ______________________    Team ____________")


def _goal(writer: _Writer, block: Goal) -> None:
    paragraph = writer.paragraph(label="Goal")
    paragraph.add_run(_text(block.text)).italic = True
    if block.codes:
        paragraph.add_run(f"  [{_text(', '.join(block.codes))}]")


def _caution(writer: _Writer, block: Caution) -> None:
    """One cell with a rule around it: the box of the paper."""
    grid = writer.file.add_table(rows=1, cols=1, style="Table Grid")
    cell = grid.rows[0].cells[0]
    cell.paragraphs[0].add_run("Caution").bold = True
    for hazard in block.hazards:
        cell.add_paragraph(_text(hazard), style="List Bullet")
    if block.protection:
        cell.add_paragraph(_text(f"Protection: {', '.join(block.protection)}."))
    if block.supervision:
        cell.add_paragraph(_text(f"Supervision: {block.supervision}"))
    cell.add_paragraph().add_run(block.deferral).italic = True
    if block.sources:
        sources = cell.add_paragraph().add_run(_text(f"Source: {'; '.join(block.sources)}"))
        sources.font.size = writer.small
    _tighten(grid)
    writer.file.add_paragraph().paragraph_format.space_after = Pt(0)


def _items(writer: _Writer, block: Items) -> None:
    if block.label:
        writer.paragraph(label=block.label)
    for item in block.items:
        writer.paragraph(item, style="List Number" if block.numbered else "List Bullet")


def _terms(writer: _Writer, block: Terms) -> None:
    for word, meaning in block.words:
        writer.paragraph(meaning, label=word)


def _question(writer: _Writer, block: QuestionBlock) -> None:
    paragraph = writer.paragraph(block.text, label=f"{block.number}.")
    paragraph.paragraph_format.keep_with_next = True
    if block.codes:
        paragraph.add_run(f"  [{_text(', '.join(block.codes))}]").font.size = writer.small
    for letter, choice in zip(LETTERS, block.choices, strict=False):
        form = writer.paragraph(f"{letter}   {choice}").paragraph_format
        form.left_indent, form.space_after = Mm(8), Pt(2)
    if block.figure is not None:
        writer.figure(block.figure)
    if block.readings is not None:
        writer.table(block.readings)
    writer.lines(block.space_lines, block.starter, block.unit)


def _exit(writer: _Writer, block: ExitQuestion) -> None:
    writer.paragraph(block.text, label="Before you leave")
    writer.lines(block.space_lines, block.starter)


def _worked(writer: _Writer, block: WorkedExample) -> None:
    writer.paragraph(label=block.title)
    writer.steps(block.steps)


def _formula(writer: _Writer, block: Formula) -> None:
    if block.label:
        writer.paragraph(label=block.label)
    writer.formula(block)
    writer.note(block.words)


def _answer(writer: _Writer, block: Answer) -> None:
    if block.prompt:
        writer.paragraph(block.prompt, label=f"{block.number}.")
    letter = f"{block.letter}  " if block.letter else ""
    tolerance = f"  ({block.tolerance})" if block.tolerance else ""
    paragraph = writer.paragraph(label=f"{letter}{block.text}{tolerance}")
    paragraph.add_run(_text(block.concept)).italic = True
    writer.steps(block.steps)
    if block.note:
        writer.paragraph(block.note)
    if block.reveals:
        writer.table(Table(("A wrong answer", "What it reveals"), block.reveals, row_headers=True))


_WRITERS: dict[type, Callable[[_Writer, Any], None]] = {
    Title: _title,
    Heading: lambda writer, block: writer.heading(block.text, block.level),
    Paragraph: lambda writer, block: writer.paragraph(block.text, label=block.label),
    Items: _items,
    Terms: _terms,
    Goal: _goal,
    Caution: _caution,
    Formula: _formula,
    WorkedExample: _worked,
    Figure: lambda writer, block: writer.figure(block),
    Table: lambda writer, block: writer.table(block),
    QuestionBlock: _question,
    ExitQuestion: _exit,
    Link: lambda writer, block: writer.paragraph(f"{block.text} {block.address}"),
    PageBreak: lambda writer, _block: writer.new_page(),
    Answer: _answer,
}
