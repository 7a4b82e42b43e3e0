"""Builds: read by everyone, changed in versions by teachers and workshop leads, handed on whole."""

import json
import re

import pytest
import sqlalchemy as sa

from app import db, models
from app.domain.papers.document import DEFERRAL
from app.interchange.loading import build_file
from app.store import library
from tests.conftest import signed_in

ELECTRIC = "six-string-solid-body"
EVERYONE = ["teacher", "head", "workshop", "admin"]
EDITORS = ["teacher", "workshop", "admin"]


@pytest.fixture
def session(app):
    """A reading session, so that the application can write; `rollback` shows what it wrote."""
    engine = app.extensions["engine"].execution_options(reading=True)
    with db.session_factory(engine)() as session:
        yield session


def own_copy(client, key="tenor-ukulele", version="ours"):
    """The id of a fresh copy in the school's own library."""
    answer = client.post(
        f"/builds/{key}/copy", data={"title": "Our build", "key": key, "version": version}
    )
    assert answer.status_code == 303, answer.text
    return int(re.search(r"/own-builds/(\d+)", answer.location)[1])


def form_data(client, address):
    """What a browser would send back if nothing were changed."""
    page = client.get(address)
    assert page.status_code == 200, address
    html = page.text.split("<main", 1)[1]
    data = {}
    for tag in re.findall(r"<input[^>]*>", html):
        name = re.search(r'name="([^"]+)"', tag)
        kind = re.search(r'type="([^"]+)"', tag)
        if name is None or name[1] == "csrf_token" or name[1].endswith("-remove"):
            continue
        value = re.search(r'value="([^"]*)"', tag)
        text = unescaped(value[1]) if value else ""
        if kind and kind[1] == "checkbox":
            if " checked" in tag:
                data.setdefault(name[1], []).append(text or "y")
        else:
            data[name[1]] = text
    for name, inner in re.findall(
        r'<textarea[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', html, re.DOTALL
    ):
        data[name] = unescaped(inner).removeprefix("\r\n").removeprefix("\n")
    for name, inner in re.findall(
        r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', html, re.DOTALL
    ):
        chosen = re.search(r'<option selected[^>]*value="([^"]*)"|value="([^"]*)" selected', inner)
        first = re.search(r'value="([^"]*)"', inner)
        data[name] = unescaped((chosen[1] or chosen[2] or "") if chosen else first[1])
    return data


def unescaped(text):
    import html

    return html.unescape(text)


# --- to read -----------------------------------------------------------------------------------


@pytest.mark.parametrize("who", EVERYONE)
def test_everyone_of_the_school_reads_every_build(app, who):
    client = signed_in(app, who)
    page = client.get("/builds").text
    for key in ("mountain-dulcimer", ELECTRIC, "tenor-ukulele", "three-string-box"):
        assert f'href="/builds/{key}"' in page
        for address in (
            f"/builds/{key}",
            f"/builds/{key}/network",
            f"/builds/{key}/what-it-teaches",
        ):
            assert client.get(address).status_code == 200, address


def test_strangers_are_led_to_the_sign_in(client):
    for address in ("/builds", f"/builds/{ELECTRIC}", "/packages", "/own-kinds", "/concepts"):
        assert client.get(address).status_code == 302, address


def test_an_unknown_build_or_version_is_not_there(teacher):
    assert teacher.get("/builds/moon").status_code == 404
    assert teacher.get(f"/builds/{ELECTRIC}?version=99").status_code == 404
    assert teacher.get("/own-builds/1").status_code == 404


def test_the_choice_shows_the_sums_of_the_build(session, teacher):
    build = library.find_build(session, None, ELECTRIC)
    steps = [step for phase in build.phases for step in phase.steps]
    minutes = sum(step.minutes_typical for step in steps if not step.outside_class)
    low = sum(m.quantity * m.material.cost_low for step in steps for m in step.materials)
    page = teacher.get("/builds").text
    assert f"{minutes:,.0f}" in page
    assert f"{low:,.0f} to" in page


