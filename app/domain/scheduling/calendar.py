"""A term's dates, bell schedules and routine, turned into numbered class meetings.

Everything is a value: dates come in, meetings go out, and no clock is read. Times of day are
the school's own local time, without a zone. Minutes are whole minutes.

The order inside a meeting is opening, lesson or unit test, work, clean-up.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum

REGULAR = "regular"
MONDAY_TO_FRIDAY = (0, 1, 2, 3, 4)
WEEKDAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MINUTES_IN_A_DAY = 24 * 60


class LetterPolicy(StrEnum):
    """What becomes of a day's letter when the school closes unexpectedly."""

    FIXED = "fixed"  # the closure uses its letter up
    ROLLING = "rolling"  # the letter moves to the next school day


@dataclass(frozen=True, slots=True)
class DayException:
    """One date that is not an ordinary school day.

    ``planned`` tells a holiday known when the letters were published (it never had a letter)
    from a closure that came as a surprise (its letter is lost, or rolls on).
    ``schedule`` of None means the regular bells. ``letter`` overrides the day's letter.
    """

    date: date
    label: str = ""
    closed: bool = False
    planned: bool = True
    schedule: str | None = None
    drill_minutes: int = 0
    make_up: bool = False
    letter: str | None = None


@dataclass(frozen=True, slots=True)
class TermCalendar:
    """First and last day of classes, the school's weekdays and letters, and its exceptions."""

    first_day: date
    last_day: date
    title: str = "The term"
    school_weekdays: tuple[int, ...] = MONDAY_TO_FRIDAY  # 0 is Monday
    letters: tuple[str, ...] = ()  # given out in turn over school days, such as ("A", "B")
    letter_policy: LetterPolicy = LetterPolicy.FIXED
    exceptions: tuple[DayException, ...] = ()


@dataclass(frozen=True, slots=True)
class BellTime:
    """How long a block lasts under one bell schedule; ``start`` only where the hour moves."""

    schedule: str
    minutes: int  # 0: the class does not meet under this schedule
    start: time | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """A class period: when it starts, how long it is, on which weekdays and letters it meets."""

    start: time
    bells: tuple[BellTime, ...]
    weekdays: tuple[int, ...] = MONDAY_TO_FRIDAY
    letters: tuple[str, ...] = ()  # empty: every letter


@dataclass(frozen=True, slots=True)
class MeetingPattern:
    """The blocks of one section (a full workshop day has two), and what each meeting gives away."""

    blocks: tuple[Block, ...]
    opening_minutes: int = 0
    closing_minutes: int = 0


@dataclass(frozen=True, slots=True)
class LessonRoutine:
    """Which meetings begin with a lesson, for how long, and which carry a unit test.

    A meeting is a lesson day if any of ``every``, ``weekdays``, ``dates`` picks it, unless
    ``on_schedules`` is given and its bell schedule is not among them. A unit test takes the
    lesson's place. Neither ever takes more than the bench minutes of its meeting.
    """

    lesson_minutes: int = 20
    every: int | None = None  # every k-th meeting, counted from meeting ``first``
    first: int = 1
    weekdays: tuple[int, ...] = ()
    dates: tuple[date, ...] = ()
    on_schedules: tuple[str, ...] = ()
    unit_test_dates: tuple[date, ...] = ()
    unit_test_meetings: tuple[int, ...] = ()
    unit_test_minutes: int = 30


@dataclass(frozen=True, slots=True)
class StaffChange:
    """Adults on the dates from ``first`` to ``last``; a substitute means machine power off."""

    first: date
    last: date
    qualified: int
    assistants: int = 0
    machine_power: bool = True


@dataclass(frozen=True, slots=True)
class Staffing:
    """Adults in the room: qualified for machines, and others."""

    qualified: int = 1
    assistants: int = 0
    changes: tuple[StaffChange, ...] = ()

    def on(self, day: date) -> StaffChange:
        """Return the adults present on a date (the last matching change wins)."""
        for change in reversed(self.changes):
            if change.first <= day <= change.last:
                return change
        return StaffChange(day, day, self.qualified, self.assistants, self.qualified > 0)


@dataclass(frozen=True, slots=True)
class SchoolDay:
    """A date on which the school is open."""

    date: date
    week: int  # instructional week, from 1; a week of holidays has no number
    letter: str | None
    schedule: str
    drill_minutes: int
    label: str


