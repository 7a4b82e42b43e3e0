"""What an approval of a section's coverage holds, and what is different since.

A snapshot is plain values, kept as they were; nothing approved changes silently.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.domain.dates import long_date
from app.domain.standard.depth import Depth, Required, SectionCoverage, StandardCoverage

IN_FULL = "in full"
_RANK = {None: 0, "planned": 1, "taught": 2}


@dataclass(frozen=True, slots=True)
class ApprovalDifference:
    """One thing that is not as it was approved; `worse` if something fell back."""

    standard: str
    worse: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Basis:
    """What coverage rests on: the plan, the build, and which lesson counts for which standard.

    `lessons` has, by standard, the title of each aligned treatment and how far it counts.
    """

    plan: Mapping[str, Any] | None
    build: Mapping[str, str]
    lessons: Mapping[str, Mapping[str, str]]


def snapshot(
    coverage: SectionCoverage, required: Sequence[Required], basis: Basis
) -> dict[str, Any]:
    """Coverage as it stands: depth and state of each standard, requirements, gaps, its basis."""
    return {
        "plan": dict(basis.plan) if basis.plan is not None else None,
        "build": dict(basis.build),
        "lessons": {code: dict(lessons) for code, lessons in basis.lessons.items()},
        "required": {
            item.standard: {
                "by": item.by.isoformat() if item.by else None,
                "priority": item.priority,
            }
            for item in required
        },
        "standards": {code: _depths(item) for code, item in coverage.standards.items()},
        "gaps": [gap.sentence for gap in coverage.gaps],
    }


def _depths(item: StandardCoverage) -> dict[str, Any]:
    found = {}
    for depth in Depth:
        reached = item.depths[depth]
        found[depth.value] = [reached.state.value if reached.state else None, reached.partial]
    return found


def differences(
    approved: Mapping[str, Any], now: Mapping[str, Any]
) -> tuple[ApprovalDifference, ...]:
    """What differs between two snapshots, what fell back first. Order: worse, then by standard."""
    found = [
        *_plan(approved.get("plan"), now.get("plan")),
        *_build(approved.get("build"), now["build"]),
        *_lessons(approved, now),
        *_required(approved.get("required", {}), now["required"]),
        *_standards(approved.get("standards", {}), now["standards"]),
    ]
    return tuple(sorted(found, key=lambda item: (not item.worse, item.standard, item.sentence)))


def _plan(before: Any, after: Any) -> Iterator[ApprovalDifference]:
    old, new = (plan["number"] if plan else None for plan in (before, after))
    if old != new:
        reason = f" ({after['reason']}, {after['made']})" if after else ""
        yield ApprovalDifference(
            "", worse=after is None, sentence=f"The plan is another one{reason}."
        )


def _build(
    before: Mapping[str, str] | None, after: Mapping[str, str]
) -> Iterator[ApprovalDifference]:
    # An approval without build and lessons says nothing of them.
    if before is not None and before != after:
        now = f"{after['title']}, version {after['version']}"
        was = f"{before['title']}, version {before['version']}"
        yield ApprovalDifference(
            "", worse=False, sentence=f"The build is {now}; approved was {was}."
        )


def _lessons(approved: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[ApprovalDifference]:
    if "lessons" not in approved:
        return
    # Of standards that the section neither met nor meets, nothing was approved.
    for code in sorted({*approved["standards"], *now["standards"]}):
        old, new = (found["lessons"].get(code, {}) for found in (approved, now))
        for title in sorted({*old, *new}):
            was, is_now = old.get(title), new.get(title)
            if is_now is None:
                says = "no longer counts for it"
            elif was is None:
                says = f"counts for it since, {is_now}"
            else:
                says = f"counts for it {is_now} now, {was} when approved"
            if was != is_now:
                worse = is_now is None or (was == IN_FULL and is_now != IN_FULL)
                yield ApprovalDifference(code, worse=worse, sentence=f"{code}: “{title}” {says}.")


def _required(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[ApprovalDifference]:
    for code in sorted({*before, *after}):
        if code not in after:
            yield ApprovalDifference(code, worse=True, sentence=f"{code} is no longer required.")
        elif code not in before:
            yield ApprovalDifference(code, worse=False, sentence=f"{code} is required since.")
        else:
            if before[code]["by"] != after[code]["by"]:
                by = _day(after[code]["by"])
                yield ApprovalDifference(
                    code, worse=False, sentence=f"{code} is now required by {by}."
                )
            if before[code]["priority"] != after[code]["priority"]:
                has = (
                    "has priority since" if after[code]["priority"] else "has no priority any more"
                )
                yield ApprovalDifference(code, worse=False, sentence=f"{code} {has}.")


def _day(given: str | None) -> str:
    return long_date(date.fromisoformat(given)) if given else "the end of term"


def _standards(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[ApprovalDifference]:
    nothing = {depth.value: [None, False] for depth in Depth}
    for code in sorted({*before, *after}):
        old, new = before.get(code, nothing), after.get(code, nothing)
        for depth in Depth:
            was, now_is = old[depth.value], new[depth.value]
            if was == now_is:
                continue
            worse = _RANK[now_is[0]] < _RANK[was[0]] or (now_is[1] and not was[1] and was[0])
            sentence = f"{code}, {depth}: {_words(was)} when approved, {_words(now_is)} now."
            yield ApprovalDifference(code, worse=bool(worse), sentence=sentence)


def _words(reached: Sequence[Any]) -> str:
    state, partial = reached
    return f"{state or 'nothing'}{' in part' if partial and state else ''}"
