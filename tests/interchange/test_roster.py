"""Class lists in: OneRoster CSV as 1EdTech's tables name its columns, plain CSV, typed codes.

Header strings: 1EdTech OneRoster CSV Tables 1.1 and 1.2, as the published header files of
exporters write them. The bundles themselves are made up.
"""

import csv
import datetime as dt
import io
import zipfile

import pytest

from app.domain.classroom.roster_changes import (
    Known,
    RosterEntry,
    compare,
    next_codes,
    next_team_codes,
    read_grade,
)
from app.interchange.files import BadFile
from app.interchange.roster_files import decoded, plain_csv, read_bytes, read_path, read_text

USERS_11 = (
    "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,"
    "familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password"
)
USERS_12 = (
    "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,"
    "middleName,identifier,email,sms,phone,agentSourcedIds,grades,password,userMasterIdentifier,"
    "resourceSourcedIds,preferredGivenName,preferredMiddleName,preferredFamilyName,"
    "primaryOrgSourcedId,pronouns"
)
ROLES_12 = (
    "sourcedId,status,dateLastModified,userSourcedId,roleType,role,beginDate,endDate,orgSourcedId,"
    "userProfileSourcedId"
)
CLASSES = (
    "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode,classType,location,"
    "schoolSourcedId,termSourcedIds,subjects,subjectCodes,periods"
)
ENROLLMENTS = (
    "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,"
    "beginDate,endDate"
)
MANIFEST = "propertyName,value\nmanifest.version,1.0\noneroster.version,{}\n"


def table(header, *rows):
    """A CSV whose rows name only the columns that matter."""
    names = header.split(",")
    out = io.StringIO()
    writer = csv.DictWriter(out, names, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def user(key, role="student", **more):
    return {
        "sourcedId": key, "enabledUser": "true", "orgSourcedIds": "o1", "role": role,
        "username": f"{key}@demo.example", "givenName": "Given", "familyName": f"Family, {key}",
        "grades": "06", "password": "secret", "phone": "555", **more,
    }  # fmt: skip


def enrolled(key, class_key="c1", role="student", **more):
    return {"sourcedId": f"e-{class_key}-{key}", "classSourcedId": class_key,
            "schoolSourcedId": "o1", "userSourcedId": key, "role": role, **more}  # fmt: skip


def bundle_11(**changes):
    """A small school of 1.1: one class with students u1 to u3 and a teacher."""
    files = {
        "manifest.csv": MANIFEST.format("1.1"),
        "classes.csv": table(CLASSES, {"sourcedId": "c1", "title": "Guitar, period 3"}),
        "users.csv": table(USERS_11, *(user(f"u{n}") for n in (1, 2, 3)), user("t1", "teacher")),
        "enrollments.csv": table(
            ENROLLMENTS, *(enrolled(f"u{n}") for n in (1, 2, 3)), enrolled("t1", role="teacher")
        ),
    }
    return {name: text for name, text in {**files, **changes}.items() if text is not None}


def zipped(files, folder=""):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            raw = text if isinstance(text, bytes) else text.encode()
            archive.writestr(f"{folder}{name}", raw)
    return out.getvalue()


def ids(found):
    return [entry.source_id for entry in found.entries]


def test_oneroster_1_1_gives_the_students_of_the_class_and_no_names():
    found = read_bytes(zipped(bundle_11()), "export.zip")

    assert found.format == "OneRoster 1.1"
    assert ids(found) == ["u1", "u2", "u3"]
    assert {entry.grade for entry in found.entries} == {"6"}
    assert not any(entry.name for entry in found.entries)
    assert found.whole


def test_names_are_read_only_if_asked_with_their_commas():
    found = read_bytes(zipped(bundle_11()), "export.zip", names=True)

    assert found.entries[0].name == "Given Family, u1"


def test_oneroster_1_2_takes_roles_from_their_own_file():
    files = bundle_11(**{
        "manifest.csv": MANIFEST.format("1.2"),
        "users.csv": table(USERS_12, *({k: v for k, v in user(key).items() if k in USERS_12.split(",")}
                                       for key in ("u1", "u2", "u3", "t1"))),
        "roles.csv": table(ROLES_12, *({"sourcedId": f"r{n}", "userSourcedId": f"u{n}",
                                        "roleType": "primary", "role": "student"} for n in (1, 2))),
        "userProfiles.csv": "sourcedId,password\np1,secret\n",
    })  # fmt: skip
    found = read_bytes(zipped(files), "export.zip")

    assert found.format == "OneRoster 1.2"
    assert ids(found) == ["u1", "u2"]
    assert any("u3" in problem for problem in found.problems)


def reordered(text):
    """The same table with its columns the other way round and one column of a vendor."""
    rows = list(csv.reader(io.StringIO(text)))
    out = io.StringIO()
    csv.writer(out).writerows(
        [*reversed(row), "metadata.colour" if n == 0 else "red"] for n, row in enumerate(rows)
    )
    return out.getvalue()


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda text: "\ufeff" + text, id="byte-order mark"),
        pytest.param(lambda text: text.replace("sourcedId", "sourceID"), id="spelling"),
        pytest.param(reordered, id="columns reordered, vendor column"),
        pytest.param(lambda text: text.replace("\n", "\r\n"), id="CRLF"),
        pytest.param(lambda text: text.encode("utf-16"), id="UTF-16"),
    ],
)  # fmt: skip
def test_the_same_class_comes_out_however_the_files_are_written(change):
    files = {name: change(text) for name, text in bundle_11().items()}

    assert ids(read_bytes(zipped(files), "export.zip")) == ["u1", "u2", "u3"]


