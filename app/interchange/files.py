"""Reading library files: TOML or JSON in, checked values or every mistake at once out."""

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from app.interchange.library_file import (
    SCHEMA_VERSION,
    BuildEntry,
    ConceptEntry,
    FrameworkEntry,
    LibraryFile,
    Package,
    SafetyBankEntry,
    Workshop,
)

_adapter: TypeAdapter[LibraryFile] = TypeAdapter(LibraryFile)


@dataclass(frozen=True)
class Mistake:
    """What is wrong with a file, where, and what is allowed."""

    file: str
    place: str
    sentence: str

    def __str__(self) -> str:
        where = f"{self.file}, {self.place}" if self.place else self.file
        return f"{where}: {self.sentence}"


class BadFile(ValueError):
    """A file that cannot be loaded; `mistakes` has all of them."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))


def read_file(path: Path) -> LibraryFile:
    """The checked content of a library file.

    Raises BadFile.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        sentence = f"cannot be read ({error.strerror}); name a file that exists and is yours"
        raise BadFile([Mistake(str(path), "", sentence)]) from error
    return parse(raw, path.name)


def parse(raw: bytes, name: str) -> LibraryFile:
    """The checked content of `raw`, read as JSON if `name` ends so, otherwise as TOML.

    Raises BadFile.
    """
    try:
        text = raw.decode("utf-8-sig")
        data = json.loads(text) if name.lower().endswith(".json") else tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise BadFile([Mistake(name, "", "is not UTF-8 text; save it as UTF-8")]) from error
    except (tomllib.TOMLDecodeError, json.JSONDecodeError) as error:
        kind = "JSON" if name.lower().endswith(".json") else "TOML"
        raise BadFile([Mistake(name, "", f"is not {kind}: {error}")]) from error
    return check(data, name)


def check(data: Any, name: str) -> LibraryFile:
    """Validate the shape, then what the shape cannot say.

    Raises BadFile.
    """
    if not isinstance(data, dict):
        raise BadFile([Mistake(name, "", "must be a table with `kind` and `schema_version`")])
    version = data.get("schema_version")
    if isinstance(version, int) and version > SCHEMA_VERSION:
        sentence = (
            f"has schema version {version}, newer than the {SCHEMA_VERSION} this program reads; "
            "upgrade Stringcourse, or ask for the file in the older version"
        )
        raise BadFile([Mistake(name, "schema_version", sentence)])
    try:
        content = _adapter.validate_python(data)
    except ValidationError as error:
        raise BadFile(
            Mistake(name, _place(item["loc"]), sentence_of(item))
            for item in error.errors(include_url=False)
        ) from error
    mistakes = [Mistake(name, place, sentence) for place, sentence in _inner_mistakes(content)]
    if mistakes:
        raise BadFile(mistakes)
    return content


_SENTENCES = {
    "missing": "is missing; add it",
    "extra_forbidden": "is no name this schema knows; correct or remove it",
    "string_too_short": "must not be empty",
    "string_pattern_mismatch": "“{input}” is no key; use letters, digits, hyphens and dots",
    "float_parsing": "must be a number, not “{input}”",
    "int_parsing": "must be a whole number, not “{input}”",
    "int_from_float": "must be a whole number, not {input}",
    "literal_error": "must be one of {expected}, not “{input}”",
    "greater_than_equal": "must be at least {ge:g}, not {input}",
    "greater_than": "must be more than {gt:g}, not {input}",
    "less_than_equal": "must be at most {le:g}, not {input}",
    "less_than": "must be less than {lt:g}, not {input}",
}


def sentence_of(error: Mapping[str, Any]) -> str:
    """What one validation error asks the writer to change."""
    words = _SENTENCES.get(error["type"])
    if words is None:
        return str(error["msg"]).removeprefix("Value error, ")
    return words.format(input=error["input"], **error.get("ctx", {}))


Part = Workshop | BuildEntry | ConceptEntry | FrameworkEntry | SafetyBankEntry


