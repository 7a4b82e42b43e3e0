"""Forms for terms, rooms, courses, sections and teams."""

from wtforms import (
    BooleanField,
    DateField,
    IntegerField,
    SelectField,
    StringField,
    TextAreaField,
    TimeField,
)
from wtforms.validators import NumberRange, Optional, Regexp

from app.domain.bands import BANDS
from app.web.fields import Form, GivenField, KeyField, MultiCheckboxField, options

WEEKDAYS = [(0, "Monday"), (1, "Tuesday"), (2, "Wednesday"), (3, "Thursday"), (4, "Friday")]
KEY = Regexp(
    r"^[a-z0-9]+(-[a-z0-9]+)*$",
    message="Use lower-case letters, digits and hyphens, such as period-3.",
)


def minutes(low: int, high: int) -> NumberRange:
    """A range check that says the range."""
    return NumberRange(low, high, message=f"Enter whole minutes from {low} to {high}.")


class TermForm(Form):
    title = StringField(
        "Name of the term", validators=[GivenField("Enter a name, such as Spring 2027.")]
    )
    first_day = DateField(
        "First day of classes", validators=[GivenField("Enter the first day as year-month-day.")]
    )
    last_day = DateField(
        "Last day of classes", validators=[GivenField("Enter the last day as year-month-day.")]
    )
    letters = SelectField(
        "Day letters",
        choices=options([("", "None"), ("AB", "A and B, alternating")]),
        description="Only if classes meet on alternate days.",
    )
    letter_policy = SelectField(
        "After a surprise closure",
        choices=options(
            [
                ("fixed", "the closed day uses up its letter"),
                ("rolling", "the letter moves to the next school day"),
            ]
        ),
    )
    holidays = BooleanField("Take the public holidays of the United States as closed", default=True)
    days = TextAreaField(
        "Other days that differ",
        description=(
            "One per line: date, what it is, label. For example “2027-03-22 to 2027-03-26 closed "
            "Spring break”, “2027-01-13 early-release”, “2027-03-03 testing”, “2027-02-15 make-up”, “2027-02-17 drill 12”, "
            "“2027-02-03 unplanned Snow”, “2027-04-02 letter B”."
        ),
    )


class RoomForm(Form):
    title = StringField(
        "Name of the room", validators=[GivenField("Enter a name, such as Workshop.")]
    )


class CourseForm(Form):
    department = SelectField("Department", coerce=int)
    title = StringField(
        "Title of the course", validators=[GivenField("Enter a title, such as Instrument Design.")]
    )
    key = KeyField("Short key", validators=[GivenField("Enter a short key."), KEY])
    band = SelectField("Grade band", choices=options(BANDS.items()), default="9-12")


class RequiredForm(Form):
    codes = TextAreaField(
        "Codes of the standards",
        description="One per line, in any customary spelling; a date after the code is its "
        "required-by date: “HSF.LE.A.2 2027-04-09”.",
        validators=[GivenField("Enter at least one code.")],
    )


class SectionForm(Form):
    """Defaults are those of a daily 47-minute period."""

    title = StringField("Title of the section", validators=[GivenField("Enter a title.")])
    key = KeyField(
        "Short key",
        description="Used in addresses and on the command line.",
        validators=[GivenField("Enter a short key, such as period-3."), KEY],
    )
    course = SelectField("Course", coerce=int)
    term = SelectField("Term", coerce=int)
    teacher = SelectField("Teacher", coerce=int)
    room = SelectField("Room", coerce=int)
    build = SelectField("Build", coerce=int)
    weekdays = MultiCheckboxField(
        "Meets on", coerce=int, choices=options(WEEKDAYS), default=[0, 1, 2, 3, 4]
    )
    letter = SelectField(
        "On days with the letter",
        choices=options([("", "any"), ("A", "A"), ("B", "B")]),
        default="",
    )
    starts_at = TimeField("Starts at", validators=[GivenField("Enter the time as 10:20.")])
    regular = IntegerField("Minutes from bell to bell", default=47, validators=[minutes(1, 480)])
    more_blocks = TextAreaField(
        "Further blocks of the same day",
        description="For full workshop days, one per line: start and minutes, such as “13:00 180”.",
        validators=[Optional()],
    )
    early_release = IntegerField(
        "Minutes on early-release days", default=32, validators=[minutes(0, 480)]
    )
    assembly = IntegerField("Minutes on assembly days", default=38, validators=[minutes(0, 480)])
    testing = IntegerField("Minutes on testing days", default=30, validators=[minutes(0, 480)])
    two_hour_delay = IntegerField(
        "Minutes after a delayed start", default=30, validators=[minutes(0, 480)]
    )
    opening_minutes = IntegerField(
        "Opening minutes",
        default=5,
        description="Attendance, protective equipment, tool issue.",
        validators=[minutes(0, 60)],
    )
    closing_minutes = IntegerField(
        "Clean-up minutes",
        default=7,
        description="Clean-up, tool count, inspection.",
        validators=[minutes(0, 60)],
    )
    lesson_minutes = IntegerField(
        "Minutes of a lesson",
        default=20,
        description="Taken out of the bench time of a lesson day.",
        validators=[minutes(0, 120)],
    )
    lesson_days = MultiCheckboxField(
        "Lesson days", coerce=int, choices=options(WEEKDAYS), default=[0, 3]
    )
    showcase = DateField(
        "Showcase",
        description="The day by which every instrument should be finished.",
        validators=[Optional()],
    )


class RoutineForm(Form):
    """Which meetings carry a lesson or test, and which adults are there."""

    lesson_minutes = IntegerField("Minutes of a lesson", validators=[minutes(0, 120)])
    weekdays = MultiCheckboxField("Lesson days by weekday", coerce=int, choices=options(WEEKDAYS))
    every = IntegerField(
        "Or a lesson every … meetings",
        description="4 means every fourth meeting. Leave it empty for none.",
        validators=[Optional(), NumberRange(1, 60, message="Enter 1 to 60, or leave it empty.")],
    )
    first = IntegerField(
        "Counted from meeting",
        default=1,
        validators=[Optional(), NumberRange(1, 400, message="Enter a meeting number from 1.")],
    )
    dates = TextAreaField(
        "Or lessons on these dates", description="One date per line, year-month-day."
    )
    on_schedules = MultiCheckboxField(
        "Lessons only under these bells",
        description="None chosen: under all of them.",
        choices=options(
            [
                ("regular", "regular"),
                ("early_release", "early release"),
                ("assembly", "assembly"),
                ("testing", "testing"),
                ("two_hour_delay", "delayed start"),
            ]
        ),
    )
    unit_test_dates = TextAreaField(
        "Unit tests on these dates",
        description="One date per line; the test takes the lesson’s place.",
    )
    unit_test_minutes = IntegerField("Minutes of a unit test", validators=[minutes(0, 120)])
    staff = TextAreaField(
        "Days with other adults than the room’s",
        description=(
            "One per line: date (or “date to date”), then “substitute” (machine power off) or "
            "“adults 2”, with “helpers 1” behind it for adults who do not watch machines. "
            "For example “2027-03-09 substitute”, “2027-03-15 to 2027-03-19 adults 2”."
        ),
    )


class RosterForm(Form):
    codes = TextAreaField(
        "Student codes",
        description="One per line, such as S1-01. Codes are all that is needed; keep names elsewhere.",
        validators=[GivenField("Enter at least one student code, one per line.")],
    )
    size = IntegerField(
        "Students in a team",
        default=2,
        validators=[NumberRange(1, 6, message="Enter a team size from 1 to 6.")],
    )
