"""How fast the planner proves its plans, and how far from proved the others are.

    python -m tests.bench exact anytime shipped dropped

CPU seconds are the planner's own; wall seconds are those of the machine, others' work included.

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
from dataclasses import dataclass

from engine import library
from engine.model.plan import Ask, Proof
from engine.model.records import Mains, Model
from engine.planner import plan
from tests.models import dense_random, stage_chain

Family = Callable[[int, int, int], Model]

OPTIMA = (29.494, 28.912, 30.047, 31.897, 30.408)
"""Cost of the best plan of `chain` 300 x 300, by seed: proved by runs without a time limit."""


@dataclass(frozen=True, slots=True)
class Run:
    """One planning, reduction included: CPU and wall seconds, and what came of it."""

    cpu_seconds: float
    wall_seconds: float
    proof: Proof


def chain(seed: int, faults: int, tests: int) -> Model:
    """A stage chain with set-ups."""
    return stage_chain(seed, faults, tests)


def dense(seed: int, faults: int, tests: int) -> Model:
    """A dense random model without set-ups."""
    return dense_random(seed, faults, tests)


def dense_set_up(seed: int, faults: int, tests: int) -> Model:
    """A dense random model with set-ups."""
    return dense_random(seed, faults, tests, set_ups=0.7)


def timed(model: Model, seconds: float) -> Run:
    """Plan within so many wall seconds."""
    wall, cpu = time.perf_counter(), time.process_time()
    proof = plan(model, seconds=seconds).proof
    return Run(time.process_time() - cpu, time.perf_counter() - wall, proof)


def middle_and_worst(seconds: list[float]) -> str:
    """Median and worst, as the tables show them."""
    return f"median {statistics.median(seconds):6.3f} worst {max(seconds):6.3f}"


def exact_line(family: Family, faults: int, tests: int, models: int, limit: float) -> str:
    """Median and worst seconds to the proof."""
    runs = [timed(family(seed, faults, tests), limit) for seed in range(models)]
    proved = sum(run.proof.proved_optimal for run in runs)
    return (
        f"  {family.__name__:13s} {faults:3d} x {tests:3d}"
        f"  CPU s {middle_and_worst([run.cpu_seconds for run in runs])}"
        f"  wall s {middle_and_worst([run.wall_seconds for run in runs])}"
        f"  proved {proved} of {models}"
    )


def anytime_line(seed: int, seconds: float) -> str:
    """Cost and bound when time runs out on 300 faults and 300 tests; how good the plan is."""
    run = timed(chain(seed, 300, 300), seconds)
    cost, bound = run.proof.expected_cost, run.proof.lower_bound
    return (
        f"  chain 300 x 300 seed {seed}:"
        f"  CPU {run.cpu_seconds:4.1f} s  wall {run.wall_seconds:4.1f} s"
        f"  cost {cost:.3f}, {max(0.0, cost / OPTIMA[seed] - 1):.2%} above the optimum"
        f"  bound {bound:.3f}, {1 - bound / cost:.1%} below the cost"
    )


def shipped_lines(limit: float) -> Iterator[str]:
    """Seconds and gap on the shipped topologies."""
    for topology in (note.id for note in library.topologies()):
        for depth in ("stage", "part"):
            model = library.model(topology, mains=Mains(230.0, 50.0), depth=depth)
            run = timed(model, limit)
            proof = run.proof
            gap = 1 - proof.lower_bound / proof.expected_cost
            yield (
                f"  {topology} {depth}: CPU {run.cpu_seconds:.2f} s  wall {run.wall_seconds:.2f} s"
                f"  gap {gap:.1%}  {proof.fault_classes} classes"
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
