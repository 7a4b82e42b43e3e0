"""Calendar arithmetic.

The counts of the sample term come with the term: sample term, invented; counts worked by hand.
Recurrences are checked against dateutil (python-dateutil, iCalendar recurrence rules, RFC 5545).
"""

import json
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from dateutil import rrule
from hypothesis import given
from hypothesis import strategies as st

from app.domain.scheduling.calendar import (
    BellTime,
    Block,
    CalendarError,
    ClassMeeting,
    DayException,
    LessonRoutine,
    LetterPolicy,
    MeetingPattern,
    StaffChange,
    Staffing,
    TermCalendar,
    amended,
    closures,
    fits,
    meetings,
    minutes_left,
    overlapping,
    problems,
    school_days,
    totals,
    within,
)

SAMPLE: dict[str, Any] = json.loads((Path(__file__).parent / "sample_term.json").read_text("utf-8"))
SNOW = [date(2027, 1, 26), date(2027, 2, 3), date(2027, 2, 4)]
DELAY = date(2027, 2, 5)


def _sample_term(policy: LetterPolicy = LetterPolicy.FIXED, *, drills: bool = True) -> TermCalendar:
    special = []
    for day in SAMPLE["days"]:
        on = date.fromisoformat(day["date"])
        if on < date.fromisoformat(SAMPLE["first_day"]):
            continue
        label = day.get("label", "")
        if day["type"] == "no_school":
            special.append(DayException(on, label, closed=True))
        elif day["type"] != "regular" or "drill_minutes" in day:
            drill = day.get("drill_minutes", 0) if drills else 0
            special.append(DayException(on, label, schedule=day["type"], drill_minutes=drill))
    return TermCalendar(
        first_day=date.fromisoformat(SAMPLE["first_day"]),
        last_day=date.fromisoformat(SAMPLE["last_day"]),
        letters=("A", "B"),
        letter_policy=policy,
        exceptions=tuple(special),
    )


def _sample_pattern(which: str) -> MeetingPattern:
    bells = tuple(BellTime(name, of[which]) for name, of in SAMPLE["bell_schedules"].items())
    facts = SAMPLE[which]
    letters = (facts["letter"],) if "letter" in facts else ()
    block = Block(time.fromisoformat(facts["start"]), bells, letters=letters)
    return MeetingPattern((block,), facts["opening"], facts["closing"])


def _snowed(term: TermCalendar) -> TermCalendar:
    snow = [DayException(day, "Snow", closed=True, planned=False) for day in SNOW]
    return amended(term, [*snow, DayException(DELAY, "Delay", schedule="two_hour_delay")])


def _counts(term: TermCalendar, which: str) -> tuple[int, int, int]:
    sums = totals(meetings(term, _sample_pattern(which)))
    return sums.meetings, sums.minutes, sums.bench_minutes


def _plain(first: date, last: date, **changes: Any) -> TermCalendar:
    return TermCalendar(first_day=first, last_day=last, **changes)


def _daily(minutes: int = 45, start: time = time(9, 0), **changes: Any) -> MeetingPattern:
    return MeetingPattern((Block(start, (BellTime("regular", minutes),), **changes),))


# --- reference counts: sample term, invented; counts worked by hand -----------------------------


def test_daily_section_has_the_reference_counts():
    assert _counts(_sample_term(), "daily") == (84, 3654, 2646)


def test_alternate_day_block_has_the_reference_counts():
    assert _counts(_sample_term(), "block") == (42, 3391, 2761)


def test_three_snow_days_and_a_delay_with_fixed_letters_have_the_reference_counts():
    term = _snowed(_sample_term())
    assert _counts(term, "daily") == (81, 3496, 2524)
    assert _counts(term, "block") == (41, 3303, 2688)


def test_a_make_up_day_gives_the_reference_counts():
    make_up = DayException(date(2027, 2, 15), "Make-up day", make_up=True)
    term = amended(_snowed(_sample_term()), [make_up])
    assert _counts(term, "daily") == (82, 3543, 2559)
    assert _counts(term, "block") == (41, 3303, 2688)


def test_rolling_letters_lose_one_more_block_but_fewer_bench_minutes():
    block = _counts(_snowed(_sample_term(LetterPolicy.ROLLING)), "block")
    assert (block[0], block[2]) == (40, 2700)


def test_letters_and_weeks_of_the_sample_term_are_as_published():
    open_days = [d for d in SAMPLE["days"] if d["type"] != "no_school"]
    expected = [(d["date"], d["letter"], d["week"]) for d in open_days]
    days = school_days(_sample_term())
    assert [(d.date.isoformat(), d.letter, d.week) for d in days] == expected


