"""The one list of quantity kinds and their units, and how values are read and written.

Inside the program every value is in the coherent SI unit of its kind. Conversion happens
only here. Factors are those of NIST SP 811 (2008), appendix B; the inch, the pound, the
pound-force and the US gallon are exact by definition.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from fractions import Fraction

from app.domain import pitch

THIN_SPACE = "\u2009"
MINUS = "\u2212"
LONGEST_INPUT = 60
LARGEST_NUMBER = 1e15
LARGEST_DENOMINATOR = 1_000_000

INCH_M = 0.0254
FOOT_M = 0.3048
POUND_KG = 0.45359237
STANDARD_GRAVITY_M_PER_S2 = 9.80665
POUND_FORCE_N = 4.4482216152605
PSI_PA = POUND_FORCE_N / INCH_M**2
GALLON_M3 = 231 * INCH_M**3
BOARD_FOOT_M3 = 144 * INCH_M**3


class UnitSystem(StrEnum):
    """The two ways a value is shown."""

    SI = "SI"
    US_SHOP = "US shop"


class UnreadableValue(ValueError):
    """A text that is no value of the kind asked for; the message is a sentence for people."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: coherent SI value = number * factor + offset. ``spellings`` are also read."""

    symbol: str
    factor: float
    spellings: tuple[str, ...] = ()
    offset: float = 0.0

    def to_si(self, number: float) -> float:
        return number * self.factor + self.offset

    def from_si(self, value: float) -> float:
        # Division by an exact factor rounds once; 648 mm must come back as 648, not 647.999…
        number = (value - self.offset) / self.factor
        return round(number, 12 - math.floor(math.log10(abs(number)))) if number else 0.0


@dataclass(frozen=True, slots=True)
class QuantityKind:
    """A kind of quantity. ``suffix`` ends the Python names of its values in SI."""

    key: str
    noun: str
    suffix: str
    units: tuple[Unit, ...]
    si: str  # the unit a bare number has unless the quantity says otherwise
    us: str
    example: str

    def unit(self, symbol: str) -> Unit:
        """The unit of that symbol or spelling. Raises KeyError for any other."""
        for unit in self.units:
            if symbol == unit.symbol or symbol in unit.spellings:
                return unit
        folded = symbol.casefold()
        close = [
            unit
            for unit in self.units
            if folded in {name.casefold() for name in (unit.symbol, *unit.spellings)}
        ]
        if len(close) == 1:
            return close[0]
        raise KeyError(symbol)


def _kind(
    key: str, noun: str, suffix: str, si: str, us: str, example: str, *units: Unit
) -> QuantityKind:
    return QuantityKind(key, noun, suffix, units, si, us, example)