def parts(content: LibraryFile) -> list[Part]:
    """A package's parts in the order they must be loaded; any other file is its one part."""
    if not isinstance(content, Package):
        return [content]
    workshop = [content.workshop] if content.workshop else []
    return [*workshop, *content.frameworks, *content.concepts, *content.builds]


def _place(location: tuple[int | str, ...]) -> str:
    # The first item is the union's branch (the kind), which the reader already knows.
    words = [f"[{item + 1}]" if isinstance(item, int) else f".{item}" for item in location[1:]]
    return "".join(words).removeprefix(".")


def _inner_mistakes(content: LibraryFile) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for part in parts(content):
        if isinstance(part, BuildEntry):
            found += build_mistakes(part)
        elif isinstance(part, FrameworkEntry):
            found += [
                ("standards", f"the code {code} stands twice; keep one")
                for code in repeated(standard.code for standard in part.standards)
            ]
        elif isinstance(part, ConceptEntry):
            for treatment in part.treatments:
                found += [
                    (f"treatment {treatment.band}", f"the question key {key} stands twice")
                    for key in repeated(question.key for question in treatment.questions)
                ]
                found += [
                    (f"treatment {treatment.band}", f"is aligned to {code} twice; keep one")
                    for code in repeated(f"{a.framework} {a.code}" for a in treatment.alignments)
                ]
    return found


def build_mistakes(build: BuildEntry) -> list[tuple[str, str]]:
    """Phases without steps, repeated keys, unknown predecessors and cycles, each in a sentence."""
    found = [("phases", "a build needs at least one phase")] if not build.phases else []
    found += [
        (f"phase {phase.key}", "has no step; add one or remove the phase")
        for phase in build.phases
        if not phase.steps
    ]
    found += [
        ("phases", f"the key {key} stands twice") for key in repeated(p.key for p in build.phases)
    ]
    steps = {step.key: step for step in build.steps}
    found += [
        ("steps", f"the key {key} stands twice") for key in repeated(s.key for s in build.steps)
    ]
    for step in build.steps:
        found += [
            (f"step {step.key}", f"comes after {key}, which is no step of this build")
            for key in step.after
            if key not in steps
        ]
        found += [
            (f"step {step.key}", f"holds a fixture until {hold.until_step}, which is no step")
            for hold in step.holds
            if hold.until_step is not None and hold.until_step not in steps
        ]
        found += [
            (f"step {step.key}", f"shows the concept {key} twice; keep one")
            for key in repeated(item.concept for item in step.exposures)
        ]
    phases = {phase.key for phase in build.phases}
    found += [
        ("no_treatment", f"names the phase {item.phase}, which this build does not have")
        for item in build.no_treatment
        if item.phase not in phases
    ]
    found += [
        ("quantities", f"the key {key} stands twice; keep one")
        for key in repeated(item.key for item in build.quantities)
    ]
    cycle = find_cycle({key: list(step.after) for key, step in steps.items()})
    if cycle:
        found.append(("steps", f"{' → '.join(cycle)} wait for each other; remove one of the links"))
    return found


def repeated(keys: Iterable[str]) -> list[str]:
    """Keys that occur more than once, in order."""
    seen: set[str] = set()
    twice: dict[str, None] = {}
    for key in keys:
        if key in seen:
            twice[key] = None
        seen.add(key)
    return list(twice)


def find_cycle(after: dict[str, list[str]]) -> list[str]:
    """Keys that wait for each other in a ring, first repeated last; empty if there is none."""
    done: set[str] = set()
    for start in after:
        path: list[str] = []
        stack: list[tuple[str, bool]] = [(start, False)]
        while stack:
            key, leaving = stack.pop()
            if leaving:
                path.pop()
                done.add(key)
            elif key in path:
                return [*path[path.index(key) :], key]
            elif key not in done:
                path.append(key)
                stack.append((key, True))
                stack.extend((next_key, False) for next_key in after.get(key, ()))
    return []
