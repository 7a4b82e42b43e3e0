"""A worksheet on the class's own readings: mean, spread, outliers, tolerance yield."""

from app.domain.calculators.measurement_statistics import Result
from app.domain.classroom.class_data import DataSet, FretReading
from app.domain.papers.document import (
    Answer,
    Block,
    Document,
    Paragraph,
    QuestionBlock,
    Table,
    Title,
)
from app.domain.quantities import decimals, significant

CONCEPT = "measurement statistics"
FEWEST = 3


def statistics_document(data: DataSet, section: str) -> Document:
    """A sheet with the class's readings and five questions, answers beside it.

    Raises ValueError with a sentence where there are fewer than three readings.
    """
    found = data.statistics()
    if found is None or len(data.points) < FEWEST:
        raise ValueError(
            f"{data.what}: {len(data.points)} readings are too few for statistics; take three."
        )
    rows = tuple((point.holder, f"{significant(point.value)} {data.unit}") for point in data.points)
    blocks: list[Block] = [
        Title(f"Our own readings: {data.what}", section=section, name_line=True),
        Paragraph(
            f"Each reading was taken in this class{_with(data.instrument)}. "
            f"{_limits(data)} Show your working."
        ),
        Table(("Team", "Reading"), rows, caption=f"{data.what}, {data.unit}", row_headers=True),
    ]
    answers = []
    asked = _asked(data, found)
    for number, (text, unit, answer, value, lines) in enumerate(asked, 1):
        blocks.append(QuestionBlock(number, text, unit=unit, space_lines=lines))
        half = 0.005 * abs(value) if value is not None else None
        answers.append(
            Answer(
                number,
                CONCEPT,
                answer,
                prompt=text,
                value=value,
                unit=unit,
                low=value - half if value is not None and half is not None else None,
                high=value + half if value is not None and half is not None else None,
            )
        )
    return Document(
        title=f"Class readings, {data.what}, {section}",
        blocks=tuple(blocks),
        foot=section,
        answers=tuple(answers),
    )


def _with(instrument: str) -> str:
    return f" with: {instrument}" if instrument else ""


def _limits(data: DataSet) -> str:
    if data.low is None or data.high is None:
        return "No limits are set."
    return (
        f"It is within limits from {decimals(data.low, 2)} to {decimals(data.high, 2)} {data.unit}."
    )


def _asked(data: DataSet, found: Result) -> list[tuple[str, str, str, float | None, int]]:
    unit = data.unit

    def shown(value: float) -> str:
        return f"{significant(value)} {unit}".strip()

    asked: list[tuple[str, str, str, float | None, int]] = [
        (f"What is the mean of the {len(data.points)} readings?", unit, shown(found.mean), found.mean, 3),
        ("What is the median?", unit, shown(found.median), found.median, 2),
        ("From the smallest to the largest: what is the range?", unit, shown(found.spread), found.spread, 2),
    ]  # fmt: skip
    if found.standard_deviation is not None:
        text = "What is the standard deviation of the readings (divide by n − 1)?"
        asked.append((text, unit, shown(found.standard_deviation), found.standard_deviation, 4))
    outliers = ", ".join(shown(value) for value in found.outliers) or "none"
    text = (
        "Which readings lie more than one and a half interquartile ranges outside the quartiles? "
        "What could have caused each?"
    )
    asked.append((text, "", outliers, None, 3))
    if found.share_within is not None:
        percent = 100 * found.share_within
        text = "What share of the instruments is within the limits?"
        asked.append((text, "%", f"{significant(percent, 3)} %", percent, 2))
    return asked


def residual_rows(frets: tuple[FretReading, ...]) -> tuple[tuple[str, str, str, str, str], ...]:
    """Team, fret, measured, predicted and residual as a table shows them, in mm."""
    return tuple(
        (
            item.holder,
            str(item.fret),
            decimals(item.measured_mm, 2),
            decimals(item.predicted_mm, 2),
            decimals(item.residual_mm, 2),
        )
        for item in frets
    )
