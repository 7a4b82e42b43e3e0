"""Worksheets against values worked out here, by hand or by plain arithmetic."""

import datetime as dt
import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.calculators import CATALOGUE, calculate
from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import (
    DEFERRAL,
    Answer,
    Caution,
    Document,
    ExitQuestion,
    Figure,
    Formula,
    Goal,
    QuestionBlock,
    Table,
    Title,
    WorkedExample,
    answer_key,
)
from app.domain.papers.drawing import Sheet, measuring_bar
from app.domain.papers.worksheets import (
    Computed,
    ExposureFacts,
    Holder,
    Item,
    Pattern,
    QuantityFacts,
    QuestionParameter,
    RoomFacts,
    TreatmentFacts,
    WorksheetError,
    WorksheetRequest,
    WrongOption,
    class_set,
    class_set_key,
    generate,
    spoken,
)
from app.domain.papers.worksheets.length import page_count
from app.domain.papers.worksheets.questions import Asking, ask, exposure_question
from app.domain.papers.worksheets.selection import choose
from app.domain.papers.worksheets.sheet import worked_example

SCALE = QuantityFacts("scale_length", "Scale length", "648 mm")
FRET = Computed(
    "fret-positions",
    {"scale_length": "{scale}", "fret": "{fret}"},
    "fret_distance",
    "mm",
    "0.25 mm",
    6,
)


def fret_pattern(fret: str = "12", **changes: object) -> Pattern:
    pattern = Pattern(
        "where-is-the-fret",
        "Your scale length is {scale}. How far from the nut is fret {fret}?",
        {"scale": QuestionParameter("scale_length"), "fret": QuestionParameter(choose=(fret,))},
        FRET,
    )
    return replace(pattern, **changes)  # type: ignore[arg-type]


def written(key: str, depth: int = 2) -> Pattern:
    return Pattern(key, f"Say why ({key}).", written="Because.", depth_of_knowledge=depth)


def treatment(concept: str, *patterns: Pattern, calculator: str | None = None) -> TreatmentFacts:
    return TreatmentFacts(
        concept,
        f"Title of {concept}",
        f"I can do {concept}.",
        "A first paragraph.\n\nA second one.",
        calculator=calculator,
        patterns=patterns,
        codes=("HSF.LE.A.2",),
    )


def request(*treatments: TreatmentFacts, **changes: object) -> WorksheetRequest:
    plain = WorksheetRequest("Frets", "A17", treatments, quantities=(SCALE,))
    return replace(plain, **changes)  # type: ignore[arg-type]


def one_answer(pattern: Pattern, *quantities: QuantityFacts) -> Answer:
    asking = Asking({q.key: q for q in quantities}, "A17", "", "standard")
    return ask(pattern, treatment("concept", pattern), 1, asking).answer


# Distances worked out as L − L / 2^(n/12); fret 12 halves the string, fret 24 quarters it.
@pytest.mark.parametrize(
    ("scale_mm", "fret"),
    [(648, 12), (648, 1), (648, 5), (648, 7), (648, 17), (648, 22), (628, 12), (628, 3), (635, 9),
     (584, 12), (584, 4), (584, 7), (432, 12), (432, 1), (432, 18), (864, 12), (864, 20), (380, 5),
     (330, 10), (650, 24)],
)  # fmt: skip
def test_a_sheet_for_each_scale_and_fret_carries_the_distance_worked_out_here(
    scale_mm: int, fret: int
) -> None:
    own = QuantityFacts("scale_length", "Scale length", f"{scale_mm} mm")
    document = generate(request(treatment("frets", fret_pattern(str(fret))), quantities=(own,)))
    (answer,) = document.answers
    expected = scale_mm - scale_mm / 2 ** (fret / 12)
    assert answer.value == pytest.approx(expected, abs=1e-6)
    assert answer.low == pytest.approx(expected - 0.25, abs=1e-3)
    assert answer.high == pytest.approx(expected + 0.25, abs=1e-3)
    assert answer.unit == "mm"


def test_fret_12_of_a_648_mm_scale_is_324_mm_on_paper() -> None:
    (answer,) = generate(request(treatment("frets", fret_pattern()))).answers
    assert answer.text == "324\u2009mm"
    assert answer.tolerance == "± 0.25\u2009mm"


