"""Saved worksheets: the teacher's own choice of questions, with everything that prints it again.

The recipe keeps each question whole, what is taught beside them, and the values of each
instrument as they were, so that neither a changed library nor a later reading changes the
paper. Cautions alone are those of the day it is printed on.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.papers import worksheets as sheet
from app.models import Paper, Section, User
from app.store import sections
from app.store.missing import Missing

WORKSHEET = "worksheet"


@dataclass(frozen=True)
class Taught:
    """What a saved worksheet says beside its questions, and how far it spreads.

    `quantities` are those of a sheet for anyone; empty takes the build's own.
    """

    treatments: tuple[sheet.TreatmentFacts, ...]
    exposures: tuple[sheet.ExposureFacts, ...]
    steps: tuple[str, ...]
    room: sheet.RoomFacts
    quantities: tuple[sheet.QuantityFacts, ...] = ()


@dataclass(frozen=True)
class Recipe:
    """What makes a saved worksheet again; `choice` is what its address says besides.

    A paper without `taught` takes it from the library.
    """

    choice: Mapping[str, str]
    items: tuple[sheet.Item, ...]
    holders: tuple[sheet.Holder, ...] = ()
    taught: Taught | None = None


def taught_by(request: sheet.WorksheetRequest) -> Taught:
    """What a worksheet says beside its questions. Raises WorksheetError."""
    alike = sheet.settled(request)
    asked = {item.concept for item in request.items}
    treatments = [t for t in request.treatments if t.concept in asked] or request.treatments[:2]
    return Taught(
        treatments=tuple(replace(treatment, patterns=()) for treatment in treatments),
        exposures=tuple(
            e for e in request.exposures if e.concept in {t.concept for t in treatments}
        ),
        steps=request.steps,
        room=alike.room or sheet.RoomFacts(),
        quantities=request.quantities,
    )


def reproduced(
    request: sheet.WorksheetRequest, title: str, recipe: Recipe
) -> sheet.WorksheetRequest:
    """The request that prints a saved worksheet again, over today's for its cautions."""
    kept = recipe.taught
    if kept is None:
        return replace(request, title=title, items=recipe.items)
    return replace(
        request,
        title=title,
        items=recipe.items,
        treatments=kept.treatments,
        exposures=kept.exposures,
        steps=kept.steps,
        room=kept.room,
        quantities=kept.quantities or request.quantities,
    )


def list_papers(session: Session, section: Section) -> list[Paper]:
    """The saved worksheets of a section, newest first."""
    query = (
        sa.select(Paper)
        .where(Paper.section_id == section.id, Paper.kind == WORKSHEET)
        .order_by(Paper.id.desc())
    )
    return list(session.scalars(query))


def list_templates(session: Session, user: User, section: Section) -> list[Paper]:
    """Saved worksheets of the user's other sections that make the same kind of instrument."""
    ids = [
        row.id
        for row in sections.list_sections(session, user)
        if row.id != section.id and row.teacher_id == user.id and row.build.key == section.build.key
    ]
    query = (
        sa.select(Paper)
        .where(Paper.section_id.in_(ids), Paper.kind == WORKSHEET)
        .order_by(Paper.id.desc())
        .options(joinedload(Paper.section))
    )
    return list(session.scalars(query))


def load_paper(session: Session, section: Section, paper_id: int) -> Paper:
    """A saved worksheet of the section.

    Raises Missing.
    """
    row = session.get(Paper, paper_id)
    if row is None or row.section_id != section.id or row.kind != WORKSHEET:
        raise Missing(f"paper {paper_id}")
    return row


def save_paper(
    session: Session,
    section: Section,
    *,
    title: str,
    seed: str,
    recipe: Recipe,
    now: dt.datetime,
    row: Paper | None = None,
) -> Paper:
    """Save a worksheet, in the place of `row` where one is given."""
    if row is None:
        row = Paper(section_id=section.id, kind=WORKSHEET, created_at=now)
        session.add(row)
    row.title, row.seed, row.recipe = title, seed, recipe_data(recipe)
    session.flush()
    return row


def take_over(session: Session, section: Section, row: Paper, now: dt.datetime) -> Paper:
    """A saved worksheet for another section: the same questions, that section's own values."""
    recipe = read_recipe(row)
    own = replace(recipe.taught, quantities=()) if recipe.taught else None
    return save_paper(
        session,
        section,
        title=row.title,
        seed=row.seed,
        recipe=replace(recipe, holders=(), taught=own),
        now=now,
    )


def delete_paper(session: Session, row: Paper) -> None:
    """Drop a saved worksheet."""
    session.delete(row)
    session.flush()


def recipe_data(recipe: Recipe) -> dict[str, Any]:
    """A recipe as JSON values."""
    return {
        "choice": dict(recipe.choice),
        "items": [asdict(item) for item in recipe.items],
        "holders": [asdict(holder) for holder in recipe.holders],
        "taught": asdict(recipe.taught) if recipe.taught else None,
    }


def read_recipe(row: Paper) -> Recipe:
    """The recipe of a saved worksheet."""
    data = row.recipe
    return Recipe(
        choice=dict(data["choice"]),
        items=tuple(
            sheet.Item(item["concept"], pattern_value(item["pattern"])) for item in data["items"]
        ),
        holders=tuple(
            sheet.Holder(
                item["code"],
                tuple(sheet.QuantityFacts(**quantity) for quantity in item["quantities"]),
                item["number"],
            )
            for item in data["holders"]
        ),
        taught=_taught(data["taught"]) if data.get("taught") else None,
    )


def _taught(data: Mapping[str, Any]) -> Taught:
    return Taught(
        treatments=tuple(
            sheet.TreatmentFacts(
                **{
                    **item,
                    "vocabulary": tuple((word, meaning) for word, meaning in item["vocabulary"]),
                    "patterns": (),
                    "codes": _texts(item["codes"]),
                }
            )
            for item in data["treatments"]
        ),
        exposures=tuple(sheet.ExposureFacts(**item) for item in data["exposures"]),
        steps=_texts(data["steps"]),
        room=sheet.RoomFacts(**data["room"]),
        quantities=tuple(sheet.QuantityFacts(**item) for item in data["quantities"]),
    )


def pattern_value(data: Mapping[str, Any]) -> sheet.Pattern:
    """A question pattern from JSON values, of a saved paper or of the library."""
    return sheet.Pattern(
        **{
            **data,
            "parameters": {
                name: sheet.QuestionParameter(**{**given, "choose": tuple(given.get("choose", ()))})
                for name, given in data["parameters"].items()
            },
            "computed": _computed(data["computed"]),
            "wrong": tuple(
                sheet.WrongOption(item["misconception"], item["text"], _computed(item["computed"]))
                for item in data["wrong"]
            ),
            "steps": _texts(data["steps"]),
        }
    )


def _computed(given: Mapping[str, Any] | None) -> sheet.Computed | None:
    return sheet.Computed(**given) if given else None


def _texts(items: Sequence[str]) -> tuple[str, ...]:
    return tuple(items)
