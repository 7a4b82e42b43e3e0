"""Coverage as tables (CSV, XLSX) and on paper (PDF), each with where it comes from.

A table is a head of provenance, an empty line, a header, and rows. Text that a spreadsheet would
take for a formula is marked as text.
"""

import datetime as dt
import io
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version

from app.domain.papers.document import (
    Block,
    Document,
    Heading,
    Items,
    Paper,
    Paragraph,
    Table,
    Title,
)
from app.domain.standard.depth import Depth, DepthReached, StandardCoverage
from app.interchange.tables import Cell, csv_text, neutral
from app.store.standard.department import DepartmentCoverage
from app.store.standard.section_coverage import Approved, SectionFacts

LONGEST_SHEET_NAME = 31
STATE = {None: "none", "planned": "planned", "taught": "taught"}


@dataclass(frozen=True)
class Export:
    """A titled table with its provenance, gaps and notices."""

    title: str
    provenance: tuple[tuple[str, str], ...]
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    gaps: tuple[str, ...]
    notices: tuple[str, ...]
    print_header: tuple[str, ...]
    print_rows: tuple[tuple[str, ...], ...]


def section_export(
    facts: SectionFacts, approved: Approved | None, who: str, now: dt.datetime
) -> Export:
    """A section's coverage: one row a standard, with depths, dates, recurrence and students."""
    section, plan = facts.section, facts.plan
    items = sorted(facts.coverage.standards.values(), key=lambda s: (not s.required, s.standard))
    shown = [item for item in items if item.required or item.evidence]
    return Export(
        title=f"Coverage of {section.title}",
        provenance=(
            *_made(who, now),
            ("Section", f"{section.title} ({section.key})"),
            ("Course", section.course.title),
            ("Teacher", section.teacher.name),
            ("Build", f"{section.build.title}, version {section.build.version}"),
            ("Plan", _plan(facts)),
            ("Approved", _approval(approved)),
            *_frameworks(facts),
        )
        if plan is not None
        else (*_made(who, now), ("Section", section.title), ("Plan", "none yet")),
        header=(
            "standard",
            "framework",
            "required",
            "required by",
            "priority",
            "introduced",
            "introduced first",
            "practised",
            "practised first",
            "assessed",
            "assessed first",
            "in part",
            "meetings",
            "weeks",
            "students with an artifact",
            "students in part",
            "students",
        ),
        rows=tuple(_section_row(facts, item) for item in shown),
        gaps=tuple(gap.sentence for gap in facts.coverage.gaps),
        notices=_notices(facts),
        print_header=("Standard", *(f"{week}" for week in facts.weeks), "Students"),
        print_rows=tuple(_week_row(facts, item) for item in shown if item.required),
    )


def _made(who: str, now: dt.datetime) -> tuple[tuple[str, str], ...]:
    return (
        ("Exported by", who),
        ("Exported on", now.strftime("%Y-%m-%d %H:%M %Z").strip()),
        ("Program", f"Stringcourse {version('stringcourse')}"),
    )


def _plan(facts: SectionFacts) -> str:
    plan = facts.plan
    if plan is None:
        return "none yet"
    made = plan.created_at.date().isoformat()
    return f"number {plan.id}, {made}, by {plan.created_by}: {plan.reason}"


def _approval(approved: Approved | None) -> str:
    if approved is None:
        return "no"
    day = approved.review.created_at.date().isoformat()
    since = len(approved.differences)
    changed = f"{since} difference{'s' * (since != 1)} since" if since else "unchanged since"
    return f"version {approved.version} by {approved.review.author}, {day}; {changed}"


def _frameworks(facts: SectionFacts) -> list[tuple[str, str]]:
    named = {}
    for code in facts.coverage.standards:
        framework = facts.standards[code].framework
        when = framework.imported_at.date().isoformat() if framework.imported_at else ""
        parts = (framework.title, framework.version, f"imported {when}" if when else "")
        named[framework.key] = ", ".join(part for part in parts if part)
    return [("Framework", named[key]) for key in sorted(named)]


def _notices(facts: SectionFacts) -> tuple[str, ...]:
    found = {facts.standards[code].framework.notice for code in facts.coverage.standards}
    return tuple(sorted(found - {""}))


def _section_row(facts: SectionFacts, item: StandardCoverage) -> tuple[Cell, ...]:
    standard = facts.standards[item.standard]
    depths: list[Cell] = []
    for depth in Depth:
        reached = item.depths[depth]
        depths += [_state(reached), reached.first.isoformat() if reached.first else None]
    return (
        standard.code,
        standard.framework.key,
        "yes" if item.required else "no",
        item.by.isoformat() if item.by else None,
        "yes" if item.priority else "no",
        *depths,
        "yes" if item.partial else "no",
        item.recurrence.meetings,
        item.recurrence.weeks,
        item.share.full,
        item.share.partial_only,
        item.share.roster,
    )


def _state(reached: DepthReached) -> str:
    words = STATE[reached.state.value if reached.state else None]
    return f"{words} in part" if reached.partial and reached.state else words


