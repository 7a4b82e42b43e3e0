"""What a build asks of a class: minutes, adults, nights of drying and money, for one instrument."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.domain.builds.step_network import NetworkStep, drying_nights, longest_chain

WATCHED = frozenset({"at-the-machine", "adult-only"})


@dataclass(frozen=True, slots=True)
class Estimate:
    """Low, typical and high of an estimate."""

    low: float
    typical: float
    high: float

    def __add__(self, other: "Estimate") -> "Estimate":
        return Estimate(self.low + other.low, self.typical + other.typical, self.high + other.high)


NOTHING = Estimate(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Supply:
    """A material of a step: the quantity one instrument takes and what its unit costs."""

    quantity: float
    cost_low: float
    cost_high: float


@dataclass(frozen=True, slots=True)
class BuildStepFacts:
    """A step as far as choosing a build is concerned."""

    step: NetworkStep
    minutes: Estimate
    supervision: str
    hold_point: bool = False
    supplies: tuple[Supply, ...] = ()


@dataclass(frozen=True, slots=True)
class BuildFacts:
    """Sums over a build, for one team and its one instrument."""

    class_minutes: Estimate
    watched_minutes: float
    """Typical class minutes with an adult at the machine."""
    outside_minutes: Estimate
    """Minutes of an adult outside class."""
    nights: int
    drying_steps: int
    hold_points: int
    cost_low: float
    cost_high: float


def facts(steps: Sequence[BuildStepFacts]) -> BuildFacts:
    """Add up a build.

    Raises ValueError where steps wait for each other.
    """
    inside = [item for item in steps if not item.step.outside_class]
    supplies = [supply for item in steps for supply in item.supplies]
    return BuildFacts(
        class_minutes=_total(item.minutes for item in inside),
        watched_minutes=sum(item.minutes.typical for item in inside if item.supervision in WATCHED),
        outside_minutes=_total(item.minutes for item in steps if item.step.outside_class),
        nights=round(longest_chain([item.step for item in steps], drying_nights).length),
        drying_steps=sum(item.step.drying_hours > 0 for item in steps),
        hold_points=sum(item.hold_point for item in steps),
        cost_low=sum(item.quantity * item.cost_low for item in supplies),
        cost_high=sum(item.quantity * item.cost_high for item in supplies),
    )


def _total(estimates: Iterable[Estimate]) -> Estimate:
    return sum(estimates, NOTHING)
