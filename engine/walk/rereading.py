"""Doing a test once more: what a second reading says, and which test is worth one.

Before a verdict is told, the walk asks itself whether doing one of its tests again, lest it was
misread, saves more than it takes: that is cheapest where one reading alone carries the verdict.
The rule is `engine.walk.repetition`'s, with what the readings themselves say of the faults. So is
the law that nothing is asked in vain: once, where it could change the remedy, and where something
can have been mistaken at all.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from engine.chart.confirm import WORTH_MINUTES
from engine.chart.traversal import in_order
from engine.evidence.joint import Reread, Take
from engine.model.absence import UNENERGISED
from engine.model.plan import Ask, Plan, Verdict
from engine.model.setup import allows, reach
from engine.readings import belief as beliefs
from engine.readings.confusion import Floats
from engine.walk import stakes
from engine.walk.doubts import in_question
from engine.walk.events import Answered, Known
from engine.walk.repetition import MOST_TAKES, Repetition, best_repetition
from engine.walk.state import Walk

NOTHING = 1e-9
"""Odds of a wrong verdict that are none."""


def factors(walk: Walk, event: Answered | Known) -> Mapping[str, float]:
    """What one more reading of a test says of each fault, the largest 1.

    Raises `engine.readings.belief.Surprise` where no fault can have told all of them.
    """
    take = Take(event.reading or "", event.evidence)
    testimony = walk.joint.testimony(walk.history, event.test, take)
    assert testimony is not None, "a test that was done before"
    return testimony.factors


def worth_rereading(walk: Walk, tests: frozenset[str] | None = None) -> Repetition | None:
    """The test to do once more before the verdict, None where none pays; `tests` to choose from."""
    names = dict.fromkeys(step.test for step in walk.steps if step.test and step.answer)
    tables: dict[str, Floats] = {}
    for test in names:
        is_offered = tests is None or test in tests
        if is_offered and allows(walk.model, walk.bench, walk.model.test(test)):
            takings = _takings(walk, test)
            if open_to_doubt(walk, test, takings):
                tables[test] = takings.next
    # Without another test to go on with, an answer that speaks against the remedy leads nowhere.
    others = any(test.id not in walk.done | walk.unavailable for test in walk.model.tests)
    afresh = walk.afresh if others else math.inf
    while tables:
        best = best_repetition(walk.model, _odds(walk), walk.bench, tables, afresh, walk.answers)
        if best is None or _leads_elsewhere(walk, best.test, tables[best.test]):
            return best
        del tables[best.test]
    return None


def _leads_elsewhere(walk: Walk, test: str, table: Floats) -> bool:
    """Whether after some answer the plan would ask or end otherwise than it does now: one plan for
    each answer until one does, the likeliest first."""
    now, model = _ahead(walk.plan, walk.node), walk.outlook
    joint = _odds(walk)[:, None] * table
    state = reach(model, walk.dead_bench if walk.unsettled else walk.bench, model.test(test))
    for column in np.argsort(-joint.sum(axis=0)):
        outcome, weights = model.test(test).outcomes[column].id, joint[:, column]
        if not weights.any():
            continue
        belief = {f.id: float(w) for f, w in zip(model.faults, weights, strict=True)}
        suspects = in_question(beliefs.weigh(belief, dict.fromkeys(belief, 1.0)))
        total = sum(belief[fault] for fault in suspects)
        plan = walk.planner(
            model, belief={f: w / total if f in suspects else 0.0 for f, w in belief.items()},
            state=state, withdrawn=walk.unavailable, tests_done=walk.done,
            answers=(*walk.answers, (test, outcome)),
        )  # fmt: skip
        if _ahead(plan, plan.root) != now:
            return True
    return False


def _ahead(plan: Plan, node: str) -> tuple[frozenset[str], frozenset[str]]:
    """The tests and the remedies that may still follow from a node on."""
    nodes = [plan.nodes[name] for name in in_order(plan, node)]
    return (
        frozenset(node.test for node in nodes if isinstance(node, Ask)),
        frozenset(node.remedy for node in nodes if isinstance(node, Verdict)),
    )


def worth_confirming(walk: Walk, tests: frozenset[str]) -> str | None:
    """The test of this very bench to do once more before the bench is changed; None: none pays.

    Later it would take a set-up more, or be out of reach. A misreading is reckoned to end in a
    wrong verdict, so long as one still hinges on it (`engine.walk.stakes`) and some answer would
    change what follows; found out now, it leaves a fresh job to be paid at most.
    """
    model, stake = walk.model, walk.model.wrong_verdict_minutes - walk.afresh
    odds = _odds(walk)
    candidates: list[tuple[float, str, Floats]] = []
    for name in sorted(tests):
        test = model.test(name)
        here = (test.supply, test.rig) == (walk.bench.supply, walk.bench.rig)
        here = here and set(test.opened) <= walk.bench.opened
        # A closed unit's test is past once anything was opened for another.
        if not here or not allows(model, walk.bench, test):
            continue
        takings = _takings(walk, name)
        if not open_to_doubt(walk, name, takings):
            continue
        misreadings = odds * takings.misread(len(takings.counts) - 1)
        saves = float(misreadings.sum()) * stake - test.minutes
        if saves >= WORTH_MINUTES and stakes.odds_lost(walk, misreadings) > NOTHING:
            candidates.append((saves, name, takings.next))
    candidates.sort(key=lambda one: -one[0])
    changing = (name for _, name, table in candidates if _leads_elsewhere(walk, name, table))
    return next(changing, None)


def open_to_doubt(walk: Walk, test: str, takings: Reread) -> bool:
    """Whether a reading can wobble: it was taken, not twice already, and another true outcome can
    have been told as it. What a closed unit did a moment ago before one's eyes can't: there is
    nothing to probe anew, and looking on is the same look."""
    before = len(takings.counts)
    if not 0 < before < MOST_TAKES or _just_watched(walk, test):
        return False
    return bool((takings.misread(before - 1) @ _odds(walk)) > 0.0)


def _just_watched(walk: Walk, name: str) -> bool:
    """Whether the last thing done was to watch the closed unit, powered, in this test."""
    test = walk.model.test(name)
    arrangement = walk.model.arrangement(test.supply)
    is_watch = arrangement.closed_only and not any(outcome.unit for outcome in test.outcomes)
    last = next((step.test for step in reversed(walk.steps) if step.answer), None)
    return is_watch and arrangement.energy != UNENERGISED and last == name


def _odds(walk: Walk) -> Floats:
    return np.array([walk.belief.get(fault.id, 0.0) for fault in walk.model.faults])


def slips(walk: Walk) -> dict[int, Mapping[str, float]]:
    """By step number (from 1), the odds under each fault that its answer was misread, for tests
    that were done more than once."""
    by_step: dict[int, Mapping[str, float]] = {}
    faults = [fault.id for fault in walk.model.faults]
    for test in {step.test for step in walk.steps if step.test and step.answer}:
        steps = [n for n, s in enumerate(walk.steps, start=1) if s.test == test and s.answer]
        if len(steps) < 2:
            continue
        takings = _takings(walk, test)
        for number, step in enumerate(steps):
            by_step[step] = dict(zip(faults, takings.misread(number).tolist(), strict=True))
    return by_step


def _takings(walk: Walk, test: str) -> Reread:
    """All readings of a test so far, after those of the others."""
    history = walk.history
    return walk.joint.reread(history, test, history.get(test, ()))