def test_files_may_lie_in_a_folder_and_the_manifest_may_be_missing_or_odd(tmp_path):
    found = read_bytes(zipped(bundle_11(**{"manifest.csv": None}), "export/2027/"), "export.zip")
    assert ids(found) == ["u1", "u2", "u3"]
    assert "no manifest.csv" in found.notes[0]
    odd = read_bytes(zipped(bundle_11(**{"manifest.csv": MANIFEST.format("9")})), "export.zip")
    assert odd.format == "OneRoster 1.1"
    assert "“9”" in odd.notes[0]

    for name, text in bundle_11().items():
        (tmp_path / "school").mkdir(exist_ok=True)
        (tmp_path / "school" / name).write_text(text, encoding="utf-8")
    assert ids(read_path(tmp_path)) == ["u1", "u2", "u3"]


def test_demographics_are_never_read():
    files = bundle_11(**{"demographics.csv": b"\xff\x00 not even text"})
    found = read_bytes(zipped(files), "export.zip")

    assert "Demographics and profiles in the file were not read." in found.notes
    with pytest.raises(BadFile, match="never read"):
        read_bytes(b"sourcedId,birthDate\nu1,2011-05-01\n", "demographics.csv")


def test_rows_that_lead_nowhere_are_said_and_left_out():
    files = bundle_11(**{
        "enrollments.csv": table(
            ENROLLMENTS, enrolled("u1"), enrolled("u9"), enrolled("u2", "c9"), enrolled("t1"),
        )
    })  # fmt: skip
    found = read_bytes(zipped(files), "export.zip")

    assert ids(found) == ["u1"]
    text = " ".join(found.problems)
    assert "u9 is not in users.csv" in text
    assert "1 rows name a class" in text
    assert "t1 is enrolled as a student" in text


def test_deleted_rows_of_a_delta_do_not_count_and_leave_the_rest_alone():
    files = bundle_11(**{
        "manifest.csv": MANIFEST.format("1.1") + "file.enrollments,delta\n",
        "enrollments.csv": table(
            ENROLLMENTS, enrolled("u1", status="active"), enrolled("u2", status="tobedeleted")
        ),
    })  # fmt: skip
    found = read_bytes(zipped(files), "export.zip")

    assert [(entry.source_id, entry.gone) for entry in found.entries] == [
        ("u1", False),
        ("u2", True),
    ]
    assert not found.whole
    again = read_text(plain_csv(found.entries))
    assert [(entry.source_id, entry.gone) for entry in again.entries] == [
        ("u1", False),
        ("u2", True),
    ]


def test_a_delta_of_nothing_but_deletions_is_read_and_an_active_row_outweighs_a_deleted_one():
    files = bundle_11(**{
        "manifest.csv": MANIFEST.format("1.1") + "file.enrollments,delta\nfile.users,delta\n",
        "users.csv": table(USERS_11, user("u1"), user("u2"), user("u3", status="tobedeleted")),
        "enrollments.csv": table(
            ENROLLMENTS,
            enrolled("u1", status="tobedeleted"),
            enrolled("u2", status="tobedeleted", endDate="2027-02-12"),
        ),
    })  # fmt: skip
    found = read_bytes(zipped(files), "export.zip").entries
    assert [(entry.source_id, entry.gone, str(entry.left)) for entry in found] == [
        ("u1", True, "None"), ("u2", True, "2027-02-12"), ("u3", True, "None"),
    ]  # fmt: skip
    files["enrollments.csv"] = table(
        ENROLLMENTS, enrolled("u1", status="tobedeleted"), enrolled("u1", status="active")
    )
    (entry, _) = read_bytes(zipped(files), "export.zip").entries
    assert (entry.source_id, entry.gone) == ("u1", False)


