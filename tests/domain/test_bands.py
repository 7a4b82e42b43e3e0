"""Grade bands, and grades as numbers."""

from itertools import pairwise

import pytest

from app.domain.bands import BANDS, GRADES, bands_apart, grade_number


@pytest.mark.parametrize(("grade", "number"), [("K", 0), (" 7", 7), ("12", 12), ("college", 13)])
def test_grades_become_numbers(grade, number):
    assert grade_number(grade) == number


@pytest.mark.parametrize("grade", ["", "0", "14", "PK", "²"])
def test_an_odd_grade_is_refused_in_a_sentence(grade):
    with pytest.raises(ValueError, match="no grade"):
        grade_number(grade)


def test_the_bands_follow_one_another_without_a_gap():
    assert list(GRADES) == list(BANDS)
    assert all(low == high + 1 for (_, high), (low, _) in pairwise(GRADES.values()))


def test_bands_lie_apart_by_the_steps_between_them():
    assert bands_apart("9-12", "9-12") == 0
    assert bands_apart("3-5", "9-12") == bands_apart("9-12", "3-5") == 2
