"""Reading and writing quantities."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain import pitch
from app.domain.quantities import (
    KINDS,
    UnreadableValue,
    decimals,
    inches_text,
    parse,
    parse_count,
    plain_number,
    shop_length,
    show,
    significant,
    with_unit,
)

READ = [
    ("648", "length", 0.648),
    ("648 mm", "length", 0.648),
    ("648mm", "length", 0.648),
    ("25.5 in", "length", 0.6477),
    ('25 1/2"', "length", 0.6477),
    ("25 1/2 in", "length", 0.6477),
    ("25-1/2 in", "length", 0.6477),
    ("25½ in", "length", 0.6477),
    ("25 ½ in", "length", 0.6477),
    ("1/64 in", "length", 0.000396875),
    ("−3/8 in", "length", -0.009525),
    ("2 ft", "length", 0.6096),
    ("5' 3 1/2\"", "length", 1.6129),
    ("0.010", "length", 1e-5),
    (".5", "length", 0.0005),
    ("10 mil", "length", 0.000254),
    ("40 um", "length", 4e-5),
    ("40 µm", "length", 4e-5),
    ("1e-3 kg/m", "unit_weight", 1e-3),
    ("440 Hz", "frequency", 440.0),
    ("4.4e2", "frequency", 440.0),
    ("A4", "frequency", 440.0),
    ("68 °F", "temperature", 293.15),
    ("-10 °C", "temperature", 263.15),
    ("250 k", "resistance", 250e3),
    ("250 kΩ", "resistance", 250e3),
    ("1 MΩ", "resistance", 1e6),
    ("1 mΩ", "resistance", 1e-3),
    ("22 nF", "capacitance", 22e-9),
    ("0.022 uF", "capacitance", 22e-9),
    ("45 %", "percentage", 0.45),
    ("45", "percentage", 0.45),
    ("$12.50", "money", 12.5),
    ("12.50", "money", 12.5),
    ("180°", "angle", math.pi),
    ("-5 cents", "interval", -5.0),
    ("30 min", "time", 1800.0),
    ("3450 rpm", "rotation", 57.5),
]


@pytest.mark.parametrize(("text", "kind", "value"), READ)
def test_a_value_is_read_with_its_unit(text, kind, value):
    assert parse(text, kind) == pytest.approx(value, rel=1e-12)


REFUSED = [
    ("", "length"),
    ("nan", "length"),
    ("inf", "length"),
    ("-inf mm", "length"),
    ("1e999", "length"),
    ("1e400 mm", "length"),
    ("1/0 in", "length"),
    ("25 1/0", "length"),
    ("648 Hz", "length"),
    ("440 mm", "frequency"),
    ("648 mm mm", "length"),
    ("6 48 mm", "length"),
    ("25,5 mm", "length"),
    ("1,000 mm", "length"),
    ("0x10", "length"),
    ("1_000", "length"),
    ("٣ mm", "length"),
    ("__import__('os').getpid()", "length"),
    ("648; DROP TABLE builds", "length"),
    ("${7*7}", "length"),
    ("1+1", "length"),
    ("9" * 400, "length"),
    ("1/" + "9" * 40, "length"),
    ("\x00", "length"),
    ("22.5.1", "length"),
    ("H4", "frequency"),
]


@pytest.mark.parametrize(("text", "kind"), REFUSED)
def test_nonsense_is_refused_in_a_sentence_that_names_the_quantity(text, kind):
    with pytest.raises(UnreadableValue) as refusal:
        parse(text, kind, name="scale length")
    sentence = str(refusal.value)
    assert sentence.startswith("Scale length")
    assert sentence.endswith(".")
    assert sentence.isprintable()
    assert len(sentence) < 250


def test_a_wrong_unit_is_answered_with_the_units_that_fit():
    with pytest.raises(UnreadableValue, match="mm, cm, m, µm, in, ft, mil"):
        parse("648 Hz", "length")


# Values and factors of NIST SP 811 (2008), appendix B.8.
NIST_SP_811 = [
    pytest.param("1 in", "length", 0.0254, 0, id="C210 inch"),
    pytest.param("1 lbf", "force", 4.448222, 5e-7, id="C212 pound-force"),
    pytest.param("1 psi", "pressure", 6894.757, 5e-4, id="C213 psi"),
    pytest.param("1 ft lbf", "torque", 1.355818, 5e-7, id="C216 foot pound-force"),
    pytest.param("1 lbf/in", "spring_rate", 175.1268, 5e-5, id="C217 pound-force per inch"),
]


@pytest.mark.parametrize(("text", "kind", "value", "tolerance"), NIST_SP_811)
def test_factors_are_those_of_nist_sp_811(text, kind, value, tolerance):
    assert abs(parse(text, kind) - value) <= tolerance


# The other US units as SP 811 appendix B.8 prints them (from memory), to the digits printed.
@pytest.mark.parametrize(
    ("text", "kind", "printed"),
    [
        ("1 lb", "mass", 4.535924e-1),
        ("1 oz", "mass", 2.834952e-2),
        ("1 ft", "length", 3.048e-1),
        ("1 mil", "length", 2.54e-5),
        ("1 in²", "area", 6.4516e-4),
        ("1 in³", "volume", 1.638706e-5),
        ("1 gal", "volume", 3.785412e-3),
        ("1 bd ft", "volume", 2.359737e-3),
        ("1 lb/ft³", "density", 1.601846e1),
        ("1 lb/in³", "density", 2.767990e4),
        ("1 lb/in", "unit_weight", 1.785797e1),
        ("1 ft/min", "speed", 5.08e-3),
        ("1 rpm", "rotation", 1 / 60),
    ],
)
def test_other_us_units_agree_with_the_printed_digits(text, kind, printed):
    assert parse(text, kind) == pytest.approx(printed, rel=3e-7)


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_every_kind_has_its_units_and_reads_its_own_example(kind):
    assert kind.unit(kind.si) in kind.units
    assert kind.unit(kind.us) in kind.units
    for example in kind.example.split(" or "):
        assert math.isfinite(parse(example, kind.key))
    symbols = [name for unit in kind.units for name in (unit.symbol, *unit.spellings)]
    assert len(symbols) == len(set(symbols)), "one spelling, two units"


@pytest.mark.parametrize(
    ("text", "number"),
    [("12", 12), (" 12,5 ", 12.5), ("-.5", -0.5), ("\u22123,", -3), ("1e3", 1000)],
)
def test_a_plain_number_has_a_point_or_a_comma_and_any_minus_sign(text, number):
    assert plain_number(text) == number


@pytest.mark.parametrize(
    "text", ["", "-", "1,000.5", "1_000", "12 mm", "1/2", "nan", "inf", "1e999"]
)
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(ValueError, match="is no number"):
        plain_number(text)


@given(st.floats(0.01, 5000), st.sampled_from(["mm", "cm", "m", "in", "ft", "mil"]))
def test_what_is_written_in_a_unit_is_read_back(value, symbol):
    unit = KINDS["length"].unit(symbol)
    assert parse(f"{value!r} {symbol}", "length") == pytest.approx(unit.to_si(value), rel=1e-12)
    assert unit.from_si(unit.to_si(value)) == pytest.approx(value, rel=1e-11)


@given(st.integers(0, 99), st.integers(0, 63))
def test_an_inch_fraction_written_by_the_shop_rule_is_read_back(whole, over):
    inches = whole + Fraction(over, 64)
    text = inches_text(inches)
    assert parse(text, "length") == pytest.approx(float(inches) * 0.0254, abs=1e-15)


def test_counts_are_whole_numbers():
    assert parse_count("22") == 22
    for nonsense in ("22.5", "1e3", "two", "", "1" * 12):
        with pytest.raises(UnreadableValue):
            parse_count(nonsense, name="frets")


@pytest.mark.parametrize(
    ("value", "digits", "written"),
    [
        (0, 4, "0"),
        (648, 4, "648"),
        (36.481697, 5, "36.482"),
        (-0.025, 4, "−0.025"),
        (0.0001234567, 4, "0.0001235"),
        (2.2274e-5, 4, "2.227×10⁻⁵"),
        (-3.4e13, 3, "−3.4×10¹³"),
        (9999.96, 5, "10000"),
        (1234567, 4, "1235000"),
    ],
)
def test_significant_figures(value, digits, written):
    assert significant(value, digits) == written


def test_decimals_never_write_minus_nought():
    assert decimals(-0.0004, 2) == "0.00"
    assert decimals(-1.005, 1) == "−1.0"


def test_a_unit_stands_after_a_thin_space_but_not_before_degrees_or_percent():
    assert show(0.6477, "length", "in") == "25.5\u2009in"
    assert show(math.pi / 4, "angle", "°") == "45°"
    assert show(0.5, "percentage", "%") == "50%"
    assert with_unit("−2.50", "$") == "−$2.50"
    assert show(1234.5, "money", "$") == "$1234.50"


# By hand: 648 mm / 25.4 mm · 64 = 1632.76; 1633/64 in = 648.096875 mm.
def test_the_nearest_sixty_fourth_and_its_rounding_error():
    mark = shop_length(0.648, 64)
    assert mark.text == "25 33/64\u2009in"
    assert mark.error_m == pytest.approx(0.000096875, abs=1e-12)


@pytest.mark.parametrize(
    ("millimetres", "denominator", "written"),
    [
        (12.7, 64, "½\u2009in"),
        (647.7, 16, "25 ½\u2009in"),
        (25.4, 32, "1\u2009in"),
        (0.0, 64, "0\u2009in"),
        (41.3, 16, "1 ⅝\u2009in"),
        (-9.525, 16, "−⅜\u2009in"),
    ],
)
def test_shop_fractions_are_reduced(millimetres, denominator, written):
    assert shop_length(millimetres / 1000, denominator).text == written


@given(st.floats(0, 3000), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_mark_is_never_more_than_half_a_division_off(millimetres, denominator):
    mark = shop_length(millimetres / 1000, denominator)
    assert abs(mark.error_m) <= 0.0254 / denominator / 2 * (1 + 1e-12)


def test_a_rule_is_divided_in_halves():
    with pytest.raises(ValueError, match="power of 2"):
        shop_length(0.1, 10)


# Note numbers by hand: an octave is twelve, A4 is 69.
@pytest.mark.parametrize(
    ("name", "number"), [("C4", 60), ("A0", 21), ("E2", 40), ("Bb3", 58), ("F#4", 66), ("C-1", 0)]
)
def test_notes_are_numbered(name, number):
    assert pitch.note_number(name) == number
    assert pitch.note_number(pitch.note_name(number)) == number
