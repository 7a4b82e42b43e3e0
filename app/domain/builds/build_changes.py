"""What changes from one version of a build to another, in sentences.

Builds come as plain values in the shape of a library file: tables as mappings, lists as lists.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from app.domain.cautions import HAZARD, SUPERVISION

Plain = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class StepChange:
    """What became of one step; `sentences` say it."""

    key: str
    title: str
    what: Literal["added", "dropped", "changed"]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BuildChanges:
    """Everything that differs between two versions."""

    build: tuple[str, ...]
    steps: tuple[StepChange, ...]

    def __bool__(self) -> bool:
        return bool(self.build or self.steps)

    @property
    def sentences(self) -> list[str]:
        """All of it, one sentence after another."""
        return [
            *self.build,
            *(f"{step.key}: {sentence}" for step in self.steps for sentence in step.sentences),
        ]


def compare(old: Plain, new: Plain) -> BuildChanges:
    """What one must know before moving from `old` to `new`. The version label is no change."""
    before, after = _steps(old), _steps(new)
    steps = [
        StepChange(key, step["title"], "dropped", (f"“{step['title']}” is dropped.",))
        for key, (_, step) in before.items()
        if key not in after
    ]
    for key, (phase, step) in after.items():
        if key not in before:
            minutes = f"{step['minutes']['typical']:g} minutes"
            sentence = f"“{step['title']}” is new in {phase['title']} ({minutes})."
            steps.append(StepChange(key, step["title"], "added", (sentence,)))
            continue
        sentences = tuple(_step_changes(before[key], (phase, step)))
        if sentences:
            steps.append(StepChange(key, step["title"], "changed", sentences))
    return BuildChanges(tuple(_build_changes(old, new)), tuple(steps))


def _steps(build: Plain) -> dict[str, tuple[Plain, Plain]]:
    return {step["key"]: (phase, step) for phase in build["phases"] for step in phase["steps"]}


def _build_changes(old: Plain, new: Plain) -> Iterator[str]:
    for name, words in (("title", "title"), ("band", "grade band"), ("team_size", "team size")):
        if old[name] != new[name]:
            yield f"The {words} changes from {old[name]} to {new[name]}."
    for name in ("summary", "note"):
        if old[name] != new[name]:
            yield f"The {name} is reworded."
    phases = {phase["key"]: phase for phase in old["phases"]}
    coming = {phase["key"]: phase for phase in new["phases"]}
    yield from (
        f"The phase “{phase['title']}” is dropped."
        for key, phase in phases.items()
        if key not in coming
    )
    yield from (
        f"The phase “{phase['title']}” is new."
        for key, phase in coming.items()
        if key not in phases
    )
    shared = [key for key in phases if key in coming]
    for key in shared:
        one, other = phases[key], coming[key]
        if one["title"] != other["title"]:
            yield f"The phase “{one['title']}” is now called “{other['title']}”."
        elif (one["summary"], one["milestone"]) != (other["summary"], other["milestone"]):
            yield f"The phase “{one['title']}” is described anew."
    if shared != [key for key in coming if key in phases]:
        yield "The phases come in another order."
    elif _shared_order(old, new) != _shared_order(new, old):
        yield "The steps come in another order."
    yield from _quantities(old["quantities"], new["quantities"])
    for name, words in (
        ("strings", "strings"),
        ("blanks", "wooden parts cut from boards"),
        ("no_treatment", "reasons for no treatment"),
    ):
        if old[name] != new[name]:
            yield f"The {words} change."


def _shared_order(build: Plain, other: Plain) -> list[str]:
    known = _steps(other)
    return [key for key in _steps(build) if key in known]


def _quantities(old: Sequence[Plain], new: Sequence[Plain]) -> Iterator[str]:
    before = {item["key"]: item for item in old}
    after = {item["key"]: item for item in new}
    for key, item in after.items():
        if key not in before:
            yield f"{item['title']} is a new quantity of the instrument: {item['nominal']}."
        elif before[key]["nominal"] != item["nominal"]:
            yield f"{item['title']} changes from {before[key]['nominal']} to {item['nominal']}."
        elif before[key] != item:
            yield f"{item['title']} is described anew."
    yield from (
        f"{item['title']} is no longer a quantity of the instrument."
        for key, item in before.items()
        if key not in after
    )


SIMPLE = (
    ("minutes_per", "The minutes count per {}"),
    ("hands", "Hands at work: {}"),
    ("minimum_sitting", "The shortest sitting is {} minutes"),
    ("station", "The station is {}"),
    ("places", "Places taken at the station: {}"),
    ("permit", "The sign-off asked for is {}"),
)
YES_OR_NO = (
    ("one_sitting", "It must be done in one sitting", "It may be spread over sittings"),
    ("whole_class", "The whole class does it together", "Teams do it one by one"),
    ("outside_class", "It is done outside class", "It is done in class"),
    ("hold_point", "It is a hold point", "It is no hold point"),
    ("substitute_safe", "A substitute may run it", "A substitute does not run it"),
)
WORDED = (
    ("purpose", "The purpose is reworded"),
    ("hazards", "The hazards change"),
    ("cautions", "The cautions change"),
    ("protection", "The protection changes"),
    ("grants", "The sign-offs it grants change"),
    ("holds", "The fixtures it holds change"),
    ("tools", "The tools change"),
    ("check", "The quality check changes"),
    ("ready_made", "What can be bought, made by an adult or left out changes"),
    ("catch_up", "The catch-up work is reworded"),
)


def _step_changes(old: tuple[Plain, Plain], new: tuple[Plain, Plain]) -> Iterator[str]:
    (old_phase, before), (new_phase, after) = old, new
    if before["title"] != after["title"]:
        yield f"“{before['title']}” is now called “{after['title']}”."
    if old_phase["key"] != new_phase["key"]:
        yield f"It moves from {old_phase['title']} to {new_phase['title']}."
    if before["minutes"] != after["minutes"]:
        yield f"Minutes change from {_span(before['minutes'])} to {_span(after['minutes'])}."
    for name, words in SIMPLE:
        if before[name] != after[name]:
            was = _shown(before[name])
            yield f"{words.format(_shown(after[name]))}, not {was}."
    for name, yes, no in YES_OR_NO:
        if before[name] != after[name]:
            yield f"{yes if after[name] else no}."
    for name, words, names in (
        ("supervision", "Supervision", SUPERVISION),
        ("hazard_class", "The hazard class", HAZARD),
    ):
        if before[name] != after[name]:
            yield f"{words} is now “{names[after[name]]}”, not “{names[before[name]]}”."
    yield from _named("It waits for", "It no longer waits for", before["after"], after["after"])
    yield from _drying(before["drying"], after["drying"])
    yield from _materials(before["materials"], after["materials"])
    yield from _exposures(before["exposures"], after["exposures"])
    yield from (f"{words}." for name, words in WORDED if before[name] != after[name])


def _shown(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float | int) else str(value or "none")


def _span(minutes: Plain) -> str:
    return f"{minutes['typical']:g} ({minutes['low']:g} to {minutes['high']:g})"


def _named(new: str, dropped: str, before: Iterable[str], after: Iterable[str]) -> Iterator[str]:
    old = list(before)
    coming = list(after)
    if added := [key for key in coming if key not in old]:
        yield f"{new} {', '.join(added)}."
    if gone := [key for key in old if key not in coming]:
        yield f"{dropped} {', '.join(gone)}."


def _drying(before: Plain | None, after: Plain | None) -> Iterator[str]:
    if before == after:
        return
    if after is None:
        yield "Nothing has to dry afterwards."
    elif before is None or before["hours"] != after["hours"]:
        was = "" if before is None else f", not {before['hours']['typical']:g}"
        yield f"It dries {after['hours']['typical']:g} hours{was}."
    else:
        yield "The drying is described anew."


def _materials(before: Sequence[Plain], after: Sequence[Plain]) -> Iterator[str]:
    old = {item["material"]: item["quantity"] for item in before}
    new = {item["material"]: item["quantity"] for item in after}
    yield from _named("It takes", "It no longer takes", old, new)
    for key, quantity in new.items():
        if key in old and old[key] != quantity:
            yield f"It takes {quantity:g} of {key}, not {old[key]:g}."
    whose = {item["material"]: item.get("per") for item in before}
    for item in after:
        key, per = item["material"], item.get("per")
        if key in whose and whose[key] != per:
            yield f"{key} is counted for each {per}, not for each {whose[key]}."


def _exposures(before: Sequence[Plain], after: Sequence[Plain]) -> Iterator[str]:
    old = {item["concept"]: item for item in before}
    new = {item["concept"]: item for item in after}
    yield from _named("It now shows", "It no longer shows", old, new)
    for key, item in new.items():
        if key in old and old[key] != item:
            yield f"What it shows of {key} is reworded."
