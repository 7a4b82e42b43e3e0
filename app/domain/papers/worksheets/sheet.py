"""A request becomes a document: goals, caution, explanation, example, questions, answers."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from app.domain.bands import BANDS
from app.domain.calculators import CATALOGUE, Calculation, InvalidInput, calculate
from app.domain.calculators.engine.calculator import Quantity, Value
from app.domain.calculators.engine.working import symbols_in, typst_value, unit_in
from app.domain.dates import long_date
from app.domain.papers.class_plan import StepHazard, merged_caution
from app.domain.papers.document import (
    Block,
    Document,
    ExitQuestion,
    Figure,
    Formula,
    Goal,
    Heading,
    Link,
    Paragraph,
    Table,
    Terms,
    Title,
    WorkedExample,
    WorkedStep,
)
from app.domain.papers.drawing import LABEL_MM, measuring_bar, on_paper
from app.domain.papers.worksheets.length import ROOMS, page_count, pages_for
from app.domain.papers.worksheets.pictured import pictured_steps
from app.domain.papers.worksheets.questions import (
    AskedQuestion,
    Asking,
    ask,
    exposure_question,
    worked_steps,
)
from app.domain.papers.worksheets.request import (
    Holder,
    Item,
    Pattern,
    QuantityFacts,
    RoomFacts,
    TreatmentFacts,
    WorksheetError,
    WorksheetRequest,
)
from app.domain.papers.worksheets.selection import choose
from app.domain.papers.worksheets.spoken import spoken
from app.domain.papers.worksheets.values import NotComputable

MINUTES_PER_CONCEPT = 8  # so that each concept is asked about twice, apart
READING_MINUTES = 3.0
EXPLAINED = 2  # concepts explained at length; a sheet is not a textbook
LARGE_LABEL_MM = 6.0
_NAMED = re.compile(r"\{([a-z][a-z_0-9]*)")
COLUMNS = 6  # questions side by side in the key of a class set
OWN = TreatmentFacts("", "your own question", "")


def generate(request: WorksheetRequest) -> Document:
    """The sheet for a request, its answers beside it. The same request, the same sheet.

    Raises WorksheetError where the band offers nothing. A question that cannot be
    answered with this instrument is left out, and `Document.notices` says so.
    """
    asked = _asked_of(request)
    taught = _taught(request, asked)
    blocks = _blocks(request, taught, asked, request.room or _room_for(request, taught, asked))
    name = f"{request.title} – {request.holder}" if request.holder else request.title
    return Document(
        title=name,
        blocks=tuple(blocks),
        language=request.language,
        seed=request.seed,
        version=request.version,
        foot=request.section,
        answers=tuple(item.answer for item in asked.items),
        notices=tuple(dict.fromkeys(asked.notices)),
    )


def _asked_of(request: WorksheetRequest) -> "_AskedAll":
    if not request.treatments and not request.items:
        raise WorksheetError(_nothing_offered(request))
    asking = Asking(
        {q.key: q for q in request.quantities}, request.seed, request.holder, request.version
    )
    return _ask_all(request, asking)


def _blocks(
    request: WorksheetRequest, taught: Sequence[TreatmentFacts], asked: "_AskedAll", room: RoomFacts
) -> list[Block]:
    """The sheet from head to foot, spread as far as the room goes."""
    blocks: list[Block] = [_title(request), *_goals(taught), *caution_blocks(request.cautions)]
    blocks += _teach(request, taught, asked, room)
    blocks += _instrument_table(asked, request.quantities)
    blocks.append(Heading("Questions"))
    if request.version == "pictured":
        blocks.append(pictured_steps())
    for item in asked.items:
        # Whoever set the lines by hand wants them as they are.
        lines = item.question.space_lines if request.items else room.lines
        blocks.append(replace(item.question, space_lines=min(item.question.space_lines, lines)))
    blocks.append(ExitQuestion(_exit_question(taught)))
    return blocks


def _room_for(
    request: WorksheetRequest, taught: Sequence[TreatmentFacts], asked: "_AskedAll"
) -> RoomFacts:
    """As much room as keeps the sheet on the pages its minutes stand for.

    Pictures, words and sentence starters take one page more; large print what it needs.
    """
    if request.version == "large":
        return ROOMS[0]
    pages = pages_for(request.minutes) + (1 if request.version == "pictured" else 0)
    tried = (room for room in ROOMS if page_count(_blocks(request, taught, asked, room)) <= pages)
    return next(tried, ROOMS[-1])


def settled(request: WorksheetRequest) -> WorksheetRequest:
    """The request with its room chosen, so that all sheets of a class set are alike.

    Raises WorksheetError where the band offers nothing.
    """
    if request.room is not None:
        return request
    asked = _asked_of(request)
    return replace(request, room=_room_for(request, _taught(request, asked), asked))


def _taught(request: WorksheetRequest, asked: "_AskedAll") -> list[TreatmentFacts]:
    """The lessons the questions belong to, the one asked about most first."""
    counts = Counter(item.concept for item in asked.chosen)
    taught = [t for t in request.treatments if t.concept in asked.concepts]
    taught.sort(key=lambda treatment: -counts[treatment.concept])
    return taught or list(request.treatments[:EXPLAINED])


def chosen_items(request: WorksheetRequest) -> tuple[Item, ...]:
    """The questions the sheet asks, in the order of its answers.

    Raises WorksheetError where the band offers nothing.
    """
    return tuple(_asked_of(request).chosen)


def class_set(
    request: WorksheetRequest,
    holders: Iterable[Holder],
) -> list[Document]:
    """One sheet per holder (team or student code), values differing, questions the same."""
    alike = settled(request)
    return [generate(for_holder(alike, holder)) for holder in holders]


def for_holder(request: WorksheetRequest, holder: Holder) -> WorksheetRequest:
    """The request with a holder's code and instrument; the sheet is as long as all others.

    Raises WorksheetError where the band offers nothing.
    """
    return replace(
        settled(request),
        holder=holder.code,
        quantities=holder.quantities,
        holder_number=holder.number,
    )


def class_set_key(documents: Sequence[Document], title: str = "Answer key: class set") -> Document:
    """One key for a class set: for each question, every holder's answer in a table."""
    if not documents:
        raise WorksheetError("a class set needs at least one sheet")
    first = documents[0]
    head = next((b for b in first.blocks if isinstance(b, Title)), Title(title))
    blocks: list[Block] = [Title(title, head.section, head.date, head.place)]
    blocks.append(Paragraph(f"For the sheets with seed {first.seed}."))
    for document in documents:
        blocks += [Paragraph(notice, label="Look at this first") for notice in document.notices]
    blocks.append(Heading("Computed answers by sheet"))
    blocks += _answers_by_sheet(documents)
    blocks.append(Heading("Worked once, with the first sheet's numbers"))
    blocks += first.answers
    return Document(
        title=title,
        blocks=tuple(blocks),
        language=first.language,
        seed=first.seed,
        paper=first.paper,
        foot=first.foot,
    )