# T = μ (2 L f)² with μ = ρ π d² / 4 for steel of 7850 kg/m³, the textbook formula for a
# uniform string, worked out here.
@pytest.mark.parametrize(
    ("diameter_mm", "frequency_hz"),
    [(0.254, 329.63), (0.33, 246.94), (0.43, 196.0), (0.66, 146.83)],
)
def test_string_tension_on_paper_is_the_textbook_formula(
    diameter_mm: float, frequency_hz: float
) -> None:
    pattern = Pattern(
        "tension",
        "A steel string {d} thick is tuned to {f} on your neck. How hard does it pull?",
        {
            "d": QuestionParameter(choose=(diameter_mm,), unit="mm"),
            "f": QuestionParameter(choose=(frequency_hz,), unit="Hz"),
            "scale": QuestionParameter("scale_length"),
        },
        Computed(
            "string-tension",
            {
                "diameter": "{d}",
                "frequency": "{f}",
                "scale_length": "{scale}",
                "density": "7850 kg/m³",
            },
            "tension",
            "N",
            "1 %",
            4,
        ),
    )
    answer = one_answer(pattern, SCALE)
    unit_weight = 7850 * math.pi * (diameter_mm / 1000) ** 2 / 4
    expected = unit_weight * (2 * 0.648 * frequency_hz) ** 2
    assert answer.value == pytest.approx(expected, rel=1e-6)
    assert answer.low == pytest.approx(expected * 0.99, rel=1e-3)


@pytest.mark.parametrize(("harmonic", "expected_hz"), [(2, 220), (3, 330), (5, 550), (7, 770)])
def test_a_harmonic_is_a_whole_multiple_of_110_hz(harmonic: int, expected_hz: float) -> None:
    pattern = Pattern(
        "harmonic",
        "Which frequency has harmonic {n} of a 110 Hz string?",
        {"n": QuestionParameter(choose=(harmonic,))},
        Computed(
            "harmonics", {"frequency": "110 Hz", "harmonic": "{n}"}, "harmonic_frequency", "Hz"
        ),
    )
    answer = one_answer(pattern)
    assert answer.value == pytest.approx(expected_hz)
    assert answer.low == answer.high == expected_hz


def test_a_length_is_asked_for_in_the_unit_the_question_names() -> None:
    in_inches = replace(FRET, unit="in", tolerance="0.5 mm")
    answer = one_answer(fret_pattern(computed=in_inches), SCALE)
    # 324 mm = 324 / 25.4 in, and 0.5 mm = 0.5 / 25.4 in: the inch is 25.4 mm by definition.
    assert answer.value == pytest.approx(324 / 25.4)
    assert answer.high == pytest.approx(324.5 / 25.4)


def test_the_same_request_gives_the_same_document() -> None:
    treatments = (treatment("frets", fret_pattern()), treatment("why", written("a"), written("b")))
    assert generate(request(*treatments)) == generate(request(*treatments))


def _drawn() -> TreatmentFacts:
    parameters = {
        "scale": QuestionParameter("scale_length"),
        "fret": QuestionParameter(low=1, high=22, step=1),
    }
    return treatment("frets", fret_pattern(parameters=parameters))


def test_another_seed_draws_other_values_and_is_printed_with_them() -> None:
    texts = set()
    for seed in ("A1", "A2", "A3", "A4", "A5"):
        document = generate(request(_drawn(), seed=seed))
        assert document.seed == seed
        texts.add(document.answers[0].text)
    assert len(texts) > 1


def test_a_class_set_asks_the_same_questions_with_each_teams_own_values() -> None:
    teams = [Holder(f"Team {n}", (replace(SCALE, measured=f"{640 + n} mm"),)) for n in range(1, 9)]
    documents = class_set(request(treatment("frets", fret_pattern())), teams)
    assert [d.answers[0].question_key for d in documents] == ["where-is-the-fret"] * 8
    # Fret 12 halves each team's own string.
    assert [d.answers[0].value for d in documents] == pytest.approx(
        [(640 + n) / 2 for n in range(1, 9)]
    )
    key = class_set_key(documents)
    (table,) = [block for block in key.blocks if isinstance(block, Table)]
    assert [row[0] for row in table.rows] == [f"Team {n}" for n in range(1, 9)]
    assert table.rows[2][1] == "321.5\u2009mm"


