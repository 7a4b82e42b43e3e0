"""Forms for what happened, one per kind, and for moving an activity by hand."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from wtforms import (
    BooleanField,
    DateField,
    Field,
    IntegerField,
    SelectField,
    StringField,
    TimeField,
)
from wtforms.validators import NumberRange, Optional

from app.models import Section, Step
from app.store.plan.recorded_events import NewEvent
from app.web.fields import Form, GivenField, MultiCheckboxField, options

DAY = "Choose a day, as year-month-day."


class EventForm(Form):
    """The days; each kind adds what else it needs."""

    first = DateField("From", validators=[GivenField(DAY)])
    last = DateField("To, if longer than a day", validators=[Optional()])
    others = MultiCheckboxField("The same for my other classes")

    def event(self, kind: str) -> NewEvent:
        """What was filled in, as an event."""
        first = self.first.data
        assert first is not None  # noqa: S101 - the form has been validated
        return NewEvent(kind, first, self.last.data or first, self.details())

    def details(self) -> dict[str, Any]:
        """What the kind needs beside the days."""
        return {}

    def chosen(self) -> list[str]:
        """The keys of the other classes it is recorded for as well."""
        return list(self.others.data or []) if self.others else []


class ClosureForm(EventForm):
    label = StringField("What happened", description="Such as snow, or water off.")

    def details(self) -> dict[str, Any]:
        return {"label": (self.label.data or "").strip() or "Closed"}


class BellsForm(EventForm):
    schedule = SelectField("Bell schedule of that day")
    label = StringField("What happened")

    def details(self) -> dict[str, Any]:
        return {"schedule": self.schedule.data, "label": (self.label.data or "").strip()}


class MakeUpForm(EventForm):
    label = StringField("What the calendar should say", default="Make-up day")

    def details(self) -> dict[str, Any]:
        return {"label": (self.label.data or "").strip() or "Make-up day"}


class StationOutForm(EventForm):
    resource = SelectField("Which station or fixture")
    places = IntegerField(
        "How many are left",
        default=0,
        validators=[NumberRange(0, 200, message="Give a whole number from 0.")],
    )

    def details(self) -> dict[str, Any]:
        return {"resource": self.resource.data, "places": int(self.places.data or 0)}


class AdultForm(EventForm):
    count = IntegerField(
        "How many qualified adults are out",
        default=1,
        validators=[NumberRange(1, 20, message="Give a whole number from 1.")],
    )

    def details(self) -> dict[str, Any]:
        return {"count": int(self.count.data or 1)}


class SubstituteForm(EventForm):
    """Machine power stays off; only steps marked for such a day may run."""


class HumidForm(EventForm):
    """Coats wait a day, films cure twice as long; the label of the product overrides it."""


class PartsForm(EventForm):
    steps = MultiCheckboxField("Which steps wait for them")

    def details(self) -> dict[str, Any]:
        return {"steps": list(self.steps.data or [])}


class WithdrawnForm(EventForm):
    student = SelectField("Which student")

    def details(self) -> dict[str, Any]:
        return {"student": self.student.data}


class EnrolledForm(EventForm):
    student = StringField(
        "Code of the student", validators=[GivenField("Enter a code, such as S1-23.")]
    )
    grade = StringField("Grade")
    team = SelectField("Joins team")

    def details(self) -> dict[str, Any]:
        return {
            "student": (self.student.data or "").strip(),
            "grade": (self.grade.data or "").strip(),
            "team": self.team.data,
        }


class SuspendedForm(EventForm):
    team = SelectField("Which team")
    permit = SelectField("Which sign-off")

    def details(self) -> dict[str, Any]:
        return {"team": self.team.data, "permit": self.permit.data}


class PaceForm(EventForm):
    team = SelectField("Which team")
    step = SelectField("At which step")
    minutes = IntegerField(
        "Minutes more than planned",
        description="Fewer: with a minus sign. A step that is done is recorded under Today.",
        validators=[
            GivenField("Enter minutes, such as 20 or -10."),
            NumberRange(-600, 600, message="Give minutes from -600 to 600."),
        ],
    )

    def details(self) -> dict[str, Any]:
        return {
            "team": self.team.data,
            "step": self.step.data,
            "minutes": int(self.minutes.data or 0),
        }


class AwayForm(EventForm):
    teams = MultiCheckboxField("Which teams are away")

    def details(self) -> dict[str, Any]:
        return {"teams": list(self.teams.data or [])}


class ExtraMeetingForm(EventForm):
    starts_at = TimeField(
        "Starts at", default=dt.time(12, 15), validators=[GivenField("Enter a time.")]
    )
    minutes = IntegerField(
        "Minutes", default=45, validators=[NumberRange(1, 480, message="Give minutes from 1.")]
    )

    def details(self) -> dict[str, Any]:
        first = self.first.data
        assert first is not None and self.starts_at.data is not None  # noqa: S101, PT018
        last = self.last.data or first
        days = [first + dt.timedelta(weeks=n) for n in range((last - first).days // 7 + 1)]
        return {
            "dates": [day.isoformat() for day in days],
            "starts_at": self.starts_at.data.isoformat("minutes"),
            "minutes": int(self.minutes.data or 0),
        }


FORMS: Mapping[str, type[EventForm]] = {
    "closure": ClosureForm,
    "bells": BellsForm,
    "make-up": MakeUpForm,
    "station": StationOutForm,
    "adult": AdultForm,
    "substitute": SubstituteForm,
    "humid": HumidForm,
    "parts": PartsForm,
    "pace": PaceForm,
    "away": AwayForm,
    "withdrawn": WithdrawnForm,
    "enrolled": EnrolledForm,
    "suspended": SuspendedForm,
    "extra-meeting": ExtraMeetingForm,
}


# What closes the school, changes its bells or its air, or keeps its adult at home.
SHARED = frozenset({"closure", "bells", "make-up", "substitute", "humid", "adult"})


def event_form(
    kind: str, section: Section, steps: list[Step], others: Sequence[Section] = ()
) -> EventForm:
    """The form of a kind with the choices of this class and room, and the teacher's other classes."""
    form = FORMS[kind]()
    if kind in SHARED and others:
        form.others.choices = [(other.key, other.title) for other in others]
    else:
        del form.others
    teams = [(team.code, team.code) for team in section.teams]
    named = [(step.key, f"{step.key} {step.title}") for step in steps if not step.outside_class]
    single = [
        (s.key, f"{s.key} {s.title}") for s in steps if not (s.outside_class or s.whole_class)
    ]
    room = [(row.key, f"{row.title} ({row.places})") for row in section.room.stations]
    room += [(row.key, f"{row.title} ({row.count})") for row in section.room.fixtures]
    choices: dict[str, list[tuple[str, str]]] = {
        "schedule": [(name, name.replace("_", " ")) for name in section.bells if name != "regular"],
        "resource": room,
        "team": teams,
        "teams": teams,
        "steps": named,
        "step": single,
        "permit": [(p, p) for p in sorted({s.permit for s in steps if s.permit})],
        # Who may still withdraw: nobody whose last day is on record already.
        "student": [(s.code, s.code) for s in section.students if s.left is None],
    }
    for name, pairs in choices.items():
        field: Field | None = form._fields.get(name)
        if isinstance(field, SelectField | MultiCheckboxField):
            field.choices = options(pairs)
    return form


class ByHandForm(Form):
    """Where an activity goes; a split takes a second place for the rest."""

    action = SelectField(
        "What to do",
        choices=options(
            [
                ("move", "Move it"),
                ("split", "Split it in two"),
                ("pin", "Pin it where it is"),
                ("unpin", "Let it move again"),
                ("drop", "Take it out of the plan"),
            ]
        ),
    )
    meeting = SelectField("Meeting", coerce=int)
    at = TimeField(
        "Begins at", description="A time of that meeting's bench work.", validators=[Optional()]
    )
    first_minutes = IntegerField(
        "Minutes of the first part",
        description="Only for a split.",
        validators=[Optional(), NumberRange(5, 600, message="Give minutes from 5, in fives.")],
    )
    rest_meeting = SelectField("Meeting of the rest", coerce=int)
    rest_at = TimeField("The rest begins at", validators=[Optional()])
    anyway = BooleanField("Keep it even if it breaks rules; the plan will say which")
