"""Readings questioned, strips drawn, air judged, and papers made from a class's own readings."""

import datetime as dt
import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.classroom.class_data import (
    DataSet,
    Point,
    fret_residuals,
    read_reading,
    strip,
    within_limits,
)
from app.domain.classroom.drying_air import DryingLabel, judge, read_air, ready_at
from app.domain.papers.catch_up import MissedLesson, MissedWork, Slip, slip_document
from app.domain.papers.class_plan import StepHazard, merged_caution
from app.domain.papers.document import Answer, Caution, QuestionBlock, answer_key
from app.domain.papers.statistics_paper import statistics_document

BODY = {"what": "Thickness", "unit": "mm", "minimum": 45.7, "maximum": 46.3}


@pytest.mark.parametrize(
    ("written", "value", "words"),
    [
        ("460", 460.0, "10 times too large; was 46"),
        ("4.6", 4.6, "10 times too small; was 46"),
        ("1.811", 1.811, "25.4 times too small"),
        ("0.046 m", 46.0, "is asked in mm"),
        ("90", 90.0, "far outside"),
    ],
)
def test_a_slip_of_the_decimal_point_or_the_unit_is_asked_about(written, value, words):
    found = read_reading(BODY, written)

    assert found.value == pytest.approx(value)
    assert words in " ".join(found.doubts)


GAP = {"what": "Gap", "unit": "mm", "minimum": 0, "maximum": 0.05}
OFFSET = {"what": "Offset", "unit": "mm", "maximum_absolute": 0.05}


@pytest.mark.parametrize("check", [GAP, OFFSET])
def test_a_reading_ten_times_off_is_asked_about_where_nought_is_meant(check):
    (asked,) = read_reading(check, "0.3").doubts
    assert asked == "0.3 mm is out of limits; was 0.03 mm meant?"
    assert "far outside" in read_reading(check, "0.8").doubts[0]
    assert read_reading(check, "0.08").doubts == ()


def test_what_cannot_be_below_zero_is_refused_there_and_an_offset_is_not():
    with pytest.raises(ValueError, match="is below zero"):
        read_reading(GAP, "−0.03")
    assert read_reading(OFFSET, "-0.03").value == -0.03


def test_no_is_out_of_the_limits_of_a_check_by_eye():
    by_eye = {"what": "Flush all round", "unit": "yes/no"}
    assert [within_limits(by_eye, read_reading(by_eye, word).value) for word in ("yes", "no")] == [
        True,
        False,
    ]


@pytest.mark.parametrize("written", ["46", "46.2 mm", "46,2", " 45.5 ", "47"])
def test_a_reading_in_or_near_the_limits_is_not_questioned(written):
    # 25.4 mm to the inch is exact by definition (NIST SP 811).
    assert read_reading(BODY, written).doubts == ()


def test_inches_are_converted_by_definition_and_asked_about():
    found = read_reading(BODY, "1 13/16 in")

    assert found.value == pytest.approx(1.8125 * 25.4)
    assert found.doubts


@pytest.mark.parametrize("written", ["", "abc", "4 kg", "nan", "inf", "1e400", "=2+2", "4,6,7"])
def test_what_is_no_reading_is_refused_in_words(written):
    with pytest.raises(ValueError, match="Thickness"):
        read_reading(BODY, written)


@given(st.text(max_size=60))
def test_no_text_breaks_the_reader(text):
    words = ""
    try:
        value = read_reading(BODY, text).value
    except ValueError as error:
        value, words = 0.0, str(error)

    assert math.isfinite(value)
    assert words == "" or words.startswith("Thickness")


def test_yes_and_no_are_readings_where_they_are_asked():
    check = {"what": "Pocket masked", "unit": "yes/no", "minimum": 1, "maximum": 1}

    assert read_reading(check, "yes").value == 1
    assert read_reading(check, "No").value == 0


def test_the_class_data_set_has_the_certified_mean_and_deviation():
    # NIST Statistical Reference Datasets, NumAcc1 (public domain): 10000001, 10000003, 10000002;
    # certified mean 10000002, standard deviation 1.
    points = tuple(Point(f"T{n}", v) for n, v in enumerate((10000001.0, 10000003.0, 10000002.0)))
    found = DataSet("E1", "x", "mm", points, 10000001.5, 10000003.5).statistics()

    assert found.mean == 10000002
    assert found.standard_deviation == pytest.approx(1, rel=1e-12)
    assert found.share_within == pytest.approx(2 / 3)


def test_the_twelfth_fret_is_predicted_at_half_the_string():
    # An octave is half the string: 324 mm of 648 mm; the 24th at three quarters.
    found = fret_residuals([("T1", 12, 324.3), ("T1", 24, 486.0), ("T9", 1, 36.0)], {"T1": 0.648})

    assert [round(item.predicted_mm, 6) for item in found] == [324.0, 486.0]
    assert found[0].residual_mm == pytest.approx(0.3)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40))
