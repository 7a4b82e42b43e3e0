"""Finish: how much for an area and a film, how thick the wet film is, and what it costs."""

from dataclasses import dataclass

from app.domain.calculators.engine.calculator import (
    Calculator,
    CalculatorExample,
    Quantity,
    Relation,
    ShownValue,
)
from app.domain.calculators.engine.pictures import Dimension, Drawing, Label, Outline

DRAWN_PER_MICROMETRE = 0.5  # mm on the drawing


@dataclass(frozen=True, slots=True)
class Inputs:
    area_m2: float
    coats: int
    dry_film_m: float
    solids: float
    transfer: float
    price_usd_per_m3: float


@dataclass(frozen=True, slots=True)
class Result:
    finish_volume_m3: float
    spreading_rate_m2_per_m3: float
    wet_film_m: float
    cost_usd: float


def wet_film_m(dry_film_m: float, solids: float) -> float:
    """Wet film (m) that dries to `dry_film_m`: dry over the share of solids by volume."""
    return dry_film_m / solids


def spreading_rate_m2_per_m3(dry_film_m: float, solids: float, transfer: float = 1.0) -> float:
    """Area per volume (m²/m³) of one coat: solids times transfer over the dry film.

    `transfer` is the share that lands on the work.
    """
    return solids * transfer / dry_film_m


def compute(inputs: Inputs) -> Result:
    rate = spreading_rate_m2_per_m3(inputs.dry_film_m, inputs.solids, inputs.transfer)
    volume = inputs.area_m2 * inputs.coats / rate
    return Result(
        volume,
        rate,
        wet_film_m(inputs.dry_film_m, inputs.solids),
        volume * inputs.price_usd_per_m3,
    )


def show(inputs: Inputs, result: Result) -> ShownValue:
    micro = 1e6
    wet, dry = result.wet_film_m * micro, inputs.dry_film_m * micro
    scale = min(DRAWN_PER_MICROMETRE, 120 / wet)
    tall_wet, tall_dry = wet * scale, dry * scale
    wide = 60.0
    shapes = (
        Outline(((0, -tall_wet), (wide, -tall_wet), (wide, 0), (0, 0)), closed=True, line="dashed"),
        Outline(
            ((80, -tall_dry), (80 + wide, -tall_dry), (80 + wide, 0), (80, 0)),
            closed=True,
            line="thick",
        ),
        Dimension((0, -tall_wet), (0, 0), f"{wet:.0f} µm", offset_mm=-8),
        Dimension((80 + wide, -tall_dry), (80 + wide, 0), f"{dry:.0f} µm", offset_mm=-8),
        Label((wide / 2, 6), "wet"),
        Label((80 + wide / 2, 6), "dry"),
    )
    drawing = Drawing(
        "One coat, wet and dry",
        f"One coat goes on {wet:.0f} µm thick and dries to {dry:.0f} µm.",
        shapes,
        exaggerated=scale * 1000,
    )
    return ShownValue(drawing=drawing)


_VOLUME = Relation(
    "finish_volume = area * coats / spreading_rate",
    {
        "finish_volume": "{finish_volume:L} = frac({area} * {coats}, {spreading_rate:m²/L})",
        "area": "{area} = frac({finish_volume:L} * {spreading_rate:m²/L}, {coats})",
        "spreading_rate": "{spreading_rate:m²/L} = frac({area} * {coats}, {finish_volume:L})",
    },
)
_RATE = Relation(
    "spreading_rate = solids * transfer / dry_film",
    {
        "spreading_rate": "{spreading_rate:m²/L} = frac({solids} * {transfer}, {dry_film:mm})",
        "solids": "{solids} = frac({spreading_rate:m²/L} * {dry_film:mm}, {transfer})",
        "transfer": "{transfer} = frac({spreading_rate:m²/L} * {dry_film:mm}, {solids})",
        "dry_film": "{dry_film:mm} = frac({solids} * {transfer}, {spreading_rate:m²/L})",
    },
)
_FILM = Relation(
    "wet_film = dry_film / solids",
    {
        "wet_film": "{wet_film} = frac({dry_film}, {solids})",
        "dry_film": "{dry_film:mm} = {wet_film} * {solids}",
        "solids": "{solids} = frac({dry_film}, {wet_film})",
    },
)
_COST = Relation(
    "cost = finish_volume * price",
    {
        "cost": "{cost} = {finish_volume:L} * {price:$/L}",
        "price": "{price} = frac({cost}, {finish_volume:L})",
        "finish_volume": "{finish_volume} = frac({cost}, {price})",
    },
)

CALCULATOR = Calculator(
    key="finish-coverage",
    title="Finish coverage",
    question="How much finish do these coats take, how thick do they go on, what do they cost?",
    quantities=(
        Quantity("area", "A", "area to be finished", "area", 1, 1e7, 2600, "cm²", "ft²"),
        Quantity("coats", "n", "coats", "count", 1, 50, 4, form="whole"),
        Quantity("dry_film", "d", "dry film of one coat", "length", 0.1, 2000, 25, "µm", "mil"),
        Quantity("solids", "s", "solids by volume", "percentage", 1, 100, 30),
        Quantity("transfer", "eta", "share that lands on the work", "percentage", 1, 100, 80),
        Quantity("price", "p", "price", "price_per_volume", 0, 1000, 25, "$/L", "$/qt"),
        Quantity("finish_volume", "V", "finish needed", "volume", 1e-3, 1e8, 100, "mL", "fl oz"),
        Quantity("spreading_rate", "S", "area covered by a volume", "spreading_rate", 1e-3, 1e5),
        Quantity("wet_film", "w", "wet film of one coat", "length", 0.1, 2e5, None, "µm", "mil"),
        Quantity("cost", "K", "cost", "money", 0, 1e9, 3),
    ),
    answers=("finish_volume", "spreading_rate", "wet_film", "cost"),
    inputs=Inputs,
    result=Result,
    compute=compute,
    show=show,
    relations=(_VOLUME, _RATE, _FILM, _COST),
    limits=(
        "The label and the safety data sheet come first: film, thinning, drying and protection.",
        "Drying time has no general figure: use the one on the label.",
        "Bare wood drinks: the first coat may take half as much again. Common practice, no source.",
    ),
    conventions=(
        (
            "Solids are by volume, not by weight. Transfer is 100 % less what drips, sticks to the "
            "brush or misses."
        ),
        "1 US gallon spread 1 mil thick covers 1604 square feet.",
    ),
    source="Identity: area times film is volume; 1 US gal = 231 in³ (NIST Handbook 44)",
    example=CalculatorExample(
        given={"dry_film": "125 um", "solids": "65 %", "transfer": "100 %"},
        solve_for="spreading_rate",
        expected={"spreading_rate": "5.2 m2/L"},
        source="65 % of 1000 m² µm per litre over 125 µm is 5.2 m²/L",
    ),
)
