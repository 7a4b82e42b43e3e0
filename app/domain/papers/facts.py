"""What papers are made from: steps, checks and people's codes as plain values."""

from dataclasses import dataclass

from app.domain.papers.class_plan import StepHazard


@dataclass(frozen=True, slots=True)
class Check:
    """A quality check as the library words it; `tolerance` and `nominal` as written."""

    what: str
    nominal: str = ""
    tolerance: str = ""
    unit: str = ""
    measure_with: str = ""
    record_as: str = ""
    if_out: str = ""

    @property
    def target(self) -> str:
        """Nominal and tolerance with their unit: "16 mm, ±0.15 mm"."""
        nominal = " ".join(part for part in (self.nominal, self.unit) if part)
        if not self.tolerance:
            return nominal
        tolerance = " ".join(part for part in (self.tolerance, self.unit) if part)
        return f"{nominal}, {tolerance}" if self.nominal else tolerance


@dataclass(frozen=True, slots=True)
class StepFacts:
    """One step of a build; `hazard` is there where its class is hazardous."""

    key: str
    title: str
    station: str
    minutes: int
    hold_point: bool = False
    check: Check | None = None
    permit: str = ""
    drying: str = ""
    tools: tuple[str, ...] = ()
    hazard: StepHazard | None = None


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the head of every paper of a section."""

    section: str
    build: str
    date: str = ""
    holder: str = ""


def hazards_of(steps: tuple[StepFacts, ...]) -> list[StepHazard]:
    """The cautions of the hazardous steps among these."""
    return [step.hazard for step in steps if step.hazard is not None]