def test_rows_to_be_deleted_tell_a_delta_where_no_manifest_does():
    # Taken for the whole class, such a file would send everybody else home.
    files = bundle_11(**{
        "manifest.csv": None,
        "enrollments.csv": table(ENROLLMENTS, enrolled("u2", status="tobedeleted")),
    })  # fmt: skip
    found = read_bytes(zipped(files), "export.zip")

    assert not found.whole
    assert [entry.source_id for entry in found.entries if entry.gone] == ["u2"]


def test_who_is_enrolled_again_counts_as_now_enrolled_in_either_order():
    before = enrolled("u1", beginDate="2026-08-24", endDate="2026-10-01")
    now = enrolled("u1", beginDate="2027-01-05")
    for rows in ((before, now), (now, before)):
        files = bundle_11(**{"enrollments.csv": table(ENROLLMENTS, *rows)})
        found = read_bytes(zipped(files), "export.zip")
        (entry,) = found.entries
        assert (str(entry.entered), entry.left) == ("2027-01-05", None)
        assert not compare(found.entries, [], prefix="P3").problems


def test_dates_of_enrolment_come_with_or_without_a_time():
    files = bundle_11(**{
        "enrollments.csv": table(
            ENROLLMENTS, enrolled("u1", beginDate="2027-01-05T00:00:00Z", endDate="2027-02-12")
        )
    })  # fmt: skip
    entry = read_bytes(zipped(files), "export.zip").entries[0]

    assert (entry.entered.isoformat(), entry.left.isoformat()) == ("2027-01-05", "2027-02-12")


def test_with_several_classes_the_file_is_refused_until_one_is_chosen():
    files = bundle_11(**{
        "classes.csv": table(CLASSES, {"sourcedId": "c1", "title": "Guitar"},
                             {"sourcedId": "c2", "title": "Guitar"}),
        "enrollments.csv": table(ENROLLMENTS, enrolled("u1"), enrolled("u2", "c2")),
    })  # fmt: skip
    raw = zipped(files)
    for wanted, words in (
        ("", "several classes"),
        ("Guitar", "several classes"),
        ("x", "no class"),
    ):
        with pytest.raises(BadFile, match=words):
            read_bytes(raw, "export.zip", wanted=wanted)

    assert ids(read_bytes(raw, "export.zip", wanted="c2")) == ["u2"]


def test_missing_tables_and_columns_are_named_all_at_once():
    files = bundle_11(**{"users.csv": None, "enrollments.csv": "sourcedId,role\ne1,student\n"})
    with pytest.raises(BadFile) as refused:
        read_bytes(zipped(files), "export.zip")
    text = str(refused.value)

    assert "users.csv: is missing" in text
    assert "enrollments.csv: has no column classSourcedId" in text


# --- plain lists -------------------------------------------------------------------------------


def test_a_plain_table_may_have_its_columns_in_any_order_and_any_separator():
    for text in (
        "Team;Student code;Grade level\nT01;S1-01;06\n",
        "\ufeffgrade\tcode\tteam\n6\tS1-01\tT01\n",
        "code,team,grade,date of birth\nS1-01,T01,Grade 6,2011-01-01\n",
    ):
        (entry,) = read_text(text).entries
        assert (entry.code, entry.team, entry.grade) == ("S1-01", "T01", "6")


def test_a_header_of_other_words_is_not_taken_for_a_student():
    with pytest.raises(BadFile, match="has no column “code”"):
        read_text("pupil,shoe size\nA,38")
    assert [entry.code for entry in read_text("A,T01\nB").entries] == ["A", "B"]


def test_a_team_that_is_no_code_is_said_and_left_out():
    found = compare(read_text("code,team\nA,the loud ones\nB,T01").entries, [], prefix="X")
    assert [(entry.code, entry.team) for entry in found.added] == [("A", ""), ("B", "T01")]
    assert "“the loud ones” is no code" in found.problems[0]
    assert "Taken without a team" in found.problems[0]


