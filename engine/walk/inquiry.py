"""What is worth asking of the unit itself before a reading: a marking, whether a part is there, of
which kind it is, what a second, working one reads.

Each tells which designs this unit may be of, so that all numbers to come tell more. With fault f,
design n and all readings so far, P(f, n) is the joint belief; an answer a to a question Q has odds
P(a | n), 0 or 1 where the design was sampled and those of all designs where it was not. The tests
to come are those that the plan is likely to ask; c is what they show, P(c | f, n) from the joint
table, numbers by cells of their scale. What Q is worth before it is asked is

    sum over c of P(c) min over r of E[cost(r) | c]
    - sum over c, a of P(c, a) min over r of E[cost(r) | c, a]

with r the remedies and cost their minutes and those of a wrong verdict: what Q saves at the verdict
once all that is seen. It is never below 0, and 0 where no answer could change a verdict, so nothing
is asked in vain. Its own minutes stand in the knowledge (`kb/words`). The sum over c runs over
`DRAWS` points of an even sequence (H. Weyl, Math. Ann. 77, 1916), the same each time. Value of
information before it is had: H. Raiffa, R. Schlaifer, Applied Statistical Decision Theory (1961),
ch. 4. O(points x answers x faults x (designs + remedies)), some 50 ms.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import numpy as np

from engine.chart.traversal import in_order
from engine.circuit.dictionary import Dictionary
from engine.circuit.narrowing import ALIKE
from engine.evidence.joint import Joint
from engine.evidence.make import choices, values
from engine.evidence.scale import Floats
from engine.evidence.telling import WORTH
from engine.evidence.witness import SOUND
from engine.model import makesafe, setup
from engine.model.plan import Ask
from engine.model.records import Model, Test
from engine.readings.bands import bands
from engine.walk import fitting
from engine.walk.job import suspicion
from engine.walk.state import Walk
from kb.language import loader
from kb.quantities import show

CELLS = 24
"""Cells of a reading's scale; of the algorithm."""
MOST_GOOD_TESTS = 2
"""So many readings of a second unit are asked for: more of them seldom name the design better. Our
choice."""
DRAWS = 48
"""Points of what tests to come may show; of the algorithm."""
MOST_AHEAD, LEAST_ODDS = 8, 0.1
"""So many tests to come are looked at, of those that the plan asks with at least these odds; of the
algorithm."""

MARKING, PRESENCE, KIND, GOOD = "marking", "fitted", "kind", "good"


@dataclass(frozen=True, slots=True)
class Inquiry:
    """Something to ask before a reading: its `kind`, of which `part`, the usual `answers` as they
    would be typed, `tests` that a good unit is read at; its minutes, and those it saves besides."""

    kind: str
    part: str
    answers: tuple[str, ...]
    tests: tuple[str, ...]
    minutes: float
    saves: float


@dataclass(frozen=True, slots=True)
class _Question:
    """An inquiry with `odds` [answers, N + 1] of each answer by design, before it is priced."""

    kind: str
    part: str
    answers: tuple[str, ...]
    minutes: float
    odds: Floats
    tests: tuple[str, ...] = ()


def worth_asking(
    walk: Walk, test: Test, past: AbstractSet[tuple[str, str]] = frozenset()
) -> Inquiry | None:
    """What saves most minutes when asked before a measured test, if it saves its own; else None.

    `past` are kinds and parts of what was asked already.
    """
    joint = walk.joint
    dictionary = joint.witness.dictionary
    if dictionary is None or not bands(test) or joint.table(test).kernels is None:
        return None
    belief = suspicion(walk)
    odds = np.array([belief[fault.id] for fault in walk.model.faults])
    likely = np.flatnonzero(odds >= WORTH)
    if len(likely) < 2:
        return None
    questions = [
        one for one in _questions(walk, test, dictionary) if (one.kind, one.part) not in past
    ]
    designs = odds[likely, None] * joint.designs(walk.history)[likely]
    after = _points(designs, [_shows(joint, one)[likely] for one in _to_come(walk, test)])
    faults = [walk.model.faults[at].id for at in likely]
    cost = _costs(walk.model, faults)
    base = float((after.sum(axis=2) @ cost.T).min(axis=1).sum())
    best: Inquiry | None = None
    for one in questions:
        # [points, answers, faults] the odds of point, answer and fault together
        split = np.einsum("pfn,an->paf", after, one.odds)
        saves = base - float((split @ cost.T).min(axis=2).sum()) - one.minutes
        if saves > 0.0 and (best is None or saves > best.saves):
            best = Inquiry(one.kind, one.part, one.answers, one.tests, one.minutes, saves)
    return best