def test_work_axis_of_the_sample_electric_section_has_479_ticks():
    # Sample electric section, invented: 479 ticks of 5 minutes, counted with no drill and with
    # 20-minute lessons on the regular days among the lesson dates.
    routine = LessonRoutine(
        20,
        dates=tuple(date.fromisoformat(d) for d in SAMPLE["daily_lesson_dates"]),
        on_schedules=("regular",),
    )
    placed = meetings(_sample_term(drills=False), _sample_pattern("daily"), routine)
    assert sum(m.work_minutes // 5 for m in placed) == 479
    assert [m.work_minutes for m in placed[:14]] == [
        15, 35, 35, 35, 15, 35, 20, 35, 15, 35, 35, 35, 26, 35,
    ]  # fmt: skip


def test_a_final_examination_day_of_no_minutes_is_no_meeting():
    placed = meetings(_sample_term(), _sample_pattern("daily"))
    assert placed[-1].date == date(2027, 5, 12)


def test_a_drill_shortens_the_meeting_it_falls_in():
    placed = {m.date: m for m in meetings(_sample_term(), _sample_pattern("daily"))}
    assert placed[date(2027, 1, 14)].minutes == 47 - 12
    assert placed[date(2027, 1, 14)].bench_minutes == 47 - 12 - 12


# --- recurrences against dateutil ----------------------------------------------------------------

WEEKDAYS = st.sets(st.integers(0, 6), min_size=1)


@given(
    first=st.dates(date(2024, 1, 1), date(2028, 1, 1)),
    length=st.integers(0, 200),
    weekdays=WEEKDAYS,
    closed=st.sets(st.integers(0, 200), max_size=20),
)
def test_dates_of_a_weekly_pattern_agree_with_dateutil(first, length, weekdays, closed):
    last = first + timedelta(days=length)
    off = {first + timedelta(days=n) for n in closed if n <= length}
    rule = rrule.rruleset()
    rule.rrule(
        rrule.rrule(
            rrule.WEEKLY,
            byweekday=sorted(weekdays),
            dtstart=datetime.combine(first, time(9)),
            until=datetime.combine(last, time(9)),
        )
    )
    for day in off:
        rule.exdate(datetime.combine(day, time(9)))
    term = _plain(
        first,
        last,
        school_weekdays=tuple(range(7)),
        exceptions=tuple(DayException(day, closed=True) for day in off),
    )
    pattern = _daily(weekdays=tuple(weekdays))
    expected = list(rule)
    if expected:
        assert [m.start for m in meetings(term, pattern)] == expected
    else:
        with pytest.raises(CalendarError, match="no meeting"):
            meetings(term, pattern)


def test_alternating_letters_agree_with_every_second_school_day_of_dateutil():
    first, last = date(2026, 8, 24), date(2026, 12, 18)
    term = _plain(first, last, letters=("A", "B"))
    rule = rrule.rrule(
        rrule.DAILY,
        byweekday=(rrule.MO, rrule.TU, rrule.WE, rrule.TH, rrule.FR),
        dtstart=datetime.combine(first, time(9)),
        until=datetime.combine(last, time(9)),
    )
    placed = meetings(term, _daily(letters=("B",)))
    assert [m.start for m in placed] == list(rule)[1::2]


# --- letters ------------------------------------------------------------------------------------

WEEK = (date(2026, 9, 7), date(2026, 9, 11))  # a Monday to Friday


def _letters(term: TermCalendar) -> str:
    return "".join(d.letter or "-" for d in school_days(term))


@pytest.mark.parametrize(
    ("policy", "planned", "letters"),
    [
        (LetterPolicy.FIXED, False, "ABBA"),  # Wednesday's A is used up
        (LetterPolicy.ROLLING, False, "ABAB"),  # it moves to Thursday
        (LetterPolicy.FIXED, True, "ABAB"),  # a holiday never had a letter
        (LetterPolicy.ROLLING, True, "ABAB"),
    ],
)
def test_a_closed_wednesday_uses_or_passes_on_its_letter(policy, planned, letters):
    term = _plain(*WEEK, letters=("A", "B"), letter_policy=policy)
    closed = closures(date(2026, 9, 9), label="Closed", planned=planned)
    assert _letters(amended(term, closed)) == letters


def test_a_make_up_day_has_no_letter_when_letters_are_fixed_and_the_next_when_they_roll():
    for policy, letters in ((LetterPolicy.FIXED, "AB-AB"), (LetterPolicy.ROLLING, "ABABA")):
        term = _plain(*WEEK, letters=("A", "B"), letter_policy=policy)
        term = amended(term, closures(date(2026, 9, 9)))
        assert _letters(amended(term, [DayException(date(2026, 9, 9), make_up=True)])) == letters


def test_a_make_up_day_takes_the_letter_it_is_given():
    term = _plain(*WEEK, letters=("A", "B"), exceptions=closures(date(2026, 9, 9)))
    term = amended(term, [DayException(date(2026, 9, 9), make_up=True, letter="B")])
    assert _letters(term) == "ABBAB"


def test_closing_a_holiday_or_a_make_up_day_again_uses_no_letter_up():
    term = _plain(*WEEK, letters=("A", "B"), exceptions=closures(date(2026, 9, 9)))
    snow = closures(date(2026, 9, 9), label="Snow", planned=False)
    assert _letters(amended(term, snow)) == "ABAB"
    made_up = amended(term, [DayException(date(2026, 9, 9), make_up=True)])
    assert _letters(amended(made_up, snow)) == "ABAB"


# --- patterns -----------------------------------------------------------------------------------


def test_a_five_day_workshop_of_full_days_has_two_meetings_a_day():
    morning = Block(time(8, 30), (BellTime("regular", 210),))
    afternoon = Block(time(13, 0), (BellTime("regular", 180),))
    placed = meetings(_plain(*WEEK), MeetingPattern((afternoon, morning), 10, 20))
    assert [m.number for m in placed] == list(range(1, 11))
    assert placed[0].start < placed[1].start < placed[2].start
    assert totals(placed).minutes == 5 * (210 + 180)
    assert totals(placed).bench_minutes == 5 * (210 + 180) - 10 * 30


def test_blocks_of_different_length_on_different_weekdays_make_one_pattern():
    short = Block(time(10, 0), (BellTime("regular", 45),), weekdays=(0, 4))
    long = Block(time(9, 0), (BellTime("regular", 90),), weekdays=(2,))
    placed = meetings(_plain(*WEEK), MeetingPattern((short, long)))
    assert [(m.date.day, m.minutes) for m in placed] == [(7, 45), (9, 90), (11, 45)]


def test_a_delayed_bell_schedule_moves_the_start():
    block = Block(time(10, 20), (BellTime("regular", 47), BellTime("delay", 30, time(11, 35))))
    delayed = DayException(date(2026, 9, 8), schedule="delay")
    placed = meetings(_plain(*WEEK, exceptions=(delayed,)), MeetingPattern((block,)))
    assert placed[1].start == datetime.fromisoformat("2026-09-08T11:35")
    assert placed[1].end == datetime.fromisoformat("2026-09-08T12:05")
    assert placed[2].start.time() == time(10, 20)


def test_a_make_up_day_on_a_saturday_meets():
    saturday = DayException(date(2026, 9, 12), "Make-up", make_up=True)
    placed = meetings(_plain(WEEK[0], date(2026, 9, 13), exceptions=(saturday,)), _daily())
    assert placed[-1].date == date(2026, 9, 12)
    assert len(placed) == 6


def test_a_week_of_holidays_has_no_number_and_a_week_of_snow_keeps_its_own():
    for planned, weeks in ((True, [1, 2]), (False, [1, 3])):
        off = closures(date(2026, 9, 14), date(2026, 9, 18), "Closed", planned=planned)
        term = _plain(WEEK[0], date(2026, 9, 25), exceptions=off)
        assert sorted({m.week for m in meetings(term, _daily())}) == weeks


def test_opening_and_clean_up_longer_than_the_meeting_leave_no_bench_minutes():
    pattern = MeetingPattern(_daily(10).blocks, opening_minutes=5, closing_minutes=7)
    meeting = meetings(_plain(*WEEK), pattern)[0]
    assert (meeting.bench_minutes, meeting.work_minutes) == (0, 0)
    assert meeting.work_end <= meeting.end


def test_within_keeps_only_the_holidays_of_the_term():
    year = closures(date(2026, 9, 1), date(2026, 9, 30))
    assert len(within(_plain(*WEEK), year)) == 5


def test_a_new_bell_schedule_keeps_the_drill_of_the_day():
    drill = DayException(date(2026, 9, 8), "Drill", drill_minutes=12)
    late = DayException(date(2026, 9, 8), "Delay", schedule="delay")
    (merged,) = amended(_plain(*WEEK, exceptions=(drill,)), [late]).exceptions
    assert (merged.schedule, merged.drill_minutes, merged.label) == ("delay", 12, "Delay")


# --- routine and adults ---------------------------------------------------------------------------


def _lesson_numbers(routine: LessonRoutine) -> list[int]:
    placed = meetings(_plain(WEEK[0], date(2026, 9, 18)), _daily(), routine)
    return [m.number for m in placed if m.lesson_minutes]


def test_a_lesson_every_third_meeting_counts_from_the_first():
    assert _lesson_numbers(LessonRoutine(every=3)) == [1, 4, 7, 10]
    assert _lesson_numbers(LessonRoutine(every=3, first=2)) == [2, 5, 8]


def test_lessons_can_fall_on_weekdays_or_on_dates():
    assert _lesson_numbers(LessonRoutine(weekdays=(0, 3))) == [1, 4, 6, 9]
    assert _lesson_numbers(LessonRoutine(dates=(date(2026, 9, 16),))) == [8]


def test_without_a_rule_there_is_no_lesson_day():
    assert _lesson_numbers(LessonRoutine()) == []


def test_a_unit_test_takes_the_place_of_the_lesson():
    routine = LessonRoutine(20, every=1, unit_test_meetings=(2,), unit_test_minutes=30)
    placed = meetings(_plain(*WEEK), _daily(45), routine)
    assert [(m.lesson_minutes, m.test_minutes, m.work_minutes) for m in placed[:2]] == [
        (20, 0, 25),
        (0, 30, 15),
    ]


def test_a_lesson_never_takes_more_than_the_bench_minutes():
    pattern = MeetingPattern(_daily(30).blocks, 5, 7)
    meeting = meetings(_plain(*WEEK), pattern, LessonRoutine(20, every=1))[0]
    assert (meeting.lesson_minutes, meeting.work_minutes) == (18, 0)


def test_work_starts_after_the_lesson_and_ends_before_clean_up():
    pattern = MeetingPattern(_daily(47, time(10, 20)).blocks, 5, 7)
    meeting = meetings(_plain(*WEEK), pattern, LessonRoutine(20, every=1))[0]
    assert meeting.work_start.time() == time(10, 45)
    assert meeting.work_end.time() == time(11, 0)


def test_a_substitute_day_turns_machine_power_off():
    away = StaffChange(date(2026, 9, 8), date(2026, 9, 9), 0, assistants=1, machine_power=False)
    placed = meetings(_plain(*WEEK), _daily(), staffing=Staffing(1, 0, (away,)))
    assert [m.machine_power for m in placed] == [True, False, False, True, True]
    assert [m.qualified_adults for m in placed] == [1, 0, 0, 1, 1]


# --- bad input ------------------------------------------------------------------------------------


def _refusal(term: TermCalendar, pattern: MeetingPattern, **more: Any) -> str:
    with pytest.raises(CalendarError) as refused:
        meetings(term, pattern, **more)
    return " ".join(refused.value.sentences)


def test_reversed_dates_are_refused_with_both_dates():
    said = _refusal(_plain(WEEK[1], WEEK[0]), _daily())
    assert "2026-09-07" in said
    assert "2026-09-11" in said


def test_a_pattern_with_no_meeting_is_refused():
    assert "no meeting" in _refusal(_plain(*WEEK), _daily(weekdays=(5,)))
    assert "no meeting" in _refusal(_plain(*WEEK), _daily(0))
    assert "no meeting" in _refusal(_plain(*WEEK, exceptions=closures(*WEEK)), _daily())


def test_an_unknown_bell_schedule_is_named_with_its_date():
    odd = DayException(date(2026, 9, 8), schedule="pep_rally")
    said = _refusal(_plain(*WEEK, exceptions=(odd,)), _daily())
    assert "pep_rally" in said
    assert "2026-09-08" in said


def test_an_event_outside_the_term_is_refused():
    said = _refusal(_plain(*WEEK, exceptions=closures(date(2026, 12, 25))), _daily())
    assert "2026-12-25 lies outside the term" in said


@pytest.mark.parametrize(
    ("exceptions", "words"),
    [
        ((*closures(WEEK[0]), *closures(WEEK[0])), "more than once"),
        ((DayException(WEEK[0], closed=True, make_up=True),), "choose one"),
        ((DayException(WEEK[0], drill_minutes=-1),), "0 or more"),
        ((DayException(WEEK[0], letter="C"),), "letter C"),
        ((DayException(date(2026, 9, 12), drill_minutes=5),), "Saturday"),
    ],
)
def test_an_odd_day_is_refused_in_a_sentence(exceptions, words):
    term = _plain(WEEK[0], date(2026, 9, 13), exceptions=exceptions)
    assert words in _refusal(term, _daily())


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        (MeetingPattern(()), "no block"),
        (_daily(letters=("A",)), "letter A"),
        (_daily(-5), "-5 minutes"),
        (_daily(weekdays=(7,)), "weekday"),
        (MeetingPattern(_daily().blocks, opening_minutes=-1), "Opening"),
        (MeetingPattern((*_daily().blocks, *_daily(start=time(9, 30)).blocks)), "overlap"),
    ],
)
def test_an_odd_pattern_is_refused_in_a_sentence(pattern, words):
    assert words in _refusal(_plain(*WEEK), pattern)


