"""The planner beside `pystreed`: optimal trees with test and misclassification costs.

    python -m tests.bench streed

Both get the same two-outcome models without set-ups (whole weights, a free remedy for each fault,
a ruinous wrong verdict) in the same run, and pystreed is told the depth of the optimal tree; each
tree's cost is recomputed here from its tests. Needs `pip install pystreed`.
"""

from __future__ import annotations

import math
import random
import statistics
import time
from typing import Any

import numpy as np
from pystreed import STreeDCostSensitiveClassifier
from pystreed.cstreed import CostSpecifier, FeatureCostSpecifier

from engine.model.plan import Ask, Plan
from engine.model.records import Model
from engine.planner import plan
from tests.models import simple_test, tiny_model

RUINOUS = 1_000.0


def whole_model(seed: int, faults: int, tests: int) -> tuple[Model, list[int]]:
    """A dense model whose weights are small whole numbers, so that rows can stand for weights."""
    rng = random.Random(seed)
    weights = {f"f{i}": rng.randint(1, 12) for i in range(faults)}
    made = [simple_test(f"t{i}", float(rng.randint(1, 9))) for i in range(tests)]
    rows = {t.id: {f: rng.choice(["good", "good", "bad"]) for f in weights} for t in made}
    model = tiny_model(weights, made, rows, wrong_verdict_minutes=RUINOUS)
    return model, list(weights.values())


def streed(model: Model, weights: list[int], depth: int, limit: float) -> tuple[float, float]:
    """Seconds of its fit, and the expected minutes of its tree, at most `depth` tests deep."""
    faults = [f.id for f in model.faults]
    shown = np.array([[int("bad" in model.row(t.id, f)) for t in model.tests] for f in faults])
    table = np.repeat(shown, weights, axis=0)
    answers = np.repeat(np.arange(len(faults)), weights)
    wrong = [[0.0 if i == j else RUINOUS for j in range(len(faults))] for i in range(len(faults))]
    costs = [
        FeatureCostSpecifier(t.minutes, t.minutes, t.id, i, i) for i, t in enumerate(model.tests)
    ]
    fitted = STreeDCostSensitiveClassifier(
        max_depth=depth, max_num_nodes=len(faults) - 1, time_limit=limit
    )
    began = time.perf_counter()
    fitted.fit(table, answers, CostSpecifier(wrong, costs))
    spent = time.perf_counter() - began
    minutes = [t.minutes for t in model.tests]
    total = sum(
        weight * _asked(fitted.tree_, row, minutes, fault)
        for fault, (weight, row) in enumerate(zip(weights, shown, strict=True))
    )
    return spent, total / sum(weights)


def _asked(node: Any, row: np.ndarray, minutes: list[float], fault: int) -> float:
    spent = 0.0
    while not node.is_leaf_node():
        spent += minutes[node.feature]
        node = node.right_child if row[node.feature] else node.left_child
    return spent if node.label == fault else math.inf


def _depth(made: Plan, name: str) -> int:
    node = made.nodes[name]
    if not isinstance(node, Ask):
        return 0
    return 1 + max(_depth(made, child) for child in node.branches.values())


def line(faults: int, tests: int, models: int) -> str:
    """Medians of both, how often they agree, how many times faster the planner is."""
    ours, theirs, equal = [], [], 0
    for seed in range(models):
        model, weights = whole_model(seed, faults, tests)
        began = time.perf_counter()
        made = plan(model)
        ours.append(time.perf_counter() - began)
        seconds, other = streed(model, weights, _depth(made, made.root), 120.0)
        theirs.append(seconds)
        equal += math.isclose(made.proof.expected_cost, other, rel_tol=1e-9)
    times = [b / a for a, b in zip(ours, theirs, strict=True)]
    return (
        f"  {faults} x {tests}: planner {statistics.median(ours):.3f} s"
        f"  pystreed {statistics.median(theirs):.3f} s"
        f"  faster {statistics.median(times):.1f} times (least {min(times):.1f})"
        f"  equal optimum {equal} of {models}"
    )
