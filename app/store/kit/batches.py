"""Several sections prepared in one run: their kit lists, adult machining and wooden parts."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.cautions import HAZARDOUS
from app.domain.kit import board_cutting, kit_batches
from app.domain.kit.kit_quantities import USUAL_ASSURANCE, WorkEvent, kit_list
from app.models import Section, Step, Team
from app.store import sections
from app.store.kit import kits, racks
from app.store.paper import papers


def batch(
    session: Session,
    chosen: Sequence[Section],
    *,
    today: dt.date | None = None,
    assurance: float = USUAL_ASSURANCE,
) -> kit_batches.Batch:
    """Several sections in one run, on the stock of all their rooms.

    Raises KitError with a sentence where none is chosen or build versions differ.
    """
    steps = {
        build_id: sections.load_steps(session, build_id)
        for build_id in {section.build_id for section in chosen}
    }
    classes = [
        _batch_class(session, section, steps[section.build_id], today, assurance)
        for section in chosen
    ]
    on_hand: dict[str, float] = defaultdict(float)
    for room in {section.room_id: section.room for section in chosen}.values():
        for key, row in kits.stock_of(session, room).items():
            on_hand[key] += row.quantity
    return kit_batches.batch_of(classes, on_hand, assurance)


def batch_blanks(
    chosen: Sequence[Section], found: kit_batches.Batch
) -> list[board_cutting.PartBlank]:
    """The wooden parts of a batch, those alike counted together."""
    return racks.merged_blanks(
        racks.blanks_of(section.build, item.kit, len(item.teams))
        for section, item in zip(chosen, found.classes, strict=True)
    )


def _batch_class(
    session: Session,
    section: Section,
    steps: Sequence[Step],
    today: dt.date | None,
    assurance: float,
) -> kit_batches.BatchClass:
    past = kits.past_of(session, section)
    needed = kits.first_dates(session, section, steps, past)
    buying = kits.purchasing(section, today)
    kit = kit_list(
        kits.bill_of(session, steps, needed),
        kits.class_size(session, section),
        None,
        buying,
        assurance,
        past,
    )
    teams = tuple(
        session.scalars(
            sa.select(Team.code).where(Team.section_id == section.id).order_by(Team.code)
        )
    )
    return kit_batches.BatchClass(
        key=section.key,
        title=section.title,
        build=section.build.key,
        build_title=section.build.title,
        version=section.build.version,
        teams=teams,
        kit=kit,
        purchasing=buying,
        adult_tasks=tuple(_adult_tasks(section, steps, teams, past, needed)),
        ready_made=tuple(_bought(section, steps, teams, needed)),
    )


def _adult_tasks(
    section: Section,
    steps: Sequence[Step],
    teams: Sequence[str],
    past: Sequence[WorkEvent],
    needed: Mapping[str, dt.date],
) -> Iterator[kit_batches.AdultTask]:
    """Steps outside class, and steps that this section has an adult do; only what is not done."""
    done = Counter(event.step for event in past if not event.spoiled)
    for step in steps:
        by_adult = [way for way in step.ready_made if way["by"] == "adult"]
        chosen = step.key in section.ready_made and by_adult
        left = len(teams) - done[step.key]
        if left <= 0 or not (step.outside_class or chosen):
            continue
        minutes = by_adult[0]["adult_minutes"] if chosen else step.minutes_typical
        yield kit_batches.AdultTask(
            section=section.title,
            step=step.key,
            title=step.title,
            set_up=" and ".join(step.tools) or step.station,
            instruments=left,
            minutes_each=minutes,
            needed_on=needed.get(step.key),
            hazard=papers.hazard_of(step) if step.hazard_class in HAZARDOUS else None,
        )


def _bought(
    section: Section, steps: Sequence[Step], teams: Sequence[str], needed: Mapping[str, dt.date]
) -> Iterator[kit_batches.ReadyMadePart]:
    for step in steps:
        supplied = [way for way in step.ready_made if way["by"] == "supplied"]
        by_adult = [way for way in step.ready_made if way["by"] == "adult"]
        if step.key in section.ready_made and supplied and not by_adult:
            cost = supplied[0]["cost"]
            yield kit_batches.ReadyMadePart(
                section.title,
                step.title,
                len(teams),
                cost,
                needed.get(step.key),
                section.build.currency,
            )
