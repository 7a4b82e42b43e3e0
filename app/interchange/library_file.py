"""The one schema of library files: workshop, build, concept, framework, and a package of them.

Read from TOML and JSON alike. Every mistake of a file is reported at once.
"""

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from app.domain.papers.safety_pictures import PICTURES
from app.domain.quantities import parse

SCHEMA_VERSION = 1

Key = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9]+([.-][A-Za-z0-9]+)*$", max_length=80)]
QuantityKey = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
GradeBand = Literal["3-5", "6-8", "9-12", "college"]
HazardClass = Literal["desk", "hand", "edge", "machine", "severe-machine", "heat", "chemical"]
Supervision = Literal["in-room", "check-in", "line-of-sight", "at-the-machine", "adult-only"]
Protection = Literal["eyes", "hearing", "dust", "gloves", "heat-gloves"]


class LibraryEntry(BaseModel):
    """A part of a library file: unknown names are mistakes, values do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class Span(LibraryEntry):
    """Low, typical and high of an estimate."""

    low: float = Field(ge=0)
    typical: float = Field(ge=0)
    high: float = Field(ge=0)

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.low <= self.typical <= self.high:
            message = (
                f"low, typical and high must rise, not {self.low}, {self.typical}, {self.high}"
            )
            raise ValueError(message)
        return self


class SourcedCaution(LibraryEntry):
    """A caution with the hazard in words and, where there is one, its published source."""

    text: Text
    source: str = "common practice, no source"


class StationTypeEntry(LibraryEntry):
    key: Key
    title: Text
    places: int = Field(ge=0, description="usual places in a room of 24-26 students")
    hazard_class: HazardClass
    supervision: Supervision
    zone: str | None = Field(None, description="stations one adult can watch together")
    permit: Key | None = None
    substitute_safe: bool
    adult_only: bool = False
    level_dba: float | None = Field(None, ge=0, le=140)


class FixtureTypeEntry(LibraryEntry):
    key: Key
    title: Text
    count: int = Field(ge=0)


class PermitTypeEntry(LibraryEntry):
    key: Key
    title: Text
    renew_after_days: int | None = Field(None, ge=1)


class MaterialEntry(LibraryEntry):
    key: Key
    title: Text
    unit: Text
    cost_low: float = Field(ge=0)
    cost_high: float = Field(ge=0)
    currency: Literal["USD"] = "USD"
    lead_days_low: int = Field(ge=0)
    lead_days_high: int = Field(ge=0)
    loss_rate: float = Field(ge=0, le=1, description="chance that one team spoils or lacks it")
    category: Text
    note: str = ""
    lowest_grade: int | None = Field(None, ge=0, le=16, description="not to be used below")
    pack_size: float = Field(1, gt=0, description="units in the smallest pack that is sold")


class Workshop(LibraryEntry):
    """Stations, fixtures, permits and materials that builds refer to."""

    kind: Literal["workshop"]
    schema_version: Literal[1]
    key: Key
    title: Text
    stations: list[StationTypeEntry] = []
    fixtures: list[FixtureTypeEntry] = []
    permits: list[PermitTypeEntry] = []
    materials: list[MaterialEntry] = []


class HoldEntry(LibraryEntry):
    """A fixture that stays taken after the step, for hours or until another step ends."""

    fixture: Key
    count: int = Field(ge=1)
    hours: float | None = Field(None, ge=0)
    until_step: Key | None = None


class DryingEntry(LibraryEntry):
    """Elapsed hours before a successor may start. An estimate: the label overrides it."""

    hours: Span
    what: Text
    conditions: str = ""


class QualityCheck(LibraryEntry):
    """A measurement with a nominal and a tolerance that ends a step."""

    what: Text
    quantity: QuantityKey | None = Field(None, description="the instrument quantity it records")
    nominal: str = ""
    tolerance: str = ""
    unit: str = ""
    measure_with: str = ""
    record_as: str = ""
    if_out: str = ""
    minimum: float | None = None
    maximum: float | None = None
    maximum_absolute: float | None = None
    percent_of_predicted: float | None = None


class StepMaterialEntry(LibraryEntry):
    material: Key
    quantity: float = Field(gt=0)
    per: Literal["instrument", "student", "class"] = "instrument"


class ExposureEntry(LibraryEntry):
    """What this step shows of a concept and which reading or value it yields."""

    concept: Key
    shows: Text
    reading: str = ""
    quantity: QuantityKey | None = None


class ReadyMadeEntry(LibraryEntry):
    """The step done by an adult outside class, bought ready or left out, and what is given up."""

    by: Literal["adult", "supplied", "left-out"]
    adult_minutes: float = Field(0, ge=0)
    cost: float = Field(0, ge=0)
    loses: Text


class StepEntry(LibraryEntry):
    key: Key
    title: Text
    purpose: Text
    minutes: Span
    minutes_per: Literal["team", "student", "instrument"] = "team"
    hands: int = Field(2, ge=1)
    one_sitting: bool = False
    minimum_sitting: float = Field(10, ge=0)
    whole_class: bool = False
    station: Key
    places: int = Field(1, ge=0)
    outside_class: bool = False
    drying: DryingEntry | None = None
    holds: list[HoldEntry] = []
    hazard_class: HazardClass
    hazards: list[str] = []
    cautions: list[SourcedCaution] = []
    protection: list[Protection] = []
    supervision: Supervision
    permit: Key | None = None
    grants: list[Key] = []
    substitute_safe: bool = False
    hold_point: bool = False
    after: list[Key] = []
    tools: list[str] = []
    materials: list[StepMaterialEntry] = []
    check: QualityCheck | None = None
    exposures: list[ExposureEntry] = []
    ready_made: list[ReadyMadeEntry] = []
    catch_up: str = ""


class PhaseEntry(LibraryEntry):
    key: Key
    title: Text
    summary: str = ""
    milestone: str = Field("", description="what is in the hand when the phase is done")
    steps: list[StepEntry]


class NominalQuantity(LibraryEntry):
    """An instrument quantity's nominal value, with its unit: '648 mm', '22', 'E2'."""

    key: QuantityKey
    title: Text
    nominal: Text
    note: str = ""


