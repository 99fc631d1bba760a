"""How long one posterior update takes, beside exact inference by pgmpy on the same model.

    python -m tests.bench belief

150 faults, two-outcome tests with misreads, seeded. Ours is one `revise` (multiply, sum, divide) on
prepared tables; pgmpy is one variable-elimination query for the same evidence. Beside it what one
number costs that is weighed over fault and design together (`engine.evidence.joint`): milliseconds
of CPU for one answer after eight others, on the shipped lamps.
"""

from __future__ import annotations

import statistics
import time
import timeit
from collections.abc import Iterator

import numpy as np
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from engine import library
from engine.evidence import Joint, Take, load_witness
from engine.model.records import Mains
from engine.readings.belief import Tables, prepare, revise
from tests.models import stage_chain
from tests.safety.shop_models import mistaken

FAULTS = 150


def microseconds(job: object, *, number: int) -> float:
    """Median over seven rounds of the microseconds of one call."""
    rounds = timeit.repeat(job, number=number, repeat=7)  # type: ignore[arg-type]
    return statistics.median(rounds) / number * 1e6


def one_query(tables: Tables, test: str) -> VariableElimination:
    """The exact inference of the general library for one test."""
    network = DiscreteBayesianNetwork([("fault", "told")])
    rows = np.array(list(tables.likelihoods[test].values()))
    network.add_cpds(
        TabularCPD("fault", FAULTS, tables.prior.reshape(-1, 1)),
        TabularCPD("told", len(rows), rows, ["fault"], [FAULTS]),
    )
    return VariableElimination(network)


def lines() -> Iterator[str]:
    """Microseconds of both, and how far apart their answers are."""
    model = mistaken(stage_chain(1, FAULTS, 20, splits=0.2), 0.03)
    tables = prepare(model)
    test, told = model.tests[0].id, next(iter(tables.likelihoods[model.tests[0].id]))
    exact = one_query(tables, test)
    answer = exact.query(["fault"], {"told": 0}, show_progress=False).values
    apart = float(np.abs(answer - revise(tables, tables.prior, test, told)).max())
    ours = microseconds(lambda: revise(tables, tables.prior, test, told), number=5000)
    theirs = microseconds(
        lambda: exact.query(["fault"], {"told": 0}, show_progress=False), number=20
    )
    yield f"  ours                      {ours:8.1f} microseconds"
    yield f"  pgmpy, exact inference    {theirs:8.1f} microseconds, {theirs / ours:.0f} times ours"
    yield f"  greatest difference       {apart:.1e}"
    for lamp in ("light-controlled-lamp", "buck-lamp"):
        spent = sorted(answers_of(lamp))
        middle, last = spent[len(spent) // 2], spent[int(len(spent) * 0.99)]
        yield f"  fault and design, {lamp:22} median {middle:.2f} ms, 99 % {last:.2f} ms"


def answers_of(lamp: str) -> Iterator[float]:
    """Milliseconds of CPU for each of many numbers, after eight tests were read."""
    model = library.model(lamp, mains=Mains(230.0, 50.0))
    joint = Joint(load_witness(model))
    tests = [test for test in model.tests if joint.table(test).kernels is not None]
    history: dict[str, tuple[Take, ...]] = {}
    for number, test in enumerate(tests):
        first = next(outcome for outcome in test.outcomes if outcome.high)
        for share in (0.4, 0.7, 1.0, 1.3, 1.6):
            take = Take(f"{first.high * share:.3g} {first.unit}", ((first.id, 1.0),))
            began = time.process_time_ns()
            joint.testimony(history, test.id, take)
            spent = (time.process_time_ns() - began) / 1e6
            if number >= 8:
                yield spent
        if number < 8:
            history[test.id] = (take,)
            joint.designs(history)