def test_dates_and_grades_that_cannot_be_read_are_named_with_their_line():
    found = read_text(
        "code,left,entered,grade\n\nA,03/15/2027,,\nB,,2027-3-1,\nC,,,Freshman\n"
        "D,2027-03-15 00:00:00,2027-01-05T08:00Z,Other\n,,,9\n"
    )

    assert [(e.code, str(e.left), str(e.entered)) for e in found.entries] == [
        ("C", "None", "None"), ("D", "2027-03-15", "2027-01-05"),
    ]  # fmt: skip
    left, entered, grade, code = found.problems
    # Line 2 is empty.
    assert left.startswith("line 3: left “03/15/2027” is no date; write year-month-day")
    assert "Left out" in left
    assert entered.startswith("line 4: entered “2027-3-1” is no date")
    assert grade.startswith("line 5: “Freshman” is no grade; write K or a number")
    assert code.startswith("line 7: there is no code")


def test_dates_and_grades_of_oneroster_that_cannot_be_read_are_named_and_nobody_is_lost():
    files = bundle_11(**{
        "users.csv": table(USERS_11, user("u1", grades="Freshman"), user("u2")),
        "enrollments.csv": table(ENROLLMENTS, enrolled("u1", beginDate="1/5/2027"),
                                 enrolled("u2", endDate="soon")),
    })  # fmt: skip
    found = read_bytes(zipped(files), "export.zip")

    assert ids(found) == ["u1", "u2"]
    text = " ".join(found.problems)
    assert "users.csv, user u1: “Freshman” is no grade" in text
    assert "enrollments.csv, user u1: beginDate “1/5/2027” is no date" in text
    assert "enrollments.csv, user u2: endDate “soon” is no date" in text


def test_a_column_code_gives_the_codes_whatever_other_numbers_a_list_has():
    for text in (
        "code,identifier\nS1-01,1001\n",
        "identifier,code\n1001,S1-01\n",
        "ID;Student code\n1001;S1-01\n",
    ):
        found = read_text(text)
        assert [entry.code for entry in found.entries] == ["S1-01"]
        assert "was not read; “" in found.notes[0]
    assert [entry.code for entry in read_text("identifier,team\n1001,T01\n").entries] == ["1001"]


def test_an_older_encoding_is_read_and_said():
    raw = "code,name\nS1-01,Zoë Brontë\n".encode("cp1252")
    found = read_bytes(raw, "class.csv", names=True)

    assert found.entries[0].name == "Zoë Brontë"
    assert "Windows-1252" in found.notes[0]
    assert decoded("é".encode("utf-8-sig"), "x") == ("é", ())


def test_a_list_written_out_reads_back_the_same():
    entries = (
        RosterEntry(code="S1-01", grade="6", team="T01"),
        RosterEntry(source_id="u2", grade="K"),
    )
    found = read_text(plain_csv(entries))

    assert [(e.code, e.source_id, e.grade, e.team) for e in found.entries] == [
        (e.code, e.source_id, e.grade, e.team) for e in entries
    ]


@pytest.mark.parametrize(
    ("written", "grade"),
    [("06", "6"), ("6", "6"), ("KG", "K"), ("K", "K"), ("Grade 9", "9"), ("12th", "12"), ("", ""),
     ("PK", "PK"), ("99", ""), ("Other", ""), ("²", "")],
)  # fmt: skip
def test_grades_are_read_as_schools_write_them(written, grade):
    # CEDS entry grade levels, as OneRoster uses them: PK, KG, 01 to 13.
    assert read_grade(written) == grade


# --- comparing ---------------------------------------------------------------------------------


def test_a_student_twice_or_in_two_teams_is_said_and_taken_once():
    found = compare(
        [RosterEntry("S1-01", team="T01"), RosterEntry("S1-01", team="T02"), RosterEntry("s1-02"), RosterEntry("S1-02")],
        [], prefix="P3",
    )  # fmt: skip

    assert [(entry.code, entry.team) for entry in found.added] == [("S1-01", "T01"), ("s1-02", "")]
    assert "stands in two teams, T01 and T02" in found.problems[0]
    assert "stands twice" in found.problems[1]


def test_the_next_list_finds_students_by_their_source_id_and_says_who_has_gone():
    known = [
        Known("S1-01", "u1", "9", "T01", None),
        Known("S1-02", "u2", "9", "T02", None),
        Known("S1-03", None, "9", None, None),
    ]
    entries = [RosterEntry(source_id="u1", grade="10"), RosterEntry(source_id="u9", grade="9")]
    found = compare(entries, known, prefix="P3", whole=True)

    assert [item.code for item in found.changed] == ["S1-01"]
    assert [entry.code for entry in found.added] == ["S1-04"]
    assert found.gone == ("S1-02",)


