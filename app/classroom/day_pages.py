"""What the page of one class day shows, put together from the plan and the records."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from flask import render_template, request

from app.domain.papers.class_plan import PlannedLesson, StepHazard
from app.models import Lesson, Meeting, MeetingState, Plan, Section
from app.store import sections
from app.store.classroom import class_day
from app.store.paper import papers
from app.store.plan import plan_days
from app.web.access import me
from app.web.clock import today_here
from app.web.request_session import db

EVENTS = {"done": "Done", "spoiled": "Part spoiled, spare used", "helped": "Helped by an adult"}
TICKS = {
    "confirmed": "The reading is right: keep it",
    "go-on": "Go on all the same",
    "early": "Record it all the same",
}


@dataclass(frozen=True)
class Refused:
    """A form that was not saved: which one, why, and which tick would save it as it is.

    With `kept` its reading is saved all the same, and only the rest is not.
    """

    anchor: str
    sentences: tuple[str, ...]
    tick: str = ""
    kept: bool = False

    @property
    def given(self) -> dict[str, str]:
        """What was entered and is not saved."""
        saved = {"reading", "confirmed"} if self.kept else set()
        return {name: text for name, text in request.form.items() if name not in saved}


def day_page(
    section: Section,
    plan: Plan,
    meeting: Meeting,
    refused: Refused | None = None,
    days: Sequence[plan_days.PlanDay] | None = None,
) -> str:
    """The page of a meeting: who is where, and the forms to record it."""
    session = db()
    paper = papers.Facts(
        session, section, plan, [meeting], days, exposures=False, open_before=meeting.date
    )
    facts = paper.meeting(meeting)
    day = class_day.class_day(session, section, meeting, paper)
    return render_template(
        "classroom/today.html",
        section=section,
        meeting=meeting,
        facts=facts,
        day=day,
        lessons=_lessons(section, facts.lessons, paper.lessons[meeting.id]),
        hazards=_hazards(facts.hazards, day),
        events=EVENTS,
        ticks=TICKS,
        mine=sections.may_change(me(), section),
        is_today=meeting.date == today_here(),
        early=meeting.date > today_here(),
        clock=clock_doubt(paper.days),
        others=class_day.meeting_on(session, section, meeting.date),
        refused=refused,
        given=refused.given if refused else {},
    )


def _lessons(
    section: Section, taught: Sequence[PlannedLesson], rows: Sequence[Lesson]
) -> list[tuple[PlannedLesson, str]]:
    """Each lesson of the meeting with its concept, if a step of this build shows it."""
    treatments = [row.treatment for row in rows if row.treatment is not None]
    concepts = {treatment.concept_id for treatment in treatments}
    shown = class_day.concepts_shown(db(), section, concepts) if concepts else set()
    return [
        (lesson, treatment.concept.key if treatment.concept_id in shown else "")
        for lesson, treatment in zip(taught, treatments, strict=True)
    ]


def _hazards(planned: tuple[StepHazard, ...], day: class_day.ClassDay) -> list[StepHazard]:
    """The cautions of every hazardous step on the page, once each."""
    found = {hazard.step: hazard for hazard in planned}
    for bench in (*day.benches, *day.left_open):
        if bench.hazardous and bench.step.key not in found:
            found[bench.step.key] = papers.hazard_of(bench.step)
    return list(found.values())


def clock_doubt(days: Sequence[plan_days.PlanDay]) -> str:
    """Why the machine's date may be wrong, in a sentence; empty if it may be right."""
    today = today_here()
    taught = [day for day in days if day.state is MeetingState.TAUGHT]
    if taught and taught[-1].date > today:
        return (
            f"This machine says it is {today:%A} {today.isoformat()}, but "
            f"{taught[-1].date:%A} {taught[-1].date.isoformat()} is already recorded as taught. "
            "Check the machine’s clock before you record anything."
        )
    return ""


def template_values(section: Section) -> dict[str, Any]:
    """What every page of this room passes on."""
    return {"section": section, "mine": sections.may_change(me(), section)}
