"""Reading 1EdTech CASE 1.0 and 1.1 packages, bare or wrapped, as they occur in the wild.

Nothing but the shape is required: codes, grades and types are optional, identifiers need not be
UUIDs, ends of associations may lie anywhere. What is sound is read; what is not is listed with
its place. Statements are never changed.
"""

import datetime as dt
import json
import math
from collections.abc import Iterable, Iterator
from typing import Any

from app.interchange.files import BadFile, Mistake
from app.interchange.standard.draft import (
    Draft,
    DraftAlignment,
    DraftItem,
    DraftLink,
    DraftProblem,
    grades_of,
    is_band,
    is_text,
)
from app.interchange.standard.tree import arrange

ASSOCIATION_TYPES = (
    "isChildOf",
    "isPeerOf",
    "isPartOf",
    "exactMatchOf",
    "precedes",
    "isRelatedTo",
    "replacedBy",
    "exemplar",
    "hasSkillLevel",
    "isTranslationOf",
)
EXTENSION = "ext:"
TREATMENT = "ext:treatment"
"""Target type of a node that is a treatment of this program's library."""
OURS = "stringcourse"
"""Name of our own entry in an extensions object."""
_SHORTEST_DAY = len("2020-06-30")


def read_case(raw: bytes, name: str, today: dt.date) -> Draft:
    """The framework of a CASE package.

    Raises BadFile where the file is no CASE package at all.
    """
    package = _package(_json(raw, name), name)
    document = package["CFDocument"]
    draft = Draft(
        identifier=_text(document, "identifier") or _text(document, "uri"),
        title=_text(document, "title") or name,
        publisher=_text(document, "publisher") or _creator(document),
        version=_text(document, "version"),
        notice=_notice(document, package),
        uri=_text(document, "officialSourceURL") or _address(document),
        source={
            "document": document,
            **{key: package[key] for key in _KEPT if package.get(key)},
        },
    )
    if not draft.identifier:
        draft.problems.append(
            DraftProblem(
                "CFDocument",
                "has no identifier; a later file is matched by its title instead",
            )
        )
        draft.identifier = draft.title
    retired = _text(document, "adoptionStatus").lower() == "deprecated"
    draft.items = list(_items(package.get("CFItems"), draft.problems, today, retired=retired))
    if not draft.items:
        raise _refusal(name, "has no item that can be read: " + _first(draft.problems))
    _links(package.get("CFAssociations"), draft)
    draft.problems += arrange(draft)
    return draft


_KEPT = ("CFDefinitions", "CFRubrics", "extensions")


# --- the file ------------------------------------------------------------------------------------


def _json(raw: bytes, name: str) -> Any:
    try:
        return json.loads(
            raw.decode("utf-8-sig"), parse_constant=_no_number, parse_float=_finite_number
        )
    except UnicodeDecodeError as error:
        raise _refusal(name, "is not UTF-8 text; save it as UTF-8") from error
    except RecursionError as error:
        raise _refusal(name, "is nested too deeply to be a CASE package") from error
    except ValueError as error:
        raise _refusal(name, f"is not JSON: {error}") from error


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _finite_number(text: str) -> float:
    number = float(text)
    return number if math.isfinite(number) else _no_number(text)


def _package(data: Any, name: str) -> dict[str, Any]:
    if isinstance(data, dict) and "CFDocument" not in data:
        data = data.get("CFPackage", data)
    if not isinstance(data, dict) or not isinstance(data.get("CFDocument"), dict):
        what = "is a list of documents" if _is_listing(data) else "has no CFDocument"
        raise _refusal(name, f"{what} and so is no CASE package; export one framework (CFPackage)")
    for key in ("CFItems", "CFAssociations"):
        if not isinstance(data.get(key) or [], list):
            raise _refusal(name, f"{key} must be a list")
    return data


def _is_listing(data: Any) -> bool:
    return isinstance(data, dict) and "CFDocuments" in data


def _refusal(name: str, sentence: str) -> BadFile:
    return BadFile([Mistake(name, "", sentence)])


