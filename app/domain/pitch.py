"""Notes of equal temperament: names, numbers and frequencies.

Note numbers count semitones so that A4 is 69 and middle C, C4, is 60. ISO 16:1975 fixes
A4 at 440 Hz.
"""

import math
import re

A4_NUMBER = 69
STANDARD_A4_HZ = 440.0
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAMES = ("C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯", "A", "A♯", "B")
_NOTE = re.compile(r"(?P<letter>[A-Ga-g])(?P<sign>[#♯b♭]?)(?P<octave>-?[0-9])")


def is_note(name: str) -> bool:
    """Whether the text is a note name with its octave, such as ``E2``, ``F#4`` or ``Bb3``."""
    return _NOTE.fullmatch(name.strip()) is not None


def note_number(name: str) -> int:
    """The number of a note such as ``E2``. Raises ValueError with a sentence."""
    match = _NOTE.fullmatch(name.strip())
    if not match:
        raise ValueError(
            f"“{name[:20]}” is no note: write a letter A to G, # or b if need be, and the octave, "
            "such as E2, F#4 or Bb3."
        )
    shift = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[match["sign"]]
    return 12 * (int(match["octave"]) + 1) + _LETTERS[match["letter"].upper()] + shift


def note_name(number: int) -> str:
    """The name of a note number, with sharps."""
    return f"{_NAMES[number % 12]}{number // 12 - 1}"


def frequency_hz(number: float, a4_hz: float = STANDARD_A4_HZ) -> float:
    """The frequency in Hz of a note number in equal temperament."""
    return a4_hz * math.pow(2, (number - A4_NUMBER) / 12)


def number_of(frequency: float, a4_hz: float = STANDARD_A4_HZ) -> float:
    """The note number, with its fraction, of a frequency in Hz."""
    return A4_NUMBER + 12 * math.log2(frequency / a4_hz)


def cents(first_hz: float, second_hz: float) -> float:
    """The interval from the first to the second frequency in cents."""
    return 1200 * math.log2(second_hz / first_hz)


def nearest_note(frequency: float, a4_hz: float = STANDARD_A4_HZ) -> tuple[str, float]:
    """The nearest note's name and how many cents the frequency lies above it."""
    number = number_of(frequency, a4_hz)
    nearest = round(number)
    return note_name(nearest), 100 * (number - nearest)
