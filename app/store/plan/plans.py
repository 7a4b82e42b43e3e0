"""Plans of a section: the current one with its activities and lessons, and earlier ones."""

import datetime as dt
from typing import NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from app.models import (
    Activity,
    Lesson,
    Meeting,
    MeetingState,
    Plan,
    Section,
    Step,
    Team,
    Treatment,
)
from app.store.missing import Missing, NoPlan

_CURRENT = (
    sa.select(Plan)
    .where(Plan.section_id == sa.bindparam("section"), Plan.current.is_(True))
    .limit(1)
)


def current_plan(session: Session, section: Section) -> Plan | None:
    """The section's current plan, without its activities."""
    return session.scalar(_CURRENT, {"section": section.id})


def load_plan(session: Session, section: Section) -> Plan:
    """The section's current plan.

    Raises NoPlan.
    """
    plan = current_plan(session, section)
    if plan is None:
        raise NoPlan(section)
    return plan


def load_plan_by_id(session: Session, section: Section, plan_id: int | None) -> Plan:
    """A plan of the section, current or earlier.

    Raises Missing.
    """
    plan = session.get(Plan, plan_id) if plan_id else None
    if plan is None or plan.section_id != section.id:
        raise Missing(f"plan {plan_id}")
    return plan


def list_plans(session: Session, section: Section) -> list[Plan]:
    """All plans of a section, newest first."""
    query = sa.select(Plan).where(Plan.section_id == section.id).order_by(Plan.id.desc())
    return list(session.scalars(query))


def save_plan(session: Session, plan: Plan) -> Plan:
    """Make `plan` the current plan of its section; the earlier one stays on record."""
    session.execute(
        sa.update(Plan)
        .where(Plan.section_id == plan.section_id, Plan.current.is_(True))
        .values(current=False)
    )
    plan.current = True
    session.add(plan)
    session.flush()
    return plan


class Sat(NamedTuple):
    """One sitting of a plan in columns: the planner reads thousands and needs no whole rows."""

    team: str
    step: str
    meeting_id: int
    state: MeetingState
    start: dt.datetime
    minutes: int

    @property
    def end(self) -> dt.datetime:
        """When it is over."""
        return self.start + dt.timedelta(minutes=self.minutes)


def list_sittings(session: Session, plan: Plan) -> list[Sat]:
    """A plan's sittings by date, minute and team."""
    query = (
        sa.select(
            Team.code,
            Step.key,
            Meeting.id,
            Meeting.state,
            Meeting.date,
            Meeting.starts_at,
            Activity.first_minute,
            Activity.minutes,
        )
        .select_from(Activity)
        .join(Meeting, Activity.meeting_id == Meeting.id)
        .join(Team, Activity.team_id == Team.id)
        .join(Step, Activity.step_id == Step.id)
        .where(Activity.plan_id == plan.id)
        .order_by(Meeting.date, Activity.first_minute, Team.code)
    )
    return [
        Sat(
            team,
            step,
            meeting,
            state,
            dt.datetime.combine(date, starts_at) + dt.timedelta(minutes=first),
            minutes,
        )
        for team, step, meeting, state, date, starts_at, first, minutes in session.execute(query)
    ]


def list_activities(
    session: Session, plan: Plan, *, first: dt.date | None = None, last: dt.date | None = None
) -> list[Activity]:
    """A plan's activities by date, minute and team, optionally between two dates."""

    query = (
        sa.select(Activity)
        .join(Meeting)
        .join(Team, Activity.team_id == Team.id)
        .where(Activity.plan_id == plan.id)
        .order_by(Meeting.date, Activity.first_minute, Team.code)
        .options(
            joinedload(Activity.meeting),
            joinedload(Activity.team),
            # Joined, a step's long lists would be read again for every activity.
            selectinload(Activity.step).joinedload(Step.phase),
        )
    )
    if first is not None:
        query = query.where(Meeting.date >= first)
    if last is not None:
        query = query.where(Meeting.date <= last)
    return list(session.scalars(query))


def list_lessons(session: Session, plan: Plan) -> list[Lesson]:
    """A plan's lessons by date, with treatment and concept."""

    query = (
        sa.select(Lesson)
        .join(Meeting)
        .where(Lesson.plan_id == plan.id)
        .order_by(Meeting.date, Lesson.id)
        .options(
            joinedload(Lesson.meeting),
            joinedload(Lesson.treatment).joinedload(Treatment.concept),
        )
    )
    return list(session.scalars(query))
