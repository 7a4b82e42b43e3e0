"""Kits for several classes in one run: choose them, see totals, print the papers."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from app.domain.kit.board_cutting import CuttingError
from app.domain.kit.kit_batches import Batch
from app.domain.kit.kit_quantities import KitError
from app.domain.papers import kit_papers
from app.domain.quantities import UnreadableValue
from app.kits import cutting, kit_view
from app.kits.paper_pages import label_document, section_labels
from app.kits.routes import bp
from app.models import Section
from app.print.compile import PrintError
from app.store import Missing, sections
from app.store.kit import batches, racks
from app.web.access import me
from app.web.clock import today_here
from app.web.request_session import db

TITLES = {
    "batch": "The whole batch",
    "cut-list": "Cut list",
    "labels": "Labels",
    "packing-list": "Packing list",
}


@bp.get("/kits")
def choose_batch() -> ResponseReturnValue:
    """Which classes, and what they need together."""
    known = sections.list_sections(db(), me())
    chosen = _chosen(known)
    found = None
    wrong: tuple[str, ...] = ()
    if chosen:
        try:
            found = batches.batch(db(), chosen, today=today_here(), assurance=kit_view.assurance())
        except KitError as error:
            wrong = error.sentences
    page = render_template(
        "kits/batch.html",
        sections=known,
        chosen={section.key for section in chosen},
        batch=found,
        wrong=wrong,
        titles=TITLES,
        query={"section": [section.key for section in chosen], "assurance": kit_view.assurance()},
        assurance=kit_view.assurance(),
        assurances=kit_view.ASSURANCES,
    )
    return page, (422 if wrong else 200)


def _chosen(known: list[Section]) -> list[Section]:
    keys = set(request.args.getlist("section"))
    return [section for section in known if section.key in keys]


@bp.get("/kits/papers/<filename>")
def batch_paper(filename: str) -> ResponseReturnValue:
    """A paper of the batch as a file."""
    name, _, kind = filename.partition(".")
    chosen = _chosen(sections.list_sections(db(), me()))
    if name not in TITLES or not chosen:
        raise Missing(f"paper {filename}")
    try:
        found = batches.batch(db(), chosen, today=today_here(), assurance=kit_view.assurance())
        return kit_view.send(_made(name, chosen, found), kind)
    except (KitError, CuttingError) as error:
        return _refused(name, error.sentences), 422
    except (UnreadableValue, PrintError) as error:
        return _refused(name, (str(error),)), 422


def _refused(name: str, sentences: tuple[str, ...]) -> str:
    return render_template("kits/refused.html", title=TITLES[name], sentences=sentences)


def _made(name: str, chosen: list[Section], found: Batch) -> kit_view.Made:
    school = me().school.name
    if name == "cut-list":
        rooms = {section.room_id: section.room for section in chosen}.values()
        boards = [b for room in rooms for b in racks.boards_of(racks.list_boards(db(), room))]
        blanks = batches.batch_blanks(chosen, found)
        cut = cutting.cut(blanks, boards, cutting.asked())
        document = kit_papers.cut_document(cut, school, "several classes")
        return kit_view.Made("batch-cut-list", document, kit_papers.cut_grids(cut))
    if name == "labels":
        labels = [
            label
            for section, item in zip(chosen, found.classes, strict=True)
            for label in section_labels(section, list(item.teams))
        ]
        document = label_document(labels, school)
        return kit_view.Made("batch-labels", document, [kit_papers.label_grid(labels)], labels)
    if name == "packing-list":
        lists = [
            kit_papers.packing_document(
                item.kit, item.title, item.build_title, item.teams, today_here()
            )
            for item in found.classes
        ]
        document = kit_papers.joined(lists, f"Packing lists, {school}")
        grids = [kit_papers.packing_grid(item.kit, item.title) for item in found.classes]
        return kit_view.Made("batch-packing-list", document, grids)
    document = kit_papers.batch_document(found, school, today_here())
    return kit_view.Made("batch", document, kit_papers.batch_grids(found))
