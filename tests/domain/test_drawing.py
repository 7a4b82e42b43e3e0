"""Pictures laid on paper: lengths by the stated scale, words where they can be read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Line, Outline, Shape
from app.domain.papers.drawing import SCALES, measuring_bar, on_paper, scale_words


def drawing(*shapes: Shape, exaggerated: float = 1.0) -> Drawing:
    return Drawing("A picture", "What it shows.", shapes, exaggerated)


def beam(length_mm: float) -> Drawing:
    return drawing(
        Line((0.0, 0.0), (length_mm, 0.0), "thick"),
        Dimension((0.0, 0.0), (length_mm, 0.0), f"{length_mm:g} mm", 20.0),
    )


@given(st.floats(1.0, 15_000.0))
def test_a_line_is_drawn_at_the_stated_scale_and_fits(length_mm: float) -> None:
    sheet = on_paper(beam(length_mm))
    (line,) = [s for s in sheet.shapes if isinstance(s, Line) and s.line == "thick"]
    drawn = line.end[0] - line.start[0]
    scale = next(s for s in SCALES if scale_words(s) == sheet.scale)
    assert drawn == pytest.approx(length_mm * scale)
    assert sheet.width_mm <= 172


def test_everything_lies_on_the_sheet() -> None:
    sheet = on_paper(beam(648.0))
    for shape in sheet.shapes:
        points = shape.points if isinstance(shape, Outline) else ()
        if isinstance(shape, Line):
            points = (shape.start, shape.end)
        for x, y in points:
            assert 0 <= x <= sheet.width_mm
            assert 0 <= y <= sheet.height_mm


def test_a_picture_too_large_for_every_scale_is_refused() -> None:
    with pytest.raises(ValueError, match="too large"):
        on_paper(beam(20_000.0))


def test_a_scheme_states_no_scale_and_a_stretched_drawing_says_so() -> None:
    assert on_paper(drawing(Line((0.0, 0.0), (50.0, 0.0)))).scale == ""
    stretched = drawing(*beam(100.0).shapes, exaggerated=10.0)
    assert on_paper(stretched).scale.endswith("heights drawn 10 times as large")


def test_a_label_over_another_is_left_out() -> None:
    labels = [Label((float(x), 0.0), "12.34 mm") for x in (0, 1, 400)]
    shown = [
        s for s in on_paper(drawing(*labels, *beam(400.0).shapes)).shapes if isinstance(s, Label)
    ]
    assert len([label for label in shown if label.text == "12.34 mm"]) == 2


def test_the_measuring_bar_is_100_mm_with_a_tick_each_centimetre() -> None:
    lines = [shape for shape in measuring_bar().shapes if isinstance(shape, Line)]
    (bar,) = [line for line in lines if line.line == "thick"]
    assert bar.end[0] - bar.start[0] == pytest.approx(100)
    ticks = sorted(line.start[0] for line in lines if line.line != "thick")
    assert [round(tick - ticks[0], 6) for tick in ticks] == [10.0 * n for n in range(11)]
