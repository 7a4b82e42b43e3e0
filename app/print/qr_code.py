"""An address as a QR code: SVG of plain paths, for the paper and the page."""

from functools import lru_cache

QUIET_ZONE = 4  # modules of white around the code, as ISO/IEC 18004 asks for


@lru_cache(maxsize=512)
def qr_svg(address: str) -> str:
    """The code with medium error correction, so that a photocopy of a copy still reads.

    Raises ValueError for an address too long for any code.
    """
    import segno

    code = segno.make(address, micro=False, error="m")
    drawn: str = code.svg_inline(border=QUIET_ZONE, svgclass=None, lineclass=None, omitsize=True)
    return drawn.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
