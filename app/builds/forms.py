"""Forms of a school's own builds. What they take is judged by the schema of library files."""

from wtforms import BooleanField, FileField, SelectField, StringField, TextAreaField
from wtforms.validators import Regexp

from app.domain.bands import BANDS
from app.domain.cautions import HAZARD, PROTECTION, SUPERVISION
from app.web.fields import Form, GivenField, MultiCheckboxField, options
from app.web.rows import Rows, RowsColumn
from app.web.schema_form import SchemaForm

KEY = Regexp(
    r"^[A-Za-z0-9]+([.-][A-Za-z0-9]+)*$",
    message="Use letters, digits, hyphens and dots, such as our-ukulele.",
)
MINUTES_PER = [("team", "team"), ("student", "student"), ("instrument", "instrument")]


class CopyForm(Form):
    title = StringField("Title of your build", validators=[GivenField("Enter a title.")])
    key = StringField(
        "Short key",
        description="Keep it for a version of the same build, so that sections can move to it; "
        "change it for a build of its own.",
        validators=[GivenField("Enter a short key."), KEY],
    )
    version = StringField(
        "Version label",
        validators=[GivenField("Enter a version label, such as 2 or spring-2027."), KEY],
    )


class FactsForm(SchemaForm):
    title = StringField("Title")
    version = StringField("Version label", description="Shown wherever the build is named.")
    summary = TextAreaField("Summary")
    band = SelectField("First meant for", choices=options(BANDS.items()))
    team_size = StringField("Students in a team")
    note = TextAreaField("Note")


GRAIN = [("length", "length"), ("width", "width"), ("any", "any")]
STRINGS = ("steel", "wound-steel", "nylon", "wound-nylon")


def facts_tables(
    phases: list[tuple[str, str]], materials: list[tuple[str, str]]
) -> dict[str, Rows]:
    """The tables of a build's facts."""
    return {
        "quantities": Rows(
            "quantities",
            "Quantities of the instrument",
            (
                RowsColumn("key", "Key"),
                RowsColumn("title", "Name"),
                RowsColumn("nominal", "Nominal value with its unit", size="short"),
                RowsColumn("note", "Note"),
            ),
            help="The same key is used by calculators, hold points and questions, such as scale_length.",
        ),
        "strings": Rows(
            "strings",
            "Strings, thickest first",
            (
                RowsColumn("note", "Note", size="short"),
                RowsColumn("diameter", "Diameter with its unit", size="short"),
                RowsColumn("unit_weight", "Unit weight, if wound"),
                RowsColumn("material", "Material", [(item, item) for item in STRINGS]),
            ),
        ),
        "blanks": Rows(
            "blanks",
            "Wooden parts cut from boards",
            (
                RowsColumn("key", "Key", size="short"),
                RowsColumn("title", "Part"),
                RowsColumn("count", "Pieces for one instrument", size="short"),
                RowsColumn("length", "Length, finished", size="short"),
                RowsColumn("width", "Width", size="short"),
                RowsColumn("thickness", "Thickness", size="short"),
                RowsColumn("length_allowance", "Added to the length", size="short"),
                RowsColumn("width_allowance", "Added to the width", size="short"),
                RowsColumn("thickness_allowance", "Added to the thickness", size="short"),
                RowsColumn("along", "Edge along the grain", GRAIN),
                RowsColumn("species", "Wood", size="short"),
                RowsColumn("material", "Bought instead as", materials),
            ),
            help="Sizes with their unit, such as 22 in or 45 mm; the kit’s cut list is made of them.",
            spare=1,
        ),
        "no_treatment": Rows(
            "no_treatment",
            "Why a phase has no treatment at a grade band",
            (
                RowsColumn("phase", "Phase", phases),
                RowsColumn("band", "Grade band", list(BANDS.items())),
                RowsColumn("reason", "Reason", size="long"),
            ),
            spare=1,
        ),
    }


class PhaseForm(SchemaForm):
    title = StringField("Title", validators=[GivenField("Enter a title.")])
    summary = TextAreaField("Summary")
    milestone = TextAreaField("In the hand at the end")


class NewPhaseForm(PhaseForm):
    key = StringField("Short key", validators=[GivenField("Enter a short key."), KEY])


