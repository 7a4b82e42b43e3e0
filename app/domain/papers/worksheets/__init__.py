"""Worksheets: treatments, exposures and an instrument become a document with its answers."""

from app.domain.papers.document import answer_key
from app.domain.papers.worksheets.request import (
    Computed,
    ExposureFacts,
    Holder,
    Item,
    Pattern,
    QuantityFacts,
    QuestionParameter,
    RoomFacts,
    Scope,
    TreatmentFacts,
    WorksheetError,
    WorksheetRequest,
    WrongOption,
)
from app.domain.papers.worksheets.sheet import (
    caution_blocks,
    chosen_items,
    class_set,
    class_set_key,
    example_values,
    for_holder,
    generate,
    settled,
)
from app.domain.papers.worksheets.spoken import spoken

__all__ = [
    "Computed",
    "ExposureFacts",
    "Holder",
    "Item",
    "Pattern",
    "QuantityFacts",
    "QuestionParameter",
    "RoomFacts",
    "Scope",
    "TreatmentFacts",
    "WorksheetError",
    "WorksheetRequest",
    "WrongOption",
    "answer_key",
    "caution_blocks",
    "chosen_items",
    "class_set",
    "class_set_key",
    "example_values",
    "for_holder",
    "generate",
    "settled",
    "spoken",
]
