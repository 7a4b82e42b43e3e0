"""What a section needs and what its room has on hand: bill of materials, use, counts."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from app.domain.bands import GRADES
from app.domain.kit import kit_quantities
from app.models import (
    Activity,
    Material,
    Meeting,
    MeetingState,
    Phase,
    Plan,
    Progress,
    Room,
    Section,
    Step,
    StepMaterial,
    Stock,
    StockCount,
    Student,
    Team,
)
from app.store import library, sections

MOST_COUNTED = 1_000_000


@dataclass(frozen=True, slots=True)
class OnHand:
    """What a room has of a material: as counted last, and less what was used since."""

    counted: float | None
    counted_at: dt.datetime | None
    counted_by: str
    used_since: float
    reorder_at: float | None
    place: str

    @property
    def quantity(self) -> float:
        """What should be there now; never below nothing."""
        return max(0.0, round((self.counted or 0.0) - self.used_since, 6))

    @property
    def below_reorder(self) -> bool:
        """Whether the level for reordering is reached."""
        return self.reorder_at is not None and self.quantity <= self.reorder_at


# --- the kit list of a section -------------------------------------------------------------------


def section_kit(
    session: Session,
    section: Section,
    *,
    today: dt.date | None = None,
    assurance: float = kit_quantities.USUAL_ASSURANCE,
    approval_days: int | None = None,
) -> kit_quantities.KitList:
    """The kit list of a section: needed, spares by probability, on hand, short, order-by date."""
    steps = sections.load_steps(session, section.build_id)
    past = past_of(session, section)
    needed = [step for step in steps if not left_out(section, step)]
    return kit_quantities.kit_list(
        bill_of(session, needed, first_dates(session, section, steps, past)),
        class_size(session, section),
        {key: row.quantity for key, row in stock_of(session, section.room).items()},
        purchasing(section, today, approval_days),
        assurance,
        past,
    )


def left_out(section: Section, step: Step) -> bool:
    """Whether this class does without a step: it takes no material and nobody does it."""
    chosen = step.key in section.ready_made
    return chosen and {way["by"] for way in step.ready_made} == {"left-out"}


def purchasing(
    section: Section, today: dt.date | None = None, approval_days: int | None = None
) -> kit_quantities.Purchasing:
    """How the section's school buys: approval, closed days, and the end of the term."""
    school = section.room.school
    return kit_quantities.Purchasing(
        approval_days=school.approval_days if approval_days is None else approval_days,
        closed=frozenset(day.date for day in section.term.days if day.closed),
        today=today,
        term_ends=section.term.last_day,
    )


def class_size(session: Session, section: Section) -> kit_quantities.ClassSize:
    """Instruments, students and the lowest grade; without grades, that of the grade band.

    What is still to be bought is for those who stay: who is known to leave does not count.
    """
    students = list(
        session.scalars(
            sa.select(Student).where(Student.section_id == section.id, Student.left.is_(None))
        )
    )
    grades = [int(student.grade) for student in students if student.grade.isdecimal()]
    instruments = session.scalar(
        sa.select(sa.func.count()).select_from(Team).where(Team.section_id == section.id)
    )
    return kit_quantities.ClassSize(
        instruments=instruments or 0,
        students=len(students),
        lowest_grade=min(grades) if grades else GRADES[section.band][0],
    )


def bill_of(
    session: Session, steps: Sequence[Step], first: Mapping[str, dt.date]
) -> list[kit_quantities.BillLine]:
    """The bill of materials of a build's steps, each with the date that first needs it."""
    materials = materials_of(session, steps)
    return [
        kit_quantities.BillLine(
            material=material.key,
            title=material.title,
            unit=material.unit,
            quantity=item.quantity,
            per=kit_quantities.Per(item.per),
            loss_rate=material.loss_rate,
            pack_size=material.pack_size,
            cost_low=material.cost_low,
            cost_high=material.cost_high,
            currency=material.currency,
            lead_days=material.lead_days_high,
            needed_on=first.get(step.key),
            phase=step.phase.title,
            lowest_grade=material.lowest_grade,
            step=step.key,
        )
        for step in steps
        for item in step.materials
        for material in (materials[item.material_id],)
    ]


def materials_of(session: Session, steps: Sequence[Step]) -> dict[int, Material]:
    """The materials of the steps, by row."""
    wanted = {item.material_id for step in steps for item in step.materials}
    query = sa.select(Material).where(Material.id.in_(wanted))
    return {row.id: row for row in session.scalars(query)}


