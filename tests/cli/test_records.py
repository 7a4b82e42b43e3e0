"""Class lists in and records out from the command line: the same answers as the pages."""

import csv
import io
import json
import sqlite3
import zipfile
from contextlib import closing

import pytest

SECTION = ("--section", "period-3")

ONEROSTER = {
    "manifest.csv": "propertyName,value\r\nmanifest.version,1.0\r\noneroster.version,1.1\r\n",
    "classes.csv": (
        "sourcedId,status,dateLastModified,title,classType,courseSourcedId,schoolSourcedId,"
        "termSourcedIds\r\nc1,,,Building,scheduled,k1,o1,t1\r\nc2,,,Drawing,scheduled,k1,o1,t1\r\n"
    ),
    "enrollments.csv": (
        "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role\r\n"
        "e1,,,c1,o1,u1,student\r\ne2,,,c1,o1,u2,student\r\ne3,,,c1,o1,u3,teacher\r\n"
        "e4,,,c2,o1,u4,student\r\n"
    ),
    "users.csv": (
        "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,givenName,"
        "familyName,identifier,grades\r\n"
        "u1,,,true,o1,student,one,Ada,Fen,1001,09\r\nu2,,,true,o1,student,two,Bo,Marsh,1002,10\r\n"
        "u3,,,true,o1,teacher,three,Cy,Reed,,\r\nu4,,,true,o1,student,four,Di,Holt,1004,11\r\n"
    ),
    "demographics.csv": "sourcedId,birthDate\r\nu1,2012-01-01\r\n",
}


def rows(text):
    """A CSV as dictionaries."""
    return list(csv.DictReader(io.StringIO(text)))


def test_a_preview_says_what_an_import_would_do_and_does_nothing(run, tmp_path):
    path = tmp_path / "list.csv"
    # Columns in another order, semicolons, a byte-order mark.
    path.write_bytes("\ufeffGrade;Code;Team\r\n9;S1-01;T01\r\n10;S1-90;T01\r\n".encode())
    code, out, _ = run("roster", "import", path, *SECTION, "--preview", "--json")
    found = json.loads(out)
    assert (code, found["students"], found["added"], found["problems"]) == (0, 23, ["S1-90"], [])
    assert [item["code"] for item in found["changed"]] == ["S1-01"]

    _, again, _ = run("roster", "import", path, *SECTION, "--preview", "--json")
    assert json.loads(again) == found
    _, done, _ = run("roster", "import", path, *SECTION, "--json")
    assert json.loads(done) == {**found, "preview": False}
    _, after, _ = run("roster", "import", path, *SECTION, "--json")
    assert (json.loads(after)["added"], json.loads(after)["changed"]) == ([], [])
    assert json.loads(after)["students"] == 23


