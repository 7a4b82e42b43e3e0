"""Sums over a build against sums made by hand."""

from app.domain.builds.build_facts import BuildStepFacts, Estimate, Supply, facts
from app.domain.builds.step_network import NetworkStep


def test_sums_are_those_made_by_hand():
    steps = [
        BuildStepFacts(
            NetworkStep("A", "a", 0, 20, (), 24),
            Estimate(10, 20, 30),
            "in-room",
            hold_point=True,
            supplies=(Supply(2, 3.0, 5.0), Supply(0.5, 10.0, 20.0)),
        ),
        BuildStepFacts(
            NetworkStep("B", "b", 0, 15, ("A",)), Estimate(12, 15, 25), "at-the-machine"
        ),
        BuildStepFacts(
            NetworkStep("C", "c", 0, 40, ("B",), outside_class=True),
            Estimate(30, 40, 60),
            "adult-only",
        ),
    ]
    sums = facts(steps)
    assert sums.class_minutes == Estimate(22, 35, 55)
    assert sums.watched_minutes == 15
    assert sums.outside_minutes == Estimate(30, 40, 60)
    assert (sums.nights, sums.drying_steps, sums.hold_points) == (1, 1, 1)
    assert (sums.cost_low, sums.cost_high) == (11.0, 20.0)


def test_a_build_without_steps_asks_for_nothing():
    assert facts([]).class_minutes == Estimate(0, 0, 0)