def first_dates(
    session: Session,
    section: Section,
    steps: Sequence[Step],
    past: Sequence[kit_quantities.WorkEvent],
) -> dict[str, dt.date]:
    """When the plan first needs each step's materials, counting only what is not done.

    A step outside class, or made ready for this class, has no place in the plan: it must be there
    for what comes after it.
    """
    done = {(event.team, event.step) for event in past if not event.spoiled}
    planned = session.execute(
        sa.select(Team.code, Step.key, sa.func.min(Meeting.date))
        .select_from(Activity)
        .join(Plan, Activity.plan_id == Plan.id)
        .join(Team, Activity.team_id == Team.id)
        .join(Step, Activity.step_id == Step.id)
        .join(Meeting, Activity.meeting_id == Meeting.id)
        .where(
            Plan.section_id == section.id,
            Plan.current.is_(True),
            Meeting.state == MeetingState.PLANNED,
        )
        .group_by(Team.code, Step.key)
    ).all()
    found: dict[str, dt.date] = {}
    for team, key, date in planned:
        if (team, key) not in done:
            found[key] = min(found.get(key, date), date)
    following: dict[str, list[str]] = defaultdict(list)
    for step in steps:
        for before in step.after:
            following[before].append(step.key)
    for step in reversed(steps):
        if step.key not in found and (step.outside_class or step.key in section.ready_made):
            dates = [found[key] for key in following[step.key] if key in found]
            if dates:
                found[step.key] = min(dates)
    return found


def past_of(session: Session, section: Section) -> list[kit_quantities.WorkEvent]:
    """What the section's teams have done and spoiled.

    Nobody records what an adult does outside class: it was done when a step after it was.
    """
    events = _events(session, section)
    steps = sections.load_steps(session, section.build_id)[::-1]
    first: dict[tuple[str, str], kit_quantities.WorkEvent] = {}
    for event in events:
        if not event.spoiled:
            first.setdefault((event.team, event.step), event)
    recorded = set(first)
    teams = {event.team for event in events}
    for step in steps:
        key = step.key
        made = step.key in section.ready_made and not left_out(section, step)
        outside = step.outside_class or made
        after = [other.key for other in steps if key in other.after] if outside else []
        for team in teams if outside else ():
            known = [first[team, name] for name in after if (team, name) in first]
            if known and (team, key) not in first:
                first[team, key] = replace(min(known, key=lambda e: e.at), step=key)
    inferred = [event for place, event in first.items() if place not in recorded]
    return sorted([*events, *inferred], key=lambda event: event.at)


def _events(session: Session, section: Section) -> list[kit_quantities.WorkEvent]:
    size = dict(
        session.execute(
            sa.select(Student.team_id, sa.func.count())
            .where(Student.section_id == section.id, Student.team_id.is_not(None))
            .group_by(Student.team_id)
        ).all()
    )
    query = (
        sa.select(Step.key, Team.code, Team.id, Progress.recorded_at, Progress.event)
        .select_from(Progress)
        .join(Team, Progress.team_id == Team.id)
        .join(Step, Progress.step_id == Step.id)
        .where(Team.section_id == section.id, Progress.event.in_(("done", "spoiled")))
        .order_by(Progress.recorded_at, Progress.id)
    )
    return [
        kit_quantities.WorkEvent(
            step=step, team=team, students=size.get(team_id, 0), at=at, spoiled=event == "spoiled"
        )
        for step, team, team_id, at, event in session.execute(query)
    ]


# --- stock ---------------------------------------------------------------------------------------


def stock_of(session: Session, room: Room) -> dict[str, OnHand]:
    """What the room has on hand, by material; what its sections used since the count is gone."""
    rows = session.scalars(
        sa.select(Stock)
        .where(Stock.room_id == room.id)
        .options(joinedload(Stock.material), selectinload(Stock.counts))
    )
    held = {row.material.key: row for row in rows}
    used = _used_since(
        session,
        room,
        {key: row.counts[-1].counted_at for key, row in held.items() if row.counts},
    )
    return {
        key: OnHand(
            counted=row.counts[-1].quantity if row.counts else None,
            counted_at=row.counts[-1].counted_at if row.counts else None,
            counted_by=row.counts[-1].counted_by if row.counts else "",
            used_since=round(used.get(key, 0.0), 6),
            reorder_at=row.reorder_at,
            place=row.place,
        )
        for key, row in held.items()
    }


