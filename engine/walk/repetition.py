"""Which test to do again before a remedy, from a posterior: what a walk asks itself at a verdict.

A confirm step on paper (`engine.chart.confirm`) is fixed before anything is told. Here the
posterior is known. Doing a test again costs its minutes and set-up; then the best remedy for what
one knows by then is applied. What that saves is reckoned over all answers, exactly.

Nothing is asked in vain: only answers that could change the remedy save anything (another one is
then cheaper, or they speak so much against it that going on is), a test is done `MOST_TAKES` times
in all, and none is where nothing can have been mistaken for what it told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine.chart.confirm import WORTH_MINUTES
from engine.model.plan import State
from engine.model.records import Model
from engine.model.requirements import Answers, unmet
from engine.model.setup import allows, minutes, reach
from engine.readings.confusion import Floats, Readings

NO_CHANGE = 1e-9
"""Minutes within which two remedies cost alike."""
MOST_TAKES = 2
"""A test is done again once. Where two readings differ, other tests decide: a third by the same
hands on the same spot would mostly repeat what misled one of them."""


@dataclass(frozen=True, slots=True)
class Repetition:
    """Do `test` again before the remedy: `minutes` with its set-up, `saves` expected minutes."""

    test: str
    minutes: float
    saves: float


def worth_repeating(
    model: Model, belief: Mapping[str, float], state: State, history: Mapping[str, Sequence[str]]
) -> Repetition | None:
    """The repetition that saves most before a verdict, or None where none pays.

    `belief` are odds by fault id after all answers (misreads counted), `history` the outcome ids
    that each test has told so far, in order, `state` the bench as it stands.
    Time: tests told x outcomes x remedies x faults.
    """
    readings = Readings.of(model)
    odds = np.array([belief.get(fault, 0.0) for fault in readings.faults])
    answers = tuple((test, outcome) for test, outcomes in history.items() for outcome in outcomes)
    tables: dict[str, Floats] = {}
    for test, outcomes in history.items():
        names = tuple(readings.outcomes[test].index(outcome) for outcome in outcomes)
        if 0 < len(names) < MOST_TAKES and readings.mistaken_for(test, names[-1]):
            tables[test] = readings.again(test, names)
    return best_repetition(model, odds, state, tables, answers=answers)


def best_repetition(
    model: Model,
    odds: Floats,
    state: State,
    tables: Mapping[str, Floats],
    afresh: float = math.inf,
    answers: Answers = (),
) -> Repetition | None:
    """As `worth_repeating`, where what each test would tell is known, faults x outcomes.

    `odds` and the rows of `tables` run over the model's faults; `answers` are those given so far,
    for what remedies require. `afresh` is what a job costs from its start: an answer that speaks
    against the remedy leaves no more than that to be paid, for one can always begin anew.
    """
    odds = odds / odds.sum()
    cost = _leaf_costs(model, answers)
    now = cost @ odds
    stands = int(now.argmin())
    best = None
    for test_id, table in tables.items():
        test = model.test(test_id)
        if not allows(model, state, test):
            continue
        took = test.minutes + minutes(model, state, reach(model, state, test))
        joint = odds[:, None] * table
        after = cost @ joint
        least, base_cost = after.min(axis=0), after[stands]
        mass = joint.sum(axis=0)
        against = base_cost > now[stands] * mass + NO_CHANGE
        anew = base_cost if math.isinf(afresh) else np.minimum(base_cost, afresh * mass)
        price = np.minimum(least, np.where(against, anew, base_cost))
        saves = float((base_cost - price).sum()) - took
        if saves >= WORTH_MINUTES and (best is None or saves > best.saves):
            best = Repetition(test_id, took, saves)
    return best


def _leaf_costs(model: Model, answers: Answers) -> Floats:
    """[remedies][faults] minutes of ending with the remedy where it is that fault.

    Remedies that must not be named before something is shown that was not are left out.
    """
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
