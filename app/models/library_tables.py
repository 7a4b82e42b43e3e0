"""The library: what a build is made of, what it shows, and what can be taught with it.

Nested parts that are only ever read whole (cautions, drying, the quality check) are JSON in the
shape of the library file schema; whatever is searched or counted has a table. A row without
`school_id` is shipped and shared; one with it is that school's own, and where both have the same
key the school sees its own.
"""

import datetime as dt
import secrets
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.orm import Mapped, Session, mapped_column, relationship

from app.db import Base


class StationType(Base):
    __tablename__ = "station_type"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    places: Mapped[int]
    hazard_class: Mapped[str]
    supervision: Mapped[str]
    zone: Mapped[str | None]
    permit: Mapped[str | None]
    substitute_safe: Mapped[bool]
    adult_only: Mapped[bool]
    level_dba: Mapped[float | None]


class FixtureType(Base):
    __tablename__ = "fixture_type"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    count: Mapped[int]


class PermitType(Base):
    __tablename__ = "permit_type"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    renew_after_days: Mapped[int | None]


class SafetyBank(Base):
    """The written test of a sign-off: its items, and the practices that it brings along."""

    __tablename__ = "safety_bank"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    practices: Mapped[list[dict[str, Any]]]
    items: Mapped[list[dict[str, Any]]]


class Material(Base):
    __tablename__ = "material"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    unit: Mapped[str]
    cost_low: Mapped[float]
    cost_high: Mapped[float]
    currency: Mapped[str]
    lead_days_low: Mapped[int]
    lead_days_high: Mapped[int]
    loss_rate: Mapped[float]
    category: Mapped[str]
    note: Mapped[str]
    lowest_grade: Mapped[int | None]
    pack_size: Mapped[float] = mapped_column(default=1.0)


class Build(Base):
    """One version of a kind of instrument a class makes. A section keeps its version."""

    __tablename__ = "build"
    __table_args__ = (sa.UniqueConstraint("school_id", "key", "version"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    version: Mapped[str]
    title: Mapped[str]
    summary: Mapped[str]
    band: Mapped[str]
    team_size: Mapped[int]
    currency: Mapped[str]
    note: Mapped[str]
    quantities: Mapped[list[dict[str, Any]]]
    strings: Mapped[list[dict[str, Any]]]
    no_treatment: Mapped[list[dict[str, Any]]]
    blanks: Mapped[list[dict[str, Any]]] = mapped_column(default=list)

    phases: Mapped[list["Phase"]] = relationship(
        back_populates="build", order_by="Phase.position", cascade="all, delete-orphan"
    )


class Phase(Base):
    __tablename__ = "phase"
    __table_args__ = (sa.UniqueConstraint("build_id", "key"),)

    build_id: Mapped[int] = mapped_column(sa.ForeignKey("build.id"), index=True)
    position: Mapped[int]
    key: Mapped[str]
    title: Mapped[str]
    summary: Mapped[str]
    milestone: Mapped[str]

    build: Mapped[Build] = relationship(back_populates="phases")
    steps: Mapped[list["Step"]] = relationship(
        back_populates="phase", order_by="Step.position", cascade="all, delete-orphan"
    )


class Step(Base):
    __tablename__ = "step"
    __table_args__ = (sa.UniqueConstraint("phase_id", "key"),)

    phase_id: Mapped[int] = mapped_column(sa.ForeignKey("phase.id"), index=True)
    position: Mapped[int]
    key: Mapped[str]
    title: Mapped[str]
    purpose: Mapped[str]
    minutes_low: Mapped[float]
    minutes_typical: Mapped[float]
    minutes_high: Mapped[float]
    minutes_per: Mapped[str]
    hands: Mapped[int]
    one_sitting: Mapped[bool]
    minimum_sitting: Mapped[float]
    whole_class: Mapped[bool]
    station: Mapped[str]
    places: Mapped[int]
    outside_class: Mapped[bool]
    drying: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON(none_as_null=True))
    holds: Mapped[list[dict[str, Any]]]
    hazard_class: Mapped[str]
    hazards: Mapped[list[str]]
    cautions: Mapped[list[dict[str, Any]]]
    protection: Mapped[list[str]]
    supervision: Mapped[str]
    permit: Mapped[str | None]
    grants: Mapped[list[str]]
    substitute_safe: Mapped[bool]
    hold_point: Mapped[bool]
    after: Mapped[list[str]]
    tools: Mapped[list[str]]
    check: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON(none_as_null=True))
    ready_made: Mapped[list[dict[str, Any]]]
    catch_up: Mapped[str]

    phase: Mapped[Phase] = relationship(back_populates="steps")
    exposures: Mapped[list["Exposure"]] = relationship(
        back_populates="step", order_by="Exposure.position", cascade="all, delete-orphan"
    )
    materials: Mapped[list["StepMaterial"]] = relationship(
        back_populates="step", order_by="StepMaterial.id", cascade="all, delete-orphan"
    )

    @property
    def asked_permit(self) -> str | None:
        """What a student must be signed off for before it; None where it grants that itself."""
        return None if self.permit in self.grants else self.permit


