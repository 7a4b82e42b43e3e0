"""The cut list of a section or a batch: parts of the build, boards of the rack, kerf."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import render_template, request

from app.domain.kit.board_cutting import Board, BoardCutting, CuttingError, PartBlank, cut_from_rack
from app.domain.kit.kit_quantities import KitError
from app.domain.papers import kit_papers
from app.domain.quantities import UnreadableValue, parse
from app.kits import kit_view
from app.models import Section
from app.print.page import document_html
from app.store import sections
from app.store.kit import kits, racks
from app.web.clock import today_here
from app.web.request_session import db

USUAL_KERF = "3 mm"  # circular saw; common practice, no source
USUAL_TRIM = "20 mm"  # for squaring both ends; common practice, no source


@dataclass(frozen=True, slots=True)
class CutAsked:
    """Kerf and trim as written in the address, and in metres."""

    kerf: str
    trim: str
    kerf_m: float
    trim_m: float


def asked() -> CutAsked:
    """Kerf and trim of the address, or the usual ones.

    Raises UnreadableValue.
    """
    kerf = request.args.get("kerf", "").strip() or USUAL_KERF
    trim = request.args.get("trim", "").strip() or USUAL_TRIM
    return CutAsked(
        kerf, trim, parse(kerf, "length", name="Kerf"), parse(trim, "length", name="Trim")
    )


def section_blanks(section: Section) -> list[PartBlank]:
    """The wooden parts still to come for a section, with their spares.

    Raises KitError.
    """
    kit = kits.section_kit(db(), section, today=today_here(), assurance=kit_view.assurance())
    teams = len(sections.load_teams(db(), section))
    found = racks.blanks_of(section.build, kit, teams)
    if request.args.get("all") != "1":
        return found
    return [
        racks.rough_blank(item, item["count"] * teams) for item in section.build.blanks if teams
    ]


def cut(blanks: Sequence[PartBlank], boards: Sequence[Board], sizes: CutAsked) -> BoardCutting:
    """The parts cut from the boards.

    Raises CuttingError.
    """
    return cut_from_rack(blanks, boards, sizes.kerf_m, trim_m=sizes.trim_m)


def cutting_page(section: Section, *, may_count: bool, wrong: tuple[str, ...] = ()) -> str:
    """The page: the cutting, its drawing, and the rack."""
    rows = racks.list_boards(db(), section.room)
    document = cutting = None
    blanks: list[PartBlank] = []
    try:
        sizes = asked()
        blanks = section_blanks(section)
        if blanks and rows:
            cutting = cut(blanks, racks.boards_of(rows), sizes)
            document = kit_papers.cut_document(cutting, section.title, section.build.title)
    except (CuttingError, KitError) as error:
        wrong = (*wrong, *error.sentences)
    except UnreadableValue as error:
        wrong = (*wrong, str(error))
    return render_template(
        "kits/cut_list.html",
        section=section,
        rows=rows,
        blanks=blanks,
        cutting=cutting,
        paper=document_html(document, heading=2) if document else "",
        kerf=request.args.get("kerf", USUAL_KERF),
        trim=request.args.get("trim", USUAL_TRIM),
        whole=request.args.get("all") == "1",
        query={
            name: request.args[name] for name in ("kerf", "trim", "all") if name in request.args
        },
        may_count=may_count,
        wrong=wrong,
        given=request.form,
    )
