"""How long one posterior update takes, beside exact inference by pgmpy on the same model.

    python -m tests.bench belief

150 faults, two-outcome tests with misreads, seeded. Ours is one `revise` (multiply, sum, divide) on
prepared tables; pgmpy is one variable-elimination query for the same evidence.
"""

from __future__ import annotations

import statistics
import timeit
from collections.abc import Iterator

import numpy as np
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

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
