"""What to buy for a section, what is on hand, the boards on the rack and the pull list."""

import datetime as dt

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.domain.kit.kit_quantities import KitError
from app.domain.quantities import plain_number
from app.kits import kit_view
from app.kits.cutting import cutting_page
from app.models import Role, Section
from app.store import Missing, sections
from app.store.kit import kits, pulls, racks
from app.store.plan import plans
from app.web.access import me
from app.web.clock import now_here, today_here
from app.web.request_session import db

bp = Blueprint("kits", __name__)

UNDO_HOURS = 12


@bp.get("/sections/<key>/kit")
def kit(key: str) -> ResponseReturnValue:
    """The kit list: needed, spares, used, on hand, short, order by."""
    section = sections.load_section(db(), me(), key)
    found = None
    wrong: tuple[str, ...] = ()
    try:
        found = kits.section_kit(db(), section, today=today_here(), assurance=kit_view.assurance())
    except KitError as error:
        wrong = error.sentences
    return render_template(
        "kits/kit.html",
        section=section,
        kit=found,
        wrong=wrong,
        assurance=kit_view.assurance(),
        assurances=kit_view.ASSURANCES,
        approval_days=section.room.school.approval_days,
        planned=plans.current_plan(db(), section) is not None,
        may_count=_may_count(section),
        shared=kits.shares_room(db(), section),
        places={item.key: item.place for item in _levels(section)},
    )


@bp.post("/sections/<key>/kit/approval")
def set_approval(key: str) -> ResponseReturnValue:
    """Say how many open days an order takes to be approved in this school."""
    section = _to_count(key)
    days = request.form.get("approval_days", type=int)
    if days is None or not 0 <= days <= 120:
        flash("Approval takes 0 to 120 open days: enter a whole number.", "refused")
        return redirect(url_for("kits.kit", key=key), 303)
    section.room.school.approval_days = days
    db().commit()
    flash("The days of approval are saved; order-by dates follow.")
    return redirect(url_for("kits.kit", key=key), 303)


# --- counting ------------------------------------------------------------------------------------


def _may_count(section: Section) -> bool:
    """The teacher of the section, and whoever keeps the workshop's store."""
    user = me()
    return user.role is Role.WORKSHOP_LEAD or sections.may_change(user, section)


def _to_count(key: str) -> Section:
    section = sections.load_section(db(), me(), key)
    if not _may_count(section):
        raise Missing(f"section {key}")
    return section


def _levels(section: Section) -> list[kits.Kept]:
    return kits.kept_for(db(), section)


@bp.get("/sections/<key>/kit/count")
def count(key: str) -> ResponseReturnValue:
    """The counting page: one line per material, made for a phone."""
    return _count_page(_to_count(key))


def _count_page(section: Section, wrong: tuple[str, ...] = ()) -> str:
    last = kits.last_count(db(), section.room, by=me().name)
    fresh = last is not None and now_here() - last.counted_at < dt.timedelta(hours=UNDO_HOURS)
    return render_template(
        "kits/count.html",
        section=section,
        kept=_levels(section),
        wrong=wrong,
        undo=last if fresh else None,
        given=request.form,
    )


@bp.post("/sections/<key>/kit/count")
def count_stock(key: str) -> ResponseReturnValue:
    """Write down what was counted; lines left empty stay as they are."""
    session, section = db(), _to_count(key)
    counts, wrong = _numbers("have-")
    if not counts and not wrong:
        wrong.append("Enter what you counted of at least one material.")
    if not wrong:
        try:
            kits.count_stock(session, section.room, counts, by=me().name, now=now_here())
        except ValueError as error:
            wrong.append(str(error))
    if wrong:
        session.rollback()
        return _count_page(_to_count(key), tuple(wrong)), 422
    session.commit()
    flash(f"{len(counts)} counted." if len(counts) > 1 else "Counted.")
    return redirect(url_for("kits.count", key=key), 303)


@bp.post("/sections/<key>/kit/count/take-back")
def take_back(key: str) -> ResponseReturnValue:
    """Take back the last count: what stood before holds again."""
    section = _to_count(key)
    taken = kits.take_back_count(db(), section.room, by=me().name)
    db().commit()
    flash("The last count is taken back." if taken else "There is no count of yours to take back.")
    return redirect(url_for("kits.count", key=key), 303)


