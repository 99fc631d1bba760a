"""A scikit-learn decision tree as a sequence of tests, against the optimum.

    python -m tests.bench tree

Two-outcome models without set-ups; the tree is grown by entropy on the weights, one leaf a fault,
and its tests are priced as ours. Needs `pip install scikit-learn`.
"""

from __future__ import annotations

import statistics
import warnings

import numpy as np
from sklearn.tree import DecisionTreeClassifier

from engine.model.records import Model
from engine.planner import plan
from tests.models import dense_random, tiny_model


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
    with warnings.catch_warnings(action="ignore"):  # one leaf a fault is what is meant
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
        f"  scikit-learn tree over the optimum, 24 x 40: mean {statistics.mean(ratios):.2f}"
        f"  worst {max(ratios):.2f}"
    )
