"""The fractions of the standards for one model, with its ambiguity groups in words."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from engine.model.records import Model
from engine.studies.testability.groups import Apart, Signatures, ambiguity, signatures, sizes

SIZES = (1, 2, 3)
"""Group sizes k that FFI(k) is told for: those of MIL-STD-2165 (formulas from memory)."""
_MENDS = frozenset({"repair", "outside"})


@dataclass(frozen=True, slots=True)
class Fractions:
    """Fractions under one meaning of parted; `isolated[k]` is FFI(k).

    `mean_group` is the mean size of the group that a detected fault lies in.
    """

    detected: float
    isolated: dict[int, float]
    mean_group: float


@dataclass(frozen=True, slots=True)
class Group:
    """Faults that no test parts. `react` are (test, outcome) that tell them from a sound unit,
    `rate` their share of what can be wrong, `together` the repairs that cure all of them.
    """

    faults: tuple[str, ...]
    rate: float
    react: tuple[tuple[str, str], ...]
    together: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """Two faults that the tests part, but not surely: taken for each other at most this often."""

    first: str
    second: str
    rate: float
    errors: float


@dataclass(frozen=True, slots=True)
class Coverage:
    """What the tests of a model can see.

    `by_rate` and `by_count` hold the fractions for each meaning of parted, weighted by the odds of
    the faults, and with all faults alike. `unseen` are the faults that no test notices.
    """

    faults: int
    tests: int
    by_rate: dict[Apart, Fractions]
    by_count: dict[Apart, Fractions]
    unseen: tuple[str, ...]
    groups: tuple[Group, ...]
    close: tuple[Pair, ...]
    one_remedy: float


def coverage(model: Model, without: Collection[str] = ()) -> Coverage:
    """The figures of a model, tests `without` left out. O(tests x faults^2)."""
    table = signatures(model, without)
    indices = table.counted_faults()
    ambiguous = tuple(g for g in ambiguity(table) if len({table.kinds[at] for at in g}) > 1)
    detectable = set(table.detectable(Apart.AT_ALL))
    groups = tuple(_group(model, table, group, without) for group in ambiguous)
    return Coverage(
        faults=len(indices),
        tests=sum(test.id not in without for test in model.tests),
        by_rate={how: _fractions(table, how, dict(enumerate(table.rate))) for how in Apart},
        by_count={how: _fractions(table, how, dict.fromkeys(indices, 1.0)) for how in Apart},
        unseen=tuple(table.faults[at] for at in indices if at not in detectable),
        groups=groups,
        close=_close(table),
        one_remedy=1.0 - sum(group.rate for group in groups if not group.together),
    )


def _fractions(table: Signatures, how: Apart, weight: dict[int, float]) -> Fractions:
    indices = table.counted_faults()
    group = sizes(table, how)
    everything = float(sum(weight[at] for at in indices))
    share = float(sum(weight[at] for at in group))
    if not share:
        return Fractions(0.0, dict.fromkeys(SIZES, 0.0), 0.0)
    return Fractions(
        share / everything,
        {k: sum(float(weight[at]) for at, n in group.items() if n <= k) / share for k in SIZES},
        sum(float(weight[at]) * n for at, n in group.items()) / share,
    )


def _group(
    model: Model, table: Signatures, group: tuple[int, ...], without: Collection[str]
) -> Group:
    faults = tuple(table.faults[at] for at in group)
    together = tuple(
        r.id for r in model.remedies if r.kind in _MENDS and set(faults) <= set(r.cures)
    )
    return Group(
        faults,
        float(table.rate[list(group)].sum()),
        _react(model, table, faults[0], without),
        together,
    )


def _react(
    model: Model, table: Signatures, fault: str, without: Collection[str]
) -> tuple[tuple[str, str], ...]:
    """The tests that show this fault otherwise than a sound unit, and what they show most."""
    if table.sound is None:
        return ()
    sound = table.faults[table.sound]
    return tuple(
        (test.id, max(row, key=lambda outcome: row[outcome]))
        for test in model.tests
        if test.id not in without
        and (row := model.row(test.id, fault)) != model.row(test.id, sound)
    )


def _close(table: Signatures) -> tuple[Pair, ...]:
    """Pairs that are parted, but not surely, those first that confuse most units."""
    at_all, surely = table.separations(Apart.AT_ALL), table.separations(Apart.SURELY)
    indices = table.detectable(Apart.AT_ALL)
    pairs = [
        Pair(
            table.faults[one],
            table.faults[two],
            float(table.rate[one] + table.rate[two]),
            float(table.likeness[one, two]) / 2.0,
        )
        for one in indices
        for two in indices
        if one < two and at_all[one, two] and not surely[one, two]
        and table.kinds[one] != table.kinds[two]
    ]  # fmt: skip
    return tuple(sorted(pairs, key=lambda pair: -pair.rate * pair.errors))