def _points(designs: Floats, tables: Sequence[Floats]) -> Floats:
    """[DRAWS, F, N + 1] joint odds of fault and design after each of the points of what the tests
    show, each point's sum its own odds; all sum to those of `designs`.

    Point p has fault and design where the p-th even step of their odds falls, and at test t the
    cell where the p-th place of an even sequence falls among those two's cells.
    """
    flat = designs.ravel() / designs.sum()
    steps = (np.arange(DRAWS) + 0.5) / DRAWS
    pairs = np.searchsorted(np.cumsum(flat), steps * (1.0 - 1e-12))
    logs = np.zeros((DRAWS, *designs.shape))
    for number, cells in enumerate(tables, start=1):
        own = cells.reshape(-1, cells.shape[2])[pairs]
        places = np.modf((np.arange(DRAWS) + 1) * np.sqrt(_PRIMES[number]))[0]
        totals = np.cumsum(own, axis=1)
        at = np.minimum((totals < places[:, None] * totals[:, -1:]).sum(axis=1), own.shape[1] - 1)
        logs += np.log(np.maximum(cells[:, :, at].transpose(2, 0, 1), 1e-12))
    odds = designs * np.exp(logs - logs.max(axis=(1, 2), keepdims=True))
    points: Floats = odds / odds.sum(axis=(1, 2), keepdims=True) * (designs.sum() / DRAWS)
    return points


_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23)
"""Their roots step evenly and never alike; of the algorithm."""


def _to_come(walk: Walk, test: Test) -> list[Test]:
    """The test that is due, and those that the plan asks after it, the likeliest first."""
    model, plan = walk.outlook, walk.plan
    faults = [fault.id for fault in model.faults]
    belief = suspicion(walk)
    came: dict[str, Floats] = {walk.node: np.array([belief[fault] for fault in faults])}
    odds: dict[str, float] = {}
    for name in in_order(plan, walk.node):
        node = plan.nodes[name]
        if isinstance(node, Ask):
            odds[node.test] = odds.get(node.test, 0.0) + float(came[name].sum())
            for outcome, child in node.branches.items():
                share = np.array([model.row(node.test, f).get(outcome, 0.0) for f in faults])
                came[child] = came.get(child, np.zeros(len(faults))) + came[name] * share
    likely = sorted((t for t in odds if odds[t] >= LEAST_ODDS), key=lambda name: -odds[name])
    names = dict.fromkeys((test.id, *likely))
    return [walk.model.test(name) for name in list(names)[:MOST_AHEAD]]


def _shows(joint: Joint, test: Test) -> Floats:
    """[F, N + 1, cells] odds of what a test shows: an outcome, or a cell of a number's scale."""
    table = joint.table(test)
    return table.odds if table.kernels is None else _cells(joint, test)


def _costs(model: Model, faults: Sequence[str]) -> Floats:
    """[remedies, faults] minutes of each remedy, and of a wrong verdict where it does not cure."""
    return np.array([
        [r.minutes + model.wrong_verdict_minutes * (f not in set(r.cures)) for f in faults]
        for r in model.remedies
    ], dtype=np.float64)  # fmt: skip


def good_tests(walk: Walk, test: Test) -> tuple[str, ...]:
    """The tests at which a second, working unit is worth reading along with this one's: this test,
    and another on the same bench; none where sound designs read alike or nothing was derived."""
    dictionary = walk.joint.witness.dictionary
    question = None if dictionary is None else _good(walk, test, dictionary)
    return () if question is None else question.tests


def _cells(joint: Joint, test: Test) -> Floats:
    """[F, N + 1, cells] odds that a number falls in each cell of the test's scale; the last one is
    over range. The rules' word goes by bands, evenly within each."""
    table = joint.table(test)
    kernels = table.kernels
    assert kernels is not None
    scale = kernels.scale
    places = np.linspace(scale.at(scale.low), scale.at(scale.high), CELLS + 1)
    ends = [float(np.sinh(place) * scale.bend) for place in places]
    ends[0], ends[-1] = scale.low, np.inf
    spans = list(itertools.pairwise(ends))
    circuit = np.stack([kernels.inside(low, high) for low, high in spans], axis=2)
    rules = np.zeros((table.rules.shape[0], len(spans)))
    columns = {outcome.id: at for at, outcome in enumerate(test.outcomes)}
    middles = [float(np.sinh(place) * scale.bend) for place in (places[:-1] + places[1:]) / 2]
    for band in kernels.bands:
        inside = np.array([band.low <= middle < band.high for middle in middles], dtype=np.float64)
        if not inside.any():
            inside[int(np.argmin([abs(m - max(band.low, 0.0)) for m in middles]))] = 1.0
        rules += table.rules[:, [columns[band.outcome]]] * (inside / inside.sum())
    word = table.word[:, :, None]
    odds: Floats = word * circuit + (1.0 - word) * rules[:, None, :]
    return odds


