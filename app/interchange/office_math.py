"""MathML as Office MathML, so that a formula stays a formula in a word processor.

ECMA-376 part 1, section 22.1, names the elements. What this small table does not know is
written as its own text.
"""

from collections.abc import Callable
from typing import Any
from xml.etree import ElementTree as ET

from docx.oxml import OxmlElement
from docx.oxml.ns import qn

_TEXT = {"mi", "mn", "mo", "mtext", "ms"}
_ROWS = {"math", "mrow", "mstyle", "mpadded", "semantics", "mphantom"}


def office_math(mathml: str) -> Any:
    """The `m:oMath` element of a `<math>` element. Raises ValueError where it is not XML."""
    try:
        root = ET.fromstring(mathml)  # noqa: S314 - our own export, never a file
    except ET.ParseError as error:
        raise ValueError(f"the formula is not MathML: {error}") from error
    formula: Any = OxmlElement("m:oMath")
    _into(formula, root)
    return formula


def _new(parent: Any, name: str) -> Any:
    element: Any = OxmlElement(f"m:{name}")
    parent.append(element)
    return element


def _into(parent: Any, node: Any) -> None:
    name = node.tag.rpartition("}")[2]
    children = list(node)
    if name in _TEXT:
        _run(parent, "".join(node.itertext()))
    elif name == "mspace":
        _run(parent, "\u2009")
    elif name in _ROWS:
        for child in children:
            _into(parent, child)
    elif name in _SHAPES and len(children) >= _SHAPES[name][0]:
        _SHAPES[name][1](parent, children)
    else:
        for child in children:
            _into(parent, child)
        if not children:
            _run(parent, "".join(node.itertext()))


def _run(parent: Any, text: str) -> None:
    if text:
        run = _new(parent, "r")
        _new(run, "t").text = text


def _part(parent: Any, name: str, node: Any | None) -> None:
    element = _new(parent, name)
    if node is not None:
        _into(element, node)


def _named(tag: str, *parts: str) -> Callable[[Any, list[Any]], None]:
    """A shape whose parts are the children in order."""

    def build(parent: Any, children: list[Any]) -> None:
        element = _new(parent, tag)
        for part, child in zip(parts, children, strict=False):
            _part(element, part, child)

    return build


def _root(parent: Any, children: list[Any]) -> None:
    element = _new(parent, "rad")
    _part(element, "deg", children[1])
    _part(element, "e", children[0])


def _square_root(parent: Any, children: list[Any]) -> None:
    element = _new(parent, "rad")
    properties = _new(element, "radPr")
    _new(properties, "degHide").set(qn("m:val"), "1")
    _new(element, "deg")
    inner = _new(element, "e")
    for child in children:
        _into(inner, child)


def _over(parent: Any, children: list[Any]) -> None:
    """A bar or an accent over its base."""
    sign = "".join(children[1].itertext()).strip()
    element = _new(parent, "acc")
    properties = _new(element, "accPr")
    bar = "\u0305" if sign in ("\u00af", "\u203e", "") else sign
    _new(properties, "chr").set(qn("m:val"), bar)
    _part(element, "e", children[0])


_SHAPES: dict[str, tuple[int, Callable[[Any, list[Any]], None]]] = {
    "mfrac": (2, _named("f", "num", "den")),
    "msup": (2, _named("sSup", "e", "sup")),
    "msub": (2, _named("sSub", "e", "sub")),
    "msubsup": (3, _named("sSubSup", "e", "sub", "sup")),
    "munder": (2, _named("limLow", "e", "lim")),
    "mroot": (2, _root),
    "msqrt": (1, _square_root),
    "mover": (2, _over),
}