class InstrumentString(LibraryEntry):
    """One string, thickest first: note, diameter and, for a wound string, its unit weight."""

    note: Text
    diameter: Text
    unit_weight: str | None = None
    material: Literal["steel", "wound-steel", "nylon", "wound-nylon"] = "steel"


class BlankEntry(LibraryEntry):
    """A wooden part as it is cut from a board: finished size, and what is added for machining.

    `along` is the edge that lies along the board's grain; "any" where the grain does not matter.
    """

    key: Key
    title: Text
    count: int = Field(1, ge=1, le=200, description="pieces for one instrument")
    length: Text = Field(description="finished, with its unit")
    width: Text
    thickness: Text
    length_allowance: Text = "0 mm"
    width_allowance: Text = "0 mm"
    thickness_allowance: Text = "0 mm"
    along: Literal["length", "width", "any"] = "length"
    species: str = Field("", description="wood it must come from; empty: any")
    material: Key | None = Field(None, description="what would be bought instead of cut")

    @model_validator(mode="after")
    def _sizes_can_be_read(self) -> Self:
        for name in ("length", "width", "thickness"):
            parse(getattr(self, name), "length", name=f"The {name}")
            parse(getattr(self, f"{name}_allowance"), "length", name=f"The {name} allowance")
        return self


class NoTreatment(LibraryEntry):
    """Why a phase has no treatment at a grade band."""

    phase: Key
    band: GradeBand
    reason: Text