class StepMaterial(Base):
    __tablename__ = "step_material"

    step_id: Mapped[int] = mapped_column(sa.ForeignKey("step.id"), index=True)
    material_id: Mapped[int] = mapped_column(sa.ForeignKey("material.id"), index=True)
    quantity: Mapped[float]
    per: Mapped[str] = mapped_column(default="instrument")

    step: Mapped[Step] = relationship(back_populates="materials")
    material: Mapped[Material] = relationship()


class Concept(Base):
    __tablename__ = "concept"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    subject: Mapped[str]
    summary: Mapped[str]

    treatments: Mapped[list["Treatment"]] = relationship(
        back_populates="concept", order_by="Treatment.position", cascade="all, delete-orphan"
    )


class Exposure(Base):
    """Step × concept: what the step shows of it, and which reading it yields."""

    __tablename__ = "exposure"
    __table_args__ = (sa.UniqueConstraint("step_id", "concept_id"),)

    step_id: Mapped[int] = mapped_column(sa.ForeignKey("step.id"), index=True)
    concept_id: Mapped[int] = mapped_column(sa.ForeignKey("concept.id"), index=True)
    position: Mapped[int]
    shows: Mapped[str]
    reading: Mapped[str]
    quantity: Mapped[str | None]

    step: Mapped[Step] = relationship(back_populates="exposures")
    concept: Mapped[Concept] = relationship()


