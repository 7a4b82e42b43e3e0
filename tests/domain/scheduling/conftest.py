"""Instances for the planner: two invented classes, and a builder of small rooms."""

# ruff: noqa: DTZ001 - a class meets by the clock on its wall

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from app.domain.scheduling.problem import (
    Axis,
    AxisMeeting,
    Problem,
    Splitting,
    StationPlaces,
    StepWork,
    Supervision,
    TeamWork,
    Use,
)

HERE = Path(__file__).parent
MONDAY = datetime(2027, 1, 4, 10, 0)


def read_trial() -> Problem:
    """Six teams, 43 steps that go on at once in the next meeting; invented."""
    data = json.loads((HERE / "trial-6x43.json").read_text())
    hazardous = data["hazardous_stations"]
    meetings = tuple(
        AxisMeeting(
            start=datetime.fromisoformat(start),
            ticks=data["ticks_per_meeting"],
            offset_minutes=data["first_tick_offset_minutes"],
        )
        for start in data["meetings"]
    )
    steps = tuple(
        StepWork(
            step["key"],
            ticks=-(-step["minutes"] // data["tick_minutes"]),
            after=tuple(step["after"]),
            stations=(
                Use(step["station"]),
                *([Use("hazardous")] if step["station"] in hazardous else []),
            ),
            drying_minutes=60 * step["drying_hours"],
            splitting=Splitting.ONE_SITTING if step["one_sitting"] else Splitting.UNBROKEN,
        )
        for step in data["steps"]
    )
    stations = [StationPlaces(key, places) for key, places in data["stations"].items()]
    return Problem(
        axis=Axis(meetings, data["tick_minutes"]),
        stations=(*stations, StationPlaces("hazardous", data["hazardous_places_at_once"])),
        teams=tuple(TeamWork(f"T{n}", steps) for n in range(1, data["teams"] + 1)),
    )


def read_sample_electric() -> Problem:
    """Eleven teams, 57 steps, one adult, supervision by zone; invented."""
    data = json.loads((HERE / "sample-electric.json").read_text())
    zones = {s: zone for zone, keys in data["zones"].items() for s in keys if zone != "exclusive"}
    meetings = tuple(
        AxisMeeting(
            start=datetime.fromisoformat(m["start"]),
            ticks=m["work_minutes"] // data["tick_minutes"],
        )
        for m in data["meetings"]
    )
    steps = tuple(
        StepWork(
            step["key"],
            ticks=step["ticks"],
            after=tuple(step["after"]),
            stations=(Use(step["station"], step["places"]),),
            supervision=Supervision(step["supervision"]),
            drying_minutes=60 * step["drying_hours"],
            minimum_sitting=step["minimum_sitting_ticks"],
            splitting=Splitting.ONE_SITTING if step["one_sitting"] else Splitting.SITTINGS,
        )
        for step in data["steps"]
    )
    return Problem(
        axis=Axis(meetings, data["tick_minutes"]),
        stations=tuple(
            StationPlaces(k, n, zones.get(k)) for k, n in data["station_places"].items()
        ),
        teams=tuple(TeamWork(f"T{n:02d}", steps) for n in range(1, data["teams"] + 1)),
        due_ticks={"": data["known"]["showcase_after_tick"]},
    )


@pytest.fixture(scope="session")
def trial() -> Problem:
    return read_trial()


@pytest.fixture(scope="session")
def sample_electric() -> Problem:
    return read_sample_electric()


@pytest.fixture(scope="session")
def days() -> Callable[..., Axis]:
    """An axis of daily meetings from Monday 4 January 2027, 10:00, weekends left out."""

    def build(*ticks: int, adults: int = 1, offset_minutes: int = 0) -> Axis:
        meetings = []
        day = MONDAY
        for count in ticks:
            while day.weekday() > 4:
                day += timedelta(days=1)
            meetings.append(
                AxisMeeting(start=day, ticks=count, adults=adults, offset_minutes=offset_minutes)
            )
            day += timedelta(days=1)
        return Axis(tuple(meetings))

    return build
