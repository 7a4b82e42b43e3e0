"""The `stringcourse` command: one file per group, exit code 2 and one sentence on wrong use."""

import sys

import click

from app.cli import (
    backup_commands,
    calculator_commands,
    demo_commands,
    kits_commands,
    library_commands,
    papers_commands,
    plans_commands,
    records_commands,
    replanning_commands,
    server_commands,
    standards_commands,
    user_commands,
    worksheets_commands,
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="stringcourse")
def command() -> None:
    """Plan, teach and account for a course in which a class builds stringed instruments."""


for part in (
    demo_commands,
    server_commands,
    backup_commands,
    library_commands,
    user_commands,
    calculator_commands,
    plans_commands,
    replanning_commands,
    papers_commands,
    kits_commands,
    records_commands,
    worksheets_commands,
    standards_commands,
):
    for item in part.COMMANDS:
        command.add_command(item)


def main() -> None:
    """Entry point; a mistake of the user is one sentence and exit code 2."""
    try:
        code = command.main(standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(130)
    except click.ClickException as error:
        click.echo(f"stringcourse: {error.format_message()}", err=True)
        sys.exit(2)
    except OSError as error:
        what = f"{error.filename}: {error.strerror}" if error.filename else str(error)
        click.echo(f"stringcourse: {what}; name a file and a folder that are there.", err=True)
        sys.exit(2)
    except (ValueError, LookupError) as error:
        click.echo(f"stringcourse: {error}", err=True)
        sys.exit(2)
    sys.exit(code if isinstance(code, int) else 0)
