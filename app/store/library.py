"""Builds, concepts and treatments of the library, shipped and a school's own.

What a school has of its own takes the place of the shipped part with the same key.
"""

from collections.abc import Iterable, Sequence
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased, joinedload, selectinload
from sqlalchemy.orm.attributes import set_committed_value

from app.models import (
    Activity,
    Alignment,
    Build,
    Concept,
    Decision,
    Exposure,
    FixtureType,
    Framework,
    InstrumentQuantity,
    Lesson,
    Mark,
    Material,
    Measurement,
    Meeting,
    MeetingState,
    PermitType,
    Phase,
    Plan,
    Progress,
    Question,
    SafetyBank,
    Section,
    Standard,
    StationType,
    Step,
    StepMaterial,
    Team,
    Term,
    Treatment,
)
from app.store.missing import Missing

Kind = TypeVar("Kind", StationType, FixtureType, PermitType, Material, Concept, SafetyBank)


def shared_or_own(column: Any, school_id: int | None) -> sa.ColumnElement[bool]:
    """The rule of what a school sees: shipped rows and its own. `column` is a `school_id`."""
    return sa.or_(column.is_(None), column == school_id)


def _visible(school_id: int | None) -> sa.ColumnElement[bool]:
    return shared_or_own(Build.school_id, school_id)


# --- builds ------------------------------------------------------------------------------------


def list_builds(session: Session, school_id: int | None) -> list[Build]:
    """Shipped builds and the school's own, newest version of each last."""
    query = sa.select(Build).where(_visible(school_id)).order_by(Build.title, Build.id)
    return list(session.scalars(query.options(selectinload(Build.phases))))


def newest_builds(session: Session, school_id: int | None) -> list[Build]:
    """One build per key, as `find_build` would give it, with everything in it, by title."""
    query = (
        sa.select(Build)
        .where(_visible(school_id))
        .order_by(Build.school_id.is_not(None), Build.id)
        .options(*_whole())
    )
    newest = {build.key: build for build in session.scalars(query)}
    return sorted(newest.values(), key=lambda build: build.title)


def load_build(session: Session, school_id: int | None, build_id: int) -> Build:
    """A build by id.

    Raises Missing.
    """
    build = session.scalar(sa.select(Build).where(Build.id == build_id, _visible(school_id)))
    if build is None:
        raise Missing(f"build {build_id}")
    return build


def load_own_build(session: Session, school_id: int, build_id: int) -> Build:
    """A build of the school's own, with everything in it.

    Raises Missing; a shipped build cannot be changed, only copied.
    """
    build = session.scalar(
        sa.select(Build)
        .where(Build.id == build_id, Build.school_id == school_id)
        .options(*_whole())
    )
    if build is None:
        raise Missing(f"own build {build_id}")
    return build


def find_build(
    session: Session, school_id: int | None, key: str, version: str | None = None
) -> Build:
    """A build by key with everything in it: the given version, otherwise the newest.

    The school's own comes before the shipped one. Raises Missing.
    """
    query = (
        sa.select(Build)
        .where(Build.key == key, _visible(school_id))
        .order_by(Build.school_id.is_(None), Build.id.desc())
        .limit(1)
        .options(*_whole())
    )
    if version is not None:
        query = query.where(Build.version == version)
    build = session.scalar(query)
    if build is None:
        raise Missing(f"build {key}")
    return build


def _whole() -> tuple[Any, ...]:
    steps = selectinload(Build.phases).selectinload(Phase.steps)
    return (
        steps.selectinload(Step.exposures).joinedload(Exposure.concept),
        steps.selectinload(Step.materials).joinedload(StepMaterial.material),
    )


def list_versions(session: Session, school_id: int | None, key: str) -> list[Build]:
    """Every version of a build that the school sees, newest first.

    Raises Missing.
    """
    query = (
        sa.select(Build)
        .where(Build.key == key, _visible(school_id))
        .order_by(Build.school_id.is_(None), Build.id.desc())
    )
    found = list(session.scalars(query))
    if not found:
        raise Missing(f"build {key}")
    return found


def newer_build(session: Session, section: Section) -> Build | None:
    """The newest version of a section's build, if the section does not follow it already."""
    school_id = section.course.department.school_id
    newest = list_versions(session, school_id, section.build.key)[0]
    return None if newest.id == section.build_id else newest


