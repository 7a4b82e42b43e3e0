"""Frameworks in and out: CASE packages as they occur, tables, pasted lines.

`case/quirks.json` and `case/wrapped.json` are our own packages in our own words; the first has
every irregularity seen in published ones. `case/case_v1p1_fields.json` restates the field lists
of the 1EdTech CASE 1.1 package schema (1EdTech/OpenCASE, commit 4d3bb34).
"""

import copy
import datetime as dt
import gzip
import io
import json
import re
import shutil
import tracemalloc
import zipfile
from pathlib import Path

import pytest
import sqlalchemy as sa

from app import db
from app.interchange.files import BadFile
from app.interchange.standard import file as case_file
from app.interchange.standard import importing as case_import
from app.interchange.standard.case import read_case
from app.interchange.standard.case_export import case_package
from app.interchange.standard.draft import grades_of
from app.interchange.standard.table import read_table, read_text, standards_csv
from app.models import Alignment, Decision, Framework, School, Standard, StandardLink, Treatment
from app.settings import embedded_url
from app.store.standard import standards

HERE = Path(__file__).parent / "case"
QUIRKS = HERE / "quirks.json"
FIELDS = json.loads((HERE / "case_v1p1_fields.json").read_text())
TODAY = dt.date(2027, 3, 1)
NOW = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)


def quirks():
    return json.loads(QUIRKS.read_text())


def draft_of(package):
    return read_case(json.dumps(package).encode(), "package.json", TODAY)


@pytest.fixture
def school_session(empty_file, tmp_path):
    path = tmp_path / "school.db"
    shutil.copy(empty_file, path)
    engine = db.make_engine(embedded_url(path))
    with db.session_factory(engine)() as session:
        session.add(School(name="Invented School"))
        session.commit()
        yield session
    engine.dispose()


def school_id(session):
    return session.scalars(sa.select(School.id).where(School.name == "Invented School")).one()


def take_in(session, package, key=None):
    draft = package if not isinstance(package, dict) else draft_of(package)
    found = case_import.preview(session, school_id(session), draft, key)
    framework = case_import.apply(session, school_id(session), found, "A. Tester", NOW)
    session.commit()
    return framework, found


def by_identifier(session, framework):
    query = sa.select(Standard).where(Standard.framework_id == framework.id)
    return {row.identifier: row for row in session.scalars(query)}


# --- reading -------------------------------------------------------------------------------------


def test_every_irregular_part_is_listed_with_its_place_and_the_sound_ones_are_read():
    draft = read_case(QUIRKS.read_bytes(), "quirks.json", TODAY)

    left_out = {p.place: p.sentence for p in draft.problems if p.left_out}
    noted = [str(p) for p in draft.problems if not p.left_out]
    # Counted by hand in the file: 23 items, of which 14 and 15 repeat an identifier and 16 has none.
    assert len(draft.items) == 20
    assert "with the same content" in left_out["CFItems[14]"]
    assert "with other content" in left_out["CFItems[15]"]
    assert "EX.NOID has no identifier" in left_out["CFItems[16]"]
    # 29 associations: one to itself, one of no type, one twice, one that closes a ring.
    assert len(draft.links) == 25
    assert "to itself" in left_out["CFAssociations[15]"]
    assert "madeUpType" in left_out["CFAssociations[27]"]
    assert "stands twice" in left_out["CFAssociations[28]"]
    assert "ring" in left_out["CFAssociations[14]"]
    assert len(left_out) == 7
    assert [n.partition(":")[0] for n in noted if "not in this file" in n] == ["CFAssociations[19]"]
    assert [n.partition(":")[0] for n in noted if "where a list belongs" in n] == ["CFItems[18]"]
    assert [n.partition(":")[0] for n in noted if "no statement" in n] == ["CFItems[21]"]
    # The orphan, the other half of the ring, the one with a local identifier, the one whose
    # parent is elsewhere.
    assert [n.partition(":")[0] for n in noted if "no parent" in n] == [
        "CFItems[8]",
        "CFItems[10]",
        "CFItems[17]",
        "CFItems[21]",
    ]


def test_statements_are_never_changed():
    given = {}
    for item in quirks()["CFItems"]:
        given.setdefault(item.get("identifier"), item["fullStatement"])

    for item in read_case(QUIRKS.read_bytes(), "q", TODAY).items:
        assert item.statement == given[item.identifier]


