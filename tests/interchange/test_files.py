"""Library files: every mistake at once, in sentences, and loading that never half happens."""

import copy
import json
import tomllib
from pathlib import Path

import pytest
import sqlalchemy as sa

from app import models
from app.domain.builds.build_changes import SIMPLE, WORDED, YES_OR_NO
from app.interchange.files import BadFile, check, find_cycle, parse, read_file
from app.interchange.library_file import SCHEMA_VERSION, BuildEntry, StepEntry
from app.interchange.loading import build_file, concept_file, load
from app.models.library_tables import Base

SEED = Path(__file__).parents[2] / "seed_data"
STEP = {
    "title": "Saw the stick",
    "purpose": "A stick of the right length",
    "minutes": {"low": 5, "typical": 10, "high": 20},
    "station": "bench",
    "hazard_class": "hand",
    "supervision": "in-room",
}
BUILD = {
    "kind": "build",
    "schema_version": 1,
    "key": "stick",
    "title": "One-string stick",
    "summary": "One string on a stick.",
    "band": "3-5",
    "phases": [
        {"key": "make", "title": "Make", "steps": [{**STEP, "key": "S1"}, {**STEP, "key": "S2"}]}
    ],
}
TREATMENT = {
    "band": "6-8",
    "title": "Halving a string",
    "minutes": 20,
    "goal": "I can halve a string.",
    "explanation": "Half the length sounds an octave higher.",
    "demonstration": "Stop the string in the middle.",
    "misconception": "Half the length is half as loud.",
    "response": "Listen to both.",
}
CONCEPT = {
    "kind": "concept",
    "schema_version": 1,
    "key": "halving",
    "title": "Halving",
    "subject": "mathematics",
    "summary": "What half of a string does.",
    "treatments": [TREATMENT],
}


def build(**changes):
    return {**copy.deepcopy(BUILD), **changes}


def mistakes(data):
    """The mistakes of a file, as one text each."""
    with pytest.raises(BadFile) as refused:
        check(data, "stick.toml")
    return [str(mistake) for mistake in refused.value.mistakes]


def test_a_right_file_is_read_alike_from_toml_and_json():
    assert parse(json.dumps(BUILD).encode(), "stick.json") == check(BUILD, "stick.toml")


@pytest.mark.parametrize(
    ("raw", "name", "words"),
    [
        (b"kind = ", "stick.toml", "is not TOML"),
        (b"{", "stick.json", "is not JSON"),
        (b"\xff\xfe", "stick.toml", "is not UTF-8"),
        (b"[]", "stick.json", "must be a table"),
    ],
)
def test_what_cannot_be_read_says_what_it_is_not(raw, name, words):
    with pytest.raises(BadFile, match=words):
        parse(raw, name)


def test_a_file_that_is_not_there_is_refused_with_its_name(tmp_path):
    with pytest.raises(BadFile, match="cannot be read"):
        read_file(tmp_path / "nothing.toml")


def test_a_newer_schema_version_asks_for_an_upgrade_and_nothing_else():
    newer = build(schema_version=SCHEMA_VERSION + 1, unheard_of="x", phases=[])
    found = mistakes(newer)
    assert len(found) == 1
    assert "newer than the 1 this program reads; upgrade" in found[0]


def test_steps_that_wait_for_each_other_are_named_in_their_ring():
    ring = build()
    ring["phases"][0]["steps"][0]["after"] = ["S2"]
    ring["phases"][0]["steps"][1]["after"] = ["S1"]
    assert any("S1 → S2 → S1 wait for each other" in text for text in mistakes(ring))


def test_a_ring_is_found_however_long_and_a_diamond_is_none():
    ring = {str(n): [str((n + 1) % 500)] for n in range(500)}
    assert len(find_cycle(ring)) == 501
    assert find_cycle({"a": ["b", "c"], "b": ["d"], "c": ["d"], "d": []}) == []


def test_all_mistakes_of_a_file_come_at_once():
    wrong = build(phases=[{"key": "make", "title": "Make", "steps": []}, BUILD["phases"][0]])
    wrong["phases"][1] = copy.deepcopy(wrong["phases"][1])
    wrong["phases"][1]["steps"][1].update(key="S1", after=["S9"])
    wrong["no_treatment"] = [{"phase": "paint", "band": "3-5", "reason": "none"}]
    found = mistakes(wrong)
    for words in (
        "phase make: has no step",
        "the key make stands twice",
        "the key S1 stands twice",
        "comes after S9, which is no step",
        "names the phase paint",
    ):
        assert any(words in text for text in found), (words, found)


def test_mistakes_of_shape_come_at_once_with_their_places():
    wrong = build(band="7-9", colour="red")
    wrong["phases"][0]["steps"][0].update(minutes={"low": 9, "typical": 3, "high": 1}, places=-1)
    del wrong["phases"][0]["steps"][1]["title"]
    found = "\n".join(mistakes(wrong))
    assert "band: must be one of" in found
    assert "colour: is no name this schema knows" in found
    assert "phases[1].steps[1].minutes: low, typical and high must rise" in found
    assert "phases[1].steps[1].places: must be at least 0, not -1" in found
    assert "phases[1].steps[2].title: is missing; add it" in found


