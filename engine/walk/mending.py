"""When the repair did not help: what that says of each fault, and the bench after it.

A remedy that was carried out and proved, and left the unit as it was, speaks against all that it
cures, but for a repair that was made badly. Then the walk goes on. After the proof the unit may
hold charge, whatever the bench was before: each store is to be measured again.
"""

from __future__ import annotations

from dataclasses import replace

from engine.model.records import Remedy
from engine.readings import belief as beliefs
from engine.walk.doubts import in_question
from engine.walk.state import Step, Walk

BOTCHED = 0.03
"""Odds that the right remedy leaves the unit as it was: a bad joint, a bad new part. Our choice,
no source found."""


def after_failure(walk: Walk, remedy: Remedy) -> Walk:
    """The walk after a remedy that did not help, before the rest is planned anew.

    Minutes are the remedy's and those of its proofs.
    """
    model = walk.model
    factors = {fault.id: BOTCHED if fault.id in remedy.cures else 1.0 for fault in model.faults}
    most = max(factors.values())
    factors = {fault: factor / most for fault, factor in factors.items()}
    belief = beliefs.weigh(walk.belief, factors)
    minutes = remedy.minutes + sum(p.minutes for p in model.proofs if p.id in remedy.proofs)
    step = Step("repair", minutes, walk.bench, belief, thing=remedy.id, factors=factors)
    return replace(
        walk, belief=belief, minutes=walk.minutes + minutes, steps=(*walk.steps, step),
        suspects=in_question(belief),
    )  # fmt: skip