@pytest.mark.parametrize(
    ("routine", "words"),
    [
        (LessonRoutine(every=0), "k of 1"),
        (LessonRoutine(every=1, first=0), "1 or more"),
        (LessonRoutine(-1), "0 or more"),
        (LessonRoutine(dates=(date(2026, 9, 12),)), "2026-09-12 falls on no meeting"),
        (LessonRoutine(unit_test_dates=(date(2026, 9, 12),)), "unit test of 2026-09-12"),
        (LessonRoutine(unit_test_meetings=(9,)), "meeting 9, but the term has 5"),
    ],
)
def test_an_odd_routine_is_refused_in_a_sentence(routine, words):
    assert words in _refusal(_plain(*WEEK), _daily(), routine=routine)


def test_odd_staffing_is_refused_in_a_sentence():
    back = StaffChange(WEEK[1], WEEK[0], 1)
    assert "before it starts" in _refusal(_plain(*WEEK), _daily(), staffing=Staffing(1, 0, (back,)))
    assert "adults" in _refusal(_plain(*WEEK), _daily(), staffing=Staffing(-1))


def test_all_mistakes_are_told_at_once():
    odd = (DayException(WEEK[0], drill_minutes=-1), *closures(date(2027, 1, 1)))
    assert len(problems(_plain(*WEEK, exceptions=odd), _daily(-5))) == 3


