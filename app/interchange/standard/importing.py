"""A framework into a school's own: first what would change, then all of it or nothing.

Standards are matched by identifier, so that a new file of the same framework keeps alignments,
required standards and reviews. What the new file no longer has is retired, never removed.
"""

import datetime as dt
import re
import secrets
import uuid
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.interchange.files import BadFile, Mistake
from app.interchange.standard.case import OURS
from app.interchange.standard.draft import (
    Draft,
    DraftAlignment,
    DraftItem,
    DraftProblem,
    name_items,
)
from app.models import (
    Alignment,
    Concept,
    Decision,
    Framework,
    RequiredStandard,
    Standard,
    StandardLink,
    Treatment,
)
from app.store import library

LONGEST_KEY = 40
NAMESPACE = uuid.UUID("6f0f1f0c-6a57-5b1e-9d55-4a3f4d1b0c11")
"""For identifiers of frameworks and standards whose file gives none."""
_SHOWN = {
    "code": "code",
    "statement": "statement",
    "grade_low": "grades",
    "grade_high": "grades",
    "domain": "domain",
    "subject": "subject",
    "parent": "parent",
    "aliases": "other spellings",
    "item_type": "kind",
    "uri": "address",
    "retired": "in force or retired",
    "source": "other fields",
}


@dataclass(frozen=True, slots=True)
class ChangedItem:
    """A standard that differs: what differs, and its statement as it was."""

    id: int
    item: DraftItem
    what: tuple[str, ...]
    statement_before: str
    uses: int


@dataclass(frozen=True, slots=True)
class Retired:
    """A standard that the file no longer has; `uses` counts alignments and requirements."""

    id: int
    code: str
    code_after: str
    uses: int


@dataclass(slots=True)
class Preview:
    """What an import will do. `framework` is None where it is new."""

    framework: Framework | None
    key: str
    draft: Draft
    added: list[DraftItem] = field(default_factory=list)
    changed: list[ChangedItem] = field(default_factory=list)
    retired: list[Retired] = field(default_factory=list)
    unchanged: int = 0
    positions: list[dict[str, int]] = field(default_factory=list)
    links_added: int = 0
    links_removed: int = 0
    aligned: list[tuple[DraftAlignment, int]] = field(default_factory=list)
    problems: list[DraftProblem] = field(default_factory=list)

    @property
    def left_out(self) -> list[DraftProblem]:
        """Parts of the file that are not imported."""
        return [problem for problem in self.problems if problem.left_out]

    @property
    def noted(self) -> list[DraftProblem]:
        """What is imported although it is not quite sound."""
        return [problem for problem in self.problems if not problem.left_out]

    @property
    def is_empty(self) -> bool:
        """Whether the school already has exactly this."""
        differs = self.added or self.changed or self.retired or self.aligned
        return self.framework is not None and not (
            differs or self.links_added or self.links_removed
        )


def preview(session: Session, school_id: int, draft: Draft, key: str | None = None) -> Preview:
    """Compare a file with what the school has. Changes nothing.

    Raises BadFile where the key belongs to another framework.
    """
    framework = session.scalar(
        sa.select(Framework).where(
            Framework.school_id == school_id, Framework.identifier == draft.identifier
        )
    )
    wanted = framework.key if framework is not None else key or slug(draft.title)
    if framework is None or (key and key != framework.key):
        wanted = _free_key(session, school_id, key or wanted, given=bool(key))
    found = Preview(framework, wanted, draft, problems=list(draft.problems))
    rows = _rows(session, framework)
    found.problems += name_items(draft.items, {row.identifier: row.code for row in rows.values()})
    _compare(session, found, rows)
    _compare_links(session, found)
    _find_treatments(session, school_id, found)
    return found


def slug(title: str) -> str:
    """A key made of a title."""
    plain = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    if len(plain) > LONGEST_KEY:
        plain = plain[:LONGEST_KEY].rpartition("-")[0] or plain[:LONGEST_KEY]
    return plain or "framework"


def _free_key(session: Session, school_id: int, key: str, *, given: bool) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.-]*", key):
        sentence = f"“{key}” is no key; use letters, digits, hyphens and dots"
        raise BadFile([Mistake("key", "", sentence)])
    taken = set(
        session.scalars(
            sa.select(Framework.key).where(library.shared_or_own(Framework.school_id, school_id))
        )
    )
    if given and key in taken:
        raise BadFile([Mistake("key", "", f"{key} is another framework's key; choose a new one")])
    return free_key(key, taken)


def free_key(key: str, taken: set[str]) -> str:
    """`key`, or with the first free number after it."""
    number, free = 1, key
    while free in taken:
        number += 1
        free = f"{key}-{number}"
    return free


_COLUMNS = (
    Standard.id,
    Standard.identifier,
    Standard.position,
    *(getattr(Standard, name) for name in _SHOWN),
)


def _rows(session: Session, framework: Framework | None) -> dict[str, Any]:
    if framework is None:
        return {}
    query = sa.select(*_COLUMNS).where(Standard.framework_id == framework.id)
    return {row.identifier: row for row in session.execute(query)}


