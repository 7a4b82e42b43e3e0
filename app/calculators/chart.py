"""A chart as SVG with a role, a title and a description, drawn by Vega-Lite's converter."""

import json
import re
from functools import lru_cache

from markupsafe import escape

from app.domain.calculators.engine.pictures import Chart

_ROOT = re.compile(r"<svg\b([^>]*)>")
# Ink on white in the page's sans serif, with lines dark enough for print.
CONFIG = {
    "background": "white",
    "font": "system-ui, Roboto, 'Noto Sans', 'DejaVu Sans', sans-serif",
    "axis": {
        "labelFontSize": 13,
        "titleFontSize": 14,
        "labelColor": "#1c1b19",
        "titleColor": "#1c1b19",
        "titleFontWeight": "normal",
        "gridColor": "#e7e3d9",
        "domainColor": "#1c1b19",
        "tickColor": "#1c1b19",
        "labelOverlap": True,
        "labelSeparation": 6,
    },
    "legend": {"labelFontSize": 13, "titleFontSize": 13},
    "view": {"stroke": None},
    "mark": {"color": "#0072B2"},
    "range": {"category": ["#0072B2", "#D55E00"]},
}


def chart_svg(chart: Chart) -> str:
    """The chart. The page's own heading names it, so no title is drawn inside."""
    spec = {key: value for key, value in chart.spec.items() if key not in {"title", "description"}}
    svg = _drawn(json.dumps({**spec, "config": CONFIG}, allow_nan=False))
    named = f"<title>{escape(chart.title)}</title><desc>{escape(chart.description)}</desc>"
    return _ROOT.sub(lambda root: f'<svg{root[1]} role="img">{named}', svg, count=1)


@lru_cache(maxsize=256)
def _drawn(spec: str) -> str:
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(spec)
    return svg
