"""Forms for signing in, the first start, and people."""

from wtforms import EmailField, PasswordField, SelectField, StringField
from wtforms.validators import Length, Regexp

from app.models import Role
from app.store.accounts import MINIMUM_PASSWORD_LENGTH
from app.web.fields import Form, GivenField, KeyField, options

ROLE_TITLES = {
    Role.TEACHER: "Teacher",
    Role.DEPARTMENT_HEAD: "Department head",
    Role.WORKSHOP_LEAD: "Workshop lead",
    Role.ADMINISTRATOR: "Administrator",
}
ADDRESS = Regexp(
    r"^[^@\s]+@[^@\s]+$", message="Enter an e-mail address, such as t.reed@school.example."
)
PASSWORD_HELP = f"At least {MINIMUM_PASSWORD_LENGTH} characters; a few words are easiest to keep."


class SignInForm(Form):
    email = EmailField(
        "E-mail address",
        validators=[GivenField("Enter your e-mail address.")],
        render_kw={"autocomplete": "username"},
    )
    password = PasswordField(
        "Password",
        validators=[GivenField("Enter your password.")],
        render_kw={"autocomplete": "current-password"},
    )


class StartForm(Form):
    """The first start: the school and its administrator."""

    school = StringField("Name of the school", validators=[GivenField("Enter the school’s name.")])
    name = StringField("Your name", validators=[GivenField("Enter your name.")])
    email = EmailField(
        "Your e-mail address", validators=[GivenField("Enter your e-mail address."), ADDRESS]
    )
    password = PasswordField(
        "A password",
        description=PASSWORD_HELP,
        validators=[
            GivenField("Choose a password."),
            Length(
                min=MINIMUM_PASSWORD_LENGTH,
                message=f"Choose a password of at least {MINIMUM_PASSWORD_LENGTH} characters.",
            ),
        ],
    )


class PersonForm(Form):
    name = StringField("Name", validators=[GivenField("Enter the person’s name.")])
    email = EmailField(
        "E-mail address", validators=[GivenField("Enter an e-mail address."), ADDRESS]
    )
    role = SelectField(
        "Role", choices=options((role.value, text) for role, text in ROLE_TITLES.items())
    )
    department = SelectField(
        "Department",
        coerce=int,
        description="Teachers and department heads see the sections of their department.",
    )
    password = PasswordField(
        "First password",
        description=PASSWORD_HELP,
        validators=[
            GivenField("Choose a first password."),
            Length(
                min=MINIMUM_PASSWORD_LENGTH,
                message=f"Choose a password of at least {MINIMUM_PASSWORD_LENGTH} characters.",
            ),
        ],
    )


class DepartmentForm(Form):
    name = StringField(
        "Name of the department", validators=[GivenField("Enter the department’s name.")]
    )
    key = KeyField(
        "Short key",
        description="Used in addresses and on the command line: lower-case letters, digits, hyphens.",
        validators=[
            GivenField("Enter a short key such as science."),
            Regexp(
                r"^[a-z0-9]+(-[a-z0-9]+)*$",
                message="Use lower-case letters, digits and hyphens, such as design-technology.",
            ),
        ],
    )
