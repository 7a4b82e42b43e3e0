"""The team maker against every possible dealing of small classes."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.classroom.team_making import Candidate, Wishes, cost, make_teams, read_pairs

CODES = ["A", "B", "C", "D", "E", "F"]


def every_dealing(codes, size):
    """All ways to part the codes into teams of `size`; the class must divide evenly."""
    if not codes:
        yield []
        return
    first, *rest = codes
    for others in itertools.combinations(rest, size - 1):
        left = [code for code in rest if code not in others]
        for dealing in every_dealing(left, size):
            yield [[first, *others], *dealing]


pairs = st.sets(
    st.sampled_from([frozenset(p) for p in itertools.combinations(CODES, 2)]), max_size=5
)


@settings(max_examples=60, deadline=None)
@given(
    paces=st.lists(st.integers(-1, 1), min_size=6, max_size=6),
    apart=pairs,
    signed=st.sets(st.sampled_from(CODES)),
    size=st.sampled_from([2, 3]),
)
def test_no_dealing_of_six_keeps_more_wishes(paces, apart, signed, size):
    # Source of the expected value: all dealings, counted out (15 of pairs, 10 of threes).
    people = {
        code: Candidate(code, pace, frozenset({"drill"} if code in signed else ()))
        for code, pace in zip(CODES, paces, strict=True)
    }
    wishes = Wishes(apart=frozenset(apart), permits=frozenset({"drill"}))
    count = 6 // size
    best = min(cost(deal, people, wishes, count) for deal in every_dealing(CODES, size))

    found = make_teams(list(people.values()), size, wishes)

    assert cost(found.teams, people, wishes, count)[:2] == best[:2]


@given(count=st.integers(1, 40), size=st.integers(1, 6))
def test_everybody_is_in_one_team_and_teams_differ_by_one_at_most(count, size):
    found = make_teams([Candidate(f"S{n:02d}") for n in range(count)], size)
    sizes = [len(group) for group in found.teams]

    assert sorted(code for group in found.teams for code in group) == [
        f"S{n:02d}" for n in range(count)
    ]
    assert max(sizes) <= size
    assert max(sizes) - min(sizes) <= 1


def test_the_pace_is_spread_over_the_teams():
    people = [Candidate(f"S{n}", pace) for n, pace in enumerate([1, 1, 1, -1, -1, -1])]
    found = make_teams(people, 2)
    pace = {person.code: person.pace for person in people}

    assert [sum(pace[code] for code in group) for group in found.teams] == [0, 0, 0]


def test_what_cannot_be_met_is_said():
    people = [Candidate(code) for code in "ABC"]
    wishes = Wishes(
        apart=frozenset(frozenset(p) for p in itertools.combinations("ABC", 2)),
        permits=frozenset({"drill"}),
    )
    found = make_teams(people, 3, wishes)

    assert "A and B could not be kept apart." in found.unmet
    assert "Nobody in A, B, C is signed off for drill." in found.unmet


def test_the_same_list_gives_the_same_teams():
    people = [Candidate(f"S{n:02d}", n % 3 - 1) for n in range(21)]
    wishes = Wishes(apart=frozenset({frozenset({"S01", "S02"})}))

    assert make_teams(people, 2, wishes) == make_teams(list(reversed(people)), 2, wishes)


def test_no_students_make_no_teams_and_no_team_is_empty():
    assert make_teams([], 2).teams == ()
    with pytest.raises(ValueError, match="at least one student"):
        make_teams([Candidate("A")], 0)


def test_pairs_are_read_with_commas_and_words_between_and_in_any_case():
    found = read_pairs("s1-01, S1-02\nS1-01 and S1-03\n\n", ["S1-01", "S1-02", "S1-03"])

    assert found == {frozenset({"S1-01", "S1-02"}), frozenset({"S1-01", "S1-03"})}


@pytest.mark.parametrize(("text", "words"), [("S1-01 S9", "no code"), ("S1-01", "two codes")])
def test_a_line_that_is_no_pair_is_refused_in_words(text, words):
    with pytest.raises(ValueError, match=words):
        read_pairs(text, ["S1-01", "S1-02"])
