"""A class list as values: entries read from a file or typed, compared with the students on record.

Codes are all that is needed. Names are kept only where the teacher asks for it.
"""

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

LONGEST_CODE = 20
CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._\-]*")
GRADES = ("PK", "TK", "K", *(str(grade) for grade in range(1, 14)))
OTHER_GRADES = frozenset({"IT", "PR", "PS", "UG", "OTHER"})
TWICE = "stands twice; each student needs one code. Taken once."


@dataclass(frozen=True, slots=True)
class RosterEntry:
    """A student as a list gives it; `row` is where. `gone` takes the student off the class."""

    code: str = ""
    source_id: str = ""
    grade: str = ""
    team: str = ""
    name: str = ""
    entered: dt.date | None = None
    left: dt.date | None = None
    row: str = ""
    gone: bool = False


@dataclass(frozen=True, slots=True)
class Known:
    """A student already in the section."""

    code: str
    source_id: str | None
    grade: str
    team: str | None
    left: dt.date | None
    entered: dt.date | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class ChangedStudent:
    """A student on record, what the list says now, and what differs, in words."""

    code: str
    entry: RosterEntry
    what: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a list adds to and changes in a section; problems are sentences.

    `new_teams` are the codes of teams that would be made.
    """

    added: tuple[RosterEntry, ...]
    changed: tuple[ChangedStudent, ...]
    gone: tuple[str, ...]
    same: int
    problems: tuple[str, ...]
    new_teams: tuple[str, ...] = ()


def read_grade(text: str) -> str:
    """A grade as the school's systems write it: 06 and 6 are 6, KG is K, unknown ones stay out."""
    plain = text.strip().upper().removeprefix("GRADE").strip()
    plain = re.sub(r"(?<=\d)(ST|ND|RD|TH)$", "", plain)
    if plain in {"KG", "KINDERGARTEN", "0", "00"}:
        return "K"
    if plain.isdecimal() and plain.isascii():
        plain = str(int(plain))
    return plain if plain in GRADES else ""


def grade_problem(text: str) -> str:
    """Why a text is no grade, in a sentence; empty if it is one, or one without a number."""
    plain = text.strip()
    if not plain or read_grade(plain) or plain.upper() in OTHER_GRADES:
        return ""
    return f"“{plain[:20]}” is no grade; write K or a number from 1 to 13."


def code_problem(code: str) -> str:
    """Why a text is no code, in a sentence; empty if it is one."""
    if not CODE.fullmatch(code):
        return (
            f"“{code[:30]}” is no code; use letters, digits, hyphens, dots or underscores, "
            "such as S1-01."
        )
    if len(code) > LONGEST_CODE:
        return f"“{code[:30]}…” is longer than {LONGEST_CODE} characters; shorten the code."
    return ""


def next_codes(held: Iterable[str], prefix: str, count: int) -> list[str]:
    """The next free codes of the pattern in use (`S1-23` after `S1-22`), or of `prefix`."""
    patterns: dict[str, list[int]] = {}
    for code in held:
        match = re.fullmatch(r"(.*?)(\d+)", code)
        if match:
            patterns.setdefault(match[1], []).append(int(match[2]))
    stem = max(patterns, key=lambda key: len(patterns[key])) if patterns else f"{prefix}-"
    first = max(patterns.get(stem, [0])) + 1
    return [f"{stem}{first + n:02d}" for n in range(count)]


def next_team_codes(held: Sequence[str], count: int) -> list[str]:
    """The next free team codes of the pattern in use, T01 where there is none."""
    return next_codes(["T00", *held], "T", count)


def compare(
    entries: Sequence[RosterEntry],
    known: Sequence[Known],
    *,
    prefix: str,
    teams: Iterable[str] = (),
    whole: bool = False,
) -> Comparison:
    """Compare a list with a section: by source id, else by code; new students get free codes.

    `teams` are the codes of the section's teams, which a list may write in either case. `whole`
    says the list is the whole class, so that who is missing has gone.
    """
    entries, problems = _once(entries)
    held = {code.casefold(): code for code in teams}
    pairs = _paired(_spelled(entries, held), known, problems)
    named = {found.code for _, found in pairs if found}
    pairs = [pair for pair in pairs if not _wrong_dates(*pair, problems)]
    added = [entry for entry, found in pairs if found is None and not entry.gone]
    met = [(entry, found) for entry, found in pairs if found is not None]
    gone = [found.code for entry, found in met if entry.gone and not entry.left and not found.left]
    changed = [
        ChangedStudent(found.code, entry, what)
        for entry, found in met
        if found.code not in gone and (what := _differences(entry, found))
    ]
    missing = [
        item.code
        for item in known
        if whole and item.source_id and item.code not in named and item.left is None
    ]
    in_use = [entry.team for entry in (*added, *(item.entry for item in changed)) if entry.team]
    return Comparison(
        _coded(added, [item.code for item in known], prefix),
        tuple(changed),
        (*gone, *missing),
        len(met) - len(changed) - len(gone),
        tuple(problems),
        tuple(dict.fromkeys(code for code in in_use if code.casefold() not in held)),
    )


