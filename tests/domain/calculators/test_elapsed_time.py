"""Elapsed time against the calendar arithmetic of the standard library."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.calculators import InvalidInput, calculate
from app.domain.calculators.elapsed_time import clock_text, read_clock


def test_glue_at_10_35_for_90_minutes_before_the_12_20_bell():
    # 10:35 + 1 h 30 min = 12:05, a quarter of an hour to spare (arithmetic).
    found = calculate("elapsed-time", {"start": "10:35", "duration": "90 min", "bell": "12:20"})
    assert found.values["end"] == "12:05"
    assert found.values["spare"] == 900
    assert found.values["in_time"] == "yes"


@given(st.times(), st.integers(0, 3000))
def test_the_end_is_what_datetime_finds(start, minutes):
    begin = dt.datetime.combine(dt.date(2027, 2, 9), start.replace(second=0, microsecond=0))
    end = begin + dt.timedelta(minutes=minutes)
    found = calculate(
        "elapsed-time", {"start": f"{start.hour}:{start.minute:02d}", "duration": minutes}
    )
    days = (end.date() - begin.date()).days
    clock = f"{end.hour}:{end.minute:02d}"
    assert found.values["end"].split(" (")[0] == clock
    assert (f"{days} day" in found.values["end"]) == (days > 0)


@pytest.mark.parametrize(
    ("text", "hour", "minute"),
    [
        ("1:05 pm", 13, 5),
        ("12:00 am", 0, 0),
        ("12:30 PM", 12, 30),
        ("07:08", 7, 8),
        ("23:59", 23, 59),
    ],
)
def test_clock_times_are_read(text, hour, minute):
    assert read_clock(text) == hour * 3600 + minute * 60


def test_a_latest_start_the_day_before_says_so():
    assert clock_text(-600) == "23:50 (1 day earlier)"


def test_the_longest_time_that_still_fits_is_found():
    found = calculate(
        "elapsed-time", {"start": "10:35", "bell": "12:20", "spare": "0 min"}, "duration"
    )
    assert found.values["duration"] == pytest.approx(105 * 60)


@pytest.mark.parametrize("text", ["25:00", "10:60", "10.35", "13:00 pm", "noon", "1e9:00", "-1:00"])
def test_a_time_that_is_none_is_refused_in_words(text):
    with pytest.raises(InvalidInput, match="time of day"):
        calculate("elapsed-time", {"start": text})
