"""How likely each screen and each answer is, and how long it still takes, from the two documents.

The odds that arrive at a node are the audit's, so that what the page prints is what a third party
would recompute; what lies ahead is summed backwards over them. One pass each way over the chart,
O(lines of the chart x faults).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.audit.arrival import Arrival, arrivals
from engine.audit.bench import Bench, Document, Stand


@dataclass(frozen=True, slots=True)
class Forecast:
    """At one node: odds of coming here, minutes ahead (its own not counted), odds of each answer
    and of each stage once here, and the stands of the bench one may arrive in."""

    reach: float
    ahead: float
    answers: Mapping[str, float]
    stages: Mapping[str, float]
    stands: tuple[Stand, ...]


def forecasts(model: Document, chart: Document) -> Mapping[str, Forecast]:
    """The forecast of every reachable node, in order from the root."""
    bench = Bench.of(model)
    came = arrivals(bench, chart)
    stages = tuple(str(fault["stage"]) for fault in model["faults"])
    answers = {name: _answers(bench, chart["nodes"][name], here) for name, here in came.items()}
    ahead = _ahead(bench, chart, tuple(came), answers)
    return {
        name: Forecast(
            reach=float(here.weights.sum()),
            ahead=ahead[name],
            answers=answers[name],
            stages=_stages(here, stages),
            stands=_stands(here),
        )
        for name, here in came.items()
    }


def _answers(bench: Bench, node: Document, here: Arrival) -> dict[str, float]:
    if node["kind"] != "test":
        return {}
    reach = float(here.weights.sum())
    rows = bench.odds[node["test"]]
    return {
        outcome: float((here.weights * rows[outcome]).sum()) / reach if reach else 0.0
        for outcome in node["branches"]
    }


def _ahead(
    bench: Bench, chart: Document, order: tuple[str, ...], answers: Mapping[str, dict[str, float]]
) -> dict[str, float]:
    """Expected minutes of tests and set-ups after each node; nothing comes after a verdict."""
    ahead: dict[str, float] = {}
    for name in reversed(order):
        node = chart["nodes"][name]
        ahead[name] = sum(
            odds * (own_minutes(bench, chart["nodes"][to]) + ahead[to])
            for to, odds in _followers(node, answers[name])
        )
    return ahead


def own_minutes(bench: Bench, node: Document) -> float:
    """Bench minutes of a set-up or a test; a verdict has none, its remedy is told apart."""
    if node["kind"] == "test":
        return float(bench.tests[node["test"]]["minutes"])
    return float(node.get("minutes", 0.0))


def _followers(node: Document, answers: Mapping[str, float]) -> list[tuple[str, float]]:
    if node["kind"] == "setup":
        return [(node["next"], 1.0)]
    return [(node["branches"][outcome], odds) for outcome, odds in answers.items()]


def _stages(here: Arrival, stages: tuple[str, ...]) -> dict[str, float]:
    reach = float(here.weights.sum())
    found: dict[str, float] = dict.fromkeys(stages, 0.0)
    for stage, weight in zip(stages, here.weights, strict=True):
        found[stage] += float(weight) / reach if reach else 0.0
    return found


def _stands(here: Arrival) -> tuple[Stand, ...]:
    found = {standing.now for standing in here.standings}
    return tuple(sorted(found, key=lambda s: (s.supply, s.rig, sorted(s.opened))))
