"""The step network against a network worked by hand, and its picture against its own rules."""

import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain.builds.step_network import (
    NetworkStep,
    drawn_links,
    drying_nights,
    in_order,
    lay_out,
    longest_chain,
    nights,
    starts,
)

# Worked by hand on paper, forward pass and back: A 3, B 5 and C 2 begin at once after nothing;
# D 4 after A; E 6 after B; F 3 after B and C; G 2 after D and E; H 1 after F.
# Ends: A 3, B 5, C 2, D 7, E 11, F 8, G 13, H 9. The longest chain is B, E, G with 13.
HAND = [
    NetworkStep("A", "a", 0, 3),
    NetworkStep("B", "b", 0, 5),
    NetworkStep("C", "c", 0, 2),
    NetworkStep("D", "d", 1, 4, ("A",)),
    NetworkStep("E", "e", 1, 6, ("B",)),
    NetworkStep("F", "f", 1, 3, ("B", "C")),
    NetworkStep("G", "g", 2, 2, ("D", "E")),
    NetworkStep("H", "h", 2, 1, ("F",)),
]


def test_the_critical_path_is_the_one_worked_by_hand():
    chain = longest_chain(HAND)
    assert chain.keys == ("B", "E", "G")
    assert chain.length == 13


def test_earliest_starts_are_those_worked_by_hand():
    assert starts(HAND) == {"A": 0, "B": 0, "C": 0, "D": 3, "E": 5, "F": 5, "G": 11, "H": 8}


def test_a_step_outside_class_takes_no_class_minutes():
    steps = [
        NetworkStep("A", "a", 0, 30),
        NetworkStep("B", "b", 0, 500, ("A",), outside_class=True),
        NetworkStep("C", "c", 0, 10, ("B",)),
    ]
    assert longest_chain(steps).length == 40


@pytest.mark.parametrize(("hours", "count"), [(0, 0), (4, 0), (4.5, 1), (24, 1), (25, 2), (72, 3)])
def test_drying_costs_the_nights_it_runs_through(hours, count):
    assert nights(hours) == count


def test_nights_side_by_side_count_once():
    steps = [
        NetworkStep("A", "a", 0, 10, (), 24),
        NetworkStep("B", "b", 0, 10, (), 72),
        NetworkStep("C", "c", 0, 10, ("A", "B"), 12),
    ]
    assert longest_chain(steps, drying_nights).length == 4


def test_steps_that_wait_for_each_other_are_refused():
    with pytest.raises(ValueError, match="wait for each other"):
        in_order([NetworkStep("A", "a", 0, 1, ("B",)), NetworkStep("B", "b", 0, 1, ("A",))])


def test_a_link_that_a_longer_way_says_is_not_drawn():
    steps = [
        NetworkStep("A", "a", 0, 1),
        NetworkStep("B", "b", 0, 1, ("A",)),
        NetworkStep("C", "c", 0, 1, ("A", "B")),
    ]
    assert drawn_links(steps) == [("A", "B"), ("B", "C")]


# How quick the machine is says nothing about the network.
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def networks(draw):
    count = draw(st.integers(1, 14))
    return [
        NetworkStep(
            f"S{number:02d}",
            "step",
            draw(st.integers(0, 2)),
            draw(st.integers(1, 90)),
            tuple(f"S{other:02d}" for other in range(number) if draw(st.integers(0, 3)) == 0),
            draw(st.sampled_from([0.0, 0.0, 3.0, 24.0])),
        )
        for number in range(count)
    ]


def longest_by_every_path(steps):
    """Brute force, independent of the code: the longest of all paths."""
    after = {step.key: [other.key for other in steps if step.key in other.after] for step in steps}
    minutes = {step.key: step.minutes for step in steps}

    def best(key):
        return minutes[key] + max((best(other) for other in after[key]), default=0)

    return max(best(step.key) for step in steps)


@UNHURRIED
@given(networks())
def test_the_longest_chain_is_the_longest_of_all_paths(steps):
    chain = longest_chain(steps)
    known = {step.key: step for step in steps}
    assert chain.length == longest_by_every_path(steps)
    assert sum(known[key].minutes for key in chain.keys) == chain.length
    assert all(one in known[two].after for one, two in itertools.pairwise(chain.keys))


@UNHURRIED
@given(networks())
def test_no_two_boxes_of_the_picture_overlap_and_each_lies_in_its_phase(steps):
    picture = lay_out(steps, ["One", "Two", "Three"])
    for one, other in itertools.combinations(picture.boxes, 2):
        apart = one.right <= other.x or other.right <= one.x
        assert apart or one.y + one.height <= other.y or other.y + other.height <= one.y
    for box in picture.boxes:
        band = picture.bands[box.step.phase]
        assert band.y <= box.y
        assert box.y + box.height <= band.y + band.height
        assert box.right <= picture.width


def test_the_sentence_says_what_the_picture_shows():
    picture = lay_out(HAND, ["One", "Two", "Three"])
    assert "8 steps in 3 phases" in picture.sentence
    assert "3 steps and 13 class minutes, from B to G" in picture.sentence
