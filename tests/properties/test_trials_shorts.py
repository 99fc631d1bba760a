"""Does any way of working feed a short, when readings are mistaken?

The chart with its confirm steps, the walk that plans anew and the fixed orders of the contest work
on simulated units that keep a log. What counts of a test is its last reading: a chart has a test
repeated where no fault in question shows what was read.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import pytest

from engine.model.plan import Ask, Plan
from engine.model.records import Model
from engine.model.setup import start
from engine.planner import plan
from engine.readings.belief import prepare
from engine.readings.confusion import Readings
from engine.studies.contest import ORDERS, HinderedUnit, Walking
from engine.studies.trial import confirms
from engine.studies.trial.simulation import ChartWay, ReplanningWay
from tests.models import cold_and_live, dense_random, stage_chain, with_shorts
from tests.safety.shop_models import mistaken

SEEDS = range(12)


def drawn(seed: int) -> Model:
    family = stage_chain if seed % 2 else dense_random
    model = cold_and_live(family(seed, faults=8, tests=12, wrong_verdict_minutes=400.0), seed)
    return mistaken(with_shorts(model, seed), 0.08)


@dataclass(slots=True)
class Logged(HinderedUnit):
    """A unit that keeps what was read, in order."""

    log: list[tuple[str, int]] = field(default_factory=list)

    def read(self, test: str, opened: frozenset[str] = frozenset()) -> int:
        told = HinderedUnit.read(self, test, opened)
        self.log.append((test, told))
        return told


def fed(model: Model, log: list[tuple[str, int]]) -> list[str]:
    """Live tests done while the last reading of some test was a short."""
    shorts: dict[str, bool] = {}
    found = []
    for test, told in log:
        energy = model.arrangement(model.test(test).supply).energy
        if energy in ("mains", "hvdc") and any(shorts.values()):
            found.append(test)
        shorts[test] = model.test(test).outcomes[told].short
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_no_way_of_working_feeds_a_short(seed: int) -> None:
    model = drawn(seed)
    tables, planned, readings = prepare(model), plan(model), Readings.of(model)
    steps = {(c.ask, c.outcome): c for c in confirms(model, planned).confirms}
    ways = [
        ChartWay(planned, {}),
        ChartWay(planned, steps),
        ReplanningWay(model, plan, tables),
        Walking(model, tables, planned, 1.0),
        *(make(model, tables) for _, make in ORDERS.values()),
    ]
    chance = np.random.default_rng(seed)
    done = 0
    for way in ways:
        for fault in range(len(readings.faults)):
            unit = Logged(readings, fault, chance, start(model), skips=0.1)
            way(unit)
            assert fed(model, unit.log) == []
            done += len(unit.log)
    assert done


def ways_to(
    model: Model, made: Plan, ask: str, at: str, shorted: bool = False
) -> Iterator[bool]:
    """For every way from `at` to the ask, whether a short was told on it before."""
    if at == ask:
        yield shorted
        return
    node = made.nodes[at]
    if isinstance(node, Ask):
        for outcome, child in node.branches.items():
            short = model.test(node.test).outcome(outcome).short
            yield from ways_to(model, made, ask, child, shorted or short)


def live_ahead(model: Model, made: Plan, at: str) -> bool:
    node = made.nodes[at]
    if not isinstance(node, Ask):
        return False
    live = model.arrangement(model.test(node.test).supply).energy in ("mains", "hvdc")
    return live or any(live_ahead(model, made, child) for child in node.branches.values())


def test_no_confirm_step_leads_from_a_short_back_to_life() -> None:
    """Nor may the other answer of an innocent test, told later, forget the short told between."""
    held_back = 0
    for seed in range(30):
        model = drawn(seed)
        made = plan(model)
        for step in confirms(model, made).confirms:
            node = made.nodes[step.ask]
            assert isinstance(node, Ask)
            short = model.test(node.test).outcome(step.outcome).short
            if any(short or before for before in ways_to(model, made, step.ask, made.root)):
                held_back += 1
                assert not live_ahead(model, made, step.back)
    assert held_back
