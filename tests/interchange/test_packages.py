"""Build packages: the round trip loses nothing, the preview keeps nothing, and bad ones say why."""

import shutil

import pytest
import sqlalchemy as sa

from app import db, models
from app.interchange import packages
from app.interchange.files import BadFile, parse
from app.interchange.loading import load
from app.interchange.teaching import question_mistakes, require_teachable
from app.settings import embedded_url
from app.store import library

BUILDS = ["mountain-dulcimer", "six-string-solid-body", "tenor-ukulele", "three-string-box"]


@pytest.fixture
def elsewhere(tmp_path):
    """A database of another school that has nothing of the library."""
    url = embedded_url(tmp_path / "elsewhere.db")
    db.upgrade(url)
    engine = db.make_engine(url)
    with db.session_factory(engine)() as session:
        session.add(models.School(name="Elsewhere"))
        session.flush()
        yield session
    engine.dispose()


def school_of(session):
    return session.scalars(sa.select(models.School)).one().id


def counted(session):
    """Rows of every table of the library."""
    return {
        table.__tablename__: session.scalar(sa.select(sa.func.count()).select_from(table))
        for table in (
            models.Build,
            models.Phase,
            models.Step,
            models.Exposure,
            models.StepMaterial,
            models.Concept,
            models.Treatment,
            models.Question,
            models.Alignment,
            models.StationType,
            models.Material,
            models.Framework,
            models.Standard,
        )
    }


@pytest.mark.parametrize("kind", ["json", "toml"])
@pytest.mark.parametrize("key", BUILDS)
def test_a_package_taken_in_elsewhere_and_handed_on_again_is_the_same(
    session, elsewhere, key, kind
):
    out = packages.package_of(session, library.find_build(session, None, key), None)
    read = parse(packages.write(out, kind).encode(), f"build.{kind}")
    assert read == out
    school = school_of(elsewhere)
    load(elsewhere, read, name="build", school_id=school)
    elsewhere.expire_all()
    again = packages.package_of(elsewhere, library.find_build(elsewhere, school, key), school)
    assert again == out


def test_the_preview_says_what_loading_does_and_keeps_nothing(session, elsewhere):
    out = packages.package_of(session, library.find_build(session, None, "tenor-ukulele"), None)
    school = school_of(elsewhere)
    before = counted(elsewhere)
    seen = packages.preview(elsewhere, out, name="build", school_id=school)
    assert counted(elsewhere) == before
    assert {change.what for change in seen} == {"added"}
    assert load(elsewhere, out, name="build", school_id=school) == seen
    after = packages.preview(elsewhere, out, name="build", school_id=school)
    assert {change.what for change in after} == {"unchanged"}


def test_a_package_from_here_changes_nothing_here(session):
    school = school_of(session)
    for key in BUILDS:
        out = packages.package_of(session, library.find_build(session, None, key), None)
        require_teachable(session, out, name="build", school_id=school)
        changes = load(session, out, name="build", school_id=school)
        assert {change.what for change in changes} == {"unchanged"}, key


def test_a_changed_build_comes_in_beside_the_one_that_is_there(session):
    school = school_of(session)
    shipped = library.find_build(session, school, "tenor-ukulele")
    out = packages.package_of(session, shipped, None)
    content = out.builds[0].model_copy(update={"title": "Ukulele of elsewhere"})
    changed = out.model_copy(update={"builds": [content]})
    change = load(session, changed, name="build", school_id=school)[-1]
    assert change.what == "added as a new version"
    assert change.notes == (
        f"It comes in as version {shipped.version}-2.",
        "The title changes from Four-string tenor ukulele to Ukulele of elsewhere.",
    )
    own = library.find_build(session, school, "tenor-ukulele")
    assert (own.version, own.school_id) == (f"{shipped.version}-2", school)
    assert library.find_build(session, None, "tenor-ukulele").id == shipped.id


def test_codes_of_a_package_never_take_away_or_change_codes_that_are_there(session):
    school = school_of(session)
    before = {
        row.code: (row.position, row.domain) for row in session.scalars(sa.select(models.Standard))
    }
    out = packages.package_of(session, library.find_build(session, None, "three-string-box"), None)
    renamed = [
        framework.model_copy(
            update={
                "standards": [s.model_copy(update={"domain": "Other"}) for s in framework.standards]
            }
        )
        for framework in out.frameworks
    ]
    load(session, out.model_copy(update={"frameworks": renamed}), name="x", school_id=school)
    session.expire_all()
    after = {
        row.code: (row.position, row.domain) for row in session.scalars(sa.select(models.Standard))
    }
    assert after == before


