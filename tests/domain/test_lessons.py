"""Choosing and placing lessons: small cases solved by hand, and an exhaustive search beside it."""

import itertools
import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.scheduling import lessons as lessons_source
from app.domain.scheduling.lessons import (
    BriefingLesson,
    DueStandard,
    LessonKind,
    LessonPart,
    LessonProblem,
    LessonStatus,
    Placement,
    PlannedLesson,
    Slot,
    Why,
    plan_lessons,
    problems,
    score,
)

FIRST = date(2026, 9, 7)


def _slot(number: int, minutes: int = 20) -> Slot:
    return Slot(number, FIRST + timedelta(days=number - 1), minutes)


def _slots(*numbers: int, minutes: int = 20) -> tuple[Slot, ...]:
    return tuple(_slot(n, minutes) for n in numbers)


def _lesson(key: str, strong: str = "", partial: str = "", **more: object) -> PlannedLesson:
    given_values: dict[str, object] = {"minutes": 20, "steps": ("S",), **more}
    return PlannedLesson(
        treatment=key,
        concept=f"concept {key}",
        strong=frozenset(strong.split()),
        partial=frozenset(partial.split()),
        **given_values,  # type: ignore[arg-type]
    )


def _required(text: str) -> tuple[DueStandard, ...]:
    return tuple(DueStandard(code) for code in text.split())


def _problem(lessons: list[PlannedLesson], required: str, **more: object) -> LessonProblem:
    facts: dict[str, object] = {"slots": _slots(1, 2, 3, 4, 5), "first_use": {"S": 5}, **more}
    return LessonProblem(tuple(lessons), required=_required(required), **facts)  # type: ignore[arg-type]


def _taught(problem: LessonProblem, **more: bool) -> dict[str, list[int]]:
    plan = plan_lessons(problem, **more)
    return {p.key: [part.meeting for part in p.parts] for p in plan.placements}


# --- the choice ------------------------------------------------------------------------------------


def test_one_lesson_that_covers_two_standards_beats_two_that_cover_one_each():
    problem = _problem([_lesson("a", "X"), _lesson("b", "Y"), _lesson("both", "X Y")], "X Y")
    assert _taught(problem) == {"both": [5]}


def test_two_short_lessons_beat_one_long_one():
    two = [_lesson("a", "X", minutes=5), _lesson("b", "Y", minutes=5), _lesson("both", "X Y")]
    plan = plan_lessons(_problem(two, "X Y"))
    assert {p.key for p in plan.placements} == {"a", "b"}
    assert plan.minutes == 10


def test_the_least_time_is_found_where_taking_the_largest_first_is_not_enough():
    # The classic trap for the greedy rule: the lesson with most standards is a waste.
    trap = [
        _lesson("big", "B C D E"),
        _lesson("left", "A B C"),
        _lesson("right", "D E F"),
    ]
    problem = _problem(trap, "A B C D E F")
    plan = plan_lessons(problem)
    assert {p.key for p in plan.placements} == {"left", "right"}
    assert plan.status is LessonStatus.OPTIMAL
    greedy = plan_lessons(problem, exact=False)
    assert greedy.status is LessonStatus.GREEDY
    assert {p.key for p in greedy.placements} == {"big", "left", "right"}


def test_nothing_required_means_no_lesson_and_nothing_missing():
    plan = plan_lessons(_problem([_lesson("a", "X")], ""))
    assert (plan.placements, plan.uncovered, plan.minutes) == ((), (), 0)


def test_a_lesson_asked_for_is_taught_whatever_it_covers():
    problem = _problem([_lesson("a", "X"), _lesson("b")], "X", wanted=frozenset({"b"}))
    assert set(_taught(problem)) == {"a", "b"}


def test_a_full_alignment_is_worth_more_time_than_a_partial_one():
    problem = _problem([_lesson("part", "", "X", minutes=5), _lesson("full", "X")], "X")
    assert set(_taught(problem)) == {"full"}


def test_a_partial_lesson_is_taught_where_no_full_one_exists_and_the_standard_stays_open():
    plan = plan_lessons(_problem([_lesson("part", "", "X")], "X"))
    assert [p.covers_in_part for p in plan.placements] == [("X",)]
    (short,) = plan.uncovered
    assert (short.why, short.covered_in_part) == (Why.PARTIAL_ONLY, True)