def is_used(session: Session, build: Build) -> bool:
    """Whether a section follows this version, so that it must stay as it is."""
    query = sa.select(Section.id).where(Section.build_id == build.id).limit(1)
    if session.scalar(query) is not None:
        return True
    # A section that has moved on keeps records at steps that the newer version dropped.
    steps = sa.select(Step.id).join(Phase).where(Phase.build_id == build.id)
    return any(
        session.scalar(sa.select(table.id).where(table.step_id.in_(steps)).limit(1)) is not None
        for table in _step_records()
    )


def _step_records() -> tuple[Any, ...]:

    return (Activity, Measurement, Progress)


def drop_build(session: Session, build: Build) -> None:
    """Remove a version that nobody follows.

    Raises ValueError with a sentence otherwise.
    """
    if is_used(session, build):
        raise ValueError(f"Version {build.version} is used by a section and stays.")
    session.delete(build)
    session.flush()


def move_section(session: Session, section: Section, build: Build) -> None:
    """Let a section follow another version of its build.

    What happened at a step goes over to the step with the same key; the plan in force loses what
    is left of dropped steps and is otherwise kept until it is planned again.
    """

    targets = {step.key: step.id for phase in build.phases for step in phase.steps}
    old = session.execute(
        sa.select(Step.id, Step.key).join(Phase).where(Phase.build_id == section.build_id)
    ).all()
    teams = sa.select(Team.id).where(Team.section_id == section.id)
    current = sa.select(Plan.id).where(Plan.section_id == section.id, Plan.current)
    for step_id, key in old:
        for table in _step_records():
            mine = sa.and_(table.step_id == step_id, table.team_id.in_(teams))
            if key in targets:
                session.execute(sa.update(table).where(mine).values(step_id=targets[key]))
            elif table is Activity:
                coming = sa.select(Meeting.id).where(
                    Meeting.section_id == section.id, Meeting.state == MeetingState.PLANNED
                )
                session.execute(
                    sa.delete(Activity).where(
                        mine, Activity.plan_id.in_(current), Activity.meeting_id.in_(coming)
                    )
                )
    section.ready_made = [key for key in section.ready_made if key in targets]
    section.build = build
    _add_quantities(section, build)
    session.flush()


def _add_quantities(section: Section, build: Build) -> None:
    """Give each instrument the quantities it lacks; values it has are the team's own and stay."""

    for team in section.teams:
        known = {row.key for row in team.instrument.quantities}
        team.instrument.quantities += [
            InstrumentQuantity(key=item["key"], nominal=item["nominal"])
            for item in build.quantities
            if item["key"] not in known
        ]


# --- kinds of stations, fixtures, permits and materials ----------------------------------------


def kinds(session: Session, table: type[Kind], school_id: int | None) -> dict[str, Kind]:
    """The shipped entries of a kind by key, a school's own in place of shipped ones."""
    query = sa.select(table).where(shared_or_own(table.school_id, school_id))
    rows = session.scalars(query.order_by(table.school_id.is_not(None), table.id))
    return {row.key: row for row in rows}


# --- concepts and treatments -------------------------------------------------------------------


def list_concepts(session: Session, school_id: int | None = None) -> list[Concept]:
    """All concepts that a school sees, with their treatments, by subject and title."""
    query = (
        sa.select(Concept)
        .where(shared_or_own(Concept.school_id, school_id))
        .order_by(Concept.subject, Concept.title)
    )
    return list(session.scalars(query.options(selectinload(Concept.treatments))))


def find_concept(session: Session, key: str, school_id: int | None = None) -> Concept:
    """A concept with treatments, questions and alignments.

    Raises Missing.
    """
    treatments = selectinload(Concept.treatments)
    concept = session.scalar(
        sa.select(Concept)
        .where(Concept.key == key, shared_or_own(Concept.school_id, school_id))
        .order_by(Concept.school_id.is_(None))
        .limit(1)
        .options(
            treatments.selectinload(Treatment.questions),
            treatments.selectinload(Treatment.alignments)
            .joinedload(Alignment.standard)
            .joinedload(Standard.framework),
        )
    )
    if concept is None:
        raise Missing(f"concept {key}")
    return concept


