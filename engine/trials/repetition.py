"""Which test to do again before a remedy, from a posterior: what a walk asks itself at a verdict.

A confirm step on paper (`engine.trials.confirm`) is fixed before anything is told. Here the
posterior is known. Doing a test again costs its minutes and set-up; then the best remedy for what
one knows by then is applied. What that saves is reckoned over all answers, exactly, and is no more
than is true: going on with other tests afterwards could only save more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine.model import Model
from engine.plan import State
from engine.setup import allows, minutes, reach
from engine.trials.confirm import WORTH_MINUTES
from engine.trials.readings import Floats, Readings


@dataclass(frozen=True, slots=True)
class Repetition:
    """Do `test` again before the remedy: `minutes` with its set-up, `saves` expected minutes."""

    test: str
    minutes: float
    saves: float


def worth_repeating(
    model: Model, belief: Mapping[str, float], state: State, told: Mapping[str, Sequence[str]]
) -> Repetition | None:
    """The repetition that saves most before a verdict, or None where none pays.

    `belief` are odds by fault id after all answers (misreads counted), `told` the outcome ids each
    test has told so far, in order, `state` the bench as it stands.
    Time: tests told x outcomes x remedies x faults.
    """
    readings = Readings.of(model)
    odds = np.array([belief.get(fault, 0.0) for fault in readings.faults])
    odds = odds / odds.sum()
    cost = _leaf_costs(readings)
    now = float((cost @ odds).min())
    found = None
    for test_id, outcomes in told.items():
        test = model.test(test_id)
        if not outcomes or not readings.mistakable(test_id) or not allows(model, state, test):
            continue
        took = test.minutes + minutes(model, state, reach(model, state, test))
        names = readings.outcomes[test_id]
        heard = readings.again(test_id, tuple(names.index(outcome) for outcome in outcomes))
        saves = now - took - float((cost @ (odds[:, None] * heard)).min(axis=0).sum())
        if saves >= WORTH_MINUTES and (found is None or saves > found.saves):
            found = Repetition(test_id, took, saves)
    return found


def _leaf_costs(readings: Readings) -> Floats:
    """[remedies][faults] minutes of ending with the remedy where it is that fault."""
    model = readings.model
    return np.array(
        [
            remedy.minutes + model.wrong_verdict_minutes * (1.0 - readings.cured(remedy.id))
            for remedy in model.remedies
        ]
    )