_ALL_KINDS = (
    _kind(
        "length",
        "a length",
        "m",
        "mm",
        "in",
        "648 mm or 25 1/2 in",
        Unit("mm", 1e-3, ("millimetre", "millimetres", "millimeter", "millimeters")),
        Unit("cm", 1e-2, ("centimetre", "centimetres", "centimeter", "centimeters")),
        Unit("m", 1.0, ("metre", "metres", "meter", "meters")),
        Unit("µm", 1e-6, ("um", "micron", "microns")),
        Unit("in", INCH_M, ('"', "in.", "inch", "inches")),
        Unit("ft", FOOT_M, ("'", "ft.", "foot", "feet")),
        Unit("mil", INCH_M / 1000, ("mils", "thou")),
    ),
    _kind(
        "area",
        "an area",
        "m2",
        "cm²",
        "in²",
        "1200 cm² or 186 in²",
        Unit("mm²", 1e-6, ("mm2", "mm^2")),
        Unit("cm²", 1e-4, ("cm2", "cm^2")),
        Unit("m²", 1.0, ("m2", "m^2")),
        Unit("in²", INCH_M**2, ("in2", "in^2", "sq in")),
        Unit("ft²", FOOT_M**2, ("ft2", "ft^2", "sq ft")),
    ),
    _kind(
        "volume",
        "a volume",
        "m3",
        "cm³",
        "in³",
        "500 mL or 1 qt",
        Unit("mm³", 1e-9, ("mm3", "mm^3")),
        Unit("cm³", 1e-6, ("cm3", "cm^3", "cc")),
        Unit("m³", 1.0, ("m3", "m^3")),
        Unit("L", 1e-3, ("l", "litre", "litres", "liter", "liters")),
        Unit("mL", 1e-6, ("ml",)),
        Unit("in³", INCH_M**3, ("in3", "in^3", "cu in")),
        Unit("ft³", FOOT_M**3, ("ft3", "ft^3", "cu ft")),
        Unit("bd ft", BOARD_FOOT_M3, ("board feet", "board foot", "BF", "bdft")),
        Unit("gal", GALLON_M3, ("gallon", "gallons")),
        Unit("qt", GALLON_M3 / 4, ("quart", "quarts")),
        Unit("fl oz", GALLON_M3 / 128, ("floz",)),
    ),
    _kind(
        "mass",
        "a mass",
        "kg",
        "kg",
        "lb",
        "350 g or 12 oz",
        Unit("kg", 1.0),
        Unit("g", 1e-3),
        Unit("lb", POUND_KG, ("lbs", "pound", "pounds")),
        Unit("oz", POUND_KG / 16, ("ounce", "ounces")),
    ),
    _kind(
        "density",
        "a density",
        "kg_per_m3",
        "kg/m³",
        "lb/ft³",
        "7850 kg/m³ or 0.284 lb/in³",
        Unit("kg/m³", 1.0, ("kg/m3", "kg/m^3")),
        Unit("g/cm³", 1e3, ("g/cm3", "g/cm^3", "g/cc")),
        Unit("lb/in³", POUND_KG / INCH_M**3, ("lb/in3", "lb/in^3")),
        Unit("lb/ft³", POUND_KG / FOOT_M**3, ("lb/ft3", "lb/ft^3")),
    ),
    _kind(
        "unit_weight",
        "a mass per length",
        "kg_per_m",
        "g/m",
        "lb/in",
        "0.4 g/m or 2.2e-5 lb/in",
        Unit("g/m", 1e-3),
        Unit("kg/m", 1.0),
        Unit("mg/m", 1e-6),
        Unit("g/cm", 1e-1),
        Unit("lb/in", POUND_KG / INCH_M),
        Unit("lb/ft", POUND_KG / FOOT_M),
    ),
    _kind(
        "force",
        "a force",
        "n",
        "N",
        "lbf",
        "70 N or 16 lbf",
        Unit("N", 1.0, ("newton", "newtons")),
        Unit("kN", 1e3),
        Unit("lbf", POUND_FORCE_N, ("lb", "lbs", "pounds")),
        Unit("kgf", STANDARD_GRAVITY_M_PER_S2, ("kp",)),
    ),
    _kind(
        "torque",
        "a torque",
        "n_m",
        "N m",
        "ft lbf",
        "2 N m or 18 in lbf",
        Unit("N m", 1.0, ("Nm", "N·m", "N*m")),
        Unit("ft lbf", FOOT_M * POUND_FORCE_N, ("ft·lbf", "ft-lbf", "ft-lb", "ft lb", "lbf ft")),
        Unit("in lbf", INCH_M * POUND_FORCE_N, ("in·lbf", "in-lbf", "in-lb", "in lb", "lbf in")),
    ),
    _kind(
        "spring_rate",
        "a force per length",
        "n_per_m",
        "N/m",
        "lbf/in",
        "1200 N/m or 7 lbf/in",
        Unit("N/m", 1.0),
        Unit("N/mm", 1e3),
        Unit("lbf/in", POUND_FORCE_N / INCH_M, ("lb/in",)),
    ),
    _kind(
        "pressure",
        "a pressure or modulus",
        "pa",
        "GPa",
        "psi",
        "200 GPa or 29e6 psi",
        Unit("GPa", 1e9),
        Unit("MPa", 1e6, ("N/mm²", "N/mm2")),
        Unit("kPa", 1e3),
        Unit("hPa", 1e2, ("mbar",)),
        Unit("Pa", 1.0),
        Unit("psi", PSI_PA, ("lbf/in²", "lbf/in2")),
        Unit("Mpsi", 1e6 * PSI_PA),
    ),
    _kind(
        "frequency",
        "a frequency",
        "hz",
        "Hz",
        "Hz",
        "440 Hz or A4",
        Unit("Hz", 1.0, ("1/s", "hertz")),
        Unit("kHz", 1e3),
    ),
    _kind(
        "rotation",
        "a speed of rotation",
        "per_s",
        "rpm",
        "rpm",
        "3450 rpm",
        Unit("rpm", 1 / 60, ("r/min", "1/min")),
        Unit("1/s", 1.0, ("rev/s",)),
    ),
    _kind(
        "time",
        "a time",
        "s",
        "s",
        "s",
        "8 h or 30 min",
        Unit("s", 1.0, ("sec", "second", "seconds")),
        Unit("ms", 1e-3),
        Unit("min", 60.0, ("minute", "minutes")),
        Unit("h", 3600.0, ("hr", "hour", "hours")),
        Unit("d", 86400.0, ("day", "days")),
    ),
    _kind(
        "speed",
        "a speed",
        "m_per_s",
        "m/s",
        "ft/s",
        "343 m/s or 9000 ft/min",
        Unit("m/s", 1.0),
        Unit("m/min", 1 / 60),
        Unit("mm/min", 1e-3 / 60),
        Unit("mm/s", 1e-3),
        Unit("km/h", 1 / 3.6),
        Unit("ft/s", FOOT_M),
        Unit("ft/min", FOOT_M / 60, ("fpm", "sfm")),
        Unit("in/min", INCH_M / 60, ("ipm",)),
        Unit("mph", 1609.344 / 3600),
    ),
    _kind(
        "angle",
        "an angle",
        "rad",
        "°",
        "°",
        "2.5° or 0.04 rad",
        Unit("°", math.pi / 180, ("deg", "degree", "degrees")),
        Unit("rad", 1.0, ("radian", "radians")),
        Unit("′", math.pi / 10800, ("arcmin",)),
    ),
    _kind(
        "temperature",
        "a temperature",
        "k",
        "°C",
        "°F",
        "20 °C or 68 °F",
        Unit("°C", 1.0, ("C", "degC", "deg C"), 273.15),
        Unit("°F", 5 / 9, ("F", "degF", "deg F"), 273.15 - 160 / 9),
        Unit("K", 1.0, ("kelvin",)),
    ),
    _kind(
        "temperature_difference",
        "a temperature difference",
        "k",
        "K",
        "°F",
        "10 K",
        Unit("K", 1.0, ("°C", "C")),
        Unit("°F", 5 / 9, ("F",)),
    ),
    _kind(
        "ratio",
        "a ratio",
        "",
        "",
        "",
        "1.06 or 5 %",
        Unit("", 1.0, (":1",)),
        Unit("%", 1e-2, ("percent", "pct")),
        Unit("ppm", 1e-6),
    ),
    _kind(
        "percentage",
        "a percentage",
        "",
        "%",
        "%",
        "45 %",
        Unit("%", 1e-2, ("percent", "pct")),
        Unit("ppm", 1e-6),
    ),
    _kind(
        "strain",
        "a strain",
        "",
        "µε",
        "µε",
        "30 µε",
        Unit("µε", 1e-6, ("microstrain", "ue", "ppm")),
        Unit("%", 1e-2),
    ),
    _kind("number", "a number", "", "", "", "3.5", Unit("", 1.0)),
    _kind("count", "a whole number", "", "", "", "22", Unit("", 1.0)),
    _kind(
        "interval",
        "an interval in cents",
        "cents",
        "cents",
        "cents",
        "-5 cents",
        Unit("cents", 1.0, ("c", "cent", "¢")),
        Unit("semitones", 100.0, ("semitone",)),
    ),
    _kind(
        "level",
        "a level in decibels",
        "db",
        "dB",
        "dB",
        "85 dB",
        Unit("dB", 1.0, ("dBA", "dB(A)", "dB SPL")),
    ),
    _kind(
        "intensity",
        "a sound intensity",
        "w_per_m2",
        "W/m²",
        "W/m²",
        "1e-6 W/m²",
        Unit("W/m²", 1.0, ("W/m2", "W/m^2")),
    ),
    _kind(
        "resistance",
        "a resistance",
        "ohm",
        "Ω",
        "Ω",
        "250 kΩ",
        Unit("Ω", 1.0, ("ohm", "ohms", "R")),
        Unit("kΩ", 1e3, ("kohm", "kohms", "k", "kR", "K")),
        Unit("MΩ", 1e6, ("Mohm", "Mohms", "M", "meg")),
        Unit("mΩ", 1e-3, ("mohm",)),
    ),
    _kind(
        "resistance_per_length",
        "a resistance per length",
        "ohm_per_m",
        "Ω/m",
        "Ω/ft",
        "5.4 Ω/m or 1.66 Ω/ft",
        Unit("Ω/m", 1.0, ("ohm/m",)),
        Unit("Ω/km", 1e-3, ("ohm/km",)),
        Unit("Ω/ft", 1 / FOOT_M, ("ohm/ft",)),
        Unit("Ω/kft", 1e-3 / FOOT_M, ("ohm/kft", "Ω/1000 ft", "ohm/1000 ft")),
    ),
    _kind(
        "resistivity",
        "a resistivity",
        "ohm_m",
        "Ω m",
        "Ω m",
        "1.72e-8 Ω m",
        Unit("Ω m", 1.0, ("ohm m", "ohm·m", "Ω·m")),
        Unit("Ω mm²/m", 1e-6, ("ohm mm2/m",)),
    ),
    _kind(
        "capacitance",
        "a capacitance",
        "f",
        "nF",
        "nF",
        "22 nF",
        Unit("nF", 1e-9),
        Unit("µF", 1e-6, ("uF",)),
        Unit("pF", 1e-12),
        Unit("F", 1.0),
    ),
    _kind(
        "inductance",
        "an inductance",
        "h",
        "H",
        "H",
        "2.5 H",
        Unit("H", 1.0),
        Unit("mH", 1e-3),
        Unit("µH", 1e-6, ("uH",)),
    ),
    _kind("voltage", "a voltage", "v", "V", "V", "9 V", Unit("V", 1.0), Unit("mV", 1e-3)),
    _kind(
        "current",
        "a current",
        "a",
        "mA",
        "mA",
        "20 mA",
        Unit("mA", 1e-3),
        Unit("A", 1.0),
        Unit("µA", 1e-6, ("uA",)),
    ),
    _kind("power", "a power", "w", "W", "W", "0.25 W", Unit("W", 1.0), Unit("mW", 1e-3)),
    _kind(
        "spreading_rate",
        "an area per volume",
        "m2_per_m3",
        "m²/L",
        "ft²/gal",
        "10 m²/L or 400 ft²/gal",
        Unit("m²/L", 1e3, ("m2/L", "m2/l", "m²/l")),
        Unit("ft²/gal", FOOT_M**2 / GALLON_M3, ("ft2/gal", "sq ft/gal")),
    ),
    _kind(
        "money",
        "an amount of money",
        "usd",
        "$",
        "$",
        "$12.50",
        Unit("$", 1.0, ("USD", "dollars")),
        Unit("ct", 0.01, ("cents", "¢")),
    ),
    _kind(
        "price_per_volume",
        "a price per volume",
        "usd_per_m3",
        "$/L",
        "$/gal",
        "20 $/L or 80 $/gal",
        Unit("$/L", 1e3),
        Unit("$/gal", 1 / GALLON_M3),
        Unit("$/qt", 4 / GALLON_M3),
        Unit("$/bd ft", 1 / BOARD_FOOT_M3, ("$/BF", "$/bdft")),
        Unit("$/m³", 1.0, ("$/m3",)),
    ),
)
KINDS: Mapping[str, QuantityKind] = {kind.key: kind for kind in _ALL_KINDS}