def treatments_seen(rows: Iterable[Treatment], school_id: int | None) -> list[Treatment]:
    """The treatments that a school sees: its own in place of the shipped one of the same band."""
    seen = [row for row in rows if row.school_id is None or row.school_id == school_id]
    own = {(row.concept_id, row.band) for row in seen if row.school_id is not None}
    shown = [
        row for row in seen if row.school_id is not None or (row.concept_id, row.band) not in own
    ]
    return sorted(shown, key=lambda row: row.position)


def list_exposures(
    session: Session, concept_id: int, school_id: int | None = None
) -> list[Exposure]:
    """Where builds that the school sees show a concept, in build and step order."""
    query = (
        sa.select(Exposure)
        .join(Step)
        .join(Phase)
        .join(Build)
        .where(Exposure.concept_id == concept_id, _visible(school_id))
        .order_by(Build.title, Build.id, Phase.position, Step.position)
        .options(joinedload(Exposure.step).joinedload(Step.phase).joinedload(Phase.build))
    )
    return list(session.scalars(query))


def list_treatments(session: Session, band: str, school_id: int | None = None) -> list[Treatment]:
    """All treatments at a grade band, with concept, questions and alignments.

    With `school_id` the school's own are among them, in place of the shipped ones they replace.
    """
    query = (
        sa.select(Treatment)
        .where(Treatment.band == band, shared_or_own(Treatment.school_id, school_id))
        .order_by(Treatment.id)
        .options(
            joinedload(Treatment.concept),
            selectinload(Treatment.questions),
        )
    )
    rows = sorted(treatments_seen(session.scalars(query), school_id), key=lambda row: row.id)
    show_alignments(session, rows, school_id)
    return rows


def holding(school_id: int | None) -> sa.ColumnElement[bool]:
    """The rule of which alignments hold for a school, as a condition on `Alignment`.

    The library's own hold and those the school accepted; where it decided on one of the library's,
    its word holds: an accepted one stands in its place, a declined one is gone.
    """
    if school_id is None:
        return Alignment.school_id.is_(None)
    decided = (
        sa.select(Decision.id)
        .where(
            Decision.school_id == school_id,
            Decision.treatment_id == Alignment.treatment_id,
            Decision.standard_id == Alignment.standard_id,
        )
        .correlate(Alignment)
        .exists()
    )
    return sa.or_(
        Alignment.school_id == school_id, sa.and_(Alignment.school_id.is_(None), ~decided)
    )


def alignments_of(
    session: Session, treatment_ids: Iterable[int], school_id: int | None
) -> dict[int, list[Alignment]]:
    """The alignments that hold for a school, by treatment, the library's own first."""
    query = (
        sa.select(Alignment)
        .where(Alignment.treatment_id.in_(list(treatment_ids)), holding(school_id))
        .order_by(Alignment.school_id.is_not(None), Alignment.id)
        .options(joinedload(Alignment.standard).joinedload(Standard.framework))
    )
    found: dict[int, list[Alignment]] = {}
    for item in session.scalars(query):
        found.setdefault(item.treatment_id, []).append(item)
    return found


def show_alignments(session: Session, rows: Sequence[Treatment], school_id: int | None) -> None:
    """Let treatments show the alignments that hold for a school."""
    held = alignments_of(session, [row.id for row in rows], school_id)
    for row in rows:
        # Committed, not set: the collection that is saved stays the library's own.
        set_committed_value(row, "alignments", held.get(row.id, []))


def in_place_of(session: Session, school_id: int | None, band: str | None = None) -> dict[int, int]:
    """Ids of shipped treatments that the school replaced → ids of its own in their place."""
    if school_id is None:
        return {}
    own = aliased(Treatment)
    query = (
        sa.select(Treatment.id, own.id)
        .join(own, sa.and_(own.concept_id == Treatment.concept_id, own.band == Treatment.band))
        .where(Treatment.school_id.is_(None), own.school_id == school_id)
    )
    if band is not None:
        query = query.where(Treatment.band == band)
    return {row[0]: row[1] for row in session.execute(query)}


def alignments_seen(
    session: Session, treatment_ids: Iterable[int], school_id: int | None
) -> dict[int, list[Alignment]]:
    """By treatment: the alignments that hold for what the school sees in its place."""
    own = in_place_of(session, school_id)
    seen = {asked: own.get(asked, asked) for asked in treatment_ids}
    held = alignments_of(session, set(seen.values()), school_id)
    return {asked: held.get(instead, []) for asked, instead in seen.items()}


