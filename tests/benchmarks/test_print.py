"""Printing against bare Typst in the same run: ratios, never seconds.

Bare Typst compiles the very same pages from data made ready beforehand, so the ratio is
what generating, translating and checking cost on top.
"""

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import typst

from app.domain.papers.worksheets import (
    Computed,
    Holder,
    Pattern,
    QuantityFacts,
    QuestionParameter,
    TreatmentFacts,
    WorksheetRequest,
    class_set,
    generate,
)
from app.jobs.class_set_making import MOST_IN_A_FILE, ClassSet, print_set
from app.print import compile_documents, compile_pdf
from app.print.compile import STANDARDS, TEMPLATES, fonts
from app.print.payload import payload

pytestmark = pytest.mark.benchmark

ROOT = Path(__file__).resolve().parents[2]
MEMORY_LIMIT_MB = 700


def _request() -> WorksheetRequest:
    frets = Pattern(
        "frets",
        "Your scale length is {scale}. How far from the nut is fret {fret}?",
        {
            "scale": QuestionParameter("scale_length"),
            "fret": QuestionParameter(low=2, high=22, step=1),
        },
        Computed(
            "fret-positions", {"scale_length": "{scale}", "fret": "{fret}"}, "fret_distance", "mm"
        ),
    )
    harmonics = Pattern(
        "harmonics",
        "Which frequency has harmonic {n} of a {f} string?",
        {
            "n": QuestionParameter(low=2, high=9, step=1),
            "f": QuestionParameter(choose=(110, 147), unit="Hz"),
        },
        Computed("harmonics", {"frequency": "{f}", "harmonic": "{n}"}, "harmonic_frequency", "Hz"),
    )
    why = [Pattern(f"why{n}", "Say why.", written="Because.", space_lines=6) for n in range(4)]
    text = "Every fret takes the same share of what is left of the string. " * 6
    return WorksheetRequest(
        "Benchmark",
        "A17",
        (
            TreatmentFacts(
                "frets", "Frets", "I can lay out.", text, (), "fret-positions", (frets, *why)
            ),
            TreatmentFacts(
                "waves", "Harmonics", "I can hear.", text, (), "harmonics", (harmonics,)
            ),
        ),
        minutes=20,
    )


def _teams(count: int) -> list[Holder]:
    return [
        Holder(
            f"T{n}",
            (QuantityFacts("scale_length", "Scale length", "648 mm", f"{600 + n / 8} mm"),),
        )
        for n in range(count)
    ]


def _bare(data: str) -> bytes:
    return typst.compile(
        str(TEMPLATES / "paper.typ"),
        root=str(TEMPLATES),
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"data": data},
        pdf_standards=list(STANDARDS),
        timestamp=0,
        format="pdf",
    )


def _ratio(ours: Callable[[int], object], bare: Callable[[int], object], runs: int) -> float:
    """Shortest of ours over shortest of bare, taken in turns so that both meet the same load.

    Each run is told its number, so that none finds the last one's work in a cache.
    """
    shortest = {ours: float("inf"), bare: float("inf")}
    for run in range(runs):
        for work in (bare, ours):
            start = time.perf_counter()
            work(run)
            shortest[work] = min(shortest[work], time.perf_counter() - start)
    return shortest[ours] / shortest[bare]


def test_a_class_set_of_30_costs_at_most_half_more_than_bare_typst() -> None:
    sets = [class_set(_request_with(f"s{n}"), _teams(30)) for n in range(8)]
    ready = [payload(documents, "us-letter") for documents in sets]
    ratio = _ratio(
        lambda run: compile_documents(class_set(_request_with(f"o{run}"), _teams(30))),
        lambda run: _bare(ready[run]),
        len(ready),
    )
    print(f"class set of 30: {ratio:.2f} times bare Typst")
    assert ratio <= 1.5


def test_one_worksheet_costs_less_than_three_times_bare_typst() -> None:
    ready = [payload([generate(_request_with(f"s{n}"))], "us-letter") for n in range(30)]
    ratio = _ratio(
        lambda run: compile_pdf(generate(_request_with(f"o{run}"))),
        lambda run: _bare(ready[run]),
        len(ready),
    )
    print(f"one worksheet: {ratio:.2f} times bare Typst")
    assert ratio < 3


@pytest.mark.parametrize("count", [200, 400])
def test_a_large_set_stays_under_700_mb_in_every_process(count: int) -> None:
    run = subprocess.run(
        [sys.executable, __file__, str(count)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    files, ours, theirs = (int(word) for word in run.stdout.split())
    print(f"set of {count}: {files} files, {ours / 1024:.0f} MB here, {theirs / 1024:.0f} MB apart")
    assert files == count // MOST_IN_A_FILE
    assert max(ours, theirs) / 1024 < MEMORY_LIMIT_MB


def _request_with(seed: str) -> WorksheetRequest:
    request = _request()
    quantities = _teams(1)[0].quantities
    return WorksheetRequest(
        request.title, seed, request.treatments, minutes=request.minutes, quantities=quantities
    )


def _print_large_set(count: int) -> None:
    """Print it as the worker does; files, and the largest resident set of each side in kB.

    The usage of a process counts what its parent held before it began, so ours is read from
    the kernel's own figure for this programme.
    """
    wanted = ClassSet(_request(), tuple(_teams(count)), "letter", "set")
    files = sum(1 for _ in print_set(wanted, with_key=False))
    status = Path("/proc/self/status").read_text()
    ours = next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))
    print(files, ours, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)


if __name__ == "__main__":
    _print_large_set(int(sys.argv[1]))
