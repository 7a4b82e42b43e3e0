"""What a calculator costs, as ratios of requests measured by turns in one run.

Time is the processor's, of every thread of this process: other work on the machine does not count.
"""

import time
from collections.abc import Callable
from statistics import quantiles

import pytest
from flask import render_template

from app.calculators.chart import _drawn, chart_svg
from app.domain.calculators import CATALOGUE, calculate
from app.domain.calculators.engine.calculator import Calculator
from app.web.access import public
from tests.conftest import signed_in

pytestmark = pytest.mark.benchmark
ROUNDS = 60
# The cut list is no formula: its search for the least board takes counted work, and its page
# computes on the button, not as letters are typed.
LIVE = [key for key in CATALOGUE if key != "cut-list"]


def lower_quartile_s(times: list[float]) -> float:
    """Other work on the machine only ever adds time, so the low end says what the call costs."""
    return quantiles(times, n=4)[0]


def by_turns_s(*calls: Callable[[int], object]) -> list[float]:
    """The lower quartile of each call, measured in turn so that all meet the same machine."""
    times: list[list[float]] = [[] for _ in calls]
    for number in range(-1, ROUNDS):
        for call, taken in zip(calls, times, strict=True):
            start = time.process_time()
            call(number)
            if number >= 0:
                taken.append(time.process_time() - start)
    return [lower_quartile_s(taken) for taken in times]


def changing_value(calculator: Calculator, number: int) -> dict[str, str]:
    """A value that no request had before, so that no kept answer is measured."""
    for quantity in calculator.quantities:
        given = quantity.key not in calculator.answers and quantity.default is not None
        if given and quantity.form == "number":
            step = (quantity.high - float(quantity.default)) * 1e-5
            return {quantity.key: f"{float(quantity.default) + step * (number + 2):.9g}"}
        if given and quantity.form == "numbers":
            return {quantity.key: ", ".join(f"{x + number / 1e4:.9g}" for x in quantity.default)}
    raise AssertionError(f"{calculator.key} has no number to change")


@pytest.fixture
def requests(app):
    """Two ways to ask as the sample teacher: the bare base template, and an address in parts."""
    template = app.jinja_env.from_string(
        '{% extends "base.html" %}{% block title %}Blank{% endblock %}'
        "{% block main %}<h1>Blank</h1>{% endblock %}"
    )
    app.add_url_rule(
        "/blank", view_func=public(lambda: render_template(template)), endpoint="blank"
    )
    client = signed_in(app, "teacher")

    def blank(_number: int) -> None:
        assert client.get("/blank").status_code == 200

    def part(calculator: Calculator, name: str, number: int) -> None:
        query = changing_value(calculator, number)
        answer = client.get(
            f"/calculators/{calculator.key}", query_string=query, headers={"X-Part": name}
        )
        assert answer.status_code == 200, (query, answer.text)

    return blank, part


@pytest.mark.parametrize("key", LIVE)
def test_live_request_costs_at_most_twice_the_base_template(requests, key):
    blank, part = requests
    calculator = CATALOGUE[key]
    base_s, live_s = by_turns_s(blank, lambda number: part(calculator, "answer", number))
    print(f"{key}: {live_s / base_s:.2f} times ({1000 * live_s:.2f} ms to {1000 * base_s:.2f} ms)")
    assert live_s <= 2 * base_s


@pytest.mark.parametrize("key", LIVE)
def test_drawings_and_tables_cost_at_most_60_base_templates(requests, key):
    # The base template takes about a millisecond: this is the limit of a chart, 60 ms.
    blank, part = requests
    calculator = CATALOGUE[key]
    base_s, picture_s = by_turns_s(blank, lambda number: part(calculator, "picture", number))
    print(f"{key}: {1000 * picture_s:.2f} ms, {picture_s / base_s:.2f} times the base template")
    assert picture_s <= 60 * base_s


@pytest.mark.parametrize("key", [key for key in LIVE if calculate(key, {}).chart])
def test_a_warm_chart_costs_at_most_60_base_templates(requests, key):
    blank, _ = requests
    calculator = CATALOGUE[key]
    charts = [calculate(key, changing_value(calculator, n)).chart for n in range(-1, ROUNDS)]

    def drawn(number: int) -> None:
        _drawn.cache_clear()
        chart_svg(charts[number + 1])

    base_s, chart_s = by_turns_s(blank, drawn)
    print(f"{key}: {1000 * chart_s:.1f} ms, {chart_s / base_s:.1f} times the base template")
    assert chart_s <= 60 * base_s


def test_a_cut_list_of_40_lengths_costs_at_most_5000_base_templates(requests):
    # The base template takes about a millisecond: this is 5 s for 60 instruments, 40 boards.
    blank, _ = requests
    rack = "; ".join(f"{3660 + 7 * i} mm; {2440 + 5 * i} mm" for i in range(20))
    parts = "neck: 720 mm x 60; body: 510 mm x 60; head: 185 mm x 60; plate: 95 mm x 30"

    start = time.process_time()
    for kerf in ("2.8 mm", "3 mm", "3.2 mm"):
        found = calculate("cut-list", {"parts": parts, "boards": rack, "kerf": kerf})
        assert found.values["boards_used"] <= 40
    cut_s = (time.process_time() - start) / 3
    (base_s,) = by_turns_s(blank)
    print(f"cut list: {cut_s:.2f} s, {cut_s / base_s:.0f} times the base template")
    assert cut_s <= 5000 * base_s
