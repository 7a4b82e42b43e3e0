"""`stringcourse standards`, `lookup` and `coverage`: what must be covered, and is it."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import click
import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.cli.database_commands import opened
from app.domain.bands import BANDS, grade_number
from app.domain.standard import alignment
from app.domain.standard.depth import SectionCoverage
from app.interchange import coverage_export
from app.interchange.coverage_export import Export
from app.interchange.standard import file as case_file
from app.interchange.standard import importing as case_import
from app.interchange.standard.case_export import case_package
from app.interchange.standard.table import standards_csv
from app.jobs import imports
from app.models import School, Standard
from app.print.compile import print_documents
from app.store import accounts, sections
from app.store.standard import lookup as lookup_store
from app.store.standard import standards as store

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
school_option = click.option(
    "--school", "school_name", default=None, help="Name of the school; needed if there are several."
)


def _school(session: Session, name: str | None) -> School:
    """The school named, or the only one.

    Raises click.ClickException.
    """
    if name is not None:
        return accounts.find_school(session, name)
    found = list(session.scalars(sa.select(School).order_by(School.name)))
    if len(found) != 1:
        known = ", ".join(row.name for row in found) or "none yet"
        raise click.ClickException(f"name the school with --school; known: {known}.")
    return found[0]


def _print(value: Any) -> None:
    click.echo(json.dumps(value, indent=2, ensure_ascii=False))


@click.group("standards")
def standards() -> None:
    """Import, search and export frameworks of standards."""


@standards.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--preview", "only_preview", is_flag=True, help="Say what would change; change nothing."
)
@click.option("--key", default="", help="Key of a new framework; otherwise made of its title.")
@click.option("--title", default="", help="Title, where the file is a table and has none.")
@school_option
@json_option
def import_file(
    file: Path,
    *,
    only_preview: bool,
    key: str,
    title: str,
    school_name: str | None,
    as_json: bool,
) -> None:
    """Import FILE: a CASE package or a table of standards, packed or not."""
    raw, name = case_file.read_path(file)
    now = dt.datetime.now(dt.UTC)
    with opened() as session:
        school = _school(session, school_name)
        given = imports.GivenFile(title=title, key=key)
        found = imports.preview_file(session, school.id, raw, name, given, now.date())
        if not only_preview and not found.is_empty:
            case_import.apply(session, school.id, found, "command line", now)
        facts = case_import.counts(found)
    if as_json:
        _print(facts)
        return
    would = "would be " if only_preview else ""
    click.echo(
        f"{facts['title']} ({facts['framework']}): {facts['added']} {would}added, "
        f"{facts['changed']} changed, {facts['retired']} retired, "
        f"{facts['unchanged']} unchanged."
    )
    for heading, problems in (("left out", found.left_out), ("noted", found.noted)):
        for problem in problems:
            click.echo(f"  {heading}: {problem}")


@standards.command("search")
@click.argument("text")
@click.option("--framework", default=None, help="Key of one framework.")
@click.option("--grade", default=None, help="K, 1 to 12, or college.")
@click.option("--limit", type=click.IntRange(1, 500), default=20, show_default=True)
@school_option
@json_option
def search(
    text: str,
    *,
    framework: str | None,
    grade: str | None,
    limit: int,
    school_name: str | None,
    as_json: bool,
) -> None:
    """Find standards by a code in any spelling, or by words in TEXT."""
    with opened() as session:
        school = _school(session, school_name)
        number = grade_number(grade) if grade is not None else None
        hits = alignment.search(
            text,
            store.index_of(session, school.id),
            grades=(number, number) if number is not None else None,
            framework=framework,
            limit=limit,
        )
        rows = store.load_standards(session, [int(hit.entry.key) for hit in hits])
        found = [{**_standard(rows[int(hit.entry.key)]), "found_by": hit.reason} for hit in hits]
    if as_json:
        _print(found)
        return
    for item in found:
        click.echo(f"{item['code']:24s} {item['framework']:12s} {item['domain']}")
    if not found:
        click.echo(f"no standard is found for “{text}”.")


def _standard(row: Standard) -> dict[str, Any]:
    return {
        "code": row.code,
        "framework": row.framework.key,
        "domain": row.domain,
        "grade_low": row.grade_low,
        "grade_high": row.grade_high,
        "statement": row.statement,
        "retired": row.retired,
        "notice": row.framework.notice,
    }


@standards.command("export")
@click.argument("framework")
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="A .json file for a CASE package, a .csv file for a table.",
)
@school_option
def export(framework: str, *, output: Path, school_name: str | None) -> None:
    """Write FRAMEWORK (its key) with the school's alignments as a CASE package, or as a table."""
    with opened() as session:
        school = _school(session, school_name)
        row = store.find_framework(session, school.id, framework)
        if output.suffix.lower() == ".csv":
            text = standards_csv(row)
        elif output.suffix.lower() == ".json":
            package = case_package(session, row, school.id, dt.datetime.now(dt.UTC))
            text = json.dumps(package, indent=1, ensure_ascii=False, allow_nan=False)
        else:
            raise click.ClickException(f"{output.name} must end in .json or .csv.")
        count = len(row.standards)
    output.write_text(text, encoding="utf-8", newline="")
    click.echo(f"{output}: {count} standards, {len(text.encode()):,} bytes.")