def test_who_is_taken_off_the_class_has_gone_and_strangers_are_not_added():
    known = [
        Known("S1-01", "u1", "9", "T01", None),
        Known("S1-02", "u2", "9", "T02", None),
        Known("S1-03", "u3", "9", "T03", dt.date(2027, 2, 1)),
        Known("S1-04", "u4", "9", "T04", None),
    ]
    entries = [
        RosterEntry(source_id="u1", gone=True),
        RosterEntry(source_id="u2", gone=True, left=dt.date(2027, 2, 12)),
        RosterEntry(source_id="u3", gone=True),
        RosterEntry(source_id="u9", gone=True),
    ]
    found = compare(entries, known, prefix="P3")

    assert found.gone == ("S1-01",)
    assert [(item.code, item.what) for item in found.changed] == [
        ("S1-02", ("leaves on 2027-02-12",))
    ]
    assert (found.added, found.same, found.problems) == ((), 1, ())


def test_names_entry_dates_and_source_ids_of_students_on_record_count_as_changes():
    day = dt.date(2027, 1, 5)
    known = [
        Known("S1-01", None, "9", "T01", None),
        Known("S1-02", "u2", "9", "T01", None, day, "Ada Fen"),
        Known("S1-03", "u3", "9", "T01", None, day, "Bo Marsh"),
    ]
    entries = [
        RosterEntry("S1-01", "u1", name="Cy Reed", entered=day),
        RosterEntry("S1-02", name="Ada  Fen", entered=day),
        RosterEntry("S1-03", name="Bo Fen"),
    ]
    found = compare(entries, known, prefix="P3")

    assert [(item.code, item.what) for item in found.changed] == [
        (
            "S1-01",
            ("sourcedId none becomes u1", "its name is added", "entered on 2027-01-05"),
        ),
        ("S1-03", ("its name changes",)),
    ]
    assert found.same == 1


def test_who_would_leave_before_entering_is_said_and_left_out():
    day, before = dt.date(2027, 1, 5), dt.date(2026, 10, 1)
    known = [Known("S1-01", None, "9", "T01", None, day)]
    entries = [RosterEntry("S1-01", left=before), RosterEntry("S1-02", entered=day, left=before)]
    found = compare(entries, known, prefix="P3")

    assert (found.added, found.changed) == ((), ())
    assert [problem[:5] for problem in found.problems] == ["S1-01", "S1-02"]
    assert "before entering on 2027-01-05" in found.problems[0]


def test_teams_match_in_either_case_and_new_ones_are_named_once():
    known = [Known("S1-01", None, "9", "T01", None), Known("S1-02", None, "9", "T02", None)]
    entries = [
        RosterEntry("S1-01", team="t01"),
        RosterEntry("S1-02", team="t12"),
        RosterEntry("S1-03", team="T12"),
    ]
    found = compare(entries, known, prefix="P3", teams=["T01", "T02"])

    assert found.same == 1
    assert found.changed[0].what == ("team T02 becomes t12",)
    assert [entry.team for entry in found.added] == ["t12"]
    assert found.new_teams == ("t12",)


def test_new_teams_are_numbered_after_the_last_even_where_one_is_missing():
    assert next_team_codes(["T01", "T03"], 2) == ["T04", "T05"]
    assert next_team_codes([], 2) == ["T01", "T02"]


def test_new_codes_follow_the_pattern_in_use():
    assert next_codes(["S1-01", "S1-22", "guest"], "P3", 2) == ["S1-23", "S1-24"]
    assert next_codes([], "PERIOD-3", 1) == ["PERIOD-3-01"]


@pytest.mark.parametrize("code", ["=1+1", "S1 01", "é", "x" * 40, "-1"])
def test_what_is_no_code_is_refused_in_words(code):
    found = compare([RosterEntry(code)], [], prefix="P3")

    assert not found.added
    assert found.problems


def test_one_code_for_two_students_is_said_and_given_to_the_first():
    found = compare(
        [RosterEntry("Z-01", "u1"), RosterEntry("z-01", "u2"), RosterEntry("Z-01")], [], prefix="P3"
    )  # fmt: skip

    assert [(entry.code, entry.source_id) for entry in found.added] == [("Z-01", "u1")]
    assert "z-01 stands for two students, sourcedId u1 and u2" in found.problems[0]
    assert "Z-01 stands twice" in found.problems[1]


def test_a_student_named_by_code_and_by_source_id_is_taken_once():
    known = [Known("S1-01", "u1", "9", "T01", None)]
    found = compare(
        [RosterEntry(source_id="u1", grade="10"), RosterEntry("S1-01", grade="11")],
        known,
        prefix="P3",
    )

    assert [item.entry.grade for item in found.changed] == ["10"]
    assert "S1-01 stands twice" in found.problems[0]
