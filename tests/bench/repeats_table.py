"""What walks spend on doing tests again, and what that is good for.

    python -m tests.bench repeats

For each shipped unit at 230 V, part depth: a walk for each fault and seed, answers drawn by the
model's rows and misread by its misreads, each reading anew. Told: minutes to the verdict, those of
them spent on tests done again with their set-ups, how many were done again, how many a third time,
and the share of right verdicts, each fault counted by its prior.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from engine import library
from engine.model.records import Mains, Model
from engine.planner import plan
from engine.readings.confusion import Readings
from engine.walk import job
from engine.walk.ending import conclude
from engine.walk.events import Answered
from engine.walk.job import Outset, Setting, Walk
from tests.bench.virtual_bench import Remembering


@dataclass(frozen=True, slots=True)
class Repeats:
    """One walk: minutes to its verdict and on tests done again, how often each was done, right."""

    prior: float
    minutes: float
    again_minutes: float
    takes: tuple[int, ...]
    right: bool


def walked(begun: Walk, readings: Readings, fault: int, seed: int) -> Repeats:
    """The walk of one drawn unit and person, by the model's own odds."""
    chance = np.random.default_rng((fault, seed))
    truth: dict[str, int] = {}
    walk, spent, done = begun, 0.0, Counter[str]()
    while (step := job.pending(walk)) is not None:
        again = walk.again is not None
        before = walk.minutes
        if isinstance(step, Setting):
            walk = job.take(walk, step.event)
        else:
            assert isinstance(step, job.Question)
            truth.setdefault(step.test, _drawn(chance, readings.true[step.test][fault]))
            told = _drawn(chance, readings.confusions[step.test][truth[step.test]])
            done[step.test] += 1
            walk = job.take(walk, Answered(step.test, readings.outcomes[step.test][told]))
        spent += (walk.minutes - before) * again
    name = readings.faults[fault]
    right = name in conclude(walk).remedy.cures
    prior = readings.model.fault(name).prior
    return Repeats(prior, walk.minutes, spent, tuple(done.values()), right)


def _drawn(chance: np.random.Generator, odds: np.ndarray) -> int:
    return int(chance.choice(len(odds), p=odds / odds.sum()))


def tried(model: Model, seeds: int) -> tuple[Repeats, ...]:
    """Walks for every fault of a model."""
    readings = Readings.of(model)
    begun = job.begin(Outset(model), Remembering(partial(plan, seconds=2.0)))
    return tuple(
        walked(begun, readings, fault, seed)
        for fault in range(len(readings.faults))
        for seed in range(seeds)
    )


def line(name: str, found: tuple[Repeats, ...]) -> str:
    """The walks of a model as a line of the table."""
    whole = sum(one.prior for one in found)

    def mean(value: str) -> float:
        return float(sum(one.prior * float(getattr(one, value)) for one in found)) / whole

    again = sum(one.prior * sum(t > 1 for t in one.takes) for one in found) / whole
    third = sum(t > 2 for one in found for t in one.takes)
    share = mean("again_minutes") / mean("minutes")
    return (
        f"  {name:24s} {mean('minutes'):5.1f} min, {mean('again_minutes'):4.2f} ({share:.0%}) on "
        f"tests done again ({again:.2f} a walk, {third} a third time), right {mean('right'):.1%}"
    )


def lines(seeds: int) -> Iterator[str]:
    """A line for each shipped unit."""
    for topology in library.topologies():
        model = library.model(topology.id, mains=Mains(230.0, 50.0))
        yield line(topology.id, tried(model, seeds))