def test_every_hazardous_step_stands_with_its_cautions_and_the_line_about_local_rules(
    session, teacher
):
    build = library.find_build(session, None, ELECTRIC)
    page = unescaped(teacher.get(f"/builds/{ELECTRIC}").text)
    parts = re.split(r'<li id="', page)
    for phase in build.phases:
        for step in phase.steps:
            part = next(item for item in parts if item.startswith(f'{step.key}"'))
            if step.hazard_class in ("edge", "machine", "severe-machine", "heat", "chemical"):
                assert DEFERRAL in part, step.key
                assert "Protection:" in part or not step.protection, step.key
                for caution in step.cautions:
                    assert caution["text"] in part, step.key


def test_exposures_lead_to_their_concepts_and_ready_made_says_what_is_lost(session, teacher):
    page = unescaped(teacher.get("/builds/tenor-ukulele").text)
    build = library.find_build(session, None, "tenor-ukulele")
    for phase in build.phases:
        for step in phase.steps:
            assert all(f'href="/concepts/{e.concept.key}"' in page for e in step.exposures)
            assert all(way["loses"] in page for way in step.ready_made)


def test_the_network_names_every_step_and_describes_itself(session, teacher):
    page = teacher.get(f"/builds/{ELECTRIC}/network").text
    build = library.find_build(session, None, ELECTRIC)
    keys = {step.key for phase in build.phases for step in phase.steps}
    assert keys <= set(re.findall(r">([A-Z]\d\d)</text>", page))
    assert re.search(r'role="group" aria-label="57 steps in 10 phases\. The longest chain', page)
    assert DEFERRAL in unescaped(page)


# --- a school's own ----------------------------------------------------------------------------


def test_heads_read_but_do_not_change(app):
    head = signed_in(app, "head")
    for address in (f"/builds/{ELECTRIC}/copy", "/packages", "/own-kinds", "/concepts/new"):
        assert head.get(address).status_code == 404, address
    data = {"title": "x", "key": ELECTRIC, "version": "another"}
    assert head.post(f"/builds/{ELECTRIC}/copy", data=data).status_code == 404


@pytest.mark.parametrize("who", EDITORS)
def test_a_copy_is_the_schools_own_and_the_shipped_build_stays(app, session, who):
    client = signed_in(app, who)
    shipped = build_file(library.find_build(session, None, "tenor-ukulele"))
    build_id = own_copy(client)
    assert client.get(f"/own-builds/{build_id}").status_code == 200
    session.rollback()
    row = session.get(models.Build, build_id)
    assert build_file(row) == shipped.model_copy(update={"title": "Our build", "version": "ours"})
    assert build_file(library.find_build(session, None, "tenor-ukulele")) == shipped


def test_a_version_label_is_used_once(teacher):
    own_copy(teacher)
    answer = teacher.post(
        "/builds/tenor-ukulele/copy",
        data={"title": "Again", "key": "tenor-ukulele", "version": "ours"},
    )
    assert answer.status_code == 422
    assert "There is a version ours already" in answer.text
    assert 'value="Again"' in answer.text


def test_every_step_survives_a_save_without_a_change(session, teacher):
    build_id = own_copy(teacher, ELECTRIC)
    before = build_file(session.get(models.Build, build_id))
    for step in ("E03", "E11", "E16", "E20", "E40", "E44", "E50", "E54"):
        address = f"/own-builds/{build_id}/steps/{step}"
        answer = teacher.post(address, data=form_data(teacher, address))
        assert answer.status_code == 303, (step, answer.text)
    session.rollback()
    assert build_file(session.get(models.Build, build_id)) == before


def test_numbers_places_and_exposures_of_a_step_can_be_changed(session, teacher):
    build_id = own_copy(teacher)
    address = f"/own-builds/{build_id}/steps/U14"
    data = form_data(teacher, address)
    data.update(
        {
            "minutes_typical": "40",
            "minutes_high": "70.5",
            "station": "bench",
            "drying_typical": "20",
            "hold_point": "y",
            "exposures-2-concept": "ratio",
            "exposures-2-shows": "Width against height of a brace.",
            "cautions-0-text": "Keep fingers out from under the bars",
        }
    )
    assert teacher.post(address, data=data).status_code == 303
    session.rollback()
    step = next(s for s in build_file(session.get(models.Build, build_id)).steps if s.key == "U14")
    assert (step.minutes.typical, step.minutes.high, step.station) == (40, 70.5, "bench")
    assert step.drying.hours.typical == 20
    assert step.hold_point
    assert step.cautions[0].text == "Keep fingers out from under the bars"
    assert "ratio" in {item.concept for item in step.exposures}


