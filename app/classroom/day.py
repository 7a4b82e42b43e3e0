"""What the page of one class day shows, put together from the plan and the records."""

from dataclasses import dataclass
from typing import Any

from flask import render_template, request

from app.domain.class_plan import StepHazard, TaughtConcept
from app.models import Meeting, MeetingState, Plan, Role, Section
from app.store import Missing, class_day, papers, plans, sections
from app.web.access import me
from app.web.clock import today_here
from app.web.database import db

EVENTS = {"done": "Done", "spoiled": "Part spoiled, spare used", "helped": "Helped by an adult"}


@dataclass(frozen=True)
class Refused:
    """A form that was not saved: which one, why, and whether a tick would save it as it is."""

    anchor: str
    sentences: tuple[str, ...]
    asks: bool = False


def may_change(section: Section) -> bool:
    """Whether the signed-in user records in this section."""
    return section.teacher_id == me().id or me().role is Role.ADMINISTRATOR


def current_plan(section: Section) -> Plan:
    """The section's plan.

    Raises Missing.
    """
    plan = plans.current_plan(db(), section)
    if plan is None:
        raise Missing("plan")
    return plan


def day_page(section: Section, meeting: Meeting, refused: Refused | None = None) -> str:
    """The page of a meeting: who is where, and the forms to record it."""
    session = db()
    plan = current_plan(section)
    day = class_day.class_day(session, section, plan, meeting)
    facts = papers.day_plan(session, section, plan, meeting).meetings[0]
    return render_template(
        "classroom/today.html",
        section=section,
        meeting=meeting,
        facts=facts,
        day=day,
        lessons=_lessons(plan, meeting, facts.lessons, day),
        hazards=_hazards(facts.hazards, day),
        events=EVENTS,
        mine=may_change(section),
        is_today=meeting.date == today_here(),
        early=meeting.date > today_here(),
        clock=clock_doubt(section),
        others=class_day.meeting_on(session, section, meeting.date),
        refused=refused,
        given=request.form if refused else {},
    )


def _lessons(
    plan: Plan,
    meeting: Meeting,
    taught: tuple[TaughtConcept, ...],
    day: class_day.ClassDay,
) -> list[tuple[TaughtConcept, str]]:
    """Each lesson of the meeting with its concept, if a step of this build shows it."""
    rows = [
        row
        for row in plans.list_lessons(db(), plan)
        if row.meeting_id == meeting.id and row.treatment is not None
    ]
    return [
        (
            lesson,
            row.treatment.concept.key if row.treatment.concept_id in day.shown_concepts else "",
        )
        for lesson, row in zip(taught, rows, strict=True)
        if row.treatment is not None
    ]


def _hazards(planned: tuple[StepHazard, ...], day: class_day.ClassDay) -> list[StepHazard]:
    """The cautions of every hazardous step on the page, once each."""
    found = {hazard.step: hazard for hazard in planned}
    for bench in (*day.benches, *day.left_open):
        if bench.hazardous and bench.step.key not in found:
            found[bench.step.key] = papers.hazard_of(bench.step)
    return list(found.values())


def clock_doubt(section: Section) -> str:
    """Why the machine's date may be wrong, in a sentence; empty if it may be right."""
    today = today_here()
    taught = [m for m in sections.list_meetings(db(), section) if m.state is MeetingState.TAUGHT]
    if taught and taught[-1].date > today:
        return (
            f"This machine says it is {today:%A} {today.isoformat()}, but "
            f"{taught[-1].date:%A} {taught[-1].date.isoformat()} is already recorded as taught. "
            "Check the machine’s clock before you record anything."
        )
    return ""


def template_values(section: Section) -> dict[str, Any]:
    """What every page of this room passes on."""
    return {"section": section, "mine": may_change(section)}
