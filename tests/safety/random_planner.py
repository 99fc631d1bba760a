"""A planner that plans anything that can be done: small random trees, odd orders of supply.

What a walk must keep is kept whatever the plan is; the best plans are tame. The tree follows from
the seed and the question alone, so that a walk that is replayed is the walk that was.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass

from engine.model import setup
from engine.model.plan import Ask, Node, Plan, Proof, Recheck, State, Verdict
from engine.model.records import Model, Test

Weights = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class RandomPlanner:
    """Plans by chance. `most` tests stand one behind another; a heedless one forgets shorts."""

    seed: int
    most: int = 4
    heedless: bool = False

    def __call__(
        self,
        model: Model,
        /,
        *,
        belief: Mapping[str, float] | None,
        state: State | None,
        withdrawn: frozenset[str],
        tests_done: frozenset[str],
        answers: tuple[tuple[str, str], ...] = (),
    ) -> Plan:
        """A plan over the faults that the belief leaves in question, whatever remedies require."""
        weights = belief if belief is not None else {f.id: f.prior for f in model.faults}
        weights = {fault: odds for fault, odds in weights.items() if odds > 0} or weights
        bench = state or setup.start(model)
        asked = (self.seed, sorted(withdrawn), sorted(tests_done), sorted(bench.opened), bench)
        growing = _Growing(model, random.Random(repr(asked[:4]) + bench.supply + bench.rig), self)
        root = growing.node(weights, bench, withdrawn | tests_done, self.most)
        return Plan(root, growing.nodes, Proof(1.0, 1.0, 0.0, False, 0))


class _Growing:
    def __init__(self, model: Model, chance: random.Random, planner: RandomPlanner) -> None:
        self.model, self.chance, self.planner = model, chance, planner
        self.nodes: dict[str, Node] = {}

    def node(self, weights: Weights, bench: State, out: frozenset[str], most: int) -> str:
        """The name of a node for these faults on this bench; `out` are tests not to be asked."""
        name = f"r{len(self.nodes)}"
        if not weights:
            self.nodes[name] = Recheck("No fault in question shows this")
            return name
        self.nodes[name] = Recheck("to be written")
        tests = self._possible(bench, out) if most else []
        if not tests or self.chance.random() < 0.08:
            self.nodes[name] = self._verdict(weights)
        else:
            self.nodes[name] = self._ask(self.chance.choice(tests), weights, bench, out, most)
        return name

    def _possible(self, bench: State, out: frozenset[str]) -> list[Test]:
        left = [test for test in self.model.tests if test.id not in out]
        return [test for test in left if setup.allows(self.model, bench, test)]

    def _ask(
        self, test: Test, weights: Weights, bench: State, out: frozenset[str], most: int
    ) -> Ask:
        state, branches = setup.reach(self.model, bench, test), {}
        for outcome in test.outcomes:
            shown = {
                f: w * self.model.row(test.id, f).get(outcome.id, 0) for f, w in weights.items()
            }
            kept = {fault: weight for fault, weight in shown.items() if weight > 0}
            barred = out | {test.id}
            if getattr(outcome, "short", False) and not self.planner.heedless:
                barred |= self._energised()
            # Few branches grow deep: the person takes one, and planning is paid for all.
            deeper = most - 1 if self.chance.random() < 0.7 else 0
            branches[outcome.id] = self.node(kept, state, barred, deeper)
        return Ask(test.id, state, branches)

    def _energised(self) -> frozenset[str]:
        charging = {a.id for a in self.model.supply.arrangements if a.energy in ("mains", "hvdc")}
        return frozenset(test.id for test in self.model.tests if test.supply in charging)

    def _verdict(self, weights: Weights) -> Verdict:
        total = sum(weights.values())
        likeliest = max(weights, key=lambda fault: weights[fault])
        cures = [r.id for r in self.model.remedies if likeliest in r.cures]
        remedies = cures or [remedy.id for remedy in self.model.remedies]
        odds = tuple((fault, weight / total) for fault, weight in weights.items())
        return Verdict(self.chance.choice(remedies), odds)