def test_a_row_is_removed_by_its_box(session, teacher):
    build_id = own_copy(teacher)
    address = f"/own-builds/{build_id}/steps/U14"
    data = form_data(teacher, address) | {"exposures-0-remove": "1"}
    gone = data["exposures-0-concept"]
    assert teacher.post(address, data=data).status_code == 303
    session.rollback()
    step = next(s for s in build_file(session.get(models.Build, build_id)).steps if s.key == "U14")
    assert gone not in {item.concept for item in step.exposures}


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"minutes_typical": "soon"}, "must be a number, not “soon”"),
        ({"minutes_low": "90"}, "low, typical and high must rise"),
        ({"places": "-1"}, "must be at least 0, not -1"),
        ({"title": ""}, "Title: is missing; add it"),
        ({"after": "U99"}, "comes after U99, which is no step of this build"),
        ({"after": "U15"}, "wait for each other"),
        ({"materials-7-material": "", "materials-7-quantity": "2"}, "Material: is missing"),
        ({"exposures-0-shows": ""}, "What this step shows of it: is missing"),
        ({"holds-0-until_step": "U99"}, "until U99, which is no step"),
    ],
)
def test_a_wrong_step_is_refused_in_words_and_nothing_typed_is_lost(
    session, teacher, change, sentence
):
    build_id = own_copy(teacher)
    before = build_file(session.get(models.Build, build_id))
    address = f"/own-builds/{build_id}/steps/U14"
    data = form_data(teacher, address) | {"purpose": "Typed with care"} | change
    answer = teacher.post(address, data=data)
    assert answer.status_code == 422
    assert sentence in unescaped(answer.text)
    assert "Typed with care" in answer.text
    session.rollback()
    assert build_file(session.get(models.Build, build_id)) == before


def test_steps_and_phases_are_added_moved_and_dropped(session, teacher):
    build_id = own_copy(teacher)
    base = f"/own-builds/{build_id}"
    answer = teacher.post(f"{base}/phases/new", data={"title": "Case", "key": "case"})
    assert answer.status_code == 303
    address = answer.location
    data = form_data(teacher, address) | {
        "key": "U60",
        "title": "Sew a bag",
        "purpose": "A home for the instrument",
        "minutes_low": "20",
        "minutes_typical": "30",
        "minutes_high": "50",
        "after": "U50",
        "hazard_class": "hand",
    }
    assert teacher.post(address, data=data).status_code == 303
    assert teacher.post(f"{base}/phases/case/up").status_code == 303
    assert teacher.post(f"{base}/steps/U02/up").status_code == 303
    assert teacher.post(f"{base}/steps/U15/drop").status_code == 303
    session.rollback()
    content = build_file(session.get(models.Build, build_id))
    assert [phase.key for phase in content.phases][-2] == "case"
    assert [step.key for step in content.phases[0].steps][:2] == ["U02", "U01"]
    steps = {step.key: step for step in content.steps}
    assert "U15" not in steps
    assert all("U15" not in step.after for step in steps.values())
    assert "U14" in steps["U21"].after, "what waited for the dropped step waits for its forerunner"
    assert teacher.post(f"{base}/phases/case/drop").status_code == 303


def test_the_last_step_of_a_phase_does_not_leave_it_empty(session, teacher):
    build_id = own_copy(teacher)
    phase = session.get(models.Build, build_id).phases[0]
    keys = [step.key for step in phase.steps]
    answers = [teacher.post(f"/own-builds/{build_id}/steps/{key}/drop") for key in keys]
    assert answers[-1].status_code == 422
    assert "has no step; add one or remove the phase" in answers[-1].text


