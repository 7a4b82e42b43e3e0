"""A section's bill of materials with stock on hand, as the kit list's values."""

import datetime as dt

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain import kits
from app.models import Material, Room, Section, Stock
from app.store import plans, sections

APPROVAL_DAYS = 5  # common practice, no source: a requisition's way through a school office


def section_kit(
    session: Session, section: Section, *, today: dt.date | None = None, assurance: float = 0.95
) -> kits.KitList:
    """The kit list of a section: needed, spares by probability, on hand, short, order-by date."""
    bill = _bill(session, section)
    teams = sections.load_teams(session, section)
    grades = [int(s.grade) for s in section.students if s.grade.isdecimal()]
    size = kits.ClassSize(
        instruments=len(teams),
        students=len(section.students),
        lowest_grade=min(grades) if grades else None,
    )
    closed = frozenset(day.date for day in section.term.days if day.closed)
    purchasing = kits.Purchasing(
        approval_days=APPROVAL_DAYS, closed=closed, today=today, term_ends=section.term.last_day
    )
    return kits.kit_list(bill, size, stock_of(session, section.room), purchasing, assurance)


def _bill(session: Session, section: Section) -> list[kits.BillLine]:
    first: dict[int, dt.date] = {}
    plan = plans.current_plan(session, section)
    for row in plans.list_activities(session, plan) if plan else ():
        first[row.step_id] = min(first.get(row.step_id, row.meeting.date), row.meeting.date)
    lines = []
    for step in sections.load_steps(session, section.build_id):
        for item in step.materials:
            material = item.material
            lines.append(
                kits.BillLine(
                    material=material.key,
                    title=material.title,
                    unit=material.unit,
                    quantity=item.quantity,
                    loss_rate=material.loss_rate,
                    cost_low=material.cost_low,
                    cost_high=material.cost_high,
                    currency=material.currency,
                    lead_days=material.lead_days_high,
                    needed_on=first.get(step.id),
                    phase=step.phase.title,
                    lowest_grade=material.lowest_grade,
                )
            )
    return lines


def stock_of(session: Session, room: Room) -> dict[str, float]:
    """What the room has on hand, by material."""
    query = (
        sa.select(Material.key, Stock.quantity)
        .join(Stock, Stock.material_id == Material.id)
        .where(Stock.room_id == room.id)
    )
    return dict(session.execute(query).all())


def count_stock(session: Session, room: Room, counts: dict[str, float]) -> None:
    """Write down what is on hand of each material named.

    Raises ValueError with a sentence for an unknown material or a negative count.
    """
    materials = {row.key: row for row in session.scalars(sa.select(Material))}
    held: dict[int, Stock] = {}
    for row in session.scalars(sa.select(Stock).where(Stock.room_id == room.id)):
        held[row.material_id] = row
    for key, quantity in counts.items():
        if key not in materials:
            raise ValueError(f"There is no material {key}.")
        if quantity < 0:
            raise ValueError(f"{materials[key].title}: enter 0 or more.")
        material_id = materials[key].id
        if material_id in held:
            held[material_id].quantity = quantity
        else:
            session.add(Stock(room_id=room.id, material_id=material_id, quantity=quantity))
    session.flush()
