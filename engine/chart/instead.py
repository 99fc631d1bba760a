"""The way on from a step of a chart that can't be done at the bench at hand.

For each step the rest is planned anew without its test, from the odds on the likeliest way to it
and from the bench before anything was set up for it: what is done first then, and what that costs
on top. What a short forbids on any way to the step stays forbidden.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from engine.chart.traversal import topological
from engine.chart.ways import below
from engine.documents.chart import Instead
from engine.model import shorts
from engine.model.plan import Ask, Plan, Planner, State, Verdict
from engine.model.records import Model
from engine.model.setup import start

KEY = "instead"
Document = dict[str, Any]
Tell = Callable[[int, int], None]
"""Told how many steps are weighed, of how many."""


@dataclass(frozen=True, slots=True)
class _Way:
    """The likeliest way to a node: the bench there and as the last test left it, the joint odds of
    each fault and of coming by it, and what was answered on it; with the tests that a short on any
    way to it bars."""

    state: State
    left: State
    weights: Mapping[str, float]
    answers: tuple[tuple[str, str], ...] = ()
    bars: frozenset[str] = frozenset()

    @property
    def odds(self) -> float:
        return sum(self.weights.values())


def with_ways_on(
    model: Model, chart: Mapping[str, Any], planner: Planner, least: float, tell: Tell
) -> Document:
    """The chart document in which each test that at least the share `least` of all units comes to
    says, under `instead`, what comes where it can't be done: a `test` or a `remedy`, and the
    `minutes` more. Costs two plans a step."""
    nodes: dict[str, Any] = dict(chart["nodes"])
    likely = {
        name: way for name, way in _ways(model, chart).items()
        if nodes[name]["kind"] == "test" and way.odds >= least
    }  # fmt: skip
    for number, (name, way) in enumerate(likely.items(), 1):
        tell(number, len(likely))
        instead = _instead(model, nodes[name]["test"], way, planner)
        nodes[name] = {**nodes[name], KEY: instead.plain()}
    return {**chart, "nodes": nodes}


def _ways(model: Model, chart: Mapping[str, Any]) -> dict[str, _Way]:
    """The likeliest way to each node, true readings given. O(nodes x outcomes x faults)."""
    nodes = chart["nodes"]
    begin = start(model)
    best = {chart["root"]: _Way(begin, begin, {fault.id: fault.prior for fault in model.faults})}
    for name in topological(chart["root"], lambda name: below(nodes[name])):
        node, way = nodes[name], best[name]
        for child, came in _onward(model, node, way):
            present = best.get(child, came)
            likelier = came if came.odds > present.odds else present
            best[child] = replace(likelier, bars=present.bars | came.bars)
    return best


def _onward(model: Model, node: Mapping[str, Any], way: _Way) -> list[tuple[str, _Way]]:
    if node["kind"] == "setup":
        openings = way.state.opened | frozenset(node["open"])
        after = State(openings, node["supply"], node["rig"])
        return [(node["next"], replace(way, state=after))]
    ways = []
    for outcome, child in node.get("branches", {}).items():
        share = {
            fault: weight * model.row(node["test"], fault).get(outcome, 0.0)
            for fault, weight in way.weights.items()
        }
        left = {fault: weight for fault, weight in share.items() if weight > 0}
        answers = (*way.answers, (node["test"], outcome))
        bars = way.bars | shorts.bars(model, node["test"], outcome)
        ways.append((child, _Way(way.state, way.state, left, answers, bars)))
    return ways


def _instead(model: Model, test: str, way: _Way, planner: Planner) -> Instead:
    belief = {fault: weight / way.odds for fault, weight in way.weights.items()}

    def plan_again(withdrawn: frozenset[str]) -> Plan:
        return planner(
            model, belief=belief, state=way.left, withdrawn=withdrawn | way.bars,
            tests_done=frozenset(test_done for test_done, _ in way.answers), answers=way.answers,
        )  # fmt: skip

    without = plan_again(frozenset({test}))
    more = without.proof.expected_cost - plan_again(frozenset()).proof.expected_cost
    first = without.nodes[without.root]
    minutes = round(max(0.0, more), 6)
    if isinstance(first, Ask):
        return Instead(test=first.test, minutes=minutes)
    assert isinstance(first, Verdict)
    return Instead(remedy=first.remedy, minutes=minutes)
