"""The day a command reckons with: the one given, the sample school's own, or the machine's."""

import datetime as dt

import click

from app.cli.database_commands import address
from app.cli.library_commands import SEED
from app.settings import data_folder, embedded_url

today_option = click.option(
    "--today", type=click.DateTime(["%Y-%m-%d"]), help="Reckon as on this day."
)


def day_of(given: dt.datetime | None) -> dt.date:
    """The day of `--today`; without it the demo's own day for the demo, else the machine's."""
    if given:
        return given.date()
    if address() == embedded_url(data_folder() / "demo.db"):
        from app.interchange.sample_file import read_school

        return read_school(SEED / "demo" / "school.toml").today
    return dt.date.today()  # noqa: DTZ011 - local by intent
