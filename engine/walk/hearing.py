"""What an answer says of each fault: by the model's rows, or by the circuit where that was read.

A reading can weigh against a fault that its band leaves in question. So a fault stays in question
after one if it holds its part of what is left, and the plan goes on as it was only where the
reading said little more than its band.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from engine.evidence.joint import Take, Testimony
from engine.model.records import Model
from engine.readings import belief as beliefs
from engine.walk.events import Answered, Known
from engine.walk.state import Walk

IN_QUESTION = 5e-4
"""The part of all odds read right below which a reading puts a fault out of question. Before a
verdict, `engine.walk.doubts` weighs in again what was left out."""
FORESEEN = 0.05
"""Less of all odds than this on the faults in question, read right, is a surprise: the heavy tails
of the densities leave a fiftieth to what nobody foresaw."""
AS_PLANNED = 0.03
"""How far the odds may stand from those planned with (total variation) for the plan to go on."""


@dataclass(frozen=True, slots=True)
class Hearing:
    """The belief after an answer, the faults it leaves in question (none: a surprise), and the
    factors and slips of `engine.evidence` where it was weighed by the circuit."""

    belief: Mapping[str, float]
    suspects: frozenset[str]
    factors: Mapping[str, float] = field(default_factory=dict)
    slips: Mapping[str, float] = field(default_factory=dict)


def hear(walk: Walk, event: Answered | Known) -> Hearing:
    """What a finding makes of the belief. Raises `engine.readings.belief.Surprise` where nothing is
    left."""
    testimony = _testimony(walk, event)
    if testimony is None:
        after = beliefs.update(walk.model, walk.belief, event.test, event.evidence)
        return Hearing(after, _left_by_rows(walk, event))
    after = beliefs.weigh(walk.belief, testimony.factors)
    return Hearing(after, _left(walk, after, testimony), testimony.factors, testimony.slips)


def as_planned(walk: Walk, event: Answered | Known) -> bool:
    """Whether what a finding says is what the plan took its outcome to say."""
    testimony = _testimony(walk, event)
    if testimony is None:
        return True
    after = beliefs.weigh(walk.belief, testimony.factors)
    now = _parts({f: after[f] for f in _left(walk, after, testimony)})
    odds = {f: walk.belief[f] * _row(walk.outlook, event, f) for f in walk.suspects}
    before = _parts(odds)
    everyone = now.keys() | before.keys()
    distance = sum(abs(now.get(f, 0.0) - before.get(f, 0.0)) for f in everyone) / 2
    return distance <= AS_PLANNED


def _testimony(walk: Walk, event: Answered | Known) -> Testimony | None:
    take = Take(event.reading or "", event.evidence)
    return walk.joint.testimony(walk.history, event.test, take)


def _left_by_rows(walk: Walk, event: Answered | Known) -> frozenset[str]:
    return frozenset(fault for fault in walk.suspects if _row(walk.model, event, fault) > 0)


def _left(walk: Walk, after: Mapping[str, float], testimony: Testimony) -> frozenset[str]:
    right = {f: after[f] * (1.0 - testimony.slips[f]) for f in walk.suspects}
    total = sum(right.values())
    if total < FORESEEN:
        return frozenset()
    return frozenset(f for f, odds in right.items() if odds >= IN_QUESTION * total)


def _row(model: Model, event: Answered | Known, fault: str) -> float:
    row = model.row(event.test, fault)
    return sum(share * row.get(outcome, 0.0) for outcome, share in event.evidence)


def _parts(odds: Mapping[str, float]) -> dict[str, float]:
    total = sum(odds.values())
    return {f: p / total for f, p in odds.items()} if total > 0.0 else {}
