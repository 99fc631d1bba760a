"""How fast the planner proves its plans, and how far from proved the others are.

    python -m tests.bench exact anytime shipped dropped

Exact planning of seeded random models and of the shipped topologies; anytime planning with 300
faults and 300 tests; what doing without a plan's first test costs. The random families are those
of `tests.models`, seeds 0, 1, 2 ...: `stage_chain` (stages in a row with side branches: half the
tests probe points, the rest swaps and part checks; seven tests in ten with openings, arrangements
or rigs of their own), `dense_random` (every test parts the faults at random), the latter with
set-ups or without.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator

from engine import library
from engine.model import Mains, Model
from engine.plan import Ask, Proof
from engine.planner import plan
from tests.models import dense_random, stage_chain

Family = Callable[[int, int, int], Model]


def chain(seed: int, faults: int, tests: int) -> Model:
    """A stage chain with set-ups."""
    return stage_chain(seed, faults, tests)


def dense(seed: int, faults: int, tests: int) -> Model:
    """A dense random model without set-ups."""
    return dense_random(seed, faults, tests)


def dense_set_up(seed: int, faults: int, tests: int) -> Model:
    """A dense random model with set-ups."""
    return dense_random(seed, faults, tests, set_ups=0.7)


def timed(model: Model, seconds: float) -> tuple[float, Proof]:
    """Wall seconds of planning, reduction included, and the proof."""
    began = time.perf_counter()
    proof = plan(model, seconds=seconds).proof
    return time.perf_counter() - began, proof


def exact_line(family: Family, faults: int, tests: int, models: int, limit: float) -> str:
    """Median and worst seconds to the proof."""
    runs = [timed(family(seed, faults, tests), limit) for seed in range(models)]
    spent = [seconds for seconds, _ in runs]
    proved = sum(proof.proved_optimal for _, proof in runs)
    return (
        f"  {family.__name__:13s} {faults:3d} x {tests:3d}"
        f"  median {statistics.median(spent):7.3f} s  worst {max(spent):7.3f} s"
        f"  proved {proved} of {models}"
    )


def anytime_line(seed: int, seconds: float) -> str:
    """Cost and bound when time runs out on 300 faults and 300 tests."""
    spent, proof = timed(chain(seed, 300, 300), seconds)
    gap = 1 - proof.lower_bound / proof.expected_cost
    return (
        f"  chain 300 x 300 seed {seed}: {spent:.1f} s  cost {proof.expected_cost:.2f}"
        f"  bound {proof.lower_bound:.2f}  gap {gap:.1%}"
    )


def shipped_lines(limit: float) -> Iterator[str]:
    """Seconds and gap on the shipped topologies."""
    for topology in (note.id for note in library.topologies()):
        for depth in ("stage", "part"):
            model = library.model(topology, mains=Mains(230.0, 50.0), depth=depth)
            spent, proof = timed(model, limit)
            gap = 1 - proof.lower_bound / proof.expected_cost
            yield (
                f"  {topology} {depth}: {spent:.2f} s  gap {gap:.1%}  {proof.fault_classes} classes"
                f"  {proof.tests_left} tests  {proof.nodes_expanded} expanded"
            )


def dropped_line(models: int) -> str:
    """What it costs to do without the first test of a plan: never less than with it."""
    extra = []
    for seed in range(models):
        model = chain(seed, 30, 40)
        made = plan(model)
        root = made.nodes[made.root]
        if isinstance(root, Ask):
            without = plan(model, withdrawn=frozenset({root.test})).proof.expected_cost
            extra.append(without - made.proof.expected_cost)
    return (
        f"  chain 30 x 40 without its first test: mean {statistics.mean(extra):+.2f} minutes"
        f"  least {min(extra):+.2f}  most {max(extra):+.2f}"
    )