def _used_since(
    session: Session, room: Room, counted: Mapping[str, dt.datetime]
) -> dict[str, float]:
    used: dict[str, float] = defaultdict(float)
    if not counted:
        return used
    bills: dict[int, list[kit_quantities.BillLine]] = {}
    for section in session.scalars(sa.select(Section).where(Section.room_id == room.id)):
        events = past_of(session, section)
        if events:
            if section.build_id not in bills:
                bills[section.build_id] = _quantities(session, section.build_id)
            for use in kit_quantities.material_use(events, bills[section.build_id]):
                if use.material in counted and use.at > counted[use.material]:
                    used[use.material] += use.quantity
    return used


def _quantities(session: Session, build_id: int) -> list[kit_quantities.BillLine]:
    """The bill of a build without dates and prices: enough to reckon what was used."""
    steps = sections.load_steps(session, build_id)
    materials = materials_of(session, steps)
    return [
        kit_quantities.BillLine(
            material=materials[item.material_id].key,
            title=materials[item.material_id].title,
            unit=materials[item.material_id].unit,
            quantity=item.quantity,
            per=kit_quantities.Per(item.per),
            step=step.key,
        )
        for step in steps
        for item in step.materials
    ]


@dataclass(frozen=True, slots=True)
class Kept:
    """A material of a section's build with what its room has of it."""

    key: str
    title: str
    unit: str
    category: str
    held: OnHand | None

    @property
    def place(self) -> str:
        return self.held.place if self.held else ""


def kept_for(session: Session, section: Section) -> list[Kept]:
    """The materials of a section's build as they lie in the room: by place, then by name."""
    held = stock_of(session, section.room)
    query = (
        sa.select(Material)
        .join(StepMaterial, StepMaterial.material_id == Material.id)
        .join(Step, StepMaterial.step_id == Step.id)
        .join(Phase)
        .where(Phase.build_id == section.build_id)
        .distinct()
    )
    rows = [
        Kept(row.key, row.title, row.unit, row.category, held.get(row.key))
        for row in session.scalars(query)
    ]
    return sorted(rows, key=lambda row: (row.place == "", row.place, row.title))


def shares_room(session: Session, section: Section) -> bool:
    """Whether another section draws on the same store."""
    query = sa.select(Section.id).where(
        Section.room_id == section.room_id, Section.id != section.id
    )
    return session.scalar(query.limit(1)) is not None


def count_stock(
    session: Session, room: Room, counts: Mapping[str, float], *, by: str, now: dt.datetime
) -> None:
    """Write down what is on hand of each material named; all of one call are taken back at once.

    Raises ValueError with a sentence for an unknown material or an impossible count.
    """
    for key, quantity in counts.items():
        stock = _stock(session, room, key)
        if not 0 <= quantity <= MOST_COUNTED:
            raise ValueError(f"{stock.material.title}: enter 0 to {MOST_COUNTED:,}.")
        stock.counts.append(StockCount(quantity=quantity, counted_at=now, counted_by=by))
    session.flush()


def take_back_count(session: Session, room: Room, *, by: str) -> int:
    """Take back the last count this person made in the room, and say how many lines it had."""
    mine = (
        sa.select(StockCount)
        .join(StockCount.stock)
        .where(Stock.room_id == room.id, StockCount.counted_by == by)
    )
    last = session.scalar(mine.order_by(StockCount.counted_at.desc()).limit(1))
    if last is None:
        return 0
    rows = session.scalars(mine.where(StockCount.counted_at == last.counted_at)).all()
    for row in rows:
        session.delete(row)
    session.flush()
    return len(rows)


def last_count(session: Session, room: Room, *, by: str) -> StockCount | None:
    """The last count this person made in the room, if any."""
    return session.scalar(
        sa.select(StockCount)
        .join(StockCount.stock)
        .where(Stock.room_id == room.id, StockCount.counted_by == by)
        .order_by(StockCount.counted_at.desc(), StockCount.id.desc())
        .limit(1)
    )


def keep(session: Session, room: Room, key: str, *, reorder_at: float | None, place: str) -> None:
    """Say where a material lies and from which level it is reordered.

    Raises ValueError with a sentence.
    """
    stock = _stock(session, room, key)
    if reorder_at is not None and not 0 <= reorder_at <= MOST_COUNTED:
        raise ValueError(f"{stock.material.title}: the reorder level must be 0 or more.")
    stock.reorder_at = reorder_at
    stock.place = place.strip()[:60]
    session.flush()


def _stock(session: Session, room: Room, key: str) -> Stock:
    material = library.kinds(session, Material, room.school_id).get(key)
    if material is None:
        raise ValueError(f"There is no material {key}.")
    stock = session.scalar(
        sa.select(Stock).where(Stock.room_id == room.id, Stock.material_id == material.id)
    )
    if stock is None:
        stock = Stock(room_id=room.id, material=material)
        session.add(stock)
    return stock
