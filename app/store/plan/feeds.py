"""The calendar feed of a section: its facts, and the secret in its public address."""

import datetime as dt
import secrets

import sqlalchemy as sa
from sqlalchemy.orm import Session

from app.domain.papers.class_plan import WeekPlan
from app.models import Plan, Section
from app.store.missing import Missing
from app.store.paper import papers
from app.store.plan import plans
from app.store.plan.semester import milestone_dates

Milestones = list[tuple[dt.date, str]]

SECRET_BYTES = 24  # 192 bits: nobody guesses it


def open_feed(section: Section) -> str:
    """Give the section a new secret address; an earlier one ends at once."""
    section.feed_token = secrets.token_urlsafe(SECRET_BYTES)
    return section.feed_token


def close_feed(section: Section) -> None:
    """Take the feed back: its address leads nowhere from now on."""
    section.feed_token = None


def section_of_feed(session: Session, token: str) -> Section:
    """The section whose feed has this secret.

    Raises Missing.
    """
    section = session.scalar(sa.select(Section).where(Section.feed_token == token))
    if section is None:
        raise Missing("feed")
    return section


def feed_facts(session: Session, section: Section) -> tuple[Plan, WeekPlan, Milestones]:
    """The current plan, all its meetings and its milestones.

    Raises NoPlan.
    """
    plan = plans.load_plan(session, section)
    rows = plans.list_activities(session, plan)
    return plan, papers.term_plan(session, section, plan), milestone_dates(section, rows)