def test_a_class_set_without_sheets_has_no_key() -> None:
    with pytest.raises(WorksheetError, match="at least one sheet"):
        class_set_key([])


def test_the_measured_value_goes_before_the_nominal() -> None:
    measured = replace(SCALE, measured="640 mm")
    (answer,) = generate(
        request(treatment("frets", fret_pattern()), quantities=(measured,))
    ).answers
    assert answer.value == pytest.approx(320)


def test_a_recorded_value_out_of_range_is_flagged_and_the_sheet_is_kept() -> None:
    wild = replace(SCALE, measured="64800 mm")
    document = generate(
        request(treatment("frets", fret_pattern()), quantities=(wild,), holder="Team 4")
    )
    assert document.answers[0].value == pytest.approx(324)
    (notice,) = document.notices
    assert "Team 4: check the reading “64800 mm” of Scale length" in notice
    assert "uses the nominal 648 mm" in notice
    assert any("64800" in str(block) for block in answer_key(document).blocks)


def test_a_reading_that_is_no_number_is_flagged_and_the_sheet_is_kept() -> None:
    wild = replace(SCALE, measured="about an arm")
    document = generate(request(treatment("frets", fret_pattern()), quantities=(wild,)))
    assert document.answers[0].value == pytest.approx(324)
    assert "about an arm" in document.notices[0]


def test_drawn_values_the_calculator_refuses_are_drawn_again() -> None:
    # The calculator takes frets up to 144: most of these lie outside.
    pattern = fret_pattern(
        parameters={
            "scale": QuestionParameter("scale_length"),
            "fret": QuestionParameter(choose=("12", "500", "900")),
        }
    )
    for seed in range(20):
        (answer,) = generate(request(treatment("frets", pattern), seed=str(seed))).answers
        assert answer.value == pytest.approx(324)


@pytest.mark.parametrize(
    ("pattern", "reason"),
    [
        (fret_pattern(parameters={"scale": QuestionParameter("bridge_height")}), "bridge_height"),
        (fret_pattern(prompt="How far is {nothing}?"), "{nothing}"),
        (fret_pattern(computed=replace(FRET, calculator="no-such")), "no-such"),
        (fret_pattern(computed=replace(FRET, result="colour")), "colour"),
        (fret_pattern(computed=replace(FRET, unit="acre")), "acre"),
    ],
)
def test_a_question_that_cannot_be_answered_is_left_out_and_the_teacher_told(
    pattern: Pattern, reason: str
) -> None:
    document = generate(request(treatment("frets", pattern), treatment("why", written("a"))))
    assert [answer.question_key for answer in document.answers] == ["a"]
    assert reason in document.notices[0]


def test_no_treatment_at_the_band_names_the_nearest_band() -> None:
    with pytest.raises(WorksheetError, match="grade band 3-5; the nearest is Grades 6–8"):
        generate(request(band="3-5", place="Finish", other_bands=("6-8",)))


def test_a_concept_without_patterns_is_asked_by_what_the_bench_shows() -> None:
    exposure = ExposureFacts(
        "E06", "Compute the fret table", "frets", "Each gap shrinks.", "fret 1 and 2"
    )
    document = generate(request(treatment("frets"), exposures=(exposure,)))
    (question,) = [b for b in document.blocks if isinstance(b, QuestionBlock)]
    assert question.text.startswith("Compute the fret table: Each gap shrinks.")
    assert "fret 1 and 2" in question.text
    asking = Asking({}, "A17", "", "pictured")
    assert exposure_question(exposure, treatment("frets"), 1, asking).question.starter


def test_a_sheet_with_nothing_to_ask_says_so() -> None:
    with pytest.raises(WorksheetError, match="can be answered"):
        generate(request(treatment("frets")))


