"""The form of a department head's review."""

from wtforms import HiddenField, SelectField, TextAreaField

from app.web.fields import Form, GivenField, options

KINDS = {
    "comment": "Comment",
    "request": "Ask for a change",
    "approval": "Approve this version",
}


class ReviewForm(Form):
    kind = SelectField("What it is", choices=options(KINDS.items()))
    body = TextAreaField(
        "What you want to say",
        description="An approval keeps what was approved: the depths and gaps as they stand now.",
        validators=[GivenField("Write what you want to say.")],
    )


class CellForm(Form):
    """A comment on one standard, or on one week of it."""

    week = HiddenField()
    kind = SelectField(
        "What it is",
        choices=options(item for item in KINDS.items() if item[0] != "approval"),
    )
    body = TextAreaField(
        "What you want to say about this standard",
        validators=[GivenField("Write what you want to say.")],
    )