def _values(item: DraftItem, handles: dict[str, str]) -> dict[str, Any]:
    return {
        "code": item.handle,
        "statement": item.statement,
        "grade_low": item.grade_low,
        "grade_high": item.grade_high,
        "domain": item.domain,
        "subject": item.subject,
        "parent": handles.get(item.parent, item.parent_code),
        "aliases": item.aliases,
        "item_type": item.item_type,
        "uri": item.uri,
        "retired": item.retired,
        "source": item.source,
    }


def _compare(session: Session, found: Preview, rows: dict[str, Any]) -> None:
    items = found.draft.items
    handles = {item.identifier: item.handle for item in items}
    changed: list[tuple[Any, DraftItem, tuple[str, ...]]] = []
    for position, item in enumerate(items):
        row = rows.get(item.identifier)
        if row is None:
            found.added.append(item)
            continue
        if row.position != position:
            found.positions.append({"id": row.id, "position": position})
        values = _values(item, handles)
        what = tuple(
            dict.fromkeys(
                words
                for name, words in _SHOWN.items()
                if getattr(row, name) != values[name]
                and not (name == "source" and _same_fields(row.source, item))
            )
        )
        if what:
            changed.append((row, item, what))
        else:
            found.unchanged += 1
    gone = [row for key, row in rows.items() if key not in handles]
    ids = [row.id for row, _, _ in changed] + [row.id for row in gone]
    uses = _uses(session, ids)
    found.changed = [
        ChangedItem(row.id, item, what, row.statement, uses[row.id]) for row, item, what in changed
    ]
    codes = set(handles.values())
    for row in gone:
        moved = f"{row.code} [{row.identifier[:13]}]" if row.code in codes else row.code
        if not row.retired or moved != row.code:
            found.retired.append(Retired(row.id, row.code, moved, uses[row.id]))
        else:
            found.unchanged += 1


def _same_fields(stored: dict[str, Any] | None, item: DraftItem) -> bool:
    """Whether a file says of an item what an earlier one said, in whatever form.

    A package of CASE 1.1 names no document beside each item, leaves out what is null, and has an
    address and a date even for items that came without; what we add ourselves is compared apart.
    """
    before, after = _told(stored or {}, item.identifier), _told(item.source, item.identifier)
    if "lastChangeDateTime" not in before:
        after.pop("lastChangeDateTime", None)
    return before == after


def _told(source: dict[str, Any], identifier: str) -> dict[str, Any]:
    told = {k: v for k, v in source.items() if v is not None and k != "CFDocumentURI"}
    if told.get("uri") == f"urn:uuid:{identifier}":
        del told["uri"]
    if isinstance(told.get("educationLevel"), str):
        told["educationLevel"] = [told["educationLevel"]]
    if isinstance(told.get("extensions"), dict):
        told["extensions"] = {k: v for k, v in told["extensions"].items() if k != OURS}
        if not told["extensions"]:
            del told["extensions"]
    return told


def _uses(session: Session, ids: list[int]) -> Counter[int]:
    counts: Counter[int] = Counter()
    for start in range(0, len(ids), 5000):
        part = ids[start : start + 5000]
        for table in (Alignment, RequiredStandard):
            query = (
                sa.select(table.standard_id, sa.func.count())
                .where(table.standard_id.in_(part))
                .group_by(table.standard_id)
            )
            counts.update({row[0]: row[1] for row in session.execute(query)})
    return counts


def _compare_links(session: Session, found: Preview) -> None:
    if found.framework is None:
        found.links_added = len(found.draft.links)
        return
    query = sa.select(StandardLink.kind, StandardLink.origin, StandardLink.destination).where(
        StandardLink.framework_id == found.framework.id
    )
    before = {(kind, origin, end) for kind, origin, end in session.execute(query)}
    after = {(link.kind, link.origin, link.destination) for link in found.draft.links}
    found.links_added = len(after - before)
    found.links_removed = len(before - after)


def _find_treatments(session: Session, school_id: int, found: Preview) -> None:
    """Alignments that the file brings: to which of this school's treatments they belong."""
    if not found.draft.alignments:
        return
    query = (
        sa.select(Concept.key, Treatment.band, Treatment.id)
        .join(Treatment.concept)
        .where(library.shared_or_own(Treatment.school_id, school_id))
        .order_by(Treatment.school_id.is_not(None))
    )
    known = {(key, band): number for key, band, number in session.execute(query)}
    items = {item.identifier for item in found.draft.items}
    for aligned in found.draft.alignments:
        treatment = known.get((aligned.concept, aligned.band))
        if treatment is None or aligned.standard not in items:
            name = f"{aligned.concept}, {aligned.band}"
            found.problems.append(
                DraftProblem(name, "is aligned in the file and not found here", left_out=True)
            )
        elif not _is_aligned(session, school_id, treatment, found.framework, aligned.standard):
            found.aligned.append((aligned, treatment))