@settings(max_examples=60, deadline=None)
@given(
    counts=st.lists(st.integers(1, 6), min_size=2, max_size=5),
    minutes=st.integers(3, 90),
    seed=st.text(max_size=5),
)
def test_neighbouring_questions_never_share_a_concept(
    counts: list[int], minutes: int, seed: str
) -> None:
    treatments = [
        treatment(f"c{index}", *(written(f"c{index}-{n}", 1 + n % 4) for n in range(count)))
        for index, count in enumerate(counts)
    ]
    concepts = [chosen.concept for chosen, _ in choose(treatments, (), minutes, seed)]
    assert concepts
    assert all(one != next_one for one, next_one in itertools.pairwise(concepts))


def test_a_longer_sheet_asks_more_and_a_short_one_still_asks_once() -> None:
    pool = [treatment(c, *(written(f"{c}{n}") for n in range(6))) for c in ("a", "b", "c")]
    lengths = [len(choose(pool, (), minutes, "s")) for minutes in (1, 15, 30, 60)]
    assert lengths[0] == 1
    assert lengths == sorted(set(lengths))


def test_questions_tied_to_other_steps_are_not_asked() -> None:
    mine, other = (
        replace(written("mine"), steps=("E06",)),
        replace(written("other"), steps=("E40",)),
    )
    chosen = choose([treatment("a", mine, other)], ("E06",), 60, "s")
    assert [pattern.key for _, pattern in chosen] == ["mine"]


def test_wrong_options_are_computed_lettered_and_never_the_right_answer() -> None:
    equal_frets = replace(FRET, given={"scale_length": "{scale}", "fret": "6"})
    pattern = fret_pattern(
        wrong=(
            WrongOption(
                "counts from the saddle", computed=replace(FRET, given={**FRET.given, "fret": "12"})
            ),
            WrongOption("thinks frets are equally spaced", computed=equal_frets),
            WrongOption("takes the whole string", text="{scale}"),
        )
    )
    document = generate(request(treatment("frets", pattern)))
    (question,) = [b for b in document.blocks if isinstance(b, QuestionBlock)]
    (answer,) = document.answers
    assert len(question.choices) == 3
    assert question.choices["ABC".index(answer.letter)] == answer.text == "324\u2009mm"
    # 648 − 648 / 2^(6/12) = 189.795 mm, worked out here.
    assert ("189.795\u2009mm", "thinks frets are equally spaced") in answer.reveals
    assert all(text != answer.text for text, _ in answer.reveals)


def test_measure_then_compare_asks_for_raw_readings_and_fixes_no_number() -> None:
    document = generate(request(treatment("frets", fret_pattern(measure_then_compare=True))))
    (question,) = [b for b in document.blocks if isinstance(b, QuestionBlock)]
    assert question.readings is not None
    assert question.readings.rows == (("Scale length", "648 mm", None),)
    (answer,) = document.answers
    assert answer.low is None
    assert answer.high is None
    assert "own readings" in answer.note


def test_the_key_works_each_answer_with_the_substituted_numbers() -> None:
    document = generate(request(treatment("frets", fret_pattern("5"))))
    key = answer_key(document)
    (answer,) = [block for block in key.blocks if isinstance(block, Answer)]
    lines = [step.formula.typst for step in answer.steps if step.formula]
    assert any("648" in line and "frac(5, 12)" in line for line in lines)
    # 648 − 648 / 2^(5/12) = 162.549 mm, worked out here.
    assert any("162.549" in line for line in lines)
    assert all(step.formula.words for step in answer.steps if step.formula)
    assert "seed A17" in " ".join(getattr(block, "text", "") for block in key.blocks)


def test_the_worked_example_uses_this_instrument_and_never_a_questions_answer() -> None:
    for fret in ("1", "12"):
        document = generate(
            request(treatment("frets", fret_pattern(fret), calculator="fret-positions"))
        )
        (example,) = [b for b in document.blocks if isinstance(b, WorkedExample)]
        lines = " ".join(step.formula.typst for step in example.steps if step.formula)
        assert document.answers[0].text.split("\u2009")[0] not in lines
        # 648 − 648 / 2^(1/12) = 36.37 mm would be the answer to the question on fret 1.
        assert ("648" in lines) is (fret == "12")