def test_a_wrapped_package_reads_like_a_bare_one():
    wrapped = json.loads((HERE / "wrapped.json").read_text())

    a, b = draft_of(wrapped), draft_of(wrapped["CFPackage"])

    assert [i.identifier for i in a.items] == [i.identifier for i in b.items]
    assert a.title == b.title
    assert len(a.items) == 3


@pytest.mark.parametrize(
    ("levels", "low", "high", "unread"),
    [
        (["06"], "6", "6", []),
        (["6"], "6", "6", []),
        (["09", "10", "11", "12"], "9", "12", []),
        (["KG"], "K", "K", []),
        (["PK", "01"], "K", "1", []),
        (["HS"], "9", "12", []),
        (["K-8"], "K", "8", []),
        (["Grade 7"], "7", "7", []),
        (["13"], "college", "college", []),
        (["PS"], "college", "college", []),
        ([], "K", "college", []),
        (["Oberstufe"], "K", "college", ["Oberstufe"]),
        (["06", "Other"], "6", "6", ["Other"]),
        (["8-6"], "K", "college", ["8-6"]),
        (["00"], "K", "college", ["00"]),
    ],
)
def test_education_levels_as_they_are_written(levels, low, high, unread):
    # CEDS entry grade codes as OneRoster files use them; ranges and words as seen in packages.
    assert grades_of(levels) == (low, high, unread)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "is not JSON"),
        (b"{", "is not JSON"),
        (b"[]", "no CFDocument"),
        (b'{"a": NaN}', "is not JSON"),
        (b"\xff\xfe", "UTF-8"),
        (b"[" * 200_000, "nested too deeply"),
        (b'{"CFDocuments": []}', "list of documents"),
        (b'{"CFDocument": {}, "CFItems": 3}', "CFItems must be a list"),
        (b'{"CFDocument": {}, "CFItems": [1]}', "no item"),
        (b'{"CFDocument": {"title": "x"}}', "no item"),
    ],
)
def test_a_file_that_is_no_package_is_refused_in_words(raw, says):
    with pytest.raises(BadFile, match=says):
        read_case(raw, "file.json", TODAY)


def test_characters_no_database_keeps_leave_the_item_out():
    package = quirks()
    package["CFItems"][1]["fullStatement"] = "half a letter \ud83d here"
    package["CFItems"][2]["humanCodingScheme"] = "EX\x00"

    draft = draft_of(package)

    assert {"CFItems[1]", "CFItems[2]"} <= {p.place for p in draft.problems if p.left_out}


def test_a_long_ring_of_parents_is_broken_once():
    package = quirks()
    names = [item["identifier"] for item in package["CFItems"][:4]]
    package["CFAssociations"] = [
        {
            "identifier": f"a{n}",
            "associationType": "isChildOf",
            "originNodeURI": {"identifier": names[n]},
            "destinationNodeURI": {"identifier": names[(n + 1) % 4]},
        }
        for n in range(4)
    ]

    draft = draft_of(package)

    assert sum("ring" in p.sentence for p in draft.problems) == 1
    assert len(draft.links) == 3


def test_the_order_is_that_of_the_hierarchy_not_of_the_file():
    package = json.loads((HERE / "wrapped.json").read_text())["CFPackage"]
    sequence = {a["originNodeURI"]["identifier"]: a for a in package["CFAssociations"]}
    root, first, second = [item["identifier"] for item in package["CFItems"]]
    sequence[first]["sequenceNumber"], sequence[second]["sequenceNumber"] = 10, 9

    assert [i.identifier for i in draft_of(package).items] == [root, second, first]


# --- size ----------------------------------------------------------------------------------------

MEGABYTE = 1024 * 1024


def test_a_huge_file_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "huge.json"
    with path.open("wb") as file:
        file.truncate(200 * 1024 * 1024)

    with pytest.raises(BadFile, match="larger than 64 MB"):
        case_file.read_path(path)


def zipped(**files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name.replace("_", "."), content)
    return out.getvalue()


def test_an_archive_that_grows_without_end_is_refused():
    bomb = zipped(package_json=b" " * (case_file.LARGEST_BYTES + 1))

    assert len(bomb) < 1_000_000
    with pytest.raises(BadFile, match="larger than 64 MB"):
        case_file.unpack(bomb, "bomb.zip")
    with pytest.raises(BadFile, match="larger than 64 MB"):
        case_file.unpack(gzip.compress(b" " * (case_file.LARGEST_BYTES + 1)), "bomb.json.gz")


