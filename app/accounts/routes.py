"""Signing in and out, the first start, and the people of a school."""

import datetime as dt
from urllib.parse import urlsplit

from flask import Blueprint, abort, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.accounts.forms import ROLE_TITLES, DepartmentForm, PersonForm, SignInForm, StartForm
from app.models import Role
from app.store import accounts
from app.web import access
from app.web.access import for_roles, me, public
from app.web.fields import options
from app.web.limits import SIGN_IN, limiter
from app.web.request_session import db

bp = Blueprint("accounts", __name__)

DEMO_SIGN_INS = (
    ("Teacher", "teacher@demo.example"),
    ("Department head", "head@demo.example"),
    ("Workshop lead", "workshop@demo.example"),
    ("Administrator", "admin@demo.example"),
)
DEMO_PASSWORD = "spruce and maple"  # noqa: S105 - shown on the demo's own sign-in page


@bp.get("/sign-in")
@public
def sign_in() -> ResponseReturnValue:
    """The sign-in page; on a loopback demo it names the sample sign-ins."""
    return _sign_in_page(SignInForm())


@bp.post("/sign-in")
@public
@limiter.limit(SIGN_IN)
def begin_session() -> ResponseReturnValue:
    """Check the password and start a fresh session."""
    form = SignInForm()
    if not form.validate():
        return _sign_in_page(form), 422
    user = accounts.check_sign_in(db(), form.email.data or "", form.password.data or "")
    if user is None:
        form.refuse("That address and password do not belong together. Check both and try again.")
        return _sign_in_page(form), 422
    access.begin(user)
    return redirect(_own_address(request.args.get("next")), 303)


def _sign_in_page(form: SignInForm) -> str:
    settings = current_app.config["STRINGCOURSE"]
    shown = settings.demo and settings.loopback
    return render_template(
        "accounts/sign_in.html",
        form=form,
        next=request.args.get("next", ""),
        sign_ins=DEMO_SIGN_INS if shown else (),
        password=DEMO_PASSWORD if shown else "",
    )


def _own_address(target: str | None) -> str:
    """The page asked for before signing in, if it is one of ours."""
    parts = urlsplit(target or "")
    if target and target.startswith("/") and not target.startswith("//") and not parts.netloc:
        return target
    return url_for("sections.home")


@bp.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    """End the session."""
    access.end()
    return redirect(url_for("accounts.sign_in"), 303)


@bp.get("/start")
@public
def start() -> ResponseReturnValue:
    """First start: create the school and its administrator."""
    if accounts.has_users(db()):
        return redirect(url_for("accounts.sign_in"))
    return render_template("accounts/start.html", form=StartForm())


@bp.post("/start")
@public
@limiter.limit(SIGN_IN)
def create_school() -> ResponseReturnValue:
    """Create the school and sign its administrator in; works only while nobody has an account."""
    session = db()
    if accounts.has_users(session):
        abort(404)
    form = StartForm()
    if not form.validate():
        return render_template("accounts/start.html", form=form), 422
    school = accounts.create_school(session, form.school.data or "")
    user = accounts.create_user(
        session,
        school=school,
        email=form.email.data or "",
        name=form.name.data or "",
        role=Role.ADMINISTRATOR,
        password=form.password.data or "",
        now=dt.datetime.now(dt.UTC),
    )
    session.commit()
    access.begin(user)
    return redirect(url_for("sections.show_school"), 303)


@bp.get("/people")
@for_roles()
def list_people() -> ResponseReturnValue:
    """Who has an account."""
    return _people_page(PersonForm(formdata=None))


@bp.post("/people")
@for_roles()
def add_person() -> ResponseReturnValue:
    """Add an account to the school."""
    session = db()
    form = PersonForm()
    departments = accounts.list_departments(session, me().school_id)
    form.department.choices = options([(0, "–"), *((item.id, item.name) for item in departments)])
    if form.validate():
        department = next((d for d in departments if d.id == form.department.data), None)
        try:
            accounts.create_user(
                session,
                school=me().school,
                email=form.email.data or "",
                name=form.name.data or "",
                role=Role(form.role.data),
                password=form.password.data or "",
                now=dt.datetime.now(dt.UTC),
                department=department,
            )
        except ValueError as error:
            form.refuse(str(error))
        else:
            session.commit()
            flash(f"{form.name.data} can sign in now.")
            return redirect(url_for("accounts.list_people"), 303)
    return _people_page(form), 422


def _people_page(form: PersonForm) -> str:
    departments = accounts.list_departments(db(), me().school_id)
    form.department.choices = options([(0, "–"), *((item.id, item.name) for item in departments)])
    return render_template(
        "accounts/people.html",
        form=form,
        people=accounts.list_users(db(), me().school_id),
        roles=ROLE_TITLES,
    )


@bp.get("/departments/new")
@for_roles()
def new_department() -> ResponseReturnValue:
    """A form for a department."""
    return render_template("accounts/department.html", form=DepartmentForm())


@bp.post("/departments/new")
@for_roles()
def add_department() -> ResponseReturnValue:
    """Create a department."""
    session = db()
    form = DepartmentForm()
    taken = {item.key for item in accounts.list_departments(session, me().school_id)}
    if form.validate():
        if form.key.data in taken:
            form.refuse(f"There is already a department with the key {form.key.data}.")
        else:
            accounts.create_department(
                session, me().school, form.key.data or "", form.name.data or ""
            )
            session.commit()
            flash(f"{form.name.data} is in place.")
            return redirect(url_for("sections.show_school"), 303)
    return render_template("accounts/department.html", form=form), 422
