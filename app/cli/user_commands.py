"""`stringcourse user`: accounts."""

import datetime as dt
from collections.abc import Sequence

import click
import sqlalchemy as sa

from app.cli.database_commands import opened
from app.models import Role, School
from app.store import accounts


@click.group("user")
def user() -> None:
    """Add and list accounts."""


@user.command("add")
@click.argument("email")
@click.option("--name", required=True, help="The person's name.")
@click.option("--role", type=click.Choice([role.value for role in Role]), required=True)
@click.option("--school", "school_name", help="The school; needed if there are several.")
@click.option("--department", help="Key of the department the person belongs to.")
@click.password_option(help="Asked for if not given.")
def add_user(
    email: str, name: str, role: str, school_name: str | None, department: str | None, password: str
) -> None:
    """Add an account for EMAIL."""
    with opened() as session:
        school = _school(session.scalars(sa.select(School)).all(), school_name)
        known = {item.key: item for item in accounts.list_departments(session, school.id)}
        if department is not None and department not in known:
            raise click.ClickException(
                f"there is no department {department}; known: {', '.join(known) or 'none'}."
            )
        accounts.create_user(
            session,
            school=school,
            email=email,
            name=name,
            role=Role(role),
            password=password,
            now=dt.datetime.now(dt.UTC),
            department=known[department] if department else None,
        )
    click.echo(f"{email} can sign in as {role}.")


def _school(schools: Sequence[School], name: str | None) -> School:
    wanted = [item for item in schools if name in (None, item.name)]
    if len(wanted) != 1:
        names = ", ".join(item.name for item in schools) or "none; start the server and create it"
        raise click.ClickException(f"name one school with --school; known: {names}.")
    return wanted[0]


@user.command("list")
def list_users() -> None:
    """List the accounts of every school."""
    with opened() as session:
        for school in session.scalars(sa.select(School)):
            for person in accounts.list_users(session, school.id):
                state = "" if person.active else " (closed)"
                click.echo(
                    f"{school.name}\t{person.role.value}\t{person.email}\t{person.name}{state}"
                )


COMMANDS = (user,)
