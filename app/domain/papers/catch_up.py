"""Papers that follow from a class day: the catch-up slip of an absent student.

A slip says what was missed, what to do now, and with whom; it never says why somebody was away.
"""

import datetime as dt
from dataclasses import dataclass

from app.domain.dates import long_date
from app.domain.papers.class_plan import StepHazard, merged_caution
from app.domain.papers.document import Block, Document, Goal, Heading, Items, Paragraph, Title


@dataclass(frozen=True, slots=True)
class MissedLesson:
    """A lesson that was taught without the student."""

    title: str
    goal: str
    minutes: int
    paper: str = ""
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MissedWork:
    """A step of the student's team; `way` is how the library says it is made up.

    `own`: every student does it, whatever the team has done, as a test or a check-out.
    """

    step: str
    title: str
    where: str
    done: bool
    own: bool = False
    way: str = ""
    reading: str = ""


@dataclass(frozen=True, slots=True)
class Slip:
    """Everything one absent student needs from one meeting; `partners` are those who were there."""

    section: str
    student: str
    team: str
    date: dt.date
    partners: tuple[str, ...] = ()
    team_away: bool = False
    lessons: tuple[MissedLesson, ...] = ()
    briefings: tuple[str, ...] = ()
    work: tuple[MissedWork, ...] = ()
    signing_off: tuple[str, ...] = ()
    hazards: tuple[StepHazard, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether nothing was missed that has to be made up."""
        return not (self.lessons or self.briefings or self.work)


def slip_document(slip: Slip) -> Document:
    """The slip on paper: missed, to do, with whom, cautions of the steps it names."""
    date = long_date(slip.date)
    blocks: list[Block] = [
        Title(
            f"Catch-up slip: {date}",
            section=slip.section,
            place=f"Team {slip.team}" if slip.team else "",
            holder=slip.student,
        )
    ]
    if slip.empty:
        blocks.append(Paragraph("Nothing has to be made up from this meeting."))
    if slip.lessons:
        blocks.append(Heading("The lesson you missed"))
    for lesson in slip.lessons:
        blocks.append(Goal(lesson.goal, codes=lesson.codes))
        paper = f" Worksheet: {lesson.paper}." if lesson.paper else ""
        blocks.append(Paragraph(f"{lesson.title}, {lesson.minutes} minutes.{paper}"))
    if slip.briefings:
        blocks.append(
            Items(slip.briefings, label="Safety briefing you missed: ask for it before you start")
        )
    if slip.work:
        blocks.append(Heading("What your team did, and what is left for you"))
        blocks.append(Items(tuple(_work(item) for item in slip.work), numbered=True))
    blocks.append(Paragraph(_with_whom(slip), label="With whom"))
    if slip.signing_off:
        blocks.append(Items(slip.signing_off, label="Before you go to the station"))
    if slip.hazards:
        blocks.append(merged_caution(slip.hazards))
    return Document(
        title=f"Catch-up slip, {slip.student}, {date}",
        blocks=tuple(blocks),
        foot=f"{slip.section} · {slip.student}",
        notices=slip.notices,
    )


def _with_whom(slip: Slip) -> str:
    if slip.partners:
        return f"Ask {' or '.join(slip.partners)} to show you the work; then the teacher."
    if slip.team_away:
        return "Nobody of your team was there: ask the teacher."
    return "Ask the teacher."


def _work(item: MissedWork) -> str:
    text = f"{item.step} {item.title} ({item.where}): "
    way = f"{item.way[:1].lower()}{item.way[1:].rstrip('.')}"
    if not item.done:
        text += f"still open. To make it up: {way}." if way else "still open."
    elif item.own:
        text += f"done by your team. Your own part is left: {way or 'ask for it'}."
    else:
        text += "done by your team; nothing is left but to have it shown to you."
    if item.reading:
        text += f" Reading: {item.reading}; take it once more yourself and compare."
    return text
