"""Kits measured as ratios in one run; `pytest -m benchmark -s` prints the figures."""

import time
from datetime import date

import pytest
import sqlalchemy as sa

from app.domain.kit.board_cutting import Board, PartBlank, cut_from_rack
from app.domain.kit.kit_batches import BatchClass, batch_of
from app.domain.kit.kit_quantities import BillLine, ClassSize, kit_list
from app.domain.papers.kit_papers import batch_document, batch_grids
from app.interchange.kit_files import xlsx_bytes
from app.models import Activity, Plan, Progress, Section, Team
from app.print.compile import compile_pdf
from app.store.kit import batches

pytestmark = pytest.mark.benchmark

BODIES = [
    PartBlank("body", "Body half", 120, 0.520, 0.185, 0.048),
    PartBlank("neck", "Neck", 60, 0.720, 0.076, 0.025),
    PartBlank("fretboard", "Fretboard", 60, 0.520, 0.070, 0.007),
]
RACK = [
    Board("8 ft", 2.4384, 24, 0.2032, 0.0508),
    Board("10 ft", 3.048, 6, 0.2032, 0.0508),
    Board("neck wood", 3.048, 5, 0.250, 0.027),
    Board("board wood", 1.83, 5, 0.300, 0.008),
]


def seconds(work, runs=3):
    best = float("inf")
    for _ in range(runs):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def reference():
    """A fixed piece of arithmetic: what this machine does in a moment, under today's load."""
    return sum(n * n % 7 for n in range(2_000_000))


def test_parts_of_60_instruments_from_40_boards_with_a_bound():
    found = cut_from_rack(BODIES, RACK, 0.003, trim_m=0.02)
    assert not found.reasons
    assert found.least_m > 0
    ours, base = (
        seconds(lambda: cut_from_rack(BODIES, RACK, 0.003, trim_m=0.02)),
        seconds(reference),
    )
    print(
        f"\n60 instruments, 40 boards: {ours:.3f} s, {found.proof}; {ours / base:.2f} of reference"
    )
    assert ours < 25 * base


def test_mixed_lengths_from_40_boards_with_a_bound():
    blanks = [
        PartBlank(f"p{n}", f"Part {n}", 30, length / 1000)
        for n, length in enumerate((711, 563, 498, 437, 366, 289, 211, 157))
    ]
    rack = [Board("8 ft", 2.4384, 25), Board("12 ft", 3.6576, 15)]
    found = cut_from_rack(blanks, rack, 0.003)
    ours, base = seconds(lambda: cut_from_rack(blanks, rack, 0.003), 1), seconds(reference)
    print(f"\n240 parts of 8 lengths: {ours:.3f} s, {found.proof}; {ours / base:.2f} of reference")
    assert found.least_m > 0
    assert ours < 50 * base


def classes(count):
    found = []
    for number in range(count):
        bill = [
            BillLine(
                f"m{n}", f"Material {n}", "ea", 1 + n % 3, loss_rate=0.02 * (n % 10), cost_high=4,
                lead_days=14, needed_on=date(2027, 2, 1 + n % 27), phase=f"Phase {n % 8}",
            )
            for n in range(40)
        ]  # fmt: skip
        kit = kit_list(bill, ClassSize(12, 24))
        codes = tuple(f"T{n:02d}" for n in range(12))
        found.append(BatchClass(f"c{number}", f"Class {number}", "b", "Build", "1", codes, kit))
    return found


def test_a_batch_of_50_classes_grows_no_faster_than_its_classes():
    one, fifty = classes(1), classes(50)
    small = seconds(lambda: batch_of(one, {}), 20)
    large = seconds(lambda: batch_of(fifty, {}))
    print(f"\nbatch of 50 as values: {large:.3f} s, {large / small:.0f} times one class")
    assert large < 100 * small


def test_papers_of_a_batch_of_50_classes_grow_no_faster_than_its_classes():
    one, fifty = batch_of(classes(1), {}), batch_of(classes(50), {})
    today = date(2027, 1, 5)
    compile_pdf(batch_document(batch_of(classes(2), {}), "Warm-up", today))  # fonts and template
    # Each once: the printer keeps what it has laid out, so a second time would measure nothing.
    small = seconds(lambda: compile_pdf(batch_document(one, "School", today)), 1)
    large = seconds(lambda: compile_pdf(batch_document(fifty, "School", today)), 1)
    sheet = seconds(lambda: xlsx_bytes(batch_grids(fifty)), 1)
    print(f"\npapers of 50: PDF {large:.2f} s ({large / small:.0f} times one), sheet {sheet:.2f} s")
    assert large < 50 * small


def _same_plan_and_past(session, first, many):
    """The first section's plan and record for the others, team for team."""
    plan = session.scalars(sa.select(Plan).where(Plan.section_id == first.id, Plan.current)).one()
    columns = ("step_id", "meeting_id", "first_minute", "minutes", "part", "parts")
    kept = ("step_id", "meeting_id", "event", "initials", "note", "recorded_at", "recorded_by")
    place = {team.id: n for n, team in enumerate(first.teams)}
    past = session.scalars(sa.select(Progress).where(Progress.team_id.in_(place))).all()
    for section in many:
        copy = Plan(
            section_id=section.id, reason="", created_at=plan.created_at, created_by="",
            status=plan.status, teams=12, teams_complete=12, limiting=None, broken_rules=[],
            uncovered=[], facts={},
        )  # fmt: skip
        session.add(copy)
        session.flush()
        for table, rows, names, more in (
            (Activity, plan.activities, columns, {"plan_id": copy.id, "pinned": False}),
            (Progress, past, kept, {}),
        ):
            session.execute(
                sa.insert(table),
                [
                    {
                        **{name: getattr(row, name) for name in names},
                        **more,
                        "team_id": section.teams[place[row.team_id]].id,
                    }
                    for row in rows
                ],
            )


def test_a_batch_of_50_sections_from_the_database(session):
    first = session.scalars(sa.select(Section).where(Section.key == "period-3")).one()
    copied = (
        "course_id", "term_id", "teacher_id", "room_id", "build_id", "band", "starts_at", "pattern",
        "bells", "opening_minutes", "closing_minutes", "routine", "showcase", "ready_made",
        "keep_until",
    )  # fmt: skip
    values = {name: getattr(first, name) for name in copied}
    many = [
        Section(
            **values,
            key=f"copy-{n}",
            title=f"Class {n}",
            teams=[Team(code=f"T{t:02d}") for t in range(12)],
        )
        for n in range(49)
    ]
    session.add_all(many)
    session.flush()
    _same_plan_and_past(session, first, many)
    one = seconds(lambda: batches.batch(session, [first], today=date(2027, 3, 1)))
    start = time.perf_counter()
    found = batches.batch(session, [first, *many], today=date(2027, 3, 1))
    taken = time.perf_counter() - start
    print(f"\nbatch of 50 sections: {taken:.2f} s, {taken / one:.0f} times one section")
    assert found.instruments == 11 + 49 * 12
    assert taken < 60 * one
