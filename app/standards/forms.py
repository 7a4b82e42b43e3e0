"""Forms for a framework from outside and for decisions on suggested alignments."""

from wtforms import FileField, StringField, TextAreaField
from wtforms.validators import Length

from app.interchange.standard.file import LARGEST_WORDS
from app.web.fields import Form


class ImportForm(Form):
    file = FileField(
        "A CASE package (.json) or a table (.csv)",
        description=f"At most {LARGEST_WORDS}, packed as .zip or .gz or not.",
    )
    text = TextAreaField(
        "Or paste standards, one a line",
        description="Each line begins with the code: “6.RP.1 the statement as published”. A table "
        "copied from a spreadsheet, with a header, works too.",
    )
    title = StringField(
        "Title of the framework",
        description="Only for a table or pasted lines; a CASE package has its own.",
        validators=[Length(max=200, message="Give a title of at most 200 letters.")],
    )
    publisher = StringField(
        "Who publishes it",
        description="Shown beside every statement. For your own course outcomes: your school.",
        validators=[Length(max=200, message="Give a publisher of at most 200 letters.")],
    )
    key = StringField(
        "Short key",
        description="Such as state-math-2026; made of the title if left empty. The same key takes "
        "in the next edition of a table.",
        validators=[Length(max=40, message="Give a key of at most 40 letters.")],
    )
