"""Between a step of the library's schema and the fields of its form."""

import re
from typing import Any

from app.builds.forms import StepForm
from app.interchange.library_file import StepEntry
from app.web.rows import Rows

CHECK = (
    "what",
    "quantity",
    "nominal",
    "tolerance",
    "unit",
    "measure_with",
    "record_as",
    "minimum",
    "maximum",
    "if_out",
)
DRYING = ("what", "conditions")
SPAN = ("low", "typical", "high")
LISTED = ("after", "grants")
LINES = ("hazards", "tools")


def step_data(step: StepEntry, phase: str) -> dict[str, Any]:
    """The form's fields filled from a step."""
    values = step.model_dump(mode="json")
    data = {name: value for name, value in values.items() if name in StepForm.__dict__}
    data["phase"] = phase
    data["permit"] = step.permit or ""
    data.update({f"minutes_{name}": _number(values["minutes"][name]) for name in SPAN})
    for name in LISTED:
        data[name] = ", ".join(values[name])
    for name in LINES:
        data[name] = "\n".join(values[name])
    for name in ("hands", "minimum_sitting", "places"):
        data[name] = _number(values[name])
    if step.drying is not None:
        hours = values["drying"]["hours"]
        data.update({f"drying_{name}": _number(hours[name]) for name in SPAN})
        data.update({f"drying_{name}": values["drying"][name] for name in DRYING})
    if step.check is not None:
        data.update({f"check_{name}": _number(values["check"][name]) for name in CHECK})
    return data


def step_values(
    form: StepForm, tables: dict[str, Rows], before: StepEntry | None
) -> dict[str, Any]:
    """What the form says, in the schema's shape. What the form does not show stays as it was."""
    sent = form.sent()
    values = {
        name: value
        for name, value in sent.items()
        if not name.startswith(("minutes_", "drying_", "check_")) and name != "phase"
    }
    values["minutes_per"] = sent["minutes_per"]
    values["minutes"] = {name: sent.get(f"minutes_{name}", "") for name in SPAN}
    for name in LISTED:
        values[name] = [key for key in re.split(r"[,;\s]+", sent.get(name, "")) if key]
    for name in LINES:
        values[name] = [line.strip() for line in sent.get(name, "").splitlines() if line.strip()]
    values["drying"] = _drying(sent)
    values["check"] = _check(sent, before)
    values.update({name: table.entries() for name, table in tables.items()})
    if before is not None:
        values["key"] = before.key
    return values


def _drying(sent: dict[str, Any]) -> dict[str, Any] | None:
    hours = {name: sent[f"drying_{name}"] for name in SPAN if f"drying_{name}" in sent}
    words = {name: sent[f"drying_{name}"] for name in DRYING if f"drying_{name}" in sent}
    if not hours and not words:
        return None
    typical = hours.get("typical", "")
    return {"hours": {name: hours.get(name, typical) for name in SPAN}, **words}


def _check(sent: dict[str, Any], before: StepEntry | None) -> dict[str, Any] | None:
    values = {name: sent[f"check_{name}"] for name in CHECK if f"check_{name}" in sent}
    if not values:
        return None
    kept = before.check.model_dump(mode="json") if before is not None and before.check else {}
    unseen = {name: value for name, value in kept.items() if name not in CHECK}
    return {**unseen, **values}


def _number(value: Any) -> str:
    if value is None:
        return ""
    return str(int(value) if isinstance(value, float) and value.is_integer() else value)
