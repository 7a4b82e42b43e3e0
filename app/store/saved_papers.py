"""Saved worksheets: the teacher's own choice of questions, with everything that prints it again.

The recipe keeps each question whole and the values of each instrument as they were, so that
neither a changed library nor a later reading changes the paper.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain import worksheets as sheet
from app.models import Paper, Section, User
from app.store import sections
from app.store.missing import Missing

WORKSHEET = "worksheet"


@dataclass(frozen=True)
class Recipe:
    """What makes a saved worksheet again; `choice` is what its address says besides."""

    choice: Mapping[str, str]
    items: tuple[sheet.Item, ...]
    holders: tuple[sheet.Holder, ...] = ()


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
    return save_paper(
        session,
        section,
        title=row.title,
        seed=row.seed,
        recipe=Recipe(recipe.choice, recipe.items),
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
                tuple(sheet.InstrumentQuantity(**quantity) for quantity in item["quantities"]),
                item["number"],
            )
            for item in data["holders"]
        ),
    )


def pattern_value(data: Mapping[str, Any]) -> sheet.Pattern:
    """A question pattern from JSON values."""
    return sheet.Pattern(
        **{
            **data,
            "parameters": {
                name: sheet.Parameter(**{**given, "choose": tuple(given["choose"])})
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