def test_a_closure_that_ends_before_it_starts_is_refused():
    with pytest.raises(CalendarError, match="before it starts"):
        closures(WEEK[1], WEEK[0], "Spring break")


def test_terms_that_share_a_date_are_named():
    autumn = _plain(date(2026, 8, 24), date(2027, 1, 8), title="Autumn")
    spring = _plain(date(2027, 1, 5), date(2027, 5, 14), title="Spring")
    assert overlapping([spring, autumn]) == (
        "Spring starts on 2027-01-05, before Autumn ends on 2027-01-08: move one of the two dates.",
    )
    assert overlapping([autumn, _plain(date(2027, 1, 9), date(2027, 5, 14))]) == ()


# --- does it fit ----------------------------------------------------------------------------------


def _two_meetings() -> tuple[ClassMeeting, ...]:
    pattern = MeetingPattern(_daily(47, time(10, 20)).blocks, 5, 7)
    return meetings(_plain(*WEEK), pattern)[:2]  # benches 10:25 to 11:00


def test_minutes_left_run_from_bench_opening_to_clean_up():
    today, _ = _two_meetings()
    assert minutes_left(today, today.start) == 35
    assert minutes_left(today, datetime.fromisoformat("2026-09-07T10:40:30")) == 19
    assert minutes_left(today, today.end) == 0


def test_a_step_longer_than_the_minutes_left_does_not_fit():
    today, tomorrow = _two_meetings()
    answer = fits(25, 0, today, datetime.fromisoformat("2026-09-07T10:40"), tomorrow)
    assert (answer.fits, answer.minutes_left) == (False, 20)
    assert "25 min and 20 min are left" in answer.sentence


@pytest.mark.parametrize(("hours", "dries"), [(23.5, True), (24, False), (0, None)])
def test_drying_runs_on_the_clock_to_the_next_work(hours, dries):
    # Done at 10:55 on Monday; benches open at 10:25 on Tuesday, 23.5 h later.
    today, tomorrow = _two_meetings()
    answer = fits(15, hours, today, datetime.fromisoformat("2026-09-07T10:40"), tomorrow)
    assert answer.fits
    assert answer.dries is dries


def test_after_the_last_meeting_nothing_need_be_dry():
    today, _ = _two_meetings()
    answer = fits(15, 500, today, today.start)
    assert (answer.fits, answer.dries) == (True, None)


def test_negative_minutes_are_refused():
    today, _ = _two_meetings()
    with pytest.raises(ValueError, match="0 or more"):
        fits(-1, 0, today, today.start)
