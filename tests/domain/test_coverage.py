"""Coverage of one small section, counted by hand.

Six meetings over three weeks, two of them taught, one lost; four students. All invented.

| meeting | 1     | 2     | 3    | 4       | 5       | 6       |
| week    | 1     | 1     | 2    | 2       | 3       | 3       |
| state   | taught| taught| lost | planned | planned | planned |

Treatment ratio → R full, D partial.  Treatment waves → W full.  Treatment wood → D full.
"""

from datetime import date, timedelta

import pytest

from app.domain.standard.depth import (
    ActivityFact,
    AlignedStandard,
    AssessmentFact,
    CoverageShare,
    CoverageState,
    Depth,
    Evidence,
    GapCode,
    LessonFact,
    MeetingFact,
    MeetingState,
    Recurrence,
    Required,
    SectionCoverage,
    StandardCoverage,
    cover,
    evidence_of,
    lost,
    subgroup_shares,
)

FIRST = date(2026, 9, 7)
STATES = ["taught", "taught", "lost", "planned", "planned", "planned"]
MEETINGS = [
    MeetingFact(n, FIRST + timedelta(days=(n - 1) // 2 * 7 + (n - 1) % 2), (n + 1) // 2, state)
    for n, state in enumerate((MeetingState(s) for s in STATES), start=1)
]
LINKS = [
    AlignedStandard("ratio", "R"),
    AlignedStandard("ratio", "D", partial=True),
    AlignedStandard("waves", "W"),
    AlignedStandard("wood", "D"),
]
ROSTER = ["S1", "S2", "S3", "S4"]

LESSONS = [LessonFact("ratio", 1, "lesson-1"), LessonFact("waves", 4, "lesson-2")]
ACTIVITIES = [
    ActivityFact(("ratio",), 2, "T1", "sheet-1", phase="neck"),
    ActivityFact(("ratio",), 2, "T2", "sheet-2", phase="neck"),
    ActivityFact(("ratio", "waves"), 5, "T1", "sheet-3", phase="strings"),
]
MARKS = [
    AssessmentFact("ratio", 2, "mark-1", done=True, students=frozenset({"S1", "S2"}), phase="neck"),
    AssessmentFact("waves", 6, "test-1", done=False, phase="strings"),
]


def _evidence() -> tuple[Evidence, ...]:
    return evidence_of(LINKS, MEETINGS, LESSONS, ACTIVITIES, MARKS)


def _section(*required: Required, today: date | None = None) -> SectionCoverage:
    return cover(required, _evidence(), ROSTER, today)


def _one(code: str) -> StandardCoverage:
    return _section().standards[code]


def test_the_small_section_yields_the_evidence_counted_by_hand():
    # R: lesson 1, sheets 1 to 3, mark 1.  D: the same, partial.  W: lesson 2, sheet 3, test 1.
    assert [(e.standard, e.reference) for e in _evidence()] == [
        ("D", "lesson-1"),
        ("D", "sheet-1"),
        ("D", "sheet-2"),
        ("D", "mark-1"),
        ("D", "sheet-3"),
        ("R", "lesson-1"),
        ("R", "sheet-1"),
        ("R", "sheet-2"),
        ("R", "mark-1"),
        ("R", "sheet-3"),
        ("W", "lesson-2"),
        ("W", "sheet-3"),
        ("W", "test-1"),
    ]


def test_depth_is_taught_once_its_meeting_is_and_planned_until_then():
    ratio, waves = _one("R"), _one("W")
    assert (ratio.introduced, ratio.practised, ratio.assessed) == (CoverageState.TAUGHT,) * 3
    assert (waves.introduced, waves.practised, waves.assessed) == (CoverageState.PLANNED,) * 3


def test_partial_alignments_alone_show_as_partial():
    wood = _one("D")
    assert wood.introduced is CoverageState.TAUGHT
    assert wood.partial
    assert all(wood.depths[d].partial for d in Depth)
    assert not _one("R").partial


def test_a_planned_full_lesson_outranks_a_taught_partial_one():
    found = evidence_of(LINKS, MEETINGS, [*LESSONS, LessonFact("wood", 6, "lesson-3")])
    wood = cover([], found, ROSTER).standards["D"]
    assert wood.introduced is CoverageState.PLANNED
    assert not wood.depths[Depth.INTRODUCED].partial
    assert wood.depths[Depth.INTRODUCED].first == MEETINGS[5].date


def test_assessed_is_taught_when_a_mark_exists_whatever_the_meeting_says():
    mark = AssessmentFact("waves", 5, "mark-2", done=True, students=frozenset({"S3"}))
    waves = cover([], evidence_of(LINKS, MEETINGS, LESSONS, (), [mark]), ROSTER).standards["W"]
    assert (waves.introduced, waves.assessed) == (CoverageState.PLANNED, CoverageState.TAUGHT)


def test_a_meeting_taught_without_a_mark_leaves_assessment_planned():
    unmarked = AssessmentFact("ratio", 1, "test-2", done=False)
    ratio = cover([], evidence_of(LINKS, MEETINGS, (), (), [unmarked]), ROSTER).standards["R"]
    assert ratio.assessed is CoverageState.PLANNED


def test_what_was_placed_on_a_lost_meeting_does_not_count_but_a_mark_does():
    placed = [LessonFact("wood", 3, "lesson-4")]
    planned = [AssessmentFact("wood", 3, "test-3", done=False)]
    assert evidence_of(LINKS, MEETINGS, placed, (), planned) == ()
    marked = [AssessmentFact("wood", 3, "mark-3", done=True, students=frozenset({"S1"}))]
    assert [e.reference for e in evidence_of(LINKS, MEETINGS, placed, (), marked)] == ["mark-3"]


def test_a_practice_counts_only_with_student_evidence():
    links = [AlignedStandard("ratio", "MP4", practice=True)]
    assert evidence_of(links, MEETINGS, LESSONS, ACTIVITIES) == ()
    assert {e.depth for e in evidence_of(links, MEETINGS, LESSONS, ACTIVITIES, MARKS)} == set(Depth)


def test_a_fact_in_an_unknown_meeting_is_refused():
    with pytest.raises(KeyError):
        evidence_of(LINKS, MEETINGS, [LessonFact("ratio", 99, "lesson-9")])


# --- cells, recurrence, share ---------------------------------------------------------------------


def test_week_cells_carry_letters_in_order():
    assert [(c.week, c.letters) for c in _one("R").cells] == [(1, "IPA"), (3, "P")]
    assert [(c.week, c.letters) for c in _one("W").cells] == [(2, "I"), (3, "PA")]


def test_each_letter_says_whether_it_is_planned_and_partial():
    first, last = _one("D").cells
    assert [(m.state, m.partial) for m in first.marks] == [(CoverageState.TAUGHT, True)] * 3
    assert [(m.state, m.partial) for m in last.marks] == [(CoverageState.PLANNED, True)]
    assert [e.reference for e in last.evidence] == ["sheet-3"]


def test_recurrence_counts_meetings_and_weeks():
    assert _one("R").recurrence == Recurrence(3, 2)
    assert _one("W").recurrence == Recurrence(3, 2)


def test_share_counts_students_with_a_full_artifact_and_partial_ones_apart():
    assert _one("R").share == CoverageShare(full=2, partial_only=0, roster=4)
    assert _one("D").share == CoverageShare(full=0, partial_only=2, roster=4)
    assert _one("W").share == CoverageShare(0, 0, 4)


def test_a_student_who_left_is_not_counted():
    assert cover([], _evidence(), ["S2", "S9"]).standards["R"].share == CoverageShare(1, 0, 2)
    assert cover([], _evidence(), []).standards["R"].share == CoverageShare(0, 0, 0)


def test_subgroups_under_ten_are_hidden():
    ten = [f"S{n}" for n in range(1, 11)]
    shown = subgroup_shares(_one("R"), {"large": ten, "small": ten[:9], "doubled": ["S1"] * 12})
    assert shown == {"large": CoverageShare(2, 0, 10), "small": None, "doubled": None}


# --- gaps ----------------------------------------------------------------------------------------


def _gap_codes(*required: Required, today: date | None = None) -> list[tuple[str, GapCode]]:
    return [(g.standard, g.code) for g in _section(*required, today=today).gaps]


def test_a_fully_taught_standard_has_no_gap():
    assert _gap_codes(Required("R")) == []


def test_only_required_standards_have_gaps():
    assert _gap_codes() == []
    assert _gap_codes(Required("D")) == [("D", GapCode.PARTIAL)]


def test_a_required_standard_without_evidence_is_absent():
    (gap,) = _section(Required("X")).gaps
    assert (gap.code, gap.sentence) == (
        GapCode.ABSENT,
        "X is required and nothing in the plan bears on it.",
    )
    absent = _section(Required("X")).standards["X"]
    assert (absent.introduced, absent.practised, absent.assessed) == (None, None, None)
    assert absent.cells == ()


def test_each_missing_depth_is_a_gap_of_its_own():
    for kept, missing in (
        ((LESSONS, (), ()), {GapCode.NOT_PRACTISED, GapCode.NOT_ASSESSED}),
        (((), ACTIVITIES, ()), {GapCode.NOT_INTRODUCED, GapCode.NOT_ASSESSED}),
        (((), (), MARKS), {GapCode.NOT_INTRODUCED, GapCode.NOT_PRACTISED}),
    ):
        found = cover([Required("W")], evidence_of(LINKS, MEETINGS, *kept), ROSTER)
        assert {g.code for g in found.gaps} == missing


def test_a_standard_reached_after_its_date_is_late_and_says_which_depths():
    # Meeting 4 (lesson) is on 2026-09-15; meetings 5 and 6 are on 21 and 22 September.
    (gap,) = _section(Required("W", by=date(2026, 9, 15))).gaps
    assert gap.code is GapCode.LATE
    assert gap.sentence == (
        "W is due by Tuesday 15 September 2026 and is practised and assessed only after that."
    )
    assert _gap_codes(Required("W", by=date(2026, 9, 22))) == []


def test_what_was_planned_for_a_past_date_and_never_recorded_is_a_gap():
    assert _gap_codes(Required("W"), today=date(2026, 9, 15)) == []
    (gap,) = _section(Required("W"), today=date(2026, 9, 22)).gaps
    assert gap.code is GapCode.NOT_RECORDED
    assert "Tuesday 15 September 2026 and Monday 21 September 2026" in gap.sentence


def test_many_days_without_a_record_are_counted_not_listed():
    lessons = [LessonFact("wood", number, f"lesson-{number}") for number in (4, 5, 6)]
    evidence = evidence_of(LINKS, MEETINGS, lessons)

    found = cover([Required("D")], evidence, ROSTER, date(2026, 9, 30)).gaps

    (gap,) = (gap for gap in found if gap.code is GapCode.NOT_RECORDED)
    assert "Tuesday 15 September 2026 and Monday 21 September 2026 and 1 more" in gap.sentence


def test_priorities_come_first_then_the_worst():
    assert _gap_codes(
        Required("X"), Required("D"), Required("Y", priority=True), Required("A0")
    ) == [
        ("Y", GapCode.ABSENT),
        ("A0", GapCode.ABSENT),
        ("X", GapCode.ABSENT),
        ("D", GapCode.PARTIAL),
    ]


# --- repeats, losses, department --------------------------------------------------------------------


def test_two_lessons_on_one_standard_are_a_repeat():
    found = evidence_of(LINKS, MEETINGS, [*LESSONS, LessonFact("ratio", 5, "lesson-5")])
    repeats = {r.standard: r for r in cover([], found, ROSTER).repeats}
    assert repeats["R"].meetings == (1, 5)
    assert repeats["R"].sentence == "R is introduced by 2 lessons, in meetings 1 and 5."
    assert "W" not in repeats


def test_practising_twice_is_no_repeat():
    assert _section().repeats == ()


def _losses(**gone: list[int] | list[str]) -> list[tuple[str, Depth]]:
    return [(x.standard, x.depth) for x in lost(_evidence(), **gone)]  # type: ignore[arg-type]


def test_losing_a_week_costs_what_only_it_gave_and_losing_nothing_costs_nothing():
    assert _losses(weeks=[2]) == [("W", Depth.INTRODUCED)]
    assert _losses(weeks=[]) == []


def test_losing_a_week_or_a_phase_costs_all_its_evidence():
    assert _losses(weeks=[3]) == [("W", Depth.PRACTISED), ("W", Depth.ASSESSED)]
    assert _losses(phases=["strings"]) == [("W", Depth.PRACTISED), ("W", Depth.ASSESSED)]


def test_a_taught_depth_that_is_only_planned_without_the_phase_is_a_loss():
    losses = {(x.standard, x.depth): x for x in lost(_evidence(), phases=["neck"])}
    assert losses["R", Depth.PRACTISED].sentence == (
        "R would be practised only as planned, no longer as taught."
    )
    assert losses["R", Depth.ASSESSED].sentence == "R would no longer be assessed."


def test_a_full_depth_that_becomes_partial_is_a_loss():
    found = evidence_of(LINKS, MEETINGS, [*LESSONS, LessonFact("wood", 6, "lesson-3")])
    (loss,) = (loss for loss in lost(found, weeks=[3]) if loss.standard == "D")
    assert loss.sentence == "D would be introduced only in part."


def test_a_practice_is_lost_with_the_artifact_that_shows_it():
    evidence = evidence_of(
        [AlignedStandard("ratio", "MP4", practice=True)],
        MEETINGS,
        [LessonFact("ratio", 1, "lesson-1")],
        [],
        [AssessmentFact("ratio", 2, "mark-2", done=True, students=frozenset({"S1"}), phase="neck")],
    )

    assert {loss.depth for loss in lost(evidence, phases={"neck"})} == {
        Depth.INTRODUCED,
        Depth.ASSESSED,
    }
