"""The papers of a kit: order list, pull list, cut list, labels, packing list and batch.

Each is a document for page and print, and a table for a spreadsheet, from the same values.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from app.domain.dates import long_date
from app.domain.kit.board_cutting import BoardCutting, CutBoard, drawings
from app.domain.kit.kit_batches import Batch
from app.domain.kit.kit_quantities import KitLine, KitList
from app.domain.papers.class_plan import StepHazard, merged_caution
from app.domain.papers.document import (
    Block,
    Caution,
    Document,
    Figure,
    Heading,
    Items,
    PageBreak,
    Paragraph,
    Table,
    Title,
)
from app.domain.papers.drawing import PRINTABLE_HEIGHT_MM, on_paper
from app.domain.quantities import significant

Cell = str | float | int | None
NOTHING = "–"
TO_TICK = "____"


@dataclass(frozen=True, slots=True)
class KitGrid:
    """A table for a spreadsheet."""

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def amount(quantity: float, unit: str = "") -> str:
    """A quantity as people write it; pieces carry no unit."""
    written = significant(quantity, 6)
    return written if unit in ("", "ea") else f"{written} {unit}"


def money(currency: str, low: float, high: float) -> str:
    """A range of cost."""
    return f"{currency} {low:,.2f}" if low == high else f"{currency} {low:,.2f}–{high:,.2f}"


def short_date(day: date | None) -> str:
    """Tue 9 Feb 2027, or a dash."""
    return f"{day:%a} {day.day} {day:%b} {day.year}" if day else NOTHING


# --- the order list ------------------------------------------------------------------------------

ORDER_HEADER = (
    "order by",
    "part",
    "key",
    "order",
    "unit",
    "pack",
    "needed",
    "spares",
    "used",
    "on hand",
    "short",
    "needed on",
    "price low",
    "price high",
    "cost low",
    "cost high",
    "currency",
    "notes",
)


def order_grid(lines: Iterable[KitLine], title: str = "Order list") -> KitGrid:
    """What is to be ordered, soonest first, for a bookkeeper's spreadsheet."""
    return KitGrid(
        title,
        ORDER_HEADER,
        tuple(
            (
                line.order_by.isoformat() if line.order_by else None,
                line.title,
                line.material,
                line.order,
                line.unit,
                line.pack_size,
                line.needed,
                line.spares,
                line.used,
                line.on_hand,
                line.short,
                line.needed_on.isoformat() if line.needed_on else None,
                line.price_low,
                line.price_high,
                line.cost_low,
                line.cost_high,
                line.currency,
                " ".join(line.sentences),
            )
            for line in lines
        ),
    )


def order_document(kit: KitList, section: str, build: str, today: date) -> Document:
    """The order list for the bookkeeper: what is short, by order-by date, with its cost range."""
    lines = [line for line in kit.lines if line.order]
    blocks: list[Block] = [Title("Order list", section, long_date(today), build)]
    blocks += _order_blocks(lines, kit.costs.items())
    if kit.sentences:
        blocks.append(Items(kit.sentences, label="Look at these first"))
    return Document(f"Order list, {section}", tuple(blocks), foot=section)


def _order_blocks(
    lines: Sequence[KitLine], costs: Iterable[tuple[str, tuple[float, float]]]
) -> Iterator[Block]:
    if not lines:
        yield Paragraph("Nothing is short: nothing is to be ordered.")
        return
    total = "; ".join(money(currency, *span) for currency, span in costs)
    yield Paragraph(f"{len(lines)} lines, {total} in all. Prices are estimates without tax.")
    yield Table(
        ("Order by", "Part", "Order", "Needed on", "Cost"),
        tuple(
            (
                short_date(line.order_by),
                line.title,
                amount(line.order, line.unit),
                short_date(line.needed_on),
                money(line.currency, line.cost_low, line.cost_high),
            )
            for line in lines
        ),
    )


