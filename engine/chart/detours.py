"""The whole plan on from a check that can't be done, for whoever stands at it.

`instead` tells of each check what comes in its place and what that costs. Here the rest is planned
from the bench as it stands at the check, without it, and drawn up down to the verdicts: one can go
on. What is asked of a way on holds for each way to the check: an answer counts only where all of
them gave it, and a check that is come to on several benches has none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from engine.chart import drawing, instead
from engine.documents.chart import Chart, led_by
from engine.model import makesafe
from engine.model.plan import Planner, State
from engine.model.records import Model

Document = Mapping[str, Any]
LETTER = "x"
"""Between the name of a check and the number of a node on the way on from it."""


@dataclass(frozen=True, slots=True)
class Detour:
    """The way on from the check `at` of a chart: a chart document of its own, its nodes named
    apart, with the bench at the check, and the joint odds of each fault and of coming there. `more`
    are the minutes that it costs, all told."""

    at: str
    chart: Document
    state: State
    weights: Mapping[str, float]
    more: float


def detours(
    model: Model, chart: Document, planner: Planner, least: float, tell: instead.Tell
) -> tuple[Detour, ...]:
    """The way on from each check that at least the share `least` of all units comes to. Costs a
    plan a check."""
    nodes = chart["nodes"]
    ways = instead.ways_to(model, chart)
    costs = instead.costs_from(model, chart, ways)
    likely = {
        name: way for name, way in ways.items()
        if nodes[name]["kind"] == "test" and way.odds >= least and len(way.states) == 1
    }  # fmt: skip
    detours = []
    for number, (name, way) in enumerate(likely.items(), 1):
        tell(number, len(likely))
        detours.append(_detour(model, name, nodes[name], way, planner, costs[name]))
    return tuple(detours)


def _detour(
    model: Model, name: str, node: Document, way: instead.Way, planner: Planner, cost: float
) -> Detour:
    withdrawn = frozenset({node["test"]})
    without = instead.planned(model, way, planner, withdrawn, way.state, way.common)
    outset = drawing.Outset(
        way.state,
        makesafe.known_at(model, way.state),
        frozenset((*node["cautions"], *(node.get("standing") or ()))),
    )
    chart = _named_apart(drawing.draw_up(model, without, outset), name)
    more = max(0.0, without.proof.expected_cost - cost)
    return Detour(name, drawing.document(chart), way.state, way.weights, more)


def _named_apart(chart: Chart, at: str) -> Chart:
    names = {name: f"{at}{LETTER}{number}" for number, name in enumerate(chart.nodes, start=1)}
    nodes = {names[name]: led_by(names, node) for name, node in chart.nodes.items()}
    return chart.model_copy(update={"root": names[chart.root], "nodes": nodes})
