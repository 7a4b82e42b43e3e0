"""Calculators as pages, JSON and commands: one computation, the same answer everywhere."""

import html
import json
import re
import sys

import pytest
import sqlalchemy as sa

from app.calculators.groups import GROUPS
from app.calculators.state import computed, entries, exchanged
from app.cli import main
from app.domain.calculators import CATALOGUE, calculate
from app.models import InstrumentQuantity, Section
from app.web import limits
from tests.conftest import make_app, signed_in
from tests.pages import check_page, get, post

API = "/api/v1/calculators"


@pytest.fixture(scope="module")
def client(sample_file):
    """A browser that is not signed in; one application for all that only reads."""
    app = make_app(sample_file)
    app.config.update(TESTING=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(limits.limiter, "enabled", False)
        yield app.test_client()
    app.extensions["engine"].dispose()


def command(monkeypatch, capsys, *words):
    """Run `stringcourse calc` and return exit code, output and complaint."""
    monkeypatch.setattr(sys, "argv", ["stringcourse", "calc", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    said = capsys.readouterr()
    return ended.value.code, said.out, said.err


def printed(page):
    """The words of a page as one line."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


# --- every entry has everything -------------------------------------------------------------------


def test_the_list_shows_every_calculator_once(client):
    grouped = [key for keys in GROUPS.values() for key in keys]
    page = get(client, "/calculators")

    assert sorted(grouped) == sorted(CATALOGUE)
    for key in CATALOGUE:
        assert page.count(f'href="/calculators/{key}"') == 1
        assert CATALOGUE[key].question in html.unescape(page)


@pytest.mark.parametrize("key", CATALOGUE)
def test_every_entry_has_page_json_command_source_example_and_picture(
    client, monkeypatch, capsys, key
):
    calculator = CATALOGUE[key]
    page = get(client, f"/calculators/{key}")
    data = client.get(f"{API}/{key}").get_json()
    code, out, _ = command(monkeypatch, capsys, key, "--json")
    calculation = calculate(key, {})

    assert html.escape(calculator.source, quote=False) in page.replace("&#39;", "'")
    assert calculator.limits
    assert calculator.example.expected
    assert printed(calculation.si[calculation.solve_for]) in printed(page)
    assert code == 0
    assert json.loads(out) == data
    assert data["results"].keys() == calculation.outputs.keys()
    assert calculation.drawing or calculation.chart
    assert ("<svg" in page) == (calculation.drawing is not None)
    assert ("/chart.svg" in page) == (calculation.chart is not None)


@pytest.mark.parametrize("key", [key for key in CATALOGUE if calculate(key, {}).chart])
def test_every_chart_is_an_image_with_role_title_and_description(client, key):
    answer = client.get(f"/calculators/{key}/chart.svg")
    chart = calculate(key, {}).chart

    assert answer.status_code == 200
    assert answer.mimetype == "image/svg+xml"
    assert "max-age" in answer.headers["Cache-Control"]
    assert 'role="img"' in answer.text.partition(">")[0]
    assert html.escape(chart.title) in answer.text
    assert " style=" not in answer.text
    assert "<script" not in answer.text


@pytest.mark.parametrize("key", CATALOGUE)
def test_every_worked_example_opens_and_comes_out(client, key):
    calculator = CATALOGUE[key]
    example = calculator.example
    query = {**example.given, **({"solve": example.solve_for} if example.solve_for else {})}
    data = client.get(f"{API}/{key}", query_string=query).get_json()
    page = get(client, f"/calculators/{key}")

    assert "Open this example" in page
    assert example.expected.keys() <= data["results"].keys()


@pytest.mark.parametrize("key", CATALOGUE)
def test_choosing_another_unknown_keeps_the_situation(key):
    calculator = CATALOGUE[key]
    start = computed(calculator, {}, None)
    for unknown in calculator.solvable:
        reached = exchanged(start, unknown)
        before = start.calculation.values.get(unknown)
        if before is None:
            assert reached.mistakes or reached.unknown == unknown
            continue
        assert reached.calculation is not None, (unknown, reached.mistakes)
        assert reached.calculation.solve_for == unknown
        if isinstance(before, float):
            assert reached.calculation.values[unknown] == pytest.approx(before, rel=1e-4, abs=1e-9)


@pytest.mark.parametrize("key", CATALOGUE)
def test_what_is_found_reads_back_when_typed(key):
    calculator = CATALOGUE[key]
    start = computed(calculator, {}, None).calculation
    typed = computed(calculator, entries(calculator, start.inputs), start.solve_for).calculation

    assert typed.values.keys() == start.values.keys()
    for name, value in start.values.items():
        if isinstance(value, float):
            assert typed.values[name] == pytest.approx(value, rel=1e-4, abs=1e-9)


# --- one answer in all places ---------------------------------------------------------------------

# Varieschi and Gower, American Journal of Physics 78 (2010) 47, section II.A: each fret divides
# by the twelfth root of 2; for 650 mm fret 1 stands 36.48 mm from the nut.
FIRST_FRET_MM = 650 * (1 - 2 ** (-1 / 12))


def test_page_json_and_command_say_the_same(client, monkeypatch, capsys):
    page = get(client, "/calculators/fret-positions?scale_length=650&fret=1")
    data = client.get(f"{API}/fret-positions?scale_length=650+mm&fret=1").get_json()
    _, out, _ = command(
        monkeypatch, capsys, "fret-positions", "scale_length=650", "fret=1", "--json"
    )

    assert "36.4817 mm" in printed(page).replace("\u2009", " ")
    assert data["results"]["fret_distance"]["value"] == pytest.approx(FIRST_FRET_MM, rel=1e-9)
    assert data["results"]["fret_distance"]["unit"] == "mm"
    assert json.loads(out)["results"] == data["results"]


@pytest.mark.parametrize("written", ["648", "648 mm", "64.8cm", "25.511811 in", "25 130/254 in"])
def test_a_length_may_be_written_in_many_ways(client, written):
    answer = client.get(f"{API}/fret-positions", query_string={"scale_length": written})

    assert answer.get_json()["results"]["fret_distance"]["value"] == pytest.approx(324, rel=1e-5)


def test_the_unknown_is_rearranged_and_substituted(client):
    page = get(client, "/calculators/fret-positions?solve=scale_length&fret_distance=12.75in")
    words = printed(page)

    assert "Rearranged" in words
    assert "25.5 in" in words.replace("\u2009", " ")
    assert "<mn>323.85</mn>" in page


def test_both_systems_of_units_stand_side_by_side(client):
    words = printed(get(client, "/calculators/fret-positions")).replace("\u2009", " ")

    assert "324 mm = 12.7559 in" in words
    assert "From the nut (mm) From the nut (in)" in words


def test_a_unit_keeps_its_raised_figure_in_the_working(client):
    assert "<mtext>kg/m³</mtext>" in get(client, "/calculators/string-tension")


def test_no_style_stands_inside_a_page(client):
    for key in CATALOGUE:
        assert " style=" not in client.get(f"/calculators/{key}").text


# --- works without a script -----------------------------------------------------------------------


def test_the_button_alone_computes_and_leads_to_a_link(client):
    address = (
        "/calculators/fret-positions?solved=fret_distance&solve=fret_distance&scale_length=650"
    )
    answer = client.get(address)

    assert answer.status_code == 302
    assert answer.location == "/calculators/fret-positions?scale_length=650&solve=fret_distance"


def test_another_unknown_is_chosen_without_a_script(client):
    address = "/calculators/fret-positions?solved=fret_distance&solve=scale_length"
    answer = client.get(f"{address}&scale_length=25.5in", follow_redirects=True)

    assert answer.status_code == 200
    assert 'name="scale_length"' not in answer.text
    assert 'name="fret_distance" value="323.85 mm"' in answer.text


def test_a_script_gets_the_same_answer_in_two_parts(client):
    address = "/calculators/fret-positions?scale_length=650"
    whole = client.get(address).text
    parts = [client.get(address, headers={"X-Part": part}).text for part in ("answer", "picture")]

    for part in parts:
        assert "<html" not in part
    for name, part in (("answer", parts[0]), ("working", parts[0]), ("picture", parts[1])):
        assert f'<div id="{name}"' in part
        assert f'<div id="{name}"' in whole
    assert "325" in parts[0]
    assert "<svg" in parts[1]


def test_sound_is_offered_where_there_are_partials(client):
    page = get(client, "/calculators/beats?frequency=440&second_frequency=443")
    partials = json.loads(html.unescape(re.search(r'data-partials="([^"]*)"', page)[1]))

    assert [hz for hz, _ in partials] == [440, 443]
    assert "sound.js" in page
    assert "data-play" in page
    assert "data-one-by-one" in get(client, "/calculators/harmonics")


def test_a_curve_is_also_a_table(client):
    page = get(client, "/calculators/beats")

    assert "Values of the chart" in page
    assert "Time (s)" in page


# --- bad input ------------------------------------------------------------------------------------

BAD = [
    ("fret-positions", {"scale_length": "0"}),
    ("fret-positions", {"scale_length": "-648"}),
    ("fret-positions", {"scale_length": "inf"}),
    ("fret-positions", {"scale_length": "nan"}),
    ("fret-positions", {"scale_length": "1e300"}),
    ("fret-positions", {"scale_length": "9" * 200}),
    ("fret-positions", {"scale_length": "648 kg"}),
    ("fret-positions", {"scale_length": "25 1/0 in"}),
    ("fret-positions", {"scale_length": "__import__('os').getpid()"}),
    ("fret-positions", {"scale_length": "{{7*7}}"}),
    ("fret-positions", {"scale_length": '648" #read("secret")'}),
    ("fret-positions", {"frets": "10000"}),
    ("fret-positions", {"scale_length": "?", "fret": "?"}),
    ("fret-positions", {"string": "648"}),
    ("fret-positions", {"solve": "__class__"}),
    ("fret-positions", {"scale_length": "648", "fret_distance": "324", "fret": "12"}),
    ("ohms-law", {"resistance": "0"}),
    ("string-tension", {"frequency": "H9"}),
    ("string-tension", {"diameter": "0.01 ohm"}),
    ("tone-circuit", {"tone_capacitance": "-22 nF"}),
    ("resistor-colour-code", {"bands": "red purple-ish yellow gold"}),
    ("resistor-colour-code", {"bands": "red"}),
    ("outline-area", {"outline": "0 0; 100 100; 100 0; 0 100"}),
    ("outline-area", {"outline": "0 0; 100"}),
    ("measurement-statistics", {"readings": "648; __import__('os')"}),
    ("cut-list", {"parts": "neck: 720 mm x 0"}),
    ("cut-list", {"parts": "neck: 9000 mm x 1", "boards": "2440 mm x 1; x"}),
    ("shop-fractions", {"denominator": "7"}),
    ("elapsed-time", {"start": "25:99"}),
    ("triangle", {"leg_a": "3 km"}),
]


@pytest.mark.parametrize(("key", "given"), BAD)
def test_bad_input_is_refused_in_sentences_on_the_page(client, key, given):
    answer = client.get(f"/calculators/{key}", query_string=given)

    assert answer.status_code == 422
    check_page(answer.text)
    assert "Please change this" in answer.text
    assert "49</" not in answer.text
    known = {quantity.key for quantity in CATALOGUE[key].quantities}
    unknown = answer.text.partition('name="solved" value="')[2].partition('"')[0]
    for name, text in given.items():
        if name in known - {unknown} and text != "?":
            assert html.escape(text, quote=False) in answer.text.replace("&#34;", '"').replace(
                "&#39;", "'"
            ), "what was typed is lost"


@pytest.mark.parametrize(("key", "given"), BAD)
def test_bad_input_is_refused_as_json(client, key, given):
    answer = client.get(f"{API}/{key}", query_string=given)

    assert answer.status_code == 422
    errors = answer.get_json()["errors"]
    assert errors
    for error in errors:
        assert re.fullmatch(r"[A-Z“].*\.", error["sentence"], re.DOTALL), error


@pytest.mark.parametrize(("key", "given"), BAD)
def test_bad_input_ends_the_command_with_2(monkeypatch, capsys, key, given):
    values = [f"{name}={text}" for name, text in given.items() if name != "solve"]
    solve = ["--solve", given["solve"]] if "solve" in given else []
    code, out, err = command(monkeypatch, capsys, key, *values, *solve, "--json")

    assert code == 2
    assert out == ""
    assert err.startswith("stringcourse: ")
    assert "Traceback" not in err


def test_each_mistake_stands_beside_its_field_and_in_the_summary(client):
    page = client.get("/calculators/fret-positions?scale_length=25.5+lb&frets=10000").text

    for name in ("scale_length", "frets"):
        assert f'href="#q-{name}"' in page
        beside = re.search(rf'id="q-{name}-error">([^<]+)<', page)
        assert beside
        assert len(beside[1]) > 20


def test_a_value_given_twice_is_refused(client):
    answer = client.get("/calculators/beats?frequency=440&frequency=441")

    assert answer.status_code == 422
    assert "given twice" in answer.text


@pytest.mark.parametrize("name", ["key", "_external", "_scheme", "_anchor", "endpoint", "values"])
def test_a_parameter_cannot_reach_into_the_page(client, name):
    answer = client.get("/calculators/beats", query_string={name: "javascript"})

    assert answer.status_code == 422
    assert "javascript:" not in answer.text


def test_commands_are_refused_with_a_hint(monkeypatch, capsys):
    for words in (
        (),
        ("fret-position",),
        ("beats", "440"),
        ("beats", "frequency=1", "frequency=2"),
    ):
        code, out, err = command(monkeypatch, capsys, *words)
        assert (code, out) == (2, "")
        assert err.count("\n") == 1
    assert "did you mean fret-positions" in command(monkeypatch, capsys, "fret-position")[2]


# --- programs -------------------------------------------------------------------------------------


def test_the_catalogue_is_listed_for_programs(client, monkeypatch, capsys):
    _, out, _ = command(monkeypatch, capsys, "--list", "--json")
    listed = json.loads(out)

    assert [item["key"] for item in listed] == list(CATALOGUE)
    assert client.get(API).get_json()["calculators"] == listed
    for item in listed:
        assert item["title"]
        for quantity in item["quantities"]:
            assert {"name", "symbol", "unit", "range"} <= quantity.keys()
            assert quantity["symbol"]
            assert not re.search(r'["()]|upright', quantity["symbol"])


def test_the_description_names_every_calculator_and_parameter(client):
    described = client.get("/api/v1/openapi.json").get_json()

    assert described["openapi"].startswith("3.1")
    assert described["paths"].keys() == {API, *(f"{API}/{key}" for key in CATALOGUE)}
    for key, calculator in CATALOGUE.items():
        operation = described["paths"][f"{API}/{key}"]["get"]
        names = [parameter["name"] for parameter in operation["parameters"]]
        assert names == [*(q.key for q in calculator.quantities), "solve"]
        assert {"200", "422"} <= operation["responses"].keys()
        assert all(p["in"] == "query" and p["schema"] for p in operation["parameters"])


def test_every_reference_in_the_description_is_defined(client):
    text = client.get("/api/v1/openapi.json").text
    schemas = json.loads(text)["components"]["schemas"]

    for name in re.findall(r'"#/components/schemas/(\w+)"', text):
        assert name in schemas


def test_an_unknown_calculator_is_not_found(client):
    assert client.get("/calculators/nothing").status_code == 404
    assert client.get("/calculators/nothing/chart.svg").status_code == 404
    answer = client.get(f"{API}/nothing")
    assert answer.status_code == 404
    assert answer.get_json()["error"]


@pytest.mark.parametrize("address", ["/calculators/beats", f"{API}/beats"])
def test_strangers_are_limited(sample_file, monkeypatch, address):
    monkeypatch.setattr(limits.limiter, "enabled", True)
    app = make_app(sample_file)
    limits.limiter.reset()
    client = app.test_client()
    most = int(limits.PUBLIC.split()[0])
    codes = [client.get(address).status_code for _ in range(most + 1)]
    limits.limiter.reset()
    app.extensions["engine"].dispose()

    assert codes[:most] == [200] * most
    assert codes[most] == 429


# --- the fretboard at true size -------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_fret_positions_lead_to_the_template(client, paper):
    page = get(client, "/calculators/fret-positions?scale_length=25.5in&frets=20")
    link = html.unescape(re.search(rf'href="([^"]*paper={paper}[^"]*)"', page)[1])
    answer = client.get(link)

    assert "scale_length=647.7" in link
    assert answer.status_code == 200
    assert answer.data.startswith(b"%PDF")


def test_a_diatonic_fretboard_has_its_own_template(client):
    query = "scale_length=686&frets=15&fret_pattern=diatonic"
    page = get(client, f"/calculators/fret-positions?{query}")
    link = html.unescape(re.search(r'href="([^"]*paper=letter[^"]*)"', page)[1])

    assert "fret_pattern=diatonic" in link
    assert client.get(link).data.startswith(b"%PDF")


@pytest.mark.parametrize(
    "query", ["paper=a3", "scale_length=0", "frets=10000", "divisions=19", "scale_length=2500"]
)
def test_a_template_that_cannot_be_drawn_says_why(client, query):
    answer = client.get(f"/calculators/fret-positions/template.pdf?{query}")

    assert answer.status_code == 422
    check_page(answer.text)
    assert "Please change this" in answer.text


# --- saving to a section --------------------------------------------------------------------------


def nominal(session, key):
    """The nominal values of a quantity over every team of every section."""
    query = sa.select(InstrumentQuantity.nominal).where(InstrumentQuantity.key == key)
    found = list(session.scalars(query))
    session.rollback()  # a session that stays open would keep the page from writing
    return found


@pytest.fixture
def teams(session):
    """The key of the sample section and the codes of its teams."""
    section = session.scalars(sa.select(Section)).first()
    found = section.key, [team.code for team in section.teams]
    session.rollback()
    return found


def test_a_teacher_saves_values_to_one_team(session, teams, teacher):
    section, (team, *_) = teams
    before = nominal(session, "scale_length")
    address = "/calculators/fret-positions/save?scale_length=640+mm"
    page = get(teacher, address)
    answer = post(teacher, address, place=f"{section}:{team}", quantities="scale_length")
    after = nominal(session, "scale_length")

    assert team in page
    assert answer.location == "/calculators/fret-positions?scale_length=640+mm"
    assert after.count("640 mm") == 1
    assert len(after) == len(before)


def test_a_teacher_saves_values_to_every_team(session, teams, teacher):
    section, codes = teams
    address = "/calculators/fret-positions/save?scale_length=25+in"
    post(teacher, address, place=f"{section}:*", quantities="scale_length")

    assert nominal(session, "scale_length").count("635 mm") == len(codes)


def test_only_quantities_of_the_build_are_offered_and_taken(session, teams, teacher):
    section, _ = teams
    address = "/calculators/fret-positions/save?scale_length=640"
    page = get(teacher, address)
    post(teacher, address, 422, place=f"{section}:*", quantities="slot_offset")

    assert 'value="scale_length"' in page
    assert 'value="slot_offset"' not in page
    assert nominal(session, "slot_offset") == []


def test_nothing_is_saved_without_a_choice(session, teacher):
    before = nominal(session, "scale_length")
    answer = post(teacher, "/calculators/fret-positions/save?scale_length=640", 422)

    assert "Choose a section or a team." in answer.text
    assert nominal(session, "scale_length") == before


def test_strangers_and_people_without_a_section_save_nothing(app, session, teams):
    section, _ = teams
    address = "/calculators/fret-positions/save?scale_length=640"
    before = nominal(session, "scale_length")
    chosen = {"place": f"{section}:*", "quantities": "scale_length"}

    client = app.test_client()
    assert client.post(address, data=chosen).status_code == 401
    assert "Save these values" not in get(client, "/calculators/fret-positions")
    workshop = signed_in(app, "workshop")
    assert "nothing to save it to" in get(workshop, address)
    assert workshop.post(address, data=chosen).status_code == 422
    assert nominal(session, "scale_length") == before
