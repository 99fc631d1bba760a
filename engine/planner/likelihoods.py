"""The odds of a model's answers as arrays, made once for a model and read off at each replanning.

A walk plans from many beliefs over one model; what the rows say stays as it is.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from engine.model.records import Model, Test
from engine.planner.tables import Numbers

Rows = Mapping[str, Mapping[str, float]]
"""Of one test: the odds of each outcome, by fault."""


@dataclass(frozen=True, slots=True)
class _Table:
    """[outcomes][faults] of one test: its rows, the names behind both, faults with their column."""

    rows: Rows
    outcomes: tuple[str, ...]
    columns: Mapping[str, int]
    odds: Numbers


@dataclass(frozen=True, slots=True)
class _Tables:
    """The tables made so far of one likelihood."""

    likelihood: Mapping[str, Rows]
    by_test: dict[str, _Table] = field(default_factory=dict)


_LATEST: deque[_Tables] = deque(maxlen=4)
"""By identity: models that differ in remedies alone share their likelihood, those that differ in
some tests' rows the tables of all others."""


def answer_odds(model: Model, test: Test, faults: Iterable[str]) -> Numbers:
    """[outcomes][faults] the odds that each answer of a test is shown, in the order of `faults`.

    KeyError for a fault of which the test has no row.
    """
    tables = _tables(model)
    names = tuple(outcome.id for outcome in test.outcomes)
    table = tables.by_test.get(test.id)
    if table is None or table.outcomes != names:
        table = tables.by_test[test.id] = _table(names, model.likelihood[test.id])
    return np.take(table.odds, [table.columns[fault] for fault in faults], axis=1)


def _tables(model: Model) -> _Tables:
    for tables in tuple(_LATEST):
        if tables.likelihood is model.likelihood:
            return tables
    tables = _Tables(model.likelihood)
    for others in tuple(_LATEST):
        for name, table in tuple(others.by_test.items()):
            if model.likelihood.get(name) is table.rows:
                tables.by_test[name] = table
    _LATEST.append(tables)
    return tables


def _table(outcomes: tuple[str, ...], rows: Rows) -> _Table:
    number = {outcome: o for o, outcome in enumerate(outcomes)}
    table = np.zeros((len(outcomes), len(rows)))
    for k, row in enumerate(rows.values()):
        for outcome, share in row.items():
            if outcome in number:
                table[number[outcome], k] = share
    return _Table(rows, outcomes, {fault: k for k, fault in enumerate(rows)}, table)
