"""Sign-offs: the parts of each permit, when it ends, the school's own rules, and the log."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.bands import grade_number
from app.domain.classroom.sign_off_order import PART_WORDS, PARTS, SignOffEntries
from app.models import PermitType, Phase, School, SchoolRule, Section, SignOff, Step, Student
from app.store import Missing, library

FORMS = ("form A", "form B")
READ_ALOUD = ", read aloud"
LONGEST_REASON = 300


@dataclass(frozen=True)
class SignOffState:
    """How far a student is with one permit on a date; `parts` has the newest date of each part."""

    parts: dict[str, dt.date]
    suspended: bool = False
    ends: dt.date | None = None
    on: dt.date | None = None
    refused: str = ""

    @property
    def expired(self) -> bool:
        """Whether a part is older than the permit lasts."""
        return self.ends is not None and self.on is not None and self.on >= self.ends

    @property
    def complete(self) -> bool:
        """Whether lesson, test and check-out are on record."""
        return all(part in self.parts for part in PARTS)

    @property
    def signed_off(self) -> bool:
        """All parts are on record, none is too old, and neither suspension nor rule stands."""
        return self.complete and not self.suspended and not self.expired and not self.refused

    @property
    def why_not(self) -> str:
        """What is missing, in a few words; empty if signed off."""
        if self.suspended:
            return "suspended"
        if self.refused:
            return self.refused
        missing = [PART_WORDS[part] for part in PARTS if part not in self.parts]
        if missing:
            return f"{' and '.join(missing)} missing"
        if self.expired and self.ends is not None:
            return f"ended on {self.ends.isoformat()}; renew it"
        return ""


NOTHING = SignOffState({})


def permits_of(session: Session, section: Section) -> dict[str, PermitType]:
    """The permits a section's school sees, by key."""
    school_id = section.course.department.school_id
    return library.kinds(session, PermitType, school_id)


def asked_by_build(session: Session, section: Section) -> set[str]:
    """The permits that a step of the section's build asks for."""
    query = sa.select(Step.permit).join(Phase).where(Phase.build_id == section.build_id)
    return {permit for permit in session.scalars(query.distinct()) if permit}


_STATES = (
    sa.select(SignOff.permit, SignOff.part, SignOff.date, Student.code, Student.grade)
    .join(Student)
    .where(
        Student.section_id == sa.bindparam("section"),
        SignOff.date <= sa.bindparam("on"),
        SignOff.struck_out == "",
    )
    .order_by(SignOff.id)
)
_STATES_OF_PERMITS = _STATES.where(SignOff.permit.in_(sa.bindparam("permits", expanding=True)))


def sign_off_states(
    session: Session,
    section: Section,
    *,
    on: dt.date,
    asked: Mapping[str, PermitType | None] | None = None,
) -> dict[str, dict[str, SignOffState]]:
    """Student code → permit → state on a date. A permit without a record is left out.

    `asked` narrows it to some permits, where the caller has their kinds at hand.
    """
    if asked is None:
        rows = session.execute(_STATES, {"section": section.id, "on": on})
    else:
        given = {"section": section.id, "on": on, "permits": list(asked)}
        rows = session.execute(_STATES_OF_PERMITS, given)
    entries: dict[tuple[str, str], SignOffEntries] = defaultdict(SignOffEntries)
    grades: dict[str, str] = {}
    for permit, part, date, code, grade in rows:
        grades[code] = grade
        if part != "attempt":
            entries[code, permit].add(part, date)
    kinds = permits_of(session, section) if asked is None else asked
    rules = rules_of(session, section.course.department.school_id)
    states: dict[str, dict[str, SignOffState]] = defaultdict(dict)
    for (code, permit), held in entries.items():
        parts = held.parts
        states[code][permit] = SignOffState(
            parts,
            held.suspended_on is not None,
            _ends(parts, kinds.get(permit)),
            on,
            rule_refusal(rules.get(permit), grades[code]),
        )
    return states


def checked_out(session: Session, section: Section, *, on: dt.date) -> dict[str, set[str]]:
    """Student code → permits with a check-out in the log by a date, struck out or not."""
    query = (
        sa.select(Student.code, SignOff.permit)
        .join(Student)
        .where(Student.section_id == section.id, SignOff.part == "check-out", SignOff.date <= on)
        .distinct()
    )
    found: dict[str, set[str]] = defaultdict(set)
    for code, permit in session.execute(query):
        found[code].add(permit)
    return found


def _ends(parts: Mapping[str, dt.date], kind: PermitType | None) -> dt.date | None:
    """The day from which a permit no longer counts: its oldest part plus how long it lasts."""
    if kind is None or kind.renew_after_days is None or not parts:
        return None
    return min(parts.values()) + dt.timedelta(days=kind.renew_after_days)


# --- the school's own rules --------------------------------------------------------------------


_RULES = sa.select(SchoolRule).where(SchoolRule.school_id == sa.bindparam("school"))


def rules_of(session: Session, school_id: int) -> dict[str, SchoolRule]:
    """The school's own rules by permit."""
    return {row.permit: row for row in session.scalars(_RULES, {"school": school_id})}


def rule_refusal(rule: SchoolRule | None, grade: str) -> str:
    """Why the school's rule keeps a grade from a station, in words; empty if it does not.

    An unknown grade is left to the adult in charge, as is an age: no birth date is on record.
    """
    if rule is None or rule.lowest_grade is None:
        return ""
    try:
        if grade_number(grade) >= rule.lowest_grade:
            return ""
    except ValueError:
        return ""
    return f"the school’s rule: from grade {rule.lowest_grade}, this student is in grade {grade}"