# --- the cut list --------------------------------------------------------------------------------

CUT_HEADER = (
    "board",
    "of",
    "length mm",
    "width mm",
    "strip",
    "strip width mm",
    "layers",
    "cut, in order mm",
)
PART_HEADER = ("mark", "part", "count", "length mm", "width mm", "thickness mm", "along", "reason")


def millimetres(length_m: float | None) -> str:
    """A length in mm to a tenth, or a dash."""
    return NOTHING if length_m is None else f"{round(1000 * length_m, 1):g}"


def cut_document(cutting: BoardCutting, head: str, place: str = "") -> Document:
    """The cut list: parts by letter, boards drawn to scale, cuts in order, off-cuts worth keeping."""
    blocks: list[Block] = [Title("Cut list", head, place=place)]
    blocks.append(Paragraph(cutting_sentence(cutting)))
    if cutting.reasons:
        blocks.append(Items(cutting.reasons, label="Not cut"))
    blocks.append(
        Table(
            ("Mark", "Part (rough size)", "Pieces", "Length", "Width", "Thickness"),
            tuple(
                (
                    part.mark,
                    part.blank.title,
                    str(part.blank.count),
                    f"{millimetres(part.length_m)} mm",
                    f"{millimetres(part.width_m)} mm",
                    f"{millimetres(part.blank.thickness_m)} mm",
                )
                for part in cutting.parts
            ),
            caption="Parts, length along the grain",
        )
    )
    for drawing in drawings(cutting):
        sheet = on_paper(drawing, height_mm=PRINTABLE_HEIGHT_MM)
        blocks.append(Figure(sheet, drawing.description, drawing.title))
    if cutting.boards:
        blocks.append(_board_table(cutting.boards))
    if cutting.offcuts:
        blocks.append(
            Paragraph("; ".join(_offcut_words(cutting)) + ".", label="Off-cuts worth keeping")
        )
    return Document(f"Cut list, {head}", tuple(blocks), foot=head)


def cutting_sentence(cutting: BoardCutting) -> str:
    """How much board it takes, how good that is, and how it is reckoned."""
    if not cutting.boards:
        return "Nothing can be cut from these boards."
    return (
        f"{cutting.boards_used} boards, {cutting.strip_length_m:.2f} m of strips where "
        f"{cutting.least_m:.2f} m are the least that could do ({cutting.proof}). Yield "
        f"{100 * cutting.yield_share:.0f} %. Saw kerf {millimetres(cutting.kerf_m)} mm between parts; "
        "rip first, then crosscut from the left. Mark bad places before cutting."
    )


def _board_table(boards: Sequence[CutBoard]) -> Table:
    rows = []
    for number, board in enumerate(boards, 1):
        size = millimetres(board.length_m)
        if board.width_m is not None:
            size += f" × {millimetres(board.width_m)}"
        rows.append(
            (
                f"{number}"
                + (
                    f"\N{NO-BREAK SPACE}(×\N{NO-BREAK SPACE}{board.count})"
                    if board.count > 1
                    else ""
                ),
                board.label,
                f"{size} mm",
                "; ".join(_strip_words(board)),
            )
        )
    return Table(
        ("No.", "Board", "Size", "Strips and cuts from the left, in mm"),
        tuple(rows),
        caption="Cuts",
    )


def _strip_words(board: CutBoard) -> Iterator[str]:
    for strip in board.strips:
        wide = "" if strip.width_m is None else f"{millimetres(strip.width_m)} wide"
        wide += f", each piece resawn into {strip.layers}" if strip.layers > 1 else ""
        wide = f"{wide.removeprefix(', ')}: " if wide else ""
        cuts = " · ".join(f"{cut.mark} {millimetres(cut.length_m)}" for cut in strip.pieces)
        yield f"{wide}{cuts}, left {millimetres(strip.offcut_m)}"


