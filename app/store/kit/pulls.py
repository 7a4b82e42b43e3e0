"""The pull list of a day or week: what to set out by team, what runs low, blades and bits due."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.kit.kit_quantities import Per
from app.domain.papers import kit_papers
from app.models import BladeChange, Material, Plan, Progress, Room, Section, Step, Team
from app.store import library, sections
from app.store.kit import kits
from app.store.paper import papers
from app.store.plan import plans

# Instruments after which a blade or bit is changed: common practice, no source.
BLADE_LIFE = {
    "bandsaw": ("Bandsaw blade", 25),
    "router": ("Router bit", 30),
    "rtable": ("Router-table bit", 30),
    "scroll": ("Scroll-saw blade", 6),
    "drill": ("Drill bits, sharpen", 60),
}


def pull_list(
    session: Session, section: Section, plan: Plan, first: dt.date, last: dt.date
) -> kit_papers.PullList:
    """What to set out between two dates, by team, with what comes out and what runs low."""
    meetings = [m for m in sections.list_meetings(session, section) if first <= m.date <= last]
    done = {
        (event.team, event.step) for event in kits.past_of(session, section) if not event.spoiled
    }
    steps = {step.id: step for step in sections.load_steps(session, section.build_id)}
    materials = kits.materials_of(session, list(steps.values()))
    stations = {row.key: row.title for row in section.room.stations}
    size = {
        team.code: sum(student.enrolled(first) for student in team.students)
        for team in sections.load_teams(session, section)
    }
    pulls: dict[int, list[kit_papers.Pull]] = defaultdict(list)
    for row in plans.list_activities(session, plan, first=first, last=last):
        step = steps[row.step_id]
        if (row.team.code, step.key) in done:
            continue
        pulls[row.meeting_id].append(
            kit_papers.Pull(
                team=row.team.code,
                step=step.key,
                title=step.title,
                station=stations.get(step.station, step.station),
                materials=_pulled(step, materials, size.get(row.team.code, 0))
                if row.part == 1
                else (),
                tools=tuple(step.tools),
                begins=row.part == 1,
            )
        )
    days = []
    for meeting in meetings:
        facts = papers.day_plan(session, section, plan, meeting).meetings[0]
        days.append(
            kit_papers.PullDay(
                date=meeting.date,
                number=meeting.number,
                pulls=tuple(pulls[meeting.id]),
                coming_out=facts.coming_out,
                hazards=facts.hazards,
                lost=(facts.label or "lost") if facts.lost else "",
            )
        )
    title = "Pull list for the day" if first == last else "Pull list for the week"
    return kit_papers.PullList(
        section=section.title,
        build=section.build.title,
        title=title,
        days=tuple(days),
        below_reorder=tuple(_below_reorder(session, section.room)),
        blades=tuple(blades_of(session, section.room)),
    )


def _pulled(
    step: Step, materials: Mapping[int, Material], students: int
) -> tuple[tuple[str, float, str], ...]:
    return tuple(
        (material.title, item.quantity * (students if item.per == Per.STUDENT else 1), unit)
        for item in step.materials
        if item.per != Per.CLASS
        for material in (materials[item.material_id],)
        for unit in (material.unit,)
    )


def _below_reorder(session: Session, room: Room) -> Iterator[str]:
    titles = library.kinds(session, Material, room.school_id)
    for key, held in kits.stock_of(session, room).items():
        if held.below_reorder and held.reorder_at is not None and key in titles:
            unit = titles[key].unit
            yield (
                f"{titles[key].title}: {kit_papers.amount(held.quantity, unit)} on hand, reorder at "
                f"{kit_papers.amount(held.reorder_at, unit)}"
            )


def blades_of(session: Session, room: Room) -> list[kit_papers.BladeDue]:
    """What was done with each blade and bit of the room since it was changed, in instruments."""
    changed: dict[str, dt.datetime] = {}
    query = sa.select(BladeChange).where(BladeChange.room_id == room.id)
    for row in session.scalars(query.order_by(BladeChange.changed_at)):
        changed[row.station] = row.changed_at
    work = session.execute(
        sa.select(Step.station, Progress.recorded_at)
        .join(Progress, Progress.step_id == Step.id)
        .join(Team, Progress.team_id == Team.id)
        .join(Section, Team.section_id == Section.id)
        .where(Section.room_id == room.id, Progress.event == "done")
    ).all()
    return [
        kit_papers.BladeDue(
            station,
            title,
            sum(
                1
                for key, at in work
                if key == station and (station not in changed or at > changed[station])
            ),
            life,
        )
        for station, (title, life) in BLADE_LIFE.items()
        if any(row.key == station for row in room.stations)
    ]


def change_blade(session: Session, room: Room, station: str, *, by: str, now: dt.datetime) -> None:
    """Record a fresh blade or bit at a station.

    Raises ValueError with a sentence for a station that has none.
    """
    if station not in BLADE_LIFE:
        raise ValueError("Choose a station that has a blade or bit.")
    session.add(BladeChange(room_id=room.id, station=station, changed_at=now, changed_by=by))
    session.flush()