@click.command("lookup")
@click.argument("code")
@click.option("--section", "key", required=True, help="Key of the section.")
@click.option("--framework", default=None, help="Key of a framework, where two have the code.")
@json_option
def look_up(code: str, *, key: str, framework: str | None, as_json: bool) -> None:
    """Say where a section's plan has the standard CODE (any spelling), or words."""
    with opened() as session:
        section = sections.find_section(session, key)
        school_id = section.course.department.school_id
        answer = lookup_store.look_up(session, section, code, school_id, framework)
        facts = {
            "sentence": answer.sentence,
            "standard": _standard(answer.standard) if answer.standard is not None else None,
            "places": [_place(place) for place in answer.places],
            "nearest": [_place(place) for place in answer.nearest],
            "candidates": [_standard(row) for row in answer.candidates],
        }
    if as_json:
        _print(facts)
        return
    click.echo(answer.sentence)
    for place in [_place(found) for found in (*answer.places, *answer.nearest)]:
        dates = ", ".join(place["lessons"]) or "not in the plan"
        band = BANDS[place["band"]].lower()
        steps = ", ".join(place["steps"])
        click.echo(f"  {place['treatment']} ({band}): lesson {dates}; steps {steps}")


def _place(place: lookup_store.Place) -> dict[str, Any]:
    item = place.alignment
    return {
        "treatment": place.treatment.title,
        "concept": place.treatment.concept.key,
        "band": place.treatment.band,
        "alignment": item.strength if item is not None else None,
        "reason": item.reason if item is not None else "",
        "condition": item.condition if item is not None else "",
        "steps": [step.key for step in place.steps],
        "lessons": sorted({row.meeting.date.isoformat() for row in place.lessons}),
        "meetings": sorted({row.meeting.date.isoformat() for row in place.activities}),
        "worksheets": list(place.phases),
        "calculator": place.treatment.calculator,
    }


