"""Formulas for pages: the paper's own Typst string as MathML.

Typst writes variables in the mathematical letters of Unicode, which only a mathematics
font draws. Plain letters are put back, so that a page looks right without such a font:
a browser slants a single letter by itself.
"""

import re
import unicodedata
from functools import lru_cache

from app.domain.document import Formula
from app.print.compile import fonts

_SOURCE = (
    b'#math.equation(eval(sys.inputs.formula, mode: "math"), block: sys.inputs.display == "yes")'
)
_MATH = re.compile(r"<math\b.*</math>", re.DOTALL)
_STYLE = re.compile(r'\sstyle="[^"]*"')
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
            _SOURCE,
            font_paths=fonts(),
            ignore_system_fonts=True,
            sys_inputs={"formula": typst_math, "display": "yes" if display else "no"},
            format="html",
        )
    except typst.TypstError as error:
        raise ValueError(f"{typst_math!r} is not a formula: {error}") from error
    found = _MATH.search(bytes(exported).decode())
    if found is None:
        raise ValueError(f"{typst_math!r} is not a formula")
    return _TOKEN.sub(
        lambda token: unicodedata.normalize("NFKC", token.group()), _STYLE.sub("", found.group())
    )