def test_a_sheet_has_its_blocks_in_teaching_order() -> None:
    caution = StepHazard(
        "S1", "Saw the slots", ("Fingers stay behind the fence.",), ("eye protection",), "check-in"
    )
    document = generate(
        request(
            treatment("frets", fret_pattern(), calculator="fret-positions"),
            cautions=(caution,),
            section="Period 3",
            date=dt.date(2027, 2, 9),
        )
    )
    kinds = list(dict.fromkeys(type(block) for block in document.blocks))
    order = [Title, Goal, Caution, WorkedExample, Figure, QuestionBlock, ExitQuestion]
    assert [kind for kind in kinds if kind in order] == order
    head = document.blocks[0]
    assert isinstance(head, Title)
    assert head.date == "Tuesday 9 February 2027"


def test_hazards_share_one_box_that_ends_with_the_deferral_line() -> None:
    steps = (
        StepHazard("S1", "Saw", ("Fingers clear.",), ("eyes",), "check-in", ("a",)),
        StepHazard("S2", "Drill", ("Clamp the work.", "No gloves"), ("eyes", "dust"), "in sight"),
        StepHazard("S3", "Bore", ("Clamp the work", "No gloves"), (), "in sight"),
        StepHazard("S4", "Sort", (), (), ""),
    )
    document = generate(request(treatment("why", written("a")), cautions=steps))
    (box,) = [block for block in document.blocks if isinstance(block, Caution)]
    assert box.hazards == ("Fingers clear (S1)", "Clamp the work (S2, S3)", "No gloves (S2, S3)")
    assert box.supervision == "check-in: S1; in sight: S2, S3"
    assert box.protection == ("eyes", "dust")
    assert box.deferral == DEFERRAL


def test_the_pictured_version_starts_the_sentences_and_shows_the_steps() -> None:
    pool = (treatment("frets", fret_pattern()), treatment("why", written("a")))
    plain = generate(request(*pool))
    pictured = generate(request(*pool, version="pictured"))
    questions = [b for b in pictured.blocks if isinstance(b, QuestionBlock)]
    assert all(question.starter for question in questions)
    assert not any(b.starter for b in plain.blocks if isinstance(b, QuestionBlock))
    assert any(isinstance(b, Figure) and "tick" in b.alternative for b in pictured.blocks)
    assert pictured.answers == plain.answers


def test_the_large_version_describes_its_figures_in_print() -> None:
    pool = treatment("frets", fret_pattern(), calculator="fret-positions")
    figures = [b for b in generate(request(pool, version="large")).blocks if isinstance(b, Figure)]
    assert figures
    assert all(figure.described for figure in figures)


def test_answers_stand_beside_the_blocks_and_not_in_them() -> None:
    document = generate(
        request(treatment("frets", fret_pattern("5")), treatment("w", written("a")))
    )
    assert "162.5" in document.answers[0].text
    assert "162.5" not in repr(document.blocks)
    assert "Because." not in repr(document.blocks)


@pytest.mark.parametrize("typst", ['#read("x")', 'std.read("x")', "x = #sys.inputs"])
def test_a_formula_cannot_reach_beyond_mathematics(typst: str) -> None:
    with pytest.raises(ValueError, match="mathematics only"):
        Formula(typst, "words")


def test_a_formula_and_a_figure_need_their_words() -> None:
    with pytest.raises(ValueError, match="in words"):
        Formula("x", " ")
    with pytest.raises(ValueError, match="what to see"):
        Figure(measuring_bar(), "")


def test_a_drawing_wider_than_both_papers_is_refused() -> None:
    with pytest.raises(ValueError, match="smaller scale"):
        Figure(Sheet(200, 20, ()), "Too wide.")


def test_a_row_too_short_for_its_table_is_refused() -> None:
    with pytest.raises(ValueError, match="needs 2 cells"):
        Table(("a", "b"), (("1",),))


def test_a_document_without_a_title_is_refused() -> None:
    with pytest.raises(ValueError, match="title"):
        Document(" ", ())


