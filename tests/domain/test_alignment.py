"""Spellings of codes, search and suggestions.

`standard_codes.csv` lists the official codes with the spellings in use: 509 mathematics codes
from the identifiers list of corestandards.org, 208 science codes from nextgenscience.org.
"""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.bands import grade_number
from app.domain.standard.alignment import (
    CodeIndex,
    StandardEntry,
    Suggester,
    build_index,
    resolve,
    search,
    tokens,
)

with (Path(__file__).parent / "standard_codes.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = list(csv.DictReader(_file))


def _entries() -> list[StandardEntry]:
    return [
        StandardEntry(
            key=f"{row['framework']} {row['code']}",
            framework=row["framework"],
            code=row["code"],
            aliases=tuple(row["aliases"].split("|")),
            grade_low=grade_number(row["grade_low"]),
            grade_high=grade_number(row["grade_high"]),
            text=row["domain"],
        )
        for row in ROWS
    ]


@pytest.fixture(scope="session")
def official() -> CodeIndex:
    return build_index(_entries())


@pytest.fixture(scope="session")
def bare() -> CodeIndex:
    """Codes alone, as a framework imported without aliases."""
    return build_index(StandardEntry(e.key, e.framework, e.code) for e in _entries())


def _small(*codes: str, framework: str = "Own", **more: object) -> list[StandardEntry]:
    return [StandardEntry(f"{framework} {c}", framework, c, **more) for c in codes]  # type: ignore[arg-type]


# --- spellings: corestandards.org identifiers list, nextgenscience.org ---------------------------


def test_the_list_holds_509_mathematics_and_208_science_codes():
    assert sum(row["framework"] == "CCSS-M" for row in ROWS) == 509
    assert sum(row["framework"] == "NGSS" for row in ROWS) == 208


def test_every_official_code_and_alias_leads_to_its_own_code(official):
    spelled = [(s, r["code"]) for r in ROWS for s in (r["code"], *r["aliases"].split("|"))]
    assert len(spelled) > 2500
    assert [(s, c) for s, c in spelled if resolve(s, official).code != c] == []


def test_every_alias_is_understood_from_the_shape_of_the_code_alone(bare):
    spelled = [(s, r["code"]) for r in ROWS for s in r["aliases"].split("|")]
    assert [(s, c) for s, c in spelled if resolve(s, bare).code != c] == []


def test_spelling_is_free_in_capitals_spaces_and_hyphens(official):
    for row in ROWS:
        for spelled in (row["code"].lower(), row["code"].replace(".", " "), f" {row['code']}\n"):
            assert resolve(spelled, official).code == row["code"]


def test_no_spelling_of_the_official_codes_is_ambiguous(official):
    assert [key for key in official.spellings if len(resolve(key, official).candidates) > 1] == []


@pytest.mark.parametrize(
    ("spelled", "code"),
    [
        ("6.RP.3b", "6.RP.A.3.b"),
        ("6.RP.A.3.b", "6.RP.A.3.b"),
        ("6.RP.A.3b", "6.RP.A.3.b"),
        ("6 rp 3 b", "6.RP.A.3.b"),
        ("CCSS.MATH.CONTENT.6.RP.A.3.B", "6.RP.A.3.b"),
        ("CCSS-M 6.RP.A.3.b", "6.RP.A.3.b"),
        ("http://corestandards.org/Math/Content/6/RP/A/3b", "6.RP.A.3.b"),
        ("HSF-LE.A.2", "HSF.LE.A.2"),
        ("HSF.LE.A.2", "HSF.LE.A.2"),
        ("HS.F-LE.A.2", "HSF.LE.A.2"),
        ("F-LE.2", "HSF.LE.A.2"),
        ("F-LE.A.2", "HSF.LE.A.2"),
        ("f.le.2", "HSF.LE.A.2"),
        ("K.CC.1", "K.CC.A.1"),
        ("ms-ps4-1", "MS-PS4-1"),
        ("MS PS4 1", "MS-PS4-1"),
        ("NGSS MS-PS4-1", "MS-PS4-1"),
        ("NGSS.MS-PS4-1", "MS-PS4-1"),
        ("3-5-ETS1-2", "3-5-ETS1-2"),
        ("K‑2‑ETS1‑1", "K-2-ETS1-1"),  # non-breaking hyphens, as copied from a page
    ],
)
def test_customary_spellings_lead_to_the_canonical_code(official, spelled, code):
    assert resolve(spelled, official).code == code


def test_two_neighbouring_numbers_do_not_run_together():
    index = build_index(_small("1.12", "11.2"))
    assert resolve("1-12", index).code == "1.12"
    assert resolve("11-2", index).code == "11.2"


# --- what cannot be settled is said --------------------------------------------------------------


def test_a_code_in_two_frameworks_is_reported_with_both_until_one_is_named():
    index = build_index([*_small("M.1", framework="North"), *_small("M.1", framework="South")])
    asked = resolve("m1", index)
    assert asked.code is None
    assert {e.framework for e in asked.candidates} == {"North", "South"}
    assert asked.sentence.endswith("M.1 (North) or M.1 (South): choose one, such as “North M.1”.")
    assert resolve("North M.1", index).entry == index.entries["North M.1"]
    assert resolve("m1", index, framework="South").entry == index.entries["South M.1"]


def test_a_frameworks_key_in_front_of_the_code_settles_which_is_meant():
    index = build_index([*_small("M.1", framework="North-7"), *_small("M.1", framework="South")])

    assert resolve("north-7 m1", index).entry.framework == "North-7"
    assert resolve(" South  M-1", index).entry.framework == "South"
    assert [hit.entry.framework for hit in search("South M.1", index)] == ["South"]
    # The one asked for beats what stands in front; a key alone is no framework's code.
    assert resolve("South M.1", index, "North-7").entry is None
    assert resolve("South", index).entry is None


def test_an_alias_of_two_codes_is_reported_not_guessed():
    index = build_index(
        [StandardEntry("a", "Own", "A.1", ("X",)), StandardEntry("b", "Own", "B.1", ("x",))]
    )
    assert resolve("X", index).code is None
    assert len(resolve("X", index).candidates) == 2


def test_two_clusters_with_the_same_number_make_the_short_form_ambiguous():
    index = build_index(_small("6.RP.A.3", "6.RP.B.3"))
    assert {e.code for e in resolve("6.RP.3", index).candidates} == {"6.RP.A.3", "6.RP.B.3"}
    assert resolve("6.RP.B.3", index).code == "6.RP.B.3"


def test_within_a_framework_the_code_itself_beats_an_alias_of_another():
    index = build_index([*_small("X.1"), StandardEntry("y", "Own", "Y.1", ("X.1",))])
    assert resolve("x1", index).code == "X.1"


def test_a_wrong_cluster_letter_finds_nothing_but_offers_the_near_code(official):
    asked = resolve("6.RP.B.3", official)
    assert asked.code is None
    assert [e.code for e in asked.candidates] == ["6.RP.A.3"]
    assert "Nearest: 6.RP.A.3" in asked.sentence


@pytest.mark.parametrize("rubbish", ["", "  ", "...", "=1+1", "ß🎸", "CCSS.MATH.CONTENT.", "6.RP"])
def test_rubbish_means_nothing_and_is_said(official, rubbish):
    asked = resolve(rubbish, official)
    assert asked.entry is None
    assert asked.sentence.startswith("No standard is spelled")


@given(st.text(max_size=30))
def test_any_text_can_be_asked(official, text):
    assert resolve(text, official).sentence
    assert len(search(text, official, limit=5)) <= 5


def test_a_retired_standard_is_found_and_said_to_be_retired():
    index = build_index(_small("A.1", retired=True))
    assert "retired" in resolve("A.1", index).sentence


def test_a_key_used_twice_is_refused():
    with pytest.raises(ValueError, match="twice"):
        build_index([*_small("A.1"), *_small("A.1")])


# --- search --------------------------------------------------------------------------------------


def _found(text: str, index: CodeIndex, **more: object) -> list[str]:
    return [hit.entry.code for hit in search(text, index, **more)]  # type: ignore[arg-type]


def test_an_exact_code_comes_first_and_its_parts_follow(official):
    assert _found("6.RP.A.3", official)[:5] == [
        "6.RP.A.3",
        "6.RP.A.3.a",
        "6.RP.A.3.b",
        "6.RP.A.3.c",
        "6.RP.A.3.d",
    ]


def test_the_beginning_of_a_code_finds_its_domain_in_counting_order(official):
    # corestandards.org: 6.EE has 9 standards and 6.EE.A.2 has parts a to c.
    codes = _found("6.EE", official, limit=50)
    assert len(codes) == 12
    assert codes[:6] == [
        "6.EE.A.1",
        "6.EE.A.2",
        "6.EE.A.2.a",
        "6.EE.A.2.b",
        "6.EE.A.2.c",
        "6.EE.A.3",
    ]


def test_counting_order_puts_nine_before_ten():
    index = build_index(_small("4.MD.10", "4.MD.9", "4.MD.1"))
    assert _found("4.MD", index) == ["4.MD.1", "4.MD.9", "4.MD.10"]


def test_words_find_every_standard_that_has_them_all():
    index = build_index(
        [
            StandardEntry("1", "Own", "O.1", text="strings under tension"),
            StandardEntry("2", "Own", "O.2", text="a string and its length"),
            StandardEntry("3", "Own", "O.3", text="wood and moisture"),
        ]
    )
    assert set(_found("string", index)) == {"O.1", "O.2"}
    assert _found("string length", index) == ["O.2"]
    assert _found("string moisture", index) == []


def test_the_last_word_may_be_unfinished():
    index = build_index([StandardEntry("1", "Own", "O.1", text="exponential functions")])
    assert _found("exponential func", index) == ["O.1"]
    assert _found("expo functions", index) == []


def test_search_keeps_to_grades_and_framework(official):
    assert all(c.startswith(("6.", "MS-")) for c in _found("6", official, grades=(6, 6)))
    assert _found("wave", official, grades=(9, 12), limit=9) == [f"HS-PS4-{n}" for n in range(1, 6)]
    assert _found("wave", official, framework="CCSS-M") == []


def test_retired_standards_come_last():
    index = build_index([*_small("A.1", retired=True), *_small("A.2")])
    assert _found("A", index) == ["A.2", "A.1"]


# --- suggestions ---------------------------------------------------------------------------------

NOTES = build_index(
    [
        StandardEntry("seq", "Own", "N.1", (), 9, 12, "fret lengths as a geometric sequence"),
        StandardEntry("wave", "Own", "N.2", (), 9, 12, "wave speed on a string from its tension"),
        StandardEntry("early", "Own", "N.3", (), 3, 5, "geometric sequence of fret lengths"),
        StandardEntry("area", "Own", "N.4", (), 9, 12, "area of a soundboard"),
        StandardEntry("old", "Own", "N.0", (), 9, 12, "geometric sequence", retired=True),
    ]
)


UPPER = Suggester(NOTES, grades=(9, 12))


def test_suggestions_keep_to_the_grade_band_and_show_the_shared_words():
    (best, *_) = UPPER.suggest("Frets as a geometric sequence")
    assert best.entry.code == "N.1"
    assert set(best.words) == {"fret", "geometric", "sequence"}
    assert "geometric" in best.reason


def test_retired_and_already_decided_standards_are_not_suggested():
    offered = UPPER.suggest("geometric sequence of frets", exclude={"seq"})
    assert [s.entry.key for s in offered] == []


def test_the_same_words_score_one_and_no_shared_word_gives_nothing():
    (best, *_) = UPPER.suggest("wave speed on a string from its tension")
    assert best.score == pytest.approx(1.0)
    assert UPPER.suggest("solder the jack") == ()
    assert UPPER.suggest("") == ()


def test_a_heavier_title_turns_the_order():
    texts = {"area of a soundboard": 1.0, "wave speed on a string": 5.0}
    assert UPPER.suggest(texts)[0].entry.code == "N.2"
    texts = {"area of a soundboard": 5.0, "wave speed on a string": 1.0}
    assert UPPER.suggest(texts)[0].entry.code == "N.4"


def test_a_rare_word_weighs_more_than_a_common_one():
    index = build_index(
        [
            StandardEntry("1", "Own", "O.1", text="string"),
            StandardEntry("2", "Own", "O.2", text="string"),
            StandardEntry("3", "Own", "O.3", text="string"),
            StandardEntry("4", "Own", "O.4", text="logarithm"),
        ]
    )
    assert Suggester(index, grades=(0, 13)).suggest("string logarithm")[0].entry.code == "O.4"


def test_words_are_singular_lower_case_and_without_stop_words():
    assert tokens("The Frequencies of strings, and their Masses") == ["frequency", "string", "mass"]
    assert tokens("Classes of axis radius") == ["class", "axis", "radius"]
