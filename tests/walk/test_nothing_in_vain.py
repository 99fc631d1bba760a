"""Is a check done again only where an answer could change what follows, once, and where a reading
can have been another?

Random walks over random and shipped models, their answers misread by the models' own misreads.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from engine import library
from engine.chart.traversal import in_order
from engine.model.plan import Ask, Verdict
from engine.model.records import Mains, Model
from engine.readings.confusion import Readings
from engine.walk import job
from engine.walk.events import Answered
from engine.walk.job import Outset, Question, Setting, Walk
from tests.models import dense_random, stage_chain
from tests.planned import Remembering
from tests.safety.shop_models import mistaken

Family = Callable[[int, int, int], Model]
PLANNER = Remembering(0.0)


def walked(model: Model, seed: int) -> Iterator[Walk]:
    """A random walk, as it stood before each of its answers."""
    readings, chance = Readings.of(model), np.random.default_rng(seed)
    fault = int(chance.choice(len(readings.prior), p=readings.prior / readings.prior.sum()))
    truth: dict[str, int] = {}
    walk = job.begin(Outset(model), PLANNER)
    while (step := job.pending(walk)) is not None:
        if isinstance(step, Setting):
            walk = job.take(walk, step.event)
            continue
        assert isinstance(step, Question)
        yield walk
        row = readings.true[step.test][fault]
        true = truth.setdefault(step.test, int(chance.choice(len(row), p=row / row.sum())))
        odds = readings.confusions[step.test][true]
        told = int(chance.choice(len(odds), p=odds / odds.sum()))
        walk = job.take(walk, Answered(step.test, readings.outcomes[step.test][told]))
    yield walk


def ahead(walk: Walk) -> tuple[frozenset[str], frozenset[str]]:
    """The tests and remedies that may still follow, without what is to be done again now."""
    nodes = [walk.plan.nodes[name] for name in in_order(walk.plan, walk.node)]
    return (
        frozenset(node.test for node in nodes if isinstance(node, Ask)),
        frozenset(node.remedy for node in nodes if isinstance(node, Verdict)),
    )


def after_each_answer(walk: Walk, test: str) -> Iterator[Walk]:
    """The walk after each answer that it may hear."""
    readings = Readings.of(walk.model)
    odds = np.array([walk.belief[fault] for fault in readings.faults])
    for at, outcome in enumerate(readings.outcomes[test]):
        if (odds @ readings.true[test] @ readings.confusions[test])[at] > 0:
            yield job.take(walk, Answered(test, outcome))


def held_to_the_law(model: Model, seed: int) -> int:
    """Walk once and hold each check done again to the law; how many there were."""
    readings, found = Readings.of(model), 0
    for walk in walked(model, seed):
        times = Counter(step.test for step in walk.steps if step.answer)
        assert not times or max(times.values()) <= 2
        step = job.pending(walk)
        if not isinstance(step, Question) or walk.again != step.test:
            continue
        found += 1
        told = next(s.answer for s in reversed(walk.steps) if s.test == step.test)
        assert told is not None
        column = readings.outcomes[step.test].index(told)
        assert readings.mistaken_for(step.test, column), f"{step.test} can't have been another"
        assert any(ahead(after) != ahead(walk) for after in after_each_answer(walk, step.test))
    return found


@pytest.mark.parametrize("rate", [0.03, 0.1, 0.2])
@pytest.mark.parametrize("family", [stage_chain, dense_random])
def test_nothing_is_asked_in_vain_of_random_models(family: Family, rate: float) -> None:
    for seed in range(4):
        model = mistaken(family(seed, 8, 10), rate)
        assert sum(held_to_the_law(model, draw) for draw in range(3)) < 3 * len(model.tests)


@pytest.mark.parametrize("topology", ["buck-lamp", "light-controlled-lamp"])
@pytest.mark.parametrize("depth", ["stage", "part"])
def test_nothing_is_asked_in_vain_of_shipped_units(topology: str, depth: str) -> None:
    """Some of these eight walks do something again, or the law would hold of nothing; not three
    checks a walk."""
    model = library.model(topology, mains=Mains(230.0, 50.0), depth=depth)
    assert 0 < sum(held_to_the_law(model, seed) for seed in range(8)) < 24
