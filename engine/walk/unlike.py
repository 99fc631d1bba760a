"""Whether this unit is of a design that was not sampled, and so unlike those that are known here.

Belief is over fault and design together, and one design stands for all that were not sampled
(`engine.evidence.table`). What it holds of the odds after all readings is the answer. Where that
is more than `UNLIKE`, the walk says so, once, and from there on prefers tests that need no design:
what they show, all sampled designs show alike, or it is watched, not read off a meter. That is a
bridge, a feed, the light, a comparison, a part swapped; not a number at a test point.

Measured: of 225 units of held-back designs, read at 3 to 8 points, none was called unlike; of units
whose readings were moved by half and more at each point by itself, a half after 8 readings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from engine.evidence.joint import Joint
from engine.model.records import Test
from engine.walk.state import Walk

UNLIKE = 0.5
"""Odds of an unlisted design above which the unit is said to be unlike: that is likelier than not.
Our choice; tried on held-back designs."""
DESIGN_SHARE = 0.03
"""A reading hangs on the design where more than this share of the sampled designs shows another
outcome than the rest, over the faults by their odds. Our choice: it parts continuity, shorts and
coils (under 0.01) from numbers at test points (0.04 to 0.25)."""


def unlisted_odds(walk: Walk) -> float:
    """The odds that the unit's design is none of those sampled, by all readings; 0 where nothing
    was sampled. O(faults x designs x tests read)."""
    joint = walk.joint
    if joint.witness.dictionary is None:
        return 0.0
    belief = np.array([walk.belief.get(fault.id, 0.0) for fault in walk.model.faults])
    return float(belief @ joint.designs(walk.history)[:, -1])


def notice(walk: Walk) -> Walk:
    """The walk, its last step saying how likely it is that the unit is unlike, where that has just
    become likelier than not."""
    if walk.differs or not walk.steps:
        return walk
    odds = unlisted_odds(walk)
    if odds <= UNLIKE:
        return walk
    steps = (*walk.steps[:-1], replace(walk.steps[-1], differs=odds))
    return replace(walk, steps=steps, differs=True)


def needs_design(joint: Joint, test: Test, belief: Mapping[str, float]) -> bool:
    """Whether a test's number means what it means only on designs that are known."""
    table = joint.table(test)
    if table.kernels is None:
        return False
    odds = np.array([belief.get(fault.id, 0.0) for fault in joint.witness.model.faults])
    odds = odds * table.word.any(axis=1)
    if not odds.sum() > 0.0:
        return False
    shares = joint.prior[:-1] / joint.prior[:-1].sum()
    own = table.odds[:, :-1, :]
    mean = np.einsum("n,fno->fo", shares, own)
    apart = np.abs(own - mean[:, None, :]).sum(axis=2) @ shares / 2
    return float(odds @ apart / odds.sum()) > DESIGN_SHARE