_VULGAR = {
    "½": (1, 2),
    "¼": (1, 4),
    "¾": (3, 4),
    "⅛": (1, 8),
    "⅜": (3, 8),
    "⅝": (5, 8),
    "⅞": (7, 8),
    "⅓": (1, 3),
    "⅔": (2, 3),
}
_VULGAR_TEXT = {pair: text for text, pair in _VULGAR.items()}
_TRANSLATED = str.maketrans(
    {
        MINUS: "-",
        "–": "-",
        "″": '"',
        "”": '"',
        "“": '"',
        "′": "'",
        "’": "'",
        "⁄": "/",
        "\u00a0": " ",
        THIN_SPACE: " ",
        "\u202f": " ",
        "μ": "µ",
        "Ω": "Ω",
    }
)
_DECIMAL = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_FRACTION = r"(?P<sign>[+-]?)(?:(?P<whole>[0-9]+)(?: +|-))?(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)"
_VALUE = re.compile(
    rf"(?:{_FRACTION}(?![0-9.])|(?P<decimal>{_DECIMAL})) ?(?P<unit>[^0-9].*)?", re.ASCII
)
_FEET_AND_INCHES = re.compile(r"(?P<feet>[0-9]+) ?(?:ft|') ?(?P<inches>[0-9].*)", re.ASCII)


