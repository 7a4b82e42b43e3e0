"""Which sign-offs of whole teams no longer count, and which re-checks a plan counts on."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.scheduling import rechecks
from app.models import Activity, Meeting, MeetingState, Plan, Section, Step, Team
from app.store.classroom import sign_offs


def lapses_of(session: Session, section: Section, on: dt.date) -> list[rechecks.Lapse]:
    """Where nobody enrolled in a team on a day is, or stays, signed off; as the record stands then.

    A student whom the school's rule keeps from the station counts as little as one without a
    check-out. A sign-off that was complete and lost a part, such as one struck out, is lost too.
    """
    kinds = sign_offs.permits_of(session, section)
    states = sign_offs.sign_off_states(session, section, on=on, asked=kinds)
    once = sign_offs.checked_out(session, section, on=on)
    teams = {team.id: team.code for team in section.teams}
    held: dict[tuple[str, str], list[rechecks.Held]] = defaultdict(list)
    for student in section.students:
        if student.team_id is None or not student.enrolled(on):
            continue
        known = states.get(student.code, {})
        for permit in kinds.keys() & (known.keys() | once[student.code]):
            state = known.get(permit, sign_offs.NOTHING)
            if not state.refused and (state.complete or permit in once[student.code]):
                item = rechecks.Held(state.ends, state.suspended, broken=not state.complete)
                held[teams[student.team_id], permit].append(item)
    found = (
        rechecks.lapse_of(team, permit, kinds[permit].title, items, on)
        for (team, permit), items in sorted(held.items())
    )
    return [lapse for lapse in found if lapse is not None]


def permits_by_step(steps: Iterable[Step]) -> dict[str, str]:
    """Step → the permit it asks for, without the steps that grant it themselves."""
    return {step.key: step.asked_permit for step in steps if step.asked_permit}


def rechecks_of(session: Session, section: Section, plan: Plan) -> tuple[rechecks.Recheck, ...]:
    """The re-checks that a plan counts on in the meetings still to come."""
    query = (
        sa.select(Team.code, Step.permit, Step.grants, Meeting.date)
        .select_from(Activity)
        .join(Activity.team)
        .join(Activity.step)
        .join(Activity.meeting)
        .where(
            Activity.plan_id == plan.id,
            Meeting.state == MeetingState.PLANNED,
            Step.permit.is_not(None),
        )
    )
    planned = [
        (team, permit, date)
        for team, permit, grants, date in session.execute(query)
        if permit and permit not in grants
    ]
    if not planned:
        return ()
    lapses = lapses_of(session, section, next_day(session, section))
    return rechecks.counted_on(lapses, planned)


def next_day(session: Session, section: Section) -> dt.date:
    """The day of the next meeting; the last day there is, where none is left."""
    open_ = sa.select(sa.func.min(Meeting.date)).where(
        Meeting.section_id == section.id, Meeting.state == MeetingState.PLANNED
    )
    return session.scalar(open_) or dt.date.max
