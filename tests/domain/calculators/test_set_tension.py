"""Set tension: the sum of single strings."""

import pytest

from app.domain.calculators import InvalidInput, calculate


def test_the_total_is_the_sum_of_single_strings():
    notes, weights = ("E2", "A2", "D3"), (6.8, 4.2, 2.16)
    total = calculate(
        "set-tension",
        {"notes": " ".join(notes), "unit_weights": "; ".join(f"{w} g/m" for w in weights)},
    )
    singles = [
        calculate("string-tension", {"frequency": note, "unit_weight": weight}).values["tension"]
        for note, weight in zip(notes, weights, strict=True)
    ]
    assert total.values["total_tension"] == pytest.approx(sum(singles), rel=1e-12)
    assert total.values["tensions"] == pytest.approx(singles, rel=1e-12)
    assert total.values["tension_spread"] == pytest.approx(max(singles) - min(singles))


def test_the_scale_length_for_a_total_is_found_by_trial_and_put_back():
    back = calculate("set-tension", {"total_tension": "440 N"}, "scale_length")
    assert back.values["total_tension"] == pytest.approx(440, rel=1e-9)
    assert back.steps[-1].numeric
    # By hand: tension grows with the square of the length.
    forward = calculate("set-tension", {}).values["total_tension"]
    expected = 0.648 * (440 / forward) ** 0.5
    assert back.values["scale_length"] == pytest.approx(expected, rel=1e-9)


def test_strings_are_numbered_from_the_highest():
    table = calculate("set-tension", {}).table
    assert [row[0] for row in table.rows] == [6, 5, 4, 3, 2, 1]


def test_notes_and_weights_must_pair_and_be_notes():
    with pytest.raises(InvalidInput, match="2 notes, 6 weights"):
        calculate("set-tension", {"notes": "E2, A2"})
    with pytest.raises(InvalidInput, match="is no note"):
        calculate("set-tension", {"notes": "E2, X9", "unit_weights": "1 2"})
