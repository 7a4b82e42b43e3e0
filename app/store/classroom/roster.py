"""The class list: reading lists in, names kept apart, moves, leaving, erasing."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.classroom import roster_changes
from app.domain.classroom.team_making import Candidate
from app.models import (
    Absence,
    Activity,
    Mark,
    Measurement,
    Progress,
    Section,
    SignOff,
    Student,
    StudentName,
    Team,
)
from app.store import sections
from app.store.classroom import sign_offs
from app.store.missing import Missing


@dataclass(frozen=True)
class RosterChange:
    """What a list did, or would do."""

    comparison: roster_changes.Comparison
    students: int

    @property
    def facts(self) -> dict[str, object]:
        """The change in plain values, as the JSON output has it."""
        found = self.comparison
        return {
            "students": self.students,
            "added": [entry.code for entry in found.added],
            "changed": [
                *({"code": item.code, "what": list(item.what)} for item in found.changed),
                *({"code": code, "what": ["has left the class"]} for code in found.gone),
            ],
            "new_teams": list(found.new_teams),
            "problems": list(found.problems),
        }


def compare(
    session: Session,
    section: Section,
    entries: Sequence[roster_changes.RosterEntry],
    *,
    whole: bool,
) -> roster_changes.Comparison:
    """What a list would change in a section. Writes nothing."""
    teams = {team.id: team.code for team in sections.load_teams(session, section)}
    names = names_of(session, section)
    known = [
        roster_changes.Known(
            student.code,
            student.source_id,
            student.grade,
            teams.get(student.team_id) if student.team_id is not None else None,
            student.left,
            student.entered,
            names.get(student.id, ""),
        )
        for student in section.students
    ]
    prefix = section.key.upper()[: roster_changes.LONGEST_CODE - 5]
    return roster_changes.compare(entries, known, prefix=prefix, teams=teams.values(), whole=whole)


def import_list(
    session: Session,
    section: Section,
    entries: Sequence[roster_changes.RosterEntry],
    *,
    today: dt.date,
    whole: bool = False,
    preview: bool = False,
) -> RosterChange:
    """Bring a section in line with a list; with `preview` only say what would change.

    Names are kept only if the entries carry them. Who has gone keeps the records and a date.
    """
    found = compare(session, section, entries, whole=whole)
    by_code = {student.code: student for student in section.students}
    left = {code: student.left for code, student in by_code.items()}
    left |= {item.code: item.entry.left for item in found.changed}
    left |= {entry.code: entry.left for entry in found.added} | dict.fromkeys(found.gone, today)
    if not preview:
        for item in found.changed:
            _change(session, section, by_code[item.code], item.entry)
        for code in found.gone:
            by_code[code].left = today
        _add(session, section, found.added)
    return RosterChange(found, sum(day is None or day > today for day in left.values()))


def _add(session: Session, section: Section, entries: Sequence[roster_changes.RosterEntry]) -> None:
    teams = _teams_named(session, section, {entry.team for entry in entries if entry.team})
    rows = [
        Student(
            section_id=section.id,
            code=entry.code,
            grade=entry.grade,
            source_id=entry.source_id or None,
            entered=entry.entered,
            left=entry.left,
            team_id=teams[entry.team].id if entry.team else None,
        )
        for entry in entries
    ]
    session.add_all(rows)
    session.flush()
    # Written by their keys, which is quicker than one by one through the lists of section and team.
    session.expire(section, ["students"])
    for team in teams.values():
        session.expire(team, ["students"])
    session.add_all(
        StudentName(student_id=row.id, name=roster_changes.tidy_name(entry.name))
        for row, entry in zip(rows, entries, strict=True)
        if entry.name
    )


def _teams_named(session: Session, section: Section, codes: set[str]) -> dict[str, Team]:
    """The teams of these codes, whatever their case; those that are not there are made."""
    held = {team.code.casefold(): team for team in section.teams}
    for code in sorted(codes):
        if code.casefold() not in held:
            held[code.casefold()] = sections.create_team(session, section, code)
    return {code: held[code.casefold()] for code in codes}


def _change(
    session: Session, section: Section, student: Student, entry: roster_changes.RosterEntry
) -> None:
    student.grade = entry.grade or student.grade
    student.source_id = entry.source_id or student.source_id
    student.entered = entry.entered or student.entered
    student.left = entry.left
    if entry.team:
        student.team = _teams_named(session, section, {entry.team})[entry.team]
    if entry.name:
        set_name(session, student, entry.name)


# --- one student -------------------------------------------------------------------------------


def load_student(session: Session, section: Section, student_id: int) -> Student:
    """A student of the section.

    Raises Missing.
    """
    student = session.scalar(
        sa.select(Student).where(Student.id == student_id, Student.section_id == section.id)
    )
    if student is None:
        raise Missing(f"student {student_id}")
    return student


def new_team(section: Section, team_code: str) -> str:
    """The code of the team that would have to be made for a student; empty if there is one."""
    code = team_code.strip()
    held = {team.code.casefold() for team in section.teams}
    return "" if not code or code.casefold() in held or roster_changes.code_problem(code) else code


def move(
    session: Session, section: Section, student: Student, team_code: str, *, make: bool
) -> None:
    """Put a student into a team of the section, or none; into a new one only if told to `make` it.

    Raises ValueError with a sentence if the code is no code, or there is no such team yet.
    """
    code = team_code.strip()
    problem = roster_changes.code_problem(code) if code else ""
    if problem:
        raise ValueError(problem)
    if new_team(section, code) and not make:
        raise ValueError(
            f"There is no team {code} yet. Correct the code, or tick “Make the new team {code}”: "
            "it is one more instrument in the next plan."
        )
    student.team = _teams_named(session, section, {code})[code] if code else None
    session.flush()


def set_dates(student: Student, entered: dt.date | None, left: dt.date | None) -> None:
    """When a student entered and left the class.

    Raises ValueError with a sentence if the dates are the wrong way round.
    """
    if entered is not None and left is not None and left < entered:
        raise ValueError(f"{student.code} cannot leave before entering; swap the dates.")
    student.entered, student.left = entered, left


def names_of(session: Session, section: Section) -> dict[int, str]:
    """Names by student, where there are any."""
    query = (
        sa.select(StudentName.student_id, StudentName.name)
        .join(Student)
        .where(Student.section_id == section.id)
    )
    return {student_id: name for student_id, name in session.execute(query)}  # noqa: C416


def set_name(session: Session, student: Student, name: str) -> None:
    """Keep a student's name, or remove it if empty."""
    row = session.scalar(sa.select(StudentName).where(StudentName.student_id == student.id))
    text = roster_changes.tidy_name(name)
    if row is not None and not text:
        session.delete(row)
    elif row is not None:
        row.name = text
    elif text:
        session.add(StudentName(student_id=student.id, name=text))
    session.flush()