def parse(text: str, kind: str, *, unit: str | None = None, name: str = "") -> float:
    """The value in coherent SI that a person wrote: ``648``, ``25.5 in``, ``25 1/2"``, ``1e-3``.

    A bare number is in ``unit``, or in the kind's usual unit; a frequency may be a note (``E4``,
    with A4 at 440 Hz). Raises UnreadableValue with a
    sentence that names the quantity and says what it may be.
    """
    wanted = KINDS[kind]
    plain = _plain(text, wanted, name)
    if kind == "length" and (match := _FEET_AND_INCHES.fullmatch(plain)):
        feet = int(match["feet"]) * FOOT_M
        return feet + parse(match["inches"], kind, unit="in", name=name)
    if kind == "frequency" and pitch.is_note(plain):
        return pitch.frequency_hz(pitch.note_number(plain))
    if kind == "money" and plain.startswith("$"):
        plain = f"{plain[1:].strip()} $"
    match = _VALUE.fullmatch(plain)
    if not match:
        raise _unreadable(text, wanted, name)
    number = _number(match, text, wanted, name)
    written = (match["unit"] or "").strip()
    try:
        found = wanted.unit(written or (wanted.si if unit is None else unit))
    except KeyError:
        units = ", ".join(_spoken_units(wanted))
        may_be = f"one of {units}" if units else "left out"
        raise UnreadableValue(
            f"{_subject(name, wanted)}: “{_shown(written)}” is not a unit it is given in; "
            f"the unit may be {may_be}."
        ) from None
    value = found.to_si(number)
    if not math.isfinite(value):
        raise _too_large(wanted, name)
    return value


