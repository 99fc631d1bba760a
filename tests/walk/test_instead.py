"""Does a chart say how to go on from a step that can't be done, and what that costs?

The minutes are held against the cost of planning without the test, the safety against the law that
a short is not energised; that bridging or feeding the gate takes the place of other checks of a
switch is common practice, no source.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest

from engine import library
from engine.audit import audit
from engine.chart import instead
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model import shorts
from engine.model.records import Mains, Model, document
from engine.planner import cost_without, plan
from render.wording.instead import words
from tests.models import dense_random, stage_chain

PLANNER = partial(plan, seconds=0.0, effort=2e7)
LEAST = 0.01
"""Share of units that must come to a step for it to say how to go on."""


def charted(model: Model, least: float = 0.0) -> dict[str, Any]:
    """The chart document of a model's plan, with the ways on."""
    made = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    return instead.with_ways_on(model, made, PLANNER, least, lambda number, of: None)


def steps_of(chart: dict[str, Any]) -> list[dict[str, Any]]:
    return [node for node in chart["nodes"].values() if node["kind"] == "test"]


@pytest.fixture(scope="module")
def lamp() -> tuple[Model, dict[str, Any]]:
    """A light-controlled lamp that never lights, and its chart to the part."""
    model = library.model(
        "light-controlled-lamp", mains=Mains(230.0, 50.0), depth="part", complaint="never-lights"
    )
    return model, charted(model, LEAST)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("family", [stage_chain, dense_random])
def test_the_way_on_from_the_first_step_costs_what_planning_without_it_costs(
    family: Any, seed: int
) -> None:
    model = family(seed, 6, 8)
    for first in steps_of(charted(model))[:1]:
        without = cost_without(model, first["test"])
        assert first["instead"]["minutes"] == pytest.approx(without, abs=1e-6)
        assert first["instead"].get("test") != first["test"]


def test_every_step_that_enough_units_come_to_has_one(lamp: tuple[Model, dict[str, Any]]) -> None:
    """And the audit, which knows nothing of the planner, finds them whole."""
    model, chart = lamp
    nodes, reach = chart["nodes"], dict[str, float]()
    stack = [(chart["root"], {fault.id: fault.prior for fault in model.faults})]
    while stack:  # every path that a hundredth of the units takes
        name, odds = stack.pop()
        node, share = nodes[name], sum(odds.values())
        if share < LEAST:
            continue
        reach[name] = max(share, reach.get(name, 0.0))
        if node["kind"] == "setup":
            stack.append((node["next"], odds))
        for outcome, child in node.get("branches", {}).items():
            rows = {fault: model.row(node["test"], fault) for fault in odds}
            stack.append((child, {f: p * rows[f].get(outcome, 0.0) for f, p in odds.items()}))
    steps = {name for name in reach if nodes[name]["kind"] == "test"}
    assert {name for name, node in nodes.items() if "instead" in node} == steps
    assert len(steps) > 20
    assert audit(document(model), chart) == ()


def test_where_a_thyristor_cannot_be_tried_another_check_is_the_way_on(
    lamp: tuple[Model, dict[str, Any]],
) -> None:
    """Which one is the plan's to say: one that costs little more, told by where it is or is not."""
    model, chart = lamp
    told = {node["test"]: node["instead"] for node in steps_of(chart) if "instead" in node}
    tries = [(test, on) for test, on in told.items() if "Q1" in test and "test" in on]
    assert tries, told
    for test, on in tries:
        assert on["test"] in {other.id for other in model.tests} - {test}
        assert on["minutes"] >= 0
        part = model.test(on["test"]).on
        assert part in words(document(model), {"instead": on}, {on["test"]: "as 4"})
    assert min(on["minutes"] for _, on in tries) < 5


def test_a_check_that_the_chart_does_not_do_sends_to_its_cautions(
    lamp: tuple[Model, dict[str, Any]],
) -> None:
    """One that it does is told by the step that does it; a remedy ends the job."""
    plain = document(lamp[0])
    test = {"instead": {"test": "volts-TP1", "minutes": 2.2}}
    assert words(plain, test, {"volts-TP1": "as 7"}).endswith("(2 min more; as 7)")
    assert words(plain, test, {}).endswith("what could hurt: nextprobe walk)")
    remedy = {"instead": {"remedy": "renew-Q1", "minutes": 0.2}}
    assert words(plain, remedy, {}).endswith("(no longer)")
    assert words(plain, {}, {}) == ""


def test_no_way_on_energises_a_short(lamp: tuple[Model, dict[str, Any]]) -> None:
    """On any way to a step: its live tests are out once a cold reading showed a short."""
    model, chart = lamp
    nodes = chart["nodes"]
    stack, met = [(chart["root"], frozenset[str]())], 0
    seen: set[tuple[str, frozenset[str]]] = set()
    while stack:
        name, barred = stack.pop()
        if (name, barred) in seen:
            continue
        seen.add((name, barred))
        node = nodes[name]
        if node["kind"] == "test":
            assert node.get("instead", {}).get("test") not in barred
            met += bool(barred)
            for outcome, child in node["branches"].items():
                stack.append((child, barred | shorts.bars(model, node["test"], outcome)))
        elif "next" in node:
            stack.append((node["next"], barred))
    assert met