def _first(problems: list[DraftProblem]) -> str:
    return str(problems[0]) if problems else "CFItems is empty"


def _text(entry: dict[str, Any], key: str) -> str:
    value = entry.get(key)
    return value if is_text(value) else ""


def _notice(document: dict[str, Any], package: dict[str, Any]) -> str:
    """The licence as the file states it, else what the document's notes say."""
    link = document.get("licenseURI")
    definitions = package.get("CFDefinitions")
    licences = definitions.get("CFLicenses") if isinstance(definitions, dict) else None
    known = {_text(item, "identifier"): item for item in licences or [] if isinstance(item, dict)}
    if isinstance(link, dict):
        licence = known.get(_text(link, "identifier"), {})
        parts = (
            _text(licence, "title") or _text(link, "title"),
            _text(licence, "licenseText"),
            _text(link, "uri"),
        )
        return " ".join(part for part in parts if part)
    return " ".join(_text(item, "licenseText") for item in known.values()).strip()


# --- items ---------------------------------------------------------------------------------------


def _items(
    entries: Any, problems: list[DraftProblem], today: dt.date, *, retired: bool
) -> Iterator[DraftItem]:
    seen: dict[str, dict[str, Any]] = {}
    for number, entry in enumerate(entries or ()):
        place = f"CFItems[{number}]"
        wrong = _wrong_item(entry)
        if wrong:
            problems.append(DraftProblem(place, wrong, left_out=True))
            continue
        identifier = entry["identifier"]
        if identifier in seen:
            same = seen[identifier] == entry
            problems.append(
                DraftProblem(
                    place,
                    f"the identifier {identifier} stands twice, "
                    + ("with the same content" if same else "here with other content")
                    + "; the first is kept",
                    left_out=True,
                )
            )
            continue
        seen[identifier] = entry
        yield _item(entry, place, problems, today, retired=retired)


def _wrong_item(entry: Any) -> str:
    """Why an item cannot be imported, or ""."""
    if not isinstance(entry, dict):
        return "is no item but another kind of value"
    if not entry.get("identifier"):
        code = _text(entry, "humanCodingScheme")
        return f"{'item ' + code if code else 'the item'} has no identifier"
    for key in ("identifier", "fullStatement", "humanCodingScheme", "uri"):
        value = entry.get(key)
        if value is not None and not is_text(value):
            return f"{key} is no text, or has a character that cannot be kept"
    if not entry.get("fullStatement") and not _text(entry, "humanCodingScheme").strip():
        return "has neither a statement nor a code"
    return ""


def _item(
    entry: dict[str, Any],
    place: str,
    problems: list[DraftProblem],
    today: dt.date,
    *,
    retired: bool,
) -> DraftItem:
    levels = entry.get("educationLevel")
    if isinstance(levels, str):
        problems.append(
            DraftProblem(place, "educationLevel is one text where a list belongs; read so")
        )
        levels = [levels]
    low, high, unread = grades_of(level for level in _list(levels) if isinstance(level, str))
    problems += [
        DraftProblem(place, f"the education level “{level}” names no grade") for level in unread
    ]
    statement = entry.get("fullStatement") or ""
    ours = _ours(entry)
    if not statement:
        problems.append(DraftProblem(place, "has a code and no statement"))
    subject = next((s for s in _list(entry.get("subject")) if is_text(s)), "")
    return DraftItem(
        identifier=entry["identifier"],
        code=" ".join(_text(entry, "humanCodingScheme").split()),
        statement="" if ours.get("codeOnly") is True else statement,
        place=place,
        uri=_address(entry),
        item_type=_text(entry, "CFItemType"),
        subject=subject,
        grade_low=low,
        grade_high=high,
        domain=_text(ours, "domain"),
        aliases=[alias for alias in _list(ours.get("aliases")) if is_text(alias)],
        parent_code=_text(ours, "parent"),
        retired=retired or _has_ended(entry, today) or ours.get("retired") is True,
        source={key: value for key, value in entry.items() if key != "fullStatement"},
    )


