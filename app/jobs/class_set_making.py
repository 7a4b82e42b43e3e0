"""A class set too large for a request: printed by the worker, file by file, and kept to be fetched.

The sheets and the key are made from the same values in one go, so that they agree whatever
the teams measure meanwhile.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy.orm import Session

from app.domain.papers import worksheets as sheet
from app.domain.papers.document import Document, Paper, Title
from app.jobs.note import Note
from app.jobs.sheets import MOST_AT_ONCE, Worksheet
from app.models import Job, Section
from app.print.apart import Ended, compile_apart
from app.print.compile import compile_documents
from app.store.paper import class_sets

KIND = "class-set"
MOST_IN_A_FILE = 200  # about 1 MB a page while it is printed, measured
STOPPED = "The class set was stopped; nothing of it is kept."


class Stopped(ValueError):
    """Somebody stopped the set; nothing of it is kept."""


@dataclass(frozen=True)
class SetFile:
    """A printed file of a class set."""

    title: str
    name: str
    pdf: bytes


@dataclass(frozen=True)
class ClassSet:
    """Everything a set is printed from, without a row of the database."""

    request: sheet.WorksheetRequest
    holders: tuple[sheet.Holder, ...]
    paper: Paper
    name: str


def class_set_of(made: Worksheet) -> ClassSet:
    """The class set of a worksheet. Raises WorksheetError where there is nobody to make it for."""
    name = f"{made.section.key}-{made.choice.name}-class-set"
    return ClassSet(made.request, tuple(made.of_a_set()), made.choice.paper, name)


def ask_for(made: Worksheet, address: str) -> dict[str, Any]:
    """What a job must know to make the class set of a worksheet again.

    Raises WorksheetError where there is nobody to make it for, or nothing to ask.
    """
    made.questions()
    return {
        "query": made.set_query,
        "title": made.request.title,
        "address": address,
        "on": made.on.isoformat(),
        "done": 0,
        "of": len(made.of_a_set()),
    }


def carry_out_class_set(
    session: Session, section: Section, details: dict[str, Any], _by: str, note: Note
) -> None:
    """Print the set and keep its files in the place of the section's last one.

    Raises Stopped where somebody stopped it, and ValueError with a sentence where the part of
    the build, or everybody, is gone meanwhile.
    """
    on = dt.date.fromisoformat(details["on"])
    made = Worksheet(session, section, details["query"], details["address"], on=on)
    wanted = class_set_of(made)
    session.rollback()  # printing must not keep an embedded database locked
    files = list(print_set(wanted, counted=note.count, should_stop=note.stop_asked))
    if note.stop_asked():
        raise Stopped(STOPPED)
    asked = session.get_one(Job, note.job_id)
    class_sets.keep_files(
        session,
        section,
        paper=details["title"],
        query=details["query"],
        files=[(item.title, item.name, item.pdf) for item in files],
        now=asked.created_at,
    )


def print_set(
    wanted: ClassSet,
    *,
    with_key: bool = True,
    counted: Callable[[int, int, str], None] = lambda *_: None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Iterator[SetFile]:
    """The files of a class set, at most 200 sheets in each, and then its key if wanted.

    Raises WorksheetError, and Stopped where `should_stop` says so between two sheets.
    """
    count, alike = len(wanted.holders), sheet.settled(wanted.request)
    answers: list[Document] = []
    for start in range(0, count, MOST_IN_A_FILE):
        documents: list[Document] = []
        part = wanted.holders[start : start + MOST_IN_A_FILE]
        for holder in part:
            if should_stop():
                raise Stopped(STOPPED)
            counted(start + len(documents), count, "working out the values")
            documents.append(sheet.generate(sheet.for_holder(alike, holder)))
        last = start + len(part)
        counted(last, count, f"setting sheets {start + 1} to {last} as pages")
        answers += [
            item if not start and not n else _answers_only(item) for n, item in enumerate(documents)
        ]
        yield SetFile(
            "All sheets" if len(part) == count else f"Sheets {start + 1} to {last}",
            f"{wanted.name}-{start + 1}-to-{last}",
            _pdf(documents, wanted.paper, should_stop),
        )
    if not with_key:
        return
    counted(count, count, "writing the key")
    key = sheet.class_set_key(answers, f"Answer key: {wanted.request.title}")
    yield SetFile("Answer key", f"{wanted.name}-key", compile_documents([key], paper=wanted.paper))


def _pdf(documents: list[Document], paper: Paper, should_stop: Callable[[], bool]) -> bytes:
    if len(documents) <= MOST_AT_ONCE:
        return compile_documents(documents, paper=paper)
    try:
        return compile_apart(documents, paper=paper, should_stop=should_stop)
    except Ended:
        raise Stopped(STOPPED) from None


def _answers_only(document: Document) -> Document:
    """What the key needs of a sheet: 400 whole ones would fill the memory."""
    return replace(document, blocks=tuple(b for b in document.blocks if isinstance(b, Title)))