def test_an_archive_that_lies_about_its_size_is_not_believed():
    honest = zipped(package_json=b"x" * 1000)
    size = (1000).to_bytes(4, "little")
    lying = honest.replace(size, (10).to_bytes(4, "little"))

    with pytest.raises(BadFile, match="cannot be unpacked"):
        case_file.unpack(lying, "lie.zip")


def _poured(size, *, method=zipfile.ZIP_DEFLATED):
    """An archive of one file of `size` spaces, made without ever holding them."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive, archive.open("p.json", "w") as file:
        for _ in range(size // MEGABYTE):
            file.write(b" " * MEGABYTE)
    return out.getvalue()


def _lying(raw, size):
    """The archive, said to unpack to ten bytes."""
    return raw.replace(size.to_bytes(4, "little"), (10).to_bytes(4, "little"))


BOMBS = {
    "zip": lambda: _poured(200 * MEGABYTE),
    "zip that lies": lambda: _lying(_poured(200 * MEGABYTE), 200 * MEGABYTE),
    "bzip2 in a zip that lies": lambda: _lying(
        _poured(200 * MEGABYTE, method=zipfile.ZIP_BZIP2), 200 * MEGABYTE
    ),
    "gzip": lambda: b"".join([gzip.compress(b" " * MEGABYTE)] * 200),
    "very many files": lambda: zipped(**{f"file-{n}": b"" for n in range(20_000)}),
}


@pytest.mark.parametrize("kind", BOMBS)
def test_refusing_an_archive_takes_little_memory(kind):
    bomb = BOMBS[kind]()
    tracemalloc.start()
    try:
        with pytest.raises(BadFile, match=r"larger than 64 MB|cannot be unpacked|very many files"):
            case_file.unpack(bomb, "bomb.zip")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    # Far below what would come out of it.
    assert peak < 4 * MEGABYTE


def test_what_is_kept_for_the_preview_is_packed_and_comes_back():
    raw = b"code,statement\n" + b"T.1,words\n" * 1000

    kept = case_file.pack(raw)

    assert len(kept) < len(raw) / 10
    assert case_file.unpack(kept, "table.csv") == (raw, "table.csv")
    assert case_file.pack(kept) == kept


def test_archives_hold_one_readable_file():
    assert case_file.unpack(zipped(package_json=b"{}"), "a.zip") == (b"{}", "package.json")
    assert case_file.unpack(gzip.compress(b"{}"), "a.json.gz") == (b"{}", "a.json")
    with pytest.raises(BadFile, match="holds 2 files"):
        case_file.unpack(zipped(a_json=b"", b_json=b""), "two.zip")
    with pytest.raises(BadFile, match="holds 1 file"):
        case_file.unpack(zipped(inner_zip=b""), "nested.zip")
    with pytest.raises(BadFile, match="cannot be unpacked"):
        case_file.unpack(b"PK\x03\x04 nothing more", "broken.zip")


# --- importing -----------------------------------------------------------------------------------


def test_an_import_stores_what_is_sound_and_shows_hostile_text_as_data(school_session):
    framework, found = take_in(school_session, quirks())

    rows = by_identifier(school_session, framework)
    assert len(rows) == 20
    assert not found.changed
    assert not found.retired
    assert rows["d40f1194-2b2e-55f9-9803-6107359e4eef"].statement.startswith("<script>")
    assert rows["d683464e-ae86-56aa-9c0f-c932620ce3a1"].code == "=EX.CSV"
    assert rows["dac87059-d18b-5be1-bce5-dc2ca84d3f28"].statement.startswith(
        "\N{NO-BREAK SPACE}Leading space"
    )
    assert rows["aed3e795-ebf5-583c-b074-1f3bdb86eaa4"].retired
    assert rows["local-42"].code == "EX.LOC"
    assert rows["72282ea5-377c-50ac-bd6f-60d9a0031cfe"].grades == "K–8"
    assert rows["560beae6-2998-5735-ada6-16137cb5c526"].grades == ""


def test_codes_that_stand_twice_or_not_at_all_are_told_apart_by_identifier(school_session):
    framework, found = take_in(school_session, quirks())

    rows = by_identifier(school_session, framework)
    assert rows["c42c6218-7394-567a-9c63-de6a41fe226f"].code == "EX.6.1"
    assert rows["edde2179-3b34-56d1-97bd-b714e9a25e98"].code == "EX.6.1 [edde2179]"
    assert rows["6c66857a-fbf5-542d-a427-0097d64af456"].code == "[6c66857a]"
    assert any("EX.6.1 stands 2 times" in p.sentence for p in found.noted)


def test_a_preview_changes_nothing(school_session):
    found = case_import.preview(school_session, school_id(school_session), draft_of(quirks()))

    assert len(found.added) == 20
    assert found.framework is None
    assert not school_session.new
    assert not school_session.dirty
    assert (
        school_session.scalar(
            sa.select(sa.func.count())
            .select_from(Framework)
            .where(Framework.school_id.is_not(None))
        )
        == 0
    )


def test_the_same_file_again_changes_nothing(school_session):
    framework, _ = take_in(school_session, quirks())
    revision = framework.revision

    again = case_import.preview(school_session, school_id(school_session), draft_of(quirks()))

    assert again.is_empty
    assert again.unchanged == 20
    assert again.framework is framework
    assert framework.revision == revision


def test_a_new_edition_keeps_alignments_by_identifier_and_retires_what_is_gone(school_session):
    framework, _ = take_in(school_session, quirks())
    rows = by_identifier(school_session, framework)
    kept, gone = "c42c6218-7394-567a-9c63-de6a41fe226f", "b4464669-8c19-5f5b-87f9-67337dddec2b"
    treatment = school_session.scalars(sa.select(Treatment)).first()
    for identifier in (kept, gone):
        school_session.add(
            Alignment(
                school_id=school_id(school_session),
                treatment_id=treatment.id,
                standard_id=rows[identifier].id,
                strength="strong",
                reason="by hand",
                condition="",
                practice=False,
                decided_by="A. Tester",
                decided_on="2027-03-01",
            )
        )
    school_session.commit()
    newer = quirks()
    newer["CFItems"][1].update(humanCodingScheme="NEW.6.1", fullStatement="Measured anew.")
    newer["CFItems"] = [item for item in newer["CFItems"] if item.get("identifier") != gone]

    framework, found = take_in(school_session, newer)

    assert [(c.item.identifier, c.uses) for c in found.changed if "statement" in c.what] == [
        (kept, 1)
    ]
    assert [(r.code, r.uses) for r in found.retired] == [("EX.X.1", 1)]
    aligned = school_session.scalars(
        sa.select(Alignment).where(Alignment.reason == "by hand").order_by(Alignment.id)
    ).all()
    assert [(a.standard.code, a.standard.retired) for a in aligned] == [
        ("NEW.6.1", False),
        ("EX.X.1", True),
    ]
    assert aligned[0].standard.statement == "Measured anew."
    assert aligned[1].standard.statement == "Belongs under two strands."


def test_codes_may_change_places(school_session):
    take_in(school_session, quirks())
    newer = quirks()
    a, b = newer["CFItems"][1], newer["CFItems"][3]
    a["humanCodingScheme"], b["humanCodingScheme"] = b["humanCodingScheme"], a["humanCodingScheme"]
    newer["CFItems"][14] = copy.deepcopy(a)
    newer["CFItems"] = [
        i for i in newer["CFItems"] if i.get("humanCodingScheme") != "EX.6.1" or i is b
    ]

    framework, _ = take_in(school_session, newer)

    rows = by_identifier(school_session, framework)
    assert rows[a["identifier"]].code == "EX.X.1"
    assert rows[b["identifier"]].code == "EX.6.1"


def test_a_reissued_identifier_takes_the_code_and_the_old_standard_stays_readable(school_session):
    take_in(school_session, quirks())
    newer = quirks()
    newer["CFItems"][3]["identifier"] = "0b4464669-new"

    framework, _ = take_in(school_session, newer)

    rows = by_identifier(school_session, framework)
    assert rows["0b4464669-new"].code == "EX.X.1"
    old = rows["b4464669-8c19-5f5b-87f9-67337dddec2b"]
    assert old.retired
    assert old.code.startswith("EX.X.1 [b4464669")


def test_another_schools_framework_is_not_touched(school_session):
    other = School(name="Other School")
    school_session.add(other)
    school_session.commit()
    framework, _ = take_in(school_session, quirks())

    found = case_import.preview(school_session, other.id, draft_of(quirks()))

    assert found.framework is None
    assert len(found.added) == 20
    index = standards.index_of(school_session, other.id)
    assert not [e for e in index.entries.values() if e.framework == framework.key]


def test_a_key_in_use_is_refused(school_session):
    with pytest.raises(BadFile, match="another framework's key"):
        case_import.preview(school_session, school_id(school_session), draft_of(quirks()), "CCSS-M")


# --- exporting -----------------------------------------------------------------------------------


def check_fields(part, name):
    """The required and known fields of a part, as the 1.1 schema lists them."""
    allowed = FIELDS[name]
    missing = [key for key in allowed["required"] if key not in part]
    extra = [
        key for key in part if key not in allowed["required"] and key not in allowed["optional"]
    ]
    assert (missing, extra) == ([], []), (name, missing, extra)
    for key, kind in {**allowed["required"], **allowed["optional"]}.items():
        if key not in part:
            continue
        if kind.startswith("string[]"):
            assert all(isinstance(value, str) for value in part[key]), (key, part[key])
        elif kind.startswith("string"):
            assert isinstance(part[key], str), (key, part[key])
        elif kind == "uuid":
            assert re.fullmatch(UUID, part[key]), (key, part[key])


# The pattern of the CASE 1.1 OpenAPI description.
UUID = "[0-9a-f]{8}-[0-9a-f]{4}-[1-5][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}"


def test_an_export_has_the_fields_of_case_1_1(school_session):
    shipped = school_session.scalars(sa.select(Framework).where(Framework.key == "NGSS")).one()
    sound = quirks()
    sound["CFItems"] = [i for i in sound["CFItems"] if i.get("identifier") != "local-42"]
    imported, _ = take_in(school_session, sound)

    for framework in (shipped, imported):
        package = case_package(school_session, framework, school_id(school_session), NOW)
        assert set(package) <= {"CFDocument", *FIELDS["CFPackage"]["optional"]}
        check_fields(package["CFDocument"], "CFPckgDocument")
        for item in package["CFItems"]:
            check_fields(item, "CFPckgItem")
        for link in package["CFAssociations"]:
            check_fields(link, "CFPckgAssociation")
            assert link["associationType"] in FIELDS["associationType_v1p1"] or link[
                "associationType"
            ].startswith("ext:")
            for end in ("originNodeURI", "destinationNodeURI"):
                assert set(FIELDS["LinkGenURI"]["required"]) <= set(link[end])
        assert len(package["CFItems"]) > 15
        json.dumps(package, allow_nan=False)


def everything(session, framework):
    columns = (
        "code",
        "statement",
        "domain",
        "subject",
        "grade_low",
        "grade_high",
        "parent",
        "aliases",
        "identifier",
        "uri",
        "item_type",
        "retired",
        "source",
    )
    rows = by_identifier(session, framework)
    links = session.execute(
        sa.select(
            StandardLink.kind, StandardLink.origin, StandardLink.destination, StandardLink.source
        )
        .where(StandardLink.framework_id == framework.id)
        .order_by(StandardLink.position)
    ).all()
    return {k: {c: getattr(r, c) for c in columns} for k, r in rows.items()}, [
        tuple(x) for x in links
    ]


def test_an_imported_framework_comes_back_from_its_export_without_loss(school_session):
    framework, _ = take_in(school_session, quirks())
    before = everything(school_session, framework)
    package = case_package(school_session, framework, school_id(school_session), NOW)

    found = case_import.preview(school_session, school_id(school_session), draft_of(package))

    assert (len(found.added), len(found.retired), found.links_added, found.links_removed) == (
        0,
    ) * 4
    # What a package of CASE 1.1 cannot carry (nulls, a document beside each item) is no change.
    assert [(c.item.identifier, c.what) for c in found.changed] == []
    assert found.is_empty
    case_import.apply(school_session, school_id(school_session), found, "A. Tester", NOW)
    after = everything(school_session, framework)
    assert before[0] == after[0]
    assert [link[:3] for link in before[1]] == [link[:3] for link in after[1]]


def test_a_changed_date_or_field_of_an_item_is_still_a_change(school_session):
    package = json.loads((HERE / "wrapped.json").read_text())["CFPackage"]
    take_in(school_session, draft_of(package))
    package["CFItems"][0]["notes"] = "A new note."
    package["CFItems"][1]["lastChangeDateTime"] = "2026-11-01T00:00:00+00:00"

    found = case_import.preview(school_session, school_id(school_session), draft_of(package))

    changed = {c.item.identifier: c.what for c in found.changed}
    assert changed == {item["identifier"]: ("other fields",) for item in package["CFItems"][:2]}


def test_shipped_codes_and_alignments_come_back_from_their_export(school_session):
    shipped = school_session.scalars(sa.select(Framework).where(Framework.key == "CCSS-M")).one()
    package = case_package(school_session, shipped, None, NOW)
    aligned = school_session.scalar(
        sa.select(sa.func.count(Alignment.id))
        .join(Standard)
        .where(Standard.framework_id == shipped.id)
    )

    framework, found = take_in(school_session, package)

    # 509 content standards and 8 practices.
    assert len(found.added) == 517
    assert not found.problems
    assert aligned > 50
    assert len(found.aligned) == aligned
    shown = (
        "code",
        "domain",
        "subject",
        "grade_low",
        "grade_high",
        "parent",
        "aliases",
        "statement",
    )
    assert [
        {name: getattr(row, name) for name in shown}
        for row in sorted(framework.standards, key=lambda r: r.code)
    ] == [
        {name: getattr(row, name) for name in shown}
        for row in sorted(shipped.standards, key=lambda r: r.code)
    ]
    assert school_session.scalar(sa.select(sa.func.count(Decision.id))) == aligned
    _, again = take_in(school_session, package)
    assert again.is_empty


# --- tables --------------------------------------------------------------------------------------

TABLE = """code;statement;grade;strand
T.1;Read a rule to 1 mm, "twice"; 06 ;Measuring
T.2;=1+1;7, 8;Measuring
;no code here;;
T.1;again;;
T.3;;Oberstufe;
"""


def test_a_table_is_read_with_every_mistake_named_by_line():
    draft = read_text(TABLE, "t.csv", key="own", title="Own outcomes")

    assert [(i.code, i.statement, i.grade_low, i.grade_high) for i in draft.items] == [
        ("T.1", 'Read a rule to 1 mm, "twice"', "6", "6"),
        ("T.2", "=1+1", "7", "8"),
        ("T.3", "", "K", "college"),
    ]
    assert {p.place for p in draft.problems if p.left_out} == {"line 4", "line 5"}
    assert [p.place for p in draft.problems if not p.left_out] == ["line 6"]


def test_pasted_lines_begin_with_a_code():
    draft = read_text(
        "T.1 Read a rule.\n\nno code\nT.2\tMeasure twice.\t6", "pasted", key="p", title="P"
    )

    assert [(i.code, i.statement) for i in draft.items] == [
        ("T.1", "Read a rule."),
        ("T.2", "Measure twice."),
    ]
    assert draft.items[1].grade_low == "6"
    assert [p.place for p in draft.problems] == ["line 3"]


@pytest.mark.parametrize("text", ["", "just words", "code,statement\n", "\x00"])
def test_a_text_without_standards_is_refused(text):
    with pytest.raises(BadFile):
        read_text(text, "pasted", key="p", title="P")


def test_a_table_comes_back_from_its_export_and_formulas_are_marked_as_text(school_session):
    draft = read_text(TABLE, "t.csv", key="own", title="Own outcomes")
    framework, _ = take_in(school_session, draft, key="own")

    text = standards_csv(framework)

    assert "'=1+1" in text
    again = read_table(text.encode("utf-8-sig"), "t.csv", key="own", title="Own outcomes")
    found = case_import.preview(school_session, school_id(school_session), again)
    assert not found.added
    assert not found.retired
    assert all(set(c.what) == {"other fields"} for c in found.changed)


def test_a_framework_without_grades_is_offered_at_every_grade(school_session):
    package = quirks()
    for item in package["CFItems"]:
        item.pop("educationLevel", None)

    framework, _ = take_in(school_session, package)

    assert {row.grades for row in framework.standards} == {""}
    index = standards.index_of(school_session, school_id(school_session))
    from app.domain.standard.alignment import search

    assert [h.entry.code for h in search("EX.6.2", index, grades=(9, 12))] == ["EX.6.2"]
