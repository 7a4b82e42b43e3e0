"""What the address says of a worksheet, and the documents that come of it.

Page, command line and worker all make a worksheet here, so that a class set printed
outside the request is the one the request would have printed.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

from sqlalchemy.orm import Session

from app.domain.bands import BANDS
from app.domain.papers import worksheets as sheet
from app.domain.papers.document import Document, Paper, Version
from app.models import Paper as SavedPaper
from app.models import Section
from app.store import Missing
from app.store.paper import saved_papers
from app.store.paper import worksheets as store

VERSIONS: dict[str, tuple[Version, str]] = {
    "standard": ("standard", "Standard"),
    "pictured": ("pictured", "Pictured steps and sentence starters"),
    "large": ("large", "Large print, figures described"),
}
SCOPES: tuple[sheet.Scope, ...] = ("phase", "step", "concept", "standard")
LENGTHS = (10, 15, 20, 25, 30, 40, 60)
SHORTEST, LONGEST = 5, 120
MOST_AT_ONCE = 60  # sheets that print within a few seconds; the worker makes a larger set
DEFAULT_SEED = "1"


@dataclass(frozen=True)
class Choice:
    """A worksheet as its address names it; unknown words fall back to the plain ones."""

    scope: sheet.Scope
    name: str
    band: str
    version: Version = "standard"
    minutes: int = 25
    seed: str = DEFAULT_SEED
    paper: Paper = "letter"
    team: str = ""
    per: Literal["team", "student"] = "team"
    saved: int | None = None
    now: bool = False

    @property
    def query(self) -> dict[str, Any]:
        """The parameters of the address that leads to this choice again."""
        given = {
            self.scope: self.name,
            "band": self.band,
            "version": self.version,
            "minutes": str(self.minutes),
            "seed": self.seed,
            "paper": self.paper,
            "team": self.team,
            "per": self.per,
            "saved": str(self.saved or ""),
            "values": "now" if self.now else "",
        }
        return {name: text for name, text in given.items() if text}


def read_choice(given: Mapping[str, str], section: Section) -> Choice:
    """The choice an address names. Raises Missing where it names no part of the build."""
    scope = next((word for word in SCOPES if given.get(word, "").strip()), None)
    if scope is None:
        raise Missing("choose a phase, step, concept or standard")
    band = given.get("band", "")
    length = given.get("minutes", "")
    known = length.isascii() and length.isdecimal() and SHORTEST <= int(length[:4]) <= LONGEST
    saved = given.get("saved", "")
    return Choice(
        scope=scope,
        name=given[scope].strip()[:120],
        band=band if band in BANDS else section.band,
        version=VERSIONS.get(given.get("version", ""), VERSIONS["standard"])[0],
        minutes=int(length) if known else 25,
        seed=given.get("seed", "").replace("\x00", "").strip()[:40] or DEFAULT_SEED,
        paper="a4" if given.get("paper") == "a4" else "letter",
        team=given.get("team", ""),
        per="student" if given.get("per") == "student" else "team",
        saved=int(saved) if saved.isascii() and saved.isdecimal() and len(saved) < 10 else None,
        now=given.get("values") == "now",
    )


class Worksheet:
    """A worksheet chosen: its request, for whom it can be printed, and the documents."""

    def __init__(
        self,
        session: Session,
        section: Section,
        given: Mapping[str, str],
        address: str = "",
        *,
        on: dt.date,
    ) -> None:
        self.session, self.section, self.on = session, section, on
        self.row: SavedPaper | None = None
        recipe = None
        saved = given.get("saved", "")
        if saved:
            if not (saved.isascii() and saved.isdecimal() and len(saved) < 10):
                raise Missing(f"paper {saved}")
            self.row = saved_papers.load_paper(session, section, int(saved))
            recipe = saved_papers.read_recipe(self.row)
            given = {**recipe.choice, "seed": self.row.seed, **dict(given)}
        self.choice = read_choice(given, section)
        request = store.worksheet_request(
            session,
            section,
            store.Wanted(
                scope=self.choice.scope,
                name=self.choice.name,
                seed=self.choice.seed,
                band=self.choice.band,
                minutes=self.choice.minutes,
                version=self.choice.version,
                address=address,
            ),
        )
        self.offered = request.treatments  # with all their questions, whatever a paper keeps
        if self.row is not None and recipe is not None:
            request = saved_papers.reproduced(request, self.row.title, recipe)
        self.request = request
        self.recipe = recipe

    @cached_property
    def holders(self) -> list[sheet.Holder]:
        """Teams or students; of a saved paper with the values it was saved with."""
        present = store.holders(self.session, self.section, self.choice.per, on=self.on)
        if self.recipe is None or self.choice.now or not self.recipe.holders:
            return present
        kept = {holder.number: holder.quantities for holder in self.recipe.holders}
        return [
            replace(holder, quantities=kept.get(holder.number, holder.quantities))
            for holder in present
        ]

    def one(self) -> Document:
        """The sheet for the team chosen, or for anyone. Raises WorksheetError."""
        for holder in self.holders:
            if holder.code == self.choice.team:
                return sheet.generate(sheet.for_holder(self.request, holder))
        return sheet.generate(self.request)

    @property
    def set_query(self) -> dict[str, Any]:
        """The address of the class set: whom the page shows a sheet for does not matter to it."""
        return {name: text for name, text in self.choice.query.items() if name != "team"}

    @property
    def is_large(self) -> bool:
        """Whether the class set is the worker's to make."""
        return len(self.holders) > MOST_AT_ONCE

    def class_set(self) -> list[Document]:
        """A sheet per team or student. Raises WorksheetError."""
        return sheet.class_set(self.request, self.of_a_set())

    def of_a_set(self) -> list[sheet.Holder]:
        """For whom the class set is. Raises WorksheetError where there is nobody."""
        if not self.holders:
            raise sheet.WorksheetError(
                "A class set needs teams: add students and make teams first, or print one sheet "
                "for anyone."
            )
        return self.holders

    def class_set_key(self) -> Document:
        """The one key for the class set. Raises WorksheetError."""
        if not self.holders:
            return sheet.answer_key(sheet.generate(self.request))
        return sheet.class_set_key(
            sheet.class_set(self.request, self.holders), f"Answer key: {self.request.title}"
        )

    def questions(self) -> tuple[sheet.Item, ...]:
        """The questions the sheet asks, in order. Raises WorksheetError."""
        return sheet.chosen_items(self.request)
