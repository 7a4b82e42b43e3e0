"""Forms of a school's own concepts, treatments and questions, judged by the library's schema."""

from collections.abc import Mapping
from typing import Any

from wtforms import BooleanField, SelectField, StringField, TextAreaField
from wtforms.validators import Regexp

from app.domain.calculators import CATALOGUE, TOPICS
from app.interchange.library_file import QuestionEntry, TreatmentEntry
from app.web.fields import GivenField, options
from app.web.rows import Rows, RowsColumn
from app.web.schema_form import SchemaForm

KEY = Regexp(
    r"^[A-Za-z0-9]+([.-][A-Za-z0-9]+)*$",
    message="Use letters, digits, hyphens and dots, such as string-gauge.",
)
SUBJECTS = (
    "mathematics",
    "physics",
    "chemistry",
    "engineering",
    "statistics",
    "history",
    "geography",
    "economics",
    "communication",
)


class ConceptForm(SchemaForm):
    title = StringField("Title", validators=[GivenField("Enter a title.")])
    subject = SelectField(
        "Subject", choices=options((item, item.capitalize()) for item in SUBJECTS)
    )
    summary = TextAreaField("Summary", validators=[GivenField("Enter one or two sentences.")])


class NewConceptForm(ConceptForm):
    key = StringField("Short key", validators=[GivenField("Enter a short key."), KEY])


def calculators() -> list[tuple[str, str]]:
    """The catalogue as choices."""
    return [
        ("", "none"),
        *((key, CATALOGUE[key].title) for topic in TOPICS.values() for key in topic),
    ]


class TreatmentForm(SchemaForm):
    title = StringField("Title")
    minutes = StringField("Minutes", description="From 5 to 90.")
    goal = TextAreaField("Goal in the student’s words")
    explanation = TextAreaField("Explanation", description="An empty line begins a new paragraph.")
    demonstration = TextAreaField("Demonstration at the bench")
    misconception = TextAreaField("A common misconception")
    response = TextAreaField("How to meet it")
    extension = TextAreaField("To go further")
    support = TextAreaField("To make it easier")
    prerequisites = StringField("Comes after", description="Keys of concepts, with commas.")
    calculator = SelectField("Calculator")


def treatment_tables(frameworks: list[tuple[str, str]]) -> dict[str, Rows]:
    """The tables of a treatment."""
    return {
        "vocabulary": Rows(
            "vocabulary",
            "Words",
            (RowsColumn("term", "Word"), RowsColumn("meaning", "Meaning", size="long")),
        ),
        "alignments": Rows(
            "alignments",
            "Standards",
            (
                RowsColumn("framework", "Framework", frameworks),
                RowsColumn("code", "Official code", size="short"),
                RowsColumn("strength", "Strength", [("strong", "strong"), ("partial", "partial")]),
                RowsColumn("reason", "Our note about the bench step", size="long"),
                RowsColumn("condition", "Only if …"),
                RowsColumn("practice", "A practice?", [("true", "yes, beside content")]),
            ),
            help="A note about the bench step, never a rewording of the standard. Any usual "
            "spelling of a code will do.",
        ),
    }


def treatment_data(treatment: TreatmentEntry) -> dict[str, Any]:
    """The form's fields filled from a treatment."""
    values = treatment.model_dump(mode="json")
    values["prerequisites"] = ", ".join(values["prerequisites"])
    values["calculator"] = values["calculator"] or ""
    return values


class QuestionForm(SchemaForm):
    key = StringField("Short key", description="Unique in this treatment, such as nut-to-fret.")
    prompt = TextAreaField(
        "Question", description="A name in braces, such as {scale}, stands for a parameter."
    )
    computed_calculator = SelectField("Answer computed by")
    computed_given = TextAreaField(
        "What the calculator is given",
        description="One per line: its quantity = {parameter} or a value with its unit, such as "
        "“scale_length = {scale}” or “fret = 12”.",
    )
    computed_result = StringField("The calculator’s quantity that is asked for")
    computed_unit = StringField("Unit of the answer")
    computed_tolerance = StringField("Tolerance", description="Such as 0.5 mm, 1 %, exact.")
    computed_digits = StringField("Significant figures in the key", default="3")
    written = TextAreaField("What a good written answer says", description="If none is computed.")
    depth_of_knowledge = SelectField(
        "Depth of knowledge", choices=options((str(n), str(n)) for n in range(1, 5)), default="2"
    )
    measure_then_compare = BooleanField("Measure first, then compare")
    steps = StringField("Only at these steps", description="Keys, with commas; empty: any.")
    space_lines = StringField("Lines to write on", default="3")