def remove_names(session: Session, section: Section) -> int:
    """Remove every name of a section by one act; returns how many."""
    names = list(
        session.scalars(
            sa.select(StudentName).join(Student).where(Student.section_id == section.id)
        )
    )
    for row in names:
        session.delete(row)
    session.flush()
    return len(names)


def erase_student(session: Session, student: Student) -> None:
    """Erase a student and every personal record; the team's work stays without the person."""
    mine = student.id
    for kept in (Measurement, Progress):
        session.execute(sa.update(kept).where(kept.student_id == mine).values(student_id=None))
    for table in (Absence, Mark, SignOff, StudentName):
        session.execute(sa.delete(table).where(table.student_id == mine))
    session.delete(student)
    session.flush()


def erase_all(session: Session, section: Section) -> int:
    """Erase every student of a section, once the records need not be kept any longer."""
    students = list(section.students)
    for student in students:
        erase_student(session, student)
    session.expire(section, ["students"])
    return len(students)


# --- teams -------------------------------------------------------------------------------------


def candidates(
    session: Session, section: Section, students: Sequence[Student], paces: Mapping[str, int]
) -> list[Candidate]:
    """Students for the team maker with their sign-offs of today."""
    states = sign_offs.sign_off_states(session, section, on=dt.date.max)
    return [
        Candidate(
            student.code,
            paces.get(student.code, 0),
            frozenset(
                permit
                for permit, state in states.get(student.code, {}).items()
                if state.complete and not state.suspended
            ),
        )
        for student in students
    ]


def empty_teams(session: Session, section: Section) -> dict[Team, bool]:
    """Teams without any student, and whether one can go because nothing is on record for it."""
    begun = sections.teams_with_a_record(session, section)
    return {team: team.id not in begun for team in section.teams if not team.students}


