"""The fields of a calculator page, made from its quantities, and the form that saves values."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from wtforms import SelectField

from app.calculators.state import AddressState, entry
from app.domain.calculators.engine.calculator import Calculator, Quantity
from app.web.fields import Form, GivenField, MultiCheckboxField

LONG = 36  # letters from which a list gets several lines


@dataclass(frozen=True)
class Field:
    """One entry: the quantity's label, unit, help, text and mistakes."""

    quantity: Quantity
    value: str
    placeholder: str
    errors: tuple[str, ...]

    @property
    def id(self) -> str:
        return f"q-{self.quantity.key}"

    @property
    def label(self) -> str:
        return self.quantity.name[:1].upper() + self.quantity.name[1:]

    @property
    def is_long(self) -> bool:
        texts = self.quantity.form in {"text", "texts", "numbers"}
        return texts and max(len(self.value), len(self.placeholder)) > LONG

    @property
    def lines(self) -> int:
        return min(8, 1 + max(len(self.value), len(self.placeholder)) // LONG)

    @property
    def help(self) -> str:
        return help_of(self.quantity)


@lru_cache(maxsize=1024)
def help_of(quantity: Quantity) -> str:
    """What may be entered: range and note."""
    words = [quantity.note] if quantity.note else []
    if quantity.low != quantity.high and abs(quantity.high) < 1e12:
        words.append(quantity.range_sentence())
    if quantity.form in {"numbers", "texts"} and not quantity.note:
        words.insert(0, "several, parted by commas")
    return "; ".join(words)


class CalculatorEntries:
    """The fields a state shows, and its mistakes where the page's summary looks for them."""

    def __init__(self, state: AddressState) -> None:
        self.fields = {field.quantity.key: field for field in _fields(state)}
        self.errors: dict[str, list[str]] = {}
        for key, sentence in state.mistakes:
            self.errors.setdefault(_place(state, key), []).append(sentence)

    def __iter__(self) -> Iterator[Field]:
        return iter(self.fields.values())

    def __getitem__(self, name: str) -> "Field | Unknown":
        return Unknown() if name == "solve" else self.fields[name]


@dataclass(frozen=True)
class Unknown:
    """The choice of the unknown, as far as a link to it goes."""

    id: str = "solve"


def _place(state: AddressState, key: str) -> str:
    """The field a mistake belongs to: an entry, the choice of the unknown, or none."""
    if key == state.unknown:
        return "solve"
    known = (q for q in state.calculator.quantities if q.key == key)
    return key if any(_is_entry(state, quantity) for quantity in known) else ""


def placed(state: AddressState) -> list[tuple[str, str]]:
    """Each mistake with the id of the field it belongs to; empty where it belongs to none."""
    places = ((_place(state, key), sentence) for key, sentence in state.mistakes)
    return [
        (f"q-{place}" if place not in {"", "solve"} else place, sentence)
        for place, sentence in places
    ]


def _fields(state: AddressState) -> Iterator[Field]:
    calculator, calculation = state.calculator, state.calculation
    used = calculation.inputs if calculation is not None else {}
    for quantity in calculator.quantities:
        if quantity.key == state.unknown or not _is_entry(state, quantity):
            continue
        default = quantity.default_si
        example = entry(quantity, default) if default is not None else ""
        text = state.given.get(quantity.key, "")
        if not text and quantity.key in used:
            text = entry(quantity, used[quantity.key])
        yield Field(
            quantity,
            text,
            "" if quantity.key in calculator.answers else example,
            tuple(sentence for key, sentence in state.mistakes if key == quantity.key),
        )


def _is_entry(state: AddressState, quantity: Quantity) -> bool:
    """Whether it can be given here: every input, and the answers that lead to the unknown."""
    calculator = state.calculator
    if quantity.key in state.given or quantity.key not in calculator.answers:
        return True
    return quantity.key in leading_to(calculator, state.unknown)


def leading_to(calculator: Calculator, unknown: str) -> set[str]:
    """The answers from which an unknown input can be found; none where it is an answer."""
    if unknown in calculator.answers:
        return set()
    keys = {answer for answer, inputs in calculator.numeric.items() if unknown in inputs}
    for relation in calculator.relations:
        if unknown in relation.formulas:
            keys |= relation.keys
    return keys & set(calculator.answers)


class SaveForm(Form):
    """Where values go, and which."""

    place = SelectField("Section and team", validators=[GivenField("Choose a section or a team.")])
    quantities = MultiCheckboxField(
        "Values to save", validators=[GivenField("Choose at least one value.")]
    )