def test_with_room_for_one_the_priority_standard_wins():
    facts = {"slots": _slots(5)}
    problem = _problem([_lesson("a", "X"), _lesson("b", "Y")], "X Y", **facts)
    urgent = replace(problem, required=(*_required("X"), DueStandard("Y", priority=True)))
    assert set(_taught(urgent)) == {"b"}
    (short,) = plan_lessons(urgent).uncovered
    assert (short.key, short.why) == ("X", Why.NO_ROOM)


# --- the place -------------------------------------------------------------------------------------


def test_a_lesson_is_placed_in_the_last_slot_before_its_step():
    assert _taught(_problem([_lesson("a", "X")], "X", slots=_slots(1, 3, 7))) == {"a": [3]}


def test_a_lesson_may_open_the_meeting_in_which_the_step_begins():
    assert _taught(_problem([_lesson("a", "X")], "X")) == {"a": [5]}


def test_a_lesson_comes_at_most_the_chosen_number_of_meetings_earlier():
    problem = _problem([_lesson("a", "X")], "X", slots=_slots(2, 9), meetings_before=3)
    assert _taught(problem) == {"a": [2]}
    plan = plan_lessons(replace(problem, meetings_before=2))
    assert plan.placements == ()
    assert plan.uncovered[0].why is Why.NO_SLOT
    assert "2 meetings before its step begins in meeting 5" in plan.uncovered[0].sentence


def test_a_lesson_moves_earlier_for_its_date():
    problem = _problem([_lesson("a", "X")], "X")
    due = replace(problem, required=(DueStandard("X", by=FIRST + timedelta(days=2)),))
    assert _taught(due) == {"a": [3]}


def test_a_standard_due_before_any_slot_would_do_is_covered_late_and_said_to_be():
    problem = _problem([_lesson("a", "X")], "X", slots=_slots(3, 4, 5))
    due = replace(problem, required=(DueStandard("X", by=FIRST),))
    plan = plan_lessons(due)
    assert {p.key for p in plan.placements} == {"a"}
    (short,) = plan.uncovered
    assert short.why is Why.TOO_LATE
    assert "covered on Fri 11 Sep, after its date of Mon 7 Sep" in short.sentence
    assert "first slot that would do is on Wed 9 Sep" in short.sentence


def test_two_lessons_share_a_slot_that_holds_both():
    short = [_lesson("a", "X", minutes=10), _lesson("b", "Y", minutes=10)]
    assert _taught(_problem(short, "X Y")) == {"a": [5], "b": [5]}
    assert _taught(_problem([short[0], replace(short[1], minutes=11)], "X Y")) in (
        {"a": [4], "b": [5]},
        {"a": [5], "b": [4]},
    )


def test_a_long_lesson_runs_on_into_the_next_slots_and_ends_before_its_step():
    problem = _problem([_lesson("a", "X", minutes=45)], "X")
    (placed,) = plan_lessons(problem).placements
    assert placed.parts == (LessonPart(3, 20), LessonPart(4, 20), LessonPart(5, 5))
    assert placed.end == FIRST + timedelta(days=4)


def test_a_lesson_too_long_for_three_slots_is_not_placed():
    plan = plan_lessons(_problem([_lesson("a", "X", minutes=61)], "X"))
    assert plan.uncovered[0].why is Why.NO_SLOT


def test_the_first_step_that_shows_a_concept_is_preferred_and_a_later_one_is_the_way_out():
    later = {"S": 3, "T": 8}
    lesson = _lesson("a", "X", steps=("T", "S"))
    problem = _problem([lesson], "X", first_use=later, slots=_slots(1, 8), meetings_before=2)
    assert _taught(problem) == {"a": [1]}
    assert _taught(replace(problem, slots=_slots(8))) == {"a": [8]}


def test_the_reason_names_step_meeting_and_standards():
    (placed,) = plan_lessons(_problem([_lesson("a", "X", "Y")], "X Y")).placements
    assert placed.reason == "Before step S begins in meeting 5; covers X; in part Y."


# --- briefings and what is fixed ---------------------------------------------------------------------


def test_a_briefing_comes_before_its_station_and_before_any_lesson():
    problem = _problem(
        [_lesson("a", "X")], "X", slots=_slots(3, 9), briefings=(BriefingLesson("drill", 20, 4),)
    )
    plan = plan_lessons(problem)
    assert [(p.key, p.kind) for p in plan.placements] == [("drill", LessonKind.BRIEFING)]
    assert plan.uncovered[0].why is Why.NO_ROOM


