"""The catalogue of calculators and the one call that computes any of them.

>>> from app.domain.calculators import calculate
>>> calculate("fret-positions", {"scale_length": "25.5 in", "fret": 12}).us["fret_distance"]
'12.75\\u2009in'
"""

from collections.abc import Iterator, Mapping
from importlib import import_module

from app.domain.calculators.engine.calculation import calculate_with
from app.domain.calculators.engine.calculator import Calculation, Calculator, Given, InvalidInput

__all__ = ["CATALOGUE", "TOPICS", "Calculation", "Calculator", "InvalidInput", "calculate"]

# Keys are stable once published. A key names its file: fret-positions is fret_positions.py.
TOPICS: Mapping[str, tuple[str, ...]] = {
    "Strings and pitch": (
        "string-tension",
        "set-tension",
        "harmonics",
        "pitch-and-cents",
        "beats",
        "stiffness",
        "tuner-gear-ratio",
    ),
    "Neck and frets": (
        "fret-positions",
        "fretting-stretch",
        "saddle-set-back",
        "neck-geometry",
        "fretboard-radius",
        "string-spacing",
    ),
    "Sound and hearing": ("sound-level", "noise-dose", "speed-of-sound"),
    "Wood": ("board-measure", "cut-list", "density", "joint-squareness", "wood-movement"),
    "Shapes": ("area-and-volume", "outline-area", "triangle"),
    "Circuits": (
        "coil-resistance",
        "ohms-law",
        "resistor-colour-code",
        "resistors-combined",
        "tone-circuit",
    ),
    "Workshop": ("cost", "elapsed-time", "finish-coverage", "pressure", "tool-speed"),
    "Measuring and reckoning": (
        "measurement-statistics",
        "shop-fractions",
        "proportion",
        "percent-difference",
        "spares",
    ),
}


class _Catalogue(Mapping[str, Calculator]):
    """Every calculator by key, in the order of the topics; each file is read when first used."""

    def __getitem__(self, key: str) -> Calculator:
        if key not in self:
            raise KeyError(key)
        name = key.replace("-", "_")
        calculator: Calculator = import_module(f"app.domain.calculators.{name}").CALCULATOR
        return calculator

    def __iter__(self) -> Iterator[str]:
        return (key for keys in TOPICS.values() for key in keys)

    def __len__(self) -> int:
        return sum(len(keys) for keys in TOPICS.values())

    def __contains__(self, key: object) -> bool:
        return any(key in keys for keys in TOPICS.values())


CATALOGUE: Mapping[str, Calculator] = _Catalogue()


def calculate(key: str, given: Mapping[str, Given], solve_for: str | None = None) -> Calculation:
    """Compute the calculator ``key`` from what is given, for the quantity ``solve_for``.

    ``given`` maps quantity keys to texts (``"25 1/2 in"``), or to bare numbers, which are in the
    quantity's SI display unit (millimetres for most lengths). What is missing takes its default;
    an empty text is missing, ``"?"`` marks the unknown. Without ``solve_for`` the principal
    answer is computed, or, where an answer is given, the one related quantity left out.
    Values of the Calculation are in coherent SI. Raises KeyError for an unknown calculator and
    InvalidInput with every mistake.
    """
    return calculate_with(CATALOGUE[key], given, solve_for)