def _paired(
    entries: Sequence[RosterEntry], known: Sequence[Known], problems: list[str]
) -> list[tuple[RosterEntry, Known | None]]:
    """Each entry with the student on record, by source id, else by code; who stands twice is said."""
    by_source = {item.source_id: item for item in known if item.source_id}
    by_code = {item.code.casefold(): item for item in known}
    pairs: list[tuple[RosterEntry, Known | None]] = []
    met = set()
    for entry in entries:
        found = by_source.get(entry.source_id) or by_code.get(entry.code.casefold())
        if found and found.code in met:
            problems.append(f"{found.code} {TWICE}")
            continue
        pairs.append((entry, found))
        met |= {found.code} if found else set()
    return pairs


def _wrong_dates(entry: RosterEntry, found: Known | None, problems: list[str]) -> bool:
    """Whether somebody would leave before entering, which is said."""
    entered = entry.entered or (found.entered if found else None)
    if entered is None or entry.left is None or entry.left >= entered:
        return False
    shown = found.code if found else entry.code or entry.source_id
    problems.append(
        f"{shown} would leave on {entry.left:%Y-%m-%d}, before entering on {entered:%Y-%m-%d}; "
        "correct the dates. Left out."
    )
    return True


def _spelled(entries: Iterable[RosterEntry], held: Mapping[str, str]) -> list[RosterEntry]:
    """Entries with each team as the section writes it, a new one as the list first does."""
    spelling = dict(held)
    return [
        replace(entry, team=spelling.setdefault(entry.team.casefold(), entry.team))
        if entry.team
        else entry
        for entry in entries
    ]


def _once(entries: Sequence[RosterEntry]) -> tuple[list[RosterEntry], list[str]]:
    """Each student once; a student in two teams, or twice, is said and kept where first met."""
    kept: dict[tuple[str, str], RosterEntry] = {}
    taken, problems = [], []
    for entry in entries:
        if entry.code and (problem := code_problem(entry.code)):
            problems.append(f"{entry.row}: {problem}" if entry.row else problem)
            continue
        if entry.team and code_problem(entry.team):
            shown = entry.code or entry.source_id
            problems.append(f"{shown}: the team {code_problem(entry.team)} Taken without a team.")
            entry = replace(entry, team="")  # noqa: PLW2901 - the same entry, corrected
        keys = [("sourcedId", entry.source_id), ("code", entry.code.casefold())]
        keys = [key for key in keys if key[1]]
        first = next((kept[key] for key in keys if key in kept), None)
        if first is None:
            kept.update(dict.fromkeys(keys, entry))
            taken.append(entry)
        else:
            problems.append(_clash(first, entry))
    return taken, problems


def _clash(first: RosterEntry, entry: RosterEntry) -> str:
    """Why an entry cannot stand beside one before it, in a sentence."""
    shown = entry.code or entry.source_id
    if first.source_id and entry.source_id and first.source_id != entry.source_id:
        return (
            f"{shown} stands for two students, sourcedId {first.source_id} and {entry.source_id}; "
            f"give {entry.source_id} a code of its own. Taken: {first.source_id}."
        )
    if first.team and entry.team and first.team.casefold() != entry.team.casefold():
        return (
            f"{shown} stands in two teams, {first.team} and {entry.team}; keep one. "
            f"Taken: {first.team}."
        )
    return f"{shown} {TWICE}"


def tidy_name(text: str) -> str:
    """A name as it is kept: single spaces, at most 120 characters."""
    return " ".join(text.split())[:120]


def _differences(entry: RosterEntry, found: Known) -> tuple[str, ...]:
    """What an entry changes, in words; a name only as a change, never itself."""
    what = []
    if entry.source_id and entry.source_id != found.source_id:
        what.append(f"sourcedId {found.source_id or 'none'} becomes {entry.source_id}")
    if entry.name and tidy_name(entry.name) != found.name:
        what.append("its name changes" if found.name else "its name is added")
    if entry.grade and entry.grade != found.grade:
        what.append(f"grade {found.grade or 'unknown'} becomes {entry.grade}")
    if entry.team and entry.team != found.team:
        what.append(f"team {found.team or 'none'} becomes {entry.team}")
    if entry.entered is not None and entry.entered != found.entered:
        what.append(f"entered on {entry.entered:%Y-%m-%d}")
    if entry.left != found.left and entry.left is not None:
        what.append(f"leaves on {entry.left:%Y-%m-%d}")
    if found.left is not None and entry.left is None and not entry.gone:
        what.append("is back")
    return tuple(what)


def _coded(
    added: Sequence[RosterEntry], held: Sequence[str], prefix: str
) -> tuple[RosterEntry, ...]:
    """Give codes to those who have none, in the order of their source ids, not of their names."""
    taken = [*held, *(entry.code for entry in added if entry.code)]
    uncoded = sorted((entry for entry in added if not entry.code), key=lambda item: item.source_id)
    codes: Mapping[str, str] = dict(
        zip(
            (entry.source_id for entry in uncoded),
            next_codes(taken, prefix, len(uncoded)),
            strict=True,
        )
    )
    return tuple(
        entry if entry.code else replace(entry, code=codes[entry.source_id]) for entry in added
    )


def keeping(records_until: dt.date | None, today: dt.date) -> str:
    """What the retention date asks for today, in a sentence; empty while it lies ahead."""
    if records_until is None or today < records_until:
        return ""
    return (
        f"The records of this section were to be kept until {records_until:%Y-%m-%d}. "
        "Export what the school needs, then erase them."
    )
