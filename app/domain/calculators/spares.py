"""Spares: how many extra pieces so that the class does not run out (binomial chance).

The one home of the rule: kit lists and orders count their spares with ``fewest_spares``.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    ResultColumn,
    ResultTable,
    ShownValue,
)
from app.domain.calculators.engine.pictures import bar_chart

SHOWN_BEYOND = 3


@dataclass(frozen=True, slots=True)
class Inputs:
    """Pieces needed; loss rate and confidence as shares of 1."""

    pieces_needed: int
    loss_rate: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Result:
    """Pieces; chances as shares of 1; ``chances`` for 0, 1, 2 … spares."""

    spares: int
    pieces_total: int
    enough_chance: float
    enough_chance_without: float
    expected_losses: float
    chances: tuple[float, ...]


def chances_of_enough(pieces: int, loss_rate: float) -> Iterator[float]:
    """Chance that at most s of so many pieces are lost, for s = 0, 1, 2 … ``pieces``.

    The number of losses is binomial: each piece is lost at most once, by itself. Each term is
    built from logarithms, so that thousands of pieces neither overflow nor vanish.
    """
    if loss_rate in (0.0, 1.0):
        yield from (1.0 if losses >= pieces * loss_rate else 0.0 for losses in range(pieces + 1))
        return
    total = 0.0
    for losses in range(pieces):
        ways = math.lgamma(pieces + 1) - math.lgamma(losses + 1) - math.lgamma(pieces - losses + 1)
        kept = (pieces - losses) * math.log1p(-loss_rate)
        total += math.exp(ways + losses * math.log(loss_rate) + kept)
        yield min(total, 1.0)
    yield 1.0


def fewest_spares(pieces: int, loss_rate: float, confidence: float) -> int:
    """The smallest s with P(losses ≤ s) ≥ ``confidence`` (share of 1); ``pieces`` at most."""
    chances = enumerate(chances_of_enough(pieces, loss_rate))
    return next((spares for spares, chance in chances if chance >= confidence), pieces)


def compute(inputs: Inputs) -> Result:
    """The fewest spares and what they are worth."""
    needed, rate = inputs.pieces_needed, inputs.loss_rate
    chances = tuple(chances_of_enough(needed, rate))
    spares = fewest_spares(needed, rate, inputs.confidence)
    return Result(
        spares=spares,
        pieces_total=needed + spares,
        enough_chance=chances[spares],
        enough_chance_without=chances[0],
        expected_losses=needed * rate,
        chances=chances[: spares + SHOWN_BEYOND + 1],
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    """The chance that each number of spares is enough."""
    columns = (
        ResultColumn("spares", "Spares", "count"),
        ResultColumn("pieces_total", "Pieces in all", "count"),
        ResultColumn("enough_chance", "Chance of enough", "percentage", "%", "%", (2, 2)),
    )
    first = max(0, len(result.chances) - 24)
    shown = list(enumerate(result.chances))[first:]
    return ShownValue(
        table=ResultTable(
            "Chance by number of spares",
            columns,
            tuple((spare, inputs.pieces_needed + spare, chance) for spare, chance in shown),
        ),
        chart=bar_chart(
            "Chance that the spares last",
            f"With {result.spares} spares the chance is {result.enough_chance * 100:.1f} %, with "
            f"none {result.enough_chance_without * 100:.1f} %.",
            [(str(spare), 100 * chance) for spare, chance in shown],
            "Spares",
            "Chance of enough (%)",
        ),
    )


CALCULATOR = Calculator(
    key="spares",
    title="Spares",
    question="How many spare pieces should the class prepare?",
    quantities=(
        Quantity("pieces_needed", "n", "pieces needed", "count", 1, 2000, 12, form="whole"),
        Quantity("loss_rate", "q", "share lost or spoiled", "percentage", 0, 100, 8),
        Quantity("confidence", "c", "chance wanted", "percentage", 1, 99.999, 95),
        Quantity("spares", "s", "spares", "count", 0, 2000, form="whole"),
        Quantity("pieces_total", "m", "pieces in all", "count", 0, 4000, form="whole"),
        Quantity("enough_chance", "P", "chance of enough with these spares", "percentage", 0, 100),
        Quantity(
            "enough_chance_without", "P_0", "chance of enough without spares", "percentage", 0, 100
        ),
        Quantity("expected_losses", "mu", "pieces lost on average", "number", 0, 2000),
    ),
    answers=(
        "spares",
        "pieces_total",
        "enough_chance",
        "enough_chance_without",
        "expected_losses",
    ),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    formulas={
        "pieces_total": "{pieces_total} = {pieces_needed} + {spares}",
        "enough_chance_without": "{enough_chance_without} = (1 - {loss_rate})^{pieces_needed}",
        "enough_chance": "{enough_chance} = sum_(i=0)^{spares} binom({pieces_needed}, i) * "
        "{loss_rate}^i * (1 - {loss_rate})^({pieces_needed} - i)",
        "spares": '{spares} = "smallest" s: {enough_chance} >= {confidence}',
        "expected_losses": "{expected_losses} = {pieces_needed} * {loss_rate}",
    },
    limits=(
        "Each piece is lost or spoiled by itself, with the same chance as every other.",
        "A cause that all share, such as an iron that is too hot, loses many at once: take more.",
    ),
    conventions=(
        "The smallest number of spares that reaches the chance wanted.",
        (
            "Each team, or each place, loses its piece at most once: the spare put in its place is "
            "not lost again. Kit lists and orders count in the same way."
        ),
    ),
    source="binomial distribution (identity)",
    example=CalculatorExample(
        given={"pieces_needed": 2, "loss_rate": "10 %", "confidence": "95 %"},
        expected={"spares": 1, "enough_chance": "99 %", "enough_chance_without": "81 %"},
        source="by hand: 0.9² = 0.81 without spares; 0.81 + 2 · 0.9 · 0.1 = 0.99 with one",
        tolerance=1e-9,
    ),
)
