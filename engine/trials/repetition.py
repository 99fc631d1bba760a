"""Which test to do again before a remedy, from a posterior: what a walk asks itself at a verdict.

A confirm step on paper (`engine.trials.confirm`) is fixed before anything is told. Here the
posterior is known. Doing a test again costs its minutes and set-up; then the best remedy for what
one knows by then is applied. What that saves is reckoned over all answers, exactly, and is no more
than is true: going on with other tests afterwards could only save more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine.model import Model
from engine.plan import State
from engine.setup import allows, minutes, reach
from engine.shown import Answers, unmet
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
    heard: dict[str, Floats] = {}
    for test, outcomes in told.items():
        names = readings.outcomes[test]
        if outcomes and readings.mistakable(test):
            heard[test] = readings.again(test, tuple(names.index(outcome) for outcome in outcomes))
    answers = tuple((test, outcome) for test, outcomes in told.items() for outcome in outcomes)
    return best_repetition(model, odds, state, heard, answers=answers)


def best_repetition(
    model: Model,
    odds: Floats,
    state: State,
    heard: Mapping[str, Floats],
    afresh: float = math.inf,
    answers: Answers = (),
) -> Repetition | None:
    """As `worth_repeating`, where what each test would tell is known, faults x outcomes.

    `odds` and the rows of `heard` run over the model's faults. `afresh` is what a job costs from
    its start: no answer leaves more to be paid than that, for one can always begin anew. `answers`
    given so far say which remedies may be named.
    """
    odds = odds / odds.sum()
    cost = _leaf_costs(model, answers)
    now = float((cost @ odds).min())
    found = None
    for test_id, table in heard.items():
        test = model.test(test_id)
        if not allows(model, state, test):
            continue
        took = test.minutes + minutes(model, state, reach(model, state, test))
        joint = odds[:, None] * table
        left = np.minimum((cost @ joint).min(axis=0), afresh * joint.sum(axis=0))
        saves = now - took - float(left.sum())
        if saves >= WORTH_MINUTES and (found is None or saves > found.saves):
            found = Repetition(test_id, took, saves)
    return found


def _leaf_costs(model: Model, answers: Answers) -> Floats:
    """[remedies][faults] minutes of ending with the remedy where it is that fault, of those that
    may be named after these answers."""
    faults = [fault.id for fault in model.faults]
    return np.array(
        [
            [
                remedy.minutes + model.wrong_verdict_minutes * (fault not in set(remedy.cures))
                for fault in faults
            ]
            for remedy in model.remedies
            if not unmet(model, remedy, answers)
        ],
        dtype=np.float64,
    )
