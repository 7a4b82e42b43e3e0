"""Suggested alignments for a framework, and what people of the school decided about them.

A suggestion has one of three origins: an association between frameworks (a crosswalk), the same
official code elsewhere, or words in common within the grade band. None counts until somebody
accepts it.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.bands import BANDS, GRADES
from app.domain.standard import alignment
from app.models import Alignment, Decision, Framework, Standard, StandardLink, Treatment
from app.store import library
from app.store.missing import Missing
from app.store.standard import standards

Row = TypeVar("Row", Alignment, Decision)
# origin, why, strength, carried, exact, score
_Reason = tuple[str, str, str, Alignment | None, bool, float]

CROSSWALK = ("exactMatchOf", "isTranslationOf", "replacedBy", "isPeerOf", "isRelatedTo")
FULL = frozenset(("exactMatchOf", "isTranslationOf"))
LOWEST_SCORE = 0.15  # by trial on the shipped treatments: below it the words in common say little
FEWEST_WORDS = 2  # of a domain's heading: one, such as “make”, is no reason
BY_WORDS = 3


@dataclass(frozen=True)
class Suggested:
    """A standard of the framework that a treatment may bear on, and why it is suggested.

    ``exact`` says that an exact match or the same code carries an alignment over.
    """

    treatment: Treatment
    standard: Standard
    origin: str
    why: str
    strength: str
    carried: Alignment | None
    exact: bool
    score: float


def suggestions(
    session: Session, school_id: int, framework: Framework, band: str
) -> list[Suggested]:
    """What nobody has decided yet for a framework at a grade band, crosswalks first."""
    index = standards.index_of(session, school_id)
    treatments = library.list_treatments(session, band, school_id)
    decided = _decided(session, school_id, framework)
    found: dict[tuple[int, int], _Reason] = {}
    across = _crosswalk(session, school_id, framework, index)
    worded = set(
        session.scalars(
            sa.select(Standard.id).where(
                Standard.framework_id == framework.id, Standard.statement != ""
            )
        )
    )
    by_words = alignment.Suggester(index, grades=GRADES[band], framework=framework.key)
    for treatment in treatments:
        settled = decided[treatment.id] | {item.standard_id for item in treatment.alignments}
        for other, reason in _carried(treatment, framework, across, index):
            if other not in settled:
                found.setdefault((treatment.id, other), reason)
        texts = {treatment.title: 3.0, treatment.goal: 2.0, treatment.explanation: 0.5}
        exclude = {str(number) for number in settled}
        for item in by_words.suggest(texts, exclude=exclude, limit=BY_WORDS):
            telling = len(item.words) >= FEWEST_WORDS or int(item.entry.key) in worded
            if item.score >= LOWEST_SCORE and telling:
                why = f"Words in common: {', '.join(item.words[:6])} ({item.score:.2f} of 1)."
                found.setdefault(
                    (treatment.id, int(item.entry.key)),
                    ("words", why, "partial", None, False, item.score),
                )
    rows = standards.load_standards(session, [standard for _, standard in found])
    by_id = {treatment.id: treatment for treatment in treatments}
    listed = [
        Suggested(by_id[treatment], rows[standard], *reason)
        for (treatment, standard), reason in found.items()
        if rows[standard].framework_id == framework.id and not rows[standard].retired
    ]
    order = ("crosswalk", "same-code", "words")
    return sorted(
        listed,
        key=lambda s: (order.index(s.origin), -s.score, s.treatment.title, s.standard.code),
    )


def _decided(session: Session, school_id: int, framework: Framework) -> dict[int, set[int]]:
    query = (
        sa.select(Decision.treatment_id, Decision.standard_id)
        .join(Standard, Decision.standard_id == Standard.id)
        .where(Decision.school_id == school_id, Standard.framework_id == framework.id)
    )
    found: dict[int, set[int]] = defaultdict(set)
    for treatment, standard in session.execute(query):
        found[treatment].add(standard)
    return found


def _carried(
    treatment: Treatment,
    framework: Framework,
    across: dict[int, list[tuple[int, str]]],
    index: alignment.CodeIndex,
) -> Iterable[tuple[int, _Reason]]:
    """Standards of the framework that belong to one the treatment is already aligned to."""
    for item in treatment.alignments:
        if item.standard.framework_id == framework.id:
            continue
        named = f"{item.standard.framework.key} {item.standard.code}"
        for other, kind in across.get(item.standard_id, ()):
            why = f"{kind} {named}, which the treatment is aligned to ({item.strength})."
            strength = item.strength if kind in FULL else "partial"
            yield other, ("crosswalk", why, strength, item, kind in FULL, 1.0)
        key = alignment.spelling_key(item.standard.code)
        for entry_key in index.spellings.get(key, ()):
            if index.entries[entry_key].framework == framework.key:
                why = f"The same code as {named}, which the treatment is aligned to."
                yield int(entry_key), ("same-code", why, item.strength, item, True, 1.0)


def _crosswalk(
    session: Session, school_id: int, framework: Framework, index: alignment.CodeIndex
) -> dict[int, list[tuple[int, str]]]:
    """Standards elsewhere → standards of the framework that an association joins to them."""
    query = (
        sa.select(StandardLink)
        .join(Framework, StandardLink.framework_id == Framework.id)
        .where(
            library.shared_or_own(Framework.school_id, school_id),
            StandardLink.kind.in_(CROSSWALK),
        )
    )
    links = list(session.scalars(query))
    if not links:
        return {}
    mine = _by_identifier(session, sa.and_(Standard.framework_id == framework.id))
    others = _by_identifier(
        session,
        sa.and_(
            Standard.framework_id != framework.id,
            library.shared_or_own(Framework.school_id, school_id),
        ),
    )
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for link in links:
        for here, there, node in (
            (link.origin, link.destination, "destinationNodeURI"),
            (link.destination, link.origin, "originNodeURI"),
        ):
            other = others.get(there) or _spelled(link.source.get(node), index, framework.key)
            if here in mine and other is not None and other != mine[here]:
                found[other].append((mine[here], link.kind))
    return found


def _by_identifier(session: Session, where: sa.ColumnElement[bool]) -> dict[str, int]:
    query = sa.select(Standard.identifier, Standard.id).join(Framework).where(where)
    return {row[0]: row[1] for row in session.execute(query) if row[0]}


def _spelled(node: object, index: alignment.CodeIndex, framework: str) -> int | None:
    """The standard of another framework that an end names by its code, in title or address."""
    if not isinstance(node, dict):
        return None
    for text in (node.get("title"), str(node.get("uri") or "").rpartition(":")[2]):
        if isinstance(text, str) and any(letter.isdigit() for letter in text):
            entry = alignment.resolve(text, index).entry
            if entry is not None and entry.framework != framework:
                return int(entry.key)
    return None


def list_library(
    session: Session, school_id: int, framework: Framework, band: str
) -> list[Alignment]:
    """The alignments that treatments at a band came with and the school has not decided on."""
    held = (
        item
        for treatment in library.list_treatments(session, band, school_id)
        for item in treatment.alignments
    )
    mine = [
        item
        for item in held
        if item.school_id is None and item.standard.framework_id == framework.id
    ]
    return sorted(mine, key=lambda item: (item.standard.code, item.treatment_id))


# --- decisions -----------------------------------------------------------------------------------


def list_decisions(
    session: Session, school_id: int, framework: Framework, band: str
) -> list[Decision]:
    """What was decided for a framework at a grade band, newest first."""
    query = (
        sa.select(Decision)
        .join(Decision.standard)
        .join(Decision.treatment)
        .where(
            Decision.school_id == school_id,
            Standard.framework_id == framework.id,
            Treatment.band == band,
        )
        .order_by(Decision.decided_at.desc(), Decision.id.desc())
        .options(joinedload(Decision.standard), joinedload(Decision.treatment))
    )
    return list(session.scalars(query))


@dataclass(frozen=True)
class AlignmentVerdict:
    """What a person says about one suggestion."""

    accepted: bool
    reason: str
    strength: str = "partial"
    condition: str = ""
    origin: str = "person"
    shown: str = ""


def decide(
    session: Session,
    school_id: int,
    framework: Framework,
    pair: tuple[int, int],
    verdict: AlignmentVerdict,
    who: tuple[str, dt.datetime],
) -> Decision:
    """Accept or decline an alignment of (treatment, standard) for the school; a later word holds.

    Raises ValueError with a sentence without a reason, Missing for what the school does not see.
    """
    treatment_id, standard_id = pair
    # A page opened before the school made the treatment its own still names the shipped one.
    treatment_id = library.in_place_of(session, school_id).get(treatment_id, treatment_id)
    treatment = session.get(Treatment, treatment_id)
    standard = session.get(Standard, standard_id)
    if treatment is None or treatment.school_id not in (None, school_id):
        raise Missing("treatment")
    if standard is None or standard.framework_id != framework.id:
        raise Missing("standard")
    if not verdict.reason.strip():
        raise ValueError(
            f"Say why {standard.code} {'belongs' if verdict.accepted else 'does not belong'} to "
            f"“{treatment.title}”; the reason stands beside the alignment."
        )
    by, now = who
    row = _pair(session, Decision, school_id, (treatment_id, standard_id))
    if row is None:
        row = Decision(
            school_id=school_id,
            treatment_id=treatment_id,
            standard_id=standard_id,
            origin=verdict.origin,
            shown=verdict.shown,
        )
        session.add(row)
    row.accepted, row.reason = verdict.accepted, verdict.reason.strip()
    row.decided_by, row.decided_at = by, now
    _keep_alignment(session, row, verdict)
    session.flush()
    return row


def _pair(session: Session, table: type[Row], school_id: int, pair: tuple[int, int]) -> Row | None:
    return session.scalar(
        sa.select(table).where(
            table.school_id == school_id,
            table.treatment_id == pair[0],
            table.standard_id == pair[1],
        )
    )


def _keep_alignment(session: Session, decision: Decision, verdict: AlignmentVerdict) -> None:
    pair = (decision.treatment_id, decision.standard_id)
    row = _pair(session, Alignment, decision.school_id, pair)
    if not verdict.accepted:
        if row is not None:
            session.delete(row)
        return
    if row is None:
        row = Alignment(
            school_id=decision.school_id,
            treatment_id=decision.treatment_id,
            standard_id=decision.standard_id,
            practice=_is_practice(session, pair),
        )
        session.add(row)
    row.strength = "strong" if verdict.strength == "strong" else "partial"
    row.reason, row.condition = decision.reason, verdict.condition.strip()
    row.decided_by = decision.decided_by
    row.decided_on = decision.decided_at.date().isoformat()


def _is_practice(session: Session, pair: tuple[int, int]) -> bool:
    """Whether the treatment came with the standard as a practice beside content."""
    query = sa.select(Alignment.practice).where(
        Alignment.school_id.is_(None),
        Alignment.treatment_id == pair[0],
        Alignment.standard_id == pair[1],
    )
    return bool(session.scalar(query))


def accept_carried(
    session: Session,
    school_id: int,
    framework: Framework,
    band: str,
    reason: str,
    who: tuple[str, dt.datetime],
) -> int:
    """Accept every undecided suggestion that an exact match or the same code carries over.

    Raises ValueError with a sentence without a reason.
    """
    if not reason.strip():
        raise ValueError("Say why the alignments may be carried over; the reason stands by each.")
    count = 0
    for item in suggestions(session, school_id, framework, band):
        if item.carried is None or not item.exact:
            continue
        decide(
            session,
            school_id,
            framework,
            (item.treatment.id, item.standard.id),
            AlignmentVerdict(
                accepted=True,
                reason=f"{item.carried.reason} ({reason.strip()})",
                strength=item.strength,
                condition=item.carried.condition,
                origin=item.origin,
                shown=item.why,
            ),
            who,
        )
        count += 1
    return count


def band_words(band: str) -> str:
    """A grade band in words.

    Raises Missing for one there is not.
    """
    if band not in BANDS:
        raise Missing(f"grade band {band}")
    return BANDS[band]
