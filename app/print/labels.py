"""Labels on a standard sheet: 30 on Letter, 24 on A4. The sheet's grid is kept to the millimetre."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.papers.document import Paper
from app.domain.papers.kit_papers import PartLabel
from app.print.compile import PAPER_NAMES, PAPERS, STANDARDS, PrintError, typst_pdf
from app.print.payload import clean

MOST_LABELS = 6000
LONGEST_TEXT = 90


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet's grid in mm: labels across and down, their size, the steps between them, the edge.

    The sizes are those of office label sheets of 1 by 2 5/8 inches and of 70 by 37 mm; from memory.
    """

    across: int
    down: int
    width_mm: float
    height_mm: float
    step_x_mm: float
    step_y_mm: float
    left_mm: float
    top_mm: float

    @property
    def count(self) -> int:
        return self.across * self.down


SHEETS: dict[Paper, LabelSheet] = {
    "letter": LabelSheet(3, 10, 66.675, 25.4, 69.85, 25.4, 4.7625, 12.7),
    "a4": LabelSheet(3, 8, 70.0, 37.0, 70.0, 37.0, 0.0, 0.5),
}


def labels_pdf(
    labels: Sequence[PartLabel], paper: Paper = "letter", *, skip: int = 0, title: str = "Labels"
) -> bytes:
    """The labels as a tagged PDF; ``skip`` leaves the used places of a begun sheet free.

    Raises PrintError for no label, too many, an unknown paper or a sheet with no place left.
    """
    import typst

    if paper not in PAPERS:
        raise PrintError(f"paper is letter or a4, not {paper!r}")
    sheet = SHEETS[paper]
    if not labels:
        raise PrintError("there is no label to print: the class needs teams and parts")
    if len(labels) > MOST_LABELS:
        raise PrintError(f"at most {MOST_LABELS} labels at a time: print class by class")
    if not 0 <= skip < sheet.count:
        raise PrintError(f"a sheet has {sheet.count} labels: skip 0 to {sheet.count - 1} of them")
    data = json.dumps(
        {
            "title": clean(title),
            "paper": PAPER_NAMES[paper],
            "across": sheet.across,
            "count": sheet.count,
            "width": sheet.width_mm,
            "height": sheet.height_mm,
            "step_x": sheet.step_x_mm,
            "step_y": sheet.step_y_mm,
            "left": sheet.left_mm,
            "top": sheet.top_mm,
            "skip": skip,
            "labels": [
                {
                    "team": _short(label.team, 12),
                    "part": _short(label.part, LONGEST_TEXT),
                    "foot": _short(" · ".join(x for x in (label.section, label.build) if x), 80),
                }
                for label in labels
            ],
        },
        ensure_ascii=False,
    )
    for system in (False, True):
        try:
            return typst_pdf("labels.typ", data, system=system, standards=STANDARDS)
        except typst.TypstError as error:
            if "could not be displayed with font" not in str(error):
                raise
    return typst_pdf("labels.typ", data, standards=(), system=True)


def _short(text: str, most: int) -> str:
    plain = clean(" ".join(text.split()))
    return plain if len(plain) <= most else f"{plain[: most - 1]}…"
