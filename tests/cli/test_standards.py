"""Standards from the command line: the same answers as the pages, in plain values."""

import json
from pathlib import Path

import pytest

QUIRKS = Path(__file__).parents[1] / "interchange" / "case" / "quirks.json"


def test_an_import_is_previewed_done_searched_and_exported_again(run, tmp_path):
    code, out, _ = run("standards", "import", QUIRKS, "--preview", "--json")
    assert (code, json.loads(out)["added"]) == (0, 20)
    _, out, _ = run("standards", "import", QUIRKS, "--key", "own", "--json")
    assert json.loads(out)["added"] == 20
    _, out, _ = run("standards", "import", QUIRKS, "--json")
    assert (json.loads(out)["unchanged"], json.loads(out)["framework"]) == (20, "own")
    _, out, _ = run("standards", "search", "EX.6.2", "--json")
    assert [(hit["code"], hit["framework"]) for hit in json.loads(out)] == [("EX.6.2", "own")]
    target = tmp_path / "own.json"
    code, _, _ = run("standards", "export", "own", "-o", target)
    assert len(json.loads(target.read_text())["CFItems"]) == 20
    # What we wrote ourselves is no change.
    _, out, _ = run("standards", "import", target, "--preview", "--json")
    again = json.loads(out)
    assert (again["unchanged"], again["added"], again["changed"], again["retired"]) == (20, 0, 0, 0)


# Spellings as in the identifiers list of corestandards.org and on nextgenscience.org, and as typed.
@pytest.mark.parametrize(
    ("spelling", "code"),
    [
        ("6.RP.3b", "6.RP.A.3.b"),
        ("CCSS.MATH.CONTENT.6.RP.A.3.B", "6.RP.A.3.b"),
        (" 6 rp 3b ", "6.RP.A.3.b"),
        ("ccss-m 6.rp.a.3.b", "6.RP.A.3.b"),
        ("HSF-LE.A.2", "HSF.LE.A.2"),
        ("f-le.2", "HSF.LE.A.2"),
        ("ngss ms ps4 1", "MS-PS4-1"),
    ],
)
def test_a_code_is_understood_in_any_customary_spelling(run, spelling, code):
    _, out, _ = run("standards", "search", spelling, "--json")
    assert json.loads(out)[0]["code"] == code
    _, out, _ = run("lookup", spelling, "--section", "period-3", "--json")
    assert json.loads(out)["standard"]["code"] == code


def test_a_standard_of_another_band_says_for_which_it_is(run):
    _, out, _ = run("lookup", "6.RP.3b", "--section", "period-3", "--json")
    assert {place["band"] for place in json.loads(out)["nearest"]} == {"6-8"}
    _, out, _ = run("lookup", "6.RP.3b", "--section", "period-3")
    assert "(grades 6–8)" in out


def test_look_up_and_coverage_answer_in_plain_values(run, tmp_path):
    _, out, _ = run("lookup", "F-LE.2", "--section", "period-3", "--json")
    found = json.loads(out)
    assert found["standard"]["code"] == "HSF.LE.A.2"
    assert found["places"][0]["lessons"]
    _, out, _ = run("coverage", "--section", "period-3", "--json")
    assert set(json.loads(out)) == {"standards", "gaps"}
    _, out, _ = run("coverage", "--department", "design-technology", "--json")
    assert "period-3" in json.loads(out)["sections"]
    for kind, start in (("csv", b"Exported by"), ("xlsx", b"PK"), ("pdf", b"%PDF")):
        target = tmp_path / f"coverage.{kind}"
        run("coverage", "--section", "period-3", f"--{kind}", "-o", target)
        assert target.read_bytes().startswith(start)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("standards", "import", "/no/such/file.json"), "cannot be read"),
        (("standards", "export", "none", "-o", "x.json"), "no framework none"),
        (("standards", "export", "NGSS", "-o", "x.doc"), "must end in .json or .csv"),
        (("lookup", "F-LE.2", "--section", "none"), "none"),
        (("standards", "export", "NGSS", "-o", "/no/such/x.json"), "/no/such/x.json: No such file"),
        (("coverage",), "give --section KEY or --department KEY"),
        (("coverage", "--section", "period-3", "--pdf"), "-o FILE"),
        (("coverage", "--department", "none"), "known: "),
        (("standards", "search", "ratio", "--grade", "99"), "is no grade"),
    ],
)
def test_wrong_use_is_one_sentence_and_exit_code_2(run, arguments, says):
    code, _, error = run(*arguments)

    assert code == 2
    assert says in error
