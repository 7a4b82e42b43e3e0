"""From a standard, or plain words, to where this section's plan has it."""

from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from app.domain.bands import BANDS, bands_apart
from app.domain.standard import alignment
from app.models import Activity, Alignment, Lesson, Section, Standard, Step, Treatment
from app.store import library, sections
from app.store.plan import plans
from app.store.plan.section_problem import standard_label
from app.store.standard import standards


@dataclass(frozen=True)
class Place:
    """A treatment that carries the standard, the steps that show it, and when."""

    treatment: Treatment
    alignment: Alignment | None
    steps: tuple[Step, ...]
    lessons: tuple[Lesson, ...]
    activities: tuple[Activity, ...]

    @property
    def phases(self) -> tuple[str, ...]:
        """Keys of the phases whose worksheets carry it."""
        return tuple(dict.fromkeys(step.phase.key for step in self.steps))


@dataclass(frozen=True)
class LookupAnswer:
    """What was meant, where it is, and what comes nearest where it is not."""

    sentence: str
    standard: Standard | None
    places: tuple[Place, ...]
    nearest: tuple[Place, ...]
    candidates: tuple[Standard, ...]

    @property
    def label(self) -> str:
        """What coverage calls the standard."""
        return standard_label(self.standard) if self.standard is not None else ""


def look_up(
    session: Session,
    section: Section,
    text: str,
    school_id: int | None,
    framework: str | None = None,
) -> LookupAnswer:
    """Find the standard a text means and where the section's plan bears on it.

    `framework` is a key; it settles a code that two frameworks have.
    """
    index = standards.index_of(session, school_id)
    meant = alignment.resolve(text, index, framework)
    treatments = library.list_treatments(session, section.band, school_id)
    facts = _PlanFacts(session, section)
    if meant.entry is None:
        hits = alignment.search(text, index, limit=8)
        rows = standards.load_standards(
            session, [int(e.key) for e in (*meant.candidates, *(hit.entry for hit in hits))]
        )
        return LookupAnswer(
            sentence=meant.sentence,
            standard=None,
            places=(),
            nearest=tuple(facts.place(t, None) for t in _by_words(text, treatments)),
            candidates=tuple(rows.values()),
        )
    standard = standards.load_standards(session, [int(meant.entry.key)])[int(meant.entry.key)]
    places = tuple(
        facts.place(treatment, item)
        for treatment in treatments
        for item in treatment.alignments
        if item.standard_id == standard.id
    )
    here = tuple(sorted((p for p in places if p.steps), key=_worth))
    near: tuple[Place, ...] = ()
    if not here:
        near = _other_bands(session, section, school_id, standard, facts) or _near(
            standard, treatments, facts
        )
    sentence = _says(standard, here, near, section)
    instead = standards.replacements(session, school_id, standard) if standard.retired else []
    if standard.retired:
        sentence += f" {standard.code} is retired" + (
            f"; in its place: {', '.join(row.code for row in instead)}." if instead else "."
        )
    return LookupAnswer(sentence, standard, here, near, tuple(instead))


def _worth(place: Place) -> tuple[bool, bool, bool]:
    """Placed lessons before others, full alignments before partial ones, content first."""
    item = place.alignment
    return (
        not place.lessons,
        item is None or item.strength != "strong",
        item is not None and item.practice,
    )


def _says(
    standard: Standard, here: tuple[Place, ...], near: tuple[Place, ...], section: Section
) -> str:
    if here:
        strong = any(p.alignment is not None and p.alignment.strength == "strong" for p in here)
        return (
            f"{standard.code} is in this build."
            if strong
            else f"{standard.code} is in this build only in part; mind the condition."
        )
    band = BANDS[section.band].lower()
    if near and near[0].treatment.band != section.band:
        return (
            f"{standard.code} is in this build for {BANDS[near[0].treatment.band].lower()}, not "
            f"for {band}: no lesson of this section’s plan is on it, and it does not count here."
        )
    if near:
        return (
            f"Nothing in {section.build.title} carries {standard.code} in {band}. The "
            "nearest offer has a neighbouring code; it does not count as this standard."
        )
    return f"There is nothing in {section.build.title} for {standard.code} in {band}."


def _other_bands(
    session: Session,
    section: Section,
    school_id: int | None,
    standard: Standard,
    facts: "_PlanFacts",
) -> tuple[Place, ...]:
    """Treatments of the standard at other grade bands that this build shows, nearest band first."""
    query = (
        sa.select(Treatment)
        .join(Alignment, Alignment.treatment_id == Treatment.id)
        .where(
            Alignment.standard_id == standard.id,
            Alignment.practice.is_(False),
            library.holding(school_id),
            library.shared_or_own(Treatment.school_id, school_id),
            Treatment.id.not_in(library.in_place_of(session, school_id)),
            Treatment.band != section.band,
        )
        .options(joinedload(Treatment.concept))
    )
    rows = list(session.scalars(query))
    held = library.alignments_of(session, [row.id for row in rows], school_id)
    places = [
        facts.place(row, next(item for item in held[row.id] if item.standard_id == standard.id))
        for row in rows
    ]
    return tuple(
        sorted(
            (place for place in places if place.steps),
            key=lambda p: (
                bands_apart(p.treatment.band, section.band),
                *_worth(p),
            ),
        )
    )


def _near(
    standard: Standard, treatments: list[Treatment], facts: "_PlanFacts"
) -> tuple[Place, ...]:
    """Treatments aligned to a standard of the same domain and framework, shown by this build."""
    found = []
    for treatment in treatments:
        for item in treatment.alignments:
            same = (
                item.standard.framework_id == standard.framework_id
                and item.standard.domain == standard.domain
                and standard.domain
            )
            if same and not item.practice:
                place = facts.place(treatment, item)
                if place.steps:
                    found.append(place)
                break
    return tuple(found[:3])


def _by_words(text: str, treatments: list[Treatment]) -> list[Treatment]:
    """Treatments whose title, goal or concept share words with the text, best first."""
    words = set(alignment.tokens(text))
    scored = []
    for treatment in treatments:
        own = set(alignment.tokens(f"{treatment.title} {treatment.goal} {treatment.concept.title}"))
        if words & own:
            scored.append((-len(words & own), treatment.id, treatment))
    return [treatment for _, _, treatment in sorted(scored, key=lambda item: item[:2])[:5]]


class _PlanFacts:
    """The section's steps, lessons and activities, loaded once."""

    def __init__(self, session: Session, section: Section) -> None:
        plan = plans.current_plan(session, section)
        self.steps = sections.load_steps(session, section.build_id)
        self.lessons = plans.list_lessons(session, plan) if plan else []
        self.activities = plans.list_activities(session, plan) if plan else []

    def place(self, treatment: Treatment, item: Alignment | None) -> Place:
        steps = tuple(
            step
            for step in self.steps
            if any(e.concept_id == treatment.concept_id for e in step.exposures)
        )
        ids = {step.id for step in steps}
        return Place(
            treatment,
            item,
            steps,
            tuple(row for row in self.lessons if row.treatment_id == treatment.id),
            tuple(row for row in self.activities if row.step_id in ids),
        )
