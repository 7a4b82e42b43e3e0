"""Every phase of every build at every band it covers, in three versions, made and printed."""

import io
import itertools
import json
import math
import re
from dataclasses import replace
from types import SimpleNamespace

import pikepdf
import pytest
import sqlalchemy as sa

from app.domain.bands import BANDS
from app.domain.cautions import HAZARDOUS
from app.domain.papers import worksheets as sheet
from app.domain.papers.document import DEFERRAL, Answer, Caution, QuestionBlock, Title
from app.models import Build, Section
from app.print import compile_documents
from app.print.payload import payload
from app.store.paper import worksheets as store

BUILDS = ("six-string-solid-body", "tenor-ukulele", "three-string-box", "mountain-dulcimer")


def as_section(session, build):
    """The sample section's facts over another build: papers read, nothing is saved."""
    sample = session.scalars(sa.select(Section)).first()
    return SimpleNamespace(
        id=sample.id,
        title="Period 1",
        band=build.band,
        build=build,
        build_id=build.id,
        course=sample.course,
    )


def covered(session, key):
    """Phase, band and request wherever the band has a lesson."""
    build = session.scalars(sa.select(Build).where(Build.key == key)).first()
    section = as_section(session, build)
    for phase in build.phases:
        for band in BANDS:
            request = store.worksheet_request(
                session, section, store.Wanted("phase", phase.key, band=band)
            )
            if request.treatments:
                yield phase, band, request


@pytest.mark.parametrize("key", BUILDS)
def test_every_phase_prints_at_every_band_it_covers_in_all_three_versions(session, key):
    documents = []
    phases = set()
    for phase, _band, request in covered(session, key):
        phases.add(phase.key)
        for version in ("standard", "pictured", "large"):
            document = sheet.generate(replace(request, version=version))
            documents.append(document)
            _check_students_copy(document)
            hazardous = any(step.hazard_class in HAZARDOUS for step in phase.steps)
            boxes = [block for block in document.blocks if isinstance(block, Caution)]
            assert bool(boxes) == hazardous, (phase.key, version)
            assert all(box.deferral == DEFERRAL for box in boxes)
    build = session.scalars(sa.select(Build).where(Build.key == key)).first()

    pdf = compile_documents(documents)

    assert phases == {phase.key for phase in build.phases}, "a phase without any lesson"
    with pikepdf.open(io.BytesIO(pdf)) as read, read.open_metadata() as metadata:
        assert len(read.pages) >= len(documents)
        assert metadata["pdfuaid:part"] == "1"


@pytest.mark.parametrize("key", BUILDS)
def test_25_minutes_are_one_sheet_of_paper_both_sides_for_nearly_every_phase(session, key):
    """Two pages where the content allows; of the shipped phases and bands one in ten does not."""
    documents = [sheet.generate(request) for _phase, _band, request in covered(session, key)]
    with pikepdf.open(io.BytesIO(compile_documents(documents))) as read:
        pages = len(read.pages)
    assert pages <= 2.1 * len(documents)


def _check_students_copy(document):
    """No answer block, no worked answer, and nothing of what a wrong answer reveals."""
    assert not any(isinstance(block, Answer) for block in document.blocks)
    assert sum(isinstance(block, QuestionBlock) for block in document.blocks) == len(
        document.answers
    )
    printed = json.loads(payload([document], "us-letter"))["documents"][0]
    text = json.dumps(printed, ensure_ascii=False)
    for answer in document.answers:
        for _, reveals in answer.reveals:
            assert reveals not in text
        if answer.note:
            assert answer.note not in text
    assert "answers" not in printed


def test_neighbouring_questions_are_on_different_concepts(session):
    for _phase, _band, request in covered(session, BUILDS[0]):
        concepts = [item.concept for item in sheet.chosen_items(request)]
        if len(set(concepts)) > 1:
            assert all(one != two for one, two in itertools.pairwise(concepts))


