"""A build's rows as the values its pages show."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.domain.builds import build_facts
from app.domain.builds.step_network import NetworkStep, Picture, lay_out
from app.domain.cautions import HAZARDOUS
from app.models import Build, Step


@dataclass(frozen=True, slots=True)
class PhaseFacts:
    """A phase's sums beside its title."""

    title: str
    key: str
    steps: int
    facts: build_facts.BuildFacts


def network_steps(build: Build) -> list[NetworkStep]:
    """The build's steps as the network sees them."""
    return [
        _network_step(step, number)
        for number, phase in enumerate(build.phases)
        for step in phase.steps
    ]


def _network_step(step: Step, phase: int) -> NetworkStep:
    return NetworkStep(
        key=step.key,
        title=step.title,
        phase=phase,
        minutes=step.minutes_typical,
        after=tuple(step.after),
        drying_hours=step.drying["hours"]["typical"] if step.drying else 0.0,
        outside_class=step.outside_class,
    )


def picture(build: Build) -> Picture:
    """The step network laid out."""
    return lay_out(network_steps(build), [phase.title for phase in build.phases])


def build_sums(build: Build) -> build_facts.BuildFacts:
    """What the build asks of a class."""
    return build_facts.facts([_facts(step) for phase in build.phases for step in phase.steps])


def phase_sums(build: Build) -> list[PhaseFacts]:
    """What each phase asks of a class."""
    return [
        PhaseFacts(
            phase.title,
            phase.key,
            len(phase.steps),
            build_facts.facts([_facts(step) for step in phase.steps]),
        )
        for phase in build.phases
    ]


def _facts(step: Step) -> build_facts.BuildStepFacts:
    return build_facts.BuildStepFacts(
        step=_network_step(step, 0),
        minutes=build_facts.Estimate(step.minutes_low, step.minutes_typical, step.minutes_high),
        supervision=step.supervision,
        hold_point=step.hold_point,
        supplies=tuple(
            build_facts.Supply(item.quantity, item.material.cost_low, item.material.cost_high)
            for item in step.materials
        ),
    )


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """One material over the whole build, for one instrument."""

    title: str
    quantity: float
    unit: str
    cost_low: float
    cost_high: float
    lead_days_high: int
    note: str
    steps: tuple[str, ...]


def material_lines(build: Build) -> list[MaterialLine]:
    """What one instrument takes, each material once, in the order of first use."""
    uses: dict[str, list[tuple[str, float]]] = {}
    materials = {}
    for phase in build.phases:
        for step in phase.steps:
            for item in step.materials:
                materials[item.material.key] = item.material
                uses.setdefault(item.material.key, []).append((step.key, item.quantity))
    lines = []
    for key, material in materials.items():
        quantity = sum(amount for _, amount in uses[key])
        lines.append(
            MaterialLine(
                title=material.title,
                quantity=quantity,
                unit=material.unit,
                cost_low=quantity * material.cost_low,
                cost_high=quantity * material.cost_high,
                lead_days_high=material.lead_days_high,
                note=material.note,
                steps=tuple(dict.fromkeys(step for step, _ in uses[key])),
            )
        )
    return lines


@dataclass(frozen=True, slots=True)
class HazardLine:
    """The steps of one hazard class, with everything their cautions and protection name."""

    hazard_class: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    protection: tuple[str, ...]


def hazard_lines(steps: Iterable[Step]) -> list[HazardLine]:
    """Hazardous steps by hazard class, for pages that name steps without describing them."""
    found: dict[str, list[Step]] = {}
    for step in steps:
        if step.hazard_class in HAZARDOUS:
            found.setdefault(step.hazard_class, []).append(step)
    return [
        HazardLine(
            hazard_class,
            tuple(dict.fromkeys(step.key for step in members)),
            tuple(dict.fromkeys(item["text"] for step in members for item in step.cautions)),
            tuple(dict.fromkeys(item for step in members for item in step.protection)),
        )
        for hazard_class, members in found.items()
    ]