# Read aloud as a teacher would, from memory.
@pytest.mark.parametrize(
    ("typst", "words"),
    [
        ("f = frac(1, 2 L)", "f equals 1 over 2 L"),
        ("v = sqrt(frac(T, mu))", "v equals the square root of T over mu"),
        ("x_n = L - 3", "x sub n equals L minus 3"),
        ("r = root(12, 2)", "r equals root 12 of 2"),
        ('d = 324 thin "mm"', "d equals 324 mm"),
        ("macron(x) = frac(1, n) sum x_i", "x bar equals 1 over n the sum of x sub i"),
        (
            "P = sum_(i=0)^s binom(n, i) >= c",
            "P equals the sum from i equals 0 to s of n choose i is at least c",
        ),
        ("A = sum_i b_i", "A equals the sum over i of b sub i"),
        (
            "g = frac(W - m, N - 1) + 2",
            "g equals the fraction W minus m over N minus 1, end of fraction, plus 2",
        ),
        (
            "r = sqrt(a^2 + b^2)",
            "r equals the square root of a to the power 2 plus b to the power 2, end of root",
        ),
    ],
)
def test_formulas_are_read_aloud(typst: str, words: str) -> None:
    assert spoken(typst) == words


def long_request(**changes: object) -> WorksheetRequest:
    """Two concepts with much to say and to answer: far more than two pages."""
    treatments = tuple(
        TreatmentFacts(
            key,
            key.title(),
            f"I can explain {key}.",
            "Every fret takes the same share of what is left of the string. " * 12,
            calculator="fret-positions",
            patterns=tuple(
                Pattern(f"{key}{n}", "Say why. " * 30, written="Because.", space_lines=10)
                for n in range(3)
            ),
        )
        for key in ("frets", "waves")
    )
    return WorksheetRequest("Neck", "1", treatments, quantities=(SCALE,), minutes=25, **changes)  # type: ignore[arg-type]


def _open_lines(document: Document) -> int:
    return sum(block.space_lines for block in document.blocks if isinstance(block, QuestionBlock))


def test_a_sheet_of_25_minutes_keeps_to_two_pages_as_far_as_can_be_told() -> None:
    sheet = generate(long_request())
    full = generate(replace(long_request(), room=RoomFacts()))

    assert page_count(full.blocks) > 2
    assert page_count(sheet.blocks) == 2
    assert [a.prompt for a in sheet.answers] == [a.prompt for a in full.answers]
    assert _open_lines(sheet) < _open_lines(full)
    assert _open_lines(generate(replace(long_request(), version="large"))) == _open_lines(full)


def test_lines_set_by_hand_stay_as_they_are() -> None:
    request = long_request()
    items = tuple(Item(t.concept, p) for t in request.treatments for p in t.patterns)

    by_hand = generate(replace(request, items=items))

    assert _open_lines(by_hand) == 10 * len(items)


def test_every_sheet_of_a_class_set_has_the_same_parts() -> None:
    names = ("A", "B" * 90)
    holders = [
        Holder(code, (replace(SCALE, measured="25 1/2 in"),), n) for n, code in enumerate(names)
    ]

    one, two = class_set(long_request(), holders)

    assert [type(block) for block in one.blocks] == [type(block) for block in two.blocks]
    assert _open_lines(one) == _open_lines(two)


def _steps_of_example(key: str) -> list[str]:
    """The lines of the worked example on a sheet whose treatment uses a calculator."""
    lines = worked_example(calculate(key, dict(CATALOGUE[key].example.given))).steps
    return [line.formula.typst if line.formula else line.text for line in lines]


def test_a_worked_mean_adds_the_readings_up_and_divides_by_how_many() -> None:
    # By hand: 218.4 over 6 is 36.4.
    assert _steps_of_example("measurement-statistics") == [
        "Readings, in the order taken: 36.4; 36.3; 36.5; 36.4; 36.2; 36.6",
        "macron(x) = frac(1, n) sum x_i",
        "macron(x) = frac(1, 6) dot.op (36.4 + 36.3 + 36.5 + 36.4 + 36.2 + 36.6)",
        "macron(x) = 36.4",
    ]


def test_board_feet_are_worked_in_inches_and_feet() -> None:
    # By hand: 1 x 3 x 8 / 12 is 2 board feet.
    lines = _steps_of_example("board-measure")
    assert 't = 1 thin "in"' in lines
    assert 'l = 8 thin "ft"' in lines
    assert lines[-1] == 'V = 2 thin "bd ft"'


def test_everything_an_example_was_given_stands_above_its_working() -> None:
    lines = _steps_of_example("spares")
    assert lines[:3] == ["n = 2", "q = 10 %", "c = 95 %"]
