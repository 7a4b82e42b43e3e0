"""The calculators: the list, a page for each, its chart, the template, saving to a section."""

from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.blueprints import BlueprintSetupState
from flask.typing import ResponseReturnValue

from app.calculators import answer_view, api, forms
from app.calculators.chart import chart_svg
from app.calculators.groups import CAUTIONS, GROUPS, group_of
from app.calculators.state import (
    PAPER,
    SOLVE,
    SOLVED,
    AddressState,
    entries,
    exchanged,
    read_state,
)
from app.domain.calculators import CATALOGUE
from app.domain.calculators.fret_positions import CHROMATIC
from app.domain.papers.document import Paper
from app.models import Section
from app.print import PrintError, fret_template_pdf, page
from app.store import Missing, sections
from app.web.access import me, public
from app.web.downloads import send
from app.web.limits import PUBLIC, limiter
from app.web.request_session import db

bp = Blueprint("calculators", __name__)
FRETS = "fret-positions"
ALL_TEAMS = "*"
# A script asks for the same address in two parts: what is read at once, what is drawn after it.
PART_HEADER = "X-Part"
KEPT_FOR = "public, max-age=3600"


@bp.record_once
def prepare(state: BlueprintSetupState) -> None:
    """Give templates what formulas and symbols need; the JSON addresses are part of this room."""
    page.install(state.app.jinja_env)
    state.app.jinja_env.filters.update(
        symbol=answer_view.symbol, capitalize_first=answer_view.capitalize_first
    )
    state.app.register_blueprint(api.bp)


@bp.get("/calculators")
@public
@limiter.limit(PUBLIC)
def list_calculators() -> ResponseReturnValue:
    """Every calculator under what a teacher looks for."""
    groups = {title: [CATALOGUE[key] for key in keys] for title, keys in GROUPS.items()}
    return render_template("calculators/list.html", groups=groups)


@bp.get("/calculators/<key>")
@public
@limiter.limit(PUBLIC)
def show_calculator(key: str) -> ResponseReturnValue:
    """A calculator in the state its address gives; a choice of another unknown leads on."""
    before = request.args.get(SOLVED, "")
    state = read_state(key, request.args)
    if not before:
        return _page(state)
    wanted, kept = state.solve or before, request.args.copy()
    if wanted == before:
        return redirect(url_for(".show_calculator", key=key, **state.query))
    kept[SOLVE] = before
    state = exchanged(read_state(key, kept), wanted)
    return redirect(url_for(".show_calculator", key=key, **state.query))


def _page(state: AddressState, *more: tuple[str, str]) -> ResponseReturnValue:
    """The page of a state, or the part of it that a script asks for."""
    if more:
        state = AddressState(
            state.calculator, state.given, state.solve, None, (*state.mistakes, *more)
        )
    calculator, part = state.calculator, request.headers.get(PART_HEADER)
    facts: dict[str, Any] = {"calculator": calculator, "state": state}
    if part != "picture":
        notes = state.calculation.notes if state.calculation else ()
        read = {"shown": answer_view.shown(state), "notes": notes, "mistakes": forms.placed(state)}
        facts |= read
    if part != "answer":
        facts |= {
            "pictured": answer_view.pictured(state),
            "template_papers": _template_papers(state),
        }
    if part not in {"answer", "picture"}:
        facts |= {
            "form": forms.CalculatorEntries(state),
            "leading": forms.leading_to(calculator, state.unknown),
            "group": group_of(calculator.key),
            "caution": CAUTIONS.get(calculator.key),
            "live": calculator.key != "cut-list",
        }
        return render_template("calculators/calculator.html", **facts), _status(state)
    return render_template(f"calculators/part_{part}.html", **facts), _status(state)


def _status(state: AddressState) -> int:
    return 422 if state.mistakes else 200


def _template_papers(state: AddressState) -> dict[str, str]:
    """Where the fretboard at true size is printed from, by paper; none where it cannot be."""
    if state.calculator.key != FRETS or state.calculation is None:
        return {}
    values = state.calculation.values
    if values["divisions"] != 12:
        return {}
    address: dict[str, Any] = {"scale_length": entries(state.calculator, values)["scale_length"]}
    address["frets"] = str(values["frets"])
    if values["fret_pattern"] != CHROMATIC:
        address["fret_pattern"] = values["fret_pattern"]
    papers = {"Letter": "letter", "A4": "a4"}
    return {
        name: url_for("calculators.print_fret_template", paper=paper, **address)
        for name, paper in papers.items()
    }


@bp.get("/calculators/<key>/chart.svg")
@public
@limiter.limit(PUBLIC)
def show_chart(key: str) -> ResponseReturnValue:
    """The chart of a state, as an image that may be kept."""
    state = read_state(key, request.args)
    if state.calculation is None or state.calculation.chart is None:
        return _no_picture(state)
    svg = chart_svg(state.calculation.chart)
    return Response(svg, mimetype="image/svg+xml", headers={"Cache-Control": KEPT_FOR})


