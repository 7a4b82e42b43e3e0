"""Printing in a process of its own: a compiler keeps its memory as long as its process lives.

So a second file of 200 sheets does not need the memory of the first one too, and a print that
is no longer wanted can be ended at once.
"""

import multiprocessing
import os
import threading
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection, wait

from app.domain.papers.document import Document, Paper
from app.print.compile import PrintError, compile_documents

SECONDS_BETWEEN_LOOKS = 0.25


class Ended(Exception):
    """The print was ended because nobody wants it any more."""


def compile_apart(
    documents: Sequence[Document],
    *,
    paper: Paper | None = None,
    should_stop: Callable[[], bool] = lambda: False,
) -> bytes:
    """A set of documents as one PDF; see `print_documents`.

    Raises PrintError where the set cannot be printed or the process is gone, most likely for
    want of memory, and Ended where `should_stop` says so meanwhile.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_compile, args=(theirs, tuple(documents), paper), daemon=True)
    process.start()
    theirs.close()
    try:
        while True:
            if should_stop():
                raise Ended
            if ours.poll(SECONDS_BETWEEN_LOOKS):
                break
        answer = ours.recv()
    except EOFError:
        raise PrintError(
            "The printing broke off, most likely for want of memory: print a smaller set."
        ) from None
    finally:
        process.terminate()
        process.join()
        process.close()
        ours.close()
    if isinstance(answer, str):
        raise PrintError(answer)
    return bytes(answer)


def end_with_parent() -> None:
    """Let this process end when the one that began it does, however that one ends."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(0)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def _compile(to: Connection, documents: tuple[Document, ...], paper: Paper | None) -> None:
    end_with_parent()
    try:
        to.send(compile_documents(documents, paper=paper))
    except PrintError as error:
        to.send(str(error))
    finally:
        to.close()