@bp.post("/sections/<key>/kit/levels")
def set_levels(key: str) -> ResponseReturnValue:
    """Say where materials lie and from which level they are reordered."""
    session, section = db(), _to_count(key)
    levels, wrong = _numbers("level-")
    try:
        for name, place in request.form.items():
            material = name.removeprefix("place-")
            if name.startswith("place-"):
                kits.keep(
                    session, section.room, material, reorder_at=levels.get(material), place=place
                )
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        session.rollback()
        return _count_page(_to_count(key), tuple(wrong)), 422
    session.commit()
    flash("Places and reorder levels are saved.")
    return redirect(url_for("kits.count", key=key), 303)


def _numbers(prefix: str) -> tuple[dict[str, float], list[str]]:
    """The numbers of a form by material, and what is wrong with the others."""
    found: dict[str, float] = {}
    wrong = []
    for name, text in request.form.items():
        if name.startswith(prefix) and text.strip():
            try:
                found[name.removeprefix(prefix)] = plain_number(text)
            except ValueError:
                wrong.append(f"“{text[:40]}” is no number; enter one such as 12 or 1.5.")
    return found, wrong


# --- boards on the rack --------------------------------------------------------------------------


@bp.get("/sections/<key>/kit/cut-list")
def cut_list(key: str) -> ResponseReturnValue:
    """Which part from which board of the rack, drawn to scale."""
    section = sections.load_section(db(), me(), key)
    return cutting_page(section, may_count=_may_count(section))


@bp.post("/sections/<key>/kit/boards")
def add_boards(key: str) -> ResponseReturnValue:
    """Put boards on the rack."""
    session, section = db(), _to_count(key)
    form = request.form
    try:
        count = int(form.get("count", "") or 1)
    except ValueError:
        count = 0
    try:
        racks.add_boards(
            session,
            section.room,
            label=form.get("label", ""),
            count=count,
            length=form.get("length", ""),
            width=form.get("width", ""),
            thickness=form.get("thickness", ""),
            species=form.get("species", ""),
        )
    except ValueError as error:
        session.rollback()
        return cutting_page(_to_count(key), may_count=True, wrong=(str(error),)), 422
    session.commit()
    flash("The boards are on the rack.")
    return redirect(url_for("kits.cut_list", key=key), 303)


@bp.post("/sections/<key>/kit/boards/<int:board_id>/remove")
def remove_boards(key: str, board_id: int) -> ResponseReturnValue:
    """Take boards off the rack."""
    section = _to_count(key)
    racks.remove_boards(db(), section.room, board_id)
    db().commit()
    flash("The boards are off the rack.")
    return redirect(url_for("kits.cut_list", key=key), 303)


# --- the pull list -------------------------------------------------------------------------------


@bp.get("/sections/<key>/kit/pull-list")
def pull_list(key: str) -> ResponseReturnValue:
    """What to set out for a day or a week, by team."""
    section = sections.load_section(db(), me(), key)
    plan = plans.load_plan(db(), section)
    meetings = sections.list_meetings(db(), section)
    first, last = pull_span(section)
    return render_template(
        "kits/pull_list.html",
        section=section,
        pull=pulls.pull_list(db(), section, plan, first, last),
        one_day=first == last,
        query={name: request.args[name] for name in ("week", "date") if name in request.args},
        before=max((m.date for m in meetings if m.date < first), default=None),
        after=min((m.date for m in meetings if m.date > last), default=None),
        week=next((m.week for m in meetings if m.date >= first), None),
        may_count=_may_count(section),
    )


def pull_span(section: Section) -> tuple[dt.date, dt.date]:
    """The dates asked for: a week by number, a day by date, otherwise the next meeting's day.

    Raises Missing where the term has no such meeting.
    """
    meetings = sections.list_meetings(db(), section)
    week = request.args.get("week", type=int)
    try:
        day = dt.date.fromisoformat(request.args.get("date", ""))
    except ValueError:
        day = None
    if week is not None:
        dates = [m.date for m in meetings if m.week == week]
    elif day is not None:
        dates = [m.date for m in meetings if m.date == day]
    else:
        dates = [m.date for m in meetings if m.date >= today_here()][:1] or [
            m.date for m in meetings[-1:]
        ]
    if not dates:
        raise Missing("meeting")
    return min(dates), max(dates)


@bp.post("/sections/<key>/kit/blades")
def change_blade(key: str) -> ResponseReturnValue:
    """Record a fresh blade or bit."""
    session, section = db(), _to_count(key)
    try:
        pulls.change_blade(
            session, section.room, request.form.get("station", ""), by=me().name, now=now_here()
        )
    except ValueError as error:
        session.rollback()
        flash(str(error), "refused")
        return redirect(url_for("kits.pull_list", key=key), 303)
    session.commit()
    flash("The fresh blade is recorded; what is done from now on counts against it.")
    return redirect(url_for("kits.pull_list", key=key), 303)