def test_lines_that_cannot_be_used_are_named_and_the_others_come_in(run, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("code,team\nS1-90,T01\nS1-90,T02\nS1-91,T03\nS1-91,T03\n=cmd,T01\n")
    code, out, _ = run("roster", "import", path, *SECTION, "--json")
    found = json.loads(out)
    assert (code, found["added"]) == (0, ["S1-90", "S1-91"])
    twice_in_two_teams, no_code = found["problems"][0], found["problems"][-1]
    assert "S1-90 stands in two teams, T01 and T02" in twice_in_two_teams
    assert "“=cmd” is no code" in no_code
    code, out, _ = run("roster", "import", path, *SECTION, "--preview")
    assert out.startswith("plain CSV: 0 students would be added, 0 changed; 24 in the class.")
    assert "is no code" in out


def test_one_code_for_two_students_is_a_sentence_on_the_command_line_too(run, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("code,sourcedId\nZ-01,u1\nZ-01,u2\n")
    code, out, _ = run("roster", "import", path, *SECTION, "--json")
    assert (code, json.loads(out)["added"]) == (0, ["Z-01"])
    assert "two students" in json.loads(out)["problems"][0]


@pytest.mark.parametrize("folder", [True, False])
def test_a_oneroster_folder_or_zip_comes_in_by_codes_without_names_or_demographics(
    run, tmp_path, folder
):
    path = tmp_path / "export"
    if folder:
        path.mkdir()
        for name, text in ONEROSTER.items():
            (path / name).write_text(text, newline="")
    else:
        path = tmp_path / "export.zip"
        with zipfile.ZipFile(path, "w") as archive:
            for name, text in ONEROSTER.items():
                archive.writestr(name, text)
    given = ("roster", "import", path, "--section", "block-4", "--class")
    code, out, _ = run(*given, "Building", "--json")
    found = json.loads(out)
    assert (code, found["format"]) == (0, "OneRoster 1.1")
    assert (len(found["added"]), found["changed"]) == (2, [])
    assert not any(name in out for name in ("Ada", "Marsh", "2012-01-01"))
    # The other class instead: whom the first list brought and this one no longer names has left.
    _, out, _ = run(*given, "c2", "--json")
    now = json.loads(out)
    assert now["students"] == found["students"] - 1
    assert [item["code"] for item in now["changed"]] == found["added"]
    assert {"has left the class"} == {what for item in now["changed"] for what in item["what"]}


def test_a_delta_takes_students_off_the_class_from_the_command_line(run, tmp_path):
    for name, text in ONEROSTER.items():
        (tmp_path / name).write_text(text, newline="")
    given = ("roster", "import", tmp_path, "--section", "block-4", "--class", "c1", "--json")
    _, out, _ = run(*given)
    before = json.loads(out)
    delta = ONEROSTER["manifest.csv"] + "file.enrollments,delta\r\n"
    (tmp_path / "manifest.csv").write_text(delta, newline="")
    row = "e1,tobedeleted,2027-03-01T08:00:00Z,c1,o1,u1,student\r\n"
    header = ONEROSTER["enrollments.csv"].splitlines()[0] + "\r\n"
    (tmp_path / "enrollments.csv").write_text(header + row, newline="")

    _, seen, _ = run(*given, "--preview")
    code, out, _ = run(*given)

    assert (code, json.loads(seen)) == (0, {**json.loads(out), "preview": True})
    assert json.loads(out)["students"] == before["students"] - 1
    assert json.loads(out)["changed"] == [
        {"code": before["added"][0], "what": ["has left the class"]}
    ]


@pytest.mark.parametrize(
    ("options", "day"), [(("--today", "2027-02-12"), "2027-02-12"), ((), "2027-03-01")]
)
def test_who_leaves_by_a_list_leaves_on_the_day_given_or_the_sample_schools_own(
    run, tmp_path, monkeypatch, options, day
):
    # The demo's database where the demo keeps it: there the sample school's day is today.
    monkeypatch.delenv("STRINGCOURSE_DATABASE")
    monkeypatch.setenv("STRINGCOURSE_DATA", str(tmp_path))
    source = tmp_path / "export"
    source.mkdir()
    for name, text in ONEROSTER.items():
        (source / name).write_text(text, newline="")
    given = ("roster", "import", source, "--section", "block-4", "--class", "c1")
    run(*given)
    deleted = ONEROSTER["enrollments.csv"].replace("e1,,", "e1,tobedeleted,")
    (source / "enrollments.csv").write_text(deleted, newline="")

    assert run(*given, *options)[0] == 0

    with closing(sqlite3.connect(tmp_path / "demo.db")) as connection:
        rows = connection.execute('SELECT "left" FROM student WHERE source_id = ?', ("u1",))
        assert rows.fetchall() == [(day,)]


def test_a_file_of_several_classes_asks_which(run, tmp_path):
    for name, text in ONEROSTER.items():
        (tmp_path / name).write_text(text, newline="")
    code, _, error = run("roster", "import", tmp_path, *SECTION)
    assert code == 2
    assert "Building" in error
    assert "Drawing" in error


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"?!\n%%\n", "is no code"),
        (b"pupil,shoe size\nA,38\n", "has no column “code”"),
        (b"PK\x03\x04 and then nothing", "damaged zip"),
        (b"\x00\x01\x02\x03", "is no text"),
    ],
)
def test_a_file_that_is_no_list_is_one_sentence_and_exit_code_2(run, tmp_path, content, says):
    path = tmp_path / "list.csv"
    path.write_bytes(content)
    code, out, error = run("roster", "import", path, *SECTION, "--json")
    assert (code, out) == (2, "")
    assert says in error


def test_the_sign_off_log_comes_out_with_a_line_a_part(run, tmp_path):
    code, out, _ = run("signoffs", "export", *SECTION)
    found = rows(out)
    assert code == 0
    assert list(found[0]) == [
        "date", "student", "permit", "part", "test version", "score", "person", "note",
        "struck out",
    ]  # fmt: skip
    assert [row["date"] for row in found] == sorted(row["date"] for row in found)
    assert {row["score"] for row in found if row["part"] == "test"} == {"100"}

    target = tmp_path / "log.csv"
    code, said, _ = run("signoffs", "export", *SECTION, "-o", target)
    assert (code, said) == (0, f"{target}: {len(found)} rows\n")
    assert rows(target.read_text(encoding="utf-8")) == found


def test_readings_come_out_as_written_and_as_numbers_with_their_unit(run, tmp_path):
    code, out, _ = run("measurements", "export", *SECTION)
    found = rows(out)
    assert code == 0
    assert {
        "date",
        "team",
        "step",
        "written",
        "value",
        "unit",
        "within limits",
        "instrument",
    } < set(found[0])
    numbers = [row for row in found if row["unit"] == "mm"]
    assert numbers
    assert all(
        float(row["value"]) == float(row["written"].lstrip("'").split()[0]) for row in numbers
    )
    target = tmp_path / "readings.csv"
    assert run("measurements", "export", *SECTION, "-o", target)[0] == 0
    assert rows(target.read_text(encoding="utf-8")) == found


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("roster", "import", "/no/such/list.csv", *SECTION), "name a file or folder that exists"),
        (("roster", "import"), "Missing argument"),
        (("signoffs", "export"), "Missing option '--section'"),
        (("signoffs", "export", "--section", "none"), "no section none; known: block-4"),
        (("measurements", "export", "--section", "none"), "known: "),
        (("measurements", "export", *SECTION, "-o", "/no/such/m.csv"), "cannot be written"),
        (("signoffs", "export", *SECTION, "-o", "/no/such/s.csv"), "name a folder that exists"),
    ],
)
def test_wrong_use_is_one_sentence_and_exit_code_2(run, arguments, says):
    code, out, error = run(*arguments)

    assert (code, out) == (2, "")
    assert says in error