def longest_meetings(session: Session, school_id: int) -> dict[str, int]:
    """By grade band: the bench minutes of the longest meeting in any section of the school."""
    rows = session.execute(
        sa.select(Section.band, Meeting)
        .join(Meeting, Meeting.section_id == Section.id)
        .join(Term, Section.term_id == Term.id)
        .where(Term.school_id == school_id, Meeting.state != MeetingState.LOST)
    )
    longest: dict[str, int] = {}
    for band, meeting in rows:
        longest[band] = max(longest.get(band, 0), meeting.bench_minutes)
    return longest


def drop_treatment(session: Session, treatment: Treatment) -> None:
    """Remove a school's own treatment; what was accepted for it goes back to the shipped one.

    Raises ValueError with a sentence if a plan teaches it or student work is marked on it.
    """
    for table, why in ((Lesson, "a plan teaches it"), (Mark, "student work is marked on it")):
        query = sa.select(table.id).where(table.treatment_id == treatment.id).limit(1)
        if session.scalar(query) is not None:
            raise ValueError(f"“{treatment.title}” stays, because {why}.")
    for shipped in treatment.concept.treatments:
        if (shipped.band, shipped.school_id) == (treatment.band, None) and treatment.school_id:
            keep_accepted(session, treatment, shipped, treatment.school_id)
    treatment.concept.treatments.remove(treatment)
    session.flush()


def frameworks_named(session: Session, school_id: int | None) -> list[Framework]:
    """The frameworks whose codes a school's alignments may use."""
    query = sa.select(Framework).where(shared_or_own(Framework.school_id, school_id))
    return list(session.scalars(query.order_by(Framework.title)))


def find_standard(
    session: Session, school_id: int | None, framework: str, code: str
) -> Standard | None:
    """The standard with an official code of a framework that the school sees, if there is one."""
    return session.scalar(
        sa.select(Standard)
        .join(Framework)
        .where(
            Framework.key == framework,
            Standard.code == code,
            shared_or_own(Framework.school_id, school_id),
        )
        .order_by(Framework.school_id.is_(None))
        .limit(1)
    )


# --- what is there -----------------------------------------------------------------------------


def counts(session: Session) -> dict[str, int]:
    """How much the library holds, by kind."""
    tables = {
        "builds": Build,
        "phases": Phase,
        "steps": Step,
        "concepts": Concept,
        "exposures": Exposure,
        "treatments": Treatment,
        "questions": Question,
        "alignments": Alignment,
    }
    return {
        name: session.scalar(sa.select(sa.func.count()).select_from(table)) or 0
        for name, table in tables.items()
    }


def taught_by_phase(
    session: Session, build: Build, school_id: int | None, bands: Sequence[str]
) -> list[tuple[Phase, dict[str, tuple[int, int]]]]:
    """For each phase and band: how many treatments its exposures reach, and how many questions."""
    found: dict[str, dict[int, int]] = {
        band: {
            row.concept_id: len(row.questions) for row in list_treatments(session, band, school_id)
        }
        for band in bands
    }
    table = []
    for phase in build.phases:
        shown = {exposure.concept_id for step in phase.steps for exposure in step.exposures}
        reached = {band: [n for key, n in found[band].items() if key in shown] for band in bands}
        table.append((phase, {band: (len(n), sum(n)) for band, n in reached.items()}))
    return table


def keep_accepted(session: Session, old: Treatment, new: Treatment, school_id: int) -> None:
    """What a school decided for a treatment follows to the one that takes its place."""
    session.flush()
    for table in (Alignment, Decision):
        session.execute(
            sa.update(table)
            .where(table.treatment_id == old.id, table.school_id == school_id)
            .values(treatment_id=new.id)
            .execution_options(synchronize_session=False)
        )


def say_anew(session: Session, own: Treatment) -> None:
    """What a school's own treatment names itself is its later word: earlier decisions go."""
    session.flush()
    named = sa.select(Alignment.standard_id).where(
        Alignment.treatment_id == own.id, Alignment.school_id.is_(None)
    )
    standards = list(session.scalars(named))
    for table in (Alignment, Decision):
        session.execute(
            sa.delete(table)
            .where(
                table.treatment_id == own.id,
                table.school_id == own.school_id,
                table.standard_id.in_(standards),
            )
            .execution_options(synchronize_session=False)
        )
