"""Documents to PDF."""

from app.print.compile import (
    Printed,
    PrintError,
    compile_documents,
    compile_pdf,
    print_documents,
)
from app.print.fret_template import fret_template_pdf
from app.print.mathml import formula_mathml

__all__ = [
    "PrintError",
    "Printed",
    "compile_documents",
    "compile_pdf",
    "formula_mathml",
    "fret_template_pdf",
    "print_documents",
]
