"""Which other tests could come next and what they cost on top, and what a can't-do-that costs."""

from __future__ import annotations

from engine import planner
from engine.model import setup
from engine.model.records import Test
from engine.readings import belief as beliefs
from engine.walk.explain import RunnerUp
from engine.walk.job import Due, Walk, due, suspicion

# How many tests are weighed where the ranking has no time.
_WEIGHED = 3
# An outcome this unlikely changes the sum by less than the half minute that is shown.
_NEGLIGIBLE = 1e-3


def runners_up(walk: Walk, seconds: float, most: int = 2) -> tuple[RunnerUp, ...]:
    """The best tests beside the one that is due, cheapest first; none once the verdict is reached.

    Each is priced by the best plan that begins with it. Where the planner can't rank them within
    `seconds`, the tests that tell most per minute are priced by the plans the walk itself makes:
    good ones then, not proved the best.
    """
    target = due(walk)
    if target is None:
        return ()
    rivals = planner.runners_up(
        walk.outlook,
        belief=suspicion(walk),
        state=walk.dead_bench if walk.unsettled else walk.bench,
        withdrawn=walk.unavailable,
        tests_done=walk.done,
        answers=walk.answers,
        many=most + 1,
        seconds=seconds,
    )
    costs = {other.test: other.expected_cost for other in rivals}
    # A test that must come first for safety may not be among the cheapest.
    own = costs.get(target.test, min(costs.values(), default=0.0))
    others = [
        RunnerUp(test, max(0.0, cost - own)) for test, cost in costs.items() if test != target.test
    ]
    if not others:
        others = _weighed_out(walk, target)
    return tuple(others[:most])


def _weighed_out(walk: Walk, target: Due) -> list[RunnerUp]:
    own = _cost_of_first(walk, walk.model.test(target.test))
    others = [
        RunnerUp(test.id, max(0.0, _cost_of_first(walk, test) - own))
        for test in _telling(walk, target.test)
    ]
    return sorted(others, key=lambda other: other.extra_minutes)


def _telling(walk: Walk, target: str) -> list[Test]:
    """The few tests that tell most bits per minute from this bench."""
    tables = beliefs.prepare(walk.model)
    weights = beliefs.as_weights(tables, suspicion(walk))
    ratings = []
    for test in walk.model.tests:
        is_barred = test.id == target or test.id in walk.done or test.id in walk.unavailable
        if is_barred or not setup.allows(walk.model, walk.bench, test):
            continue
        bits = beliefs.information(tables, weights, test.id)
        if bits > 1e-9:
            ratings.append((bits / max(_minutes(walk, test), 1e-9), test))
    ratings.sort(key=lambda pair: -pair[0])
    return [test for _, test in ratings[:_WEIGHED]]


def _minutes(walk: Walk, test: Test) -> float:
    there = setup.reach(walk.model, walk.bench, test)
    return test.minutes + setup.minutes(walk.model, walk.bench, there)


def _cost_of_first(walk: Walk, test: Test) -> float:
    """Expected cost of doing this test next and then as planned, in minutes."""
    there = setup.reach(walk.model, walk.bench, test)
    total, now = _minutes(walk, test), suspicion(walk)
    for outcome in test.outcomes:
        joint = {f: p * walk.outlook.row(test.id, f).get(outcome.id, 0.0) for f, p in now.items()}
        odds = sum(joint.values())
        if odds <= _NEGLIGIBLE:
            continue
        rest = walk.planner(
            walk.outlook,
            belief={fault: p / odds for fault, p in joint.items()},
            state=there,
            withdrawn=walk.unavailable,
            tests_done=walk.done | {test.id},
            answers=(*walk.answers, (test.id, outcome.id)),
        )
        total += odds * rest.proof.expected_cost
    return total


def cost_of_cannot(walk: Walk, seconds: float) -> float | None:
    """Expected minutes that a can't-do-that to the test that is due adds; None at the verdict."""
    target = due(walk)
    if target is None:
        return None
    return planner.cost_without(
        walk.outlook,
        target.test,
        belief=suspicion(walk),
        state=walk.dead_bench if walk.unsettled else walk.bench,
        withdrawn=walk.unavailable,
        tests_done=walk.done,
        answers=walk.answers,
        seconds=seconds,
    )