def _is_aligned(
    session: Session, school_id: int, treatment: int, framework: Framework | None, standard: str
) -> bool:
    if framework is None:
        return False
    query = (
        sa.select(Decision.id)
        .join(Standard, Decision.standard_id == Standard.id)
        .where(
            Decision.school_id == school_id,
            Decision.treatment_id == treatment,
            Standard.framework_id == framework.id,
            Standard.identifier == standard,
        )
    )
    return session.scalar(query) is not None


# --- doing it ------------------------------------------------------------------------------------


def apply(session: Session, school_id: int, found: Preview, by: str, now: dt.datetime) -> Framework:
    """Do what the preview says, in the caller's transaction; the caller commits."""
    framework = _save_framework(session, school_id, found, by, now)
    handles = {item.identifier: item.handle for item in found.draft.items}
    _change(session, found, handles)
    if found.added:
        place = {item.identifier: number for number, item in enumerate(found.draft.items)}
        session.execute(
            sa.insert(Standard),
            [
                {
                    "framework_id": framework.id,
                    "position": place[item.identifier],
                    "identifier": item.identifier,
                    "note": "",
                    **_values(item, handles),
                }
                for item in found.added
            ],
        )
    _save_links(session, framework, found)
    _save_alignments(session, school_id, framework, found, now)
    framework.revision = secrets.token_hex(8)
    session.flush()
    session.expire(framework, ["standards"])
    return framework


def _save_framework(
    session: Session, school_id: int, found: Preview, by: str, now: dt.datetime
) -> Framework:
    draft = found.draft
    framework = found.framework
    if framework is None:
        framework = Framework(school_id=school_id, identifier=draft.identifier)
        session.add(framework)
    framework.key = found.key
    for name in ("title", "publisher", "version", "notice", "uri", "source"):
        setattr(framework, name, getattr(draft, name))
    framework.imported_by, framework.imported_at = by, now
    session.flush()
    return framework


def _change(session: Session, found: Preview, handles: dict[str, str]) -> None:
    # Codes may change places among themselves: first out of the way, then to where they belong.
    moved = [item.id for item in found.changed if "code" in item.what]
    moved += [item.id for item in found.retired if item.code_after != item.code]
    if moved:
        session.execute(sa.update(Standard), [{"id": row, "code": f"~{row}"} for row in moved])
    if found.retired:
        session.execute(
            sa.update(Standard),
            [{"id": row.id, "retired": True, "code": row.code_after} for row in found.retired],
        )
    if found.changed:
        session.execute(
            sa.update(Standard),
            [{"id": row.id, **_values(row.item, handles)} for row in found.changed],
        )
    if found.positions:
        session.execute(sa.update(Standard), found.positions)


def _save_links(session: Session, framework: Framework, found: Preview) -> None:
    if found.framework is not None:
        session.execute(
            sa.delete(StandardLink)
            .where(StandardLink.framework_id == framework.id)
            .execution_options(synchronize_session=False)
        )
    if found.draft.links:
        session.execute(
            sa.insert(StandardLink),
            [
                {
                    "framework_id": framework.id,
                    "position": position,
                    "identifier": link.identifier,
                    "kind": link.kind,
                    "origin": link.origin,
                    "destination": link.destination,
                    "source": link.source,
                }
                for position, link in enumerate(found.draft.links)
            ],
        )


def _save_alignments(
    session: Session, school_id: int, framework: Framework, found: Preview, now: dt.datetime
) -> None:
    wanted = {aligned.standard for aligned, _ in found.aligned}
    query = sa.select(Standard.identifier, Standard.id).where(
        Standard.framework_id == framework.id, Standard.identifier.in_(wanted)
    )
    ids = {row[0]: row[1] for row in session.execute(query)} if wanted else {}
    for aligned, treatment in found.aligned:
        session.add(
            Alignment(
                school_id=school_id,
                treatment_id=treatment,
                standard_id=ids[aligned.standard],
                strength=aligned.strength,
                reason=aligned.reason,
                condition=aligned.condition,
                practice=aligned.practice,
                decided_by=aligned.decided_by or framework.imported_by,
                decided_on=aligned.decided_on or now.date().isoformat(),
            )
        )
        session.add(
            Decision(
                school_id=school_id,
                treatment_id=treatment,
                standard_id=ids[aligned.standard],
                accepted=True,
                origin="file",
                shown="It came with the imported file.",
                reason=aligned.reason,
                decided_by=aligned.decided_by or framework.imported_by,
                decided_at=now,
            )
        )


def counts(found: Preview) -> dict[str, Any]:
    """The preview in plain values, as the command line prints it."""
    return {
        "framework": found.key,
        "title": found.draft.title,
        "new": found.framework is None,
        "added": len(found.added),
        "changed": len(found.changed),
        "retired": len(found.retired),
        "unchanged": found.unchanged,
        "associations_added": found.links_added,
        "associations_removed": found.links_removed,
        "alignments_added": len(found.aligned),
        "left_out": _listed(found.left_out),
        "noted": _listed(found.noted),
    }


def _listed(problems: Iterable[DraftProblem]) -> list[dict[str, str]]:
    return [{"place": p.place, "problem": p.sentence} for p in problems]
