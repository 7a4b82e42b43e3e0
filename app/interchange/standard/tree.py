"""The hierarchy of an imported framework: parents, order, domain, and rings in it.

isChildOf leads from child to parent. An item may have several parents; the order under one is the
association's sequenceNumber, else the item's listEnumeration, else its place in the file.
"""

from collections import defaultdict
from typing import Any

from app.interchange.standard.draft import Draft, DraftItem, DraftLink, DraftProblem

LONGEST_DOMAIN = 120


def arrange(draft: Draft) -> list[DraftProblem]:
    """Order the items as the hierarchy has them; set parent (its identifier) and domain.

    Links that close a ring are dropped. Returns what is not sound.
    """
    by_identifier = {item.identifier: item for item in draft.items}
    known = {*by_identifier, draft.identifier}
    parents: dict[str, list[DraftLink]] = defaultdict(list)
    problems = []
    for link in draft.links:
        if link.kind != "isChildOf":
            continue
        if link.origin in by_identifier and link.destination in known:
            parents[link.origin].append(link)
        else:
            missing = link.origin if link.origin not in by_identifier else link.destination
            problems.append(
                DraftProblem(link.place, f"isChildOf names {missing}, which is not in this file")
            )
    rings = _ring_links(parents)
    for link in rings:
        parents[link.origin].remove(link)
        problems.append(
            DraftProblem(
                link.place, "closes a ring of parents, which no hierarchy has", left_out=True
            )
        )
    if rings:
        dropped = {id(link) for link in rings}
        draft.links = [link for link in draft.links if id(link) not in dropped]
    named = any(parents.values())
    problems += [
        DraftProblem(item.place, "has no parent in this file; listed at the end")
        for item in draft.items
        if named and not parents.get(item.identifier)
    ]
    _name_parents(draft, by_identifier, parents)
    draft.items = _ordered(draft, by_identifier, parents)
    return problems


def _ring_links(parents: dict[str, list[DraftLink]]) -> list[DraftLink]:
    """One link of each ring: the last that closes it."""
    state: dict[str, int] = {}
    closing = []
    for start in list(parents):
        if start in state:
            continue
        state[start] = 1
        walk = [(start, iter(parents[start]))]
        while walk:
            here, links = walk[-1]
            link = next(links, None)
            if link is None:
                state[here] = 2
                walk.pop()
            elif state.get(link.destination) == 1:
                closing.append(link)
            elif link.destination not in state:
                state[link.destination] = 1
                walk.append((link.destination, iter(parents.get(link.destination, ()))))
    return closing


def _name_parents(
    draft: Draft, items: dict[str, DraftItem], parents: dict[str, list[DraftLink]]
) -> None:
    top: dict[str, DraftItem] = {}
    for item in draft.items:
        path = []
        here = item
        while here.identifier not in top:
            path.append(here)
            above = next(
                (
                    items[x.destination]
                    for x in parents.get(here.identifier, ())
                    if x.destination in items
                ),
                None,
            )
            if above is None:
                top[here.identifier] = here
                break
            here.parent = above.identifier
            here = above
        for passed in path:
            top[passed.identifier] = top[here.identifier]
        root = top[item.identifier]
        if root is not item and not item.domain:
            item.domain = _short(root)


def _short(item: DraftItem) -> str:
    label = item.source.get("abbreviatedStatement")
    for text in (item.statement, label):
        if isinstance(text, str) and 0 < len(text) <= LONGEST_DOMAIN:
            return text.strip()
    return item.code


def _ordered(
    draft: Draft, items: dict[str, DraftItem], parents: dict[str, list[DraftLink]]
) -> list[DraftItem]:
    place = {item.identifier: number for number, item in enumerate(draft.items)}
    children: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    roots = []
    for item in draft.items:
        links = parents.get(item.identifier)
        if not links:
            roots.append(item.identifier)
        for link in links or ():
            order = _order(link, item, place[item.identifier])
            children[link.destination].append((*order, item.identifier))
    found: dict[str, DraftItem] = {}
    below = [entry[-1] for entry in sorted(children.get(draft.identifier, ()))]
    waiting = [*reversed(roots), *reversed(below)]
    while waiting:
        identifier = waiting.pop()
        if identifier not in found:
            found[identifier] = items[identifier]
            waiting += [entry[-1] for entry in sorted(children.get(identifier, ()), reverse=True)]
    return list(found.values())


def _order(link: DraftLink, item: DraftItem, place: int) -> tuple[int, float, str, int]:
    number = link.source.get("sequenceNumber")
    if isinstance(number, int | float):
        return (0, float(number), "", place)
    listed = item.source.get("listEnumeration")
    return (1, 0.0, listed if isinstance(listed, str) else "", place)