def test_a_briefing_without_a_slot_is_said():
    plan = plan_lessons(
        _problem([], "", briefings=(BriefingLesson("drill", 20, 0, "Drill press"),))
    )
    (short,) = plan.unplaced
    assert (short.why, short.priority) == (Why.NO_SLOT, True)
    assert "“Drill press” is not placed before its station is first used" in short.sentence


def test_two_briefings_for_one_slot_leave_one_without_room():
    two = (BriefingLesson("drill", 20, 1), BriefingLesson("saw", 20, 1))
    plan = plan_lessons(_problem([], "", briefings=two))
    assert [s.why for s in plan.unplaced] == [Why.NO_ROOM]


def test_what_is_fixed_keeps_its_slot_and_its_standards_count():
    taught = Placement("a", LessonKind.LESSON, "A", (LessonPart(5, 20),), FIRST + timedelta(days=4))
    problem = _problem([_lesson("a", "X"), _lesson("b", "Y")], "X Y", fixed=(taught,))
    plan = plan_lessons(problem)
    assert {p.key: p.parts[0].meeting for p in plan.placements} == {"a": 5, "b": 4}
    assert plan.minutes == 20
    assert plan.uncovered == ()


def test_a_lesson_fixed_after_the_date_leaves_its_standard_late():
    taught = Placement("a", LessonKind.LESSON, "A", (LessonPart(5, 20),), FIRST + timedelta(days=4))
    problem = _problem([_lesson("a", "X")], "X", fixed=(taught,))
    due = replace(problem, required=(DueStandard("X", by=FIRST),))
    assert plan_lessons(due).uncovered[0].why is Why.TOO_LATE


# --- why a standard is left out ----------------------------------------------------------------------


def test_a_standard_no_lesson_is_aligned_to_says_so():
    (short,) = plan_lessons(_problem([_lesson("a", "X")], "Z")).uncovered
    assert short.why is Why.NO_LESSON
    assert short.sentence == "Z: No lesson for this grade band is aligned to it."


def test_a_standard_whose_steps_are_not_in_the_plan_says_so():
    (short,) = plan_lessons(_problem([_lesson("a", "X")], "X", first_use={})).uncovered
    assert short.why is Why.NOT_SHOWN


@pytest.mark.parametrize(
    ("lessons", "more", "why"),
    [
        ([], {}, Why.NO_LESSON),
        ([_lesson("w")], {"first_use": {}}, Why.NOT_SHOWN),
        ([_lesson("w")], {"slots": _slots(9)}, Why.NO_SLOT),
        (
            [_lesson("w")],
            {"slots": _slots(5), "briefings": (BriefingLesson("d", 20, 5),)},
            Why.NO_ROOM,
        ),
    ],
)
def test_a_lesson_asked_for_that_cannot_be_placed_says_why(lessons, more, why):
    plan = plan_lessons(_problem(lessons, "", wanted=frozenset({"w"}), **more))
    # A briefing goes before a lesson asked for.
    assert [s.why for s in plan.unplaced] == [why]


# --- exact, deterministic, honest --------------------------------------------------------------------


def _by_exhaustion(problem: LessonProblem) -> tuple[int, ...]:
    """Try every slot for every lesson (one slot each) and return the best score tuple."""
    room = {s.number: s.minutes for s in problem.slots}
    dates = {s.number: s.date for s in problem.slots}
    best: tuple[int, ...] | None = None
    for where in itertools.product([None, *room], repeat=len(problem.lessons)):
        placed = [(x, n) for x, n in zip(problem.lessons, where, strict=True) if n is not None]
        load = {n: sum(x.minutes for x, m in placed if m == n) for n in room}
        if any(load[n] > room[n] for n in room):
            continue
        stale = 0
        for lesson, n in placed:
            uses = [problem.first_use[s] for s in lesson.steps]
            near = [u for u in uses if u - problem.meetings_before <= n <= u]
            if not near:
                break
            stale += min(u - n + u - min(uses) for u in near)
        else:
            on_time = [
                any(r.standard in x.strong and (not r.by or dates[n] <= r.by) for x, n in placed)
                for r in problem.required
            ]
            full = [any(r.standard in x.strong for x, _ in placed) for r in problem.required]
            some = [
                any(r.standard in x.strong | x.partial for x, _ in placed) for r in problem.required
            ]
            value = (
                0,
                sum(r.priority and not ok for r, ok in zip(problem.required, on_time, strict=True)),
                on_time.count(False),
                full.count(False),
                some.count(False),
                sum(x.minutes for x, _ in placed),
                stale,
            )
            best = value if best is None or value < best else best
    assert best is not None
    return best