def _answers_by_sheet(documents: Sequence[Document]) -> list[Block]:
    """A row per sheet and a column per question that has a number; six columns at most."""
    numbers = sorted(
        {a.number for document in documents for a in document.answers if a.value is not None}
    )
    if not numbers:
        return [Paragraph("No question of this set has a computed answer.")]
    tables: list[Block] = []
    for start in range(0, len(numbers), COLUMNS):
        shown = numbers[start : start + COLUMNS]
        header = ("Sheet", *(f"Question {number}" for number in shown))
        rows = tuple(
            (_holder(document), *(_answer_in_short(document, number) for number in shown))
            for document in documents
        )
        tables.append(Table(header, rows, row_headers=True))
    return tables


def _holder(document: Document) -> str:
    head = next((b for b in document.blocks if isinstance(b, Title)), None)
    return head.holder if head and head.holder else document.title


def _answer_in_short(document: Document, number: int) -> str:
    for answer in document.answers:
        if answer.number == number and answer.value is not None:
            return f"{answer.letter}: {answer.text}" if answer.letter else answer.text
    return "–"


@dataclass(slots=True)
class _AskedAll:
    """The questions of a sheet, in order, and what they use."""

    items: list[AskedQuestion] = field(default_factory=list)
    chosen: list[Item] = field(default_factory=list)
    concepts: set[str] = field(default_factory=set)
    used: set[str] = field(default_factory=set)
    tabled: set[str | None] = field(default_factory=set)
    notices: list[str] = field(default_factory=list)


