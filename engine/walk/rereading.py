"""Doing a test once more: what a second reading says, and which test is worth one.

Before a verdict is told, the walk asks itself whether doing one of its tests again, lest it was
misread, saves more than it takes: that is cheapest where one reading alone carries the verdict.
The rule is `engine.trials.repetition`'s, with what the readings themselves say of the faults.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from engine import belief as beliefs
from engine.evidence.rereading import Reread, Take, reread
from engine.setup import allows
from engine.trials.confirm import WORTH_MINUTES
from engine.trials.readings import Floats
from engine.trials.repetition import Repetition, best_repetition
from engine.walk.events import Answered, Known
from engine.walk.state import Step, Walk

MOST_TAKES = 3
"""A test is done three times at most: then what came twice counts."""


def takes(walk: Walk, test: str) -> tuple[Take, ...]:
    """The readings of a test so far, in order."""
    return tuple(_take(step) for step in walk.steps if step.test == test and step.answer)


def factors(walk: Walk, event: Answered | Known) -> Mapping[str, float]:
    """What one more reading of a test says of each fault, the largest 1.

    Raises `engine.belief.Surprise` where no fault can have told all of them.
    """
    before = takes(walk, event.test)
    told = (*before, Take(event.reading or "", event.evidence))
    old, new = _weighed(walk, event.test, before).weights, _weighed(walk, event.test, told).weights
    ratio = np.divide(new, old, out=np.zeros_like(new), where=old > 0.0)
    most = float(ratio.max())
    if not most > 0.0:
        raise beliefs.Surprise(event.test, event.outcome)
    faults = (fault.id for fault in walk.model.faults)
    return dict(zip(faults, (ratio / most).tolist(), strict=True))


def worth_rereading(walk: Walk, tests: frozenset[str] | None = None) -> Repetition | None:
    """The test to do once more before the verdict, None where none pays; `tests` to choose from."""
    told = {step.test: None for step in walk.steps if step.test and step.answer}
    heard: dict[str, Floats] = {}
    for test in told:
        before = takes(walk, test)
        offered = tests is None or test in tests
        if not offered or not allows(walk.model, walk.bench, walk.model.test(test)):
            continue
        if len(before) < MOST_TAKES:
            heard[test] = _weighed(walk, test, before).next
    odds = np.array([walk.belief.get(fault.id, 0.0) for fault in walk.model.faults])
    return best_repetition(walk.model, odds, walk.bench, heard, walk.afresh, walk.answers)


def worth_confirming(walk: Walk, tests: frozenset[str]) -> str | None:
    """The test of this very bench to do once more before the bench is changed; None: none pays.

    Later it would take a set-up more, or be out of reach. A misreading that is not found out is
    reckoned to end in a wrong verdict; found out now, it leaves a fresh job to be paid at most.
    """
    model, stake = walk.model, walk.model.wrong_verdict_minutes - walk.afresh
    odds = np.array([walk.belief.get(fault.id, 0.0) for fault in model.faults])
    best: tuple[float, str] | None = None
    for name in sorted(tests):
        test, before = model.test(name), takes(walk, name)
        here = (test.supply, test.rig) == (walk.bench.supply, walk.bench.rig)
        here = here and set(test.opened) <= walk.bench.opened
        # A closed unit's test is past once anything was opened for another.
        here = here and allows(model, walk.bench, test)
        if not here or not before or len(before) >= MOST_TAKES:
            continue
        slip = float(odds @ _weighed(walk, name, before).misread(len(before) - 1))
        saves = slip * stake - test.minutes
        if saves >= WORTH_MINUTES and (best is None or saves > best[0]):
            best = saves, name
    return None if best is None else best[1]


def slips(walk: Walk) -> dict[int, Mapping[str, float]]:
    """By step number (from 1), the odds under each fault that its answer was misread, for tests
    that were done more than once."""
    found: dict[int, Mapping[str, float]] = {}
    faults = [fault.id for fault in walk.model.faults]
    for test in {step.test for step in walk.steps if step.test and step.answer}:
        steps = [n for n, s in enumerate(walk.steps, start=1) if s.test == test and s.answer]
        if len(steps) < 2:
            continue
        weighed = _weighed(walk, test, takes(walk, test))
        for number, step in enumerate(steps):
            found[step] = dict(zip(faults, weighed.misread(number).tolist(), strict=True))
    return found


def _weighed(walk: Walk, test: str, told: tuple[Take, ...]) -> Reread:
    return reread(walk.model, walk.outset.witness, walk.model.test(test), told)


def _take(step: Step) -> Take:
    return Take(step.reading or "", step.shares or ((str(step.answer), 1.0),))
