"""Spares: how many extra pieces so that enough come out good (binomial chance)."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count, islice

from app.domain.calculators.calculator import (
    Calculator,
    Column,
    InvalidInput,
    Quantity,
    Shown,
    Table,
    WorkedExample,
)
from app.domain.calculators.pictures import bar_chart

MOST_SPARES = 5000


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


def chances_of_enough(needed: int, loss_rate: float) -> Iterator[float]:
    """Chance that at least ``needed`` of needed + s pieces are good, for s = 0, 1, 2 …

    The losses before the last good piece follow the negative binomial law, which gives the
    same chance as summing the binomial and loses no digits.
    """
    term = total = (1 - loss_rate) ** needed
    for spare in count(1):
        yield min(total, 1.0)
        term *= loss_rate * (needed - 1 + spare) / spare
        total += term


def compute(inputs: Inputs) -> Result:
    """Raises InvalidInput where no sensible number of spares is enough."""
    chances: list[float] = []
    endless = chances_of_enough(inputs.pieces_needed, inputs.loss_rate)
    for chance in islice(endless, MOST_SPARES + 1):
        chances.append(chance)
        if chance >= inputs.confidence:
            break
    else:
        sentence = f"More than {MOST_SPARES} spares: lower the loss rate or the confidence."
        raise InvalidInput([("loss_rate", sentence)])
    spares = len(chances) - 1
    chances += islice(endless, 3)
    total = inputs.pieces_needed + spares
    return Result(
        spares=spares,
        pieces_total=total,
        enough_chance=chances[spares],
        enough_chance_without=chances[0],
        expected_losses=total * inputs.loss_rate,
        chances=tuple(chances),
    )


def show(inputs: Inputs, result: Result) -> Shown:
    """The chance of enough good pieces for each number of spares."""
    columns = (
        Column("spares", "Spares", "count"),
        Column("pieces_total", "Pieces made", "count"),
        Column("enough_chance", "Chance of enough", "percentage", "%", "%", (2, 2)),
    )
    first = max(0, len(result.chances) - 24)
    shown = list(enumerate(result.chances))[first:]
    return Shown(
        table=Table(
            "Chance by number of spares",
            columns,
            tuple((spare, inputs.pieces_needed + spare, chance) for spare, chance in shown),
        ),
        chart=bar_chart(
            "Chance that enough pieces are good",
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
        Quantity("pieces_needed", "k", "good pieces needed", "count", 1, 2000, 12, form="whole"),
        Quantity("loss_rate", "q", "share spoiled", "percentage", 0, 80, 8),
        Quantity("confidence", "c", "chance wanted", "percentage", 1, 99.999, 95),
        Quantity("spares", "s", "spares", "count", 0, 1e6, form="whole"),
        Quantity("pieces_total", "n", "pieces made in all", "count", 0, 1e6, form="whole"),
        Quantity("enough_chance", "P", "chance of enough with these spares", "percentage", 0, 100),
        Quantity(
            "enough_chance_without", "P_0", "chance of enough without spares", "percentage", 0, 100
        ),
        Quantity("expected_losses", "q n", "pieces spoiled on average", "number", 0, 1e6),
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
        "enough_chance": "{enough_chance} = sum_(i={pieces_needed})^{pieces_total} "
        "binom({pieces_total}, i) * (1 - {loss_rate})^i * {loss_rate}^({pieces_total} - i)",
        "spares": '{spares} = "smallest" s "with" P >= {confidence}',
        "expected_losses": "{expected_losses} = {loss_rate} * {pieces_total}",
    },
    limits=("Each piece is spoiled by itself, with the same chance as every other.",),
    conventions=("The smallest number of spares that reaches the chance wanted.",),
    source="binomial distribution (identity)",
    example=WorkedExample(
        given={"pieces_needed": 2, "loss_rate": "10 %", "confidence": "95 %"},
        expected={"spares": 1, "enough_chance": "97.2 %"},
        source="by hand: 0.9³ + 3 · 0.9² · 0.1 = 0.972; without spares 0.81",
        tolerance=1e-9,
    ),
)