def test_facts_quantities_and_strings_can_be_changed(session, teacher):
    build_id = own_copy(teacher)
    address = f"/own-builds/{build_id}/facts"
    before = build_file(session.get(models.Build, build_id))
    assert teacher.post(address, data=form_data(teacher, address)).status_code == 303
    session.rollback()
    assert build_file(session.get(models.Build, build_id)) == before
    data = form_data(teacher, address) | {"quantities-0-nominal": "430 mm", "team_size": "3"}
    assert teacher.post(address, data=data).status_code == 303
    session.rollback()
    content = build_file(session.get(models.Build, build_id))
    assert (content.quantities[0].nominal, content.team_size) == ("430 mm", 3)
    wrong = teacher.post(address, data=data | {"team_size": "40"})
    assert wrong.status_code == 422
    assert "must be at most 6, not 40" in wrong.text


# --- versions ----------------------------------------------------------------------------------


def follow_own_copy(session, teacher):
    """Let the sample section follow the school's own copy of its build."""
    build_id = own_copy(teacher, ELECTRIC)
    page = teacher.get("/sections/period-3/newer-build").text
    assert "The title changes from Six-string solid-body electric guitar to Our build" in page
    assert teacher.post("/sections/period-3/newer-build").status_code == 303
    session.rollback()
    return build_id


def test_a_section_keeps_its_build_while_a_new_version_is_made(session, teacher):
    build_id = follow_own_copy(session, teacher)
    section = session.scalars(
        sa.select(models.Section).where(models.Section.key == "period-3")
    ).one()
    assert section.build_id == build_id
    before = build_file(section.build)
    address = f"/own-builds/{build_id}/steps/E57"
    data = form_data(teacher, address) | {"minutes_typical": "25"}
    answer = teacher.post(address, data=data)
    assert answer.status_code == 303
    assert f"/own-builds/{build_id}#" not in answer.location
    session.rollback()
    assert section.build_id == build_id
    assert build_file(section.build) == before
    page = teacher.get("/sections/period-3").text
    assert "A newer version exists" in page
    changes = teacher.get("/sections/period-3/newer-build").text
    assert "E57" in changes
    assert "Minutes change from" in changes


def test_moving_to_the_newer_version_takes_progress_and_plan_along(session, teacher):
    def happened():
        session.rollback()
        rows = session.execute(
            sa.select(models.Progress.team_id, models.Step.key, models.Progress.event)
            .join(models.Step, models.Progress.step_id == models.Step.id)
            .join(models.Team, models.Progress.team_id == models.Team.id)
            .join(models.Section)
            .where(models.Section.key == "period-3")
        )
        return sorted(tuple(row) for row in rows)

    before = happened()
    assert before
    build_id = follow_own_copy(session, teacher)
    assert happened() == before
    answer = teacher.post(f"/own-builds/{build_id}/steps/E56/drop")
    assert answer.status_code == 303
    assert teacher.post("/sections/period-3/newer-build").status_code == 303
    session.rollback()
    section = session.scalars(
        sa.select(models.Section).where(models.Section.key == "period-3")
    ).one()
    assert section.build_id != build_id
    keys = {step.key: step.id for phase in section.build.phases for step in phase.steps}
    coming = session.execute(
        sa.select(models.Step.key, models.Activity.step_id)
        .join(models.Step, models.Activity.step_id == models.Step.id)
        .join(models.Plan)
        .join(models.Meeting, models.Activity.meeting_id == models.Meeting.id)
        .where(
            models.Plan.section_id == section.id,
            models.Plan.current,
            models.Meeting.state == models.MeetingState.PLANNED,
        )
    ).all()
    assert coming
    assert all(keys.get(key) == step_id for key, step_id in coming)
    for address in ("", "/today", "/plan", "/newer-build"):
        assert teacher.get(f"/sections/period-3{address}").status_code in (200, 302), address


def test_a_version_that_a_section_follows_cannot_be_removed(session, teacher):
    build_id = follow_own_copy(session, teacher)
    answer = teacher.post(f"/own-builds/{build_id}/drop")
    assert answer.status_code == 422
    assert "is used by a section and stays" in answer.text


def test_another_teacher_does_not_move_the_section(app, session, teacher):
    own_copy(teacher, ELECTRIC)
    workshop = signed_in(app, "workshop")
    answer = workshop.post("/sections/period-3/newer-build")
    assert answer.status_code == 404


