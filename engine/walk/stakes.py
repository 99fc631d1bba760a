"""What hinges on one reading: how likely it is that a misreading ends in a wrong verdict.

The plan from here is followed with that part of the belief in which the reading was mistaken. What
comes to a verdict whose remedy does not cure it is lost. A misreading that the plan finds out by
itself, or that ends in the same remedy, loses nothing.
"""

from __future__ import annotations

import numpy as np

from engine.chart.traversal import in_order
from engine.model.plan import Ask, Verdict
from engine.readings.confusion import Floats
from engine.walk.state import Walk


def odds_lost(walk: Walk, misreadings: Floats) -> float:
    """Odds of ending in vain, of those `misreadings`, by the faults of the model.

    O(nodes of the plan x outcomes x faults).
    """
    model, plan = walk.outlook, walk.plan
    faults = [fault.id for fault in model.faults]
    came: dict[str, Floats] = {walk.node: misreadings}
    total = 0.0
    for name in in_order(plan, walk.node):
        node, here = plan.nodes[name], came[name]
        if isinstance(node, Verdict):
            cures = set(model.remedy(node.remedy).cures)
            failures = np.array([fault not in cures for fault in faults])
            total += float(here[failures].sum())
        elif isinstance(node, Ask):
            rows = [model.row(node.test, fault) for fault in faults]
            for outcome, child in node.branches.items():
                share = here * np.array([row.get(outcome, 0.0) for row in rows])
                came[child] = came[child] + share if child in came else share
    return total