def _offcut_words(cutting: BoardCutting) -> Iterator[str]:
    for count, length, width in cutting.offcuts:
        across = "" if width is None else f" × {millimetres(width)}"
        yield f"{count} × {millimetres(length)}{across} mm"


def cut_grids(cutting: BoardCutting) -> list[KitGrid]:
    """The cut list as tables: parts, then boards strip by strip."""
    parts = tuple(
        (
            part.mark,
            part.blank.title,
            part.blank.count,
            _number(part.length_m),
            _number(part.width_m),
            _number(part.blank.thickness_m),
            part.blank.along,
            part.reason,
        )
        for part in cutting.parts
    )
    strips = tuple(
        (
            f"{number} {board.label}",
            board.count,
            _number(board.length_m),
            _number(board.width_m),
            place,
            _number(strip.width_m),
            strip.layers,
            " + ".join(f"{cut.mark} {millimetres(cut.length_m)}" for cut in strip.pieces),
        )
        for number, board in enumerate(cutting.boards, 1)
        for place, strip in enumerate(board.strips, 1)
    )
    return [KitGrid("Parts", PART_HEADER, parts), KitGrid("Boards", CUT_HEADER, strips)]


def _number(length_m: float | None) -> float | None:
    return None if length_m is None else round(1000 * length_m, 1)


# --- labels --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PartLabel:
    """One sticker: the team's code large, the part, and where it belongs."""

    team: str
    part: str
    section: str
    build: str = ""


def labels_for(
    section: str, build: str, teams: Iterable[str], parts: Iterable[tuple[str, int]]
) -> list[PartLabel]:
    """A label per piece and team; pairs are numbered, so that they stay together."""
    wanted = list(parts)
    return [
        PartLabel(team, title if count == 1 else f"{title}, {n} of {count}", section, build)
        for team in teams
        for title, count in wanted
        for n in range(1, count + 1)
    ]


def label_grid(labels: Iterable[PartLabel]) -> KitGrid:
    """Labels as a table."""
    return KitGrid(
        "Labels",
        ("team", "part", "section", "build"),
        tuple((item.team, item.part, item.section, item.build) for item in labels),
    )


# --- the packing list ----------------------------------------------------------------------------


def packing_document(
    kit: KitList, section: str, build: str, teams: Sequence[str], today: date
) -> Document:
    """What goes into the boxes of one class, per team and in all, with a box to tick."""
    count = len(teams)
    head = f"{count} teams: {', '.join(teams)}" if teams else "no teams yet"
    rows = tuple(
        (
            line.title,
            amount(line.to_come, line.unit),
            amount(line.spares_to_come, line.unit) if line.spares_to_come else NOTHING,
            short_date(line.needed_on),
            TO_TICK,
        )
        for line in sorted(kit.lines, key=lambda x: (x.needed_on or date.max, x.title))
        if line.to_come
    )
    blocks: list[Block] = [
        Title("Packing list", section, long_date(today), build),
        Paragraph(f"For {head}. Label every part with its team's code; tie pairs together."),
        Table(("Part", "For the teams", "Spares", "Needed on", "Packed"), rows),
    ]
    return Document(f"Packing list, {section}", tuple(blocks), foot=section)


def packing_grid(kit: KitList, section: str) -> KitGrid:
    """The packing list as a table."""
    return KitGrid(
        f"Packing {section}",
        ("section", "part", "for the teams", "spares", "unit", "needed on"),
        tuple(
            (
                section,
                line.title,
                line.to_come,
                line.spares_to_come,
                line.unit,
                line.needed_on.isoformat() if line.needed_on else None,
            )
            for line in kit.lines
            if line.to_come
        ),
    )


# --- the pull list -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Pull:
    """What one team needs at one step."""

    team: str
    step: str
    title: str
    station: str
    materials: tuple[tuple[str, float, str], ...] = ()
    tools: tuple[str, ...] = ()
    begins: bool = True