def test_a_statement_that_a_school_imported_is_never_handed_on(session):
    for standard in session.scalars(sa.select(models.Standard)):
        standard.statement = "Licensed words"
    out = packages.package_of(session, library.find_build(session, None, "three-string-box"), None)
    assert "Licensed words" not in packages.write(out, "json")


def test_a_package_with_a_cycle_is_refused(session):
    out = packages.package_of(session, library.find_build(session, None, "three-string-box"), None)
    data = out.model_dump(mode="json")
    data["builds"][0]["phases"][0]["steps"][0]["after"] = ["B32"]
    import json

    with pytest.raises(BadFile, match="wait for each other"):
        parse(json.dumps(data).encode(), "build.json")


def test_the_other_school_does_not_see_what_this_one_took_in(session, elsewhere):
    out = packages.package_of(session, library.find_build(session, None, "three-string-box"), None)
    load(elsewhere, out, name="build", school_id=school_of(elsewhere))
    other = models.School(name="A third")
    elsewhere.add(other)
    elsewhere.flush()
    assert library.list_builds(elsewhere, other.id) == []
    assert library.list_concepts(elsewhere, other.id) == []
    assert library.list_treatments(elsewhere, "3-5", other.id) == []
    assert library.kinds(elsewhere, models.StationType, other.id) == {}


def a_question(**changes):
    from app.interchange.library_file import QuestionEntry

    return QuestionEntry.model_validate(
        {
            "key": "q",
            "prompt": "How far from the nut is fret {fret}?",
            "parameters": {"fret": {"low": 1, "high": 12, "step": 1}},
            "computed": {
                "calculator": "fret-positions",
                "given": {"scale_length": "648 mm", "fret": "{fret}"},
                "result": "fret_distance",
                "unit": "mm",
                "tolerance": "0.5 mm",
            },
            **changes,
        }
    )


def test_a_question_is_tried_at_the_ends_of_its_ranges():
    assert question_mistakes(a_question(), {}) == []
    beyond = a_question(parameters={"fret": {"low": 1, "high": 900, "step": 1}})
    assert "cannot be answered for every value" in question_mistakes(beyond, {})[0]


def test_a_division_by_zero_is_found():
    by_zero = a_question(
        prompt="What is {a} of {b}?",
        parameters={"a": {"low": 0, "high": 4, "step": 1}},
        computed={
            "calculator": "proportion",
            "given": {"a": "{a}", "b": "2", "c": "3"},
            "result": "d",
            "tolerance": "exact",
        },
    )
    assert question_mistakes(by_zero, {}) != []


def test_names_that_stand_for_nothing_are_found():
    assert "stands for no parameter" in question_mistakes(a_question(parameters={}), {})[0]
    own = a_question(parameters={"fret": {"quantity": "fret_of_the_moon"}})
    assert "no build has the instrument quantity fret_of_the_moon" in question_mistakes(own, {})[0]


def test_the_command_line_hands_on_and_takes_in(sample_file, tmp_path, monkeypatch):
    from click.testing import CliRunner

    from app.cli import command

    database = tmp_path / "copy.db"
    shutil.copy(sample_file, database)
    monkeypatch.setenv("STRINGCOURSE_DATABASE", embedded_url(database))
    target = tmp_path / "ukulele.toml"
    run = CliRunner().invoke(command, ["package", "export", "tenor-ukulele", "-o", str(target)])
    assert run.exit_code == 0, run.output
    assert parse(target.read_bytes(), target.name).builds[0].key == "tenor-ukulele"
    run = CliRunner().invoke(command, ["load", str(target)])
    assert run.exit_code == 0, run.output
    assert "0 parts added or changed" in run.output
    run = CliRunner().invoke(command, ["package", "export", "moon", "-o", str(target)])
    assert run.exit_code != 0
    assert "known: " in run.output
    run = CliRunner().invoke(command, ["package", "export", "tenor-ukulele", "-o", "x.doc"])
    assert "must end in .toml or .json" in run.output
    run = CliRunner().invoke(command, ["library", "--table"])
    assert "| Phase | Grades 3–5 | Grades 6–8 |" in run.output