class BuildEntry(LibraryEntry):
    kind: Literal["build"]
    schema_version: Literal[1]
    key: Key
    title: Text
    version: Text = "1"
    summary: Text
    band: GradeBand = Field(description="the band it is first meant for")
    team_size: int = Field(2, ge=1, le=6)
    currency: Literal["USD"] = "USD"
    note: str = ""
    quantities: list[NominalQuantity] = []
    strings: list[InstrumentString] = []
    phases: list[PhaseEntry]
    no_treatment: list[NoTreatment] = []
    blanks: list[BlankEntry] = []

    @model_validator(mode="after")
    def _blanks_once(self) -> Self:
        keys = [blank.key for blank in self.blanks]
        if twice := sorted({key for key in keys if keys.count(key) > 1}):
            raise ValueError(f"blanks: {', '.join(twice)} stands twice; keep one")
        return self

    @property
    def steps(self) -> list[StepEntry]:
        return [step for phase in self.phases for step in phase.steps]


class Word(LibraryEntry):
    term: Text
    meaning: Text


class ParameterEntry(LibraryEntry):
    """A value in a question: the team's own quantity, a choice, or a range with a step."""

    quantity: QuantityKey | None = Field(None, description="an instrument quantity of the build")
    choose: list[str | float] = []
    low: float | None = None
    high: float | None = None
    step: float | None = Field(None, gt=0)
    unit: str = ""

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        has_range = self.low is not None and self.high is not None and self.step is not None
        if self.quantity is None and not self.choose and not has_range:
            raise ValueError("give `quantity`, `choose`, or `low`, `high` and `step`")
        if has_range and self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("`low` must not lie above `high`")
        return self


class ComputedAnswer(LibraryEntry):
    """An answer one calculator computes. `given` maps its quantities to parameters or values."""

    calculator: Key
    given: dict[QuantityKey, str] = Field(
        {}, description="calculator quantity: '{parameter}' or a value with its unit"
    )
    result: QuantityKey
    unit: str = Field("", description="the unit the answer is wanted in; empty for plain numbers")
    tolerance: Text = Field(description="'0.5 mm', '1 %', 'exact'")
    digits: int = Field(3, ge=1, le=6, description="significant figures shown in the key")


class WrongAnswer(LibraryEntry):
    """A wrong option and what it reveals; computed where it is a number."""

    text: str = ""
    computed: ComputedAnswer | None = None
    misconception: Text

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not self.text and self.computed is None:
            raise ValueError("give `text` or `computed`")
        return self


class QuestionEntry(LibraryEntry):
    """A question pattern: `{name}` in the prompt stands for a parameter."""

    key: Key
    prompt: Text
    parameters: dict[QuantityKey, ParameterEntry] = {}
    computed: ComputedAnswer | None = None
    written: str = Field("", description="what a good written answer says")
    wrong: list[WrongAnswer] = []
    depth_of_knowledge: int = Field(2, ge=1, le=4)
    measure_then_compare: bool = False
    steps: list[Key] = Field([], description="the build steps it belongs to; empty: any exposure")
    space_lines: int = Field(3, ge=1, le=20)

    @model_validator(mode="after")
    def _has_an_answer(self) -> Self:
        if self.computed is None and not self.written:
            raise ValueError("give a `computed` or a `written` answer")
        return self


class AlignmentEntry(LibraryEntry):
    """Treatment to standard, with our own note about the bench step."""

    framework: Key
    code: Text
    strength: Literal["strong", "partial"]
    reason: Text
    condition: str = ""
    practice: bool = Field(
        default=False, description="a practice tag, beside content, never instead"
    )


class TreatmentEntry(LibraryEntry):
    """A concept taught at a grade band."""

    band: GradeBand
    title: Text
    minutes: int = Field(ge=5, le=90)
    goal: Text
    explanation: Text
    demonstration: Text
    vocabulary: list[Word] = []
    misconception: Text
    response: Text
    extension: str = ""
    support: str = ""
    prerequisites: list[Key] = []
    calculator: Key | None = None
    questions: list[QuestionEntry] = []
    alignments: list[AlignmentEntry] = []


