"""The coverage statement: each standard of a section, how deep, and with what evidence."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.papers.document import Block, Document, Items, Paper, Paragraph, Table, Title
from app.domain.papers.facts import Head


@dataclass(frozen=True, slots=True)
class StatementRow:
    """One standard; each depth is "taught", "planned" or "" and brackets mean in part."""

    code: str
    domain: str
    introduced: str = ""
    practised: str = ""
    assessed: str = ""
    evidence: int = 0
    share: str = ""
    required: bool = True


def coverage_statement(
    head: Head,
    rows: Sequence[StatementRow],
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
    required = [row for row in rows if row.required]
    if required:
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
                    for row in required
                ),
                row_headers=True,
                widths=(7, 15, 6, 6, 6, 5, 5),
            )
        )
    else:
        blocks.append(Paragraph("The course names no required standard."))
    touched = [row for row in rows if not row.required]
    for depth, words in (("assessed", "Also assessed"), ("practised", "Also practised")):
        codes = [_marked(row, depth) for row in touched if getattr(row, depth)]
        touched = [row for row in touched if not getattr(row, depth)]
        if codes:
            blocks.append(Paragraph(", ".join(codes) + ".", label=words))
    if touched:
        codes = [_marked(row, "introduced") for row in touched]
        blocks.append(Paragraph(", ".join(codes) + ".", label="Also introduced"))
    if gaps:
        blocks.append(Items(tuple(gaps), label="Not covered, or not yet"))
    blocks += [Paragraph(notice, small=True) for notice in dict.fromkeys(notices) if notice]
    return Document("Coverage statement", tuple(blocks), paper=paper, foot=head.section)


def _marked(row: StatementRow, depth: str) -> str:
    """The code in brackets where in part, with "planned" where it has not happened."""
    state = getattr(row, depth)
    code = f"({row.code})" if state.startswith("(") else row.code
    return f"{code} planned" if "planned" in state else code
