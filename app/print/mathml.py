"""Formulas for pages: the paper's own Typst string as MathML.

Typst writes variables in the mathematical letters of Unicode, which only a mathematics
font draws. Plain letters are put back, so that a page looks right without such a font:
a browser slants a single letter by itself. Fractions inside roots, brackets and exponents
lie on one line for the same reason, and a mean is barred by an accent, since the export
knows no overline. Accents are the signs that stand alone: a combining one needs a letter.
"""

import re
import unicodedata
from functools import lru_cache

from app.domain.papers.document import Formula
from app.print.compile import TEMPLATES, fonts

_MATH = re.compile(r"<math\b.*</math>", re.DOTALL)
_STYLE = re.compile(r'\sstyle="[^"]*"')
_MATHEMATICAL = re.compile("[\U0001d400-\U0001d7ff\u2100-\u214f]")
_TOKEN = re.compile(r"(?<=>)([^<>&]+)(?=</m(?:i|n|text)>)")


@lru_cache(maxsize=1024)
def formula_mathml(typst_math: str, *, display: bool = True) -> str:
    """The formula as a `<math>` element without inline styles.

    Raises ValueError where the notation is not mathematics.
    """
    import typst

    Formula(typst_math, "checked for code before it is read as mathematics")
    try:
        exported = typst.compile(
            str(TEMPLATES / "formula.typ"),
            root=str(TEMPLATES),
            font_paths=fonts(),
            ignore_system_fonts=True,
            sys_inputs={
                "formula": typst_math.replace("overline(", "macron("),
                "display": "yes" if display else "no",
            },
            format="html",
        )
    except typst.TypstError as error:
        raise ValueError(f"{typst_math!r} is not a formula: {error}") from error
    found = _MATH.search(bytes(exported).decode())
    if found is None:
        raise ValueError(f"{typst_math!r} is not a formula")
    plain = _TOKEN.sub(_plain_letters, _STYLE.sub("", found.group()))
    return plain.replace("<mo>\u0304</mo>", "<mo>\u00af</mo>").replace(
        "<mo>\u0303</mo>", "<mo>\u02dc</mo>"
    )


def _plain_letters(token: re.Match[str]) -> str:
    # Only mathematical letters: the raised 3 of kg/m³ must stay raised.
    return "".join(
        unicodedata.normalize("NFKC", letter) if _MATHEMATICAL.match(letter) else letter
        for letter in token.group()
    )