# Each formula is worked out here from the numbers printed in the question, in their order; the
# relations are those of any textbook: circle, Ohm's law, Pythagoras, equal temperament
# (ratio 2^(1/12), 1200 cents to the octave), low-pass corner 1/(2 pi R C), and the inch of
# 25.4 mm by definition.
ARITHMETIC = {
    ("area-and-volume", "3-5", "volume-box"): lambda a, b, c: a * b * c,
    ("circles-and-arcs", "6-8", "circle-hole-area"): lambda d: math.pi * d**2 / 4,
    ("cutting-speed", "6-8", "edge-speed-on-the-drill-press"): lambda d, n: math.pi * d * n / 1000,
    ("electric-circuits", "6-8", "current-through-a-resistor"): lambda u, r: 1000 * u / r,
    ("harmonics", "6-8", "beating-strings"): lambda f, g: abs(f - g),
    ("percent", "6-8", "percent-note-error"): lambda f, g: 100 * (g - f) / f,
    ("right-triangles", "6-8", "right-diagonal"): math.hypot,
    ("scale-drawing", "6-8", "scale-real-length"): lambda one, n, x: n * x / one,
    ("unit-conversion", "6-8", "unit-inch-to-mm"): lambda whole, part=0, of=1: (
        25.4 * (whole + part / of)
    ),
    ("accuracy-and-tolerance", "9-12", "tolerance-slot-cents"): lambda e, n, scale: (
        -1200 * math.log2(1 - e / (scale * 2 ** (-n / 12)))
    ),
    ("cutting-speed", "9-12", "chip-load-of-the-router"): lambda n, feed: 1000 * feed / (2 * n),
    ("forces-and-pressure", "9-12", "down-force-at-the-nut"): lambda t, drop, run: (
        2 * t * math.sin(math.atan(drop / run) / 2)
    ),
    ("history-of-temperament", "9-12", "rule-of-eighteen"): lambda _rule, n, scale: (
        scale * (1 - (17 / 18) ** n)
    ),
    ("logarithms-and-cents", "9-12", "logs-pure-against-equal"): lambda f, g: (
        1200 * math.log2(g / f)
    ),
    ("percent", "9-12", "percent-per-fret"): lambda scale, n: scale * 2 ** (-n / 12),
    ("right-triangles", "9-12", "right-taper-angle"): lambda out, along: math.degrees(
        math.atan(out / along)
    ),
    ("scientific-notation", "9-12", "sci-corner"): lambda r, c: (
        1 / (2 * math.pi * r * 1e3 * c * 1e-9)
    ),
    ("string-tension", "9-12", "one-turn-of-the-button"): lambda ratio, one, d: (
        math.pi * d * one / ratio
    ),
    ("unit-conversion", "9-12", "unit-unit-weight"): lambda d, density: (
        1000 * density * math.pi * (d * 0.0254) ** 2 / 4
    ),
    ("electric-circuits", "9-12", "jack-reading-own-harness"): lambda a, b: a * b / (a + b),
    ("cost-and-budget", "college", "cost-yield"): lambda cost, share: cost / (share / 100),
    ("waves-on-a-string", "college", "ideal-string-tension-and-speed"): lambda _d, f, scale: (
        2 * scale / 1000 * f
    ),
}
NUMBER = re.compile(r"\d+(?:\.\d+)?")


def test_there_are_at_least_twenty_sheets_checked_by_arithmetic():
    assert len(ARITHMETIC) >= 20


@pytest.mark.parametrize(("concept", "band", "key"), ARITHMETIC)
def test_a_sheet_expects_the_value_worked_out_from_its_own_numbers(session, concept, band, key):
    build = session.scalars(sa.select(Build).where(Build.key == BUILDS[0])).first()
    for seed in ("1", "2", "3"):
        request = store.worksheet_request(
            session,
            as_section(session, build),
            store.Wanted("concept", concept, seed=seed, band=band),
        )
        (pattern,) = [p for t in request.treatments for p in t.patterns if p.key == key]
        document = sheet.generate(replace(request, items=(sheet.Item(concept, pattern),)))
        (question,) = [block for block in document.blocks if isinstance(block, QuestionBlock)]
        (answer,) = document.answers
        numbers = [float(text) for text in NUMBER.findall(question.text)]

        expected = ARITHMETIC[concept, band, key](*numbers)

        assert answer.value == pytest.approx(expected, rel=2e-3)
        assert answer.low is None or answer.low <= answer.value <= answer.high
        assert document.seed == seed
        assert isinstance(document.blocks[0], Title)
