"""What a worksheet is made from: plain frozen values, whoever loads them."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from app.domain.papers.class_plan import StepHazard
from app.domain.papers.document import Version


class WorksheetError(ValueError):
    """No sheet can be made; the message says what to change."""


@dataclass(frozen=True, slots=True)
class QuestionParameter:
    """A value in a question: the team's own quantity, a choice, or a range with a step."""

    quantity: str | None = None
    choose: tuple[str | float, ...] = ()
    low: float | None = None
    high: float | None = None
    step: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Computed:
    """An answer one calculator computes; `given` holds values or `{parameter}`."""

    calculator: str
    given: Mapping[str, str]
    result: str
    unit: str = ""
    tolerance: str = "exact"
    digits: int = 3


@dataclass(frozen=True, slots=True)
class WrongOption:
    """A wrong answer, in words or computed, and the misconception it reveals."""

    misconception: str
    text: str = ""
    computed: Computed | None = None


@dataclass(frozen=True, slots=True)
class Pattern:
    """A question pattern: `{name}` in the prompt stands for a parameter with its unit."""

    key: str
    prompt: str
    parameters: Mapping[str, QuestionParameter] = field(default_factory=dict)
    computed: Computed | None = None
    written: str = ""
    wrong: tuple[WrongOption, ...] = ()
    depth_of_knowledge: int = 2
    measure_then_compare: bool = False
    steps: tuple[str, ...] = ()
    space_lines: int = 3


@dataclass(frozen=True, slots=True)
class TreatmentFacts:
    """A concept at the sheet's grade band, with the codes its standards go by.

    `number` stands in the short address that opens the calculator; 0 has none.
    """

    concept: str
    title: str
    goal: str
    explanation: str = ""
    vocabulary: tuple[tuple[str, str], ...] = ()
    calculator: str | None = None
    patterns: tuple[Pattern, ...] = ()
    codes: tuple[str, ...] = ()
    minutes: int = 0
    number: int = 0


@dataclass(frozen=True, slots=True)
class ExposureFacts:
    """What a step shows of a concept, and the reading it yields."""

    step: str
    step_title: str
    concept: str
    shows: str
    reading: str = ""


@dataclass(frozen=True, slots=True)
class QuantityFacts:
    """A team's own quantity, with its unit: nominal, and measured where it has been."""

    key: str
    title: str
    nominal: str
    measured: str | None = None

    @property
    def best(self) -> str:
        return self.measured or self.nominal


@dataclass(frozen=True, slots=True)
class Holder:
    """Whom a sheet of a class set is for: a team or student code, with that instrument."""

    code: str
    quantities: tuple[QuantityFacts, ...] = ()
    number: int = 0


@dataclass(frozen=True, slots=True)
class Item:
    """A question the teacher chose or wrote; `concept` is empty for one of their own."""

    concept: str
    pattern: Pattern


@dataclass(frozen=True, slots=True)
class RoomFacts:
    """How much a sheet may spread, so that it stays on its pages; chosen once for a class set.

    `explained` concepts are explained at length, `examples` of them worked; `figure_mm` is
    the height a drawing may have, 0 for none; a question has at most `lines` to answer on.
    """

    explained: int = 2
    examples: int = 2
    figure_mm: float = 80.0
    lines: int = 20


Scope = Literal["phase", "step", "concept", "standard"]


@dataclass(frozen=True, slots=True)
class WorksheetRequest:
    """One sheet: for one team or student (`holder`), or for anyone where it is empty.

    `seed` with `holder` fixes every drawn value; sheets with one seed ask the same
    questions. `minutes` is the length aimed at. `other_bands` are named where this band
    has nothing to offer, nearest first. `items` are the teacher's own choice and order;
    without them questions are chosen. `address` is the public address under which a
    calculator opens with this sheet's values; empty leaves it out. `room` is chosen by
    the length where it is None.
    """

    title: str
    seed: str
    treatments: tuple[TreatmentFacts, ...]
    exposures: tuple[ExposureFacts, ...] = ()
    cautions: tuple[StepHazard, ...] = ()
    quantities: tuple[QuantityFacts, ...] = ()
    steps: tuple[str, ...] = ()
    section: str = ""
    place: str = ""
    date: dt.date | None = None
    holder: str = ""
    holder_number: int = 0
    band: str = ""
    minutes: int = 25
    version: Version = "standard"
    language: str = "en"
    other_bands: tuple[str, ...] = ()
    items: tuple[Item, ...] = ()
    address: str = ""
    room: RoomFacts | None = None