def _questions(walk: Walk, test: Test, dictionary: Dictionary) -> Iterator[_Question]:
    """All that can be asked before a test, of parts that are in sight."""
    make = walk.joint.witness.make
    parts = sorted({p for unit in dictionary.units for p in (*unit.values, *unit.absent)})
    for part in parts:
        if not _in_sight(walk, part):
            continue
        if part not in make.markings and part not in make.absent:
            lacks = np.array([part in unit.absent for unit in dictionary.units], dtype=np.float64)
            if 0.0 < lacks.mean() < 1.0:
                both = (f"{part}=fitted", f"{part}=none")
                yield _question(walk, PRESENCE, part, both, [1.0 - lacks, lacks], (1.0, 0.0))
        if part not in make.markings and not make.absent.get(part, False):
            question = _marking(walk, dictionary, part)
            if question is not None:
                yield question
        names = fitting.kinds(walk, part)
        if len(names) > 1 and part not in make.kinds:
            rows = [
                np.array([unit.kinds.get(part, names[0]) == name for unit in dictionary.units],
                         dtype=np.float64) for name in names
            ]  # fmt: skip
            nominal = tuple(float(name == names[0]) for name in names)
            answers = tuple(f"{part}={name}" for name in names)
            yield _question(walk, KIND, part, answers, rows, nominal)
    if not make.expected:
        question = _good(walk, test, dictionary)
        if question is not None:
            yield question


def _question(
    walk: Walk, kind: str, part: str, answers: tuple[str, ...], rows: Sequence[Floats],
    nominal: Sequence[float], minutes: float | None = None, tests: tuple[str, ...] = (),
) -> _Question:  # fmt: skip
    """With the nominal unit's answer before, and that of the unlisted design, the mean of all,
    behind those of the sampled units."""
    prior = walk.joint.prior
    table = np.column_stack([nominal, np.array(rows)])
    shares = table @ prior[:-1] / prior[:-1].sum()
    took = _minutes(kind) if minutes is None else minutes
    return _Question(kind, part, answers, took, np.column_stack([table, shares]), tests)


def _minutes(kind: str) -> float:
    return loader.as_shipped().numbers[f"{kind}-minutes"].value


def _marking(walk: Walk, dictionary: Dictionary, part: str) -> _Question | None:
    usual = choices(dictionary, part)
    steps = [high / low - 1.0 for low, high in itertools.pairwise(usual)]
    if not steps or min(steps) <= ALIKE:
        return None

    def row(value: float | None) -> Floats:
        """Which of the usual values is nearest; a unit without the part has any."""
        if value is None:
            return np.full(len(usual), 1.0 / len(usual))
        away = np.abs(np.log(np.array(usual) / value))
        nearest: Floats = (np.arange(len(usual)) == int(away.argmin())).astype(np.float64)
        return nearest

    rows = np.array([row(unit.values.get(part)) for unit in dictionary.units]).T
    unit = fitting.unit_of(walk.model, part)
    answers = tuple(f"{part}={show(value, unit).replace(' ', '')}" for value in usual)
    nominal = row(dictionary.listed.get(part)).tolist()
    return _question(walk, MARKING, part, answers, list(rows), nominal)


def _good(walk: Walk, test: Test, dictionary: Dictionary) -> _Question | None:
    """Reading a second, working unit at this test and at another on the same bench."""
    model, tests = walk.model, [test]
    tests += [
        other for other in model.tests
        if other.id != test.id and bands(other) and other.id not in walk.unavailable
        and (other.supply, other.rig) == (test.supply, test.rig)
        and set(other.opened) <= set(test.opened)
        and _parting(dictionary, other) is not None
    ]  # fmt: skip
    parting = [(one, _parting(dictionary, one)) for one in tests[:MOST_GOOD_TESTS]]
    splits = [(one, split) for one, split in parting if split is not None]
    if not splits or splits[0][0].id != test.id:
        return None
    marks = [tuple(row[n] for _, row in splits) for n in range(len(dictionary.units) + 1)]
    answers = sorted(set(marks))
    if len(answers) < 2:
        return None
    rows = np.array([[float(mark == answer) for mark in marks] for answer in answers])
    there = setup.reach(model, setup.start(model), test)
    minutes = _minutes(GOOD) + setup.minutes(model, setup.start(model), there)
    minutes += sum(one.minutes for one, _ in splits)
    return _question(
        walk, GOOD, "", (), list(rows[:, 1:]), rows[:, 0].tolist(), minutes,
        tuple(one.id for one, _ in splits),
    )  # fmt: skip


def _parting(dictionary: Dictionary, test: Test) -> tuple[int, ...] | None:
    """Into which third of the sound readings each design falls, the nominal one first; None where
    they read alike."""
    cell = dictionary.cell(test.id, SOUND)
    if cell is None:
        return None
    numbers = [v for v in values(cell) if v is not None and np.isfinite(v) and v > 0.0]
    if len(numbers) < 3 or max(numbers) <= min(numbers) * (1.0 + ALIKE):
        return None
    ends = np.quantile(numbers, [1 / 3, 2 / 3])
    read = [numbers[0] if v is None or not np.isfinite(v) else v for v in values(cell)]
    read += [read[0]] * (len(dictionary.units) + 1 - len(read))
    return tuple(int(np.searchsorted(ends, v)) for v in read[: len(dictionary.units) + 1])


def _in_sight(walk: Walk, part: str) -> bool:
    """Whether a part can be looked at on the bench as it stands."""
    model, tests = walk.model, [test for test in walk.model.tests if test.on == part]
    if not tests:
        return makesafe.is_opened(model, walk.bench.opened) or not model.openings
    access = {o.id for o in model.openings if o.kind in ("", "access")}
    return any(set(test.opened) & access <= walk.bench.opened for test in tests)