def _address(entry: dict[str, Any]) -> str:
    """Where the file says it is; a name made of the identifier is no address."""
    uri = _text(entry, "uri")
    return "" if uri == f"urn:uuid:{_text(entry, 'identifier')}" else uri


def _creator(document: dict[str, Any]) -> str:
    """Who made it; CASE wants a creator, so a package without one repeats the title."""
    creator = _text(document, "creator")
    return "" if creator == _text(document, "title") else creator


def _ours(entry: dict[str, Any]) -> dict[str, Any]:
    """What this program itself wrote beside the standard fields, if it did."""
    extensions = entry.get("extensions")
    mine = extensions.get(OURS) if isinstance(extensions, dict) else None
    return mine if isinstance(mine, dict) else {}


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _has_ended(entry: dict[str, Any], today: dt.date) -> bool:
    end = _text(entry, "statusEndDate")[:_SHORTEST_DAY]
    try:
        return dt.date.fromisoformat(end) < today
    except ValueError:
        return False


# --- associations --------------------------------------------------------------------------------


def _links(entries: Any, draft: Draft) -> None:
    identifiers: set[str] = set()
    relations: set[tuple[str, str, str]] = set()
    for number, entry in enumerate(entries or ()):
        place = f"CFAssociations[{number}]"
        link = _link(entry, place)
        if isinstance(link, str):
            draft.problems.append(DraftProblem(place, link, left_out=True))
            continue
        relation = (link.kind, link.origin, link.destination)
        wrong = ""
        if relation in relations:
            wrong = f"{link.kind} between the same two ends stands twice; the first is kept"
        elif link.identifier in identifiers:
            wrong = f"the identifier {link.identifier} stands twice; the first is kept"
        if wrong:
            draft.problems.append(DraftProblem(place, wrong, left_out=True))
            continue
        relations.add(relation)
        identifiers.add(link.identifier)
        aligned = _alignment(entry)
        if aligned is None:
            draft.links.append(link)
        else:
            draft.alignments.append(aligned)


def _link(entry: Any, place: str) -> DraftLink | str:
    """The association, or why it is left out."""
    if not isinstance(entry, dict):
        return "is no association but another kind of value"
    kind = entry.get("associationType")
    if kind not in ASSOCIATION_TYPES and not (is_text(kind) and kind.startswith(EXTENSION)):
        return f"“{kind}” is no association type"
    ends = [_end(entry.get(key)) for key in ("originNodeURI", "destinationNodeURI")]
    if not all(ends):
        return f"{kind} has an end without an identifier"
    if ends[0] == ends[1]:
        return f"{kind} leads from {ends[0]} to itself"
    identifier = _text(entry, "identifier") or _text(entry, "uri") or place
    return DraftLink(identifier, kind, ends[0], ends[1], place, entry)


def _end(node: Any) -> str:
    if not isinstance(node, dict):
        return ""
    return _text(node, "identifier") or _text(node, "uri")


def _alignment(entry: dict[str, Any]) -> DraftAlignment | None:
    node = entry["originNodeURI"]
    ours = _ours(entry)
    if node.get("targetType") != TREATMENT or not ours:
        return None
    concept, _, band = _text(node, "uri").removeprefix("urn:stringcourse:treatment:").partition(":")
    if not concept or not is_band(band):
        return None
    return DraftAlignment(
        concept=concept,
        band=band,
        standard=_end(entry["destinationNodeURI"]),
        strength="strong" if ours.get("strength") == "strong" else "partial",
        reason=_text(ours, "reason"),
        condition=_text(ours, "condition"),
        practice=ours.get("practice") is True,
        decided_by=_text(ours, "decidedBy"),
        decided_on=_text(ours, "decidedOn"),
    )


def places(problems: Iterable[DraftProblem]) -> tuple[list[DraftProblem], list[DraftProblem]]:
    """Problems whose part is left out, and those that are only noted."""
    listed = list(problems)
    return [p for p in listed if p.left_out], [p for p in listed if not p.left_out]
