"""`stringcourse demo`: the sample school, ready to look at."""

import datetime as dt
import secrets

import click

from app import db
from app.accounts.routes import DEMO_PASSWORD, DEMO_SIGN_INS
from app.cli.library_commands import SEED
from app.cli.server_commands import listen, prepare, require_free, require_same_version
from app.settings import Settings, data_folder, embedded_url


@click.command("demo")
@click.option("--port", default=5000, show_default=True, type=click.IntRange(1, 65535))
@click.option("--reset", is_flag=True, help="Start over with a fresh sample school.")
@click.option("--no-serve", is_flag=True, help="Only create the database.")
def demo(port: int, *, reset: bool, no_serve: bool) -> None:
    """Create the sample school, eight weeks into its term, and serve it on this machine."""
    path = data_folder() / "demo.db"
    url = embedded_url(path)
    if not no_serve:
        require_free("127.0.0.1", port)
    if reset:
        for file in path.parent.glob("demo.db*"):
            file.unlink()
    today = create(url, new=not path.exists())
    if no_serve:
        click.echo(f"The sample school is in {path}.")
        return
    _serve(url, port, today)


def create(url: str, *, new: bool) -> dt.date:
    """Create the sample school if it is not there; the demo's own calendar day."""
    from app.interchange.sample_file import read_school
    from app.jobs.sample_school import create_sample

    sample = read_school(SEED / "demo" / "school.toml")
    if not new:
        require_same_version(
            url, or_else="`stringcourse demo --reset` starts over with a fresh one."
        )
    prepare(url)
    engine = db.make_engine(url)
    with db.session_factory(engine)() as session:
        from app.store import accounts

        if not accounts.has_users(session):
            click.echo("Creating the sample school …")
            create_sample(session, sample, now=dt.datetime.now(dt.UTC))
            session.commit()
    engine.dispose()
    return sample.today


def _serve(url: str, port: int, today: dt.date) -> None:
    from app import create_app
    from app.jobs import worker
    from app.web import logs

    logs.configure()
    settings = Settings(
        database_url=url,
        secret_key=secrets.token_hex(32),
        demo=True,
        secure_cookies=False,
        loopback=True,
        today=today,
    )
    application = create_app(settings)
    click.echo(f"\nStringcourse is at http://127.0.0.1:{port}/ (Ctrl-C stops it)")
    click.echo(f"In the sample school it is {today:%A} {today.day} {today:%B} {today.year}.")
    click.echo(f"Sample sign-ins, all with the password “{DEMO_PASSWORD}”:")
    for role, email in DEMO_SIGN_INS:
        click.echo(f"  {role:16s} {email}")
    worker.make_ready(url)
    listen(application, "127.0.0.1", port)


COMMANDS = (demo,)
