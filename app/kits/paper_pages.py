"""The papers of a section's kit, as pages and as files."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from app.domain.kit.board_cutting import CuttingError
from app.domain.kit.kit_quantities import KitError
from app.domain.papers import kit_papers
from app.domain.papers.document import Document, Table, Title
from app.domain.quantities import UnreadableValue
from app.kits import cutting, kit_view
from app.kits.routes import bp, pull_span
from app.models import Section
from app.print.compile import PrintError
from app.print.page import document_html
from app.store import Missing, sections
from app.store.kit import kits, pulls, racks
from app.store.plan import plans
from app.web.access import me
from app.web.clock import today_here
from app.web.request_session import db

TITLES = {
    "order-list": "Order list",
    "packing-list": "Packing list",
    "labels": "Labels",
    "cut-list": "Cut list",
    "pull-list": "Pull list",
}


@bp.get("/sections/<key>/kit/papers/<filename>")
def paper(key: str, filename: str) -> ResponseReturnValue:
    """A paper as a page (labels), or as a file (labels.pdf, labels.csv, labels.xlsx)."""
    section = sections.load_section(db(), me(), key)
    name, _, kind = filename.partition(".")
    if name not in TITLES or kind not in ("", *kit_view.FILE_KINDS):
        raise Missing(f"paper {filename}")
    try:
        made = _made(section, name)
        if kind:
            return kit_view.send(made, kind)
    except (KitError, CuttingError) as error:
        return _refused(section, name, error.sentences), 422
    except (UnreadableValue, PrintError) as error:
        return _refused(section, name, (str(error),)), 422
    return render_template(
        "kits/paper.html",
        section=section,
        name=name,
        title=TITLES[name],
        paper=document_html(made.document, heading=2),
        labels=made.labels,
        query={k: v for k, v in request.args.items() if k not in ("paper", "skip")},
    )


def _refused(section: Section, name: str, sentences: tuple[str, ...]) -> str:
    return render_template(
        "kits/refused.html", section=section, title=TITLES[name], sentences=sentences
    )


def _made(section: Section, name: str) -> kit_view.Made:
    """The paper asked for.

    Raises KitError, CuttingError, UnreadableValue, or NoPlan.
    """
    file = f"{section.key}-{name}"
    if name == "pull-list":
        plan = plans.load_plan(db(), section)
        pull = pulls.pull_list(db(), section, plan, *pull_span(section))
        return kit_view.Made(file, kit_papers.pull_document(pull), [kit_papers.pull_grid(pull)])
    if name == "cut-list":
        boards = racks.boards_of(racks.list_boards(db(), section.room))
        found = cutting.cut(cutting.section_blanks(section), boards, cutting.asked())
        document = kit_papers.cut_document(found, section.title, section.build.title)
        return kit_view.Made(file, document, kit_papers.cut_grids(found))
    kit = kits.section_kit(db(), section, today=today_here(), assurance=kit_view.assurance())
    teams = [team.code for team in sections.load_teams(db(), section)]
    if name == "labels":
        labels = section_labels(section, teams)
        return kit_view.Made(
            file, label_document(labels, section.title), [kit_papers.label_grid(labels)], labels
        )
    if name == "packing-list":
        document = kit_papers.packing_document(
            kit, section.title, section.build.title, teams, today_here()
        )
        return kit_view.Made(file, document, [kit_papers.packing_grid(kit, section.title)])
    document = kit_papers.order_document(kit, section.title, section.build.title, today_here())
    grid = kit_papers.order_grid(line for line in kit.lines if line.order)
    return kit_view.Made(file, document, [grid])


def section_labels(section: Section, teams: list[str]) -> list[kit_papers.PartLabel]:
    """A label for each wooden part and for the bag of each phase that needs small parts."""
    parts = [(item["title"], item["count"]) for item in section.build.blanks]
    bags: dict[str, None] = {}
    for step in sections.load_steps(db(), section.build_id):
        if any(item.material.category != "wood" for item in step.materials):
            bags[f"Bag: {step.phase.title}"] = None
    wanted = [*parts, *((title, 1) for title in bags)]
    return kit_papers.labels_for(section.title, section.build.title, teams, wanted)


def label_document(labels: list[kit_papers.PartLabel], head: str) -> Document:
    """Labels as a list, for the page."""
    rows = tuple((item.team, item.part) for item in labels)
    return Document(
        f"Labels, {head}", (Title("Labels", head), Table(("Team", "Part"), rows)), foot=head
    )
