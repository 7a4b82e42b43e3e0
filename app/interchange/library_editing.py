"""Changing one part of a library file's content and checking it by the same schema as a file.

A build is edited as plain values (what a file would hold) and checked whole before it is saved.
"""

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from pydantic import ValidationError

from app.interchange import library_file as schema
from app.interchange.files import BadFile, Mistake, check, sentence_of

Plain = dict[str, Any]
E = TypeVar("E", bound=schema.LibraryEntry)
Place = tuple[int | str, ...]


class WrongValues(ValueError):
    """Values that an entry does not take; `places` says which and why."""

    def __init__(self, places: Sequence[tuple[Place, str]]) -> None:
        self.places = tuple(places)
        super().__init__("; ".join(sentence for _, sentence in places))


def entry(kind: type[E], values: Mapping[str, Any]) -> E:
    """A checked entry.

    Raises WrongValues with every place.
    """
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        raise WrongValues(
            [(item["loc"], sentence_of(item)) for item in error.errors(include_url=False)]
        ) from error


def plain(content: schema.LibraryEntry) -> Plain:
    """The entry as plain values that may be changed."""
    return content.model_dump(mode="json")


def checked(build: Plain) -> schema.BuildEntry:
    """The edited build as a whole.

    Raises BadFile.
    """
    content = check(build, build.get("title", "build"))
    assert isinstance(content, schema.BuildEntry)  # noqa: S101 - its kind is never edited
    return content


def locate(build: Plain, step: str) -> tuple[int, int]:
    """Phase and place of a step.

    Raises LookupError.
    """
    for number, phase in enumerate(build["phases"]):
        for place, item in enumerate(phase["steps"]):
            if item["key"] == step:
                return number, place
    raise LookupError(f"no step {step}")


def locate_phase(build: Plain, phase: str) -> int:
    """Place of a phase.

    Raises LookupError.
    """
    for number, item in enumerate(build["phases"]):
        if item["key"] == phase:
            return number
    raise LookupError(f"no phase {phase}")


def put_step(build: Plain, step: schema.StepEntry, phase: str) -> None:
    """Replace the step with this key, or add it at the end of the phase."""
    target = locate_phase(build, phase)
    try:
        number, place = locate(build, step.key)
    except LookupError:
        build["phases"][target]["steps"].append(plain(step))
        return
    if number == target:
        build["phases"][number]["steps"][place] = plain(step)
    else:
        del build["phases"][number]["steps"][place]
        build["phases"][target]["steps"].append(plain(step))


def add_step(build: Plain, step: schema.StepEntry, phase: str) -> None:
    """Add a step at the end of a phase.

    Raises WrongValues if the build has a step with this key.
    """
    if any(step.key == item["key"] for part in build["phases"] for item in part["steps"]):
        raise WrongValues([(("key",), f"the step {step.key} exists already; choose another key")])
    put_step(build, step, phase)


def move_step(build: Plain, step: str, by: int) -> None:
    """Move a step up (-1) or down (+1); over the end of a phase into the neighbouring one."""
    number, place = locate(build, step)
    steps = build["phases"][number]["steps"]
    if 0 <= place + by < len(steps):
        steps.insert(place + by, steps.pop(place))
    elif 0 <= number + by < len(build["phases"]):
        other = build["phases"][number + by]["steps"]
        other.insert(len(other) if by < 0 else 0, steps.pop(place))


def drop_step(build: Plain, step: str) -> None:
    """Take a step out; what waited for it waits for what it waited for."""
    number, place = locate(build, step)
    gone = build["phases"][number]["steps"].pop(place)
    for phase in build["phases"]:
        for item in phase["steps"]:
            if step in item["after"]:
                rest = [key for key in item["after"] if key != step]
                item["after"] = rest + [key for key in gone["after"] if key not in rest]
            for hold in item["holds"]:
                if hold["until_step"] == step:
                    hold["until_step"] = None


def put_phase(build: Plain, key: str, values: Plain) -> None:
    """Replace what a phase is called, or add it at the end with its steps, if it has any."""
    try:
        build["phases"][locate_phase(build, key)].update(values)
    except LookupError:
        build["phases"].append({"key": key, "steps": [], **values})


def move_phase(build: Plain, phase: str, by: int) -> None:
    """Move a phase up (-1) or down (+1)."""
    number = locate_phase(build, phase)
    if 0 <= number + by < len(build["phases"]):
        build["phases"].insert(number + by, build["phases"].pop(number))


def drop_phase(build: Plain, phase: str) -> None:
    """Take a phase out with all its steps."""
    number = locate_phase(build, phase)
    for step in [item["key"] for item in build["phases"][number]["steps"]]:
        drop_step(build, step)
    del build["phases"][number]
    build["no_treatment"] = [item for item in build["no_treatment"] if item["phase"] != phase]


def sentences(error: BadFile) -> list[str]:
    """The mistakes without the file's name: on a page it is clear what is meant."""
    return [f"{_begin(item)}{item.sentence}." for item in error.mistakes]


def _begin(item: Mistake) -> str:
    return f"{item.place[:1].upper()}{item.place[1:]}: " if item.place else ""