def question_tables() -> dict[str, Rows]:
    """The tables of a question."""
    return {
        "parameters": Rows(
            "parameters",
            "Parameters",
            (
                RowsColumn("name", "Name", size="short"),
                RowsColumn("quantity", "Quantity of the instrument"),
                RowsColumn("choose", "or choices, with |"),
                RowsColumn("low", "or from", size="short"),
                RowsColumn("high", "to", size="short"),
                RowsColumn("step", "in steps of", size="short"),
                RowsColumn("unit", "Unit", size="short"),
            ),
            help="Each is the team’s own quantity, a choice, or a range with a step.",
        ),
        "wrong": Rows(
            "wrong",
            "Wrong answers and what they reveal",
            (
                RowsColumn("misconception", "Misconception behind it", size="long"),
                RowsColumn("text", "The wrong answer in words"),
                RowsColumn("calculator", "or computed by", calculators()[1:]),
                RowsColumn("given", "given (one per line)", size="long"),
                RowsColumn("result", "asked for", size="short"),
                RowsColumn("unit", "Unit", size="short"),
                RowsColumn("tolerance", "Tolerance", size="short"),
            ),
            help="Two or more make the question one with choices.",
        ),
    }


def question_data(
    question: QuestionEntry,
) -> tuple[dict[str, Any], dict[str, list[dict[str, Any]]]]:
    """The form's fields, and the rows of its tables, filled from a question."""
    values = question.model_dump(mode="json")
    data = {**values, "steps": ", ".join(values["steps"])}
    data["depth_of_knowledge"] = str(values["depth_of_knowledge"])
    if values["computed"] is not None:
        computed = {**values["computed"], "given": _lines(values["computed"]["given"])}
        data.update({f"computed_{name}": value for name, value in computed.items()})
    rows = {
        "parameters": [
            {**item, "name": name, "choose": " | ".join(_choice(one) for one in item["choose"])}
            for name, item in values["parameters"].items()
        ],
        "wrong": [_wrong_row(item) for item in values["wrong"]],
    }
    return data, rows


def _choice(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _wrong_row(item: dict[str, Any]) -> dict[str, Any]:
    computed = item["computed"] or {}
    return {**item, **computed, "given": _lines(computed.get("given", {}))}


def _lines(given: Mapping[str, str]) -> str:
    return "\n".join(f"{name} = {value}" for name, value in given.items())


def question_values(
    form: QuestionForm, tables: Mapping[str, Rows], before: QuestionEntry | None
) -> dict[str, Any]:
    """What the form says, in the schema's shape."""
    sent = form.sent()
    values = {name: value for name, value in sent.items() if not name.startswith("computed_")}
    values["steps"] = [key.strip() for key in sent.get("steps", "").split(",") if key.strip()]
    if sent.get("computed_calculator"):
        computed = {
            name.removeprefix("computed_"): value
            for name, value in sent.items()
            if name.startswith("computed_")
        }
        values["computed"] = {**computed, "given": _given(computed.get("given", ""))}
    values["parameters"] = {
        row.pop("name", ""): _parameter(row) for row in tables["parameters"].entries()
    }
    digits = (
        [item.computed.digits if item.computed else 3 for item in before.wrong] if before else []
    )
    values["wrong"] = [
        _wrong(row, digits[place] if place < len(digits) else 3)
        for place, row in enumerate(tables["wrong"].entries())
    ]
    return values


def _parameter(row: dict[str, Any]) -> dict[str, Any]:
    choices = [item.strip() for item in row.pop("choose", "").split("|") if item.strip()]
    return {**row, "choose": choices}


def _wrong(row: dict[str, Any], digits: int) -> dict[str, Any]:
    values: dict[str, Any] = {n: row[n] for n in ("text", "misconception") if n in row}
    computed = {
        name: row[name] for name in ("calculator", "result", "unit", "tolerance") if name in row
    }
    if "calculator" in computed or "given" in row:
        values["computed"] = {**computed, "given": _given(row.get("given", "")), "digits": digits}
    return values


def _given(text: str) -> dict[str, str]:
    pairs = (line.partition("=") for line in text.splitlines() if line.strip())
    return {name.strip(): value.strip() for name, _, value in pairs}
