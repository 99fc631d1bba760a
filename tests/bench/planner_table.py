"""How fast the planner proves its plans, and what other ways of ordering tests would cost.

    python -m tests.bench.planner_table [MODELS]

Exact planning of seeded random models (stage chains and dense ones of `tests.models`) and of the
shipped topologies; anytime planning with 300 faults and 300 tests for 10 s; re-planning after
every answer of a plan's likeliest branches; and, on two-outcome models without set-ups, the cost
of a scikit-learn decision tree (entropy, fitted to the weights, its tests priced as ours) against
the optimum.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Iterator

import numpy as np
from sklearn.tree import DecisionTreeClassifier

from engine import library
from engine.model import Mains, Model
from engine.plan import Ask, Plan, Proof
from engine.planner import plan
from engine.setup import start
from tests.models import dense_random, stage_chain, tiny_model

Family = Callable[[int, int, int], Model]


def chain(seed: int, faults: int, tests: int) -> Model:
    """A stage chain with set-ups."""
    return stage_chain(seed, faults, tests)


def dense(seed: int, faults: int, tests: int) -> Model:
    """A dense random model without set-ups."""
    return dense_random(seed, faults, tests)


def dense_set_up(seed: int, faults: int, tests: int) -> Model:
    """A dense random model with set-ups."""
    return dense_random(seed, faults, tests, set_ups=0.7)


def timed(model: Model, seconds: float) -> tuple[float, Proof]:
    """Wall seconds of planning, reduction included, and the proof."""
    began = time.perf_counter()
    proof = plan(model, seconds=seconds).proof
    return time.perf_counter() - began, proof


def exact_line(family: Family, faults: int, tests: int, models: int, limit: float) -> str:
    """Median and worst seconds to the proof."""
    runs = [timed(family(seed, faults, tests), limit) for seed in range(models)]
    spent = [seconds for seconds, _ in runs]
    proved = sum(proof.proved_optimal for _, proof in runs)
    return (
        f"{family.__name__:13s} {faults:3d} x {tests:3d}  median {statistics.median(spent):7.3f} s"
        f"  worst {max(spent):7.3f} s  proved {proved} of {models}"
    )


def anytime_line(seed: int, seconds: float) -> str:
    """Cost and bound when time runs out on 300 faults and 300 tests."""
    spent, proof = timed(chain(seed, 300, 300), seconds)
    gap = 1 - proof.lower_bound / proof.expected_cost
    return (
        f"chain 300 x 300 seed {seed}: {spent:.1f} s  cost {proof.expected_cost:.2f}"
        f"  bound {proof.lower_bound:.2f}  gap {gap:.1%}"
    )


def shipped_lines(limit: float) -> Iterator[str]:
    """Seconds, gap and the binding bounds on the shipped topologies."""
    for topology in (note.id for note in library.topologies()):
        for depth in ("stage", "part"):
            model = library.model(topology, mains=Mains(230.0, 50.0), depth=depth)
            spent, proof = timed(model, limit)
            gap = 1 - proof.lower_bound / proof.expected_cost
            yield (
                f"{topology} {depth}: {spent:.2f} s  gap {gap:.1%}  {proof.fault_classes} classes"
                f"  {proof.tests_left} tests  {proof.nodes_expanded} expanded  {proof.closed_by}"
            )


def replanning_line(model: Model) -> str:
    """Seconds of planning again from each node of the plan, as after an answer."""
    spent = list(_replanned(model, plan(model, seconds=30.0)))
    return (
        f"re-planning at {len(spent)} nodes: median {1000 * statistics.median(spent):.1f} ms"
        f"  99 % {1000 * float(np.quantile(spent, 0.99)):.1f} ms"
    )


def _replanned(model: Model, made: Plan) -> Iterator[float]:
    waiting = [(made.root, {f.id: f.prior for f in model.faults}, start(model))]
    while waiting:
        name, weights, state = waiting.pop()
        node = made.nodes[name]
        if not isinstance(node, Ask):
            continue
        began = time.perf_counter()
        plan(model, belief=weights, state=state, seconds=5.0)
        yield time.perf_counter() - began
        for outcome, child in node.branches.items():
            below = {f: w * model.row(node.test, f).get(outcome, 0.0) for f, w in weights.items()}
            if sum(below.values()) > 0:
                waiting.append((child, below, node.state))


def bare(seed: int, faults: int, tests: int) -> Model:
    """Two outcomes, no set-ups, a free remedy for each fault and a ruinous wrong verdict."""
    model = dense_random(seed, faults, tests)
    rows = {
        test: {fault: next(iter(row)) for fault, row in table.items()}
        for test, table in model.likelihood.items()
    }
    return tiny_model({f.id: f.prior for f in model.faults}, model.tests, rows)


def tree_cost(model: Model) -> float:
    """Expected minutes of the tests that a scikit-learn tree asks for, one leaf a fault."""
    faults = [f.id for f in model.faults]
    shown = np.array([[float("bad" in model.row(t.id, f)) for t in model.tests] for f in faults])
    weights = np.array([f.prior for f in model.faults])
    minutes = np.array([t.minutes for t in model.tests])
    tree = DecisionTreeClassifier(criterion="entropy", random_state=0)
    tree.fit(shown, np.arange(len(faults)), sample_weight=weights)
    paths = tree.decision_path(shown)
    asked = tree.tree_.feature
    spent = [
        sum(minutes[asked[node]] for node in paths[k].indices if asked[node] >= 0)
        for k in range(len(faults))
    ]
    return float(weights @ np.array(spent))


def tree_line(models: int) -> str:
    """How much more the tree's tests cost than the optimum."""
    ratios = []
    for seed in range(models):
        model = bare(seed, 24, 40)
        ratios.append(tree_cost(model) / plan(model).proof.expected_cost)
    return (
        f"scikit-learn tree over the optimum, 24 x 40: mean {statistics.mean(ratios):.2f}"
        f"  worst {max(ratios):.2f}"
    )


def main(models: int) -> None:
    """Print every table."""
    for faults, tests in ((40, 60), (60, 80), (80, 100)):
        for family in (chain, dense, dense_set_up):
            print(exact_line(family, faults, tests, models, 30.0), flush=True)
    print(exact_line(chain, 120, 150, models, 30.0), flush=True)
    for seed in range(2):
        print(anytime_line(seed, 10.0), flush=True)
    for line in shipped_lines(30.0):
        print(line, flush=True)
    print(replanning_line(chain(0, 60, 80)), flush=True)
    print(tree_line(models), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