class StepForm(SchemaForm):
    """A step. Rows of cautions, exposures and so on stand in tables below (`step_tables`)."""

    key = StringField("Short key", description="Such as E58; it stays with the step for good.")
    title = StringField("Title")
    phase = SelectField("Phase")
    purpose = TextAreaField("Purpose")
    minutes_low = StringField("Minutes, low")
    minutes_typical = StringField("Minutes, typical")
    minutes_high = StringField("Minutes, high")
    minutes_per = SelectField("Minutes count per", choices=options(MINUTES_PER))
    hands = StringField("Hands at work", default="2")
    minimum_sitting = StringField("Shortest sitting in minutes", default="10")
    one_sitting = BooleanField("Must be done in one sitting")
    whole_class = BooleanField("The whole class does it together")
    outside_class = BooleanField("Done outside class")
    station = SelectField("Station")
    places = StringField("Places taken at the station", default="1")
    after = StringField(
        "Comes after", description="Keys of the steps it waits for, with commas: E03, E12."
    )
    drying_typical = StringField(
        "Hours it dries or settles, typical",
        description="Empty if the next step may start at once. The product’s label overrides it.",
    )
    drying_low = StringField("Hours, low")
    drying_high = StringField("Hours, high")
    drying_what = StringField("What dries")
    drying_conditions = StringField("Under which conditions")
    hazard_class = SelectField("Hazard class", choices=options(HAZARD.items()))
    hazards = TextAreaField("Hazards in words", description="One per line.")
    protection = MultiCheckboxField("Protection", choices=options(PROTECTION.items()))
    supervision = SelectField("Supervision", choices=options(SUPERVISION.items()))
    permit = SelectField("Sign-off asked for")
    grants = StringField("Sign-offs it grants", description="Keys, with commas.")
    substitute_safe = BooleanField("A substitute may run it with machine power off")
    hold_point = BooleanField("A hold point: initialled before work goes on")
    check_what = StringField(
        "Quality check: what is measured", description="Empty if there is none."
    )
    check_quantity = StringField("Quantity of the instrument it records")
    check_nominal = StringField("Nominal value")
    check_tolerance = StringField("Tolerance")
    check_unit = StringField("Unit")
    check_measure_with = StringField("Measure with")
    check_record_as = StringField("Record as")
    check_minimum = StringField("Least value")
    check_maximum = StringField("Greatest value")
    check_if_out = StringField("If it is out")
    tools = TextAreaField("Tools", description="One per line.")
    catch_up = StringField("Where a student who missed it catches up")


PER = [("instrument", "instrument"), ("student", "student"), ("class", "class")]
WAYS = [("adult", "by an adult"), ("supplied", "bought ready"), ("left-out", "left out")]


def step_tables(
    concepts: list[tuple[str, str]],
    materials: list[tuple[str, str]],
    fixtures: list[tuple[str, str]],
) -> dict[str, Rows]:
    """The tables of a step."""
    return {
        table.name: table
        for table in (
            Rows(
                "cautions",
                "Cautions",
                (RowsColumn("text", "Caution", size="long"), RowsColumn("source", "Source")),
                help="With its published source; without one it says “common practice, no source”.",
            ),
            Rows(
                "exposures",
                "What it shows",
                (
                    RowsColumn("concept", "Concept", concepts),
                    RowsColumn("shows", "What this step shows of it", size="long"),
                    RowsColumn("reading", "Reading or value it yields"),
                    RowsColumn("quantity", "Quantity of the instrument"),
                ),
            ),
            Rows(
                "materials",
                "Materials",
                (
                    RowsColumn("material", "Material", materials),
                    RowsColumn("quantity", "Quantity", size="short"),
                    RowsColumn("per", "For each", PER),
                ),
            ),
            Rows(
                "holds",
                "Fixtures that stay taken",
                (
                    RowsColumn("fixture", "Fixture", fixtures),
                    RowsColumn("count", "How many", size="short"),
                    RowsColumn("hours", "For hours", size="short"),
                    RowsColumn("until_step", "Until this step ends", size="short"),
                ),
                spare=1,
            ),
            Rows(
                "ready_made",
                "Bought ready, made by an adult or left out",
                (
                    RowsColumn("by", "How", WAYS),
                    RowsColumn("adult_minutes", "Adult minutes", size="short"),
                    RowsColumn("cost", "Cost for one instrument", size="short"),
                    RowsColumn("loses", "What is lost", size="long"),
                ),
                spare=1,
            ),
        )
    }


class StationForm(SchemaForm):
    key = StringField("Short key", validators=[GivenField("Enter a short key."), KEY])
    title = StringField("Name")
    places = StringField("Usual number of places")
    hazard_class = SelectField("Hazard class", choices=options(HAZARD.items()))
    supervision = SelectField("Supervision", choices=options(SUPERVISION.items()))
    zone = StringField("Zone", description="Stations that one adult can watch together.")
    permit = SelectField("Sign-off asked for")
    level_dba = StringField("Sound level in dBA, if known")
    substitute_safe = BooleanField("A substitute may run it with machine power off")
    adult_only = BooleanField("Only adults work at it")


class FixtureForm(SchemaForm):
    key = StringField("Short key", validators=[GivenField("Enter a short key."), KEY])
    title = StringField("Name", description="What stays taken while work dries: a clamp, a mould.")
    count = StringField("Usual number in the room")


class PermitForm(SchemaForm):
    key = StringField("Short key", validators=[GivenField("Enter a short key."), KEY])
    title = StringField("Name", description="What a student is signed off for.")
    renew_after_days = StringField(
        "Days after which it is renewed", description="Empty if it does not run out."
    )


class MaterialForm(SchemaForm):
    key = StringField("Short key", validators=[GivenField("Enter a short key."), KEY])
    title = StringField("Name, with its size")
    unit = StringField("Unit", description="What one of it is: ea, m, set, mL.")
    pack_size = StringField("Units in the smallest pack that is sold", default="1")
    cost_low = StringField("Cost of a unit, low (USD)")
    cost_high = StringField("Cost of a unit, high (USD)")
    lead_days_low = StringField("Days to deliver, at least")
    lead_days_high = StringField("Days to deliver, at most")
    loss_rate = StringField(
        "Chance that a team spoils or lacks it", description="From 0 to 1.", default="0"
    )
    category = StringField("Category", description="Such as wood, hardware, finish.")
    note = StringField("Note")
    lowest_grade = StringField(
        "Not to be used below grade", description="Empty if there is no limit."
    )


class PackageForm(Form):
    file = FileField("Build package or other library file (TOML or JSON)")
