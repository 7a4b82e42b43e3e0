"""What changes between two versions of a build is said completely."""

import copy

import pytest

from app.domain.builds.build_changes import compare

STEP = {
    "key": "S1",
    "title": "Saw",
    "purpose": "To size",
    "minutes": {"low": 10.0, "typical": 20.0, "high": 30.0},
    "minutes_per": "team",
    "hands": 2,
    "one_sitting": False,
    "minimum_sitting": 10.0,
    "whole_class": False,
    "station": "bench",
    "places": 1,
    "outside_class": False,
    "drying": None,
    "holds": [],
    "hazard_class": "edge",
    "hazards": [],
    "cautions": [],
    "protection": [],
    "supervision": "in-room",
    "permit": None,
    "grants": [],
    "substitute_safe": False,
    "hold_point": False,
    "after": [],
    "tools": [],
    "materials": [],
    "check": None,
    "exposures": [],
    "ready_made": [],
    "catch_up": "",
}
BUILD = {
    "title": "Box",
    "version": "1",
    "band": "3-5",
    "team_size": 2,
    "summary": "A box.",
    "note": "",
    "quantities": [{"key": "scale_length", "title": "Scale", "nominal": "584 mm", "note": ""}],
    "strings": [],
    "blanks": [{"key": "neck", "title": "Neck", "count": 1, "length": "600 mm"}],
    "no_treatment": [],
    "phases": [
        {
            "key": "p1",
            "title": "First",
            "summary": "",
            "milestone": "",
            "steps": [STEP, {**STEP, "key": "S2", "title": "File", "after": ["S1"]}],
        },
        {
            "key": "p2",
            "title": "Second",
            "summary": "",
            "milestone": "",
            "steps": [{**STEP, "key": "S3", "title": "Glue"}],
        },
    ],
}
HOURS = {"low": 6.0, "typical": 12.0, "high": 24.0}
EXPOSURE = {"concept": "ratio", "shows": "x", "reading": "", "quantity": None}

# Every field of a step with a value that differs, and what must be said of it.
CHANGES = [
    ("title", "Saw off", "“Saw” is now called “Saw off”"),
    ("purpose", "To shape", "purpose is reworded"),
    ("minutes", {"low": 10.0, "typical": 25.0, "high": 30.0}, "from 20 (10 to 30) to 25"),
    ("minutes_per", "student", "count per student"),
    ("hands", 1, "Hands at work: 1, not 2"),
    ("one_sitting", True, "in one sitting"),
    ("minimum_sitting", 20.0, "shortest sitting is 20 minutes"),
    ("whole_class", True, "whole class"),
    ("station", "drill", "station is drill, not bench"),
    ("places", 2, "Places taken at the station: 2"),
    ("outside_class", True, "outside class"),
    ("drying", {"hours": HOURS, "what": "glue", "conditions": ""}, "dries 12 hours"),
    ("holds", [{"fixture": "f", "count": 1, "hours": None, "until_step": None}], "fixtures"),
    ("hazard_class", "machine", "guarded power machine"),
    ("hazards", ["dust"], "hazards change"),
    ("cautions", [{"text": "x", "source": "y"}], "cautions change"),
    ("protection", ["eyes"], "protection changes"),
    ("supervision", "at-the-machine", "adult at the machine"),
    ("permit", "saw", "sign-off asked for is saw"),
    ("grants", ["saw"], "sign-offs it grants"),
    ("substitute_safe", True, "substitute may run it"),
    ("hold_point", True, "is a hold point"),
    ("after", ["S3"], "waits for S3"),
    ("tools", ["saw"], "tools change"),
    ("materials", [{"material": "glue", "quantity": 2.0}], "takes glue"),
    ("check", {"what": "width"}, "quality check changes"),
    ("exposures", [EXPOSURE], "now shows ratio"),
    ("ready_made", [{"by": "adult"}], "made by an adult or left out changes"),
    ("catch_up", "bench", "catch-up"),
]


def changed(change):
    build = copy.deepcopy(BUILD)
    change(build)
    return compare(BUILD, build)


def test_the_same_build_has_no_changes_whatever_its_label():
    assert not changed(lambda build: build.update(version="2"))


@pytest.mark.parametrize(("name", "value", "words"), CHANGES, ids=[item[0] for item in CHANGES])
def test_every_changed_field_of_a_step_is_said(name, value, words):
    changes = changed(lambda build: build["phases"][0]["steps"][0].update({name: value}))
    assert [step.key for step in changes.steps] == ["S1"]
    assert any(words in sentence for sentence in changes.steps[0].sentences), changes.sentences


def test_the_list_of_changes_covers_every_field_of_a_step():
    assert {name for name, _, _ in CHANGES} == set(STEP) - {"key"}


def test_added_and_dropped_steps_are_named():
    def change(build):
        build["phases"][1]["steps"] = [{**STEP, "key": "S4", "title": "Sand"}]

    what = {step.key: step.what for step in changed(change).steps}
    assert what == {"S3": "dropped", "S4": "added"}


def test_a_step_in_another_phase_has_moved():
    def change(build):
        build["phases"][1]["steps"].append(build["phases"][0]["steps"].pop())

    assert "S2: It moves from First to Second." in changed(change).sentences


def test_another_order_is_said():
    assert (
        "The steps come in another order."
        in changed(lambda build: build["phases"][0]["steps"].reverse()).sentences
    )
    assert (
        "The phases come in another order."
        in changed(lambda build: build["phases"].reverse()).sentences
    )


def test_quantities_phases_and_facts_are_said():
    def change(build):
        build["title"] = "Large box"
        build["quantities"][0]["nominal"] = "600 mm"
        build["phases"][0]["title"] = "Start"
        build["blanks"][0]["length"] = "620 mm"

    assert changed(change).sentences == [
        "The title changes from Box to Large box.",
        "The phase “First” is now called “Start”.",
        "Scale changes from 584 mm to 600 mm.",
        "The wooden parts cut from boards change.",
    ]


def test_dropped_exposures_and_materials_are_said():
    old = copy.deepcopy(BUILD)
    old["phases"][0]["steps"][0]["exposures"] = [EXPOSURE]
    old["phases"][0]["steps"][0]["materials"] = [{"material": "glue", "quantity": 1.0}]
    new = copy.deepcopy(BUILD)
    new["phases"][0]["steps"][0]["materials"] = [{"material": "glue", "quantity": 2.0}]
    said = compare(old, new).sentences
    assert "S1: It no longer shows ratio." in said
    assert "S1: It takes 2 of glue, not 1." in said
    for build, per in ((old, "instrument"), (new, "student")):
        build["phases"][0]["steps"][0]["materials"][0]["per"] = per
    said = compare(old, new).sentences
    assert "S1: glue is counted for each student, not for each instrument." in said
