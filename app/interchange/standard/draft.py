"""A framework as read from a file, before anything is stored: items, links and what is wrong.

Every reader (CASE, CSV, pasted lines) ends here; preview and import start here.
"""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, TypeGuard

from app.domain.bands import BANDS, grade_number

KINDERGARTEN, COLLEGE = "K", "college"
HIGHEST_SCHOOL_GRADE = 12
# CEDS entry grade levels below and above the numbered grades, and words seen in their place.
_NAMED = {
    **dict.fromkeys(("IT", "PR", "PK", "TK", "KG", "K", "KINDERGARTEN"), (KINDERGARTEN,) * 2),
    **dict.fromkeys(("13", "PS", "UG", "COLLEGE"), (COLLEGE,) * 2),
    "ES": (KINDERGARTEN, "5"),
    "MS": ("6", "8"),
    "HS": ("9", "12"),
}
_RANGE = re.compile(r"^(?:GRADES?\s*)?(K|KG|\d{1,2})\s*(?:-|–|TO)\s*(\d{1,2})$")
_ONE = re.compile(r"^(?:GRADE\s*)?0?(\d{1,2})$")


@dataclass(frozen=True, slots=True)
class DraftProblem:
    """What is not sound in a file, where, and whether that part is left out of the import."""

    place: str
    sentence: str
    left_out: bool = False

    def __str__(self) -> str:
        return f"{self.place}: {self.sentence}"


@dataclass(slots=True)
class DraftItem:
    """One standard of the file. `code` is official or ""; `handle` names it in the framework.

    `parent` is an identifier in the file, `parent_code` a code that need not be there.
    """

    identifier: str
    code: str
    statement: str
    place: str
    uri: str = ""
    item_type: str = ""
    subject: str = ""
    domain: str = ""
    parent: str = ""
    grade_low: str = KINDERGARTEN
    grade_high: str = COLLEGE
    retired: bool = False
    handle: str = ""
    aliases: list[str] = field(default_factory=list)
    parent_code: str = ""
    source: dict[str, Any] = field(default_factory=dict)


@dataclass(slots=True)
class DraftLink:
    """An association: `origin` and `destination` are identifiers as the file has them."""

    identifier: str
    kind: str
    origin: str
    destination: str
    place: str
    source: dict[str, Any]


@dataclass(slots=True)
class DraftAlignment:
    """A treatment, by concept and grade band, aligned to an item: our own export come back."""

    concept: str
    band: str
    standard: str
    strength: str
    reason: str
    condition: str
    practice: bool
    decided_by: str
    decided_on: str


@dataclass(slots=True)
class Draft:
    """A framework of a file, sound parts and problems apart."""

    identifier: str
    title: str
    publisher: str = ""
    version: str = ""
    notice: str = ""
    uri: str = ""
    source: dict[str, Any] = field(default_factory=dict)
    items: list[DraftItem] = field(default_factory=list)
    links: list[DraftLink] = field(default_factory=list)
    alignments: list[DraftAlignment] = field(default_factory=list)
    problems: list[DraftProblem] = field(default_factory=list)


def grades_of(levels: Iterable[str]) -> tuple[str, str, list[str]]:
    """Lowest and highest grade, and the levels that say no grade.

    Without any readable level a standard is offered at every grade, K to college.
    """
    found: list[str] = []
    unread: list[str] = []
    for level in levels:
        pair = _grades(level)
        if pair is None:
            unread.append(level)
        else:
            found += pair
    if not found:
        return KINDERGARTEN, COLLEGE, unread
    return min(found, key=grade_number), max(found, key=grade_number), unread


def _grades(level: str) -> tuple[str, str] | None:
    plain = level.strip().upper()
    if plain in _NAMED:
        return _NAMED[plain]
    one = _ONE.match(plain)
    if one and 1 <= int(one[1]) <= HIGHEST_SCHOOL_GRADE:
        return str(int(one[1])), str(int(one[1]))
    span = _RANGE.match(plain)
    if span and 1 <= int(span[2]) <= HIGHEST_SCHOOL_GRADE:
        high = int(span[2])
        if span[1].startswith("K"):
            return KINDERGARTEN, str(high)
        if 1 <= int(span[1]) <= high:
            return str(int(span[1])), str(high)
    return None


def name_items(items: list[DraftItem], holders: dict[str, str]) -> list[DraftProblem]:
    """Give each item the code it is known by: its own, or one made of its identifier.

    `holders` maps identifiers to the handles of an earlier import: who has a code keeps it.
    """
    problems = []
    wanted = Counter(item.code for item in items if item.code)
    kept = {holders[i.identifier] for i in items if i.code and holders.get(i.identifier) == i.code}
    taken: set[str] = set()
    for item in items:
        stays = holders.get(item.identifier) == item.code
        free = item.code and item.code not in taken and (stays or item.code not in kept)
        if free:
            item.handle = item.code
        else:
            item.handle = _made(item, taken)
            if item.code:
                problems.append(
                    DraftProblem(
                        item.place,
                        f"the code {item.code} stands {wanted[item.code]} times in this framework; "
                        f"this one is listed as {item.handle}",
                    )
                )
        taken.add(item.handle)
    return problems


def _made(item: DraftItem, taken: set[str]) -> str:
    """Like "EX.6.1 [edde2179]", or "[edde2179]" where there is no code; longer until unique."""
    for length in range(8, max(9, len(item.identifier) + 1), 4):
        name = f"{item.code} [{item.identifier[:length]}]".strip()
        if name not in taken:
            return name
    return f"{item.code} [{item.identifier}]".strip()


def is_text(value: Any) -> TypeGuard[str]:
    """Whether a value is text that every database keeps: no NUL, no half of a letter."""
    if not isinstance(value, str):
        return False
    if value.isascii():
        return "\x00" not in value
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return "\x00" not in value


def is_band(text: str) -> bool:
    """Whether a text names a grade band."""
    return text in BANDS
