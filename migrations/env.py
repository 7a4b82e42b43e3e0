"""Alembic's entry: online only, for SQLite and PostgreSQL alike."""

from alembic import context

from app.db import make_engine
from app.models import School
from app.settings import from_environment

config = context.config


def run() -> None:
    """Run migrations on the configured connection, or on the configured address."""
    connection = config.attributes.get("connection")
    if connection is not None:
        migrate(connection)
        return
    url = config.attributes.get("url") or from_environment().database_url
    engine = make_engine(url)
    with engine.begin() as connection:
        migrate(connection)
    engine.dispose()


def migrate(connection) -> None:
    """Configure and run; SQLite gets its copy-and-move alterations."""
    context.configure(
        connection=connection,
        target_metadata=School.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


run()
