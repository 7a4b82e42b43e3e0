"""Documents as pages: what a Jinja environment needs to render the document templates."""

from jinja2 import Environment
from markupsafe import Markup

from app.domain.papers.document import Document
from app.print.mathml import formula_mathml
from app.print.payload import templates
from app.print.qr_code import qr_svg


def mathml(typst_math: str, *, display: bool = True) -> Markup:
    """The formula as safe markup: Typst made it, and it holds no style and no script."""
    return Markup(formula_mathml(typst_math, display=display))  # noqa: S704 - our own export


def qr(address: str) -> Markup:
    """The address as a QR code: our own drawing, without style or script."""
    return Markup(qr_svg(address))  # noqa: S704 - the drawing holds paths only


def install(environment: Environment) -> None:
    """Give an environment the filters that `document/blocks.html` uses."""
    environment.filters["mathml"] = mathml
    environment.filters["qr"] = qr


def document_html(document: Document, *, heading: int = 1) -> Markup:
    """The document as an `<article>`; `heading` is the level of its title on the page."""
    environment = templates()
    module = environment.get_template("document/blocks.html").module
    return Markup(module.document_page(document, heading=heading))  # type: ignore[attr-defined]  # noqa: S704
