"""What a department would lose if a phase of a build is cut, or two weeks go, in all its sections.

The losses of each section are summed up: what nobody would have any more, what a single section
carries, and what others still hold.
"""

import datetime as dt
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.standard.depth import Depth, DepthReached
from app.models import Build, Course, Department, Meeting, Phase, Section, User
from app.store import sections
from app.store.standard.department import (
    CoverageCut,
    DepartmentCoverage,
    SectionHead,
    department_coverage,
)

TWO_WEEKS = dt.timedelta(days=13)


@dataclass(frozen=True, slots=True)
class LossChange:
    """One section's depth before the cut and after it."""

    head: SectionHead
    before: DepthReached
    after: DepthReached

    @property
    def words(self) -> str:
        """What becomes of it."""
        if self.after.state is None:
            return "gone"
        if self.after.partial and not self.before.partial:
            return "only in part"
        return f"only {self.after.state}"


@dataclass(frozen=True, slots=True)
class DepartmentLoss:
    """A depth of a standard that falls back somewhere in the department."""

    standard: str
    depth: Depth
    required: bool
    changes: tuple[LossChange, ...]
    held_by: tuple[SectionHead, ...]
    """Sections that still reach the depth as before."""
    carried_by: int
    """How many sections reached the depth before."""

    @property
    def everywhere(self) -> bool:
        """Whether no section would reach the depth any more."""
        return not self.held_by and all(change.after.state is None for change in self.changes)


@dataclass(frozen=True, slots=True)
class LossAsked:
    """What can be cut: phases by build, and the Mondays of weeks with meetings."""

    phases: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    mondays: tuple[dt.date, ...]


def what_can_go(session: Session, user: User, department: Department) -> LossAsked:
    """The phases and weeks of the department's sections that `user` may see."""
    visible = sections.visible(user).where(Course.department_id == department.id)
    ids = visible.with_only_columns(Section.id).scalar_subquery()
    builds = visible.with_only_columns(Section.build_id).scalar_subquery()
    rows = session.execute(
        sa.select(Build.key, Build.title, Phase.key, Phase.title)
        .join(Phase, Phase.build_id == Build.id)
        .where(Build.id.in_(builds))
        .order_by(Build.title, Build.id.desc(), Phase.position)
    )
    by_build: dict[str, dict[str, str]] = {}
    for build, build_title, phase, title in rows:
        by_build.setdefault(build_title, {}).setdefault(f"{build}:{phase}", title)
    dates = session.scalars(sa.select(Meeting.date).where(Meeting.section_id.in_(ids)).distinct())
    mondays = {date - dt.timedelta(days=date.weekday()) for date in dates}
    return LossAsked(
        tuple((build, tuple(phases.items())) for build, phases in by_build.items()),
        tuple(sorted(mondays)),
    )


def cut_of(
    session: Session, user: User, department: Department, phase: str, monday: str
) -> CoverageCut:
    """The cut that a phase (build and phase key) and the first Monday of two weeks stand for."""
    build_key, _, phase_key = phase.partition(":")
    visible = sections.visible(user).where(Course.department_id == department.id)
    query = (
        sa.select(Phase.id)
        .join(Build)
        .where(
            Build.key == build_key,
            Phase.key == phase_key,
            Build.id.in_(visible.with_only_columns(Section.build_id).scalar_subquery()),
        )
    )
    try:
        first = dt.date.fromisoformat(monday)
    except ValueError:
        return CoverageCut(tuple(session.scalars(query)))
    return CoverageCut(tuple(session.scalars(query)), first, first + TWO_WEEKS)


def department_losses(
    session: Session, user: User | None, department: Department, cut: CoverageCut
) -> list[DepartmentLoss]:
    """What falls back, the worst first: required ones, then those lost everywhere."""
    before = department_coverage(session, user, department)
    after = department_coverage(session, user, department, cut)
    found = [
        loss
        for code in before.codes
        for depth in Depth
        if (loss := _loss(before, after, code, depth)) is not None
    ]
    # Sorting keeps the order of depths within a standard.
    return sorted(found, key=lambda loss: (not loss.everywhere, not loss.required, loss.standard))


def _loss(
    before: DepartmentCoverage, after: DepartmentCoverage, code: str, depth: Depth
) -> DepartmentLoss | None:
    changes, held = [], []
    for head in before.heads:
        was, now = (found.at(head, code).depths[depth] for found in (before, after))
        if (was.state, was.partial) != (now.state, now.partial):
            changes.append(LossChange(head, was, now))
        elif was.state is not None:
            held.append(head)
    if not changes:
        return None
    return DepartmentLoss(
        code,
        depth,
        code in before.required,
        tuple(changes),
        tuple(held),
        carried_by=len(changes) + len(held),
    )
