"""How long the next question takes once a person leaves the plan.

    python -m tests.bench replan

The plan's own next question is at hand: following it takes no planning. At each ask of a plan the
test is taken away ("can't do that") and the rest is planned anew from the posterior there, with a
budget of `BUDGET` seconds: the best plan found by then, and its proved bound. Whatever remains to
be proved is what the walk does not wait for.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from engine.model.plan import Ask, Plan, State
from engine.model.records import Model
from engine.model.setup import start
from engine.planner import plan

BUDGET = 0.015
"""Seconds of search for the next question."""


@dataclass(frozen=True, slots=True)
class Leave:
    """One test taken away: seconds to the next question, and how far bound and cost are apart."""

    cpu_seconds: float
    wall_seconds: float
    gap: float


def leaves(model: Model, made: Plan) -> Iterator[Leave]:
    """Every ask of the plan, its test taken away."""
    waiting: list[tuple[str, dict[str, float], State]] = [
        (made.root, {f.id: f.prior for f in model.faults}, start(model))
    ]
    while waiting:
        name, weights, state = waiting.pop()
        node = made.nodes[name]
        if not isinstance(node, Ask):
            continue
        wall, cpu = time.perf_counter(), time.process_time()
        proof = plan(
            model, belief=weights, state=state, withdrawn=frozenset({node.test}), seconds=BUDGET
        ).proof
        gap = 1 - proof.lower_bound / proof.expected_cost
        yield Leave(time.process_time() - cpu, time.perf_counter() - wall, gap)
        for outcome, child in node.branches.items():
            below = {f: w * model.row(node.test, f).get(outcome, 0.0) for f, w in weights.items()}
            below = {fault: weight for fault, weight in below.items() if weight > 0}
            if below:
                waiting.append((child, below, node.state))


def milliseconds(seconds: list[float]) -> str:
    """Median, 99th hundredth and worst."""
    return (
        f"median {1000 * statistics.median(seconds):5.1f}"
        f" 99 % {1000 * float(np.quantile(seconds, 0.99)):5.1f}"
        f" worst {1000 * max(seconds):5.1f}"
    )


def line(name: str, model: Model, seconds: float) -> str:
    """Milliseconds of CPU and wall to the next question; how much was proved within them."""
    found = list(leaves(model, plan(model, seconds=seconds)))
    gaps = [leave.gap for leave in found]
    proved = sum(gap < 1e-9 for gap in gaps)
    return (
        f"  {name:30s} {len(found):3d} tests taken away"
        f"  CPU ms {milliseconds([leave.cpu_seconds for leave in found])}"
        f"  wall ms {milliseconds([leave.wall_seconds for leave in found])}"
        f"  proved {proved} of {len(found)}  gap else at most {max(gaps):.1%}"
    )