# --- stations and materials --------------------------------------------------------------------


def test_a_station_of_our_own_can_be_named_by_a_step_and_stands_in_the_rooms(session, teacher):
    data = {
        "key": "sewing",
        "title": "Sewing table",
        "places": "2",
        "hazard_class": "hand",
        "supervision": "in-room",
        "permit": "",
    }
    assert teacher.post("/own-kinds/station/new", data=data).status_code == 303
    rooms = session.scalars(sa.select(models.Room)).all()
    assert all("sewing" in {station.key for station in room.stations} for room in rooms)
    build_id = own_copy(teacher)
    address = f"/own-builds/{build_id}/steps/U01"
    data = form_data(teacher, address) | {"station": "sewing"}
    assert teacher.post(address, data=data).status_code == 303
    assert "Sewing table" in teacher.get("/builds/tenor-ukulele?version=ours").text


def test_a_price_of_our_own_takes_the_place_of_the_shipped_one(session, teacher):
    shipped = session.scalars(
        sa.select(models.Material).where(models.Material.key == "m-rod")
    ).one()
    cost = shipped.cost_low
    address = "/own-kinds/material/change/m-rod"
    data = form_data(teacher, address) | {"cost_low": "1.25"}
    assert teacher.post(address, data=data).status_code == 303
    session.rollback()
    assert shipped.cost_low == cost
    school = session.scalars(sa.select(models.School)).one()
    own = library.kinds(session, models.Material, school.id)["m-rod"]
    assert (own.cost_low, own.pack_size) == (1.25, shipped.pack_size)


def test_a_fixture_of_our_own_stands_in_the_rooms_and_a_sign_off_can_be_asked_for(session, teacher):
    data = {"key": "vice", "title": "Leg vice", "count": "3"}
    assert teacher.post("/own-kinds/fixture/new", data=data).status_code == 303
    rooms = session.scalars(sa.select(models.Room)).all()
    assert all({f.count for f in room.fixtures if f.key == "vice"} == {3} for room in rooms)
    data = {"key": "P-VICE", "title": "Leg vice", "renew_after_days": "365"}
    assert teacher.post("/own-kinds/permit/new", data=data).status_code == 303
    page = teacher.get("/own-kinds").text
    assert "after 365 days" in page
    assert "P-VICE" in form_page(teacher, "/own-kinds/station/change/bench")
    wrong = teacher.post("/own-kinds/fixture/new", data=data | {"key": "v2", "count": "few"})
    assert wrong.status_code == 422
    assert "must be a whole number, not “few”" in unescaped(wrong.text)


def form_page(client, address):
    page = client.get(address)
    assert page.status_code == 200, address
    return page.text


def test_the_wooden_parts_of_a_build_can_be_changed_and_the_new_version_says_so(session, teacher):
    build_id = own_copy(teacher)
    address = f"/own-builds/{build_id}/facts"
    data = form_data(teacher, address)
    first = session.get(models.Build, build_id).blanks[0]
    assert data["blanks-0-length"] == first["length"]
    assert teacher.post(address, data=data | {"blanks-0-length": "455 mm"}).status_code == 303
    session.expire_all()
    session.rollback()
    build = session.get(models.Build, build_id)
    assert build.blanks[0] == {**first, "length": "455 mm"}
    wrong = teacher.post(address, data=data | {"blanks-0-width": "wide"})
    assert wrong.status_code == 422
    assert "Wooden parts cut from boards, row 1" in unescaped(wrong.text)


def test_materials_are_counted_per_instrument_student_or_class(session, teacher):
    build_id = own_copy(teacher)
    build = session.get(models.Build, build_id)
    key, number = next(
        (step.key, n)
        for phase in build.phases
        for step in phase.steps
        for n, item in enumerate(step.materials)
        if item.per == "instrument"
    )
    address = f"/own-builds/{build_id}/steps/{key}"
    data = form_data(teacher, address) | {f"materials-{number}-per": "student"}
    assert teacher.post(address, data=data).status_code == 303
    session.rollback()
    step = next(
        s for p in session.get(models.Build, build_id).phases for s in p.steps if s.key == key
    )
    assert step.materials[number].per == "student"


