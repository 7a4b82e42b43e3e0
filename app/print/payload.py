"""Documents as the plain data the Typst template reads: JSON, never source.

Every string is cleaned of what no font can show and no reader should obey: control
characters and the marks that turn the reading direction of the text around them.
"""

import json
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.domain.papers.document import Caution, Document, Formula, Link
from app.domain.papers.drawing import Sheet
from app.print.qr_code import qr_svg

_TEMPLATES = Path(__file__).resolve().parent.parent / "templates"
_KEPT_CONTROLS = "\n\t"
# Overrides, embeddings and isolates reorder what stands beside them; unassigned,
# surrogate and private-use code points have no meaning outside the sender's machine.
_DROPPED_CATEGORIES = {"Cc", "Cs", "Co", "Cn"}
_DIRECTION_CONTROLS = {*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0xFEFF}
_SHORT = 36
_LONG_RUN = re.compile(r"\S{36}(?=\S)")
_BREAK_HERE = "\u200b"


def _kept(letter: str) -> bool:
    return letter in _KEPT_CONTROLS or (
        unicodedata.category(letter) not in _DROPPED_CATEGORIES
        and ord(letter) not in _DIRECTION_CONTROLS
    )


def clean(text: str) -> str:
    """The text without controls; a run too long for a line gains places to break."""
    if not text.isprintable():  # most text is: the letters need no look then
        lines = text.replace("\r\n", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
        text = "".join(letter for letter in lines if _kept(letter))
    if len(text) <= _SHORT:
        return text
    return _LONG_RUN.sub(lambda run: run.group() + _BREAK_HERE, text)


@lru_cache(maxsize=1)
def templates() -> Environment:
    """The document templates, strict about undefined names, outside any web application."""
    from app.print.page import install

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES), autoescape=True, undefined=StrictUndefined
    )
    install(environment)
    return environment


@lru_cache(maxsize=1)
def _drawing_template() -> Any:
    return templates().get_template("document/drawing.svg.html").module


@lru_cache(maxsize=256)
def sheet_svg(sheet: Sheet) -> str:
    """The sheet as SVG at true size, from the template the pages use."""
    return str(_drawing_template().draw(sheet, css_class=""))


def _formula(formula: Formula) -> dict[str, Any]:
    return {
        "kind": formula.kind,
        "typst": formula.typst,
        "words": clean(formula.words),
        "label": clean(formula.label),
    }


def _sheet(sheet: Sheet) -> dict[str, Any]:
    return {
        "svg": clean_svg(sheet_svg(sheet)),
        "width_mm": sheet.width_mm,
        "scale": clean(sheet.scale),
    }


def clean_svg(svg: str) -> str:
    """SVG without control characters: labels may carry what a user typed."""
    if svg.isprintable():
        return svg
    return "".join(letter for letter in svg if _kept(letter))


def plain(value: Any) -> Any:
    """A block or part of one as dictionaries, lists, numbers and cleaned text."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, Formula):
        return _formula(value)
    if isinstance(value, Sheet):
        return _sheet(value)
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        data = {field.name: plain(getattr(value, field.name)) for field in fields(value)}
        if hasattr(value, "kind"):
            data["kind"] = value.kind
        if isinstance(value, Caution):
            data["deferral"] = value.deferral
        if isinstance(value, Link):
            # The address itself stays whole: a place to break would end up in the link.
            data["address"] = value.address
            data["shown"] = clean(value.address.partition("://")[2] or value.address)
            data["svg"] = qr_svg(value.address)
        return data
    return value


def document_data(document: Document) -> dict[str, Any]:
    """What the template may print of a document: its blocks, never its answers."""
    return {
        "title": clean(document.title),
        "language": document.language,
        "version": document.version,
        "seed": clean(document.seed),
        "foot": clean(document.foot),
        "blocks": [plain(block) for block in document.blocks],
    }


def payload(documents: Sequence[Document], paper: str, notice: str = "") -> str:
    """The JSON for one run of the template over these documents; `paper` as Typst names it."""
    return json.dumps(
        {
            "paper": paper,
            "notice": notice,
            "documents": [document_data(document) for document in documents],
        },
        ensure_ascii=False,
        allow_nan=False,
    )