def _ask_all(request: WorksheetRequest, asking: Asking) -> _AskedAll:
    """The teacher's own choice where there is one, else questions that fill the minutes."""
    if request.items:
        return _ask_items(request, asking)
    return _ask_chosen(request, asking)


def _ask_items(request: WorksheetRequest, asking: Asking) -> _AskedAll:
    """The items in the teacher's order; one that cannot be answered is left out and named."""
    asked = _AskedAll()
    by_concept = {treatment.concept: treatment for treatment in request.treatments}
    for item in request.items:
        treatment = by_concept.get(item.concept, OWN)
        try:
            _add(asked, ask(item.pattern, treatment, len(asked.items) + 1, asking), item)
        except NotComputable as reason:
            asked.notices.append(f"A question on {treatment.title} is left out: {reason}.")
            continue
        asked.concepts |= {treatment.concept} - {""}
    if not asked.items:
        raise WorksheetError(
            "None of the chosen questions can be answered with this instrument. "
            + " ".join(asked.notices)
        )
    return asked


def _add(asked: _AskedAll, filled_in: AskedQuestion, item: Item) -> None:
    asked.items.append(filled_in)
    asked.chosen.append(item)
    asked.used |= {p.quantity for p in item.pattern.parameters.values() if p.quantity}
    if filled_in.question.readings:
        asked.tabled |= {row[0] for row in filled_in.question.readings.rows}
    asked.notices += filled_in.notices


def _ask_chosen(request: WorksheetRequest, asking: Asking) -> _AskedAll:
    """Choose and fill in; a pattern that cannot be answered is left out and chosen anew."""
    treatments = _treatments_for(request)
    refused: list[str] = []
    while True:
        asked = _AskedAll(notices=list(refused))
        unanswerable = None
        chosen = choose(treatments, request.steps, request.minutes - READING_MINUTES, request.seed)
        for treatment, pattern in chosen:
            try:
                item = ask(pattern, treatment, len(asked.items) + 1, asking)
            except NotComputable as reason:
                refused.append(f"A question on {treatment.title} is left out: {reason}.")
                unanswerable = pattern
                break
            _add(asked, item, Item(treatment.concept, pattern))
            asked.concepts.add(treatment.concept)
        if unanswerable is None:
            break
        treatments = _without(treatments, unanswerable)
    if not asked.items:
        _ask_exposures(request, asking, asked)
    return asked


