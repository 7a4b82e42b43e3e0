"""Lesson, test, check-out in this order of days; renewal; what ends a suspension."""

import datetime as dt

import pytest

from app.domain.classroom.sign_off_order import SignOffEntries

YEAR = dt.timedelta(days=365)


def day(month, number, year=2027):
    """A date of the sample year."""
    return dt.date(year, month, number)


def entries(*rows):
    """Entries of a log."""
    held = SignOffEntries()
    for part, date in rows:
        held.add(part, date)
    return held


TESTED = (("lesson", day(2, 25)), ("test", day(3, 1)))
SIGNED_OFF = (*TESTED, ("check-out", day(3, 2)))


@pytest.mark.parametrize(
    ("part", "on", "says"),
    [
        ("lesson", day(1, 5), ""),
        ("test", day(2, 24), "before the lesson of Thursday 25 February 2027"),
        ("test", day(2, 25), ""),
        ("check-out", day(1, 5), "the lesson of Thursday 25 February 2027 and the written test of"),
        ("check-out", day(2, 28), "before the written test of Monday 1 March 2027"),
        ("check-out", day(3, 1), ""),
        ("suspension", day(1, 5), ""),
        ("reinstatement", day(3, 2), "is not suspended"),
    ],
)
def test_a_part_is_recorded_on_or_after_the_day_of_the_part_before(part, on, says):
    refusal = entries(*TESTED).refusal(part, on)
    assert (says in refusal) if says else not refusal


def test_a_lesson_given_again_does_not_turn_away_an_earlier_check_out():
    again = entries(*TESTED, ("lesson", day(3, 8)))
    assert again.refusal("check-out", day(3, 2)) == ""


def test_after_a_renewal_the_check_out_follows_the_new_lesson_and_test():
    new = (("lesson", day(3, 20, 2028)), ("test", day(3, 20, 2028)))
    renewed = entries(*SIGNED_OFF, *new)
    assert "before the lesson of" in renewed.refusal("check-out", day(3, 15, 2028), YEAR)
    assert renewed.refusal("check-out", day(3, 20, 2028), YEAR) == ""
    assert renewed.refusal("check-out", day(2, 1, 2028), YEAR) == ""


def test_only_parts_in_order_count_and_each_with_its_newest_day():
    assert entries(*TESTED, ("check-out", day(2, 26))).parts == dict(TESTED)
    newer = entries(*SIGNED_OFF, ("lesson", day(4, 1)), ("lesson", day(3, 15)))
    assert newer.parts == {**dict(SIGNED_OFF), "lesson": day(4, 1)}


def test_a_suspension_ends_with_a_check_out_observed_since():
    held = entries(*SIGNED_OFF, ("suspension", day(3, 10)))
    assert "observe a check-out again" in held.refusal("reinstatement", day(3, 12))
    assert "on that day or later" in held.refusal("reinstatement", day(3, 9))
    held.add("check-out", day(3, 9))  # entered late: it was seen before the suspension
    assert held.refusal("reinstatement", day(3, 12))
    held.add("check-out", day(3, 11))
    assert held.refusal("reinstatement", day(3, 10))
    assert held.refusal("reinstatement", day(3, 12)) == ""
    held.add("reinstatement", day(3, 12))
    assert held.suspended_on is None
    assert held.parts["check-out"] == day(3, 11)


def test_reinstated_without_a_new_check_out_a_student_is_not_signed_off():
    held = entries(*SIGNED_OFF, ("suspension", day(3, 10)), ("reinstatement", day(3, 12)))
    assert held.parts == dict(TESTED)