class Treatment(Base):
    """A concept taught at a grade band. A school's own takes the place of the shipped one."""

    __tablename__ = "treatment"
    __table_args__ = (sa.UniqueConstraint("concept_id", "band", "school_id"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    concept_id: Mapped[int] = mapped_column(sa.ForeignKey("concept.id"), index=True)
    position: Mapped[int]
    band: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    minutes: Mapped[int]
    goal: Mapped[str]
    explanation: Mapped[str]
    demonstration: Mapped[str]
    vocabulary: Mapped[list[dict[str, Any]]]
    misconception: Mapped[str]
    response: Mapped[str]
    extension: Mapped[str]
    support: Mapped[str]
    prerequisites: Mapped[list[str]]
    calculator: Mapped[str | None]

    concept: Mapped[Concept] = relationship(back_populates="treatments")
    questions: Mapped[list["Question"]] = relationship(
        back_populates="treatment", order_by="Question.position", cascade="all, delete-orphan"
    )
    # The treatment's own. Which hold for a school, `store.library.holding` says.
    alignments: Mapped[list["Alignment"]] = relationship(
        back_populates="treatment",
        order_by="Alignment.id",
        cascade="all, delete-orphan",
        primaryjoin="and_(Treatment.id == Alignment.treatment_id, Alignment.school_id.is_(None))",
    )


class Question(Base):
    """A question pattern; its parameters and answers keep the shape of the library file."""

    __tablename__ = "question"
    __table_args__ = (sa.UniqueConstraint("treatment_id", "key"),)

    treatment_id: Mapped[int] = mapped_column(sa.ForeignKey("treatment.id"), index=True)
    position: Mapped[int]
    key: Mapped[str]
    prompt: Mapped[str]
    parameters: Mapped[dict[str, Any]]
    computed: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON(none_as_null=True))
    written: Mapped[str]
    wrong: Mapped[list[dict[str, Any]]]
    depth_of_knowledge: Mapped[int]
    measure_then_compare: Mapped[bool]
    steps: Mapped[list[str]]
    space_lines: Mapped[int]

    treatment: Mapped[Treatment] = relationship(back_populates="questions")


class Framework(Base):
    """A set of standards. `identifier` and `source` are those of the file it was imported from.

    `revision` differs after every change of its standards, so that an index of them can be kept.
    """

    __tablename__ = "framework"
    __table_args__ = (sa.UniqueConstraint("school_id", "key"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    key: Mapped[str]
    title: Mapped[str]
    publisher: Mapped[str]
    version: Mapped[str]
    notice: Mapped[str]
    uri: Mapped[str]
    identifier: Mapped[str] = mapped_column(default="")
    revision: Mapped[str] = mapped_column(default="")
    source: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON(none_as_null=True))
    imported_by: Mapped[str] = mapped_column(default="")
    imported_at: Mapped[dt.datetime | None]

    standards: Mapped[list["Standard"]] = relationship(
        back_populates="framework", order_by="Standard.position", cascade="all, delete-orphan"
    )


class Standard(Base):
    """An official code. `statement` is filled only by a school's own import, unchanged.

    `code` names it within its framework: the official code, or where the file has none or has it
    twice, one made of the identifier. `source` is the imported item without its statement.
    """

    __tablename__ = "standard"
    __table_args__ = (sa.UniqueConstraint("framework_id", "code"),)

    framework_id: Mapped[int] = mapped_column(sa.ForeignKey("framework.id"), index=True)
    position: Mapped[int]
    code: Mapped[str] = mapped_column(index=True)
    domain: Mapped[str]
    subject: Mapped[str]
    grade_low: Mapped[str]
    grade_high: Mapped[str]
    parent: Mapped[str]
    aliases: Mapped[list[str]]
    note: Mapped[str]
    statement: Mapped[str] = mapped_column(default="")
    retired: Mapped[bool] = mapped_column(default=False)
    identifier: Mapped[str] = mapped_column(default="", index=True)
    uri: Mapped[str] = mapped_column(default="")
    item_type: Mapped[str] = mapped_column(default="")
    source: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON(none_as_null=True))

    framework: Mapped[Framework] = relationship(back_populates="standards")

    @property
    def grades(self) -> str:
        """The grades in words; "" where the imported file gives none."""
        if self.source is not None and not self.source.get("educationLevel"):
            return ""
        low, high = ("college" if g == "13" else g for g in (self.grade_low, self.grade_high))
        return low if low == high else f"{low}–{high}"


class StandardLink(Base):
    """An association of an imported framework: hierarchy, crosswalk, replacement.

    Ends are identifiers as the file has them; they may lie in another framework or nowhere.
    """

    __tablename__ = "standard_link"
    __table_args__ = (sa.Index("ix_standard_link_ends", "framework_id", "kind", "origin"),)

    framework_id: Mapped[int] = mapped_column(
        sa.ForeignKey("framework.id", ondelete="CASCADE"), index=True
    )
    position: Mapped[int]
    identifier: Mapped[str]
    kind: Mapped[str]
    origin: Mapped[str] = mapped_column(index=True)
    destination: Mapped[str] = mapped_column(index=True)
    source: Mapped[dict[str, Any]]


class FrameworkUpload(Base):
    """A file a person looks at before it is imported; the next one takes its place."""

    __tablename__ = "framework_upload"

    user_id: Mapped[int] = mapped_column(sa.ForeignKey("user.id"), unique=True)
    name: Mapped[str]
    given: Mapped[dict[str, Any]]
    content: Mapped[bytes]
    uploaded_at: Mapped[dt.datetime]


@event.listens_for(Session, "before_flush")
def _mark_revision(session: Session, _context: Any, _instances: Any) -> None:
    for row in (*session.new, *session.dirty, *session.deleted):
        if isinstance(row, Standard) and session.is_modified(row):
            framework = row.framework or session.get(Framework, row.framework_id)
            if framework is not None:
                framework.revision = secrets.token_hex(8)


class Alignment(Base):
    """Treatment ↔ standard, with our reason, a condition, and who decided when.

    `school_id` is set where a school accepted it for itself, beside what the treatment came with.
    """

    __tablename__ = "alignment"
    __table_args__ = (sa.UniqueConstraint("treatment_id", "standard_id", "school_id"),)

    school_id: Mapped[int | None] = mapped_column(sa.ForeignKey("school.id"), index=True)
    treatment_id: Mapped[int] = mapped_column(
        sa.ForeignKey("treatment.id", ondelete="CASCADE"), index=True
    )
    standard_id: Mapped[int] = mapped_column(sa.ForeignKey("standard.id"), index=True)
    strength: Mapped[str]
    reason: Mapped[str]
    condition: Mapped[str]
    practice: Mapped[bool]
    decided_by: Mapped[str]
    decided_on: Mapped[str]

    treatment: Mapped[Treatment] = relationship(
        back_populates="alignments", foreign_keys=[treatment_id]
    )
    standard: Mapped[Standard] = relationship()


class Decision(Base):
    """A suggested alignment that a person of the school accepted or declined, and why."""

    __tablename__ = "decision"
    __table_args__ = (sa.UniqueConstraint("school_id", "treatment_id", "standard_id"),)

    school_id: Mapped[int] = mapped_column(sa.ForeignKey("school.id"), index=True)
    treatment_id: Mapped[int] = mapped_column(
        sa.ForeignKey("treatment.id", ondelete="CASCADE"), index=True
    )
    standard_id: Mapped[int] = mapped_column(sa.ForeignKey("standard.id"), index=True)
    accepted: Mapped[bool]
    origin: Mapped[str]
    shown: Mapped[str]
    reason: Mapped[str]
    decided_by: Mapped[str]
    decided_at: Mapped[dt.datetime]

    treatment: Mapped[Treatment] = relationship()
    standard: Mapped[Standard] = relationship()