def save_rules(session: Session, school: School, rows: Iterable[SchoolRule]) -> None:
    """Replace the school's rules by these; an empty rule goes."""
    held = rules_of(session, school.id)
    for row in rows:
        old = held.get(row.permit)
        empty = row.lowest_grade is None and row.lowest_age is None and not row.rule.strip()
        if old is None and not empty:
            row.school_id = school.id
            session.add(row)
        elif old is not None and empty:
            session.delete(old)
        elif old is not None:
            old.lowest_grade, old.lowest_age, old.rule = row.lowest_grade, row.lowest_age, row.rule
    session.flush()


# --- recording ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class SignOffPart:
    """One part of a permit as it is recorded; `score` in percent for a written test."""

    part: str
    date: dt.date
    person: str
    test_version: str = ""
    score: float | None = None
    note: str = ""


def record_sign_off(session: Session, student: Student, permit: str, part: SignOffPart) -> SignOff:
    """Record one part of a permit. A test below 100 % goes on record as an attempt only.

    Raises ValueError with a sentence if the order of parts or of their dates is broken, a
    reinstatement comes without a check-out observed since the suspension, the same form is
    written again after it was not passed, or the school's rule keeps the student's grade from
    the station.
    """
    rows = list(
        session.scalars(
            sa.select(SignOff)
            .where(
                SignOff.student_id == student.id,
                SignOff.permit == permit,
                SignOff.struck_out == "",
            )
            .order_by(SignOff.id)
        )
    )
    _refuse_out_of_order(session, student, permit, part, rows)
    kept = part.part
    if part.part == "test":
        _refuse_test(student, part, rows)
        kept = "test" if part.score == 100 else "attempt"
    row = SignOff(
        student_id=student.id,
        permit=permit,
        part=kept,
        date=part.date,
        person=part.person,
        test_version=part.test_version[:60] if part.part == "test" else "",
        score=part.score if part.part == "test" else None,
        note=part.note.strip()[:500],
    )
    session.add(row)
    session.flush()
    return row


def _refuse_out_of_order(
    session: Session, student: Student, permit: str, part: SignOffPart, rows: list[SignOff]
) -> None:
    section = student.section
    rule = rules_of(session, section.course.department.school_id).get(permit)
    refusal = rule_refusal(rule, student.grade)
    if refusal and part.part in ("test", "check-out"):
        raise ValueError(f"{student.code}: {refusal}.")
    held = SignOffEntries()
    for row in rows:
        held.add(row.part, row.date)
    kind = permits_of(session, section).get(permit)
    days = kind.renew_after_days if kind is not None else None
    lasts = dt.timedelta(days=days) if days is not None else None
    out_of_order = held.refusal(part.part, part.date, lasts)
    if out_of_order:
        raise ValueError(f"{student.code} {out_of_order}")
    if part.part == "suspension" and not part.note.strip():
        raise ValueError(f"Say in the note why {student.code} is suspended.")


def _refuse_test(student: Student, part: SignOffPart, rows: list[SignOff]) -> None:
    if part.score is None or not 0 <= part.score <= 100:
        raise ValueError("Enter the score as a percentage from 0 to 100.")
    form = part.test_version.removesuffix(READ_ALOUD)
    if form not in FORMS:
        raise ValueError(f"Choose which form of the test was written: {' or '.join(FORMS)}.")
    last = next((row for row in reversed(rows) if row.part in ("test", "attempt")), None)
    if last is not None and last.part == "attempt":
        before = last.test_version.removesuffix(READ_ALOUD)
        if before == form:
            other = next(item for item in FORMS if item != form)
            raise ValueError(
                f"{student.code} did not pass {form} last time; use {other} for the next try."
            )


def load_entry(session: Session, section: Section, entry_id: int) -> SignOff:
    """An entry of a section's log.

    Raises Missing.
    """
    query = (
        sa.select(SignOff)
        .join(Student)
        .where(Student.section_id == section.id, SignOff.id == entry_id)
        .options(joinedload(SignOff.student))
    )
    row = session.scalar(query)
    if row is None:
        raise Missing(f"sign-off entry {entry_id}")
    return row


def strike_out(session: Session, row: SignOff, *, by: str, on: dt.date, reason: str) -> None:
    """Strike out an entry: it stays in the log and counts no more.

    Raises ValueError with a sentence without a reason, or if it is struck out already.
    """
    reason = " ".join(reason.split())
    session.refresh(row, ["struck_out"], with_for_update=True)  # two adults at the same entry
    if row.struck_out:
        raise ValueError(f"It is struck out already: {row.struck_out}. Nothing is left to do.")
    if not reason:
        raise ValueError("Say why the entry is struck out.")
    if len(reason) > LONGEST_REASON:
        raise ValueError(
            f"Say why in at most {LONGEST_REASON} characters; these are {len(reason)}."
        )
    row.struck_out = f"{by}, {on.isoformat()}: {reason}"
    session.flush()


def sign_off_log(session: Session, section: Section) -> list[SignOff]:
    """The whole log, oldest first; what was struck out stands in it."""
    query = (
        sa.select(SignOff)
        .join(Student)
        .where(Student.section_id == section.id)
        .order_by(SignOff.date, SignOff.id)
        .options(joinedload(SignOff.student))
    )
    return list(session.scalars(query))