def _week_row(facts: SectionFacts, item: StandardCoverage) -> tuple[str, ...]:
    """Letters by week: small letters are planned, capitals taught, brackets in part."""
    cells = {cell.week: cell for cell in item.cells}
    letters = []
    for week in facts.weeks:
        marks = cells[week].marks if week in cells else ()
        letters.append("".join(_letter(m.letter, m.state, m.partial) for m in marks))
    return (item.standard, *letters, f"{item.share.full}/{item.share.roster}")


def _letter(letter: str, state: str, partial: bool) -> str:
    shown = letter if state == "taught" else letter.lower()
    return f"({shown})" if partial else shown


DEPARTMENT_HEADER = (
    "standard",
    "section",
    "course",
    "teacher",
    "build",
    "plan",
    "required",
    "required by",
    "introduced",
    "practised",
    "assessed",
    "first met",
    "students with an artifact",
    "students",
    "gaps",
)


def department_export(
    found: DepartmentCoverage, department: str, who: str, now: dt.datetime
) -> Export:
    """A department's coverage: one row for each standard and section."""
    rows = [
        (head, code, found.at(head, code))
        for code in found.codes
        for head in found.heads
        if found.at(head, code).reached or found.at(head, code).required
    ]
    return Export(
        title=f"Coverage of {department}",
        provenance=(
            *_made(who, now),
            ("Department", department),
            ("Sections", "; ".join(head.title for head in found.heads) or "none"),
        ),
        header=DEPARTMENT_HEADER,
        rows=tuple(
            (
                code,
                head.title,
                head.course,
                head.teacher,
                f"{head.build}, version {head.version}",
                f"number {head.plan}" if head.plan is not None else "none yet",
                "yes" if standing.required else "no",
                standing.by.isoformat() if standing.by else None,
                *(_state(standing.depths[depth]) for depth in Depth),
                standing.first.isoformat() if standing.first else None,
                standing.students,
                head.roster,
                ", ".join(standing.gaps()),
            )
            for head, code, standing in rows
        ),
        gaps=tuple(
            f"{head.title}: {code} {words}."
            for head in found.heads
            for code, _priority, words in found.gaps(head)
        ),
        notices=found.notices,
        print_header=("Standard", *(head.title for head in found.heads)),
        print_rows=tuple(
            (
                f"{code}, required" if code in found.required else code,
                *(
                    "".join(
                        _letter(depth.letter, reached.state.value, reached.partial)
                        for depth, reached in found.at(head, code).depths.items()
                        if reached.state is not None
                    )
                    for head in found.heads
                ),
            )
            for code in found.codes
        ),
    )


# --- formats -------------------------------------------------------------------------------------


def coverage_csv(export: Export) -> str:
    """The table as CSV: provenance first, then an empty line, then header and rows."""
    body: list[Sequence[Cell]] = [*export.provenance[1:], (), export.header, *export.rows]
    body += [(), *(("Notice", notice) for notice in export.notices)] if export.notices else []
    return csv_text(export.provenance[0], body)


def coverage_xlsx(export: Export) -> bytes:
    """A workbook: the table, the gaps, and where it comes from."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet = book.active
    assert sheet is not None  # noqa: S101 - a new workbook has one
    sheet.title = "Coverage"
    for row in (export.header, *export.rows):
        sheet.append([neutral(cell) for cell in row])
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = "B2"
    for number, name in enumerate(export.header, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = max(12, len(name) + 2)
    gaps = book.create_sheet("Gaps")
    for sentence in export.gaps or ("No gaps.",):
        gaps.append([neutral(sentence)])
    source = book.create_sheet("Where it comes from"[:LONGEST_SHEET_NAME])
    for name, value in (*export.provenance, *(("Notice", text) for text in export.notices)):
        source.append([name, neutral(value)])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


COLUMNS_A_TABLE = 12


def coverage_document(export: Export, paper: Paper) -> Document:
    """The coverage on paper: gaps first, then the table, then where it comes from."""
    blocks: list[Block] = [Title(export.title), Heading("Gaps")]
    blocks.append(Items(export.gaps) if export.gaps else Paragraph("No gaps."))
    blocks.append(Heading("Standards"))
    blocks.append(
        Paragraph(
            "I introduced, P practised, A assessed. A capital is taught or marked, a small letter "
            "planned; brackets mean in part."
        )
    )
    columns = export.print_header[1:]
    for first in range(0, max(1, len(columns)), COLUMNS_A_TABLE):
        part = columns[first : first + COLUMNS_A_TABLE]
        blocks.append(
            Table(
                header=(export.print_header[0], *part),
                rows=tuple(
                    (row[0], *row[1 + first : 1 + first + len(part)]) for row in export.print_rows
                ),
                row_headers=True,
                widths=(7, *(max(3, min(6, len(name) // 2)) for name in part)),
            )
        )
    blocks.append(Heading("Where it comes from"))
    blocks += [Paragraph(f"{name}: {value}", small=True) for name, value in export.provenance]
    blocks += [Paragraph(notice, small=True) for notice in export.notices]
    return Document(title=export.title, blocks=tuple(blocks), paper=paper)
