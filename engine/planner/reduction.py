"""From a model to the smallest equal problem in plain arrays, and the way back to fault ids.

Faults whose rows agree in every test become one class: no plan parts them, so their weights add
and their leaf cost is the weighted mean. Tests that part no classes are dropped, and of tests with
the same rows, none split, the same needs and shorts shown alike only the cheapest is kept. Remedies
worse than another one on every class are dropped. What each class costs at best is taken out of the
leaf costs ("regret") and added again at the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.model.plan import State
from engine.model.records import Model, Remedy, Test
from engine.model.requirements import Answers
from engine.model.setup import closure
from engine.model.shorts import is_live
from engine.planner.accesses import access_sets, beyond, cells
from engine.planner.bounds import Bound
from engine.planner.bundles import bundles, leads_of
from engine.planner.likelihoods import answer_odds
from engine.planner.refusals import MOST_OPENINGS, check_numbers, check_requirements, trouble
from engine.planner.requirements import Register, due, remedy_bits
from engine.planner.tables import (
    Numbers,
    alike_sets,
    apart,
    bits,
    clusters,
    confusion,
    few_pairs,
    shown_kinds,
    splits,
)
from engine.planner.tolls import changes, tolls
from engine.planner.tries import futile

ALL_OPENINGS = (1 << MOST_OPENINGS) - 1
SHORT_FOUND = 1 << MOST_OPENINGS
MOST_COMPARED = 100_000_000
"""Comparisons of pairs above which a reduction is left out; of the algorithm."""


@dataclass(frozen=True, slots=True)
class Problem:
    """The reduced problem as the kernel reads it; shapes are told in `kernel/problem/problem.h`."""

    classes: int
    words: int
    tests: int
    outcomes: int
    remedies: int
    places: int
    cluster_levels: int
    slots: int
    access_sets: int
    openings: int
    cuts: int
    most_outcomes: int
    bounds: int
    weight: Numbers
    regret: Numbers
    first_outcome: NDArray[np.int32]
    odds: Numbers
    support: NDArray[np.uint64]
    mixed: NDArray[np.uint64]
    answer: NDArray[np.uint8]
    row_class: NDArray[np.int32]
    row_class_members: NDArray[np.uint64]
    slot: NDArray[np.int32]
    minutes: Numbers
    need: NDArray[np.uint64]
    place: NDArray[np.int32]
    bars: NDArray[np.uint64]
    short_bit: NDArray[np.uint64]
    direct: Numbers
    hands_in: Numbers
    entry: Numbers
    opening_minutes: Numbers
    cluster: NDArray[np.int32]
    outside_regret: Numbers
    access_set: NDArray[np.uint64]
    next_access_set: NDArray[np.int32]
    cell: NDArray[np.int32]
    row_number: NDArray[np.uint16]
    row_pair_first: NDArray[np.int32]
    row_pair_odds: Numbers
    row_count: NDArray[np.int32]
    joint_regret: Numbers
    cut_minutes: Numbers
    behind_cut: NDArray[np.uint8]
    fulfilment: NDArray[np.uint64]
    remedy_requirements: NDArray[np.uint64]
    test_requirements: NDArray[np.uint64]
    class_requirements: NDArray[np.uint64]
    due_first: NDArray[np.int32]
    due: NDArray[np.int32]
    forfeit: Numbers
    leads: NDArray[np.uint64]
    prerequisites: NDArray[np.uint64]
    bundles: int
    bundle: NDArray[np.uint64]


@dataclass(frozen=True, slots=True)
class Reduction:
    """A problem with the names behind its numbers."""

    problem: Problem
    state: State
    fault_ids: tuple[tuple[str, ...], ...]
    masses: tuple[tuple[float, ...], ...]
    tests: tuple[Test, ...]
    outcomes: tuple[tuple[int, ...], ...]
    remedies: tuple[Remedy, ...]
    openings: tuple[str, ...]
    places: tuple[tuple[str, str], ...]
    certain_cost: float

    def opened_bits(self, openings: Iterable[str]) -> int:
        """Openings as a bit mask in the order of `openings`."""
        names = set(openings)
        return sum(1 << i for i, name in enumerate(self.openings) if name in names)


def belief_of(model: Model, belief: Mapping[str, float] | None) -> dict[str, float]:
    """The belief over faults to plan from, summing to 1; the priors where none is given."""
    prior = {f.id: f.prior for f in model.faults} if belief is None else dict(belief)
    faults = {f.id for f in model.faults}
    for fault_id, odds in prior.items():
        if fault_id not in faults:
            raise trouble(
                "PL101",
                f"belief names the fault {fault_id}, which the model lacks",
                "use fault ids of this model",
            )
        if not odds >= 0 or odds == float("inf"):
            raise trouble(
                "PL102", f"the odds of {fault_id} are {odds}", "odds are finite and not below 0"
            )
    total = sum(prior.values())
    if total <= 0:
        raise trouble(
            "PL103",
            "all faults have zero odds, so there is nothing to look for",
            "give at least one fault a prior above 0",
        )
    return {f.id: prior.get(f.id, 0.0) / total for f in model.faults if prior.get(f.id, 0.0) > 0}


def reduce(
    model: Model,
    belief: Mapping[str, float],
    state: State,
    without: frozenset[str],
    bounds: Bound,
    answers: Answers = (),
) -> Reduction:
    """The reduced problem of planning from `state` with `belief`, `without` some tests.

    `answers` given so far, pairs of test and outcome, meet requirements.
    """
    check_numbers(model)
    tests = [t for t in model.tests if t.id not in without and _possible(model, state, t)]
    vain = futile(model, tests, belief, answers)
    tests = [t for t in tests if t.id not in vain]
    askers = [*(r.requires for r in model.remedies), *(t.requires for t in tests)]
    register = Register.of(askers, {t.id for t in tests}, answers)
    tests = [t for t in tests if not register.is_barred(t.requires)]
    remedies = tuple(r for r in model.remedies if not register.is_barred(r.requires))
    wants = [register.bits(r.requires) for r in remedies]
    check_requirements(register, wants)
    rows = {t.id: answer_odds(model, t, belief) for t in tests}
    groups = _group(list(belief), [rows[t.id] for t in tests])
    weight = np.array([sum(belief[f] for f in group) for group in groups])
    heads = np.array([list(belief).index(group[0]) for group in groups])
    tables = {t.id: rows[t.id][:, heads] for t in tests}
    tests = _useful(model, tests, tables, register)
    cost = _leaf_costs(model, remedies, belief, groups, weight)
    certain = cost.min(axis=0)
    remaining = _pareto(cost, wants)
    regret = np.ascontiguousarray(cost[remaining] - certain)
    regret[regret < 1e-12 * (1 + certain)] = 0.0
    order = np.argsort(-weight, kind="stable")
    outcomes_of = tuple(_shown_outcomes(tables[t.id]) for t in tests)
    openings = tuple(o.id for o in model.openings)
    places = _places(tests, state)
    problem = _problem(
        model,
        tests,
        [tables[t.id][:, order] for t in tests],
        outcomes_of,
        weight[order],
        np.ascontiguousarray(regret[:, order]),
        places,
        state.opened,
        bounds,
        register,
        [wants[r] for r in remaining],
        np.ascontiguousarray(cost[remaining][:, order]),
    )
    return Reduction(
        problem=problem,
        state=state,
        fault_ids=tuple(groups[k] for k in order),
        masses=tuple(tuple(belief[f] for f in groups[k]) for k in order),
        tests=tuple(tests),
        outcomes=outcomes_of,
        remedies=tuple(remedies[r] for r in remaining),
        openings=openings,
        places=places,
        certain_cost=float(weight @ certain),
    )


def _possible(model: Model, state: State, test: Test) -> bool:
    if not model.arrangement(test.supply).closed_only:
        return True
    return not test.opened and not state.opened


def _group(faults: list[str], tables: list[Numbers]) -> list[tuple[str, ...]]:
    """Faults that no test can part, in groups."""
    matrix = np.concatenate(tables) if tables else np.zeros((0, len(faults)))
    groups: dict[bytes, list[str]] = {}
    for i, fault in enumerate(faults):
        groups.setdefault((matrix[:, i] + 0.0).tobytes(), []).append(fault)
    return [tuple(group) for group in groups.values()]


def _useful(
    model: Model, tests: list[Test], tables: dict[str, Numbers], register: Register
) -> list[Test]:
    """Tests that part some classes or meet a requirement, the cheapest of each equal kind. A test
    with a split row stays beside its equals: each is another draw, and tells more."""
    best: dict[tuple[object, ...], Test] = {}
    for test in tests:
        table = tables[test.id]
        if (table == table[:, :1]).all() and not register.meets(test):
            continue
        rows = tuple(
            sorted(
                (row.tobytes(), outcome.short, register.bits_of(test.id, outcome.id))
                for row, outcome in zip(table, test.outcomes, strict=True)
                if row.any()
            )
        )
        awaits = register.bits(test.requires)
        alone = "" if ((table == 0.0) | (table == 1.0)).all() else test.id
        kind = (rows, closure(model, test.opened), test.supply, test.rig, awaits, alone)
        if kind not in best or test.minutes < best[kind].minutes:
            best[kind] = test
    ids = {test.id for test in best.values()}
    return [test for test in tests if test.id in ids]


def _leaf_costs(
    model: Model,
    remedies: tuple[Remedy, ...],
    belief: Mapping[str, float],
    groups: list[tuple[str, ...]],
    weight: Numbers,
) -> Numbers:
    """Minutes lost by ending with each remedy on each class: [remedies][classes]."""
    number = {fault: k for k, group in enumerate(groups) for fault in group}
    share = {f: belief[f] / weight[k] for f, k in number.items()}
    cure = np.zeros((len(remedies), len(groups)))
    for r, remedy in enumerate(remedies):
        for fault in dict.fromkeys(remedy.cures):
            if fault in number:
                cure[r, number[fault]] += share[fault]
    minutes = np.array([remedy.minutes for remedy in remedies])
    miss = np.maximum(0.0, 1.0 - cure)
    miss[miss < 1e-12] = 0.0
    cost: Numbers = minutes[:, None] + model.wrong_verdict_minutes * miss
    return cost


def _pareto(cost: Numbers, wants: list[int]) -> list[int]:
    """Remedies that none that wants no more beats on every class; of equal ones the first."""
    if cost.size * len(cost) > MOST_COMPARED:
        return list(range(len(cost)))
    never_worse = (cost[:, None, :] <= cost[None, :, :]).all(axis=2)
    never_worse &= np.array([[not mine & ~its for its in wants] for mine in wants])
    equal = never_worse & never_worse.T
    earlier = np.tri(len(cost), k=-1, dtype=bool).T
    beaten = (never_worse & ~equal) | (equal & earlier)
    return [int(r) for r in np.flatnonzero(~beaten.any(axis=0))]


def _shown_outcomes(table: Numbers) -> tuple[int, ...]:
    return tuple(int(o) for o in range(len(table)) if table[o].any())


def _places(tests: list[Test], state: State) -> tuple[tuple[str, str], ...]:
    places = dict.fromkeys([(state.supply, state.rig), *((t.supply, t.rig) for t in tests)])
    return tuple(places)


def _problem(
    model: Model,
    tests: list[Test],
    tables: list[Numbers],
    outcomes_of: tuple[tuple[int, ...], ...],
    weight: Numbers,
    regret: Numbers,
    places: tuple[tuple[str, str], ...],
    openings: frozenset[str],
    bounds: Bound,
    register: Register,
    wants: list[int],
    cost: Numbers,
) -> Problem:
    classes = len(weight)
    words = max(1, (classes + 63) // 64)
    rows_of = [table[list(outcomes)] for table, outcomes in zip(tables, outcomes_of, strict=True)]
    column = np.ascontiguousarray(np.concatenate([*rows_of, np.zeros((0, classes))]))
    split = [splits(table) for table in rows_of]
    has_split = [bool(row.any()) for row in split]
    direct, hands_in = changes(model, places)
    toll, behind = tolls(places, np.minimum(direct, hands_in))
    off_diagonal = np.where(np.eye(len(places), dtype=bool), np.inf, direct)
    entry = off_diagonal.min(axis=0) if len(places) > 1 else np.zeros(1)
    cluster, foreign = clusters(regret)
    alike, rows = alike_sets(rows_of, classes, words)
    kind = (alike - alike.min(axis=1, keepdims=True)).astype(np.uint16)
    by_pairs = few_pairs(kind, classes)
    if by_pairs:
        squares = [apart(table, k) for table, k in zip(rows_of, kind[:-1], strict=True)]
        confusion_pairs = confusion(regret)
    else:
        squares, confusion_pairs = [], np.zeros((1, 1))
        bounds &= ~Bound.PAIRS
    bit = {o.id: 1 << i for i, o in enumerate(model.openings)}
    needs = [sum(bit[o] for o in closure(model, t.opened)) for t in tests]
    after = [sum(bit[before] for before in set(o.after)) for o in model.openings]
    leads = leads_of(model, bit)
    start_bits = sum(bit[o] for o in openings if o in bit)
    sets = access_sets(start_bits & ~leads, [need & ~leads for need in needs], after)
    groups = bundles(model, bit, needs, leads)
    must = due(regret, wants)
    bars, short_bits = _shorts(model, tests, outcomes_of)
    return Problem(
        classes=classes,
        words=words,
        tests=len(tests),
        outcomes=len(column),
        remedies=len(regret),
        places=len(places),
        cluster_levels=len(cluster),
        slots=sum(has_split),
        most_outcomes=max([2, *map(len, outcomes_of)]),
        bounds=bounds.value,
        weight=np.ascontiguousarray(weight),
        regret=np.ascontiguousarray(regret.T),
        row_class=alike,
        row_class_members=rows,
        first_outcome=np.cumsum([0, *map(len, outcomes_of)], dtype=np.int32),
        odds=column,
        support=bits(column > 0, words),
        mixed=bits(np.array([*split, np.zeros(classes, dtype=bool)]), words),
        answer=np.array(
            [
                *(shown_kinds(t, s) for t, s in zip(rows_of, split, strict=True)),
                np.zeros(classes, dtype=np.uint8),
            ],
            dtype=np.uint8,
        ),
        slot=np.array(_slots(has_split), dtype=np.int32),
        minutes=np.array([t.minutes for t in tests], dtype=np.float64),
        need=np.array(needs, dtype=np.uint64),
        place=np.array([places.index((t.supply, t.rig)) for t in tests], dtype=np.int32),
        bars=bars,
        short_bit=short_bits,
        direct=direct,
        hands_in=hands_in,
        entry=np.ascontiguousarray(entry),
        opening_minutes=np.array(
            [o.minutes for o in model.openings] + [0.0] * (MOST_OPENINGS + 1 - len(model.openings))
        ),
        cluster=cluster,
        outside_regret=foreign,
        access_sets=len(sets),
        openings=len(model.openings),
        cuts=len(toll),
        cut_minutes=np.array([*toll, 0.0]),
        behind_cut=behind,
        access_set=np.array([*sets, 0], dtype=np.uint64),
        next_access_set=beyond(sets, len(model.openings)),
        cell=cells(sets, [need & ~leads for need in needs], alike[:-1]),
        row_number=kind,
        row_pair_first=np.cumsum([0, *(s.size for s in squares)], dtype=np.int32),
        row_pair_odds=np.concatenate([*(s.ravel() for s in squares), np.zeros(1)]),
        row_count=np.array([*(len(s) for s in squares), 0], dtype=np.int32),
        joint_regret=confusion_pairs,
        fulfilment=np.array(
            [
                register.bits_of(t.id, t.outcomes[o].id)
                for t, outcomes in zip(tests, outcomes_of, strict=True)
                for o in outcomes
            ],
            dtype=np.uint64,
        ),
        remedy_requirements=np.array(wants, dtype=np.uint64),
        test_requirements=np.array([register.bits(t.requires) for t in tests], dtype=np.uint64),
        class_requirements=np.array(remedy_bits(cost, wants), dtype=np.uint64),
        due_first=must.first,
        due=must.bit,
        forfeit=must.forfeit,
        leads=np.array([leads], dtype=np.uint64),
        prerequisites=np.array([*after, 0], dtype=np.uint64),
        bundles=len(groups),
        bundle=np.array(groups, dtype=np.uint64),
    )


def _shorts(
    model: Model, tests: list[Test], outcomes_of: tuple[tuple[int, ...], ...]
) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
    """[tests] what each is not done with, openings or a short found; [columns] a short shown."""
    is_short = [t.outcomes[o].short for t, row in zip(tests, outcomes_of, strict=True) for o in row]
    live = [is_live(model, test) for test in tests]
    bit = SHORT_FOUND if any(is_short) and any(live) else 0
    closed_only = [model.arrangement(test.supply).closed_only for test in tests]
    bars = [
        (ALL_OPENINGS if needs_closed else 0) | (bit if is_energised else 0)
        for needs_closed, is_energised in zip(closed_only, live, strict=True)
    ]
    columns = [bit if short else 0 for short in is_short]
    return np.array(bars, dtype=np.uint64), np.array(columns, dtype=np.uint64)


def _slots(has_split: list[bool]) -> list[int]:
    numbers = iter(range(len(has_split)))
    return [next(numbers) if split else -1 for split in has_split]
