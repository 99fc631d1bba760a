"""What the tests to come are expected to show on this very unit: the model that a walk plans on.

The rules' rows are those of all units. After some readings few designs and manners are left, and at
some tests those show something else under a fault than the rules tell: P(outcome | fault, all
readings), the mean over them by their odds. Where that stands against a row by more than
`OTHERWISE`, the walk plans on with what those show; every other cell stays the rules'.

Where the unit is unlike all that were sampled (`engine.walk.unlike`), tests whose numbers hang on
the design tell less: as much of their word as such a design takes from them, its odds times what is
not the rules' there, goes to the mean over the faults in question, which tells nothing. So a plan
comes to prefer a bridge, a feed, the light, and still pays for a number where nothing else parts
what is left.

Measured on the light-controlled lamp: with all cells taken from the designs, none of them 0, the
best plan found within a tenth of a second costs a fifth more than by the rules' rows, for nothing
is told apart cleanly; with those that stand against the rules alone it costs as much, and finding
them takes 6 ms. On 55 units of held-back designs walks came to the verdict in 43.8 minutes in place
of 45.4, 47 of them right in place of 46, Brier score 0.059 in place of 0.065.
O(tests x faults x designs x outcomes).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from engine.evidence.table import UNLISTED_WORD
from engine.model.records import Model, Test
from engine.walk.state import Walk
from engine.walk.unlike import needs_design, unlisted_odds

OTHERWISE = 0.5
"""Total variation between what the designs left show and the rules' row from which the designs are
planned by: more than half of the odds lie elsewhere. Our choice."""
LEAST = 0.02
"""Outcomes that a number's band keeps of what it tells of nothing; smaller odds are left out of a
plan. Our choice."""
LIKELY_SHARE = 0.5
"""Outcomes with less than this share of the likeliest one's odds are no outcomes to plan for: a
plan for all that may be is no plan. Our choice."""

Rows = Mapping[str, Mapping[str, float]]


def expected_model(walk: Walk) -> Model:
    """The walk's model, with the rows of tests to come as the designs left show them; the very
    model where they show nothing else."""
    joint, model = walk.joint, walk.model
    if not walk.is_tested and walk.own_joint is None and not joint.witness.make.weights:
        return model  # nothing is known of the unit that the rules and their cuts don't know
    if walk.differs:
        return _for_unlike(walk)
    changes = dict[str, Rows]()
    for test in model.tests:
        if test.id not in walk.done and test.id not in walk.unavailable:
            rows = _rows(walk, test)
            if rows is not None:
                changes[test.id] = rows
    return replace(model, likelihood={**model.likelihood, **changes}) if changes else model


def _for_unlike(walk: Walk) -> Model:
    """The model for a unit of a design that nobody knows."""
    model, joint = walk.model, walk.joint
    share = unlisted_odds(walk) * (1.0 - UNLISTED_WORD)
    weights = np.array([walk.belief[f.id] * (f.id in walk.suspects) for f in model.faults])
    changes: dict[str, Rows] = {}
    for test in model.tests:
        if test.id not in walk.done and needs_design(joint, test, walk.belief):
            rules = joint.table(test).rules
            mean = weights @ rules / weights.sum()
            odds = (1.0 - share) * rules + share * mean
            odds = np.where(odds >= LEAST, odds, 0.0)
            odds = odds / odds.sum(axis=1, keepdims=True)
            names = [outcome.id for outcome in test.outcomes]
            changes[test.id] = {
                fault.id: {o: p for o, p in zip(names, row, strict=True) if p > 0.0}
                for fault, row in zip(model.faults, odds.tolist(), strict=True)
            }
    return replace(model, likelihood={**model.likelihood, **changes}) if changes else model


def _rows(walk: Walk, test: Test) -> Rows | None:
    """The rows of a test with those that the designs and manners left stand against; None where all
    agree."""
    joint, model = walk.joint, walk.model
    table = joint.table(test)
    speaks = table.word.any(axis=1) | joint.ways.varies(test)
    if not speaks.any():
        return None
    odds = joint.forecast(walk.history, test)
    apart = np.abs(odds - table.rules).sum(axis=1) / 2
    rows = dict(model.likelihood[test.id])
    names = [outcome.id for outcome in test.outcomes]
    others = np.flatnonzero((apart > OTHERWISE) & speaks)
    for at in others:
        likely = np.where(odds[at] >= LIKELY_SHARE * odds[at].max(), odds[at], 0.0)
        shares = (likely / likely.sum()).tolist()
        rows[model.faults[at].id] = {o: p for o, p in zip(names, shares, strict=True) if p > 0.0}
    return rows if len(others) else None