def _no_picture(state: AddressState) -> ResponseReturnValue:
    sentences = [sentence for _, sentence in state.mistakes] or ["This calculator has no chart."]
    return Response("\n".join(sentences), 422, mimetype="text/plain")


@bp.get("/calculators/fret-positions/template.pdf")
@public
@limiter.limit(PUBLIC)
def print_fret_template() -> ResponseReturnValue:
    """The fretboard at true size for Letter or A4; what cannot be drawn leads back to the page."""
    state = read_state(FRETS, request.args)
    if state.calculation is None:
        return _page(state)
    papers: dict[str, Paper] = {"letter": "letter", "a4": "a4"}
    paper = papers.get(request.args.get(PAPER, "letter").lower())
    values: dict[str, Any] = state.calculation.values
    if paper is None:
        return _page(state, ("", "The paper is letter or a4."))
    if values["divisions"] != 12:
        return _page(state, ("divisions", "The template draws semitones: leave divisions at 12."))
    pattern = values["fret_pattern"]
    try:
        pdf = fret_template_pdf(values["scale_length"], values["frets"], paper, pattern)
    except PrintError as error:
        sentence = str(error)
        return _page(state, ("scale_length", f"{sentence[:1].upper()}{sentence[1:]}."))
    return send(pdf, f"fret-template-{values['frets']}-{paper}.pdf")


# --- saving values to a section -------------------------------------------------------------------


@bp.get("/calculators/<key>/save")
def choose_section(key: str) -> ResponseReturnValue:
    """Which of my sections and teams take these values."""
    state = read_state(key, request.args)
    if state.calculation is None:
        return _page(state)
    return _save_page(state, _save_form(state))


@bp.post("/calculators/<key>/save")
def save_values(key: str) -> ResponseReturnValue:
    """Write the chosen values as nominal quantities of the chosen teams' instruments."""
    state = read_state(key, request.args)
    if state.calculation is None:
        return _page(state)
    form = _save_form(state)
    if not form.validate():
        return _save_page(state, form), 422
    section_key, _, team_code = (form.place.data or "").partition(":")
    section = sections.load_own_section(db(), me(), section_key)
    keys = [name for name in form.quantities.data or [] if name in _quantities_of(section)]
    if not keys:
        form.refuse("The build of that section has none of these quantities; choose others.")
        return _save_page(state, form), 422
    teams = [
        team for team in sections.load_teams(db(), section) if team_code in {ALL_TEAMS, team.code}
    ]
    if not teams:
        raise Missing(f"team {team_code}")
    written = entries(state.calculator, state.calculation.values)
    for team in teams:
        for name in keys:
            sections.set_quantity(db(), team, name, written[name], measured=False)
    names = ", ".join(f"{state.calculator.quantity(name).name} {written[name]}" for name in keys)
    whose = "every team" if team_code == ALL_TEAMS else team_code
    flash(f"Saved for {whose} of {section.title}: {names}. Worksheets use it from now on.")
    db().commit()
    return redirect(url_for(".show_calculator", key=key, **state.query), 303)


def _quantities_of(section: Section) -> set[str]:
    return {item["key"] for item in section.build.quantities}


def _own_sections() -> list[Section]:
    mine = sections.list_sections(db(), me())
    return [section for section in mine if section.teacher_id == me().id]


def _save_form(state: AddressState) -> forms.SaveForm:
    """Places are my teams; values are those that some build of mine asks for."""
    assert state.calculation is not None  # noqa: S101 - callers looked
    form = forms.SaveForm()
    own = _own_sections()
    held = set().union(*map(_quantities_of, own)) if own else set()
    places = []
    for section in own:
        if held & state.calculation.values.keys() & _quantities_of(section):
            places.append((f"{section.key}:{ALL_TEAMS}", f"{section.title}: every team"))
            places += [
                (f"{section.key}:{team.code}", f"{section.title}: {team.code}")
                for team in sections.load_teams(db(), section)
            ]
    form.place.choices = places
    written = entries(state.calculator, state.calculation.values)
    offered = {
        quantity.key: f"{quantity.name} {written[quantity.key]}"
        for quantity in state.calculator.quantities
        if quantity.key in written and quantity.key in held
    }
    form.quantities.choices = list(offered.items())
    if request.method == "GET":
        form.quantities.data = [key for key in offered if key in state.given] or list(offered)
    return form


def _save_page(state: AddressState, form: forms.SaveForm) -> str:
    return render_template(
        "calculators/save.html", calculator=state.calculator, state=state, form=form
    )
