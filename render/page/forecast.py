"""How likely each screen and each answer is, and how long it still takes, from the two documents.

The odds that come to a node are those of `engine.chart.ways`; what lies ahead is summed backwards
over them. One pass each way over the chart, O(lines of the chart x faults).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.chart import ways
from engine.chart.ways import Coming, Document, Floats, Odds
from engine.model.plan import State
from render.page import repeats


@dataclass(frozen=True, slots=True)
class Forecast:
    """At one node: odds of coming here, minutes ahead (its own not counted), odds of each answer
    and of each stage once here, and the stands of the bench one may arrive in. The answers of a
    test done once more have none."""

    reach: float
    ahead: float
    answers: Mapping[str, float | None]
    stages: Mapping[str, float]
    stands: tuple[State, ...]


@dataclass(frozen=True, slots=True)
class Outset:
    """Where a chart begins amid another one: the bench, and the joint odds of each fault and of
    coming there."""

    state: State
    weights: Mapping[str, float]

    def coming(self, model: Document) -> Coming:
        """The same as what comes to a chart's root."""
        weights = [self.weights.get(fault["id"], 0.0) for fault in model["faults"]]
        return Coming(np.array(weights, dtype=np.float64), frozenset({self.state}))


def forecasts(
    model: Document, chart: Document, begin: Outset | None = None
) -> Mapping[str, Forecast]:
    """The forecast of every reachable node, in order from the root, then of confirm steps.

    The chart begins with a unit that came in, or amid another one as `begin` has it.
    """
    odds = Odds.of(model)
    minutes = {test["id"]: float(test["minutes"]) for test in model["tests"]}
    first = ways.coming_in(model, odds) if begin is None else begin.coming(model)
    came = ways.comings(odds, chart, first)
    stages = tuple(str(fault["stage"]) for fault in model["faults"])
    answers = {name: _answers(odds, chart["nodes"][name], here) for name, here in came.items()}
    ahead = _ahead(minutes, chart, tuple(came), answers)
    plan = {
        name: Forecast(
            reach=float(here.weights.sum()),
            ahead=ahead[name],
            answers=answers[name],
            stages=_stages(here.weights, stages),
            stands=_stands(here),
        )
        for name, here in came.items()
    }
    return {**plan, **_of_repeats(odds, minutes, chart, came, stages)}


def _of_repeats(
    odds: Odds,
    minutes: Mapping[str, float],
    chart: Document,
    came: Mapping[str, Coming],
    stages: tuple[str, ...],
) -> dict[str, Forecast]:
    nodes = {
        name: node for step in chart.get("confirm") or () for name, node in step["nodes"].items()
    }
    return {
        name: Forecast(
            reach=float(here.weights.sum()),
            ahead=_chain(minutes, nodes, nodes[name]),
            answers=dict.fromkeys(nodes[name].get("branches", ())),
            stages=_stages(here.weights, stages),
            stands=_stands(here),
        )
        for name, here in repeats.comings(odds, chart, came).items()
    }


def _chain(
    minutes: Mapping[str, float], nodes: Mapping[str, Document], node: Document
) -> float:
    """Minutes of the set-ups and the test that follow a node of a confirm step."""
    after = nodes.get(node.get("next", ""))
    return own_minutes(minutes, after) + _chain(minutes, nodes, after) if after else 0.0


def _answers(odds: Odds, node: Document, here: Coming) -> dict[str, float]:
    if node["kind"] != "test":
        return {}
    reach = float(here.weights.sum())
    rows = odds.rows[node["test"]]
    return {
        outcome: float((here.weights * rows[outcome]).sum()) / reach if reach else 0.0
        for outcome in node["branches"]
    }


def _ahead(
    minutes: Mapping[str, float],
    chart: Document,
    order: tuple[str, ...],
    answers: Mapping[str, dict[str, float]],
) -> dict[str, float]:
    """Expected minutes of tests and set-ups after each node; nothing comes after a verdict."""
    ahead: dict[str, float] = {}
    for name in reversed(order):
        node = chart["nodes"][name]
        ahead[name] = sum(
            odds * (own_minutes(minutes, chart["nodes"][to]) + ahead[to])
            for to, odds in _followers(node, answers[name])
        )
    return ahead


def own_minutes(minutes: Mapping[str, float], node: Document) -> float:
    """Bench minutes of a set-up or a test, of which `minutes` tells; a verdict has none, its remedy
    is told apart."""
    if node["kind"] == "test":
        return minutes[node["test"]]
    return float(node.get("minutes", 0.0))


def _followers(node: Document, answers: Mapping[str, float]) -> list[tuple[str, float]]:
    if node["kind"] == "setup":
        return [(node["next"], 1.0)]
    return [(node["branches"][outcome], odds) for outcome, odds in answers.items()]


def _stages(weights: Floats, stages: tuple[str, ...]) -> dict[str, float]:
    reach = float(weights.sum())
    odds: dict[str, float] = dict.fromkeys(stages, 0.0)
    for stage, weight in zip(stages, weights, strict=True):
        odds[stage] += float(weight) / reach if reach else 0.0
    return odds


def _stands(here: Coming) -> tuple[State, ...]:
    return tuple(sorted(here.states, key=lambda s: (s.supply, s.rig, sorted(s.opened))))