@dataclass(frozen=True, slots=True)
class PullDay:
    """One meeting's pull list."""

    date: date
    number: int
    pulls: tuple[Pull, ...]
    coming_out: tuple[str, ...] = ()
    hazards: tuple[StepHazard, ...] = ()
    lost: str = ""

    @property
    def caution(self) -> Caution | None:
        """The cautions of the day's hazardous steps, each once."""
        return merged_caution(self.hazards) if self.hazards else None

    @property
    def totals(self) -> list[tuple[str, float, str]]:
        """Materials of all teams together: title, quantity, unit."""
        sums: dict[tuple[str, str], float] = {}
        for pull in self.pulls:
            for title, quantity, unit in pull.materials:
                sums[title, unit] = sums.get((title, unit), 0.0) + quantity
        return [(title, round(quantity, 6), unit) for (title, unit), quantity in sums.items()]


@dataclass(frozen=True, slots=True)
class BladeDue:
    """A blade or bit: instruments done with it, and after how many it is changed."""

    station: str
    title: str
    done: int
    life: int

    @property
    def due(self) -> bool:
        return self.done >= self.life


@dataclass(frozen=True, slots=True)
class PullList:
    """A day's or a week's pull list; stock below its reorder level; blades and bits due."""

    section: str
    build: str
    title: str
    days: tuple[PullDay, ...]
    below_reorder: tuple[str, ...] = ()
    blades: tuple[BladeDue, ...] = ()


def pull_document(pull: PullList) -> Document:
    """The pull list on paper: per meeting what to set out by team, in all, and what comes out."""
    dates = [day.date for day in pull.days]
    span = ""
    if dates:
        span = long_date(dates[0])
        span += f" to {long_date(dates[-1])}" if dates[-1] != dates[0] else ""
    blocks: list[Block] = [Title(pull.title, pull.section, span, pull.build)]
    for day in pull.days:
        blocks += _pull_day(day)
    if pull.below_reorder:
        blocks.append(Items(pull.below_reorder, label="Stock at or below its reorder level"))
    due = [blade for blade in pull.blades if blade.due]
    if due:
        words = tuple(f"{b.title}: {b.done} instruments, change after {b.life}" for b in due)
        blocks.append(Items(words, label="Blades and bits due"))
    return Document(f"{pull.title}, {pull.section}", tuple(blocks), foot=pull.section)


def _pull_day(day: PullDay) -> Iterator[Block]:
    yield Heading(f"{long_date(day.date)}, meeting {day.number}")
    if day.lost:
        yield Paragraph(f"No class: {day.lost}.")
        return
    if day.pulls:
        yield Table(
            ("Team", "Step", "Where", "Set out"),
            tuple(
                (pull.team, f"{pull.step} {pull.title}", pull.station, set_out(pull))
                for pull in day.pulls
            ),
            caption="By team",
        )
    else:
        yield Paragraph("No team works at a step.")
    if day.totals:
        words = tuple(f"{title}: {amount(q, unit)}" for title, q, unit in day.totals)
        yield Items(words, label="Materials in all")
    if day.coming_out:
        yield Items(day.coming_out, label="Comes out of clamps or off the rack")
    if day.caution:
        yield day.caution


def set_out(pull: Pull) -> str:
    """What to set out for one team: materials where the step begins, tools always."""
    words = [f"{title} {amount(q, unit)}" for title, q, unit in pull.materials]
    return "; ".join([*words, *pull.tools]) or NOTHING


def pull_grid(pull: PullList) -> KitGrid:
    """The pull list as a table, a row per team, step and thing."""
    return KitGrid(
        pull.title,
        ("date", "team", "step", "title", "where", "set out", "quantity", "unit"),
        tuple(
            (day.date.isoformat(), item.team, item.step, item.title, item.station, *thing)
            for day in pull.days
            for item in day.pulls
            for thing in [*item.materials, *((tool, None, None) for tool in item.tools)]
        ),
    )


