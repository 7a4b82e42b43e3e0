"""The calculators as JSON at a versioned address, with its OpenAPI description."""

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from app.calculators.state import find_calculator, read_state
from app.domain.calculators import InvalidInput
from app.interchange.calculation_json import (
    ROOT,
    calculation_data,
    catalogue_data,
    mistakes_data,
    openapi,
)
from app.web.access import public
from app.web.limits import PUBLIC, limiter

bp = Blueprint("api", __name__, url_prefix=ROOT.rpartition("/")[0])


@bp.get("/openapi.json")
@public
@limiter.limit(PUBLIC)
def describe() -> ResponseReturnValue:
    """Every address below this one, OpenAPI 3.1."""
    return openapi()


@bp.get("/calculators")
@public
@limiter.limit(PUBLIC)
def list_calculators() -> ResponseReturnValue:
    """The catalogue with quantities, units and ranges."""
    return {"calculators": catalogue_data()}


@bp.get("/calculators/<key>")
@public
@limiter.limit(PUBLIC)
def calculate(key: str) -> ResponseReturnValue:
    """One calculation; 422 with a sentence for every mistake."""
    calculator = find_calculator(key)
    state = read_state(key, request.args)
    if state.calculation is None:
        return mistakes_data(InvalidInput(state.mistakes)), 422
    return calculation_data(calculator, state.calculation)