def test_a_strip_holds_every_reading_in_order_and_covers_none(values):
    drawn = strip([Point(str(n), value) for n, value in enumerate(values)], apart=40)

    assert len(drawn.marks) == len(values)
    assert all(-1e-6 <= mark.x <= drawn.width + 1e-6 for mark in drawn.marks)
    ordered = sorted(drawn.marks, key=lambda mark: mark.value)
    assert all(a.x <= b.x for a, b in itertools.pairwise(ordered))
    rows = {}
    for mark in drawn.marks:
        assert rows.get(mark.row, -1e9) + 40 <= mark.x + 1e-6
        rows[mark.row] = mark.x


def test_limits_stand_in_the_strip_as_a_band():
    drawn = strip([Point("T1", 46.0)], low=45.7, high=46.3)
    (mark,) = drawn.marks

    assert drawn.band[0] < mark.x < drawn.band[1]


def test_air_is_judged_by_common_practice_until_a_label_speaks():
    # 18 to 29 °C and up to 65 % RH: common practice, no source.
    assert judge(21, 45, DryingLabel()).coat
    assert not judge(16, 45, DryingLabel()).coat
    assert not judge(21, 70, DryingLabel()).coat
    assert "common practice, no source" in judge(21, 70, DryingLabel()).source
    assert judge(16, 70, DryingLabel(10, 30, 80, product="Oil")).coat
    assert judge(None, None, DryingLabel()).coat is None


def test_degrees_fahrenheit_are_converted_by_definition():
    # 68 °F is 20 °C (NIST SP 811, appendix B.8).
    assert read_air("68 °F", "45 %") == (20.0, 45.0)


def test_poor_air_doubles_the_wait_and_the_label_overrides_it():
    done = dt.datetime(2027, 3, 1, 10, 45, tzinfo=dt.UTC)
    poor = judge(16, 45, DryingLabel())

    assert ready_at(done, 3, poor, DryingLabel()) == done + dt.timedelta(hours=6)
    assert ready_at(done, 3, poor, DryingLabel(recoat_hours=1.5)) == done + dt.timedelta(hours=1.5)


def slip(**more):
    return Slip(section="Period 3", student="S1-02", team="T02", date=dt.date(2027, 3, 1), **more)


def texts(document):
    return " ".join(repr(block) for block in document.blocks)


def test_a_slip_says_what_was_missed_what_to_do_with_whom_and_the_caution():
    hazard = StepHazard("E26", "Bore", ("Clamp the work",), ("eye protection",), "line of sight")
    document = slip_document(
        slip(
            partners=("S1-13",),
            lessons=(MissedLesson("Chords", "I can find a radius.", 20, "Fretting"),),
            work=(
                MissedWork("E26", "Bore", "Drill press", done=True, way="Technician batch"),
                MissedWork("E27", "Sand", "Bench", done=False, way="Open bench"),
            ),
            signing_off=("Drill press: not signed off yet (check-out missing).",),
            hazards=(hazard,),
        )
    )
    text = texts(document)

    for words in ("I can find a radius.", "Worksheet: Fretting", "done by your team", "open bench",
                  "Ask S1-13 to show you", "not signed off yet"):  # fmt: skip
        assert words in text
    assert "echnician batch" not in text  # the team has done it
    assert any(isinstance(block, Caution) and block.deferral for block in document.blocks)


def test_a_slip_never_says_why_somebody_was_away():
    assert "ill" not in texts(slip_document(slip())).lower().replace("will", "").split()
    assert "Nothing has to be made up" in texts(slip_document(slip()))


def test_the_statistics_sheet_asks_about_the_classs_own_readings_and_keys_them():
    points = tuple(Point(f"T{n:02d}", 46 + n / 10) for n in range(-2, 3))
    document = statistics_document(DataSet("E9", "Thickness", "mm", points, 45.9, 46.3), "Period 3")
    answers = [block for block in answer_key(document).blocks if isinstance(block, Answer)]

    assert sum(isinstance(block, QuestionBlock) for block in document.blocks) == len(answers)
    assert answers[0].value == pytest.approx(46.0)
    assert answers[-1].value == pytest.approx(80.0)
    assert "46 mm" not in " ".join(
        block.text for block in document.blocks if isinstance(block, QuestionBlock)
    )


def test_two_readings_are_too_few_for_a_sheet():
    with pytest.raises(ValueError, match="too few"):
        statistics_document(DataSet("E9", "x", "mm", (Point("T1", 1), Point("T2", 2))), "Period 3")


def test_a_step_of_several_days_is_named_once_in_the_caution_of_the_week():
    bore = StepHazard("E26", "Bore", ("Clamp the work",), ("eye protection",), "line of sight")
    saw = StepHazard("E14", "Saw", ("Clamp the work",), (), "line of sight")
    caution = merged_caution([bore, saw, bore])
    assert caution.hazards == ("Clamp the work (E26, E14)",)
    assert caution.supervision == "line of sight: E26, E14"