# --- the batch -----------------------------------------------------------------------------------


def joined(documents: Sequence[Document], title: str) -> Document:
    """Papers one after the other, each on a page of its own."""
    blocks: list[Block] = []
    for document in documents:
        if blocks:
            blocks.append(PageBreak())
        blocks += document.blocks
    return Document(title, tuple(blocks), foot=title)


def batch_document(batch: Batch, school: str, today: date) -> Document:
    """A batch on paper: classes, totals, adult machining by set-up, who gets what when."""
    blocks: list[Block] = [
        Title("Kits for several classes", school, long_date(today)),
        Table(
            ("Class", "Build", "Version", "Teams"),
            tuple(
                (item.title, item.build_title, item.version, ", ".join(item.teams) or NOTHING)
                for item in batch.classes
            ),
            caption=f"{batch.instruments} instruments",
        ),
        Heading("What is short"),
        *_order_blocks([line for line in batch.lines if line.order], batch.costs.items()),
        Heading("What is needed in all"),
        Table(
            ("Part", "Still needed", "Spares", "On hand", "Short"),
            tuple(
                (
                    line.title,
                    amount(line.to_come, line.unit),
                    amount(line.spares_to_come, line.unit),
                    amount(line.on_hand, line.unit),
                    amount(line.short, line.unit),
                )
                for line in batch.lines
            ),
        ),
        *_set_up_blocks(batch),
        Heading("Who gets what, and when"),
        Table(
            ("By", "Class", "Part", "Quantity"),
            tuple(
                (
                    short_date(row.needed_on),
                    row.section,
                    row.title,
                    amount(row.quantity, row.unit),
                )
                for row in batch.handouts
            ),
        ),
    ]
    return Document(f"Kits for several classes, {school}", tuple(blocks), foot=school)


def _set_up_blocks(batch: Batch) -> Iterator[Block]:
    yield Heading("Adult machining, by set-up")
    if not batch.set_ups:
        yield Paragraph("No step of these classes is done by an adult outside class.")
        return
    yield Paragraph(
        f"{amount(batch.adult_minutes)} minutes in all. Do everything of one set-up before changing it."
    )
    yield Table(
        ("Set-up", "Step", "Class", "Instruments", "Minutes", "By"),
        tuple(
            (
                row.title,
                f"{task.step} {task.title}",
                task.section,
                str(task.instruments),
                amount(task.minutes),
                short_date(task.needed_on),
            )
            for row in batch.set_ups
            for task in row.tasks
        ),
    )
    if batch.caution:
        yield batch.caution
    if batch.bought:
        yield Items(
            tuple(
                f"{item.section}: {item.title}, {item.instruments} at {item.cost_each:,.2f} each"
                for item in batch.bought
            ),
            label="Bought ready-made",
        )
        total = ", ".join(f"{name} {cost:,.2f}" for name, cost in batch.bought_cost.items())
        yield Paragraph(f"Ready-made parts in all: {total}, beside what is ordered above.")


def batch_grids(batch: Batch) -> list[KitGrid]:
    """A batch as tables: totals, set-ups, who gets what."""
    set_ups = KitGrid(
        "Adult machining",
        ("set-up", "step", "title", "section", "instruments", "minutes", "needed on"),
        tuple(
            (
                row.title,
                task.step,
                task.title,
                task.section,
                task.instruments,
                task.minutes,
                task.needed_on.isoformat() if task.needed_on else None,
            )
            for row in batch.set_ups
            for task in row.tasks
        ),
    )
    handouts = KitGrid(
        "Who gets what",
        ("needed on", "section", "part", "quantity", "unit"),
        tuple(
            (
                row.needed_on.isoformat() if row.needed_on else None,
                row.section,
                row.title,
                row.quantity,
                row.unit,
            )
            for row in batch.handouts
        ),
    )
    return [order_grid(batch.lines, "Totals"), set_ups, handouts]
