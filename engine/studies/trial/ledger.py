"""What a plan costs on any bench: its tests, set-ups and ends, each with the odds of coming there.

Who comes to a node under each fault hangs on the model's rows alone. So a plan's cost is linear in
the minutes, and linear in the shares: `Ledger` follows the plan once, and prices it on as many
benches as wanted. Exact, for true readings, as the planner counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from engine.model import setup
from engine.model.plan import Ask, Node, Plan, State, Verdict
from engine.model.records import Model
from engine.planner.tree import in_order
from engine.readings.confusion import Floats

_Key = TypeVar("_Key")


@dataclass(frozen=True, slots=True)
class Ledger:
    """How often each thing is done under each fault: arrays over the model's faults."""

    tests: Mapping[str, Floats]
    moves: Mapping[tuple[State, State], Floats]
    ends: Mapping[str, Floats]

    @classmethod
    def of(cls, model: Model, plan: Plan) -> Ledger:
        """The ledger of a plan from the model's start. Linear in nodes x faults."""
        came = comings(model, plan)
        tests: dict[str, Floats] = {}
        moves: dict[tuple[State, State], Floats] = {}
        ends: dict[str, Floats] = {}
        first = plan.nodes[plan.root]
        if isinstance(first, Ask):
            _add(moves, (setup.start(model), first.state), came[plan.root])
        for name, weights in came.items():
            node = plan.nodes[name]
            if isinstance(node, Verdict):
                _add(ends, node.remedy, weights)
            if not isinstance(node, Ask):
                continue
            _add(tests, node.test, weights)
            for outcome, child in node.branches.items():
                below = plan.nodes[child]
                if isinstance(below, Ask):
                    share = weights * _column(model, node.test, outcome)
                    _add(moves, (node.state, below.state), share)
        return cls(tests, moves, ends)

    def each(self, model: Model) -> Floats:
        """Expected cost under each fault on this bench: a model of the same rows."""
        faults = [fault.id for fault in model.faults]
        cost = np.zeros(len(faults))
        for test, times in self.tests.items():
            cost += model.test(test).minutes * times
        for (before, after), times in self.moves.items():
            cost += setup.minutes(model, before, after) * times
        for name, times in self.ends.items():
            remedy = model.remedy(name)
            cures = set(remedy.cures)
            wrong = np.array([0.0 if fault in cures else 1.0 for fault in faults])
            cost += (remedy.minutes + model.wrong_verdict_minutes * wrong) * times
        return cost

    def cost(self, model: Model) -> float:
        """Expected cost on this bench, by its own shares."""
        prior = np.array([fault.prior for fault in model.faults], dtype=np.float64)
        return float(prior @ self.each(model))


def comings(model: Model, plan: Plan) -> dict[str, Floats]:
    """Odds of coming to each node under each fault, parents first."""
    nodes: dict[str, Node] = dict(plan.nodes)
    none = np.zeros(len(model.faults))
    came = {name: none.copy() for name in in_order(nodes, plan.root)}
    came[plan.root] += 1.0
    for name, weights in came.items():
        node = nodes[name]
        if isinstance(node, Ask):
            for outcome, child in node.branches.items():
                came[child] += weights * _column(model, node.test, outcome)
    return came


def _column(model: Model, test: str, outcome: str) -> Floats:
    """Odds of a true outcome under each fault that can be."""
    rows = model.likelihood[test]
    return np.array([rows.get(fault.id, {}).get(outcome, 0.0) for fault in model.faults])


def _add(book: dict[_Key, Floats], key: _Key, times: Floats) -> None:
    book[key] = book[key] + times if key in book else times.copy()