def remove_team(session: Session, section: Section, team_id: int) -> str:
    """Remove a team that has neither students nor a record; returns its code.

    Raises Missing, or ValueError with a sentence.
    """
    team = next((team for team in section.teams if team.id == team_id), None)
    if team is None:
        raise Missing(f"team {team_id}")
    removable = empty_teams(session, section).get(team)
    if removable is None:
        raise ValueError(f"{team.code} has students; put them into another team first.")
    if not removable:
        raise ValueError(f"{team.code} has work on record, which stays; the team stays with it.")
    _remove(session, section, team)
    session.flush()
    return team.code


def _remove(session: Session, section: Section, team: Team) -> None:
    session.execute(sa.delete(Activity).where(Activity.team_id == team.id))
    section.teams.remove(team)


@dataclass(frozen=True)
class Placing:
    """A group of students and the team it would be; None is a new one."""

    codes: tuple[str, ...]
    team: Team | None


def place_groups(
    session: Session, section: Section, groups: Sequence[Sequence[str]], today: dt.date
) -> list[Placing]:
    """Which team each group would be: the one most of it was in, else one nobody is in any more.

    Writes nothing. Raises ValueError with a sentence for a code that is unknown or stands in two
    groups.
    """
    by_code = {student.code: student for student in section.students}
    given = [code for group in groups for code in group]
    for code in given:
        if code not in by_code:
            raise ValueError(f"“{code}” is no code of this section; make the teams again.")
        if given.count(code) > 1:
            raise ValueError(f"{code} stands in two teams; keep one.")
    begun = sections.teams_with_a_record(session, section)
    # Begun instruments first, so that they are finished before new ones are started.
    free = sorted(
        (team for team in section.teams if _present(team, today) <= set(given)),
        key=lambda team: (team.id not in begun, team.code),
    )
    found = _matched(free, [[by_code[code].team for code in group] for group in groups])
    return [Placing(tuple(group), found.get(place)) for place, group in enumerate(groups)]


def _present(team: Team, today: dt.date) -> set[str]:
    return {s.code for s in team.students if s.left is None or s.left > today}


def _matched(free: Sequence[Team], groups: Sequence[Sequence[Team | None]]) -> dict[int, Team]:
    """Place of a group → its team; `groups` has the team each member was in."""
    claims = [
        (group.count(team), place, team) for team in free for place, group in enumerate(groups)
    ]
    claims.sort(key=lambda claim: -claim[0])  # whom nobody claims goes to the groups that are left
    found: dict[int, Team] = {}
    for _, place, team in claims:
        if place not in found and team not in found.values():
            found[place] = team
    return found


def left_behind(
    session: Session, section: Section, placings: Sequence[Placing], today: dt.date
) -> list[str]:
    """Whom new teams would take away from work on record, and which instruments from everybody."""
    begun = sections.teams_with_a_record(session, section)
    by_code = {student.code: student for student in section.students}
    leaving = [
        (code, was)
        for item in placings
        for code in item.codes
        if (was := by_code[code].team) is not None and was is not item.team and was.id in begun
    ]
    if not leaving:
        return []
    who = _listed(sorted(f"{code} ({was.code})" for code, was in leaving))
    stays = "would leave an instrument with work on record; the work and its readings stay there."
    said = [f"{who} {stays}"]
    taken = {item.team for item in placings}
    moved = {code for code, _ in leaving}
    alone = {was.code for _, was in leaving if was not in taken and _present(was, today) <= moved}
    if alone:
        said.append(f"Nobody would be left to finish the instrument of {_listed(sorted(alone))}.")
    return said


def _listed(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def assign_teams(session: Session, section: Section, placings: Sequence[Placing]) -> None:
    """Put groups of students into their teams; new teams are made.

    Teams left empty go if nothing is on record for them.
    """
    by_code = {student.code: student for student in section.students}
    before = list(section.teams)
    used = [
        item.team or sections.create_team(session, section, _free_code(section))
        for item in placings
    ]
    for team, item in zip(used, placings, strict=True):
        for code in item.codes:
            by_code[code].team = team
    session.flush()
    for team in before:
        session.refresh(team, ["students"])
    for team, removable in empty_teams(session, section).items():
        if team in before and removable:
            _remove(session, section, team)
    session.flush()


def _free_code(section: Section) -> str:
    return roster_changes.next_team_codes([team.code for team in section.teams], 1)[0]