def parse_count(text: str, *, name: str = "") -> int:
    """A whole number. Raises UnreadableValue."""
    plain = _plain(text, KINDS["count"], name)
    if not re.fullmatch(r"[+-]?[0-9]{1,9}(?:\.0*)?", plain, re.ASCII):
        raise _unreadable(text, KINDS["count"], name)
    return int(plain.split(".", maxsplit=1)[0])


def plain_number(text: str) -> float:
    """A number without a unit, with a decimal point or comma and any minus sign.

    Raises ValueError for anything else; the caller says what to write instead.
    """
    plain = text.translate(_TRANSLATED).replace(",", ".").strip()
    value = float(plain) if re.fullmatch(_DECIMAL, plain, re.ASCII) else math.nan
    if not math.isfinite(value):
        raise ValueError(f"“{_shown(text)}” is no number.")
    return value


def _plain(text: str, kind: QuantityKind, name: str) -> str:
    if len(text) > LONGEST_INPUT:
        raise _unreadable(text, kind, name)
    plain = text.translate(_TRANSLATED)
    for letter, (over, under) in _VULGAR.items():
        plain = plain.replace(letter, f" {over}/{under}")
    plain = " ".join(plain.split())
    if "," in plain:
        raise UnreadableValue(
            f"{_subject(name, kind)}: write a decimal point and no comma, "
            f"such as {kind.example}, not “{_shown(text)}”."
        )
    return plain


def _number(match: re.Match[str], text: str, kind: QuantityKind, name: str) -> float:
    if match["decimal"] is not None:
        number = float(match["decimal"])
    else:
        under = int(match["under"])
        if under == 0:
            raise UnreadableValue(
                f"{_subject(name, kind)}: the bottom of a fraction must not be 0, "
                f"as in “{_shown(text)}”."
            )
        if under > LARGEST_DENOMINATOR:
            raise _unreadable(text, kind, name)
        exact = int(match["whole"] or 0) + Fraction(int(match["over"]), under)
        if exact > LARGEST_NUMBER:
            raise _too_large(kind, name)
        number = -float(exact) if match["sign"] == "-" else float(exact)
    if abs(number) > LARGEST_NUMBER:
        raise _too_large(kind, name)
    return number


