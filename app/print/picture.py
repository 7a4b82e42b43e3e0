"""A drawing as a picture of points, for word processors that take no vectors."""

import json
from functools import lru_cache

from app.domain.papers.drawing import Sheet
from app.print.compile import TEMPLATES, fonts
from app.print.payload import clean_svg, sheet_svg

POINTS_PER_INCH = 220.0


@lru_cache(maxsize=64)
def sheet_png(sheet: Sheet) -> bytes:
    """The sheet as PNG; set at `sheet.width_mm` it is true to its scale."""
    import typst

    data = {
        "svg": clean_svg(sheet_svg(sheet)),
        "width_mm": sheet.width_mm,
        "height_mm": sheet.height_mm,
    }
    drawn: bytes = typst.compile(
        str(TEMPLATES / "picture.typ"),
        root=str(TEMPLATES),
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(data)},
        format="png",
        ppi=POINTS_PER_INCH,
    )
    return drawn
