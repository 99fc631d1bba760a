"""The way on from a step of a chart that can't be done at the bench at hand.

For each step the rest is planned anew without its test, from the odds on the likeliest way to it
and from the bench before anything was set up for it: what is done first then, and what that costs
on top of what the chart has from there. What a short forbids on any way to the step stays
forbidden.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from engine.chart.traversal import topological
from engine.chart.ways import below, states_after
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
class Way:
    """The likeliest way to a node: the bench there and as the last test left it, the joint odds of
    each fault and of coming by it, and what was answered on it. Of all ways to it: the tests that a
    short on any of them bars, the answers that they have in `common`, and the benches. `set_up` are
    the minutes since the last test."""

    state: State
    left: State
    weights: Mapping[str, float]
    answers: tuple[tuple[str, str], ...] = ()
    bars: frozenset[str] = frozenset()
    common: tuple[tuple[str, str], ...] = ()
    states: frozenset[State] = frozenset()
    set_up: float = 0.0

    @property
    def odds(self) -> float:
        """Of coming by it."""
        return sum(self.weights.values())

    def joined(self, other: Way) -> Way:
        """The likelier of two ways to one node, with what is true of both."""
        likelier = other if other.odds > self.odds else self
        return replace(
            likelier,
            bars=self.bars | other.bars,
            common=tuple(answer for answer in self.common if answer in other.common),
            states=self.states | other.states,
        )


def with_ways_on(
    model: Model, chart: Mapping[str, Any], planner: Planner, least: float, tell: Tell
) -> Document:
    """The chart document in which each test that at least the share `least` of all units comes to
    says, under `instead`, what comes where it can't be done: a `test` or a `remedy`, and the
    `minutes` more. Costs a plan a step."""
    nodes: dict[str, Any] = dict(chart["nodes"])
    ways = ways_to(model, chart)
    costs = costs_from(model, chart, ways)
    likely = {
        name: way for name, way in ways.items()
        if nodes[name]["kind"] == "test" and way.odds >= least
    }  # fmt: skip
    for number, (name, way) in enumerate(likely.items(), 1):
        tell(number, len(likely))
        instead = _instead(model, nodes[name]["test"], way, planner, costs[name])
        nodes[name] = {**nodes[name], KEY: instead.plain()}
    return {**chart, "nodes": nodes}


def ways_to(model: Model, chart: Mapping[str, Any]) -> dict[str, Way]:
    """The likeliest way to each node, true readings given. O(nodes x outcomes x faults)."""
    nodes = chart["nodes"]
    begin = start(model)
    priors = {fault.id: fault.prior for fault in model.faults}
    best = {chart["root"]: Way(begin, begin, priors, states=frozenset({begin}))}
    for name in topological(chart["root"], lambda name: below(nodes[name])):
        node, way = nodes[name], best[name]
        for child, came in _onward(model, node, way):
            best[child] = best[child].joined(came) if child in best else came
    return best


def _onward(model: Model, node: Mapping[str, Any], way: Way) -> list[tuple[str, Way]]:
    if node["kind"] == "setup":
        openings = way.state.opened | frozenset(node["open"])
        after = State(openings, node["supply"], node["rig"])
        states = states_after(node, way.states)
        return [(node["next"], replace(
            way, state=after, states=states, set_up=way.set_up + float(node["minutes"])
        ))]  # fmt: skip
    ways = []
    for outcome, child in node.get("branches", {}).items():
        share = {
            fault: weight * model.row(node["test"], fault).get(outcome, 0.0)
            for fault, weight in way.weights.items()
        }
        left = {fault: weight for fault, weight in share.items() if weight > 0}
        answer = (node["test"], outcome)
        bars = way.bars | shorts.bars(model, *answer)
        answers, common = (*way.answers, answer), (*way.common, answer)
        ways.append((child, Way(way.state, way.state, left, answers, bars, common, way.states)))
    return ways


def costs_from(
    model: Model, chart: Mapping[str, Any], ways: Mapping[str, Way]
) -> dict[str, float]:
    """What each node and all after it cost, by the odds on its likeliest way; a node that several
    ways share has the same odds on each. O(nodes x outcomes x faults)."""
    nodes = chart["nodes"]
    costs: dict[str, float] = {}
    for name in reversed(topological(chart["root"], lambda name: below(nodes[name]))):
        costs[name] = _cost(model, nodes[name], ways[name], costs)
    return costs


def _cost(
    model: Model, node: Mapping[str, Any], way: Way, costs: Mapping[str, float]
) -> float:
    odds = way.odds
    if node["kind"] == "setup":
        return float(node["minutes"]) + costs[node["next"]]
    if node["kind"] == "verdict" and odds > 0:
        remedy = model.remedy(node["remedy"])
        wrong = sum(p for fault, p in way.weights.items() if fault not in remedy.cures) / odds
        return remedy.minutes + model.wrong_verdict_minutes * wrong
    if node["kind"] != "test" or odds <= 0:
        return 0.0
    shares = {
        outcome: sum(
            p * model.row(node["test"], fault).get(outcome, 0.0) for fault, p in way.weights.items()
        ) / odds
        for outcome in node["branches"]
    }  # fmt: skip
    ahead = sum(share * costs[node["branches"][outcome]] for outcome, share in shares.items())
    return model.test(node["test"]).minutes + ahead


def _instead(model: Model, test: str, way: Way, planner: Planner, cost: float) -> Instead:
    without = planned(model, way, planner, frozenset({test}), way.left, way.answers)
    more = without.proof.expected_cost - (way.set_up + cost)
    first = without.nodes[without.root]
    minutes = round(max(0.0, more), 6)
    if isinstance(first, Ask):
        return Instead(test=first.test, minutes=minutes)
    assert isinstance(first, Verdict)
    return Instead(remedy=first.remedy, minutes=minutes)


def planned(
    model: Model,
    way: Way,
    planner: Planner,
    withdrawn: frozenset[str],
    state: State,
    answers: tuple[tuple[str, str], ...],
) -> Plan:
    """The rest planned anew at a node, from a bench, by those of the answers that led there."""
    return planner(
        model, belief={fault: weight / way.odds for fault, weight in way.weights.items()},
        state=state, withdrawn=withdrawn | way.bars, answers=answers,
        tests_done=frozenset(test_done for test_done, _ in way.answers),
    )  # fmt: skip