def _shown(text: str) -> str:
    cut = text if len(text) <= 30 else f"{text[:29]}…"
    return "".join(letter if letter.isprintable() else "�" for letter in cut)


def _subject(name: str, kind: QuantityKind) -> str:
    return name[:1].upper() + name[1:] if name else kind.noun[:1].upper() + kind.noun[1:]


def _spoken_units(kind: QuantityKind) -> list[str]:
    return [unit.symbol for unit in kind.units if unit.symbol]


def _unreadable(text: str, kind: QuantityKind, name: str) -> UnreadableValue:
    return UnreadableValue(
        f"{_subject(name, kind)} must be {kind.noun} such as {kind.example}, not “{_shown(text)}”."
    )


def _too_large(kind: QuantityKind, name: str) -> UnreadableValue:
    return UnreadableValue(
        f"{_subject(name, kind)} is too large a number; give {kind.noun} such as {kind.example}."
    )


def significant(number: float, digits: int = 4) -> str:
    """The number with so many significant figures, no idle zeros, and a real minus sign.

    Beyond 10⁷ and below 10⁻⁴ it is written as a power of ten.
    """
    if number == 0:
        return "0"
    rounded = Decimal(f"{number:.{digits - 1}e}")
    exponent = rounded.adjusted()
    if -5 < exponent < 7:
        return _minus(_without_idle_zeros(f"{rounded:f}"))
    factor = _without_idle_zeros(f"{rounded.scaleb(-exponent):f}")
    return _minus(f"{factor}×10{_superscript(exponent)}")


def decimals(number: float, places: int) -> str:
    """The number with exactly so many decimals and a real minus sign (never −0)."""
    rounded = Decimal(number).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
    return _minus(f"{abs(rounded) if rounded == 0 else rounded:f}")


def _without_idle_zeros(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def _minus(text: str) -> str:
    return text.replace("-", MINUS)


def _superscript(exponent: int) -> str:
    return str(exponent).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def with_unit(number: str, symbol: str) -> str:
    """A written number followed by its unit: thin space, none before ° ′ and %, $ in front."""
    if not symbol:
        return number
    if symbol == "$":
        return f"{MINUS}${number[1:]}" if number.startswith(MINUS) else f"${number}"
    if symbol in {"°", "′", "%"}:
        return f"{number}{symbol}"
    return f"{number}{THIN_SPACE}{symbol}"


def show(value: float, kind: str, symbol: str, digits: int = 4) -> str:
    """A value in SI written in the unit ``symbol`` of its kind, with significant figures."""
    number = KINDS[kind].unit(symbol).from_si(value)
    if kind == "money" and symbol == "$":
        return with_unit(decimals(number, 2), symbol)
    return with_unit(significant(number, digits), symbol)


@dataclass(frozen=True, slots=True)
class ShopLength:
    """A length rounded to a fraction of an inch, and what the rounding adds in metres."""

    inches: Fraction
    error_m: float

    @property
    def text(self) -> str:
        return inches_text(self.inches)


def shop_length(length_m: float, denominator: int = 64) -> ShopLength:
    """The nearest fraction of an inch with that denominator, halves away from zero.

    ``error_m`` is rounded minus true. Raises ValueError for a denominator that is no power of 2.
    """
    if denominator < 1 or denominator & (denominator - 1):
        raise ValueError("a rule is divided in halves: the denominator must be a power of 2")
    inches = Fraction(length_m) / Fraction(254, 10000)
    parts = math.floor(abs(inches) * denominator + Fraction(1, 2))
    rounded = Fraction(parts if inches >= 0 else -parts, denominator)
    return ShopLength(rounded, float(rounded * Fraction(254, 10000) - Fraction(length_m)))


def inches_text(inches: Fraction) -> str:
    """``25 ½ in``, ``3 5/16 in``, ``−3/64 in``: a fraction of an inch as a shop writes it."""
    sign = MINUS if inches < 0 else ""
    whole, over = divmod(abs(inches.numerator), inches.denominator)
    if not over:
        return f"{sign}{whole}{THIN_SPACE}in"
    part = _VULGAR_TEXT.get((over, inches.denominator), f"{over}/{inches.denominator}")
    return f"{sign}{f'{whole} ' if whole else ''}{part}{THIN_SPACE}in"