def _treatments_for(request: WorksheetRequest) -> tuple[TreatmentFacts, ...]:
    """As many concepts as the minutes carry, those with questions first."""
    count = max(2, request.minutes // MINUTES_PER_CONCEPT)
    with_questions = [t for t in request.treatments if t.patterns]
    return tuple(with_questions[:count])


def _without(treatments: Iterable[TreatmentFacts], pattern: Pattern) -> tuple[TreatmentFacts, ...]:
    return tuple(
        replace(t, patterns=tuple(p for p in t.patterns if p.key != pattern.key))
        for t in treatments
    )


def _ask_exposures(request: WorksheetRequest, asking: Asking, asked: _AskedAll) -> None:
    """Where no pattern can be asked: what the bench steps show of each concept."""
    by_concept = {treatment.concept: treatment for treatment in request.treatments}
    for exposure in request.exposures:
        treatment = by_concept.get(exposure.concept)
        if treatment and treatment.concept not in asked.concepts:
            question = exposure_question(exposure, treatment, len(asked.items) + 1, asking)
            answer = question.answer
            pattern = Pattern(answer.question_key, answer.prompt, written=answer.text)
            _add(asked, question, Item(treatment.concept, pattern))
            asked.concepts.add(treatment.concept)
        if len(asked.items) * 4 >= request.minutes - READING_MINUTES:
            break
    if not asked.items:
        raise WorksheetError(
            "None of the questions for this part of the build can be answered with this "
            "instrument. " + " ".join(asked.notices)
        )


def _nothing_offered(request: WorksheetRequest) -> str:
    band = f" at grade band {request.band}" if request.band else ""
    sentence = f"There is no lesson for “{request.place or request.title}”{band}"
    if request.other_bands:
        return f"{sentence}; the nearest is {BANDS[request.other_bands[0]]}: choose that band."
    return f"{sentence}: choose another phase, step or concept."


def _title(request: WorksheetRequest) -> Title:
    return Title(
        request.title,
        section=request.section,
        date=long_date(request.date) if request.date else "",
        place=request.place,
        holder=request.holder,
        name_line=True,
    )


def _goals(taught: Iterable[TreatmentFacts]) -> list[Block]:
    return [Goal(treatment.goal, treatment.codes) for treatment in taught]


def caution_blocks(cautions: Iterable[StepHazard]) -> list[Block]:
    """One box for all hazardous steps of a paper; none where no step is hazardous."""
    hazardous = [caution for caution in cautions if caution.hazards]
    return [merged_caution(hazardous)] if hazardous else []


def _teach(
    request: WorksheetRequest, taught: Sequence[TreatmentFacts], asked: _AskedAll, room: RoomFacts
) -> list[Block]:
    """Short explanation, bench step, formula with this instrument's numbers, figure."""
    blocks: list[Block] = []
    answers = {item.answer.text for item in asked.items}
    examples = figures = 0
    for treatment in taught[: room.explained]:
        blocks.append(Heading(treatment.title))
        if treatment.explanation:
            blocks.append(Paragraph(treatment.explanation.strip().split("\n\n")[0]))
        blocks += _link(request, treatment)
        blocks += [
            Paragraph(f"{exposure.step_title}: {exposure.shows.rstrip('.')}.", label="At the bench")
            for exposure in request.exposures
            if exposure.concept == treatment.concept
        ][:1]
        calculation = None
        if examples < room.examples:
            calculation = _example(treatment, request.quantities, answers)
        if calculation is not None:
            examples += 1
            blocks.append(worked_example(calculation))
            if calculation.drawing is not None and not figures and room.figure_mm:
                figures += 1
                blocks += _figure(calculation, request.version, room.figure_mm)
        if request.version == "pictured" and treatment.vocabulary:
            blocks.append(Terms(treatment.vocabulary))
    return blocks


def _link(request: WorksheetRequest, treatment: TreatmentFacts) -> list[Block]:
    """Where the calculator opens with this sheet's values, once there is a public address."""
    calculator = CATALOGUE.get(treatment.calculator or "")
    if not request.address or not treatment.number or calculator is None:
        return []
    address = f"{request.address}/{request.holder_number}/{treatment.number}"
    return [
        Link(
            f"Open “{calculator.title}” with the values of this sheet; no sign-in is needed.",
            address,
        )
    ]


def example_values(
    treatment: TreatmentFacts, quantities: Iterable[QuantityFacts]
) -> dict[str, str]:
    """What the treatment's calculator is given on a sheet with these quantities; {} for none.

    A value the calculator refuses gives way to the nominal, then to its own example.
    """
    for given, _ in _examples(treatment, quantities):
        return {
            key: value if isinstance(value, str) else f"{value}" for key, value in given.items()
        }
    return {}


def _example(
    treatment: TreatmentFacts, quantities: Iterable[QuantityFacts], answers: set[str]
) -> Calculation | None:
    """The treatment's calculator with this instrument's values, never a question's answer."""
    for _, calculation in _examples(treatment, quantities):
        if calculation.steps and calculation.si[calculation.solve_for] not in answers:
            return calculation
    return None


def _examples(
    treatment: TreatmentFacts, quantities: Iterable[QuantityFacts]
) -> Iterator[tuple[Mapping[str, object], Calculation]]:
    if treatment.calculator is None or treatment.calculator not in CATALOGUE:
        return
    calculator = CATALOGUE[treatment.calculator]
    example = calculator.example
    taken = {q.key for q in calculator.quantities} & set(example.given)
    own = [quantity for quantity in quantities if quantity.key in taken]
    for given in (
        {**example.given, **{q.key: q.best for q in own}},
        {**example.given, **{q.key: q.nominal for q in own}},
        dict(example.given),
    ):
        try:
            yield given, calculate(treatment.calculator, given, example.solve_for)
        except InvalidInput:
            continue


def worked_example(calculation: Calculation) -> WorkedExample:
    """What was given, and the working line by line."""
    calculator = CATALOGUE[calculation.key]
    asked_for = calculator.quantity(calculation.solve_for)
    forms, values = " ".join(_forms(calculation)), calculation.values
    needed = set(_NAMED.findall(forms)) - {calculation.solve_for} or set(calculator.example.given)
    given = [
        _given_line(calculator.quantity(key), values[key], calculation.si[key], forms)
        for key in dict.fromkeys((*calculation.inputs, *calculator.example.given))
        if key in needed and key in calculation.si
    ]
    title = f"Worked example: {asked_for.name}"
    return WorkedExample(title, (*given, *worked_steps(calculation.steps)))


def _forms(calculation: Calculation) -> list[str]:
    """The display forms that the working goes through."""
    calculator = CATALOGUE[calculation.key]
    lines = {step.formula for step in calculation.steps}
    return [
        form
        for formulas in (*(r.formulas for r in calculator.relations), calculator.formulas)
        for form in formulas.values()
        if symbols_in(calculator, form) in lines
    ]


def _given_line(quantity: Quantity, value: Value, shown: str, forms: str) -> WorkedStep:
    name = quantity.name[:1].upper() + quantity.name[1:]
    if not isinstance(value, (int, float)):
        return WorkedStep(f"{name}: {shown}")
    formula = f"{quantity.symbol} = {typst_value(value, quantity, unit_in(forms, quantity))}"
    return WorkedStep(name, Formula(formula, spoken(formula)), inline=True)


def _figure(calculation: Calculation, version: str, height_mm: float) -> list[Block]:
    picture = calculation.drawing
    if picture is None:
        return []
    large = version == "large"
    try:
        label_mm = LARGE_LABEL_MM if large else LABEL_MM
        sheet = on_paper(picture, height_mm=height_mm, label_mm=label_mm)
    except ValueError:
        return []  # nothing drawn that fits: the sheet stands without it
    blocks: list[Block] = [Figure(sheet, picture.description, picture.title, described=large)]
    if sheet.scale.startswith("1 : 1"):
        blocks.append(Figure(measuring_bar(), "A bar 100 millimetres long, to check the print."))
    return blocks


def _instrument_table(asked: _AskedAll, quantities: Iterable[QuantityFacts]) -> list[Block]:
    """What the instrument is, less what a question asks to be measured in a table of its own."""
    rows = tuple(
        (q.title, q.nominal, q.measured)
        for q in quantities
        if q.key in asked.used and q.title not in asked.tabled
    )
    if not rows:
        return []
    return [Table(("Your instrument", "Nominal", "Measured"), rows, row_headers=True)]


def _exit_question(taught: Sequence[TreatmentFacts]) -> str:
    subject = taught[0].title if taught else "today's idea"
    return (
        f"Where on your own instrument did you meet “{subject}”? "
        "Name one number you measured or worked out there, with its unit."
    )