@click.command("coverage")
@click.option("--section", "key", help="Key of the section.")
@click.option("--department", "department_key", help="Key of a department, in place of a section.")
@click.option("--csv", "kind", flag_value="csv", help="Write a table.")
@click.option("--xlsx", "kind", flag_value="xlsx", help="Write a workbook.")
@click.option("--pdf", "kind", flag_value="pdf", help="Write a paper.")
@click.option("-o", "--output", type=click.Path(path_type=Path, dir_okay=False))
@school_option
@json_option
def show_coverage(
    *,
    key: str | None,
    department_key: str | None,
    kind: str | None,
    output: Path | None,
    school_name: str | None,
    as_json: bool,
) -> None:
    """Show which standards a section or department introduces, practises, assesses; gaps first."""
    if (key is None) == (department_key is None):
        raise click.ClickException("give --section KEY or --department KEY.")
    if (kind is None) != (output is None):
        raise click.ClickException("a file needs its kind (--csv, --xlsx or --pdf) and -o FILE.")
    with opened() as session:
        if key is not None:
            export, facts = _section_coverage(session, key)
        else:
            export, facts = _department_coverage(session, department_key or "", school_name)
    if output is not None:
        _write(export, kind or "", output)
    elif as_json:
        _print(facts)
    else:
        for sentence in export.gaps:
            click.echo(f"gap: {sentence}")
        for row in export.print_rows if key is None else ():
            click.echo("  ".join(f"{cell:24s}" for cell in row).rstrip())
        if key is not None:
            _print_section(facts)


def _section_coverage(session: Session, key: str) -> tuple[Export, dict[str, Any]]:
    from app.store.standard import section_coverage as coverage_store

    section = sections.find_section(session, key)
    now = dt.datetime.now(dt.UTC)
    facts = coverage_store.section_facts(session, section, now.date())
    approved = coverage_store.last_approval(facts, coverage_store.list_reviews(session, section))
    export = coverage_export.section_export(facts, approved, "command line", now)
    return export, coverage_facts(facts.coverage)


def _department_coverage(
    session: Session, key: str, school_name: str | None
) -> tuple[Export, dict[str, Any]]:
    from app.store.standard.department import department_coverage

    school = _school(session, school_name)
    department = next((row for row in school.departments if row.key == key), None)
    if department is None:
        known = ", ".join(row.key for row in school.departments) or "none yet"
        raise click.ClickException(f"there is no department {key}; known: {known}.")
    now = dt.datetime.now(dt.UTC)
    found = department_coverage(session, None, department, today=now.date())
    export = coverage_export.department_export(found, department.name, "command line", now)
    return export, {
        "sections": [head.key for head in found.heads],
        "standards": {
            code: {
                head.key: {
                    **{
                        d.value: reached.state for d, reached in found.at(head, code).depths.items()
                    },
                    "partial": any(r.partial for r in found.at(head, code).depths.values()),
                    "required": found.at(head, code).required,
                }
                for head in found.heads
            }
            for code in found.codes
        },
        "only_here": {code: head.key for code, head in found.only_here()},
        "gaps": list(export.gaps),
    }


def _print_section(facts: dict[str, Any]) -> None:
    for code, item in facts["standards"].items():
        states = (item["introduced"], item["practised"], item["assessed"])
        marks = " ".join(
            f"{letter}:{state or '-'}" for letter, state in zip("IPA", states, strict=True)
        )
        click.echo(f"{code:28s} {marks}{' (partial)' if item['partial'] else ''}")


def _write(export: Export, kind: str, output: Path) -> None:
    if kind == "csv":
        content = coverage_export.coverage_csv(export).encode()
    elif kind == "xlsx":
        content = coverage_export.coverage_xlsx(export)
    else:
        content = print_documents([coverage_export.coverage_document(export, "letter")]).pdf
    output.write_bytes(content)
    click.echo(f"{output}: {len(export.rows)} rows, {len(content):,} bytes.")


def coverage_facts(found: SectionCoverage) -> dict[str, Any]:
    """Coverage in plain values, as the JSON output has it."""
    return {
        "standards": {
            code: {
                "introduced": item.introduced,
                "practised": item.practised,
                "assessed": item.assessed,
                "partial": item.partial,
            }
            for code, item in found.standards.items()
        },
        "gaps": [gap.sentence for gap in found.gaps],
    }


COMMANDS = (standards, look_up, show_coverage)
