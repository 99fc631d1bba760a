"""Which other tests could have come next, and what they would cost on top.

A test put first costs its own minutes and setups and, for each outcome, the plan of the rest. The
runner-up's extra minutes are that sum less the same sum for the test that is asked. Only the tests
that tell most per minute are weighed out, by expected information (bits) over bench minutes; so a
runner-up is the best of these few, not proved the second best of all.
"""

from __future__ import annotations

from engine import belief as beliefs
from engine import setup
from engine.explain import RunnerUp
from engine.model import Test
from engine.walk.job import Walk, due, suspicion

_WEIGHED = 3
# An outcome this unlikely changes the sum by less than the half minute that is shown.
_NEGLIGIBLE = 1e-3


def runners_up(walk: Walk, most: int = 2) -> tuple[RunnerUp, ...]:
    """The best tests beside the pending one, cheapest first; none once the verdict is reached.

    Plans the rest once per outcome of each test weighed: a dozen plans or so.
    """
    node = due(walk)
    if node is None:
        return ()
    asked = _cost_of_first(walk, walk.model.test(node.test))
    weighed = [
        RunnerUp(test.id, max(0.0, _cost_of_first(walk, test) - asked))
        for test in _telling(walk, node.test)
    ]
    return tuple(sorted(weighed, key=lambda other: other.extra_minutes)[:most])


def _telling(walk: Walk, asked: str) -> list[Test]:
    """The few tests that tell most per minute, from this bench; no test that tells nothing."""
    tables = beliefs.prepare(walk.model)
    weights = beliefs.as_weights(tables, suspicion(walk))
    rated = []
    for test in walk.model.tests:
        barred = test.id == asked or test.id in walk.done or test.id in walk.withdrawn
        if barred or not setup.allows(walk.model, walk.bench, test):
            continue
        bits = beliefs.information(tables, weights, test.id)
        if bits > 1e-9:
            rated.append((bits / max(_minutes(walk, test), 1e-9), test))
    rated.sort(key=lambda pair: -pair[0])
    return [test for _, test in rated[:_WEIGHED]]


def _minutes(walk: Walk, test: Test) -> float:
    there = setup.reach(walk.model, walk.bench, test)
    return test.minutes + setup.minutes(walk.model, walk.bench, there)


def _cost_of_first(walk: Walk, test: Test) -> float:
    """Expected cost of doing this test next and then as planned, in minutes."""
    there = setup.reach(walk.model, walk.bench, test)
    total, now = _minutes(walk, test), suspicion(walk)
    for outcome in test.outcomes:
        joint = {f: p * walk.model.row(test.id, f).get(outcome.id, 0.0) for f, p in now.items()}
        odds = sum(joint.values())
        if odds <= _NEGLIGIBLE:
            continue
        rest = walk.planner(
            walk.model,
            belief={fault: p / odds for fault, p in joint.items()},
            state=there,
            withdrawn=walk.withdrawn,
            tests_done=walk.done | {test.id},
        )
        total += odds * rest.proof.expected_cost
    return total