class ConceptEntry(LibraryEntry):
    kind: Literal["concept"]
    schema_version: Literal[1]
    key: Key
    title: Text
    subject: Literal[
        "mathematics",
        "physics",
        "chemistry",
        "engineering",
        "statistics",
        "history",
        "geography",
        "economics",
        "communication",
    ]
    summary: Text
    treatments: list[TreatmentEntry] = []

    @model_validator(mode="after")
    def _one_per_band(self) -> Self:
        bands = [treatment.band for treatment in self.treatments]
        if len(set(bands)) != len(bands):
            raise ValueError("a concept has at most one treatment per grade band")
        return self


class FrameworkStandard(LibraryEntry):
    """An official code with its place; the statement comes only by a school's own import."""

    code: Text
    domain: str = ""
    subject: str = ""
    grade_low: Text
    grade_high: Text
    parent: str = ""
    aliases: list[str] = []
    note: str = ""


class FrameworkEntry(LibraryEntry):
    kind: Literal["framework"]
    schema_version: Literal[1]
    key: Key
    title: Text
    publisher: str = ""
    version: str = ""
    notice: str = ""
    uri: str = ""
    standards: list[FrameworkStandard]


class PracticeEntry(LibraryEntry):
    """What holds in the shop: a wrong answer of a safety test names the one it breaks."""

    key: Key
    rule: Text
    because: Text
    hazard: Literal[
        "blade",
        "rotating",
        "flying",
        "stored-energy",
        "heat",
        "electrical",
        "chemical",
        "fume",
        "dust",
        "fire",
        "noise",
        "lifting",
        "ergonomics",
        "hygiene",
        "conduct",
        "emergency",
    ]
    source: str = "common practice, no source"


class WrongAnswerEntry(LibraryEntry):
    text: Text
    breaks: Key


class SafetyItemEntry(LibraryEntry):
    """A question of a safety test: one right answer, three that break a practice each."""

    key: Key
    bands: list[GradeBand] = Field(min_length=1)
    asks: Text
    right: Text
    practice: Key
    wrong: list[WrongAnswerEntry] = Field(min_length=3, max_length=3)
    picture: str = ""

    @model_validator(mode="after")
    def _answers_differ(self) -> Self:
        texts = [self.right, *(item.text for item in self.wrong)]
        if len({text.casefold() for text in texts}) != len(texts):
            raise ValueError("two answers read the same; each must differ")
        if self.picture and self.picture not in PICTURES:
            raise ValueError(
                f"there is no picture {self.picture}; known: {', '.join(sorted(PICTURES))}"
            )
        return self


class SafetyBankEntry(LibraryEntry):
    """The questions of one sign-off's written test, with the practices they rest on."""

    kind: Literal["safety-bank"]
    schema_version: Literal[1]
    key: Key
    """The sign-off's own key."""
    title: Text
    practices: list[PracticeEntry] = []
    items: list[SafetyItemEntry]

    @model_validator(mode="after")
    def _keys_once(self) -> Self:
        for what, entries in (("practice", self.practices), ("item", self.items)):
            keys = [entry.key for entry in entries]
            twice = sorted({key for key in keys if keys.count(key) > 1})
            if twice:
                raise ValueError(f"the {what} {twice[0]} stands twice; keep one")
        return self


class Package(LibraryEntry):
    """One file that hands a build with all it needs to teachers elsewhere."""

    kind: Literal["package"]
    schema_version: Literal[1]
    title: Text
    workshop: Workshop | None = None
    builds: list[BuildEntry] = []
    concepts: list[ConceptEntry] = []
    frameworks: list[FrameworkEntry] = []


LibraryFile = Annotated[
    Workshop | BuildEntry | ConceptEntry | FrameworkEntry | SafetyBankEntry | Package,
    Field(discriminator="kind"),
]