def test_a_concept_has_one_treatment_for_a_band():
    twice = {**CONCEPT, "treatments": [TREATMENT, TREATMENT]}
    assert "at most one treatment per grade band" in mistakes(twice)[0]


def test_an_answer_is_asked_for():
    asked = {"key": "q", "prompt": "Why?"}
    wrong = {**CONCEPT, "treatments": [{**TREATMENT, "questions": [asked]}]}
    assert "`computed` or a `written` answer" in mistakes(wrong)[0]


def test_a_lesson_longer_than_any_class_is_refused():
    wrong = {**CONCEPT, "treatments": [{**TREATMENT, "minutes": 200}]}
    assert "minutes: must be at most 90, not 200" in mistakes(wrong)[0]


def test_the_comparison_of_versions_knows_every_field_of_a_step():
    named = {name for names in (SIMPLE, YES_OR_NO, WORDED) for name, *_ in names}
    apart = {"key", "title", "minutes", "supervision", "hazard_class", "after", "drying"}
    apart |= {"materials", "exposures"}
    assert named | apart == set(StepEntry.model_fields)


# --- into the database -------------------------------------------------------------------------


def everything(session):
    """Every row of the library's tables as text."""
    session.flush()
    return {
        table.name: [tuple(row) for row in session.execute(sa.select(table).order_by(table.c.id))]
        for table in Base.metadata.sorted_tables
        if table.name in {"build", "phase", "step", "concept", "treatment", "question", "exposure"}
    }


def test_loading_twice_changes_nothing(session):
    before = everything(session)
    for path in [*(SEED / "concepts").glob("*.toml"), *(SEED / "builds").glob("[!w]*.toml")]:
        changes = load(session, read_file(path), name=path.name)
        assert {change.what for change in changes} == {"unchanged"}, path.name
    assert everything(session) == before


def test_what_is_loaded_comes_out_as_it_was_written(session):
    for path in (SEED / "builds").glob("[!w]*.toml"):
        written = BuildEntry.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
        row = session.scalars(sa.select(models.Build).where(models.Build.key == written.key)).one()
        assert build_file(row) == written
    for path in (SEED / "concepts").glob("*.toml"):
        concept = read_file(path)
        row = session.scalars(
            sa.select(models.Concept).where(models.Concept.key == concept.key)
        ).one()
        assert concept_file(row) == concept


def test_an_unknown_station_material_or_concept_is_named_and_changes_nothing(session):
    before = everything(session)
    wrong = build()
    wrong["phases"][0]["steps"][0].update(
        station="moon",
        materials=[{"material": "moon-dust", "quantity": 1}],
        exposures=[{"concept": "moon-light", "shows": "It shines."}],
    )
    with pytest.raises(BadFile) as refused:
        load(session, check(wrong, "stick.toml"), name="stick.toml")
    text = str(refused.value)
    for words in ("the station moon", "the material moon-dust", "the concept moon-light"):
        assert words in text
    assert len(refused.value.mistakes) == 3
    assert everything(session) == before


def test_an_unknown_code_is_named_and_changes_nothing(session):
    before = everything(session)
    alignment = {"framework": "CCSS-M", "code": "6.XX.1", "strength": "strong", "reason": "x"}
    wrong = {**CONCEPT, "treatments": [{**TREATMENT, "alignments": [alignment]}]}
    with pytest.raises(BadFile, match=r"CCSS-M has no code 6\.XX\.1"):
        load(session, check(wrong, "halving.toml"), name="halving.toml")
    assert everything(session) == before


def test_a_build_that_a_section_follows_is_not_changed_by_loading(session):
    path = SEED / "builds" / "six-string-solid-body.toml"
    content = read_file(path)
    with pytest.raises(BadFile, match="is used by a section and stays as it is"):
        load(session, content.model_copy(update={"title": "Changed"}), name=path.name)
    with_version = content.model_copy(update={"title": "Changed", "version": "another"})
    assert [c.what for c in load(session, with_version, name=path.name)] == ["added"]


def test_loading_with_a_school_leaves_the_shipped_library_as_it_is(session):
    school = session.scalars(sa.select(models.School)).one()
    content = read_file(SEED / "concepts" / "ratio.toml")
    shipped = concept_file(
        session.scalars(sa.select(models.Concept).where(models.Concept.key == "ratio")).one()
    )
    first = content.treatments[0].model_copy(update={"title": "Our own way to say it"})
    changed = content.model_copy(update={"treatments": [first, *content.treatments[1:]]})
    load(session, changed, name="ratio.toml", school_id=school.id)
    session.expire_all()
    row = session.scalars(sa.select(models.Concept).where(models.Concept.key == "ratio")).one()
    assert concept_file(row) == shipped
    assert concept_file(row, school.id) == changed
