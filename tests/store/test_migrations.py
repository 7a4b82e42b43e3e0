"""The migrations make the models' schema, go down again, and up once more, on both databases."""

import os
import shutil

import pytest
import sqlalchemy as sa
from alembic import command

from app import db
from app.models import Mark
from tests.conftest import missing


def postgresql_url():
    url = os.environ.get("STRINGCOURSE_TEST_POSTGRESQL")
    if not url:
        missing("no PostgreSQL: set STRINGCOURSE_TEST_POSTGRESQL to an empty database's address")
    return url


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request, tmp_path):
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/m.db"
    url = postgresql_url()
    engine = db.make_engine(url)
    with engine.begin() as connection:
        connection.execute(sa.text("DROP SCHEMA public CASCADE"))
        connection.execute(sa.text("CREATE SCHEMA public"))
    engine.dispose()
    return url


def tables(url):
    engine = db.make_engine(url)
    names = set(sa.inspect(engine).get_table_names())
    engine.dispose()
    return names


def test_migrations_go_up_down_and_up_and_equal_the_models(url):
    config = db.alembic_config(url)

    command.upgrade(config, "head")
    command.check(config)
    full = tables(url)
    command.downgrade(config, "base")
    assert tables(url) == {"alembic_version"}
    command.upgrade(config, "head")

    assert tables(url) == full
    assert {"exposure", "instrument", "alignment", "activity"} <= full


def test_going_back_adds_the_marks_of_questions_up(sample_file, tmp_path):
    """Before marks by question a paper had one mark a lesson; own questions had none."""
    path = tmp_path / "demo.db"
    shutil.copy(sample_file, path)
    url = f"sqlite:///{path}"
    engine = db.make_engine(url)
    with db.session_factory(engine)() as session:
        mark = session.scalars(sa.select(Mark)).first()
        student, lesson, meeting = mark.student_id, mark.treatment_id, mark.meeting_id
        for treatment, question, score, out_of in (
            (lesson, "a", 1, 2), (lesson, "b", 2, 3), (None, "own-1", 1, 1),
        ):  # fmt: skip
            session.add(
                Mark(
                    student_id=student, treatment_id=treatment, meeting_id=meeting,
                    artifact="a paper", question=question, score=score, out_of=out_of,
                    recorded_at=mark.recorded_at, recorded_by="x",
                )
            )  # fmt: skip
        session.commit()

    command.downgrade(db.alembic_config(url), "0001")

    with engine.connect() as connection:
        query = "SELECT treatment_id, score, out_of FROM mark WHERE artifact = 'a paper'"
        rows = connection.execute(sa.text(query)).all()
    engine.dispose()
    assert [tuple(row) for row in rows] == [(lesson, 3, 5)]


def test_the_library_loads_twice_without_a_change(url):
    from app.cli.library_commands import load_shipped

    db.upgrade(url)
    engine = db.make_engine(url)
    with db.session_factory(engine)() as session:
        load_shipped(session)
        session.commit()
    with db.session_factory(engine)() as session:
        again = load_shipped(session)
    engine.dispose()

    assert {change.what for change in again} == {"unchanged"}


@pytest.mark.postgresql
def test_the_sample_school_plays_on_postgresql():
    from app.cli.demo_commands import create

    url = postgresql_url()
    engine = db.make_engine(url)
    with engine.begin() as connection:
        connection.execute(sa.text("DROP SCHEMA public CASCADE"))
        connection.execute(sa.text("CREATE SCHEMA public"))
    create(url, new=True)
    with engine.connect() as connection:
        plans = connection.execute(sa.text("SELECT count(*) FROM plan")).scalar_one()
    engine.dispose()

    assert plans >= 3