@st.composite
def _small_problems(draw: st.DrawFn) -> LessonProblem:
    codes = st.frozensets(st.sampled_from("WXYZ"), max_size=3)
    steps = st.sampled_from([("S",), ("T",), ("S", "T")])
    minutes = st.sampled_from([5, 10, 15, 20])
    lessons = tuple(
        PlannedLesson(key, key, draw(minutes), draw(codes), draw(codes), draw(steps))
        for key in "abcd"[: draw(st.integers(0, 4))]
    )
    due = st.none() | st.integers(0, 6).map(lambda n: FIRST + timedelta(days=n))
    return LessonProblem(
        lessons,
        # Every slot holds every single lesson, so none is split: the exhaustive search has no parts.
        slots=tuple(_slot(n, 20) for n in sorted(draw(st.sets(st.integers(1, 7), max_size=4)))),
        required=tuple(DueStandard(c, draw(due), draw(st.booleans())) for c in "WXYZ"),
        first_use={"S": draw(st.integers(1, 7)), "T": draw(st.integers(1, 7))},
        meetings_before=draw(st.integers(0, 4)),
    )


@settings(max_examples=60, deadline=None)
@given(_small_problems())
def test_the_exact_choice_is_as_good_as_exhaustive_search(problem):
    plan = plan_lessons(problem)
    assert plan.status is LessonStatus.OPTIMAL
    assert score(problem, plan.placements) == _by_exhaustion(problem)


@settings(max_examples=60, deadline=None)
@given(_small_problems())
def test_the_greedy_choice_breaks_no_rule_and_is_never_better_than_exact(problem):
    plan = plan_lessons(problem, exact=False)
    room = {s.number: s.minutes for s in problem.slots}
    for placed in plan.placements:
        for part in placed.parts:
            room[part.meeting] -= part.minutes
            assert placed.first_use is not None
            assert placed.first_use - problem.meetings_before <= part.meeting <= placed.first_use
    assert all(left >= 0 for left in room.values())
    assert score(problem, plan.placements) >= _by_exhaustion(problem)


def test_order_of_input_does_not_matter():
    many = [_lesson(k, s) for k, s in zip("abcdef", "UVWXYZ", strict=True)]
    problem = _problem(many, "U V W X Y Z")
    turned = replace(
        problem,
        lessons=problem.lessons[::-1],
        slots=problem.slots[::-1],
        required=problem.required[::-1],
    )
    assert plan_lessons(problem) == plan_lessons(turned) == plan_lessons(problem)


def test_without_a_proof_the_greedy_choice_is_used_and_said(monkeypatch):
    monkeypatch.setattr(lessons_source, "DETERMINISTIC_LIMIT", 0.0)
    plan = plan_lessons(_problem([_lesson(k, "X") for k in "abcdef"], "X"))
    assert plan.status in (LessonStatus.GREEDY, LessonStatus.FEASIBLE)
    assert plan.uncovered == ()


def test_importing_lessons_loads_no_solver():
    code = "import sys, app.domain.scheduling.lessons; sys.exit('ortools' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lessons": (_lesson("a"), _lesson("a"))}, "lesson a is given twice"),
        ({"slots": _slots(1, 1)}, "lesson slot in meeting 1 is given twice"),
        ({"required": _required("X X")}, "required standard X is given twice"),
        ({"lessons": (_lesson("a", minutes=0),)}, "a takes 0 minutes"),
        ({"briefings": (BriefingLesson("d", -1, 1),)}, "d takes -1 minutes"),
        ({"slots": (_slot(1, -5),)}, "-5 minutes"),
        ({"meetings_before": -1}, "0 or more"),
    ],
)
def test_input_that_makes_no_sense_is_refused_in_a_sentence(change, words):
    bad = replace(_problem([_lesson("b", "X")], "X"), **change)
    assert words in " ".join(problems(bad))
    with pytest.raises(ValueError, match=r"give|keep|must"):
        plan_lessons(bad)