@dataclass(frozen=True, slots=True)
class ClassMeeting:
    """One class period on one date."""

    number: int  # from 1
    date: date
    start: datetime  # local time of the school
    minutes: int  # bell to bell, less a drill
    kind: str  # the bell schedule: "regular", "early_release" …
    letter: str | None
    week: int
    opening_minutes: int
    closing_minutes: int
    lesson_minutes: int = 0
    test_minutes: int = 0
    qualified_adults: int = 1
    assistants: int = 0
    machine_power: bool = True
    label: str = ""

    @property
    def end(self) -> datetime:
        """The closing bell."""
        return self.start + timedelta(minutes=self.minutes)

    @property
    def bench_minutes(self) -> int:
        """Minutes less opening and clean-up, never below 0."""
        return max(0, self.minutes - self.opening_minutes - self.closing_minutes)

    @property
    def work_minutes(self) -> int:
        """Bench minutes left after the lesson or unit test."""
        return max(0, self.bench_minutes - self.lesson_minutes - self.test_minutes)

    @property
    def work_start(self) -> datetime:
        """When benches open: after opening and the lesson or unit test."""
        before = self.opening_minutes + self.lesson_minutes + self.test_minutes
        return self.start + timedelta(minutes=min(before, self.minutes))

    @property
    def work_end(self) -> datetime:
        """When clean-up begins."""
        return self.work_start + timedelta(minutes=self.work_minutes)


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over meetings, in minutes."""

    meetings: int
    minutes: int
    bench_minutes: int
    lesson_minutes: int
    test_minutes: int
    work_minutes: int


class CalendarError(ValueError):
    """The calendar cannot be read as it stands; ``sentences`` say what to change."""

    def __init__(self, sentences: Sequence[str]):
        super().__init__(" ".join(sentences))
        self.sentences = tuple(sentences)


# --- changing a term ---------------------------------------------------------------------------


def closures(
    first: date, last: date | None = None, label: str = "", *, planned: bool = True
) -> tuple[DayException, ...]:
    """Return one closed day for each date from ``first`` to ``last``, both included."""
    end = first if last is None else last
    if end < first:
        raise CalendarError([f"{label or 'The closure'} ends on {end}, before it starts: {first}."])
    return tuple(
        DayException(day, label, closed=True, planned=planned) for day in _dates(first, end)
    )


def within(term: TermCalendar, exceptions: Iterable[DayException]) -> tuple[DayException, ...]:
    """Keep the exceptions that fall inside the term: a list of holidays covers whole years."""
    return tuple(e for e in exceptions if term.first_day <= e.date <= term.last_day)


def amended(term: TermCalendar, exceptions: Iterable[DayException]) -> TermCalendar:
    """Return the term with these exceptions laid over those it has, the later one winning.

    A closure takes the whole day; a new bell schedule keeps the day's drill and letter unless it
    brings its own. A day that had no letter (a holiday, a make-up day) cannot lose one.
    """
    by_date = {e.date: e for e in term.exceptions}
    for new in exceptions:
        old = by_date.get(new.date)
        by_date[new.date] = new if old is None else _overlaid(old, new)
    return replace(term, exceptions=tuple(by_date[day] for day in sorted(by_date)))


def _overlaid(old: DayException, new: DayException) -> DayException:
    if new.closed:
        had_letter = not old.make_up and not (old.closed and old.planned)
        return replace(new, planned=new.planned or not had_letter)
    if new.make_up:
        return new
    if old.closed:
        return new
    return replace(
        new,
        label=new.label or old.label,
        drill_minutes=new.drill_minutes or old.drill_minutes,
        make_up=old.make_up,
        letter=new.letter or old.letter,
        schedule=new.schedule or old.schedule,
    )


# --- from term to meetings ---------------------------------------------------------------------


def school_days(term: TermCalendar) -> tuple[SchoolDay, ...]:
    """Return the dates the school is open, with letter and instructional week."""
    by_date = {e.date: e for e in term.exceptions}
    weeks: dict[date, int] = {}
    days = []
    position = 0  # how many letters have been given out
    for day in _dates(term.first_day, term.last_day):
        special = by_date.get(day, DayException(day))
        ordinary = day.weekday() in term.school_weekdays and not special.make_up
        holiday = special.closed and special.planned
        if (not ordinary and not special.make_up) or holiday:
            continue
        # A surprise closure keeps its week's number: the printed week plans stay true.
        week = weeks.setdefault(day - timedelta(days=day.weekday()), len(weeks) + 1)
        rolls = term.letter_policy is LetterPolicy.ROLLING
        takes_letter = not special.closed if rolls else ordinary
        letter = term.letters[position % len(term.letters)] if term.letters else None
        position += takes_letter
        if special.closed:
            continue
        given = special.letter or (letter if takes_letter else None)
        days.append(
            SchoolDay(
                day, week, given, special.schedule or REGULAR, special.drill_minutes, special.label
            )
        )
    return tuple(days)


def meetings(
    term: TermCalendar,
    pattern: MeetingPattern,
    routine: LessonRoutine | None = None,
    staffing: Staffing | None = None,
) -> tuple[ClassMeeting, ...]:
    """Return the section's meetings in order, numbered from 1.

    Raises CalendarError with every problem as a sentence.
    """
    routine = routine or LessonRoutine()
    staffing = staffing or Staffing()
    found = problems(term, pattern, routine, staffing)
    if found:
        raise CalendarError(found)
    placed = tuple(
        _with_routine(meeting, routine, staffing) for meeting in _bare_meetings(term, pattern)
    )
    unmet = _routine_misses(placed, routine)
    if unmet:
        raise CalendarError(unmet)
    return placed


def totals(of: Iterable[ClassMeeting]) -> Totals:
    """Count meetings and add up their minutes."""
    listed = tuple(of)
    return Totals(
        meetings=len(listed),
        minutes=sum(m.minutes for m in listed),
        bench_minutes=sum(m.bench_minutes for m in listed),
        lesson_minutes=sum(m.lesson_minutes for m in listed),
        test_minutes=sum(m.test_minutes for m in listed),
        work_minutes=sum(m.work_minutes for m in listed),
    )


def _bare_meetings(term: TermCalendar, pattern: MeetingPattern) -> Iterator[ClassMeeting]:
    number = 0
    for day in school_days(term):
        for block in sorted(pattern.blocks, key=lambda b: b.start):
            if not _meets(block, day, term):
                continue
            bell = _bell(block, day.schedule)
            minutes = max(0, bell.minutes - day.drill_minutes) if bell else 0
            if bell is None or minutes == 0:
                continue
            number += 1
            yield ClassMeeting(
                number=number,
                date=day.date,
                start=datetime.combine(day.date, bell.start or block.start),
                minutes=minutes,
                kind=day.schedule,
                letter=day.letter,
                week=day.week,
                opening_minutes=pattern.opening_minutes,
                closing_minutes=pattern.closing_minutes,
                label=day.label,
            )


def _meets(block: Block, day: SchoolDay, term: TermCalendar) -> bool:
    # A make-up day on a Saturday runs the blocks of an ordinary day.
    weekday = day.date.weekday()
    if weekday not in block.weekdays and weekday in term.school_weekdays:
        return False
    return not block.letters or day.letter in block.letters


def _bell(block: Block, schedule: str) -> BellTime | None:
    return next((b for b in block.bells if b.schedule == schedule), None)


def _with_routine(
    meeting: ClassMeeting, routine: LessonRoutine, staffing: Staffing
) -> ClassMeeting:
    tested = _is_test_day(meeting, routine)
    lesson = 0 if tested or not _is_lesson_day(meeting, routine) else routine.lesson_minutes
    adults = staffing.on(meeting.date)
    return replace(
        meeting,
        lesson_minutes=min(lesson, meeting.bench_minutes),
        test_minutes=min(routine.unit_test_minutes, meeting.bench_minutes) if tested else 0,
        qualified_adults=adults.qualified,
        assistants=adults.assistants,
        machine_power=adults.machine_power,
    )


def _is_test_day(meeting: ClassMeeting, routine: LessonRoutine) -> bool:
    return meeting.date in routine.unit_test_dates or meeting.number in routine.unit_test_meetings


def _is_lesson_day(meeting: ClassMeeting, routine: LessonRoutine) -> bool:
    if routine.on_schedules and meeting.kind not in routine.on_schedules:
        return False
    counted = (
        routine.every is not None
        and meeting.number >= routine.first
        and (meeting.number - routine.first) % routine.every == 0
    )
    return counted or meeting.date.weekday() in routine.weekdays or meeting.date in routine.dates


# --- what is wrong with the input ----------------------------------------------------------------


def problems(
    term: TermCalendar,
    pattern: MeetingPattern,
    routine: LessonRoutine | None = None,
    staffing: Staffing | None = None,
) -> tuple[str, ...]:
    """Return everything that keeps this input from giving meetings, each as a sentence."""
    found = [*_term_problems(term)]
    if not found:
        found += _exception_problems(term)
        found += _pattern_problems(term, pattern)
        found += _routine_problems(routine or LessonRoutine())
        found += _staffing_problems(staffing or Staffing())
    if not found and next(_bare_meetings(term, pattern), None) is None:
        found.append(
            "This pattern gives no meeting between "
            f"{term.first_day} and {term.last_day}: choose other weekdays or letters, "
            "more minutes, or a longer term."
        )
    return tuple(found)


def overlapping(terms: Sequence[TermCalendar]) -> tuple[str, ...]:
    """Return a sentence for each pair of terms that share a date."""
    ordered = sorted(terms, key=lambda t: (t.first_day, t.last_day))
    return tuple(
        f"{later.title} starts on {later.first_day}, before {earlier.title} ends on "
        f"{earlier.last_day}: move one of the two dates."
        for i, earlier in enumerate(ordered)
        for later in ordered[i + 1 :]
        if later.first_day <= earlier.last_day
    )


def _term_problems(term: TermCalendar) -> Iterator[str]:
    if term.last_day < term.first_day:
        yield (
            f"{term.title} ends on {term.last_day}, before it starts on {term.first_day}: "
            "swap or correct the dates."
        )
    if not term.school_weekdays:
        yield "The school is open on no weekday: choose at least one."
    if any(day not in range(7) for day in term.school_weekdays):
        yield "Weekdays count from 0 (Monday) to 6 (Sunday)."
    if len(set(term.letters)) != len(term.letters) or not all(term.letters):
        yield f"The day letters {', '.join(term.letters)} must differ and none may be empty."


def _exception_problems(term: TermCalendar) -> Iterator[str]:
    seen: set[date] = set()
    for special in term.exceptions:
        day = special.date
        name = f"{day} ({special.label})" if special.label else f"{day}"
        if not term.first_day <= day <= term.last_day:
            yield (
                f"{name} lies outside the term, {term.first_day} to {term.last_day}: "
                "change the date or the term."
            )
        if day in seen:
            yield f"{name} is entered more than once: keep one entry for the date."
        seen.add(day)
        if special.closed and special.make_up:
            yield f"{name} is both closed and a make-up day: choose one."
        if special.drill_minutes < 0:
            yield f"{name} has a drill of {special.drill_minutes} minutes: give 0 or more."
        if special.letter is not None and special.letter not in term.letters:
            letters = ", ".join(term.letters) or "none"
            yield f"{name} has the letter {special.letter}, but the term's letters are {letters}."
        idle = day.weekday() not in term.school_weekdays
        if idle and not special.closed and not special.make_up:
            yield (
                f"{name} is a {WEEKDAY_NAMES[day.weekday()]}, when the school is closed: "
                "mark it as a make-up day or remove it."
            )


def _pattern_problems(term: TermCalendar, pattern: MeetingPattern) -> Iterator[str]:
    if not pattern.blocks:
        yield "The section has no block: give at least one, with a start time and minutes."
    if pattern.opening_minutes < 0 or pattern.closing_minutes < 0:
        yield "Opening and clean-up minutes must be 0 or more."
    used = {e.schedule for e in term.exceptions if e.schedule and not e.closed} | {REGULAR}
    for block in pattern.blocks:
        at = f"The block at {block.start:%H:%M}"
        known = {b.schedule for b in block.bells}
        if len(known) != len(block.bells):
            yield f"{at} gives the minutes of one bell schedule twice: keep one."
        for name in sorted(used - known):
            dates = [e.date for e in term.exceptions if e.schedule == name]
            when = f" (used on {min(dates)})" if dates else ""
            yield f"{at} has no minutes for the bell schedule “{name}”{when}: add them."
        for bell in block.bells:
            if not 0 <= bell.minutes <= MINUTES_IN_A_DAY:
                yield f"{at} has {bell.minutes} minutes under “{bell.schedule}”: give 0 or more."
        for letter in block.letters:
            if letter not in term.letters:
                letters = ", ".join(term.letters) or "none"
                yield f"{at} meets on letter {letter}, but the term's letters are {letters}."
        if any(day not in range(7) for day in block.weekdays):
            yield f"{at} has a weekday outside 0 (Monday) to 6 (Sunday)."
    yield from _clashes(pattern)


def _clashes(pattern: MeetingPattern) -> Iterator[str]:
    for i, one in enumerate(pattern.blocks):
        for other in pattern.blocks[i + 1 :]:
            same_day = set(one.weekdays) & set(other.weekdays)
            same_letter = (
                not one.letters or not other.letters or set(one.letters) & set(other.letters)
            )
            for bell in one.bells if same_day and same_letter else ():
                against = _bell(other, bell.schedule)
                if against and _overlap(one, bell, other, against):
                    yield (
                        f"The blocks at {one.start:%H:%M} and {other.start:%H:%M} overlap under "
                        f"“{bell.schedule}”: change a start time or the minutes."
                    )


def _overlap(one: Block, bell: BellTime, other: Block, against: BellTime) -> bool:
    first, second = (
        (_minute_of_day(b.start or block.start), b.minutes)
        for block, b in ((one, bell), (other, against))
    )
    both = bell.minutes > 0 and against.minutes > 0
    return both and first[0] < second[0] + second[1] and second[0] < first[0] + first[1]


def _minute_of_day(at: time) -> int:
    return at.hour * 60 + at.minute


def _routine_problems(routine: LessonRoutine) -> Iterator[str]:
    if routine.lesson_minutes < 0 or routine.unit_test_minutes < 0:
        yield "Minutes of a lesson and of a unit test must be 0 or more."
    if routine.every is not None and routine.every < 1:
        yield "A lesson every k-th meeting needs k of 1 or more."
    if routine.first < 1:
        yield "The first lesson's meeting number must be 1 or more."


def _routine_misses(placed: Sequence[ClassMeeting], routine: LessonRoutine) -> list[str]:
    dates = {m.date for m in placed}
    missed = [
        f"The {what} of {day} falls on no meeting: choose the date of a meeting."
        for what, days in (("lesson", routine.dates), ("unit test", routine.unit_test_dates))
        for day in sorted(set(days) - dates)
    ]
    missed += [
        f"A unit test is set for meeting {number}, but the term has {len(placed)} meetings."
        for number in routine.unit_test_meetings
        if not 1 <= number <= len(placed)
    ]
    return missed


def _staffing_problems(staffing: Staffing) -> Iterator[str]:
    counts = [staffing.qualified, staffing.assistants]
    for change in staffing.changes:
        counts += [change.qualified, change.assistants]
        if change.last < change.first:
            yield (
                f"A change of adults ends on {change.last}, before it starts on "
                f"{change.first}: correct the dates."
            )
    if min(counts) < 0:
        yield "The number of adults must be 0 or more."


def _dates(first: date, last: date) -> Iterator[date]:
    return (first + timedelta(days=n) for n in range((last - first).days + 1))


# --- does it fit today? --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StepFit:
    """Whether a step fits in the rest of a meeting, and is dry when the class is back."""

    fits: bool
    dries: bool | None  # None: nothing to dry, or no later meeting to be dry for
    minutes_left: int
    done_at: datetime | None
    dry_at: datetime | None
    sentence: str


def minutes_left(meeting: ClassMeeting, at: datetime) -> int:
    """Return the whole work minutes left at a moment, before clean-up begins."""
    left = meeting.work_end - max(at, meeting.work_start)
    return max(0, int(left.total_seconds() // 60))


def fits(
    step_minutes: int,
    drying_hours: float,
    meeting: ClassMeeting,
    at: datetime,
    next_meeting: ClassMeeting | None = None,
) -> StepFit:
    """Answer: does this step fit in the minutes left and dry by the next meeting's work?

    Drying runs on the clock from the end of the step, through nights and weekends.
    Raises ValueError for a step below 0 minutes or drying below 0 hours.
    """
    if step_minutes < 0 or drying_hours < 0:
        raise ValueError("Minutes of a step and hours of drying must be 0 or more.")
    left = minutes_left(meeting, at)
    if step_minutes > left:
        sentence = (
            f"Does not fit: it takes {step_minutes} min and {left} min are left before clean-up."
        )
        return StepFit(
            fits=False, dries=None, minutes_left=left, done_at=None, dry_at=None, sentence=sentence
        )
    done_at = max(at, meeting.work_start) + timedelta(minutes=step_minutes)
    dry_at = done_at + timedelta(hours=drying_hours)
    dries = None if drying_hours == 0 or next_meeting is None else dry_at <= next_meeting.work_start
    sentence = f"Fits: it takes {step_minutes} of the {left} min left before clean-up"
    if drying_hours > 0:
        sentence += f"; dry on {dry_at:%Y-%m-%d at %H:%M}"
    if next_meeting is not None and dries is not None:
        verdict = "in time for" if dries else "too late for"
        sentence += f", {verdict} the work of {next_meeting.work_start:%Y-%m-%d at %H:%M}"
    return StepFit(
        fits=True,
        dries=dries,
        minutes_left=left,
        done_at=done_at,
        dry_at=dry_at,
        sentence=sentence + ".",
    )
