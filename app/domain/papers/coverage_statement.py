"""The coverage statement: each standard of a section, how deep, and with what evidence."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.document import Block, Document, Items, Paper, Paragraph, Table, Title
from app.domain.papers.facts import Head


@dataclass(frozen=True, slots=True)
class Row:
    """One standard; each depth is "taught", "planned" or "" and brackets mean in part."""

    code: str
    domain: str
    introduced: str = ""
    practised: str = ""
    assessed: str = ""
    evidence: int = 0
    share: str = ""


def coverage_statement(
    head: Head,
    rows: Sequence[Row],
    gaps: Sequence[str],
    notices: Sequence[str] = (),
    paper: Paper = "letter",
) -> Document:
    """Required standards first as given; gaps in sentences; the owners' notices at the end."""
    blocks: list[Block] = [
        Title("Coverage statement", head.section, head.date, head.build),
        Paragraph(
            "Introduced by a lesson, practised at the bench with a worksheet question, assessed by "
            "a marked question or hold point. Taught means it has happened and is on record; "
            "planned means it stands in the plan; brackets mean in part."
        ),
    ]
    if rows:
        blocks.append(
            Table(
                (
                    "Standard",
                    "Domain",
                    "Introduced",
                    "Practised",
                    "Assessed",
                    "Evidence",
                    "Students",
                ),
                tuple(
                    (
                        row.code,
                        row.domain,
                        row.introduced or "–",
                        row.practised or "–",
                        row.assessed or "–",
                        str(row.evidence) if row.evidence else "–",
                        row.share or "–",
                    )
                    for row in rows
                ),
                row_headers=True,
                widths=(7, 10, 5, 5, 5, 4, 4),
            )
        )
    else:
        blocks.append(Paragraph("The course names no required standard."))
    if gaps:
        blocks.append(Items(tuple(gaps), label="Not covered, or not yet"))
    blocks += [Paragraph(notice, small=True) for notice in dict.fromkeys(notices) if notice]
    return Document("Coverage statement", tuple(blocks), paper=paper, foot=head.section)