def test_a_wrong_station_or_material_is_refused_in_words(teacher):
    data = form_data(teacher, "/own-kinds/station/new") | {"key": "bench", "title": "x"}
    taken = teacher.post("/own-kinds/station/new", data=data)
    assert taken.status_code == 422
    assert "There is a station bench already" in taken.text
    wrong = teacher.post(
        "/own-kinds/material/new", data={"key": "m-felt", "title": "Felt", "cost_low": "cheap"}
    )
    assert wrong.status_code == 422
    assert "must be a number, not “cheap”" in unescaped(wrong.text)


# --- packages ----------------------------------------------------------------------------------


def test_a_package_is_handed_on_shown_and_taken_in(session, teacher):
    out = teacher.get("/builds/three-string-box/package.json")
    assert out.status_code == 200
    assert 'filename="three-string-box-2.json"' in out.headers["Content-Disposition"]
    data = json.loads(out.text)
    data["builds"][0]["title"] = "Box of elsewhere"
    data["builds"][0]["phases"][0]["steps"][0]["minutes"]["high"] = 99
    before = session.scalar(sa.select(sa.func.count()).select_from(models.Build))
    shown = teacher.post("/packages", **uploaded(json.dumps(data)))
    assert shown.status_code == 200, shown.text
    text = unescaped(shown.text)
    assert "Added as a new version" in text
    assert "B01: Minutes change from" in text
    assert session.scalar(sa.select(sa.func.count()).select_from(models.Build)) == before
    content = unescaped(re.search(r"<textarea[^>]*>(.*?)</textarea>", shown.text, re.DOTALL)[1])
    assert teacher.post("/packages/load", data={"content": content}).status_code == 303
    session.rollback()
    assert session.scalar(sa.select(sa.func.count()).select_from(models.Build)) == before + 1
    assert "Box of elsewhere" in teacher.get("/builds/three-string-box").text


def uploaded(text, name="build.json"):
    """A file as a browser sends it. (The test client's own encoder leaves large files open.)"""
    head = f'--cut\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
    return {
        "data": head.encode() + text.encode() + b"\r\n--cut--\r\n",
        "content_type": "multipart/form-data; boundary=cut",
    }


@pytest.mark.parametrize("kind", ["json", "toml"])
def test_what_is_downloaded_can_be_uploaded_and_changes_nothing(teacher, kind):
    out = teacher.get(f"/builds/mountain-dulcimer/package.{kind}").text
    shown = teacher.post("/packages", **uploaded(out, f"build.{kind}"))
    assert shown.status_code == 200, shown.text
    assert "0 parts would be added or changed" in shown.text


def test_wrong_packages_are_refused_with_all_their_mistakes(session, teacher):
    before = session.scalar(sa.select(sa.func.count()).select_from(models.Step))
    assert "Choose a file first" in teacher.post("/packages", data={}).text
    out = json.loads(teacher.get("/builds/three-string-box/package.json").text)
    newer = {**out, "schema_version": 2}
    answer = teacher.post("/packages", **uploaded(json.dumps(newer)))
    assert answer.status_code == 422
    assert "newer than the 1 this program reads" in answer.text
    wrong = json.loads(json.dumps(out))
    steps = wrong["builds"][0]["phases"][0]["steps"]
    steps[0]["after"] = ["B32"]
    steps[1]["after"] = ["B77"]
    answer = teacher.post("/packages", **uploaded(json.dumps(wrong)))
    assert answer.status_code == 422
    text = unescaped(answer.text)
    assert "wait for each other" in text
    assert "comes after B77" in text
    unknown = json.loads(json.dumps(out))
    unknown["frameworks"] = []
    treatment = unknown["concepts"][0]["treatments"][0]
    treatment["alignments"][0]["code"] = "9.ZZ.9"
    answer = teacher.post("/packages", **uploaded(json.dumps(unknown)))
    assert answer.status_code == 422
    assert "has no code 9.ZZ.9" in answer.text
    assert session.scalar(sa.select(sa.func.count()).select_from(models.Step)) == before
